// SPDX-License-Identifier: GPL-3.0-or-later
//
// Consistency and accuracy of pass decisions by Livingston and Lewis (1995).
#include <benchtally/reliability.h>

#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include "measure/numerics.h"

#define NO_SCORES   "fewer than two scores"
#define OUTSIDE     "a score or the pass mark lies outside the scale"
#define NO_VARIANCE "all scores are the same"
#define NO_LENGTH   "it needs a reliability above 0 and below 1"
#define TOO_SHORT   "the scores are as reliable as one single item, or less"
#define NO_TRUE     "scores this unreliable leave no spread of true scores"
#define NO_INTEGRAL "the integrals do not converge"
#define ONE_SIDE    "everyone stands on the same side of the pass mark"
#define FEW_MOMENTS "the effective length is under four items"
#define NO_FOUR     "no beta distribution has these four moments"
#define BEYOND      "the four moments ask for true scores outside the scale"
#define INTERVALS   1000
#define LEAST_ERROR 1e-13 // asked of the integrals
#define MOST_ERROR  1e-9  // taken from them

// Effective length ------------------------------------------------------------

BtEstimate bt_effective_length(double mean, double variance, double least, double most,
                               double reliability) {
  if (!(reliability > 0 && reliability < 1))
    return bt_not_estimable(NO_LENGTH, 0);
  if (!(variance > 0))
    return bt_not_estimable(NO_VARIANCE, 0);
  double length =
      ((mean - least) * (most - mean) - reliability * variance) / (variance * (1 - reliability));
  return length > 0 ? bt_estimate(length, 0, TOO_SHORT) : bt_not_estimable(TOO_SHORT, 0);
}

static double mean_of(const double *value, gsize n) {
  double sum = 0;
  for (gsize i = 0; i < n; i++)
    sum += value[i];
  return sum / (double)n;
}

static double variance_of(const double *value, gsize n, double mean) {
  double squares = 0;
  for (gsize i = 0; i < n; i++)
    squares += (value[i] - mean) * (value[i] - mean);
  return squares / (double)(n - 1);
}

// True scores -----------------------------------------------------------------

typedef struct {
  double low, high, a, b;
} Beta;

// The first four moments about 0 of the true scores, on 0..1, from the factorial moments of the
// scores on the effective length (Lord 1965).
static void true_moments(const double *scores, gsize n, double least, double most, double length,
                         double moment[4]) {
  double sum[4] = {0};
  for (gsize i = 0; i < n; i++) {
    double x = (scores[i] - least) / (most - least) * length, product = 1;
    for (int k = 0; k < 4; k++) {
      product *= x - k;
      sum[k] += product;
    }
  }
  double product = (double)n;
  for (int k = 0; k < 4; k++) {
    product *= length - k;
    moment[k] = sum[k] / product;
  }
}

// The beta distribution on 0..1 with this mean and variance; false: there is none.
static bool fit_two(double mean, double variance, Beta *beta) {
  double sum = mean * (1 - mean) / variance - 1;
  *beta = (Beta){0, 1, mean * sum, (1 - mean) * sum};
  return variance > 0 && beta->a > 0 && beta->b > 0;
}

// The four-parameter beta distribution with these moments (Hanson 1991, equations 10 to 16);
// NULL: found. Else why there is none.
static const char *fit_four(const double m[4], double variance, Beta *beta) {
  double third = m[2] - 3 * m[0] * m[1] + 2 * m[0] * m[0] * m[0];
  double fourth = m[3] - 4 * m[0] * m[2] + 6 * m[0] * m[0] * m[1] - 3 * m[0] * m[0] * m[0] * m[0];
  double skew = third / (variance * sqrt(variance)), kurtosis = fourth / (variance * variance);
  double r = 6 * (kurtosis - skew * skew - 1) / (6 + 3 * skew * skew - 2 * kurtosis);
  double root = 1 - 24 * (r + 1) / ((r + 2) * (r + 3) * kurtosis - 3 * (r - 6) * (r + 1));
  if (!(r > 0) || !(root >= 0 && root < 1))
    return NO_FOUR;
  double larger = r / 2 * (1 + sqrt(root)), smaller = r / 2 * (1 - sqrt(root));
  beta->a = skew < 0 ? larger : smaller;
  beta->b = r - beta->a;
  double width = r * sqrt(variance * (r + 1) / (beta->a * beta->b));
  beta->low = m[0] - width * beta->a / r;
  beta->high = beta->low + width;
  return beta->low < 0 || beta->high > 1 ? BEYOND : NULL;
}

// False: there is no distribution at all; *why_two as in BtDecision.
static bool fit(const double moment[4], double length, Beta *beta, const char **why_two) {
  double variance = moment[1] - moment[0] * moment[0];
  if (!(variance > 0))
    return false;
  *why_two = length > 3 ? fit_four(moment, variance, beta) : FEW_MOMENTS;
  return !*why_two || fit_two(moment[0], variance, beta);
}

// Integrals over the true scores ----------------------------------------------

typedef double Share(double pass); // of a true score's chance to pass

typedef struct {
  Beta beta;
  double items, least_to_pass;
  Share *share;
  double from_low, from_high; // exponents that the quadrature takes care of
} Integrand;

