// SPDX-License-Identifier: GPL-3.0-or-later
//
// What truly happens in one attempt: steps in an order that the rules mostly allow, with omissions,
// wrong values, redos, errors and a pace that all depend on mastery.
#include "simulator/simulate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
  const BtRubric *rubric;
  double mastery;
  Random *random;
  GArray *deeds;
  gint64 clock_ms;
  int inject;  // the inject that happens in this attempt; -1
  bool *taken; // by checkpoint: part of this attempt
} Attempt;

// Values ----------------------------------------------------------------------

// What both ranges hold.
static BtRange both(const BtRange *a, const BtRange *b) {
  BtRange range = *a;
  if (b->has_lo && (!a->has_lo || b->lo_milli > a->lo_milli)) {
    range.has_lo = true;
    range.lo_milli = b->lo_milli;
  }
  if (b->has_hi && (!a->has_hi || b->hi_milli < a->hi_milli)) {
    range.has_hi = true;
    range.hi_milli = b->hi_milli;
  }
  return range;
}

static char *number_in(const BtRange *range, gint64 step_milli, Random *random) {
  gint64 lo = range->has_lo ? range->lo_milli : range->hi_milli - 4 * step_milli;
  gint64 hi = range->has_hi ? range->hi_milli : range->lo_milli + 4 * step_milli;
  gint64 steps = MAX((hi - lo) / step_milli, 0);
  return bt_decimal_format(lo + step_milli * random_below(random, (int)steps + 1));
}

// Screws and wires come in steps of a whole number where the range has room for one.
static gint64 step_of(const BtRange *range) {
  gint64 width = range->has_lo && range->has_hi ? range->hi_milli - range->lo_milli : 4000;
  return width >= 4000 ? 2000 : width >= 1000 ? 1000 : 100;
}

static char *allowed_value(const BtDetail *detail, const BtAllowed *allowed, Random *random) {
  if (detail->kind == BT_DETAIL_WORD)
    return g_strdup(detail->words[allowed->words[random_below(random, allowed->n_words)]]);
  BtRange range = both(&allowed->ranges[random_below(random, allowed->n_ranges)], &detail->range);
  return number_in(&range, detail->kind == BT_DETAIL_WHOLE ? 1000 : step_of(&range), random);
}

static char *any_value(const BtDetail *detail, Random *random) {
  if (detail->kind == BT_DETAIL_WORD)
    return g_strdup(detail->words[random_below(random, detail->n_words)]);
  if (!detail->range.has_lo && !detail->range.has_hi)
    return NULL;
  return number_in(&detail->range, detail->kind == BT_DETAIL_WHOLE ? 1000 : step_of(&detail->range),
                   random);
}

static const BtAllowed *allowed_for(const BtAllowed *list, int n, int detail) {
  for (int i = 0; i < n; i++) {
    if (list[i].detail == detail)
      return &list[i];
  }
  return NULL;
}

// The details of one deed: what the match demands, what is expected with the probability `right`,
// else anything.
static void fill_details(const Attempt *attempt, const BtCheckpoint *checkpoint, bool right,
                         int nth, Deed *deed) {
  const BtAction *action = &attempt->rubric->actions[deed->action];
  for (int d = 0; d < action->n_details && d < (int)G_N_ELEMENTS(deed->details); d++) {
    const BtDetail *detail = &action->details[d];
    const BtAllowed *match = allowed_for(checkpoint->match.details, checkpoint->match.n_details, d);
    const BtAllowed *expect = allowed_for(checkpoint->expect, checkpoint->n_expect, d);
    if (detail->tells_apart && detail->kind == BT_DETAIL_WHOLE && !match && !expect) {
      gint64 lo = detail->range.has_lo ? detail->range.lo_milli / 1000 : 1;
      deed->details[d] = g_strdup_printf("%" G_GINT64_FORMAT, lo + nth);
    } else if (match && (!expect || !right)) {
      deed->details[d] = allowed_value(detail, match, attempt->random);
    } else if (expect && right) {
      deed->details[d] = allowed_value(detail, expect, attempt->random);
    } else if (expect || detail->always || random_chance(attempt->random, 0.5)) {
      deed->details[d] = any_value(detail, attempt->random);
    }
  }
}

// The flow --------------------------------------------------------------------

static void add_deed(Attempt *attempt, Deed deed) {
  deed.at_ms = attempt->clock_ms;
  g_array_append_val(attempt->deeds, deed);
}

static void add_built_in(Attempt *attempt, BtEventKind kind, int item, double value) {
  add_deed(attempt, (Deed){.kind = kind, .action = -1, .site = -1, .item = item, .value = value});
}

