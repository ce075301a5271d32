// SPDX-License-Identifier: GPL-3.0-or-later
//
// Cumulative sums against worked examples, exact arithmetic by hand, and simulation.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/cusum.h>

#include "support/published.h"

// Published -------------------------------------------------------------------

// NIST/SEMATECH e-Handbook, section 6.3.2.3.
static void the_handbook_s_tabular_sums(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *example = published_example(family, "nist_cusum");
  gsize n;
  g_autofree double *x = published_matrix(published_input(example, "x"), NULL, &n);
  double high[20], low[20];
  assert_int_equal(n, 20);
  gsize first = bt_cusum_tabular(x, n, json_number_value(published_input(example, "target")),
                                 json_number_value(published_input(example, "K")),
                                 json_number_value(published_input(example, "H")), high, low);
  published_check(example, "first_signal", (double)first);
  for (gsize i = 0; i < n; i++) {
    g_autofree char *hi = g_strdup_printf("hi%u", (unsigned)i + 1);
    g_autofree char *lo = g_strdup_printf("lo%u", (unsigned)i + 1);
    published_check(example, hi, high[i]);
    published_check(example, lo, low[i]);
  }
  assert_int_equal(bt_cusum_tabular(x, n, 325, 0.3175, 4.1959, NULL, NULL), 14);
  json_decref(family);
}

// Lucas and Crosier (1982), tables as Montgomery prints them.
static void run_lengths_of_normal_values(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *example = published_example(family, "lucas_crosier_arl");
  for (int h = 4; h <= 5; h++) {
    for (int shift = 0; shift <= 2; shift++) {
      g_autofree char *name = g_strdup_printf("h%d_%d", h, shift);
      g_autofree char *both = g_strdup_printf("h%d_0_two", h);
      BtEstimate run = bt_cusum_normal_run(0.5, h, shift);
      published_check_estimate(example, name, &run);
      if (shift == 0)
        published_check(example, both, run.value / 2); // two sides alike
    }
  }
  json_decref(family);
}

static void check_test(json_t *example, const char *prefix, json_t *inputs, bool printed) {
  static const char *const names[] = {"P", "Q", "s", "h0", "h1"};
  BtSequentialTest test = bt_sequential_test(json_number_value(json_object_get(inputs, "p0")),
                                             json_number_value(json_object_get(inputs, "p1")),
                                             json_number_value(json_object_get(inputs, "alpha")),
                                             json_number_value(json_object_get(inputs, "beta")));
  const double values[] = {test.p, test.q, test.s, test.accept, test.reject};
  assert_null(test.why_not);
  for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
    g_autofree char *name = g_strconcat(prefix, names[i], NULL);
    published_check(example, name, values[i]);
  }
  if (printed)
    published_check(example, "one_minus_s", 1 - test.s);
}

// Bolsin and Colson (2000), and two other settings by the same formulas.
static void limits_of_the_sequential_test(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *bolsin = published_example(family, "sprt_bolsin");
  check_test(bolsin, "", json_object_get(bolsin, "inputs"), true);
  json_t *other = published_example(family, "sprt_other");
  check_test(other, "A_", published_input(other, "A"), false);
  check_test(other, "B_", published_input(other, "B"), false);
  json_decref(family);
}

static void check_lc_limit(json_t *example, double h) {
  BtCusum chart = bt_cusum(BT_TO_STANDARD, 0.1, 0.25, h);
  static const struct {
    const char *name;
    double rate;
    gsize attempts; // 0: average run length
  } figures[] = {{"ARL_inadequate", 0.25, 0},      {"ARL_adequate", 0.1, 0},
                 {"false_discovery_50", 0.25, 50}, {"false_discovery_100", 0.25, 100},
                 {"true_discovery_50", 0.1, 50},   {"true_discovery_100", 0.1, 100}};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++) {
    g_autofree char *name = g_strdup_printf("h%g_%s", h, figures[i].name);
    BtEstimate found = figures[i].attempts
                           ? bt_cusum_signals(&chart, figures[i].rate, figures[i].attempts)
                           : bt_cusum_run(&chart, figures[i].rate);
    published_check_estimate(example, name, &found);
  }
}

