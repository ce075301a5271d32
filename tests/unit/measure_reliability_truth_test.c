// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reliability where the truth is known because it was simulated: components of p x (r:t), complete
// and with holes; the cover of limits; decisions that are taken twice.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include "support/score_list.h"

// A sum over so many simulated studies that misses the truth by this many standard errors is
// wrong: once in 16,000 by chance, and the seeds are fixed.
#define MOST_Z 4.0

// Persons, tasks, and raters of their own in each task; components in the design's order: p, t,
// p x t, r:t, p x (r:t).
enum { PERSONS = 15, TASKS = 4, RATERS = 3, EFFECTS = 5 };
static const double truth[EFFECTS] = {9, 4, 6, 2.25, 16};

static double normal(GRand *random, double variance) {
  return sqrt(variance) * qnorm(g_rand_double_range(random, 1e-12, 1), 0, 1, TRUE, FALSE);
}

// One study; every cell is there with probability `present`.
static BtGStudy *simulate(GRand *random, double present) {
  g_auto(ScoreList) list = score_list_new();
  double task[TASKS], rater[TASKS][RATERS];
  for (int t = 0; t < TASKS; t++) {
    task[t] = normal(random, truth[1]);
    for (int r = 0; r < RATERS; r++)
      rater[t][r] = normal(random, truth[3]);
  }
  for (gsize p = 0; p < PERSONS; p++) {
    double person = normal(random, truth[0]);
    for (gsize t = 0; t < TASKS; t++) {
      double both = 60 + person + task[t] + normal(random, truth[2]);
      for (gsize r = 0; r < RATERS; r++) {
        double score = both + rater[t][r] + normal(random, truth[4]);
        put_score(&list, g_rand_double(random) < present ? score : BT_MISSING, p, r, t);
      }
    }
  }
  return study_of("p x (r:t)", &list);
}

typedef struct {
  int n;
  double sum, squares, se_squares;
} Tally;

static void add(Tally *tally, double value, double se) {
  tally->n++;
  tally->sum += value;
  tally->squares += value * value;
  tally->se_squares += se * se;
}

static double mean_of(const Tally *tally) {
  return tally->sum / tally->n;
}

static double variance_of(const Tally *tally) {
  return (tally->squares - tally->sum * tally->sum / tally->n) / (tally->n - 1);
}

static void expect_unbiased(const Tally *tally, double expected, int effect) {
  double z = (mean_of(tally) - expected) / sqrt(variance_of(tally) / tally->n);
  if (!(fabs(z) < MOST_Z))
    fail_msg("effect %d: mean %.4f of %d, truth %.4f, z %.2f", effect, mean_of(tally), tally->n,
             expected, z);
}

// Mean estimates of so many studies.
static void tally_studies(Tally tally[EFFECTS], int studies, double present, guint seed) {
  GRand *random = g_rand_new_with_seed(seed);
  for (int i = 0; i < studies; i++) {
    g_autoptr(BtGStudy) study = simulate(random, present);
    assert_null(study->why_not);
    assert_true(study->complete == (present >= 1));
    for (int j = 0; j < EFFECTS; j++)
      add(&tally[j], study->effect[j].component.value, study->effect[j].component.se);
  }
  g_rand_free(random);
}

static void complete_studies_are_unbiased_with_the_right_error(void **state) {
  (void)state;
  Tally tally[EFFECTS] = {0};
  tally_studies(tally, 1500, 1, 20261);
  for (int j = 0; j < EFFECTS; j++) {
    expect_unbiased(&tally[j], truth[j], j);
    // The squared standard errors are unbiased too, for the variance of the estimates; of 1500
    // estimates, skewed where few tasks stand behind, that variance is known to a quarter.
    double ratio = tally[j].se_squares / tally[j].n / variance_of(&tally[j]);
    if (!(ratio > 0.75 && ratio < 1.25))
      fail_msg("effect %d: squared errors are %.3f of the variance", j, ratio);
  }
}

static void studies_with_holes_are_unbiased(void **state) {
  (void)state;
  Tally tally[EFFECTS] = {0};
  tally_studies(tally, 1000, 0.7, 20262);
  for (int j = 0; j < EFFECTS; j++)
    expect_unbiased(&tally[j], truth[j], j);
}

// The share of 2000 limits that hold the truth, against 0.95 with its own standard error 0.005.
static void limits_of_alpha_hold_the_truth(void **state) {
  (void)state;
  enum { PERSONS_OF_TEST = 12, ITEMS = 6, TESTS = 2000 };
  GRand *random = g_rand_new_with_seed(20263);
  double alpha = 4 / (4 + 9.0 / ITEMS), cell[PERSONS_OF_TEST * ITEMS];
  int held = 0;
  for (int test = 0; test < TESTS; test++) {
    for (int p = 0; p < PERSONS_OF_TEST; p++) {
      double person = normal(random, 4);
      for (int i = 0; i < ITEMS; i++)
        cell[p * ITEMS + i] = person + i + normal(random, 9);
    }
    g_autofree BtItems *items = bt_items(&(BtRatings){PERSONS_OF_TEST, ITEMS, cell});
    held += items->alpha.low <= alpha && alpha <= items->alpha.high;
  }
  g_rand_free(random);
  if (abs(held - 1900) > MOST_Z * sqrt(TESTS * 0.95 * 0.05))
    fail_msg("the limits hold alpha in %d of %d", held, TESTS);
}

