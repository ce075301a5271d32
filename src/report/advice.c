// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/advice.h"

#include "words/words.h"

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

#define CLEAR_LEAST   5   // fewer values come in any order too often by chance
#define CHANCE_SPOKEN 333 // permille; beyond this a direction is not worth a word

// "1 in 12" of 84 in 1,000.
static char *one_in(int permille) {
  return g_strdup_printf("1 in %d", (1000 + permille / 2) / permille);
}

// "rising by about 4.1 points in a hundred an attempt ..." or why no trend is called.
static char *direction(const BtTrend *trend) {
  const char *moves = trend->s > 0 ? "rising" : "falling";
  if (trend->s == 0)
    return g_strdup("as many rises as falls");
  if (trend->n < CLEAR_LEAST)
    return g_strdup_printf("too few to call a trend, which takes %d", CLEAR_LEAST);
  if (trend->by_chance_permille > CHANCE_SPOKEN)
    return g_strdup("up and down, no direction yet");
  g_autofree char *chance = one_in(MAX(trend->by_chance_permille, 1));
  if (!bt_trend_is_clear(trend))
    return g_strdup_printf("%s, but %d attempts could look so by chance (%s)", moves, trend->n,
                           chance);
  g_autofree char *slope = bt_decimal_format_cut(ABS(trend->slope), 1);
  return g_strdup_printf("%s by about %s percentage points an attempt, hardly by chance (%s%s)",
                         moves, slope, trend->by_chance_permille <= 1 ? "at most " : "", chance);
}

static char *long_trend(const BtTrend *trend, int attempts) {
  g_autofree char *first = bt_decimal_format_cut(trend->first, 1);
  g_autofree char *last = bt_decimal_format_cut(trend->last, 1);
  g_autofree char *words = direction(trend);
  return g_strdup_printf("%s %% to %s %% over %s%d attempts: %s.", first, last,
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
  (void)g_ptr_array_find((GPtrArray *)x->lines, x->line, &left);
  (void)g_ptr_array_find((GPtrArray *)y->lines, y->line, &right);
  return (left > right) - (left < right);
}

GPtrArray *bt__attempt_advice(const BtAttempt *attempt, const GPtrArray *lines, guint most) {
  GPtrArray *losses = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(lines, i);
    if (!can_be_practised(line))
      continue;
    BtAdvice *advice = g_new(BtAdvice, 1);
    *advice = (BtAdvice){attempt, lines, line, coach_of(attempt->rubric, line),
                         share_milli(attempt->rubric, attempt->ledger, line)};
    g_ptr_array_add(losses, advice);
  }
  g_ptr_array_sort(losses, by_weight_and_place);
  if (losses->len > most)
    g_ptr_array_set_size(losses, (gint)most);
  return losses;
}

GPtrArray *bt__advice(const BtTraineeRecord *record, guint most) {
  GPtrArray *advice = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtExercise *exercise = g_ptr_array_index(record->exercises, i);
    g_ptr_array_extend_and_steal(
        advice,
        bt__attempt_advice(bt__latest_attempt(exercise), exercise->lines, ADVICE_OF_ONE_EXERCISE));
  }
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

// Sentences -------------------------------------------------------------------

// Points with one decimal; exact where that would show nothing.
static char *points_text(gint64 points_mp) {
  return points_mp % 100 == 0 || points_mp < 100 ? bt_decimal_format(points_mp)
                                                 : bt_decimal_format_cut(points_mp, 1);
}

// "cost 2 of 4 points, and it is critical".
static char *cost_text(const BtLedgerLine *line) {
  g_autofree char *lost = points_text(lost_mp(line));
  g_autofree char *possible = points_text(line->possible_mp);
  return g_strdup_printf("cost %s%s%s points%s", lost, line->possible_mp ? " of " : "",
                         line->possible_mp ? possible : "",
                         line->critical ? ", and it is critical" : "");
}

// What was to come first, and how far it was: `"Four screws" stood at 0 of 4`.
static char *missing_text(const BtScored *scored, const BtOrderRow *row) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < row->shorts->len; i++) {
    const BtShort *missing = &g_array_index(row->shorts, BtShort, i);
    bt__join_printf(text, ", ", "\"%s\" %s %d of %d",
                    scored->rubric->checkpoints[missing->checkpoint].title,
                    i == 0 ? "stood at" : "at", missing->done, missing->least);
  }
  return g_string_free(text, FALSE);
}

// `At 14:00 "Long plate" came too early: "Four screws" stood at 0 of 4. That cost 4 of 4 points.
// Build it last.`
char *bt__order_advice(const BtScored *scored, const BtOrderRow *row, const BtLedgerLine *line) {
  const BtRule *rule = &scored->rubric->rules[row->rule];
  g_autofree char *at = bt__time_text(scored->observation, row->then_event);
  g_autofree char *missing = missing_text(scored, row);
  g_autofree char *cost = cost_text(line);
  return g_strdup_printf("At %s \"%s\" came too early: %s. That %s.%s%s", at,
                         bt__then_title(scored, rule, row->then_event), missing, cost,
                         rule->why ? " " : "", rule->why ? rule->why : "");
}

static const BtOrderRow *order_row_of(const BtScored *scored, const BtLedgerLine *line) {
  int rule = bt_rubric_find_rule(scored->rubric, line->id);
  for (guint i = 0; i < scored->ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(scored->ledger->order, BtOrderRow, i);
    if (row->rule == rule && row->broken && row->shorts->len > 0)
      return row;
  }
  return NULL;
}

// What remains to be said when the rubric has no coach line: a value and what was asked for, or
// the ledger's own reason.
static char *remark_text(const BtLedgerLine *line) {
  if (line->component == BT_PRODUCT || line->component == BT_RATING)
    return g_strdup_printf("It was %s; wanted: %s.", line->happened, line->expected);
  return g_strdup(line->why);
}

char *bt__advice_sentence(const BtAdvice *advice) {
  const BtLedgerLine *line = advice->line;
  if (line->component == BT_ORDER) {
    const BtAttempt *attempt = advice->attempt;
    const BtScored scored = {attempt->rubric, attempt->observation, attempt->ledger};
    const BtOrderRow *row = order_row_of(&scored, line);
    if (row)
      return bt__order_advice(&scored, row, line);
  }
  g_autofree char *cost = cost_text(line);
  g_autofree char *at = line->at_ms < 0 ? NULL : bt_clock_format(line->at_ms);
  g_autofree char *remark = advice->coach ? g_strdup(advice->coach) : remark_text(line);
  return g_strdup_printf("%s%s%s%s: %s. %s", line->what, at ? " (" : "", at ? at : "",
                         at ? ")" : "", cost, remark);
}
