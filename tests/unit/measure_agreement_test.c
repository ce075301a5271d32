// SPDX-License-Identifier: GPL-3.0-or-later
//
// Agreement: what must hold whatever the table, and tables that hold little.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include <benchtally/agreement.h>

#define MISSING  BT_MISSING
#define ROUNDS   200
#define SUBJECTS 30
#define RATERS   5

static void near_to(double value, double wanted) {
  if (!(fabs(value - wanted) <= 1e-10 * MAX(1, fabs(wanted))))
    fail_msg("%.17g, expected %.17g", value, wanted);
}

// Ratings 1..levels around a value of the subject's own, some of them missing.
static void random_ratings(GRand *dice, double *cell, gsize subjects, gsize raters, int levels,
                           double missing) {
  for (gsize i = 0; i < subjects; i++) {
    int own = g_rand_int_range(dice, 1, levels + 1);
    for (gsize r = 0; r < raters; r++) {
      int value = g_rand_double(dice) < 0.6 ? own : g_rand_int_range(dice, 1, levels + 1);
      cell[i * raters + r] = g_rand_double(dice) < missing ? MISSING : (double)value;
    }
  }
}

static void same_estimate(const BtEstimate *a, const BtEstimate *b) {
  assert_true(!a->why_not == !b->why_not);
  near_to(a->value, b->value);
  near_to(a->se, b->se);
  near_to(a->low, b->low);
  near_to(a->high, b->high);
}

// Identities ------------------------------------------------------------------

static void the_order_of_raters_and_subjects_is_nothing(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(1);
  for (int round = 0; round < ROUNDS; round++) {
    double cell[SUBJECTS * RATERS], turned[SUBJECTS * RATERS];
    random_ratings(dice, cell, SUBJECTS, RATERS, 4, 0.2);
    for (gsize i = 0; i < SUBJECTS; i++) {
      for (gsize r = 0; r < RATERS; r++)
        turned[(SUBJECTS - 1 - i) * RATERS + (r + 2) % RATERS] = cell[i * RATERS + r];
    }
    BtRatings a = {SUBJECTS, RATERS, cell}, b = {SUBJECTS, RATERS, turned};
    BtManyRaters x = bt_many_raters(&a, 0, NULL), y = bt_many_raters(&b, 0, NULL);
    same_estimate(&x.fleiss, &y.fleiss);
    same_estimate(&x.ac1, &y.ac1);
    same_estimate(&x.brennan_prediger, &y.brennan_prediger);
    same_estimate(&x.agreed, &y.agreed);
    for (int scale = 0; scale <= BT_RATIO; scale++) {
      BtEstimate one = bt_alpha(&a, (BtScale)scale, 0, 1);
      BtEstimate other = bt_alpha(&b, (BtScale)scale, 0, 1);
      same_estimate(&one, &other);
    }
    BtIcc icc = bt_icc(&a), icc_turned = bt_icc(&b);
    for (int f = 0; f < BT_ICC_FORMS; f++)
      same_estimate(&icc.form[f], &icc_turned.form[f]);
  }
  g_rand_free(dice);
}

// Without holes, nominal alpha and Fleiss' kappa differ by (n - 1) / n of what is missing to 1
// (Krippendorff 2004, Content Analysis, 11.3.4, for Scott's pi).
static void alpha_is_fleiss_with_small_samples_allowed_for(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(2);
  for (int round = 0; round < ROUNDS; round++) {
    double cell[SUBJECTS * RATERS], n = SUBJECTS * RATERS;
    random_ratings(dice, cell, SUBJECTS, RATERS, 3, 0);
    BtRatings ratings = {SUBJECTS, RATERS, cell};
    double fleiss = bt_many_raters(&ratings, 0, NULL).fleiss.value;
    double alpha = bt_alpha(&ratings, BT_NOMINAL, 0, 1).value;
    near_to(1 - alpha, (1 - fleiss) * (n - 1) / n);
  }
  g_rand_free(dice);
}

