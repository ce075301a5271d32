// SPDX-License-Identifier: GPL-3.0-or-later
//
// Random rubrics and random logs, made in memory from a seed: for tests of what must hold whatever
// the rubric and whatever the log. The rubrics keep the promises of a checked rubric that scoring
// relies on (no rule cycles, sides that share nothing, injects that leave choices alone).
#ifndef BENCHTALLY_TEST_RANDOM_CASE_H
#define BENCHTALLY_TEST_RANDOM_CASE_H

#include <benchtally/model.h>

typedef struct {
  guint64 state;
} Dice;

// SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014).
static inline guint64 dice_bits(Dice *dice) {
  guint64 z = dice->state += G_GUINT64_CONSTANT(0x9e3779b97f4a7c15);
  z = (z ^ (z >> 30)) * G_GUINT64_CONSTANT(0xbf58476d1ce4e5b9);
  z = (z ^ (z >> 27)) * G_GUINT64_CONSTANT(0x94d049bb133111eb);
  return z ^ (z >> 31);
}

// A whole number lo .. hi.
static inline int dice_roll(Dice *dice, int lo, int hi) {
  return lo + (int)(dice_bits(dice) % (guint64)(hi - lo + 1));
}

static inline bool dice_one_in(Dice *dice, int n) {
  return dice_roll(dice, 1, n) == 1;
}

typedef struct {
  bool one_match; // no event can match two checkpoints
  int max_checkpoints;
  int max_choices;
} RandomShape;

enum { RANDOM_SITES = 3, RANDOM_LENGTH = 0, RANDOM_USE = 1, RANDOM_HOLE = 2, RANDOM_DETAILS = 3 };

static inline char *random_id(BtRubric *rubric, const char *stem, int number) {
  g_autofree char *id = g_strdup_printf("%s-%d", stem, number);
  return bt_rubric_strdup(rubric, id);
}

static inline void random_actions(BtRubric *rubric, int n) {
  static const char *const uses[] = {"neutral", "lag", "locking"};
  rubric->n_sites = RANDOM_SITES;
  rubric->sites = bt_rubric_alloc(rubric, RANDOM_SITES, sizeof(BtSite));
  for (int i = 0; i < RANDOM_SITES; i++)
    rubric->sites[i].id = rubric->sites[i].title = random_id(rubric, "site", i);
  rubric->n_actions = n;
  rubric->actions = bt_rubric_alloc(rubric, (gsize)n, sizeof(BtAction));
  for (int i = 0; i < n; i++) {
    BtAction *action = &rubric->actions[i];
    action->id = action->title = random_id(rubric, "action", i);
    action->n_details = RANDOM_DETAILS;
    action->details = bt_rubric_alloc(rubric, RANDOM_DETAILS, sizeof(BtDetail));
    action->details[RANDOM_LENGTH] =
        (BtDetail){.name = (char *)"length", .kind = BT_DETAIL_MEASURED};
    action->details[RANDOM_USE] =
        (BtDetail){.name = (char *)"use", .kind = BT_DETAIL_WORD, .n_words = G_N_ELEMENTS(uses)};
    action->details[RANDOM_USE].words = (char **)uses;
    action->details[RANDOM_HOLE] =
        (BtDetail){.name = (char *)"hole", .kind = BT_DETAIL_WHOLE, .tells_apart = true};
  }
}

static inline BtAllowed *random_allowed(BtRubric *rubric, Dice *dice, int *n) {
  BtAllowed *allowed = bt_rubric_alloc(rubric, 2, sizeof(BtAllowed));
  *n = 0;
  if (dice_one_in(dice, 2)) {
    BtRange *range = bt_rubric_alloc(rubric, 1, sizeof(BtRange));
    *range = (BtRange){.lo_milli = 2000, .hi_milli = 4000, .has_lo = true, .has_hi = true};
    allowed[(*n)++] = (BtAllowed){.detail = RANDOM_LENGTH, .ranges = range, .n_ranges = 1};
  }
  if (dice_one_in(dice, 3)) {
    int *words = bt_rubric_alloc(rubric, 2, sizeof(int));
    words[1] = 1;
    allowed[(*n)++] =
        (BtAllowed){.detail = RANDOM_USE, .words = words, .n_words = dice_roll(dice, 1, 2)};
  }
  return allowed;
}

