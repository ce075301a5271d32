// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 7: the figures beside the points, for the combination that is taken.
#include "score/displaced.h"

// Which checkpoints belong before which: a row of bits a checkpoint.
typedef struct {
  int n_words; // a row
  guint64 *rows;
} Closure;

static guint64 *row_of(const Closure *closure, int c) {
  return closure->rows + (gsize)c * (gsize)closure->n_words;
}

static bool has(const Closure *closure, int d, int c) {
  return row_of(closure, d)[c / 64] >> (c % 64) & 1;
}

static void add_rule(const Closure *closure, const BtRule *rule) {
  for (int i = 0; i < rule->n_then; i++) {
    guint64 *row = row_of(closure, rule->then[i]);
    for (int j = 0; j < rule->n_first; j++)
      row[rule->first[j] / 64] |= G_GUINT64_CONSTANT(1) << (rule->first[j] % 64);
  }
}

// Warshall's closure, a word at a time.
static void close_up(const Closure *closure, int n) {
  for (int k = 0; k < n; k++) {
    const guint64 *through = row_of(closure, k);
    for (int d = 0; d < n; d++) {
      if (!has(closure, d, k))
        continue;
      guint64 *row = row_of(closure, d);
      for (int i = 0; i < closure->n_words; i++)
        row[i] |= through[i];
    }
  }
}

// False if no rule is left that the figures could come from.
static bool read_rules(BtScoring *s, const BtTally *tally, Closure *closure) {
  const BtRubric *rubric = s->rubric;
  int used = 0;
  closure->n_words = rubric->n_checkpoints / 64 + 1;
  closure->rows = bt__arena_new(&s->arena, guint64, rubric->n_checkpoints * closure->n_words);
  for (int r = 0; r < rubric->n_rules; r++) {
    const BtRule *rule = &rubric->rules[r];
    if (rule->inject >= 0 || rule->by_start || !tally->judgements[r].listed)
      continue;
    add_rule(closure, rule);
    used++;
  }
  if (used > 0)
    close_up(closure, rubric->n_checkpoints);
  return used > 0;
}

// The events that count, by checkpoint. Groups are the checkpoints that have any.
typedef struct {
  int *checkpoint; // of each group
  int *work;       // of each event
  gint64 *at_ms;
  int *start;
  int n_groups, n_events;
} Counting;

static void add_group(const BtScoring *s, const BtBinding *binding, int c, Counting *counting) {
  int left = s->rubric->checkpoints[c].least;
  int w = binding->held[c].first_bound;
  if (w < 0)
    return;
  counting->checkpoint[counting->n_groups] = c;
  counting->start[counting->n_groups++] = counting->n_events;
  for (; w >= 0 && left > 0; w = binding->placed[w].next_bound, left--) {
    counting->work[counting->n_events] = w;
    counting->at_ms[counting->n_events++] = s->work[w].event->at_ms;
  }
}

static Counting gather(BtScoring *s, const BtBinding *binding) {
  int n = s->rubric->n_checkpoints;
  Counting counting = {.checkpoint = bt__arena_new(&s->arena, int, n),
                       .work = bt__arena_new(&s->arena, int, s->n_work),
                       .at_ms = bt__arena_new(&s->arena, gint64, s->n_work),
                       .start = bt__arena_new(&s->arena, int, n + 1)};
  for (int c = 0; c < n; c++) {
    if (bt__why_out(s, binding, c) == BT_IN_SCORE)
      add_group(s, binding, c, &counting);
  }
  counting.start[counting.n_groups] = counting.n_events;
  return counting;
}

static BtSequence sequence_of(BtScoring *s, const Closure *closure, const Counting *counting) {
  int n = counting->n_groups, n_pairs = 0;
  int *before_start = bt__arena_new(&s->arena, int, n + 1);
  for (int g = 0; g < n; g++) {
    for (int h = 0; h < n; h++)
      n_pairs += has(closure, counting->checkpoint[g], counting->checkpoint[h]);
    before_start[g + 1] = n_pairs;
  }
  int *before = bt__arena_new(&s->arena, int, n_pairs), filled = 0;
  for (int g = 0; g < n; g++) {
    for (int h = 0; h < n; h++) {
      if (has(closure, counting->checkpoint[g], counting->checkpoint[h]))
        before[filled++] = h;
    }
  }
  return (BtSequence){.n_groups = n,
                      .n_events = counting->n_events,
                      .start = counting->start,
                      .at_ms = counting->at_ms,
                      .before_start = before_start,
                      .before = before};
}

static gint64 greatest_common_divisor(gint64 a, gint64 b) {
  while (b != 0) {
    gint64 rest = a % b;
    a = b;
    b = rest;
  }
  return a;
}

static void set_concordance(BtLedger *ledger, gint64 right, gint64 all) {
  if (all == 0)
    return;
  gint64 divisor = greatest_common_divisor(all, right);
  ledger->concordance_num = right / divisor;
  ledger->concordance_den = all / divisor;
}

static void list_displaced(BtScoring *s, const Counting *counting, const BtWhere *where) {
  BtWhere *of_work = bt__arena_new(&s->arena, BtWhere, s->n_work);
  for (int x = 0; x < counting->n_events; x++)
    of_work[counting->work[x]] = where[x];
  for (int w = 0; w < s->n_work; w++) {
    if (of_work[w] == BT__IN_PLACE)
      continue;
    BtDisplaced row = {s->work[w].event->seq, of_work[w] == BT__TOO_LATE};
    g_array_append_val(s->ledger->displaced, row);
  }
}

void bt__order_figures(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  Closure closure;
  if (!read_rules(s, tally, &closure))
    return;
  Counting counting = gather(s, binding);
  BtSequence sequence = sequence_of(s, &closure, &counting);
  gint64 right, all;
  bt__count_pairs(&sequence, &right, &all);
  set_concordance(s->ledger, right, all);
  if (right == all)
    return; // nothing is out of order
  BtWhere *where = bt__arena_new(&s->arena, BtWhere, counting.n_events);
  bt__find_displaced(&s->arena, &sequence, where);
  list_displaced(s, &counting, where);
}