// Biau and others (2008), Biau and Porcher (2010): the scores, a path, what the chart does.
static void the_learning_curve_s_cusum(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *example = published_example(family, "lc_cusum");
  gsize n;
  g_autofree double *failures = published_matrix(published_input(example, "failures_1"), NULL, &n);
  g_autofree bool *passed = g_new(bool, n);
  for (gsize i = 0; i < n; i++)
    passed[i] = failures[i] == 0;
  // A limit out of reach shows the whole path; with the limit 2 it ends where it signals.
  BtCusum open = bt_cusum(BT_TO_STANDARD, 0.1, 0.25, 100), two = open;
  two.limit = 2;
  published_check_to(example, "score_failure", open.on_not_yet, 1e-12);
  published_check_to(example, "score_success", open.on_pass, 1e-12);
  BtCusum never = bt_cusum(BT_FROM_STANDARD, 0.1, 0.25, 100);
  g_auto(BtWay) path = bt_way(&open, &never, passed, n);
  g_auto(BtWay) way = bt_way(&two, &never, passed, n);
  for (gsize i = 0; i < n; i++) {
    g_autofree char *name = g_strdup_printf("S%u", (unsigned)i + 1);
    published_check(example, name, path.sum[i]);
  }
  published_check(example, "first_signal_h2", (double)way.reached);
  check_lc_limit(example, 1.25);
  check_lc_limit(example, 2);
  check_lc_limit(example, 3);
  json_decref(family);
}

// By hand ---------------------------------------------------------------------

// Rates of 1/4 and 1/2: a pass scores ln 1.5, a "not yet" -ln 2 or less than any sum of one pass.
// With a limit just above one pass, two in a row signal; from the rate 1/2 the mean wait for two
// in a row is 6 (2 + 4), and within three attempts the chance is 3/8 (PP., NPP).
static void two_passes_in_a_row(void **state) {
  (void)state;
  BtCusum chart = bt_cusum(BT_TO_STANDARD, 0.25, 0.5, log(1.5) * 1.5);
  assert_true(fabs(chart.on_pass - log(1.5)) < 1e-15);
  assert_true(fabs(chart.on_not_yet + log(2)) < 1e-15);
  BtEstimate run = bt_cusum_run(&chart, 0.5), within = bt_cusum_signals(&chart, 0.5, 3);
  assert_true(fabs(run.value - 6) < 1e-9);
  assert_true(fabs(within.value - 0.375) < 1e-12);
  assert_int_equal(bt_cusum_passes_needed(&chart, 0), 2);
  assert_int_equal(bt_cusum_passes_needed(&chart, chart.on_pass), 1);
  assert_int_equal(bt_cusum_passes_needed(&chart, 2 * chart.on_pass), 0);
  // Whoever always passes needs two; whoever never does waits for ever.
  assert_true(fabs(bt_cusum_run(&chart, 0).value - 2) < 1e-12);
  assert_non_null(bt_cusum_run(&chart, 1).why_not);
  assert_true(bt_cusum_signals(&chart, 1, 50).value == 0);
}

// Shown at the second pass in a row (attempt 4); then from 0, the other way round: a "not yet"
// scores ln 2, a pass -ln 1.5, limit 1: attempts 6 and 7 signal (2 ln 2 = 1.39); then again from 0.
static void a_way_there_and_back(void **state) {
  (void)state;
  BtCusum to = bt_cusum(BT_TO_STANDARD, 0.25, 0.5, log(1.5) * 1.5);
  BtCusum from = bt_cusum(BT_FROM_STANDARD, 0.25, 0.5, 1);
  const bool passed[] = {true, false, true, true, true, false, false, true, true, false};
  g_auto(BtWay) shown = bt_way(&to, &from, passed, 5);
  assert_true(shown.at_standard);
  assert_int_equal(shown.reached, 4);
  assert_int_equal(shown.left, 0);
  assert_int_equal(shown.passes_needed, 0);
  assert_int_equal(shown.watch[3], BT_TO_STANDARD);
  assert_int_equal(shown.watch[4], BT_FROM_STANDARD);
  assert_true(shown.sum[4] == 0);
  g_auto(BtWay) lost = bt_way(&to, &from, passed, 8);
  assert_false(lost.at_standard);
  assert_int_equal(lost.left, 7);
  assert_int_equal(lost.left_from, 6);
  assert_int_equal(lost.passes_needed, 1); // attempt 8 was one of the two
  g_auto(BtWay) again = bt_way(&to, &from, passed, 10);
  assert_true(again.at_standard);
  assert_int_equal(again.reached, 9);
  g_auto(BtWay) none = bt_way(&to, &from, NULL, 0);
  assert_false(none.at_standard);
  assert_int_equal(none.passes_needed, 2);
}