static inline void random_match(BtRubric *rubric, Dice *dice, int action, bool plain,
                                BtMatch *match) {
  match->action = action;
  if (plain)
    return;
  if (dice_one_in(dice, 2)) {
    match->n_sites = 1;
    match->sites = bt_rubric_alloc(rubric, 1, sizeof(int));
    match->sites[0] = dice_roll(dice, 0, RANDOM_SITES - 1);
  }
  if (dice_one_in(dice, 4))
    match->details = random_allowed(rubric, dice, &match->n_details);
}

static inline void random_errors(BtRubric *rubric, Dice *dice) {
  rubric->n_errors = dice_roll(dice, 0, 4);
  rubric->errors = bt_rubric_alloc(rubric, (gsize)rubric->n_errors, sizeof(BtErrorKind));
  for (int k = 0; k < rubric->n_errors; k++) {
    BtErrorKind *kind = &rubric->errors[k];
    kind->id = kind->title = random_id(rubric, "error", k);
    kind->severity = dice_one_in(dice, 12) ? BT_SEVERE_CRITICAL : BT_MINOR;
    kind->lose_mp = dice_roll(dice, 0, 2000);
    kind->cap_mp = dice_one_in(dice, 2) ? -1 : dice_roll(dice, 0, 3000);
    kind->has_match = dice_one_in(dice, 2);
    kind->only_unplanned = kind->has_match && dice_one_in(dice, 2);
    if (kind->has_match)
      random_match(rubric, dice, dice_roll(dice, 0, rubric->n_actions - 1), false, &kind->match);
  }
}

static inline void random_checkpoints(BtRubric *rubric, Dice *dice, const RandomShape *shape) {
  int n = rubric->n_checkpoints = dice_roll(dice, 1, shape->max_checkpoints);
  rubric->n_phases = dice_roll(dice, 1, MIN(3, n));
  rubric->phases = bt_rubric_alloc(rubric, (gsize)rubric->n_phases, sizeof(BtPhase));
  rubric->checkpoints = bt_rubric_alloc(rubric, (gsize)n, sizeof(BtCheckpoint));
  random_actions(rubric, shape->one_match ? n + 1 : MAX(2, n / 2));
  random_errors(rubric, dice);
  for (int c = 0; c < n; c++) {
    BtCheckpoint *checkpoint = &rubric->checkpoints[c];
    checkpoint->id = checkpoint->title = random_id(rubric, "step", c);
    checkpoint->phase = c * rubric->n_phases / n;
    int action = shape->one_match ? c : dice_roll(dice, 0, rubric->n_actions - 1);
    random_match(rubric, dice, action, shape->one_match && dice_one_in(dice, 2),
                 &checkpoint->match);
    checkpoint->least = dice_roll(dice, 1, 3);
    checkpoint->most = checkpoint->least + dice_roll(dice, 0, 1);
    checkpoint->expect = random_allowed(rubric, dice, &checkpoint->n_expect);
    checkpoint->verify_required = dice_one_in(dice, 4);
    checkpoint->points_mp = dice_roll(dice, 0, 5000);
    checkpoint->critical =
        dice_one_in(dice, 6) ? (BtCritical)dice_roll(dice, 1, 2) : BT_CRITICAL_NO;
    checkpoint->extra_kind = dice_one_in(dice, 3) && rubric->n_errors > 0
                                 ? dice_roll(dice, 0, rubric->n_errors - 1)
                                 : -1;
    checkpoint->choice = checkpoint->option = -1;
  }
  for (int c = n - 1; c >= 0; c--) {
    BtPhase *phase = &rubric->phases[rubric->checkpoints[c].phase];
    phase->first_checkpoint = c;
    phase->n_checkpoints++;
  }
}

static inline void random_times(BtRubric *rubric, Dice *dice) {
  for (int p = 0; p < rubric->n_phases; p++) {
    BtPhase *phase = &rubric->phases[p];
    phase->id = phase->title = random_id(rubric, "phase", p);
    phase->target_ms = dice_roll(dice, 1, 30) * 1000;
    phase->limit_ms = phase->target_ms + dice_roll(dice, 1, 60) * 1000;
    phase->points_mp = dice_one_in(dice, 2) ? 0 : dice_roll(dice, 1, 4000);
  }
  rubric->clock = (BtClock){.present = true,
                            .target_ms = 60000,
                            .limit_ms = 200000,
                            .quiet_ms = 20000,
                            .points_mp = dice_roll(dice, 0, 3000)};
}

