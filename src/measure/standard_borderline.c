// SPDX-License-Identifier: GPL-3.0-or-later
//
// Borderline regression and the borderline group.
#include <benchtally/regression.h>
#include <benchtally/standard.h>

#include <stdlib.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics_double.h>

#include "measure/agreement_parts.h"
#include "measure/numerics.h"
#include "measure/standard_resample.h"

#define FEW           "fewer than three scores were rated"
#define ONE_RATING    "all global ratings are the same"
#define NOT_RISING    "scores do not rise with the ratings"
#define NO_SUCH_LINE  "the line could not be drawn"
#define NONE_THERE    "nobody was rated borderline"
#define LEAST_SCATTER 1e-9 // percent; less is rounding
#define TAIL          ((1 - BT_LEVEL) / 2)

typedef struct {
  const double *rating, *score;
  gsize n;
  double borderline;
} Rated;

static void draw_cut(const double *weight, double *cut, gpointer user_data) {
  const Rated *rated = user_data;
  double intercept, slope, cov00, cov01, cov11, chi2;
  int status = gsl_fit_wlinear(rated->rating, 1, weight, 1, rated->score, 1, rated->n, &intercept,
                               &slope, &cov00, &cov01, &cov11, &chi2);
  double at = intercept + slope * rated->borderline;
  // A draw of one rating alone has no line.
  *cut = status == 0 && isfinite(at) && isfinite(cov11) ? at : BT_MISSING;
}

// Why there is no line; NULL: there is one.
static const char *why_no_line(const Rated *rated) {
  if (rated->n < 3)
    return FEW;
  double least, most;
  gsl_stats_minmax(&least, &most, rated->rating, 1, rated->n);
  return least < most ? NULL : ONE_RATING;
}

// A figure without its error: all scores on the line hold no word on it.
static BtEstimate bare(const BtEstimate *estimate) {
  return bt_estimate(estimate->value, estimate->n, NO_SUCH_LINE);
}

static void fit_line(BtBorderline *result, const Rated *rated) {
  g_autoptr(BtRegression) fit = bt_regression_line(rated->score, rated->rating, rated->n);
  if (fit->why_not) {
    result->slope = result->cut = bt_not_estimable(fit->why_not, rated->n);
    return;
  }
  const double at[] = {1, rated->borderline};
  BtEstimate cut = bt_regression_at(fit, at);
  bool scatter = fit->residual_sd > LEAST_SCATTER;
  result->intercept = fit->b[0].value;
  result->r_squared = fit->r_squared;
  result->rmse = fit->residual_sd;
  result->slope = scatter ? fit->b[1] : bare(&fit->b[1]);
  if (fit->b[1].value > 0)
    result->cut = scatter ? cut : bare(&cut);
  else
    result->cut = bt_not_estimable(NOT_RISING, rated->n);
}

static bool is_beyond(const Rated *rated) {
  double least, most;
  gsl_stats_minmax(&least, &most, rated->rating, 1, rated->n);
  return rated->borderline < least || rated->borderline > most;
}

// The borderline group --------------------------------------------------------

static BtEstimate median_of(double *score, gsize n) {
  qsort(score, n, sizeof *score, bt__by_value);
  double median = gsl_stats_median_from_sorted_data(score, 1, n);
  // As many scores as may lie below the median by chance 1 time in 40 at most.
  double outside = qbinom(TAIL, (double)n, 0.5, TRUE, FALSE);
  if (pbinom(outside, (double)n, 0.5, TRUE, FALSE) > TAIL)
    outside--;
  if (outside < 0)
    return bt_estimate(median, n, NONE_THERE);
  gsize from_end = (gsize)outside;
  return bt_estimate_limits(median, score[from_end], score[n - 1 - from_end], n, NONE_THERE);
}

static void find_group(BtBorderline *result, const Rated *rated) {
  g_autofree double *score = g_new(double, rated->n + 1);
  gsize n = 0;
  for (gsize i = 0; i < rated->n; i++) {
    if (rated->rating[i] == rated->borderline)
      score[n++] = rated->score[i];
  }
  if (n == 0) {
    result->group_mean = result->group_median = bt_not_estimable(NONE_THERE, 0);
    return;
  }
  double sd = n > 1 ? gsl_stats_sd(score, 1, n) : 0;
  result->group_mean = bt__estimate_cut(gsl_stats_mean(score, 1, n), sd / sqrt((double)n),
                                        (double)n - 1, 0, 100, n, NONE_THERE);
  result->group_median = median_of(score, n);
}

BtBorderline bt_borderline(const BtCohortScores *scores, const double *rating, double borderline,
                           BtResampling resampling) {
  bt__gsl_quiet();
  BtBorderline result = {0};
  Rated rated = {rating, scores->score, scores->n, borderline};
  const char *why_not = why_no_line(&rated);
  if (why_not)
    result.slope = result.cut = bt_not_estimable(why_not, scores->n);
  else
    fit_line(&result, &rated);
  result.beyond = scores->n > 0 && is_beyond(&rated);
  result.resampled = result.cut;
  result.resampled.has_se = result.resampled.has_limits = false;
  find_group(&result, &rated);
  BtDrawing drawing = {scores->n, scores->trainee, NULL};
  if (!result.cut.why_not)
    bt__resample(&drawing, resampling, draw_cut, &rated, &result.resampled, 1);
  return result;
}
