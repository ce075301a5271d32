// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards from data whose truth is known: limits must hold the truth as often as they say, and
// standard errors must be as large as the marks really scatter. Seeds are fixed; the bounds are
// those that a fair method would miss once in a million runs of the test.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/standard.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define ONCE_IN_A_MILLION 1e-6
// What limits that hold only for many (normal, percentiles) may really reach for a few dozen.
#define FAIR_LEAST 0.92
#define FAIR_MOST  0.98

// What was found over many repetitions.
typedef struct {
  int runs, held;
  double sum, squares, variances; // of the marks; of their stated standard errors, squared
} Found;

static void add(Found *found, const BtEstimate *estimate, double truth) {
  if (estimate->why_not || !estimate->has_limits)
    fail_msg("no limits: %s", estimate->why_not ? estimate->why_not : "bare");
  found->runs++;
  found->held += estimate->low <= truth && truth <= estimate->high;
  found->sum += estimate->value;
  found->squares += estimate->value * estimate->value;
  found->variances += estimate->se * estimate->se;
}

// The limits held the truth between `least` and `most` of the time, but for chance.
static void assert_held(const char *what, const Found *found, double least, double most) {
  double low = qbinom(ONCE_IN_A_MILLION, found->runs, least, TRUE, FALSE);
  double high = qbinom(ONCE_IN_A_MILLION, found->runs, most, FALSE, FALSE);
  if (found->held < low || found->held > high)
    fail_msg("%s: the truth was held %d of %d times, expected %g to %g", what, found->held,
             found->runs, low, high);
}

// The root mean square of the stated errors is the scatter of the marks, to `share` of it.
static void assert_error(const char *what, const Found *found, double share) {
  double n = found->runs, mean = found->sum / n;
  double scatter = sqrt((found->squares - n * mean * mean) / (n - 1));
  double stated = sqrt(found->variances / n);
  if (fabs(stated / scatter - 1) > share)
    fail_msg("%s: stated error %g, scatter %g", what, stated, scatter);
}

static void assert_centre(const char *what, const Found *found, double truth, double tolerance) {
  double mean = found->sum / found->runs;
  if (fabs(mean - truth) > tolerance)
    fail_msg("%s: the mean mark is %g, the truth %g", what, mean, truth);
}

static double normal(GRand *random, double mean, double sd) {
  // Never 0 or 1, where the quantile is infinite.
  return qnorm((g_rand_int(random) + 0.5) / 4294967296.0, mean, sd, TRUE, FALSE);
}

// Judges lean by 5, items are spread by 8 (or fixed), each rating errs by 6.
static void simulate_angoff(GRand *random, bool items_drawn, bool holes, Found *judges,
                            Found *both) {
  enum { ITEMS = 30, JUDGES = 8 };
  double cell[ITEMS * JUDGES], lean[JUDGES], truth = 60;
  for (gsize j = 0; j < JUDGES; j++)
    lean[j] = normal(random, 0, 5);
  for (gsize i = 0; i < ITEMS; i++) {
    double item = items_drawn ? normal(random, 0, 8) : ((double)i - (ITEMS - 1) / 2.0) / 2;
    for (gsize j = 0; j < JUDGES; j++) {
      bool hole = holes && g_rand_double(random) < 0.1;
      cell[i * JUDGES + j] = hole ? BT_MISSING : truth + item + lean[j] + normal(random, 0, 6);
    }
  }
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){ITEMS, JUDGES, cell}, NULL);
  add(judges, &angoff.panel.mean, truth);
  add(both, &angoff.both, truth);
}

static void angoff_over_judges(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(101);
  Found judges = {0}, both = {0};
  for (int i = 0; i < 2000; i++)
    simulate_angoff(random, false, false, &judges, &both);
  assert_held("Angoff, judges", &judges, BT_LEVEL, BT_LEVEL); // exact: Student's t
  assert_error("Angoff, judges", &judges, 0.08);
  g_rand_free(random);
}

static void angoff_over_judges_with_holes(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(102);
  Found judges = {0}, both = {0};
  for (int i = 0; i < 1500; i++)
    simulate_angoff(random, false, true, &judges, &both);
  assert_held("Angoff with holes", &judges, FAIR_LEAST, FAIR_MOST);
  assert_error("Angoff with holes", &judges, 0.1);
  g_rand_free(random);
}

