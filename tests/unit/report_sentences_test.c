// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the workbook says in sentences, from rows made here: trends, and the others for context.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "report/advice.h"

#define ROWS_MOST 24

static BtSessionRow rows[ROWS_MOST];
static BtAttempt attempts[ROWS_MOST];

static BtExercise exercise_of(const gint64 *totals_milli, int n) {
  BtExercise exercise = {.attempts = g_ptr_array_new()};
  for (int i = 0; i < n; i++) {
    rows[i] = (BtSessionRow){.attempt = i + 1, .total_percent_milli = totals_milli[i]};
    attempts[i] = (BtAttempt){.row = &rows[i]};
    g_ptr_array_add(exercise.attempts, &attempts[i]);
  }
  return exercise;
}

static void assert_trend(const gint64 *totals_milli, int n, const char *wanted) {
  BtExercise exercise = exercise_of(totals_milli, n);
  g_autofree char *sentence = bt__trend_sentence(&exercise);
  assert_string_equal(sentence, wanted);
  g_ptr_array_unref(exercise.attempts);
}

static void a_trend_is_called_only_when_chance_seldom_makes_one(void **state) {
  (void)state;
  const gint64 none[] = {-1}, one[] = {61299}, two[] = {61299, 70000};
  const gint64 four[] = {10000, 20000, 30000, 40000};
  const gint64 rising[] = {60000, 62500, 65000, 67500, 70999},
               nearly[] = {60000, 70000, 65000, 75000, 80000},
               steady[] = {60000, 70000, 61000, 69000, 62000};
  assert_trend(none, 1, "No attempt has a total yet.");
  assert_trend(one, 1, "1 attempt: 61.2 %. Too few for a trend.");
  assert_trend(two, 2, "2 attempts: 61.2 %, then 70.0 %. Too few for a trend.");
  assert_trend(four, 4,
               "10.0 % to 40.0 % over 4 attempts: too few to call a trend, which takes 5.");
  // Slopes between all ten pairs: 2500 six times, and 2624.8, 2749.8, 2833, 2999.5, 3499 with the
  // last; the median of ten is 2500. 2 of 120 arrangements are as steady: 16.7 in 1,000, told
  // as 17.
  assert_trend(rising, 5,
               "60.0 % to 70.9 % over 5 attempts: rising by about 2.5 percentage points an "
               "attempt, hardly by chance (1 in 59).");
  // One of ten pairs falls: S = 8. 1 + 4 arrangements have none or one, as many the other way
  // round: 10 of 120.
  assert_trend(nearly, 5,
               "60.0 % to 80.0 % over 5 attempts: rising, but 5 attempts could look so by chance "
               "(1 in 12).");
  // 10 pairs, 6 rise and 4 fall: S = 2. All but the 22 arrangements with S = 0 are as steady:
  // 98/120.
  assert_trend(steady, 5, "60.0 % to 62.0 % over 5 attempts: up and down, no direction yet.");
}

static void a_long_row_is_told_by_its_last_twenty(void **state) {
  (void)state;
  gint64 level[ROWS_MOST];
  for (int i = 0; i < ROWS_MOST; i++)
    level[i] = 50000;
  assert_trend(level, ROWS_MOST,
               "50.0 % to 50.0 % over the last 20 attempts: as many rises as falls.");
}

// Advice ----------------------------------------------------------------------

static GArray *one_int(int value) {
  return g_array_append_val(g_array_new(FALSE, FALSE, sizeof(int)), value);
}

static void a_broken_rule_is_told_as_a_teacher_would(void **state) {
  (void)state;
  int first[] = {0, 1}, then[] = {2};
  BtCheckpoint checkpoints[] = {{.title = (char *)"Two screws at the brow", .least = 2},
                                {.title = (char *)"Four screws at the rim", .least = 4},
                                {.title = (char *)"Long plate", .least = 1}};
  BtRule rule = {.first = first,
                 .n_first = 2,
                 .then = then,
                 .n_then = 1,
                 .why = (char *)"Build it last, between fixed ends."};
  BtRubric rubric = {.checkpoints = checkpoints, .n_checkpoints = 3, .rules = &rule, .n_rules = 1};
  BtEvent plate = {.seq = 7, .at_ms = 840000};
  BtObservation observation = {.events = g_array_new(FALSE, FALSE, sizeof(BtEvent))};
  g_array_append_val(observation.events, plate);
  BtLedger ledger = {.steps = g_array_new(FALSE, TRUE, sizeof(BtStepRow))};
  g_array_set_size(ledger.steps, 3);
  g_array_index(ledger.steps, BtStepRow, 2).bound = one_int(7);
  BtShort shorts[] = {{.checkpoint = 0, .done = 1, .least = 2}, {.checkpoint = 1, .least = 4}};
  BtOrderRow row = {
      .then_event = 7, .broken = true, .shorts = g_array_new(FALSE, FALSE, sizeof(BtShort))};
  g_array_append_vals(row.shorts, shorts, 2);
  const BtLedgerLine line = {
      .component = BT_ORDER, .given_mp = 0, .possible_mp = 4000, .critical = true};
  const BtScored scored = {&rubric, &observation, &ledger};
  g_autofree char *sentence = bt__order_advice(&scored, &row, &line);
  assert_string_equal(sentence,
                      "At 14:00 \"Long plate\" came too early: \"Two screws at the brow\" stood at "
                      "1 of 2, \"Four screws at the rim\" at 0 of 4. That cost 4 of 4 points, and "
                      "it is critical. Build it last, between fixed ends.");
  g_array_unref(g_array_index(ledger.steps, BtStepRow, 2).bound);
  g_array_unref(ledger.steps);
  g_array_unref(observation.events);
  g_array_unref(row.shorts);
}