// A step takes its share of the phase's target, slower for novices, with a long tail.
static void pass_time(Attempt *attempt, const BtPhase *phase, int steps) {
  double target_ms = phase->target_ms > 0 ? (double)phase->target_ms : 300000.0;
  double pace = 1.75 - 1.0 * attempt->mastery;
  double share = target_ms / MAX(steps, 1) * pace * exp(0.35 * random_normal(attempt->random));
  attempt->clock_ms += (gint64)(MAX(share, 2000.0) / 100.0) * 100;
}

static int steps_in(const Attempt *attempt, const BtPhase *phase) {
  int steps = 0;
  for (int c = phase->first_checkpoint; c < phase->first_checkpoint + phase->n_checkpoints; c++)
    steps += attempt->taken[c] ? attempt->rubric->checkpoints[c].least : 0;
  return steps;
}

static void maybe_error(Attempt *attempt) {
  const BtRubric *rubric = attempt->rubric;
  if (rubric->n_errors == 0 || !random_chance(attempt->random, 0.10 * (1.15 - attempt->mastery)))
    return;
  int kind = random_below(attempt->random, rubric->n_errors);
  // Critical errors are rarer still, and those the engine finds are not logged by hand.
  if (rubric->errors[kind].has_match || (rubric->errors[kind].severity == BT_SEVERE_CRITICAL &&
                                         !random_chance(attempt->random, 0.12)))
    return;
  attempt->clock_ms += 1000 + 100 * random_below(attempt->random, 40);
  add_built_in(attempt, BT_EVENT_ERROR, kind, 0);
}

static void do_once(Attempt *attempt, const BtCheckpoint *checkpoint, int nth, int steps) {
  const BtPhase *phase = &attempt->rubric->phases[checkpoint->phase];
  const BtAction *action = &attempt->rubric->actions[checkpoint->match.action];
  pass_time(attempt, phase, steps);
  Deed deed = {.kind = BT_EVENT_WORK, .action = checkpoint->match.action, .site = -1, .item = -1};
  if (checkpoint->match.n_sites > 0)
    deed.site = checkpoint->match.sites[random_below(attempt->random, checkpoint->match.n_sites)];
  else if (action->n_sites > 0)
    deed.site = action->sites[random_below(attempt->random, action->n_sites)];
  bool right =
      checkpoint->n_expect == 0 || random_chance(attempt->random, 0.60 + 0.39 * attempt->mastery);
  Deed first = deed;
  fill_details(attempt, checkpoint, right, nth, &first);
  add_deed(attempt, first);
  maybe_error(attempt);
  if (!right && random_chance(attempt->random, 0.25 + 0.5 * attempt->mastery)) {
    pass_time(attempt, phase, steps);
    Deed again = deed;
    again.redo = true;
    fill_details(attempt, checkpoint, true, nth, &again);
    add_deed(attempt, again);
  }
}

static void do_checkpoint(Attempt *attempt, int index, int steps) {
  const BtCheckpoint *checkpoint = &attempt->rubric->checkpoints[index];
  double omitted = checkpoint->critical != BT_CRITICAL_NO ? 0.05 : 0.16;
  for (int nth = 0; nth < checkpoint->least; nth++) {
    if (!random_chance(attempt->random, omitted * (1.0 - attempt->mastery)))
      do_once(attempt, checkpoint, nth, steps);
  }
}

// Order -----------------------------------------------------------------------

static bool must_precede(const BtRubric *rubric, int before, int after, int inject) {
  for (int r = 0; r < rubric->n_rules; r++) {
    const BtRule *rule = &rubric->rules[r];
    bool first = false, then = false;
    if (rule->inject >= 0 && rule->inject != inject)
      continue;
    for (int i = 0; i < rule->n_first; i++)
      first |= rule->first[i] == before;
    for (int i = 0; i < rule->n_then; i++)
      then |= rule->then[i] == after;
    if (first && then)
      return true;
  }
  return false;
}

// The checkpoints of this attempt: in rubric order, moved behind what must precede them (the rules
// have no cycle), then with a slip now and then.
static GArray *planned_order(Attempt *attempt) {
  const BtRubric *rubric = attempt->rubric;
  GArray *order = g_array_new(FALSE, FALSE, sizeof(int));
  g_autofree bool *placed = g_new0(bool, (gsize)rubric->n_checkpoints);
  for (bool moved = true; moved;) {
    moved = false;
    for (int c = 0; c < rubric->n_checkpoints && !moved; c++) {
      bool ready = attempt->taken[c] && !placed[c];
      for (int b = 0; ready && b < rubric->n_checkpoints; b++)
        ready = !attempt->taken[b] || placed[b] || !must_precede(rubric, b, c, attempt->inject);
      if (!ready)
        continue;
      placed[c] = moved = true;
      g_array_append_val(order, c);
    }
  }
  for (guint i = 0; i + 1 < order->len; i++) {
    if (!random_chance(attempt->random, 0.14 * (1.05 - attempt->mastery)))
      continue;
    int *a = &g_array_index(order, int, i), *b = &g_array_index(order, int, i + 1), keep = *a;
    *a = *b;
    *b = keep;
  }
  return order;
}

