// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/advice.h"

#include "report/words.h"

#define ADVICE_OF_ONE_EXERCISE 2

// Outcome ---------------------------------------------------------------------

const char *bt__outcome_mark(int outcome) {
  static const char *const marks[] = {[BT_PASS] = "\u25cf",      // filled disc
                                      [BT_UNDECIDED] = "\u25d0", // half disc
                                      [BT_NOT_YET] = "\u25cb"};  // open ring
  return outcome < 0 ? "" : marks[outcome];
}

char *bt__outcome_text(int outcome) {
  return outcome < 0 ? g_strdup("no result")
                     : g_strdup_printf("%s %s", bt__outcome_mark(outcome),
                                       bt_outcome_words((BtOutcome)outcome));
}

// Trend -----------------------------------------------------------------------

static GArray *totals_of(const BtExercise *exercise) {
  GArray *totals = g_array_new(FALSE, FALSE, sizeof(gint64));
  for (guint i = 0; i < exercise->attempts->len; i++) {
    gint64 total_milli = bt__attempt(exercise, i)->row->total_percent_milli;
    if (total_milli >= 0)
      g_array_append_val(totals, total_milli);
  }
  return totals;
}

// "61.2 %, 70.0 %" of a few totals.
static char *list_totals(const GArray *totals) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < totals->len; i++) {
    g_autofree char *total = bt_decimal_format_cut(g_array_index(totals, gint64, i), 1);
    bt__join_printf(text, ", then ", "%s %%", total);
  }
  return g_string_free(text, FALSE);
}

#define CLEAR_LEAST 5 // fewer values come in any order too often by chance

// "rising by 4.1 percentage points an attempt ..." or why no trend is called.
static char *direction(const BtTrend *trend) {
  if (trend->s == 0)
    return g_strdup("as many rises as falls");
  if (!bt_trend_is_clear(trend))
    return trend->n < CLEAR_LEAST
               ? g_strdup_printf("it takes %d attempts to call a trend", CLEAR_LEAST)
               : g_strdup_printf("no trend yet (a row as steady comes by chance up to %d times in "
                                 "1,000)",
                                 trend->by_chance_permille);
  g_autofree char *slope = bt_decimal_format_cut(ABS(trend->slope), 1);
  return g_strdup_printf("%s by %s percentage points an attempt, the median slope (a row as steady "
                         "comes by chance at most %d in 1,000 times)",
                         trend->s > 0 ? "rising" : "falling", slope, trend->by_chance_permille);
}

static char *long_trend(const BtTrend *trend, int attempts) {
  g_autofree char *first = bt_decimal_format_cut(trend->first, 1);
  g_autofree char *last = bt_decimal_format_cut(trend->last, 1);
  g_autofree char *words = direction(trend);
  return g_strdup_printf("From %s %% to %s %% over %s%d attempts: %s.", first, last,
                         trend->n < attempts ? "the last " : "", trend->n, words);
}

char *bt__trend_sentence(const BtExercise *exercise) {
  g_autoptr(GArray) totals = totals_of(exercise);
  if (totals->len == 0)
    return g_strdup("No attempt has a total yet.");
  if (totals->len >= 3) {
    BtTrend trend = bt_trend((const gint64 *)(const void *)totals->data, totals->len);
    return long_trend(&trend, (int)totals->len);
  }
  g_autofree char *list = list_totals(totals);
  g_autofree char *attempts = bt_count_of((gint64)totals->len, "attempt", NULL);
  return g_strdup_printf("%s: %s. Too few for a trend.", attempts, list);
}

char *bt__others_sentence(const BtAttempt *attempt) {
  const BtMiddleHalf *half = &attempt->others;
  if (!bt__middle_half_shown(half))
    return g_strdup("");
  g_autofree char *low = bt_decimal_format_cut(half->low_milli, 1);
  g_autofree char *high = bt_decimal_format_cut(half->high_milli, 1);
  return g_strdup_printf(
      "At attempt %d the middle half of %d other trainees lies between %s %% and "
      "%s %%.",
      attempt->row->attempt, half->n, low, high);
}

// Advice ----------------------------------------------------------------------

static const char *coach_of(const BtRubric *rubric, const BtLedgerLine *line) {
  if (line->component == BT_STEPS) {
    int checkpoint = bt_rubric_find_checkpoint(rubric, line->id);
    return checkpoint < 0 ? NULL : rubric->checkpoints[checkpoint].coach;
  }
  if (line->component == BT_TECHNIQUE) {
    int kind = bt_rubric_find_error(rubric, line->id);
    return kind < 0 ? NULL : rubric->errors[kind].coach;
  }
  return NULL;
}

