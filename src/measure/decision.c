// SPDX-License-Identifier: GPL-3.0-or-later
//
// Consistency and accuracy of pass decisions, scores taken as normal.
#include <benchtally/reliability.h>

#include <gsl/gsl_integration.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define OUT_OF_RANGE "it needs a reliability from 0 to 1"
#define ALL_THE_SAME "all scores are the same"
#define ONE_SIDE     "everyone stands on the same side of the pass mark"
#define POINTS       256 // of Gauss-Legendre, a number whose table GSL holds to the last digit

// P(X < h, Y < k) for standard normal X, Y with this correlation: the product of the two less
// than that, and what Plackett's (1954) identity adds.
typedef struct {
  double h, k;
} Corner;

static double plackett(double angle, void *user_data) {
  const Corner *corner = user_data;
  double s = sin(angle), h = corner->h, k = corner->k;
  if (h == k) // the same, without dividing by a cosine near 0
    return exp(-h * h / (1 + s));
  return exp(-(h * h + k * k - 2 * h * k * s) / (2 * (1 - s) * (1 + s)));
}

static double both_below(double h, double k, double correlation) {
  Corner corner = {h, k};
  gsl_function f = {plackett, &corner};
  gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(POINTS);
  double more = gsl_integration_glfixed(&f, 0, asin(correlation), table);
  gsl_integration_glfixed_table_free(table);
  return pnorm(h, 0, 1, TRUE, FALSE) * pnorm(k, 0, 1, TRUE, FALSE) + more / (2 * M_PI);
}

// The share below the cut by the observed and by the true score. The true score's cut lies further
// out in its own standard deviations, which are fewer.
static double both_not_yet(double z, double reliability, double *true_not_yet) {
  double observed = pnorm(z, 0, 1, TRUE, FALSE);
  if (reliability == 0) { // all true scores are the mean
    *true_not_yet = z > 0 ? 1 : z < 0 ? 0 : 0.5;
    return observed * *true_not_yet;
  }
  double k = z / sqrt(reliability);
  *true_not_yet = pnorm(k, 0, 1, TRUE, FALSE);
  return reliability == 1 ? observed : both_below(z, k, sqrt(reliability));
}

BtDecision bt_decision_normal(double z, double reliability, gsize n) {
  BtDecision decision = {0};
  if (!(reliability >= 0 && reliability <= 1) || !isfinite(z)) {
    BtEstimate none = bt_not_estimable(isfinite(z) ? OUT_OF_RANGE : ALL_THE_SAME, n);
    decision.consistency = decision.kappa = decision.accuracy = none;
    decision.false_pass = decision.false_not_yet = none;
    return decision;
  }
  double not_yet = pnorm(z, 0, 1, TRUE, FALSE), true_not_yet = 0;
  double twice = both_below(z, z, reliability);
  double with_true = both_not_yet(z, reliability, &true_not_yet);
  double chance = not_yet * not_yet + (1 - not_yet) * (1 - not_yet);
  double consistency = 1 - 2 * (not_yet - twice);
  double false_pass = MAX(0, true_not_yet - with_true);
  double false_not_yet = MAX(0, not_yet - with_true);
  decision.consistency = bt_estimate(consistency, n, ONE_SIDE);
  decision.kappa = chance < 1 ? bt_estimate((consistency - chance) / (1 - chance), n, ONE_SIDE)
                              : bt_not_estimable(ONE_SIDE, n);
  decision.accuracy = bt_estimate(1 - false_pass - false_not_yet, n, ONE_SIDE);
  decision.false_pass = bt_estimate(false_pass, n, ONE_SIDE);
  decision.false_not_yet = bt_estimate(false_not_yet, n, ONE_SIDE);
  return decision;
}