static double pass_at(const Integrand *of, double score) {
  return pbinom(of->least_to_pass - 1, of->items, CLAMP(score, 0, 1), FALSE, FALSE);
}

static double log_power(double base, double exponent) {
  return exponent == 0 ? 0 : exponent * log(base);
}

static double integrand(double score, void *user_data) {
  const Integrand *of = user_data;
  double width = of->beta.high - of->beta.low;
  double place = CLAMP((score - of->beta.low) / width, 0, 1);
  double log_density = log_power(place, of->beta.a - 1 - of->from_low) +
                       log_power(1 - place, of->beta.b - 1 - of->from_high) -
                       lbeta(of->beta.a, of->beta.b) -
                       (1 + of->from_low + of->from_high) * log(width);
  return of->share(pass_at(of, score)) * exp(log_density);
}

// The integral of a share times the density between two true scores. Where the density has no bound
// at an end, the quadrature (QAWS) is told its power. Adds to *error.
static double integral(Integrand of, Share *share, double from, double to, double *error) {
  double low = MAX(from, of.beta.low), high = MIN(to, of.beta.high);
  if (low >= high)
    return 0;
  of.share = share;
  of.from_low = low == of.beta.low && of.beta.a < 1 ? of.beta.a - 1 : 0;
  of.from_high = high == of.beta.high && of.beta.b < 1 ? of.beta.b - 1 : 0;
  gsl_function f = {integrand, &of};
  gsl_integration_workspace *space = gsl_integration_workspace_alloc(INTERVALS);
  gsl_integration_qaws_table *table =
      gsl_integration_qaws_table_alloc(of.from_low, of.from_high, 0, 0);
  double value = 0, more = 0;
  int status = gsl_integration_qaws(&f, low, high, table, LEAST_ERROR, LEAST_ERROR, INTERVALS,
                                    space, &value, &more);
  gsl_integration_qaws_table_free(table);
  gsl_integration_workspace_free(space);
  *error += status == GSL_SUCCESS || status == GSL_EROUND ? more : 1;
  return value;
}

static double passes(double pass) {
  return pass;
}
static double passes_not(double pass) {
  return 1 - pass;
}
static double alike(double pass) {
  return pass * pass + (1 - pass) * (1 - pass);
}

// All of it -------------------------------------------------------------------

static BtDecision nothing(const char *why_not, gsize n) {
  BtEstimate none = bt_not_estimable(why_not, n);
  return (BtDecision){.consistency = none,
                      .kappa = none,
                      .accuracy = none,
                      .false_pass = none,
                      .false_not_yet = none};
}

static BtDecision decide(const Integrand *of, double cut, gsize n) {
  double error = 0;
  double pass = integral(*of, passes, 0, 1, &error);
  double consistency = integral(*of, alike, 0, 1, &error);
  double false_pass = integral(*of, passes, 0, cut, &error);
  double false_not_yet = integral(*of, passes_not, cut, 1, &error);
  double chance = alike(pass);
  if (error > MOST_ERROR)
    return nothing(NO_INTEGRAL, n);
  return (BtDecision){.consistency = bt_estimate(consistency, n, NO_INTEGRAL),
                      .kappa = chance < 1
                                   ? bt_estimate((consistency - chance) / (1 - chance), n, ONE_SIDE)
                                   : bt_not_estimable(ONE_SIDE, n),
                      .accuracy = bt_estimate(1 - false_pass - false_not_yet, n, NO_INTEGRAL),
                      .false_pass = bt_estimate(false_pass, n, NO_INTEGRAL),
                      .false_not_yet = bt_estimate(false_not_yet, n, NO_INTEGRAL)};
}

static const char *outside(const double *scores, gsize n, double least, double most, double cut) {
  bool within = cut >= least && cut <= most;
  for (gsize i = 0; i < n; i++)
    within &= scores[i] >= least && scores[i] <= most;
  return within ? NULL : OUTSIDE;
}

BtDecision bt_decision_beta(const double *scores, gsize n, double least, double most, double cut,
                            double reliability) {
  bt__gsl_quiet();
  const char *why_not = n < 2 ? NO_SCORES : outside(scores, n, least, most, cut);
  if (why_not)
    return nothing(why_not, n);
  double mean = mean_of(scores, n), moment[4];
  BtEstimate length =
      bt_effective_length(mean, variance_of(scores, n, mean), least, most, reliability);
  if (length.why_not || length.value <= 1)
    return nothing(length.why_not ? length.why_not : TOO_SHORT, n);
  true_moments(scores, n, least, most, length.value, moment);
  Integrand of = {.items = round(length.value)};
  const char *why_two = NULL;
  if (!fit(moment, length.value, &of.beta, &why_two))
    return nothing(NO_TRUE, n);
  double cut_share = (cut - least) / (most - least);
  of.least_to_pass = round(cut_share * of.items);
  BtDecision decision = decide(&of, cut_share, n);
  decision.effective_length = length.value;
  decision.true_low = of.beta.low;
  decision.true_high = of.beta.high;
  decision.alpha = of.beta.a;
  decision.beta = of.beta.b;
  decision.why_two = why_two;
  return decision;
}