// Two categories: all four scales of alpha but the ratio are one; and so are all weights of kappa.
static void two_categories_have_one_distance(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(3);
  for (int round = 0; round < ROUNDS; round++) {
    double cell[SUBJECTS * 2];
    random_ratings(dice, cell, SUBJECTS, 2, 2, 0.1);
    BtRatings ratings = {SUBJECTS, 2, cell};
    double nominal = bt_alpha(&ratings, BT_NOMINAL, 0, 1).value;
    near_to(bt_alpha(&ratings, BT_ORDINAL, 0, 1).value, nominal);
    near_to(bt_alpha(&ratings, BT_INTERVAL, 0, 1).value, nominal);
    g_autoptr(BtCrossTable) table = bt_cross_table(&ratings, 0, 1);
    double weight[4];
    bt_weights(BT_WEIGHTS_QUADRATIC, table->value, 2, weight);
    BtKappa plain = bt_kappa(table->count, 2, NULL);
    BtKappa weighted = bt_kappa(table->count, 2, weight);
    same_estimate(&plain.estimate, &weighted.estimate);
    near_to(plain.null_se, weighted.null_se);
  }
  g_rand_free(dice);
}

// Alpha of interval ratings does not know the unit or the zero; ratio does not know the unit;
// ordinal knows neither, nor any bend that keeps the order.
static void alpha_knows_only_what_its_scale_knows(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(4);
  for (int round = 0; round < ROUNDS; round++) {
    double cell[SUBJECTS * RATERS], moved[SUBJECTS * RATERS], grown[SUBJECTS * RATERS];
    double bent[SUBJECTS * RATERS];
    random_ratings(dice, cell, SUBJECTS, RATERS, 6, 0.3);
    for (gsize i = 0; i < SUBJECTS * RATERS; i++) {
      moved[i] = 1e6 + cell[i] * 0.25;
      grown[i] = cell[i] * 12.5;
      bent[i] = exp(cell[i]);
    }
    BtRatings a = {SUBJECTS, RATERS, cell}, b = {SUBJECTS, RATERS, moved};
    BtRatings c = {SUBJECTS, RATERS, grown}, d = {SUBJECTS, RATERS, bent};
    near_to(bt_alpha(&b, BT_INTERVAL, 0, 1).value, bt_alpha(&a, BT_INTERVAL, 0, 1).value);
    near_to(bt_alpha(&c, BT_RATIO, 0, 1).value, bt_alpha(&a, BT_RATIO, 0, 1).value);
    near_to(bt_alpha(&d, BT_ORDINAL, 0, 1).value, bt_alpha(&a, BT_ORDINAL, 0, 1).value);
  }
  g_rand_free(dice);
}

// Mean squares of a complete table add up; consistency does not know a rater's severity.
static void intraclass_correlations_hang_together(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(5);
  for (int round = 0; round < ROUNDS; round++) {
    double cell[SUBJECTS * RATERS], harder[SUBJECTS * RATERS];
    random_ratings(dice, cell, SUBJECTS, RATERS, 9, 0);
    for (gsize i = 0; i < SUBJECTS * RATERS; i++)
      harder[i] = cell[i] - 3.25 * (double)(i % RATERS);
    BtRatings a = {SUBJECTS, RATERS, cell}, b = {SUBJECTS, RATERS, harder};
    BtIcc icc = bt_icc(&a), shifted = bt_icc(&b);
    near_to(SUBJECTS * (RATERS - 1) * icc.within,
            (RATERS - 1) * icc.raters_ms + (SUBJECTS - 1) * (RATERS - 1) * icc.error);
    same_estimate(&icc.form[BT_ICC_3], &shifted.form[BT_ICC_3]);
    assert_true(shifted.form[BT_ICC_2].value < icc.form[BT_ICC_2].value);
    double one = icc.form[BT_ICC_3].value;
    near_to(icc.form[BT_ICC_3K].value, RATERS * one / (1 + (RATERS - 1) * one)); // Spearman-Brown
  }
  g_rand_free(dice);
}

