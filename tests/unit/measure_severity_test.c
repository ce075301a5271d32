// SPDX-License-Identifier: GPL-3.0-or-later
//
// Severity: a complete table worked by hand, tables whose truth is known, what cannot be told.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include <benchtally/regression.h>
#include <benchtally/severity.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define NEAR(a, b) assert_true(fabs((a) - (b)) < 1e-9)

// Four trainees by three assessors, in order of trainee.
//   12 10  8 | 10     means of the assessors 13, 12, 8: 11 in all, so severities -2, -1, 3
//   14 14  8 | 12     residual sum of squares by hand, after trainee and assessor:
//   11 11  8 | 10       0 -1  1 | 0  1 -1 | -1 0 1 | 1 0 -1  = 8 on 6 degrees of freedom
//   15 13  8 | 12
static const double complete[] = {12, 10, 8, 14, 14, 8, 11, 11, 8, 15, 13, 8};

static void a_complete_table_by_hand(void **state) {
  (void)state;
  gsize trainee[12], assessor[12];
  for (gsize i = 0; i < 12; i++) {
    trainee[i] = i / 3;
    assessor[i] = i % 3;
  }
  BtJudged judged = {12, complete, trainee, assessor, 4, 3};
  g_autoptr(BtSeverityStudy) told = bt_severity(&judged);
  assert_null(told->why_not);
  assert_false(told->random);
  assert_int_equal(told->groups, 1);
  const double severity[] = {-2, -1, 3};
  double variance = 8.0 / 6; // of a score
  for (gsize a = 0; a < 3; a++) {
    const BtAssessorSeverity *one = &told->assessor[a];
    NEAR(one->raw_mean.value, 11 - severity[a]);
    NEAR(one->severity.value, severity[a]);
    assert_int_equal(one->shared, 4);
    // A mean of four less the mean of three such: variance/4 (1 - 1/3); t of 0.975 on 6: 2.446912.
    NEAR(one->severity.se, sqrt(variance / 4 * 2 / 3));
    assert_true(fabs(one->severity.high - one->severity.value - 2.446912 * one->severity.se) <
                1e-6);
    // The random one is drawn towards 0 by n a / (n a + s^2), a being (MS of assessors - s^2) / 4.
    double between = ((4 * (4 + 1 + 9)) / 2.0 - variance) / 4;
    double kept = 4 * between / (4 * between + variance);
    assert_true(fabs(one->as_random.value - kept * severity[a]) < 1e-8);
  }
  NEAR(told->residual_variance, variance);
  const double mean[] = {10, 12, 10, 12};
  for (gsize s = 0; s < 4; s++) { // everybody met the same assessors: fair as it is
    NEAR(told->subject[s].raw_mean.value, mean[s]);
    NEAR(told->subject[s].fair_mean.value, mean[s]);
    NEAR(told->subject[s].fair_mean.se, sqrt(variance / 3));
  }
}

// Known truth -----------------------------------------------------------------

#define TRAINEES 30
#define MOST     12 // assessors
#define ROUNDS   400

static double normal(GRand *chance) {
  return qnorm(g_rand_double_range(chance, 1e-12, 1 - 1e-12), 0, 1, TRUE, FALSE);
}

typedef struct {
  gsize n, assessors;
  double score[TRAINEES * MOST], severity[MOST], trainee[TRAINEES];
  gsize of_trainee[TRAINEES * MOST], of_assessor[TRAINEES * MOST];
} Truth;

// Every trainee is scored by two or three of the assessors (four or five of many), hit upon by
// chance: the good ones more often by the harsh ones when `unfair`.
static void simulate(Truth *truth, GRand *chance, gsize assessors, bool given, bool unfair) {
  const double known[] = {4, 1, -2, -3};
  truth->n = 0;
  truth->assessors = assessors;
  for (gsize a = 0; a < assessors; a++)
    truth->severity[a] = given ? known[a % 4] : 3 * normal(chance);
  for (gsize t = 0; t < TRAINEES; t++) {
    truth->trainee[t] = 60 + 8 * normal(chance);
    gsize times = (assessors < MOST ? 2 : 4) + (gsize)g_rand_int_range(chance, 0, 2);
    gsize start = unfair && truth->trainee[t] > 60 ? 0 : (gsize)g_rand_int(chance) % assessors;
    for (gsize i = 0; i < times; i++) {
      gsize assessor = (start + i) % assessors;
      truth->of_trainee[truth->n] = t;
      truth->of_assessor[truth->n] = assessor;
      truth->score[truth->n++] = truth->trainee[t] - truth->severity[assessor] + 4 * normal(chance);
    }
  }
}