// Two options of one checkpoint each, from the end of the rubric.
static inline void random_choices(BtRubric *rubric, Dice *dice, const RandomShape *shape) {
  int n = dice_roll(dice, 0, MIN(shape->max_choices, rubric->n_checkpoints / 4));
  rubric->n_choices = n;
  rubric->choices = bt_rubric_alloc(rubric, (gsize)n, sizeof(BtChoice));
  for (int i = 0; i < n; i++) {
    BtChoice *choice = &rubric->choices[i];
    choice->id = choice->title = random_id(rubric, "choice", i);
    choice->n_options = 2;
    choice->options = bt_rubric_alloc(rubric, 2, sizeof(BtOption));
    for (int o = 0; o < 2; o++) {
      int c = rubric->n_checkpoints - 1 - 2 * i - o;
      rubric->checkpoints[c].choice = i;
      rubric->checkpoints[c].option = o;
      choice->options[o].n_checkpoints = 1;
      choice->options[o].checkpoints = bt_rubric_alloc(rubric, 1, sizeof(int));
      choice->options[o].checkpoints[0] = c;
    }
  }
}

// A rule from lower-numbered to higher-numbered checkpoints, so that no rules make a circle.
static inline void random_rule(BtRubric *rubric, Dice *dice, int number, int inject, BtRule *rule) {
  int n = rubric->n_checkpoints, cut = dice_roll(dice, 1, n - 1);
  rule->id = random_id(rubric, "rule", number);
  rule->inject = inject;
  rule->first = bt_rubric_alloc(rubric, (gsize)n, sizeof(int));
  rule->then = bt_rubric_alloc(rubric, (gsize)n, sizeof(int));
  for (int c = 0; c < n; c++) {
    if (!dice_one_in(dice, 3))
      continue;
    if (c < cut)
      rule->first[rule->n_first++] = c;
    else
      rule->then[rule->n_then++] = c;
  }
  if (rule->n_first == 0)
    rule->first[rule->n_first++] = cut - 1;
  if (rule->n_then == 0)
    rule->then[rule->n_then++] = cut;
  rule->by_start = dice_one_in(dice, 3);
  rule->lose_mp = dice_roll(dice, 0, 3000);
  rule->critical = dice_one_in(dice, 8);
}

static inline void random_injects(BtRubric *rubric, Dice *dice) {
  rubric->n_injects = dice_roll(dice, 0, 2);
  rubric->injects = bt_rubric_alloc(rubric, (gsize)rubric->n_injects, sizeof(BtInject));
  for (int i = 0; i < rubric->n_injects; i++) {
    BtInject *inject = &rubric->injects[i];
    gsize n = (gsize)rubric->n_checkpoints;
    inject->id = inject->title = random_id(rubric, "inject", i);
    inject->adds = bt_rubric_alloc(rubric, n, sizeof(int));
    inject->drops = bt_rubric_alloc(rubric, n, sizeof(int));
    for (int c = 0; c < rubric->n_checkpoints; c++) {
      if (rubric->checkpoints[c].choice >= 0)
        continue;
      if (dice_one_in(dice, 6))
        inject->adds[inject->n_adds++] = c;
      else if (dice_one_in(dice, 5))
        inject->drops[inject->n_drops++] = c;
    }
  }
}

static inline void random_rules(BtRubric *rubric, Dice *dice) {
  int n_base = rubric->n_checkpoints < 2 ? 0 : dice_roll(dice, 0, 4);
  int per_inject = rubric->n_checkpoints < 2 ? 0 : dice_roll(dice, 0, 1);
  rubric->n_rules = n_base + per_inject * rubric->n_injects;
  rubric->rules = bt_rubric_alloc(rubric, (gsize)rubric->n_rules, sizeof(BtRule));
  for (int r = 0; r < rubric->n_rules; r++)
    random_rule(rubric, dice, r, r < n_base ? -1 : r - n_base, &rubric->rules[r]);
  for (int i = 0; i < rubric->n_injects; i++) {
    BtInject *inject = &rubric->injects[i];
    inject->suspends = bt_rubric_alloc(rubric, (gsize)n_base, sizeof(int));
    for (int r = 0; r < n_base; r++) {
      if (dice_one_in(dice, 4))
        inject->suspends[inject->n_suspends++] = r;
    }
  }
}