static void points_are_told_with_one_decimal_and_a_value_with_what_was_wanted(void **state) {
  (void)state;
  BtLedgerLine line = {.component = BT_PRODUCT,
                       .what = (char *)"Widest gap",
                       .at_ms = -1,
                       .happened = (char *)"1.7 mm",
                       .expected = (char *)"0.5 mm or less",
                       .given_mp = 273,
                       .possible_mp = 3000};
  const BtAdvice advice = {.line = &line};
  g_autofree char *measured = bt__advice_sentence(&advice);
  assert_string_equal(measured,
                      "Widest gap: cost 2.7 of 3 points. It was 1.7 mm; wanted: 0.5 mm or less.");
}

// The others ------------------------------------------------------------------

static BtSessionRow row_of(const char *trainee, int attempt, gint64 total_milli) {
  return (BtSessionRow){.trainee = (char *)trainee,
                        .rubric = (char *)"r",
                        .attempt = attempt,
                        .total_percent_milli = total_milli,
                        .of_record = true,
                        .closed = true};
}

static GPtrArray *six_rows(BtSessionRow *made) {
  static const gint64 totals_milli[] = {50000, 60000, 70000, 80000, 90000, 70000};
  GPtrArray *list = g_ptr_array_new();
  for (int i = 0; i < 6; i++) {
    made[i] = row_of("t", 1, totals_milli[i]);
    g_ptr_array_add(list, &made[i]);
  }
  return list;
}

static void the_middle_half_is_that_of_the_others(void **state) {
  (void)state;
  BtSessionRow made[6];
  g_autoptr(GPtrArray) list = six_rows(made);
  BtCohort *cohort = bt__cohort_new(list);
  // Without the 90: 50 60 70 70 80, whose quartiles are values themselves.
  BtMiddleHalf half = bt__cohort_at(cohort, &made[4]);
  assert_int_equal(half.n, 5);
  assert_int_equal(half.low_milli, 60000);
  assert_int_equal(half.high_milli, 70000);
  // Without one of the 70s: 50 60 70 80 90.
  half = bt__cohort_at(cohort, &made[2]);
  assert_int_equal(half.low_milli, 60000);
  assert_int_equal(half.high_milli, 80000);
  bt__cohort_free(cohort);
}

static void rows_that_decide_nothing_are_no_others(void **state) {
  (void)state;
  BtSessionRow made[6];
  g_autoptr(GPtrArray) list = six_rows(made);
  made[0].of_record = false;
  made[1].closed = false;
  made[2].attempt = 2;
  made[3].total_percent_milli = -1;
  BtCohort *cohort = bt__cohort_new(list);
  BtMiddleHalf half = bt__cohort_at(cohort, &made[4]);
  assert_int_equal(half.n, 1);
  assert_false(bt__middle_half_shown(&half));
  // Someone without a total of their own still sees the others.
  half = bt__cohort_at(cohort, &made[3]);
  assert_int_equal(half.n, 2);
  bt__cohort_free(cohort);
}

static void fewer_than_four_others_are_not_shown(void **state) {
  (void)state;
  BtSessionRow row = row_of("t", 3, 50000);
  BtAttempt attempt = {.row = &row, .others = {3, 1000, 2000}};
  g_autofree char *three = bt__others_sentence(&attempt);
  assert_string_equal(three, "");
  attempt.others = (BtMiddleHalf){4, 60099, 70000};
  g_autofree char *four = bt__others_sentence(&attempt);
  assert_string_equal(four,
                      "At attempt 3 the middle half of 4 other trainees lies between 60.0 % and "
                      "70.0 %.");
}

static void each_outcome_has_a_word_and_a_shape(void **state) {
  (void)state;
  g_autofree char *pass = bt__outcome_text(BT_PASS);
  g_autofree char *not_yet = bt__outcome_text(BT_NOT_YET);
  g_autofree char *undecided = bt__outcome_text(BT_UNDECIDED);
  g_autofree char *none = bt__outcome_text(-1);
  assert_string_equal(pass, "\u25cf Pass");
  assert_string_equal(not_yet, "\u25cb Not yet");
  assert_string_equal(undecided, "\u25d0 Undecided");
  assert_string_equal(none, "no result");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_trend_is_called_only_when_chance_seldom_makes_one),
      cmocka_unit_test(a_long_row_is_told_by_its_last_twenty),
      cmocka_unit_test(a_broken_rule_is_told_as_a_teacher_would),
      cmocka_unit_test(points_are_told_with_one_decimal_and_a_value_with_what_was_wanted),
      cmocka_unit_test(the_middle_half_is_that_of_the_others),
      cmocka_unit_test(rows_that_decide_nothing_are_no_others),
      cmocka_unit_test(fewer_than_four_others_are_not_shown),
      cmocka_unit_test(each_outcome_has_a_word_and_a_shape)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