static BtSeverityStudy *judge(const Truth *truth) {
  BtJudged judged = {truth->n,           truth->score, truth->of_trainee,
                     truth->of_assessor, TRAINEES,     truth->assessors};
  return bt_severity(&judged);
}

static bool covers(const BtEstimate *estimate, double truth) {
  assert_null(estimate->why_not);
  assert_true(estimate->has_limits);
  return estimate->low <= truth && truth <= estimate->high;
}

// As many hits of ROUNDS as limits of `level` give, but for a chance of one in 10,000 either way.
static void assert_level(int hits, double level, const char *what) {
  print_message("%s: %d of %d\n", what, hits, ROUNDS);
  assert_in_range(hits, (int)qbinom(1e-4, ROUNDS, level, TRUE, FALSE),
                  (int)qbinom(1e-4, ROUNDS, level, FALSE, FALSE));
}

static void limits_hold_the_severities_of_few(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(20260101);
  int hits[4] = {0}, fair = 0, raw_nearer = 0;
  for (int round = 0; round < ROUNDS; round++) {
    Truth truth;
    simulate(&truth, chance, 4, true, true);
    g_autoptr(BtSeverityStudy) told = judge(&truth);
    assert_false(told->random);
    for (gsize a = 0; a < 4; a++) // the four add up to 0
      hits[a] += covers(&told->assessor[a].severity, truth.severity[a]);
    const BtFairMean *one = &told->subject[round % TRAINEES];
    double is = truth.trainee[round % TRAINEES];
    fair += covers(&one->fair_mean, is);
    raw_nearer += fabs(one->raw_mean.value - is) < fabs(one->fair_mean.value - is);
  }
  for (gsize a = 0; a < 4; a++)
    assert_level(hits[a], BT_LEVEL, "severity of one of four");
  assert_level(fair, BT_LEVEL, "fair mean");
  assert_true(raw_nearer < ROUNDS / 2); // taking severity out does help
}

static void limits_hold_the_severities_of_many(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(20260102);
  int hits = 0, fair = 0, none = 0;
  for (int round = 0; round < ROUNDS; round++) {
    Truth truth;
    simulate(&truth, chance, MOST, false, false);
    g_autoptr(BtSeverityStudy) told = judge(&truth);
    assert_true(told->random);
    if (told->assessor_variance == 0) { // chance may hide what they differ by
      none++;
      continue;
    }
    hits += covers(&told->assessor[round % MOST].severity, truth.severity[round % MOST]);
    fair += covers(&told->subject[round % TRAINEES].fair_mean, truth.trainee[round % TRAINEES]);
  }
  print_message("no difference seen: %d of %d\n", none, ROUNDS);
  assert_in_range(none, 0, ROUNDS / 50);
  assert_level(hits, BT_LEVEL, "severity of one of twelve");
  assert_level(fair, BT_LEVEL, "fair mean");
}

static void order_and_names_do_not_matter(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(7);
  Truth truth, turned;
  simulate(&truth, chance, 5, false, false);
  turned = truth;
  for (gsize i = 0; i < truth.n; i++) {
    turned.score[i] = truth.score[truth.n - 1 - i] + 100;
    turned.of_trainee[i] = TRAINEES - 1 - truth.of_trainee[truth.n - 1 - i];
    turned.of_assessor[i] = 4 - truth.of_assessor[truth.n - 1 - i];
  }
  g_autoptr(BtSeverityStudy) one = judge(&truth);
  g_autoptr(BtSeverityStudy) other = judge(&turned);
  for (gsize a = 0; a < 5; a++) {
    const BtAssessorSeverity *x = &one->assessor[a], *y = &other->assessor[4 - a];
    assert_true(fabs(x->as_fixed.value - y->as_fixed.value) < 1e-6);
    assert_true(fabs(x->as_random.value - y->as_random.value) < 1e-6);
    assert_true(fabs(x->severity.se - y->severity.se) < 1e-6);
  }
  for (gsize t = 0; t < TRAINEES; t++)
    assert_true(fabs(one->subject[t].fair_mean.value + 100 -
                     other->subject[TRAINEES - 1 - t].fair_mean.value) < 1e-6);
}