static void angoff_over_judges_and_items(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(103);
  Found judges = {0}, both = {0};
  for (int i = 0; i < 1500; i++)
    simulate_angoff(random, true, false, &judges, &both);
  assert_held("Angoff, judges and items", &both, 0.90, FAIR_MOST); // normal limits, 8 judges
  assert_error("Angoff, judges and items", &both, 0.08);
  // Judges alone tell too little once other items might have been set.
  assert_true(judges.held < both.held);
  g_rand_free(random);
}

static void contrasting_groups(void **state) {
  (void)state;
  enum { LOW = 40, HIGH = 50 };
  GRand *random = g_rand_new_with_seed(104);
  Found welch = {0}, midpoint = {0}, crossing = {0};
  // Where the curves cross, by halving: found without the quadratic.
  double low = 55, high = 70;
  for (int i = 0; i < 100; i++) {
    double middle = (low + high) / 2;
    *(dnorm(middle, 55, 6, TRUE) > dnorm(middle, 70, 9, TRUE) ? &low : &high) = middle;
  }
  for (guint32 run = 0; run < 500; run++) {
    double score[LOW + HIGH];
    bool competent[LOW + HIGH];
    for (gsize i = 0; i < LOW + HIGH; i++) {
      competent[i] = i >= LOW;
      score[i] = competent[i] ? normal(random, 70, 9) : normal(random, 55, 6);
    }
    BtContrasting result = bt_contrasting(&(BtCohortScores){.n = LOW + HIGH, .score = score},
                                          competent, (BtResampling){200, run});
    add(&welch, &result.cut[BT_CUT_MIDPOINT], 62.5);
    add(&midpoint, &result.resampled[BT_CUT_MIDPOINT], 62.5);
    add(&crossing, &result.resampled[BT_CUT_CROSSING], low);
  }
  assert_held("midpoint, Welch", &welch, BT_LEVEL, BT_LEVEL);
  assert_error("midpoint, Welch", &welch, 0.12);
  assert_held("midpoint, resampled", &midpoint, FAIR_LEAST, FAIR_MOST);
  assert_error("midpoint, resampled", &midpoint, 0.12);
  assert_held("crossing, resampled", &crossing, FAIR_LEAST, FAIR_MOST);
  assert_error("crossing, resampled", &crossing, 0.15);
  assert_centre("crossing", &crossing, low, 0.3);
  g_rand_free(random);
}

static void even_chance_by_logistic_regression(void **state) {
  (void)state;
  enum { ALL = 120 };
  GRand *random = g_rand_new_with_seed(105);
  Found formula = {0}, resampled = {0};
  for (guint32 run = 0; run < 400; run++) {
    double score[ALL];
    bool competent[ALL];
    for (gsize i = 0; i < ALL; i++) {
      score[i] = normal(random, 65, 10);
      competent[i] = g_rand_double(random) < 1 / (1 + exp(-(score[i] - 62) / 4));
    }
    BtContrasting result = bt_contrasting(&(BtCohortScores){.n = ALL, .score = score}, competent,
                                          (BtResampling){150, run});
    add(&formula, &result.cut[BT_CUT_LOGISTIC], 62);
    add(&resampled, &result.resampled[BT_CUT_LOGISTIC], 62);
  }
  assert_held("logistic, delta method", &formula, FAIR_LEAST, FAIR_MOST);
  assert_error("logistic, delta method", &formula, 0.15);
  assert_held("logistic, resampled", &resampled, 0.90, FAIR_MOST);
  assert_centre("logistic", &formula, 62, 0.3);
  g_rand_free(random);
}