static void exchanging_the_two_turns_the_bias(void **state) {
  (void)state;
  double a[] = {70, 80, 90, MISSING, 60.5}, b[] = {72, 79, 85, 90, MISSING};
  BtBlandAltman one = bt_bland_altman(a, b, 5, BT_LIMITS_MULTIPLIER);
  BtBlandAltman other = bt_bland_altman(b, a, 5, BT_LIMITS_MULTIPLIER);
  assert_int_equal(one.bias.n, 3);
  near_to(one.bias.value, (-2 + 1 + 5) / 3.0);
  near_to(one.sd, sqrt(37.0 / 3)); // off the mean 4/3 by -10/3, -1/3, 11/3
  near_to(other.bias.value, -one.bias.value);
  near_to(other.lower.value, -one.upper.value);
  near_to(other.upper.high, -one.lower.low);
}

// Two subjects a cluster that say the same: the error is that of half as many subjects.
static void clusters_count_once(void **state) {
  (void)state;
  double cell[] = {1, 1, 0, 1, 0, 0, 1, 0, 1, 1, 1, 1}, twice[24];
  gsize cluster[12];
  for (gsize i = 0; i < 12; i++) {
    twice[2 * i] = cell[2 * (i / 2)];
    twice[2 * i + 1] = cell[2 * (i / 2) + 1];
    cluster[i] = i / 2;
  }
  BtRatings once = {6, 2, cell}, doubled = {12, 2, twice};
  BtManyRaters a = bt_many_raters(&once, 0, NULL), b = bt_many_raters(&doubled, 0, cluster);
  same_estimate(&a.fleiss, &b.fleiss);
  same_estimate(&a.ac1, &b.ac1);
  same_estimate(&a.agreed, &b.agreed);
}

// Tables that hold little -----------------------------------------------------

static void nothing_gives_reasons_and_no_numbers(void **state) {
  (void)state;
  double one[] = {1}, holes[] = {1, MISSING, MISSING, 0};
  const BtRatings little[] = {{0, 0, NULL}, {0, 3, NULL}, {1, 1, one}, {2, 2, holes}};
  for (gsize i = 0; i < G_N_ELEMENTS(little); i++) {
    BtManyRaters many = bt_many_raters(&little[i], 2, NULL);
    assert_non_null(many.agreed.why_not);
    assert_non_null(many.fleiss.why_not);
    assert_non_null(many.ac1.why_not);
    assert_non_null(many.brennan_prediger.why_not);
    assert_non_null(bt_alpha(&little[i], BT_ORDINAL, 100, 1).why_not);
    assert_non_null(bt_kendall_w(&little[i]).w.why_not);
    assert_non_null(bt_fleiss_test(&little[i]).why_not);
    assert_non_null(bt_icc(&little[i]).form[BT_ICC_2].why_not);
    BtAgreement agreement = bt_agreement(&little[i], 2, 1, NULL);
    assert_non_null(agreement.agreed.why_not);
    assert_non_null(agreement.kappa.why_not);
    assert_non_null(agreement.ac1.why_not);
  }
  assert_non_null(bt_bland_altman(NULL, NULL, 0, 2).bias.why_not);
  BtBlandAltman single = bt_bland_altman(one, one, 1, 2);
  assert_null(single.bias.why_not);
  assert_false(single.bias.has_limits);
  assert_non_null(single.upper.why_not);
  // Two subjects, or differences that are all the same, have a bias and say nothing of its limits.
  double high[] = {80.4, 71.3, 90.1}, lower[] = {79.4, 70.3, 89.1}, other[] = {79, 70.3, 89.1};
  for (gsize n = 2; n <= 3; n++) {
    BtBlandAltman alike = bt_bland_altman(high, lower, n, 2);
    near_to(alike.bias.value, 1);
    assert_false(alike.bias.has_limits);
    assert_string_equal(alike.lower.why_not, n == 2 ? "fewer than three subjects have both values"
                                                    : "all differences are the same");
  }
  assert_non_null(bt_bland_altman(high, other, 2, 2).upper.why_not);
  assert_null(bt_bland_altman(high, other, 3, 2).upper.why_not);
  BtKappa empty = bt_kappa((const double[]){0, 0, 0, 0}, 2, NULL);
  assert_string_equal(empty.estimate.why_not, "no subject was rated by two assessors");
}