// Satterthwaite's limits are near only: at 95 % they may hold 92 to 99.
static void limits_of_ranking_hold_the_truth(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(20264);
  double error = truth[2] / TASKS + truth[4] / (TASKS * RATERS);
  double ranking = truth[0] / (truth[0] + error);
  int held = 0, given = 0;
  for (int i = 0; i < 1000; i++) {
    g_autoptr(BtGStudy) study = simulate(random, 1);
    BtEstimate found = bt_dstudy_as_scored(study, 0, 0).ranking;
    given += found.has_limits;
    held += found.has_limits && found.low <= ranking && ranking <= found.high;
  }
  g_rand_free(random);
  assert_true(given > 900); // none where a component is below zero
  if (!(held > 0.92 * given && held < 0.99 * given))
    fail_msg("the limits hold E rho^2 in %d of %d", held, given);
}

// Decisions -------------------------------------------------------------------

// Four-parameter beta true scores, binomial errors over 40 items: what Livingston and Lewis take
// for true, so that two forms, taken by many, show how firm decisions are.
enum { TEST_ITEMS = 40, CANDIDATES = 40000, TO_PASS = 26 };

typedef struct {
  double alike, right, pass, not_yet;
} Share;

static double true_score(GRand *random) {
  double place = qbeta(g_rand_double_range(random, 1e-12, 1), 5, 3, TRUE, FALSE);
  return 0.25 + 0.65 * place;
}

static double form(GRand *random, double score) {
  int right = 0;
  for (int i = 0; i < TEST_ITEMS; i++)
    right += g_rand_double(random) < score;
  return right;
}

static Share take_two_forms(double *scores) {
  GRand *random = g_rand_new_with_seed(20265);
  Share share = {0};
  for (int i = 0; i < CANDIDATES; i++) {
    double score = true_score(random);
    scores[i] = form(random, score);
    double again = form(random, score);
    bool passes = scores[i] >= TO_PASS, truly = score * TEST_ITEMS >= TO_PASS;
    share.alike += passes == (again >= TO_PASS);
    share.right += passes == truly;
    share.pass += passes && !truly;
    share.not_yet += !passes && truly;
  }
  g_rand_free(random);
  return share;
}

static void expect_share(const BtEstimate *estimate, double counted) {
  assert_null(estimate->why_not);
  double share = counted / CANDIDATES;
  double error = sqrt(share * (1 - share) / CANDIDATES);
  // Beside the error of the count, that of a beta fitted to the scores of as many.
  if (!(fabs(estimate->value - share) < MOST_Z * error + 0.002))
    fail_msg("%.5f is told, %.5f was counted", estimate->value, share);
}

static void decisions_are_as_firm_as_two_forms_show(void **state) {
  (void)state;
  g_autofree double *scores = g_new(double, CANDIDATES);
  Share share = take_two_forms(scores);
  // The reliability that such a test has: variance of true scores over that of observed ones.
  double mean = 0.25 + 0.65 * 5 / 8, of_true = 0.65 * 0.65 * 15 / (64.0 * 9);
  double of_error = (mean * (1 - mean) - of_true) / TEST_ITEMS;
  double reliability = of_true / (of_true + of_error);
  BtDecision found = bt_decision_beta(scores, CANDIDATES, 0, TEST_ITEMS, TO_PASS, reliability);
  assert_true(fabs(found.effective_length - TEST_ITEMS) < 1);
  assert_null(found.why_two);
  expect_share(&found.consistency, share.alike);
  expect_share(&found.accuracy, share.right);
  expect_share(&found.false_pass, share.pass);
  expect_share(&found.false_not_yet, share.not_yet);
}

static void normal_decisions_are_as_firm_as_two_forms_show(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(20266);
  Share share = {0};
  double reliability = 0.7, z = 0.4;
  for (int i = 0; i < CANDIDATES; i++) {
    double score = normal(random, reliability);
    bool passes = score + normal(random, 1 - reliability) >= z;
    bool again = score + normal(random, 1 - reliability) >= z;
    share.alike += passes == again;
    share.right += passes == (score >= z);
    share.pass += passes && score < z;
    share.not_yet += !passes && score >= z;
  }
  g_rand_free(random);
  BtDecision found = bt_decision_normal(z, reliability, CANDIDATES);
  expect_share(&found.consistency, share.alike);
  expect_share(&found.accuracy, share.right);
  expect_share(&found.false_pass, share.pass);
  expect_share(&found.false_not_yet, share.not_yet);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(complete_studies_are_unbiased_with_the_right_error),
      cmocka_unit_test(studies_with_holes_are_unbiased),
      cmocka_unit_test(limits_of_alpha_hold_the_truth),
      cmocka_unit_test(limits_of_ranking_hold_the_truth),
      cmocka_unit_test(decisions_are_as_firm_as_two_forms_show),
      cmocka_unit_test(normal_decisions_are_as_firm_as_two_forms_show),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
