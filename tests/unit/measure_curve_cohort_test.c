// SPDX-License-Identifier: GPL-3.0-or-later
//
// Learning curves of a whole cohort: what is known is found again with the error stated, few
// attempts borrow strength, and the mark is foretold no further than it can be.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/curve.h>

// A cohort with what nobody knows of a real one.
typedef struct {
  BtCohortAttempts attempts;
  double *attempt, *value;
  gsize *trainee;
  double *start, *gain; // of each trainee
} Cohort;

typedef struct {
  gsize trainees;
  int least, most; // attempts of each
  double start, gain, start_sd, gain_sd, correlation, residual_sd;
} Truth;

static double normal(GRand *rand) {
  double radius = sqrt(-2 * log(1 - g_rand_double(rand)));
  return radius * cos(2 * G_PI * g_rand_double(rand));
}

static Cohort simulate(const Truth *truth, GRand *rand) {
  gsize room = truth->trainees * (gsize)truth->most, n = 0;
  Cohort cohort = {.attempt = g_new(double, room),
                   .value = g_new(double, room),
                   .trainee = g_new(gsize, room),
                   .start = g_new(double, truth->trainees),
                   .gain = g_new(double, truth->trainees)};
  for (gsize i = 0; i < truth->trainees; i++) {
    double a = normal(rand), b = normal(rand), r = truth->correlation;
    cohort.start[i] = truth->start + truth->start_sd * a;
    cohort.gain[i] = truth->gain + truth->gain_sd * (r * a + sqrt(1 - r * r) * b);
    int attempts = g_rand_int_range(rand, truth->least, truth->most + 1);
    for (int k = 1; k <= attempts; k++, n++) {
      cohort.attempt[n] = k;
      cohort.trainee[n] = i;
      cohort.value[n] =
          cohort.start[i] + cohort.gain[i] * log2(k) + truth->residual_sd * normal(rand);
    }
  }
  cohort.attempts =
      (BtCohortAttempts){n, cohort.attempt, cohort.value, cohort.trainee, truth->trainees};
  return cohort;
}

static void clear(Cohort *cohort) {
  g_free(cohort->attempt);
  g_free(cohort->value);
  g_free(cohort->trainee);
  g_free(cohort->start);
  g_free(cohort->gain);
}

static const Truth usual = {.trainees = 60,
                            .least = 3,
                            .most = 8,
                            .start = 52,
                            .gain = 9,
                            .start_sd = 7,
                            .gain_sd = 2.5,
                            .correlation = -0.4,
                            .residual_sd = 4};

static bool holds(const BtEstimate *estimate, double truth) {
  return estimate->low <= truth && truth <= estimate->high;
}

// How often, over so many cohorts ---------------------------------------------

typedef struct {
  int cohorts, trainees;
  int start, gain;          // cohorts whose limits hold the truth
  int own_start, own_gain;  // trainees
  double sds[4];            // sums
  double own_off, line_off; // squares of what each trainee's gain is off: here, by its own line
} Tally;

// The slope of a least-squares line over log2(attempt) of one trainee's attempts, from `at` on.
static double own_slope(const Cohort *cohort, gsize at, gsize n) {
  double x = 0, y = 0, xx = 0, xy = 0;
  for (gsize i = at; i < at + n; i++) {
    x += log2(cohort->attempt[i]) / (double)n;
    y += cohort->value[i] / (double)n;
  }
  for (gsize i = at; i < at + n; i++) {
    double off = log2(cohort->attempt[i]) - x;
    xx += off * off;
    xy += off * (cohort->value[i] - y);
  }
  return xy / xx;
}

static void count(Tally *tally, const Truth *truth, const Cohort *cohort,
                  const BtCohortCurve *curve) {
  const double sds[] = {curve->start_sd, curve->gain_sd, curve->correlation, curve->residual_sd};
  tally->cohorts++;
  tally->start += holds(&curve->start, truth->start);
  tally->gain += holds(&curve->gain, truth->gain);
  for (int i = 0; i < 4; i++)
    tally->sds[i] += sds[i];
  gsize at = 0;
  for (gsize i = 0; i < curve->trainees; i++) {
    const BtTraineeCurve *own = &curve->trainee[i];
    double off = own->gain.value - cohort->gain[i];
    double line_off = own_slope(cohort, at, own->n) - cohort->gain[i];
    tally->trainees++;
    tally->own_start += holds(&own->start, cohort->start[i]);
    tally->own_gain += holds(&own->gain, cohort->gain[i]);
    tally->own_off += off * off;
    tally->line_off += line_off * line_off;
    at += own->n;
  }
}