// All the same: kappa knows nothing, AC1 knows that there were two categories.
static void one_category_alone(void **state) {
  (void)state;
  double cell[] = {1, 1, 1, 1, 1, 1};
  BtRatings ratings = {3, 2, cell};
  BtAgreement agreement = bt_agreement(&ratings, 2, 1, NULL);
  near_to(agreement.agreed.value, 1);
  assert_true(agreement.agreed.low < 0.5); // Wilson: three say little
  assert_string_equal(agreement.kappa.why_not, "all ratings are the same");
  near_to(agreement.ac1.value, 1);
  assert_false(agreement.ac1.has_limits);
  near_to(agreement.prevalence, 1);
  assert_non_null(bt_alpha(&ratings, BT_NOMINAL, 50, 1).why_not);
  BtIcc icc = bt_icc(&ratings);
  for (int f = 0; f < BT_ICC_FORMS; f++)
    assert_non_null(icc.form[f].why_not);
  assert_non_null(bt_kendall_w(&ratings).w.why_not);
}

static void agreement_without_exception(void **state) {
  (void)state;
  double cell[] = {1, 1, 0, 0, 1, 1, 0, 0};
  BtRatings ratings = {4, 2, cell};
  BtAgreement agreement = bt_agreement(&ratings, 2, 1, NULL);
  near_to(agreement.kappa.value, 1);
  assert_false(agreement.kappa.has_se || agreement.kappa.has_limits);
  BtEstimate alpha = bt_alpha(&ratings, BT_NOMINAL, 50, 1);
  near_to(alpha.value, 1);
  assert_false(alpha.has_limits);
  BtIcc icc = bt_icc(&ratings);
  near_to(icc.form[BT_ICC_2].value, 1);
  near_to(icc.form[BT_ICC_1K].value, 1);
  assert_false(icc.form[BT_ICC_2].has_limits);
}

// Scores of assessors who never agree on who is better: a correlation below 0 is told as it is.
static void a_correlation_below_zero(void **state) {
  (void)state;
  double cell[] = {1, 3, 2, 2, 3, 1.5};
  BtRatings ratings = {3, 2, cell};
  BtIcc icc = bt_icc(&ratings);
  assert_true(icc.form[BT_ICC_3].value < 0);
  assert_true(icc.subject_variance < 0);
}

// Subjects that do not differ at all while the raters do: nothing is told apart.
static void raters_differ_and_subjects_do_not(void **state) {
  (void)state;
  double cell[] = {0.1, 0.3, 0.1, 0.3, 0.1, 0.3};
  BtRatings ratings = {3, 2, cell};
  BtIcc icc = bt_icc(&ratings);
  near_to(icc.form[BT_ICC_2].value, 0);
  assert_string_equal(icc.form[BT_ICC_3].why_not, "neither subjects nor assessors differ");
}

static void one_subject_has_a_share_and_no_more(void **state) {
  (void)state;
  double cell[] = {1, 0, 1, MISSING};
  BtRatings ratings = {2, 2, cell};
  BtAgreement agreement = bt_agreement(&ratings, 2, 1, NULL);
  near_to(agreement.agreed.value, 0);
  assert_int_equal(agreement.agreed.n, 1);
  assert_non_null(agreement.kappa.why_not);
  assert_non_null(agreement.ac1.why_not);
}

