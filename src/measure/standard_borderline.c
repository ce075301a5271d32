// SPDX-License-Identifier: GPL-3.0-or-later
//
// Borderline regression and the borderline group.
#include <benchtally/standard.h>

#include <stdlib.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics_double.h>

#include "measure/agreement_parts.h"
#include "measure/numerics.h"
#include "measure/standard_resample.h"

#define FEW          "fewer than three scores were rated"
#define ONE_RATING   "all global ratings are the same"
#define NOT_RISING   "scores do not rise with the ratings"
#define NO_SUCH_LINE "the line could not be drawn"
#define NONE_THERE   "nobody was rated borderline"
#define LEAST_SPREAD 1e-9 // of ratings, squared; less is rounding
#define TAIL         ((1 - BT_LEVEL) / 2)

typedef struct {
  const double *rating, *score;
  gsize n;
  double borderline;
  double mean_rating, mean_score; // of all, about which draws are taken, so that no digits are lost
} Rated;

static void draw_cut(const double *weight, double *cut, gpointer user_data) {
  const Rated *rated = user_data;
  double all = 0, x = 0, y = 0, xx = 0, xy = 0;
  for (gsize i = 0; i < rated->n; i++) {
    double dx = rated->rating[i] - rated->mean_rating, dy = rated->score[i] - rated->mean_score;
    all += weight[i];
    x += weight[i] * dx;
    y += weight[i] * dy;
    xx += weight[i] * dx * dx;
    xy += weight[i] * dx * dy;
  }
  double spread = xx - x * x / all, slope = (xy - x * y / all) / spread;
  double at = rated->borderline - rated->mean_rating - x / all;
  // A draw of one rating alone has no line.
  *cut = spread > LEAST_SPREAD ? rated->mean_score + y / all + slope * at : BT_MISSING;
}

// Why there is no line; NULL: there is one.
static const char *why_no_line(const Rated *rated) {
  if (rated->n < 3)
    return FEW;
  double least, most;
  gsl_stats_minmax(&least, &most, rated->rating, 1, rated->n);
  return least < most ? NULL : ONE_RATING;
}

static void fit_line(BtBorderline *result, const Rated *rated) {
  double cov00, cov01, cov11, squares, cut, cut_se, slope;
  gsize n = rated->n;
  int status = gsl_fit_linear(rated->rating, 1, rated->score, 1, n, &result->intercept, &slope,
                              &cov00, &cov01, &cov11, &squares);
  if (status == 0)
    status = gsl_fit_linear_est(rated->borderline, result->intercept, slope, cov00, cov01, cov11,
                                &cut, &cut_se);
  if (status != 0) {
    result->slope = result->cut = bt_not_estimable(NO_SUCH_LINE, n);
    return;
  }
  double df = (double)n - 2, all = gsl_stats_tss_m(rated->score, 1, n, rated->mean_score);
  result->rmse = sqrt(squares / df);
  result->r_squared = all > 0 ? 1 - squares / all : 0;
  result->slope = bt__estimate_cut(slope, sqrt(cov11), df, -INFINITY, INFINITY, n, NO_SUCH_LINE);
  result->cut = slope > 0 ? bt__estimate_cut(cut, cut_se, df, -INFINITY, INFINITY, n, NO_SUCH_LINE)
                          : bt_not_estimable(NOT_RISING, n);
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
  Rated rated = {.rating = rating,
                 .score = scores->score,
                 .n = scores->n,
                 .borderline = borderline,
                 .mean_rating = gsl_stats_mean(rating, 1, scores->n),
                 .mean_score = gsl_stats_mean(scores->score, 1, scores->n)};
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