// The same by least squares on columns written out: one a trainee, and one an assessor but the
// last, who is the others' sum turned round, so that the assessors' effects add up to 0.
static void the_fixed_ones_are_those_of_least_squares(void **state) {
  (void)state;
  enum { ASSESSORS = 4, COLUMNS = TRAINEES + ASSESSORS - 1 };
  g_autoptr(GRand) chance = g_rand_new_with_seed(17);
  Truth truth;
  simulate(&truth, chance, ASSESSORS, true, false);
  g_autofree double *x = g_new0(double, truth.n *COLUMNS);
  for (gsize i = 0; i < truth.n; i++) {
    double *row = &x[i * COLUMNS];
    row[truth.of_trainee[i]] = 1;
    for (gsize a = 0; a < ASSESSORS - 1; a++)
      row[TRAINEES + a] = truth.of_assessor[i] == ASSESSORS - 1 ? -1 : truth.of_assessor[i] == a;
  }
  g_autoptr(BtRegression) fit = bt_regression(truth.score, x, truth.n, COLUMNS, true);
  assert_null(fit->why_not);
  g_autoptr(BtSeverityStudy) told = judge(&truth);
  for (gsize a = 0; a < ASSESSORS - 1; a++) {
    NEAR(told->assessor[a].as_fixed.value, -fit->b[TRAINEES + a].value);
    NEAR(told->assessor[a].as_fixed.se, fit->b[TRAINEES + a].se);
    NEAR(told->assessor[a].as_fixed.low, -fit->b[TRAINEES + a].high);
  }
  for (gsize t = 0; t < TRAINEES; t++) {
    NEAR(told->subject[t].fair_mean.value, fit->b[t].value);
    NEAR(told->subject[t].fair_mean.se, fit->b[t].se);
  }
}

// What cannot be told ---------------------------------------------------------

static void the_figures_are_the_same(const BtEstimate *one, const BtEstimate *other) {
  assert_null(one->why_not);
  assert_null(other->why_not);
  assert_true(one->value == other->value && one->se == other->se);
  assert_true(one->low == other->low && one->high == other->high);
}

// The complete table with two assessors (3 and 4) and two trainees (4 and 5) of an island beside
// it, mixed among its scores.
static void the_largest_group_is_estimated_as_when_alone(void **state) {
  (void)state;
  const double island[] = {50, 60, 55, 71};
  double score[16];
  gsize trainee[16], assessor[16];
  for (gsize i = 0; i < 16; i++) {
    gsize at = i - i / 4 - 1; // every fourth, the first included, is the island's
    bool apart = i % 4 == 0;
    score[i] = apart ? island[i / 4] : complete[at];
    trainee[i] = apart ? 4 + i / 8 : at / 3;
    assessor[i] = apart ? 3 + i / 4 % 2 : at % 3;
  }
  BtJudged judged = {16, score, trainee, assessor, 6, 5};
  g_autoptr(BtSeverityStudy) told = bt_severity(&judged);
  gsize trainee_alone[12], assessor_alone[12];
  for (gsize i = 0; i < 12; i++) {
    trainee_alone[i] = i / 3;
    assessor_alone[i] = i % 3;
  }
  BtJudged alone = {12, complete, trainee_alone, assessor_alone, 4, 3};
  g_autoptr(BtSeverityStudy) same = bt_severity(&alone);
  assert_null(told->why_not);
  assert_int_equal(told->groups, 2);
  assert_int_equal(told->left_out, 2);
  assert_int_equal(same->left_out, 0);
  for (gsize a = 0; a < 3; a++) {
    assert_false(told->assessor[a].left_out);
    the_figures_are_the_same(&told->assessor[a].severity, &same->assessor[a].severity);
    the_figures_are_the_same(&told->assessor[a].as_random, &same->assessor[a].as_random);
  }
  for (gsize s = 0; s < 4; s++)
    the_figures_are_the_same(&told->subject[s].fair_mean, &same->subject[s].fair_mean);
  for (gsize a = 3; a < 5; a++) {
    assert_true(told->assessor[a].left_out);
    assert_string_equal(told->assessor[a].severity.why_not,
                        "scored no session that the others scored");
    assert_string_equal(told->assessor[a].as_random.why_not,
                        "scored no session that the others scored");
    assert_string_equal(told->subject[a + 1].fair_mean.why_not,
                        "its assessors scored no session that the others scored");
  }
  NEAR(told->assessor[3].raw_mean.value, 52.5);
}

static void of_equal_groups_the_first_in_the_scores_is_compared(void **state) {
  (void)state;
  double score[] = {20, 22, 23, 21, 10, 12, 9, 13, 30, 31, 32, 33, 34};
  gsize trainee[] = {2, 2, 3, 3, 0, 0, 1, 1, 4, 5, 6, 7, 8};
  gsize assessor[] = {1, 4, 1, 4, 0, 3, 0, 3, 5, 5, 5, 5, 5};
  BtJudged judged = {13, score, trainee, assessor, 10, 6};
  g_autoptr(BtSeverityStudy) told = bt_severity(&judged);
  assert_null(told->why_not); // the one with the most scores shares none: no group to compare
  assert_int_equal(told->groups, 3);
  assert_int_equal(told->left_out, 3);
  assert_int_equal(told->assessor[0].group, told->assessor[3].group);
  assert_int_equal(told->assessor[1].group, told->assessor[4].group);
  assert_int_not_equal(told->assessor[0].group, told->assessor[1].group);
  assert_int_not_equal(told->assessor[5].group, told->assessor[1].group);
  assert_int_equal(told->assessor[5].shared, 0);
  NEAR(told->assessor[1].severity.value, 0); // 2 less, 2 more
  NEAR(told->subject[2].fair_mean.value, 21);
  assert_true(told->assessor[0].left_out && told->assessor[3].left_out);
  assert_true(told->assessor[5].left_out);
  assert_false(told->assessor[2].left_out); // has no scores
  assert_string_equal(told->assessor[2].severity.why_not, "no score was given");
  assert_string_equal(told->subject[9].fair_mean.why_not, "no score was given");
  NEAR(told->assessor[0].raw_mean.value, 9.5);
  NEAR(told->subject[3].raw_mean.value, 22);
}