// With the figures of Bolsin and Colson (2000) each "not yet" adds 0.93 and h1 is 2.94: the fourth
// in a row is too many; 41 passes (2.94 / 0.0724 = 40.6) are enough.
static void the_sequential_test_by_hand(void **state) {
  (void)state;
  BtSequentialTest test = bt_sequential_test(0.05, 0.10, 0.1, 0.1);
  bool passed[50];
  gsize at = 99;
  memset(passed, 0, sizeof passed);
  assert_int_equal(bt_sequential_verdict(&test, passed, 3, &at), BT_TEST_OPEN);
  assert_int_equal(at, 0);
  assert_int_equal(bt_sequential_verdict(&test, passed, 50, &at), BT_TEST_UNACCEPTABLE);
  assert_int_equal(at, 4);
  for (gsize i = 0; i < 50; i++)
    passed[i] = true;
  assert_int_equal(bt_sequential_verdict(&test, passed, 40, NULL), BT_TEST_OPEN);
  assert_int_equal(bt_sequential_verdict(&test, passed, 50, &at), BT_TEST_ACCEPTABLE);
  assert_int_equal(at, 41);
}

// Limits from error rates -----------------------------------------------------

static bool signals_in_one_life(const BtCusum *chart, double rate, gsize attempts, GRand *rand) {
  double sum = 0;
  for (gsize i = 0; i < attempts; i++) {
    sum += g_rand_double(rand) < rate ? chart->on_not_yet : chart->on_pass;
    sum = sum > 0 ? sum : 0;
    if (sum >= chart->limit)
      return true;
  }
  return false;
}

// The chosen limit holds the error, a hundredth less does not; and of 20,000 simulated trainees as
// many signal as the exact chance says, within four standard errors of a proportion.
static void limits_hold_the_errors_stated(void **state) {
  (void)state;
  static const struct {
    BtWatch watch;
    double adequate, inadequate, error;
    gsize attempts;
  } cases[] = {{BT_TO_STANDARD, 0.1, 0.4, 0.05, 30},
               {BT_TO_STANDARD, 0.1, 0.25, 0.1, 50},
               {BT_FROM_STANDARD, 0.1, 0.4, 0.05, 30},
               {BT_FROM_STANDARD, 0.05, 0.1, 0.2, 100},
               {BT_TO_STANDARD, 0.2, 0.5, 0.01, 12}};
  GRand *rand = g_rand_new_with_seed(20260304);
  for (gsize c = 0; c < G_N_ELEMENTS(cases); c++) {
    BtCusum chart = bt_cusum_for(cases[c].watch, cases[c].adequate, cases[c].inadequate,
                                 cases[c].attempts, cases[c].error);
    assert_null(chart.why_not);
    double rates[] = {cases[c].adequate, cases[c].inadequate};
    double false_rate = rates[cases[c].watch == BT_TO_STANDARD];
    BtCusum less = chart;
    less.limit -= 0.01;
    assert_true(bt_cusum_signals(&chart, false_rate, cases[c].attempts).value <= cases[c].error);
    assert_true(bt_cusum_signals(&less, false_rate, cases[c].attempts).value > cases[c].error);
    for (int r = 0; r < 2; r++) {
      double exact = bt_cusum_signals(&chart, rates[r], cases[c].attempts).value;
      int signalled = 0, lives = 20000;
      for (int i = 0; i < lives; i++)
        signalled += signals_in_one_life(&chart, rates[r], cases[c].attempts, rand);
      double error = sqrt(exact * (1 - exact) / lives);
      assert_true(fabs((double)signalled / lives - exact) <= 4 * error);
    }
  }
  g_rand_free(rand);
}