// What remained on the table: of a kind of error what it took.
static gint64 lost_mp(const BtLedgerLine *line) {
  return line->possible_mp - line->given_mp;
}

// That loss as a share of the total, thousandths of a percent.
static gint64 share_milli(const BtRubric *rubric, const BtLedger *ledger,
                          const BtLedgerLine *line) {
  gint64 weights = 0;
  for (int i = 0; i < BT_COMPONENTS; i++) {
    if (ledger->component[i].assessed && ledger->component[i].possible_mp > 0)
      weights += rubric->score.weight[i];
  }
  gint64 possible_mp = ledger->component[line->component].possible_mp;
  if (weights == 0 || possible_mp == 0 || !line->counts)
    return 0;
  return bt_round_ratio(lost_mp(line) * 100000, rubric->score.weight[line->component],
                        weights * possible_mp);
}

static bool can_be_practised(const BtLedgerLine *line) {
  // The points at stake follow from the steps, which have rows of their own.
  return line->lost && !(line->component == BT_TECHNIQUE && line->possible_mp > 0);
}

static int by_weight(gconstpointer a, gconstpointer b) {
  const BtAdvice *x = *(BtAdvice *const *)a, *y = *(BtAdvice *const *)b;
  if (x->line->critical != y->line->critical)
    return x->line->critical ? -1 : 1;
  return (x->share_milli < y->share_milli) - (x->share_milli > y->share_milli);
}

// The losses of one exercise, the greatest first. GPtrArray's sort is not promised to be stable, so
// equal ones are told apart by their place in the ledger.
static int by_weight_and_place(gconstpointer a, gconstpointer b) {
  int by = by_weight(a, b);
  const BtAdvice *x = *(BtAdvice *const *)a, *y = *(BtAdvice *const *)b;
  if (by != 0)
    return by;
  guint left = 0, right = 0;
  (void)g_ptr_array_find(x->exercise->lines, x->line, &left);
  (void)g_ptr_array_find(y->exercise->lines, y->line, &right);
  return (left > right) - (left < right);
}

static void add_losses(const BtExercise *exercise, GPtrArray *out) {
  const BtAttempt *latest = bt__latest_attempt(exercise);
  g_autoptr(GPtrArray) losses = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < exercise->lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(exercise->lines, i);
    if (!can_be_practised(line))
      continue;
    BtAdvice *advice = g_new(BtAdvice, 1);
    *advice = (BtAdvice){exercise, line, coach_of(latest->rubric, line),
                         share_milli(latest->rubric, latest->ledger, line)};
    g_ptr_array_add(losses, advice);
  }
  g_ptr_array_sort(losses, by_weight_and_place);
  for (guint i = 0; i < losses->len && i < ADVICE_OF_ONE_EXERCISE; i++)
    g_ptr_array_add(out, g_memdup2(g_ptr_array_index(losses, i), sizeof(BtAdvice)));
}

GPtrArray *bt__advice(const BtTraineeRecord *record, guint most) {
  GPtrArray *advice = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < record->exercises->len; i++)
    add_losses(g_ptr_array_index(record->exercises, i), advice);
  // A stable order: insertion keeps equals in the order of the exercises.
  for (guint i = 1; i < advice->len; i++) {
    for (guint j = i; j > 0 && by_weight(&advice->pdata[j - 1], &advice->pdata[j]) > 0; j--) {
      gpointer kept = advice->pdata[j];
      advice->pdata[j] = advice->pdata[j - 1];
      advice->pdata[j - 1] = kept;
    }
  }
  if (advice->len > most)
    g_ptr_array_set_size(advice, (gint)most);
  return advice;
}

static char *cost_text(const BtLedgerLine *line) {
  g_autofree char *lost = bt_decimal_format(lost_mp(line));
  if (line->possible_mp == 0)
    return g_strdup_printf("cost %s points", lost);
  g_autofree char *possible = bt_decimal_format(line->possible_mp);
  return g_strdup_printf("cost %s of %s points", lost, possible);
}

char *bt__advice_sentence(const BtAdvice *advice) {
  const BtLedgerLine *line = advice->line;
  g_autofree char *cost = cost_text(line);
  GString *text = g_string_new(NULL);
  bool order = line->component == BT_ORDER; // where both sides have their times
  g_string_printf(text, "%s: %s", line->what, cost);
  if (order) {
    g_string_append_printf(text, " (%s)", line->happened);
  } else if (line->at_ms >= 0) {
    g_autofree char *at = bt_clock_format(line->at_ms);
    g_string_append_printf(text, " (%s)", at);
  }
  g_string_append_printf(text, "%s. %s", line->critical ? ", and it is critical" : "",
                         advice->coach ? advice->coach : line->why);
  return g_string_free(text, FALSE);
}
