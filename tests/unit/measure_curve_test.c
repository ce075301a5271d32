// SPDX-License-Identifier: GPL-3.0-or-later
//
// One trainee's learning curve: what is known is found again, limits hold as often as they say, and
// what cannot be told is not.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/curve.h>

#define MOST 40

// The normal deviate of Box and Muller (1958).
static double normal(GRand *rand) {
  double radius = sqrt(-2 * log(1 - g_rand_double(rand)));
  return radius * cos(2 * G_PI * g_rand_double(rand));
}

static void fill(double *attempt, double *value, gsize n, BtCurveForm form, const double truth[3],
                 double sd, GRand *rand) {
  for (gsize i = 0; i < n; i++) {
    attempt[i] = (double)i + 1;
    value[i] = bt_curve_value(form, truth[0], truth[1], truth[2], attempt[i]) +
               (sd > 0 ? sd * normal(rand) : 0);
  }
}

static bool near(const BtEstimate *estimate, double value, double within) {
  return !estimate->why_not && fabs(estimate->value - value) <= within;
}

// Without noise the figures come back to rounding, rising and falling, and the curve that made the
// values is the one preferred; no error is claimed.
static void a_curve_without_noise_is_found_again(void **state) {
  (void)state;
  static const double truths[][3] = {{40, 0.4, 92}, {1500, 0.25, 610}, {20, 1.1, 75}, {3, 0.08, 9}};
  double attempt[MOST], value[MOST];
  for (gsize i = 0; i < G_N_ELEMENTS(truths); i++) {
    for (int form = BT_CURVE_EXPONENTIAL; form <= BT_CURVE_POWER; form++) {
      const double *truth = truths[i];
      fill(attempt, value, 9, (BtCurveForm)form, truth, 0, NULL);
      BtCurve curve = bt_curve(attempt, value, 9, -INFINITY, INFINITY);
      const BtCurveFit *fit = &curve.fit[form];
      assert_null(fit->why_not);
      assert_true(near(&fit->start, truth[0], 1e-9 * truth[0]));
      assert_true(near(&fit->rate, truth[1], 1e-8 * truth[1]));
      assert_true(near(&fit->plateau, truth[2], 1e-8 * truth[2]));
      assert_int_equal(fit->cautions, BT_CURVE_PERFECT);
      assert_false(fit->start.has_se || fit->rate.has_limits);
      assert_non_null(fit->aicc.why_not);
      assert_null(curve.why_no_choice);
      assert_int_equal(curve.preferred, form);
      assert_false(curve.tie);
    }
  }
}

// The figures do not depend on the unit: values times 60 give start, plateau and limits times 60
// and the same rate; turned over (100 less the value) they give the same curve turned over.
static void figures_follow_the_unit(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(5);
  double attempt[12], value[12], seconds[12], lost[12];
  fill(attempt, value, 12, BT_CURVE_EXPONENTIAL, (const double[]){35, 0.35, 88}, 1, rand);
  for (int i = 0; i < 12; i++) {
    seconds[i] = 60 * value[i];
    lost[i] = 100 - value[i];
  }
  BtCurve plain = bt_curve(attempt, value, 12, 0, 100);
  BtCurve times = bt_curve(attempt, seconds, 12, 0, INFINITY);
  BtCurve turned = bt_curve(attempt, lost, 12, 0, 100);
  for (int form = BT_CURVE_EXPONENTIAL; form <= BT_CURVE_POWER; form++) {
    const BtCurveFit *a = &plain.fit[form], *b = &times.fit[form], *c = &turned.fit[form];
    assert_true(a->plateau.has_limits && a->rate.has_limits);
    assert_true(near(&b->rate, a->rate.value, 1e-9) && near(&c->rate, a->rate.value, 1e-9));
    assert_true(near(&b->start, 60 * a->start.value, 1e-6));
    assert_true(near(&c->plateau, 100 - a->plateau.value, 1e-7));
    assert_true(fabs(b->plateau.high - 60 * a->plateau.high) < 1e-4);
    assert_true(fabs(c->plateau.low - (100 - a->plateau.high)) < 1e-5);
    assert_true(fabs(b->rate.low - a->rate.low) < 1e-7);
    assert_true(fabs(b->start.se - 60 * a->start.se) < 1e-6);
  }
  g_rand_free(rand);
}

// What cannot be told ---------------------------------------------------------

static BtCurve of_values(const double *value, gsize n) {
  static const double attempt[] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12};
  assert_true(n <= G_N_ELEMENTS(attempt));
  return bt_curve(attempt, value, n, 0, 100);
}