static inline void random_values(BtRubric *rubric, Dice *dice) {
  rubric->n_measures = dice_roll(dice, 0, 2);
  rubric->measures = bt_rubric_alloc(rubric, (gsize)rubric->n_measures, sizeof(BtMeasure));
  for (int i = 0; i < rubric->n_measures; i++) {
    bool mirror = dice_one_in(dice, 2);
    BtMeasure *measure = &rubric->measures[i];
    *measure = (BtMeasure){.good_milli = mirror ? 3000 : 1000,
                           .poor_milli = mirror ? 1000 : 3000,
                           .fail_milli = mirror ? 500 : 3500,
                           .has_fail = dice_one_in(dice, 3),
                           .points_mp = dice_roll(dice, 1, 4000)};
    measure->id = measure->title = random_id(rubric, "measure", i);
  }
  rubric->n_ratings = dice_roll(dice, 0, 2);
  rubric->ratings = bt_rubric_alloc(rubric, (gsize)rubric->n_ratings, sizeof(BtRating));
  for (int i = 0; i < rubric->n_ratings; i++) {
    BtRating *rating = &rubric->ratings[i];
    rating->id = rating->title = random_id(rubric, "rating", i);
    rating->n = dice_roll(dice, 2, 7);
    rating->points_mp = dice_roll(dice, 1, 4000);
  }
}

static inline void random_score(BtRubric *rubric, Dice *dice) {
  BtScoreRules *score = &rubric->score;
  score->technique_points_mp = dice_roll(dice, 1, 8000);
  score->pass_milli = dice_roll(dice, 0, 80000);
  for (int c = 0; c < BT_COMPONENTS; c++)
    score->weight[c] = dice_roll(dice, 0, 40);
  if (rubric->n_measures == 0)
    score->weight[BT_PRODUCT] = 0;
  if (rubric->n_ratings == 0)
    score->weight[BT_RATING] = 0;
  if (rubric->n_rules == 0)
    score->weight[BT_ORDER] = 0;
  score->floor_milli[BT_STEPS] = dice_one_in(dice, 3) ? dice_roll(dice, 0, 70000) : -1;
  score->floor_milli[BT_TECHNIQUE] = dice_one_in(dice, 5) ? dice_roll(dice, 0, 60000) : -1;
  score->optional[BT_TIME] = dice_one_in(dice, 3);
  score->optional[BT_RATING] = dice_one_in(dice, 3);
}

// A rubric owned by the caller.
static inline BtRubric *random_rubric(Dice *dice, const RandomShape *shape) {
  BtRubric *rubric = bt_rubric_new();
  rubric->id = rubric->title = random_id(rubric, "rubric", 1);
  rubric->edition = 1;
  random_checkpoints(rubric, dice, shape);
  random_times(rubric, dice);
  random_choices(rubric, dice, shape);
  random_injects(rubric, dice);
  random_rules(rubric, dice);
  random_values(rubric, dice);
  random_score(rubric, dice);
  return rubric;
}

// Logs ------------------------------------------------------------------------

static inline BtEvent random_work(const BtRubric *rubric, Dice *dice, int seq,
                                  BtDetailValue *details) {
  BtEvent event = {.kind = BT_EVENT_WORK,
                   .item = -1,
                   .component = -1,
                   .action = dice_roll(dice, 0, rubric->n_actions - 1),
                   .site = dice_roll(dice, -1, RANDOM_SITES - 1),
                   .details = details};
  if (!dice_one_in(dice, 4))
    details[event.n_details++] =
        (BtDetailValue){.detail = RANDOM_LENGTH, .milli = dice_roll(dice, 1, 5) * 1000, .word = -1};
  if (!dice_one_in(dice, 4))
    details[event.n_details++] =
        (BtDetailValue){.detail = RANDOM_USE, .word = dice_roll(dice, 0, 2), .text = "word"};
  if (dice_one_in(dice, 3))
    details[event.n_details++] =
        (BtDetailValue){.detail = RANDOM_HOLE, .milli = dice_roll(dice, 1, 2) * 1000, .word = -1};
  if (dice_one_in(dice, 5))
    event.redo = BT_REDO_YES;
  else if (dice_one_in(dice, 8))
    event.redo = dice_roll(dice, 1, seq);
  return event;
}

static inline int random_manual_kind(const BtRubric *rubric, Dice *dice) {
  for (int i = 0; i < rubric->n_errors; i++) {
    int k = dice_roll(dice, 0, rubric->n_errors - 1);
    if (!rubric->errors[k].has_match)
      return k;
  }
  return -1;
}