static void choose(Attempt *attempt) {
  const BtRubric *rubric = attempt->rubric;
  attempt->taken = g_new(bool, (gsize)rubric->n_checkpoints);
  for (int c = 0; c < rubric->n_checkpoints; c++)
    attempt->taken[c] = true;
  for (int i = 0; i < rubric->n_choices; i++) {
    int option = random_below(attempt->random, rubric->choices[i].n_options);
    for (int c = 0; c < rubric->n_checkpoints; c++) {
      if (rubric->checkpoints[c].choice == i)
        attempt->taken[c] = rubric->checkpoints[c].option == option;
    }
  }
  attempt->inject = rubric->n_injects > 0 && random_chance(attempt->random, 0.5)
                        ? random_below(attempt->random, rubric->n_injects)
                        : -1;
  for (int i = 0; i < rubric->n_injects; i++) {
    const BtInject *inject = &rubric->injects[i];
    for (int a = 0; a < inject->n_adds; a++)
      attempt->taken[inject->adds[a]] = i == attempt->inject;
    for (int d = 0; i == attempt->inject && d < inject->n_drops; d++)
      attempt->taken[inject->drops[d]] = false;
  }
}

// The inject comes when the first of what it adds is due, or in the middle.
static guint inject_place(const Attempt *attempt, const GArray *order) {
  const BtInject *inject = &attempt->rubric->injects[attempt->inject];
  for (guint i = 0; i < order->len; i++) {
    for (int a = 0; a < inject->n_adds; a++) {
      if (g_array_index(order, int, i) == inject->adds[a])
        return i;
    }
  }
  return order->len / 2;
}

static void judge(Attempt *attempt) {
  const BtRubric *rubric = attempt->rubric;
  attempt->clock_ms += 20000;
  for (int i = 0; i < rubric->n_measures; i++) {
    const BtMeasure *measure = &rubric->measures[i];
    double good = (double)measure->good_milli / 1000, poor = (double)measure->poor_milli / 1000;
    double spoilt = (1.0 - attempt->mastery) * 0.9 + 0.18 * random_normal(attempt->random);
    attempt->clock_ms += 12000;
    add_built_in(attempt, BT_EVENT_MEASURE, i, good + (poor - good) * spoilt);
  }
  for (int i = 0; i < rubric->n_ratings; i++) {
    attempt->clock_ms += 6000;
    add_built_in(attempt, BT_EVENT_RATE, i,
                 attempt->mastery + 0.06 * random_normal(attempt->random));
  }
}

GArray *performance_new(const BtRubric *rubric, double mastery, Random *random) {
  Attempt attempt = {.rubric = rubric,
                     .mastery = mastery,
                     .random = random,
                     .deeds = g_array_new(FALSE, FALSE, sizeof(Deed))};
  choose(&attempt);
  g_autoptr(GArray) order = planned_order(&attempt);
  guint inject_at = attempt.inject >= 0 ? inject_place(&attempt, order) : G_MAXUINT;
  add_built_in(&attempt, BT_EVENT_START, -1, 0);
  for (guint i = 0; i < order->len; i++) {
    int checkpoint = g_array_index(order, int, i);
    if (i == inject_at) {
      attempt.clock_ms += 5000;
      add_built_in(&attempt, BT_EVENT_INJECT, attempt.inject, 0);
    }
    do_checkpoint(&attempt, checkpoint,
                  steps_in(&attempt, &rubric->phases[rubric->checkpoints[checkpoint].phase]));
  }
  attempt.clock_ms += 10000;
  add_built_in(&attempt, BT_EVENT_FINISH, -1, 0);
  judge(&attempt);
  g_free(attempt.taken);
  return attempt.deeds;
}

void performance_free(GArray *deeds) {
  for (guint i = 0; i < deeds->len; i++) {
    for (gsize d = 0; d < G_N_ELEMENTS(((Deed *)0)->details); d++)
      g_free(g_array_index(deeds, Deed, i).details[d]);
  }
  g_array_unref(deeds);
}