static void check_share(const char *what, int held, int of, double slack) {
  double share = (double)held / of;
  print_message("%s: %.3f of %d\n", what, share, of);
  assert_true(fabs(share - BT_LEVEL) < 4 * sqrt(0.95 * 0.05 / of) + slack);
}

// Limits of 95 % hold the truth in 95 % of 200 cohorts, within 4 standard errors of a proportion;
// they take the variances as known, which with 60 trainees costs a percent or two. Spreads come
// back on average, and a trainee's gain is nearer to the truth than by a line of its own.
static void a_known_cohort_is_found_again(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(20260305);
  Tally tally = {0};
  for (int i = 0; i < 200; i++) {
    Cohort cohort = simulate(&usual, rand);
    g_autoptr(BtCohortCurve) curve = bt_cohort_curve(&cohort.attempts, 70, false);
    assert_null(curve->why_not);
    assert_false(curve->common_gain);
    count(&tally, &usual, &cohort, curve);
    clear(&cohort);
  }
  check_share("cohort's start", tally.start, tally.cohorts, 0.01);
  check_share("cohort's gain", tally.gain, tally.cohorts, 0.01);
  check_share("trainees' start", tally.own_start, tally.trainees, 0.015);
  check_share("trainees' gain", tally.own_gain, tally.trainees, 0.015);
  const double truth[] = {usual.start_sd, usual.gain_sd, usual.correlation, usual.residual_sd};
  const double within[] = {0.2, 0.2, 0.08, 0.05};
  for (int i = 0; i < 4; i++) {
    print_message("spread %d: %.3f on average, truth %.3f\n", i, tally.sds[i] / tally.cohorts,
                  truth[i]);
    assert_true(fabs(tally.sds[i] / tally.cohorts - truth[i]) < within[i]);
  }
  print_message("gain off by %.2f, by a line of its own %.2f\n",
                sqrt(tally.own_off / tally.trainees), sqrt(tally.line_off / tally.trainees));
  assert_true(tally.own_off < 0.6 * tally.line_off);
  g_rand_free(rand);
}

// Attempts to the mark --------------------------------------------------------

// The first attempt at which a true line is at the mark; 0: not within BT_ATTEMPTS_MOST.
static gsize true_attempt(double start, double gain, double mark) {
  for (gsize k = 1; k <= BT_ATTEMPTS_MOST; k++) {
    if (start + gain * log2((double)k) >= mark)
      return k;
  }
  return 0;
}

static bool interval_holds(const BtToMark *found, gsize truth) {
  if (truth == 0)
    return found->high == 0;
  return found->low > 0 && found->low <= truth && (found->high == 0 || truth <= found->high);
}

// The interval of attempts holds the true one in 95 % or more (attempts are whole, which widens
// it).
static void the_interval_of_attempts_holds_the_true_one(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(9);
  int held = 0, all = 0, open = 0, exact = 0;
  for (int i = 0; i < 40; i++) {
    Cohort cohort = simulate(&usual, rand);
    g_autoptr(BtCohortCurve) curve = bt_cohort_curve(&cohort.attempts, 75, false);
    for (gsize t = 0; t < curve->trainees; t++) {
      gsize truth = true_attempt(cohort.start[t], cohort.gain[t], 75);
      const BtToMark *found = &curve->trainee[t].to_mark;
      held += interval_holds(found, truth);
      open += found->high == 0;
      exact += found->at == truth;
      all++;
      assert_true(found->low <= found->at || found->at == 0);
      assert_true(found->high >= found->at || found->high == 0);
    }
    clear(&cohort);
  }
  print_message("%.3f of %d held, %.3f without end, %.3f right on\n", (double)held / all, all,
                (double)open / all, (double)exact / all);
  assert_true((double)held / all > BT_LEVEL - 4 * sqrt(0.95 * 0.05 / all) - 0.015);
  assert_true((double)open / all < 0.6);
  g_rand_free(rand);
}