static void few_attempts_have_no_curve(void **state) {
  (void)state;
  BtCurve none = bt_curve(NULL, NULL, 0, 0, 100);
  assert_int_equal(none.trend.n, 0);
  for (int form = 0; form < BT_CURVE_FORMS; form++)
    assert_non_null(none.fit[form].why_not);
  const double value[] = {50, 58, BT_MISSING, 61, 70};
  BtCurve four = of_values(value, 5); // one is missing
  assert_int_equal(four.n, 4);
  assert_string_equal(four.fit[BT_CURVE_POWER].why_not,
                      "the three figures of a curve take five attempts");
  assert_string_equal(four.fit[BT_CURVE_EXPONENTIAL].plateau.why_not,
                      "the three figures of a curve take five attempts");
  assert_non_null(four.why_no_choice);
  // What is shown instead: the line has gaps where attempts have, the trend counts neighbours.
  assert_null(four.fit[BT_CURVE_LINE].why_not);
  assert_int_equal(four.trend.n, 4);
  assert_int_equal(four.trend.s, 6);
  BtCurve one = of_values(value, 1);
  assert_string_equal(one.fit[BT_CURVE_LINE].why_not, "one attempt shows no change");
  assert_true(near(&one.fit[BT_CURVE_FLAT].start, 50, 0));
  assert_false(one.fit[BT_CURVE_FLAT].start.has_se);
}

static void a_flat_curve_is_flat(void **state) {
  (void)state;
  const double value[] = {70, 70, 70, 70, 70, 70};
  BtCurve curve = of_values(value, 6);
  assert_string_equal(curve.fit[BT_CURVE_EXPONENTIAL].why_not, "all values are the same");
  assert_string_equal(curve.fit[BT_CURVE_LINE].why_not, "all values are the same");
  assert_int_equal(curve.preferred, BT_CURVE_FLAT);
  assert_true(near(&curve.fit[BT_CURVE_FLAT].start, 70, 0));
}

// Values that rise ever faster bend the wrong way; a straight line does not bend.
static void without_a_bend_there_is_no_plateau(void **state) {
  (void)state;
  const double faster[] = {30, 31, 33, 37, 45, 61}, line[] = {30, 40, 50, 60, 70, 80};
  BtCurve bent = of_values(faster, 6), straight = of_values(line, 6);
  assert_string_equal(bent.fit[BT_CURVE_EXPONENTIAL].why_not,
                      "the values still change as steadily as a line: no plateau is in sight");
  assert_non_null(straight.fit[BT_CURVE_EXPONENTIAL].plateau.why_not);
  assert_int_equal(straight.preferred, BT_CURVE_LINE);
  assert_true(near(&straight.fit[BT_CURVE_LINE].rate, 10, 1e-12));
}

// All gained at the second attempt: start 40, plateau the mean of the others (81), no rate.
static void a_step_has_no_rate(void **state) {
  (void)state;
  const double value[] = {40, 81, 80, 82, 81, 80, 82};
  BtCurve curve = of_values(value, 7);
  const BtCurveFit *fit = &curve.fit[BT_CURVE_EXPONENTIAL];
  assert_null(fit->why_not);
  assert_string_equal(fit->rate.why_not, "the change is over by the second attempt");
  assert_true(fit->cautions & BT_CURVE_AT_ONCE);
  assert_true(near(&fit->start, 40, 0.01)); // the step is as steep as exp(-10), not endless
  assert_true(near(&fit->plateau, 81, 0.01));
  assert_true(fit->plateau.has_limits);
}

static void a_plateau_out_of_reach_is_said(void **state) {
  (void)state;
  const double truth[] = {30, 0.12, 130};
  double attempt[9], value[9];
  GRand *rand = g_rand_new_with_seed(11);
  fill(attempt, value, 9, BT_CURVE_EXPONENTIAL, truth, 0.3, rand);
  BtCurve percent = bt_curve(attempt, value, 9, 0, 100);
  BtCurve seconds = bt_curve(attempt, value, 9, 0, INFINITY);
  assert_true(percent.fit[BT_CURVE_EXPONENTIAL].cautions & BT_CURVE_BEYOND);
  assert_false(seconds.fit[BT_CURVE_EXPONENTIAL].cautions & BT_CURVE_BEYOND);
  for (int i = 0; i < BT_CURVE_CAUTIONS; i++)
    assert_true(strlen(bt_curve_caution((BtCurveCaution)(1 << i))) > 20);
  g_rand_free(rand);
}

