// SPDX-License-Identifier: GPL-3.0-or-later
//
// The exponential and the power curve of one trainee.
#include "measure/curve_parts.h"

#include "measure/nonlinear.h"

#include <math.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define ROUNDING   1e-9 // of the greatest value: residuals below are rounding
#define NO_BEND    0.05 // rate x time of the last attempt: 20 times what was seen would be to come
#define NO_PLATEAU "the values still change as steadily as a line: no plateau is in sight"
#define AT_ONCE    "the change is over by the second attempt"

enum { START, RATE, PLATEAU, FIGURES };

BtEstimate bt__aicc(double residual_ss, gsize n, gsize figures, bool perfect) {
  double count = (double)n, k = (double)figures;
  if (perfect)
    return bt_not_estimable("it goes through every point", n);
  if (n < figures + 2)
    return bt_not_estimable("too few attempts for so many figures", n);
  double aic = count * (log(2 * M_PI * residual_ss / count) + 1) + 2 * k;
  return bt_estimate(aic + 2 * k * (k + 1) / (count - k - 1), n, "beyond what numbers hold");
}

bool bt__curve_perfect(const BtCurveData *data, double residual_ss) {
  double rounding = ROUNDING * data->scale;
  return residual_ss <= rounding * rounding * (double)data->n;
}

static bool residuals(const double *b, double *residual, double *derivative, gconstpointer user) {
  const BtCurveData *data = user;
  for (gsize i = 0; i < data->n; i++) {
    double left = exp(-b[RATE] * data->t[i]), drop = b[START] - b[PLATEAU];
    residual[i] = b[PLATEAU] + drop * left - data->value[i];
    if (!derivative)
      continue;
    derivative[i * FIGURES + START] = left;
    derivative[i * FIGURES + RATE] = -drop * data->t[i] * left;
    derivative[i * FIGURES + PLATEAU] = 1 - left;
  }
  return b[RATE] > 0;
}

// Results ---------------------------------------------------------------------

// A figure with the error of the tangent plane and the limits of the profile.
static BtEstimate figure(const BtNonlinear *found, int which, double low, double high, bool open) {
  BtEstimate estimate = open ? bt_estimate(found->b[which], found->rows, "beyond what numbers hold")
                             : bt_estimate_limits(found->b[which], low, high, found->rows,
                                                  "beyond what numbers hold");
  double se = sqrt(found->covariance[which * FIGURES + which]);
  estimate.has_se = estimate.why_not == NULL && isfinite(se);
  if (estimate.has_se)
    estimate.se = se;
  return estimate;
}

static double most_squares(double residual_ss, double df) {
  double t = qt((1 - BT_LEVEL) / 2, df, FALSE, FALSE);
  return residual_ss * (1 + t * t / df);
}

static void caution_about_plateau(BtCurveFit *fit, double least, double most) {
  if (fit->plateau.value < least || fit->plateau.value > most)
    fit->cautions |= BT_CURVE_BEYOND;
}

static void tell_bare(BtCurveFit *fit, const double b[FIGURES], gsize n) {
  fit->start = bt_estimate(b[START], n, "beyond what numbers hold");
  fit->rate = bt_estimate(b[RATE], n, "beyond what numbers hold");
  fit->plateau = bt_estimate(b[PLATEAU], n, "beyond what numbers hold");
}

// A step: start and plateau are the first value and the mean of the others, all but exactly.
static void tell_step(BtCurveFit *fit, const BtCurveSlice *step, gsize n) {
  double sd = sqrt(step->residual_ss / fit->df);
  fit->cautions |= BT_CURVE_AT_ONCE;
  fit->residual_ss = step->residual_ss;
  fit->start = bt_estimate_t(step->start, sd * sqrt(step->start_share), fit->df, n,
                             "beyond what numbers hold");
  fit->plateau = bt_estimate_t(step->plateau, sd * sqrt(step->plateau_share), fit->df, n,
                               "beyond what numbers hold");
  fit->rate = bt_not_estimable(AT_ONCE, n);
}

static void tell_curve(BtCurveFit *fit, const BtCurveData *data, const BtCurveSearch *search,
                       const BtNonlinear *found) {
  fit->residual_ss = found->residual_ss;
  if (bt__curve_perfect(data, found->residual_ss)) {
    fit->cautions |= BT_CURVE_PERFECT;
    tell_bare(fit, found->b, data->n);
    return;
  }
  BtCurveRegion region = bt__curve_region(data, search, most_squares(found->residual_ss, fit->df));
  fit->start = figure(found, START, region.start_low, region.start_high, false);
  fit->rate =
      figure(found, RATE, region.rate_low, region.rate_high, region.open_low || region.open_high);
  fit->plateau = figure(found, PLATEAU, region.plateau_low, region.plateau_high, region.open_low);
  if (region.open_low)
    fit->cautions |= BT_CURVE_PLATEAU_OPEN;
  if (region.open_high)
    fit->cautions |= BT_CURVE_RATE_OPEN;
}

BtCurveFit bt__curve_refused(const char *why_not, gsize n) {
  BtEstimate none = bt_not_estimable(why_not, n);
  return (BtCurveFit){
      .why_not = why_not, .start = none, .rate = none, .plateau = none, .aicc = none};
}

BtCurveFit bt__curve_fit(const BtCurveData *data, double least, double most) {
  BtCurveSearch search = bt__curve_search(data);
  const BtCurveSlice *best = &search.slice[search.best];
  BtCurveFit fit = {.df = (double)(data->n - FIGURES)};
  double second, last;
  bt__curve_times(data, &second, &last);
  if (best->rate * last < NO_BEND)
    return bt__curve_refused(NO_PLATEAU, data->n);
  if (search.best == BT__CURVE_SLICES - 1) {
    tell_step(&fit, best, data->n);
  } else {
    const double from[FIGURES] = {best->start, best->rate, best->plateau};
    g_autoptr(BtNonlinear) found = bt__nonlinear(residuals, data, data->n, from, FIGURES);
    if (found->why_not)
      return bt__curve_refused(found->why_not, data->n);
    tell_curve(&fit, data, &search, found);
  }
  fit.residual_sd = sqrt(fit.residual_ss / fit.df);
  fit.aicc =
      bt__aicc(fit.residual_ss, data->n, FIGURES + 1, bt__curve_perfect(data, fit.residual_ss));
  caution_about_plateau(&fit, least, most);
  return fit;
}