// Ratings 1..5; score 30 + 10 x rating, scattered by 6. The same trainee counts `times` times with
// an ability of their own where scores are not independent.
static void simulate_borderline(GRand *random, guint32 seed, gsize times, Found *formula,
                                Found *resampled) {
  enum { ALL = 60 };
  double score[ALL], rating[ALL];
  gsize trainee[ALL];
  for (gsize i = 0; i < ALL; i++) {
    trainee[i] = i / times;
    rating[i] = i % times ? rating[i - 1] : (double)(1 + g_rand_int_range(random, 0, 5));
    double shared = i % times ? score[i - 1] - 30 - 10 * rating[i - 1] : 0;
    score[i] = 30 + 10 * rating[i] + (i % times ? shared : normal(random, 0, 6));
  }
  BtBorderline result =
      bt_borderline(&(BtCohortScores){.n = ALL, .score = score, .trainee = trainee}, rating, 2,
                    (BtResampling){200, seed});
  add(formula, &result.cut, 50);
  add(resampled, &result.resampled, 50);
}

static void borderline_regression(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(106);
  Found formula = {0}, resampled = {0};
  for (guint32 run = 0; run < 1000; run++)
    simulate_borderline(random, run, 1, &formula, &resampled);
  assert_held("borderline, formula", &formula, BT_LEVEL, BT_LEVEL);
  assert_error("borderline, formula", &formula, 0.1);
  assert_held("borderline, resampled", &resampled, FAIR_LEAST, FAIR_MOST);
  assert_error("borderline, resampled", &resampled, 0.12);
  g_rand_free(random);
}

// Each trainee thrice, the same each time: the formula takes 60 scores for 60 trainees; drawing
// whole trainees does not.
static void trainees_are_drawn_whole(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(107);
  Found formula = {0}, resampled = {0};
  for (guint32 run = 0; run < 600; run++)
    simulate_borderline(random, run, 3, &formula, &resampled);
  assert_held("borderline, repeated trainees", &resampled, 0.88, FAIR_MOST); // 20 trainees
  assert_true(formula.held < 500);
  g_rand_free(random);
}

static void hofstee_over_judges_and_trainees(void **state) {
  (void)state;
  enum { ALL = 80, JUDGES = 10 };
  GRand *random = g_rand_new_with_seed(108);
  Found found = {0};
  // Where the line from (50, 40 %) to (65, 5 %) meets the curve of N(65, 10), by halving.
  double low = 50, high = 65;
  for (int i = 0; i < 100; i++) {
    double middle = (low + high) / 2;
    double line = 0.4 - (middle - 50) / 15 * 0.35;
    *(pnorm(middle, 65, 10, TRUE, FALSE) < line ? &low : &high) = middle;
  }
  for (guint32 run = 0; run < 500; run++) {
    double score[ALL];
    BtHofsteeJudge judge[JUDGES];
    for (gsize i = 0; i < ALL; i++)
      score[i] = normal(random, 65, 10);
    for (gsize j = 0; j < JUDGES; j++) {
      double lean = normal(random, 0, 2), patience = normal(random, 0, 0.02);
      judge[j] = (BtHofsteeJudge){50 + lean, 65 + lean, 0.05 + patience, 0.4 + patience};
    }
    BtHofstee result = bt_hofstee(judge, JUDGES, &(BtCohortScores){.n = ALL, .score = score},
                                  (BtResampling){200, run});
    add(&found, &result.cut, low);
  }
  assert_held("Hofstee", &found, FAIR_LEAST, FAIR_MOST);
  assert_error("Hofstee", &found, 0.15);
  assert_centre("Hofstee", &found, low, 0.4);
  g_rand_free(random);
}

static void pass_rate(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(109);
  Found found = {0};
  double truth = pnorm(62, 65, 10, FALSE, FALSE), score[50];
  for (int run = 0; run < 2000; run++) {
    for (gsize i = 0; i < G_N_ELEMENTS(score); i++)
      score[i] = normal(random, 65, 10);
    BtEstimate rate = bt_pass_rate(score, G_N_ELEMENTS(score), 62);
    add(&found, &rate, truth);
  }
  assert_held("pass rate", &found, 0.93, 0.97);
  g_rand_free(random);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(angoff_over_judges),
      cmocka_unit_test(angoff_over_judges_with_holes),
      cmocka_unit_test(angoff_over_judges_and_items),
      cmocka_unit_test(contrasting_groups),
      cmocka_unit_test(even_chance_by_logistic_regression),
      cmocka_unit_test(borderline_regression),
      cmocka_unit_test(trainees_are_drawn_whole),
      cmocka_unit_test(hofstee_over_judges_and_trainees),
      cmocka_unit_test(pass_rate),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