static void assert_why(gsize n, const double *score, const gsize *trainee, const gsize *assessor,
                       const char *why) {
  BtJudged judged = {n, score, trainee, assessor, 4, 3};
  g_autoptr(BtSeverityStudy) told = bt_severity(&judged);
  assert_non_null(told->why_not);
  assert_string_equal(told->why_not, why);
  for (gsize a = 0; a < 3; a++)
    assert_non_null(told->assessor[a].severity.why_not);
  for (gsize s = 0; s < 4; s++)
    assert_non_null(told->subject[s].fair_mean.why_not);
}

static void what_cannot_be_told_says_why(void **state) {
  (void)state;
  gsize trainee[] = {0, 0, 1, 1, 2, 2}, assessor[] = {0, 1, 0, 1, 0, 1};
  gsize same[] = {0, 0, 0, 0, 0, 0}, chain[] = {0, 1, 1, 2, 2, 3}, pairs[] = {0, 0, 0, 1, 1, 1};
  double score[] = {3, 4, 5, 7, 6, 9}, flat[] = {5, 5, 5, 5, 5, 5}, apart[] = {3, 5, 4, 6, 7, 9};
  assert_why(0, NULL, NULL, NULL, "no score was given");
  assert_why(1, score, trainee, assessor, "there is only one assessor");
  assert_why(6, score, trainee, same, "there is only one assessor");
  assert_why(6, score, same, assessor, "there is only one trainee");
  assert_why(4, score, chain, pairs, "assessors fall into groups that share no trainee");
  gsize once[] = {0, 0, 1, 2}, meet[] = {0, 1, 2, 2}; // the two who meet do so once
  assert_why(4, score, once, meet, "assessors share too few trainees to tell severity from chance");
  gsize linked[] = {0, 1, 1, 2}, by[] = {0, 0, 1, 1}; // one trainee is all they share
  assert_why(4, score, linked, by, "assessors share too few trainees to tell severity from chance");
  assert_why(6, flat, trainee, assessor, "all values are the same");
  assert_why(6, apart, trainee, assessor, // always two points apart
             "the values leave nothing to chance: there is no error to measure against");
}

static void assessors_who_do_not_differ_have_no_predicted_severity(void **state) {
  (void)state;
  double score[24];
  gsize trainee[24], assessor[24];
  for (gsize i = 0; i < 24; i++) { // a Latin pattern: every assessor's mean is the same
    trainee[i] = i / 6;
    assessor[i] = i % 6;
    score[i] = 10 + (double)(i / 6) + (double)((i / 6 + i % 6) % 4 == 0 ? 3 : 0);
  }
  for (gsize a = 0; a < 6; a++)
    score[a] += 0.5 - (double)(a % 2);
  BtJudged judged = {24, score, trainee, assessor, 4, 6};
  g_autoptr(BtSeverityStudy) told = bt_severity(&judged);
  assert_null(told->why_not);
  assert_true(told->random && told->assessor_variance == 0);
  for (gsize a = 0; a < 6; a++) {
    assert_true(told->assessor[a].as_random.value == 0);
    assert_false(told->assessor[a].as_random.has_limits);
    assert_true(told->assessor[a].as_fixed.has_limits);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_complete_table_by_hand),
      cmocka_unit_test(limits_hold_the_severities_of_few),
      cmocka_unit_test(limits_hold_the_severities_of_many),
      cmocka_unit_test(the_fixed_ones_are_those_of_least_squares),
      cmocka_unit_test(order_and_names_do_not_matter),
      cmocka_unit_test(the_largest_group_is_estimated_as_when_alone),
      cmocka_unit_test(of_equal_groups_the_first_in_the_scores_is_compared),
      cmocka_unit_test(what_cannot_be_told_says_why),
      cmocka_unit_test(assessors_who_do_not_differ_have_no_predicted_severity),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