static void incomplete_subjects_are_counted_out(void **state) {
  (void)state;
  double cell[] = {9, 2, 5, 8, 6, 1, 3, 2, 8, 4, MISSING, 8, 7, 1, 2, 6, 10, 5, 6, 9};
  double complete[] = {9, 2, 5, 8, 6, 1, 3, 2, 7, 1, 2, 6, 10, 5, 6, 9};
  BtRatings with_hole = {5, 4, cell}, without = {4, 4, complete};
  BtIcc a = bt_icc(&with_hole), b = bt_icc(&without);
  assert_int_equal(a.left_out, 1);
  assert_int_equal(a.subjects, 4);
  same_estimate(&a.form[BT_ICC_2], &b.form[BT_ICC_2]);
  assert_int_equal(bt_kendall_w(&with_hole).left_out, 1);
}

// Among three assessors of whom one never shares a subject, two rate: kappa is Cohen's.
static void two_who_share_are_two(void **state) {
  (void)state;
  double cell[] = {1, 1, MISSING, 0, 1, MISSING, 0, 0, MISSING, MISSING, MISSING, 1, 1, 0, MISSING};
  double pair[] = {1, 1, 0, 1, 0, 0, 1, 0};
  BtRatings three = {5, 3, cell}, two = {4, 2, pair};
  BtAgreement agreement = bt_agreement(&three, 2, 1, NULL);
  assert_int_equal(agreement.raters, 2);
  assert_true(agreement.is_cohen);
  BtAgreement alone = bt_agreement(&two, 2, 1, NULL);
  same_estimate(&agreement.kappa, &alone.kappa);
}

static void twelve_assessors_and_one_more_category(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(12);
  double cell[SUBJECTS * 12];
  random_ratings(dice, cell, SUBJECTS, 12, 5, 0.1);
  BtRatings ratings = {SUBJECTS, 12, cell};
  BtAgreement agreement = bt_agreement(&ratings, 0, 5, NULL);
  assert_int_equal(agreement.raters, 12);
  assert_false(agreement.is_cohen);
  assert_true(agreement.kappa.has_limits);
  BtManyRaters five = bt_many_raters(&ratings, 0, NULL), six = bt_many_raters(&ratings, 6, NULL);
  near_to(five.fleiss.value, six.fleiss.value); // an unused category changes no kappa of Fleiss
  assert_true(six.brennan_prediger.value > five.brennan_prediger.value);
  g_rand_free(dice);
}

// The bootstrap ---------------------------------------------------------------

static void limits_of_alpha_repeat_with_their_seed(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(8);
  double cell[SUBJECTS * RATERS];
  random_ratings(dice, cell, SUBJECTS, RATERS, 5, 0.2);
  g_rand_free(dice);
  BtRatings ratings = {SUBJECTS, RATERS, cell};
  for (int scale = 0; scale <= BT_RATIO; scale++) {
    BtEstimate a = bt_alpha(&ratings, (BtScale)scale, 400, 17);
    BtEstimate b = bt_alpha(&ratings, (BtScale)scale, 400, 17);
    BtEstimate c = bt_alpha(&ratings, (BtScale)scale, 400, 18);
    assert_true(a.has_limits && a.low < a.value && a.value < a.high);
    assert_true(a.low == b.low && a.high == b.high);
    assert_true(a.low != c.low);
    assert_true(fabs(a.low - c.low) < 0.1 && fabs(a.high - c.high) < 0.1);
  }
}

// The large-sample error of Fleiss' kappa, and the limits of alpha that need no formula, tell the
// same for many subjects.
static void two_ways_to_limits_agree(void **state) {
  (void)state;
  enum { MANY = 600 };
  GRand *dice = g_rand_new_with_seed(9);
  g_autofree double *cell = g_new(double, MANY * 3);
  random_ratings(dice, cell, MANY, 3, 3, 0);
  g_rand_free(dice);
  BtRatings ratings = {MANY, 3, cell};
  BtEstimate formula = bt_many_raters(&ratings, 0, NULL).fleiss;
  BtEstimate drawn = bt_alpha(&ratings, BT_NOMINAL, 2000, 4);
  double width = formula.high - formula.low;
  assert_true(fabs((drawn.high - drawn.low) - width) < 0.08 * width);
}