// Rates so near to each other that the sum has more values than are followed one by one:
// they are put on a lattice, and the run still is that of a simulation, within four of its
// standard errors.
static void charts_of_very_many_values(void **state) {
  (void)state;
  BtCusum chart = bt_cusum_for(BT_TO_STANDARD, 0.45, 0.5, 200, 0.001);
  assert_null(chart.why_not);
  assert_true(bt_cusum_signals(&chart, 0.5, 200).value <= 0.001);
  BtEstimate run = bt_cusum_run(&chart, 0.45);
  assert_null(run.why_not);
  GRand *rand = g_rand_new_with_seed(77);
  double sum = 0, squares = 0;
  int lives = 4000;
  for (int i = 0; i < lives; i++) {
    double at = 0, attempts = 0;
    for (; at < chart.limit; attempts++)
      at = fmax(0, at + (g_rand_double(rand) < 0.45 ? chart.on_not_yet : chart.on_pass));
    sum += attempts;
    squares += attempts * attempts;
  }
  double mean = sum / lives, error = sqrt((squares / lives - mean * mean) / lives);
  print_message("run %.1f, simulated %.1f (standard error %.1f)\n", run.value, mean, error);
  assert_true(fabs(run.value - mean) < 4 * error);
  assert_true(error < 0.02 * mean);
  g_rand_free(rand);
}

static void charts_that_cannot_be_say_so(void **state) {
  (void)state;
  assert_non_null(bt_cusum(BT_TO_STANDARD, 0.4, 0.1, 2).why_not);
  assert_non_null(bt_cusum(BT_TO_STANDARD, 0, 0.1, 2).why_not);
  assert_non_null(bt_cusum(BT_TO_STANDARD, 0.1, 1, 2).why_not);
  assert_non_null(bt_cusum(BT_TO_STANDARD, 0.1, NAN, 2).why_not);
  assert_non_null(bt_cusum(BT_FROM_STANDARD, 0.1, 0.4, 0).why_not);
  assert_non_null(bt_cusum_for(BT_TO_STANDARD, 0.1, 0.4, 0, 0.05).why_not);
  assert_non_null(bt_cusum_for(BT_TO_STANDARD, 0.1, 0.4, 201, 0.05).why_not);
  assert_non_null(bt_cusum_for(BT_TO_STANDARD, 0.1, 0.4, 30, 0).why_not);
  assert_non_null(bt_sequential_test(0.1, 0.2, 0.6, 0.1).why_not);
  assert_non_null(bt_sequential_test(0.2, 0.1, 0.1, 0.1).why_not);
  BtCusum chart = bt_cusum(BT_TO_STANDARD, 0.1, 0.4, 2), none = bt_cusum(BT_TO_STANDARD, 0, 0, 2);
  assert_non_null(bt_cusum_signals(&chart, 1.5, 10).why_not);
  assert_non_null(bt_cusum_run(&chart, -0.1).why_not);
  assert_non_null(bt_cusum_run(&none, 0.1).why_not);
  assert_non_null(bt_cusum_signals(&none, 0.1, 10).why_not);
  assert_non_null(bt_cusum_normal_run(0.5, 0, 0).why_not);
  assert_non_null(bt_cusum_normal_run(-1, 4, 0).why_not);
  assert_int_equal(bt_cusum_tabular(NULL, 0, 1, 1, 1, NULL, NULL), 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_handbook_s_tabular_sums),
      cmocka_unit_test(run_lengths_of_normal_values),
      cmocka_unit_test(limits_of_the_sequential_test),
      cmocka_unit_test(the_learning_curve_s_cusum),
      cmocka_unit_test(two_passes_in_a_row),
      cmocka_unit_test(a_way_there_and_back),
      cmocka_unit_test(the_sequential_test_by_hand),
      cmocka_unit_test(limits_hold_the_errors_stated),
      cmocka_unit_test(charts_of_very_many_values),
      cmocka_unit_test(charts_that_cannot_be_say_so),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