// An event that is no work; a note when the rubric has nothing to name.
static inline BtEvent random_other(const BtRubric *rubric, Dice *dice) {
  BtEvent event = {
      .kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1, .component = -1, .note = "n"};
  int roll = dice_roll(dice, 0, 8), kind;
  if (roll == 0 && (kind = random_manual_kind(rubric, dice)) >= 0) {
    event.kind = BT_EVENT_ERROR;
    event.item = kind;
  } else if (roll == 1) {
    event.kind = BT_EVENT_PAUSE;
  } else if (roll == 2) {
    event.kind = BT_EVENT_RESUME;
  } else if (roll <= 4 && rubric->n_injects > 0) {
    event.kind = BT_EVENT_INJECT;
    event.item = dice_roll(dice, 0, rubric->n_injects - 1);
  } else if (roll == 5 && dice_one_in(dice, 3)) {
    event.kind = BT_EVENT_UNSEEN;
    event.item = dice_roll(dice, -1, rubric->n_checkpoints - 1);
    event.component = event.item < 0 ? dice_roll(dice, 0, BT_COMPONENTS - 1) : -1;
  } else if (roll == 6 && rubric->n_measures > 0) {
    event.kind = BT_EVENT_MEASURE;
    event.item = dice_roll(dice, 0, rubric->n_measures - 1);
    event.value_milli = dice_roll(dice, 0, 8) * 500;
  } else if (roll == 7 && rubric->n_ratings > 0) {
    event.kind = BT_EVENT_RATE;
    event.item = dice_roll(dice, 0, rubric->n_ratings - 1);
    event.value_milli = dice_roll(dice, 1, rubric->ratings[event.item].n) * 1000;
  } else if (roll == 8 && dice_one_in(dice, 4)) {
    event.kind = dice_one_in(dice, 2) ? BT_EVENT_START : BT_EVENT_FINISH;
  }
  return event;
}

static inline void random_add(BtObservation *observation, BtEvent event, gint64 at_ms) {
  event.seq = (int)observation->events->len + 1;
  event.at_ms = at_ms;
  bt_observation_add(observation, &event);
}

// Every measure and rating, so that their components are assessed.
static inline void random_all_values(const BtRubric *rubric, Dice *dice, BtObservation *observation,
                                     gint64 at_ms) {
  for (int i = 0; i < rubric->n_measures; i++)
    random_add(observation,
               (BtEvent){.kind = BT_EVENT_MEASURE,
                         .item = i,
                         .component = -1,
                         .value_milli = dice_roll(dice, 0, 8) * 500},
               at_ms);
  for (int i = 0; i < rubric->n_ratings; i++)
    random_add(observation,
               (BtEvent){.kind = BT_EVENT_RATE,
                         .item = i,
                         .component = -1,
                         .value_milli = dice_roll(dice, 1, rubric->ratings[i].n) * 1000},
               at_ms);
}

// A log of about `n` events, `work_in_ten` of ten being work; most start and finish as they should,
// times often equal and now and then out of order. Owned by the caller.
static inline BtObservation *random_log(const BtRubric *rubric, Dice *dice, int n,
                                        int work_in_ten) {
  BtHeader header = {"s1", "t1", "a1", rubric->id, 1, 0, BT_MODE_LIVE};
  BtObservation *observation = bt_observation_new(&header);
  gint64 at_ms = dice_roll(dice, 0, 3) * 1000;
  BtEvent bare = {.action = -1, .site = -1, .item = -1, .component = -1};
  if (!dice_one_in(dice, 20)) {
    bare.kind = BT_EVENT_START;
    random_add(observation, bare, dice_one_in(dice, 10) ? at_ms + 2000 : at_ms);
  }
  for (int i = 0; i < n; i++) {
    BtDetailValue details[RANDOM_DETAILS];
    int seq = (int)observation->events->len + 1;
    bool work = dice_roll(dice, 1, 10) <= work_in_ten;
    BtEvent event = work ? random_work(rubric, dice, seq, details) : random_other(rubric, dice);
    at_ms += dice_one_in(dice, 3) ? 0 : dice_roll(dice, 0, 8) * 500;
    random_add(observation, event,
               dice_one_in(dice, 12) ? MAX(0, at_ms - dice_roll(dice, 0, 6) * 500) : at_ms);
  }
  bare.kind = BT_EVENT_FINISH;
  if (!dice_one_in(dice, 10))
    random_add(observation, bare, at_ms + 1000);
  if (!dice_one_in(dice, 5))
    random_all_values(rubric, dice, observation, at_ms + 2000);
  return observation;
}

#endif