static void a_ratio_below_zero_is_none(void **state) {
  (void)state;
  double cell[] = {-1, 2, 3, 4};
  BtRatings ratings = {2, 2, cell};
  assert_non_null(bt_alpha(&ratings, BT_RATIO, 0, 1).why_not);
  assert_null(bt_alpha(&ratings, BT_INTERVAL, 0, 1).why_not);
}

// Beside kappa ----------------------------------------------------------------

static void the_paradox_is_named_by_its_parts(void **state) {
  (void)state;
  // Both no 5, both yes 35 of 100; the first says yes 70 times, the second 60.
  BtTwoByTwo of = bt_two_by_two((const double[]){5, 25, 35, 35});
  near_to(of.prevalence, 0.30);
  near_to(of.bias, 0.10);
  near_to(of.pabak, -0.20);
}

static void names_come_back(void **state) {
  (void)state;
  for (int scale = 0; scale <= BT_RATIO; scale++)
    assert_int_equal(bt_scale_from_name(bt_scale_name((BtScale)scale)), scale);
  assert_int_equal(bt_scale_from_name("metric"), -1);
  for (int f = 0; f < BT_ICC_FORMS; f++)
    assert_non_null(bt_icc_name((BtIccForm)f));
}

static void weights_follow_the_values(void **state) {
  (void)state;
  // Nobody gave a 2 or a 4: the distances are those of the scale, not of the places.
  double value[] = {1, 3, 5}, uneven[] = {1, 2, 5}, weight[9];
  bt_weights(BT_WEIGHTS_LINEAR, value, 3, weight);
  near_to(weight[1], 0.5);
  bt_weights(BT_WEIGHTS_LINEAR, uneven, 3, weight);
  near_to(weight[1], 0.75);
  near_to(weight[5], 0.25);
  bt_weights(BT_WEIGHTS_QUADRATIC, uneven, 3, weight);
  near_to(weight[5], 1 - 0.75 * 0.75);
  bt_weights(BT_WEIGHTS_LINEAR, value, 1, weight);
  near_to(weight[0], 1);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_order_of_raters_and_subjects_is_nothing),
      cmocka_unit_test(alpha_is_fleiss_with_small_samples_allowed_for),
      cmocka_unit_test(two_categories_have_one_distance),
      cmocka_unit_test(alpha_knows_only_what_its_scale_knows),
      cmocka_unit_test(intraclass_correlations_hang_together),
      cmocka_unit_test(exchanging_the_two_turns_the_bias),
      cmocka_unit_test(clusters_count_once),
      cmocka_unit_test(nothing_gives_reasons_and_no_numbers),
      cmocka_unit_test(one_category_alone),
      cmocka_unit_test(agreement_without_exception),
      cmocka_unit_test(a_correlation_below_zero),
      cmocka_unit_test(raters_differ_and_subjects_do_not),
      cmocka_unit_test(one_subject_has_a_share_and_no_more),
      cmocka_unit_test(incomplete_subjects_are_counted_out),
      cmocka_unit_test(two_who_share_are_two),
      cmocka_unit_test(twelve_assessors_and_one_more_category),
      cmocka_unit_test(limits_of_alpha_repeat_with_their_seed),
      cmocka_unit_test(two_ways_to_limits_agree),
      cmocka_unit_test(a_ratio_below_zero_is_none),
      cmocka_unit_test(the_paradox_is_named_by_its_parts),
      cmocka_unit_test(names_come_back),
      cmocka_unit_test(weights_follow_the_values),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