// Noise so large that a line would do as well: no limits where there are none.
static void limits_that_do_not_end_are_not_given(void **state) {
  (void)state;
  const double value[] = {50, 61, 55, 68, 60, 71};
  BtCurve curve = of_values(value, 6);
  const BtCurveFit *fit = &curve.fit[BT_CURVE_EXPONENTIAL];
  assert_null(fit->why_not);
  assert_true(fit->cautions & BT_CURVE_PLATEAU_OPEN);
  assert_false(fit->plateau.has_limits || fit->rate.has_limits);
  assert_true(fit->plateau.has_se && fit->start.has_limits);
}

// How often -------------------------------------------------------------------

typedef struct {
  int curves, held[3], open[3];
  double off[3]; // mean error
} Tally;

static void count(Tally *tally, int figure, const BtEstimate *estimate, double truth) {
  if (estimate->why_not)
    return;
  bool held = !estimate->has_limits || (estimate->low <= truth && truth <= estimate->high);
  tally->held[figure] += held;
  tally->open[figure] += !estimate->has_limits;
  tally->off[figure] += estimate->value - truth;
}

// 95 % limits of 2000 simulated trainees hold the truth in 95 % of them, within 4 standard errors
// of a proportion (1.9 %) and 1 % for the profile, which is exact in large samples only. Limits
// without end hold it, and are rare here.
static void limits_hold_as_often_as_they_say(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(42);
  const double truth[] = {40, 0.5, 85};
  double attempt[MOST], value[MOST];
  for (int form = BT_CURVE_EXPONENTIAL; form <= BT_CURVE_POWER; form++) {
    Tally tally = {.curves = 2000};
    gsize n = form == BT_CURVE_POWER ? 30 : 12;
    double sd = form == BT_CURVE_POWER ? 2 : 5;
    for (int i = 0; i < tally.curves; i++) {
      fill(attempt, value, n, (BtCurveForm)form, truth, sd, rand);
      BtCurve curve = bt_curve(attempt, value, n, -INFINITY, INFINITY);
      const BtCurveFit *fit = &curve.fit[form];
      count(&tally, 0, &fit->start, truth[0]);
      count(&tally, 1, &fit->rate, truth[1]);
      count(&tally, 2, &fit->plateau, truth[2]);
    }
    for (int figure = 0; figure < 3; figure++) {
      double share = (double)tally.held[figure] / tally.curves;
      print_message("%s, figure %d: %.3f held, %.3f without end, off by %.3f on average\n",
                    bt_curve_form_name((BtCurveForm)form), figure, share,
                    (double)tally.open[figure] / tally.curves, tally.off[figure] / tally.curves);
      assert_true(fabs(share - BT_LEVEL) < 4 * sqrt(0.95 * 0.05 / tally.curves) + 0.01);
    }
    assert_true(fabs(tally.off[0] / tally.curves) < 0.5);
  }
  g_rand_free(rand);
}

// Of trainees who do not change, a bend is preferred to no change, without a tie, in few.
static void no_change_is_rarely_taken_for_a_curve(void **state) {
  (void)state;
  GRand *rand = g_rand_new_with_seed(7);
  double attempt[MOST], value[MOST];
  int bent = 0, flat = 0, trainees = 1000;
  for (int i = 0; i < trainees; i++) {
    fill(attempt, value, 10, BT_CURVE_FLAT, (const double[]){70, 0, 0}, 5, rand);
    BtCurve curve = bt_curve(attempt, value, 10, 0, 100);
    bent += curve.preferred >= BT_CURVE_EXPONENTIAL && !curve.tie;
    flat += curve.preferred == BT_CURVE_FLAT;
  }
  print_message("no change preferred %d, a bend alone %d of %d\n", flat, bent, trainees);
  assert_true(flat > 0.75 * trainees);
  assert_true(bent < 0.05 * trainees);
  g_rand_free(rand);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_curve_without_noise_is_found_again),
      cmocka_unit_test(figures_follow_the_unit),
      cmocka_unit_test(few_attempts_have_no_curve),
      cmocka_unit_test(a_flat_curve_is_flat),
      cmocka_unit_test(without_a_bend_there_is_no_plateau),
      cmocka_unit_test(a_step_has_no_rate),
      cmocka_unit_test(a_plateau_out_of_reach_is_said),
      cmocka_unit_test(limits_that_do_not_end_are_not_given),
      cmocka_unit_test(limits_hold_as_often_as_they_say),
      cmocka_unit_test(no_change_is_rarely_taken_for_a_curve),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