// Times fall; the same numbers turned over give the same attempts.
static void falling_is_rising_turned_over(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(3);
  Cohort cohort = simulate(&usual, rand);
  g_autoptr(BtCohortCurve) up = bt_cohort_curve(&cohort.attempts, 75, false);
  for (gsize i = 0; i < cohort.attempts.n; i++)
    cohort.value[i] = 1000 - cohort.value[i];
  g_autoptr(BtCohortCurve) down = bt_cohort_curve(&cohort.attempts, 925, true);
  g_autoptr(BtCohortCurve) none = bt_cohort_curve(&cohort.attempts, BT_MISSING, true);
  assert_true(fabs(up->gain.value + down->gain.value) < 1e-5);
  assert_true(fabs(up->start.se - down->start.se) < 1e-5);
  for (gsize t = 0; t < up->trainees; t++) {
    const BtToMark *a = &up->trainee[t].to_mark, *b = &down->trainee[t].to_mark;
    assert_true(a->at == b->at && a->low == b->low && a->high == b->high);
    assert_true(none->trainee[t].to_mark.at == 0 && none->trainee[t].to_mark.low == 0);
  }
  clear(&cohort);
  g_rand_free(rand);
}

// What cannot be told ---------------------------------------------------------

static void small_cohorts_say_what_is_missing(void **state) {
  (void)state;
  const double attempt[] = {1, 2, 3, 1, 2, 1, 2}, value[] = {50, 57, 63, 48, 58, 61, 66};
  const gsize of[] = {0, 0, 0, 1, 1, 2, 2}, alone[] = {0, 0, 0, 0, 0, 0, 0};
  BtCohortAttempts few = {7, attempt, value, of, 3};
  g_autoptr(BtCohortCurve) common = bt_cohort_curve(&few, 70, false);
  assert_null(common->why_not);
  assert_int_equal(common->trainee[0].n, 3);
  assert_int_equal(common->trainee[2].n, 2);
  assert_true(common->gain.value > 5 && common->gain.value < 10); // 5, 8.2 and 10 by the doubling
  BtCohortAttempts one = {3, attempt, value, alone, 1};
  g_autoptr(BtCohortCurve) single = bt_cohort_curve(&one, 70, false);
  assert_string_equal(single->why_not, "there is only one group");
  BtCohortAttempts empty = {0, NULL, NULL, NULL, 0};
  g_autoptr(BtCohortCurve) none = bt_cohort_curve(&empty, 70, false);
  assert_non_null(none->why_not);
  const double first[] = {1, 1, 1}, scores[] = {50, 60, 55};
  const gsize each[] = {0, 1, 2};
  BtCohortAttempts once = {3, first, scores, each, 3};
  g_autoptr(BtCohortCurve) no_second = bt_cohort_curve(&once, 70, false);
  assert_non_null(no_second->why_not);
}

// With two attempts each there are as many effects as values: one gain for all is found.
static void two_attempts_each_share_one_gain(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(4);
  Truth truth = usual;
  truth.least = truth.most = 2;
  truth.trainees = 80;
  truth.gain_sd = 0;
  Cohort cohort = simulate(&truth, rand);
  g_autoptr(BtCohortCurve) curve = bt_cohort_curve(&cohort.attempts, 70, false);
  assert_null(curve->why_not);
  assert_true(curve->common_gain);
  assert_true(holds(&curve->gain, truth.gain));
  assert_true(curve->gain_sd == 0 && curve->correlation == 0);
  assert_true(curve->trainee[3].gain.value == curve->gain.value);
  clear(&cohort);
  g_rand_free(rand);
}

// Of 20,000 sessions: the time grows with the sessions alone.
static void a_large_cohort_takes_little_time(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(8);
  Truth truth = usual;
  truth.trainees = 3600;
  Cohort cohort = simulate(&truth, rand);
  gint64 begun = g_get_monotonic_time();
  g_autoptr(BtCohortCurve) curve = bt_cohort_curve(&cohort.attempts, 75, false);
  double seconds = (double)(g_get_monotonic_time() - begun) / G_USEC_PER_SEC;
  print_message("%u sessions of %u trainees in %.2f s\n", (unsigned)cohort.attempts.n,
                (unsigned)truth.trainees, seconds);
  assert_null(curve->why_not);
  assert_true(fabs(curve->gain.value - truth.gain) < 4 * curve->gain.se);
  assert_true(seconds < 20);
  clear(&cohort);
  g_rand_free(rand);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_known_cohort_is_found_again),
      cmocka_unit_test(the_interval_of_attempts_holds_the_true_one),
      cmocka_unit_test(falling_is_rising_turned_over),
      cmocka_unit_test(small_cohorts_say_what_is_missing),
      cmocka_unit_test(two_attempts_each_share_one_gain),
      cmocka_unit_test(a_large_cohort_takes_little_time),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
