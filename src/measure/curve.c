// SPDX-License-Identifier: GPL-3.0-or-later
//
// All forms of one trainee's curve, and the choice between them.
#include "measure/curve_parts.h"

#include <benchtally/regression.h>

#include <math.h>

#define TIE      2.0 // of AICc: closer forms both have support (Burnham and Anderson 2002, 2.6)
#define MILLI    1000.0
#define TOO_FEW  "the three figures of a curve take five attempts"
#define NO_VALUE "there is no value"
#define ONE      "one attempt shows no change"
#define SAME     "all values are the same"

const char *bt_curve_form_name(BtCurveForm form) {
  static const char *const names[BT_CURVE_FORMS] = {"no change", "straight line", "exponential",
                                                    "power"};
  return names[form];
}

double bt_curve_value(BtCurveForm form, double start, double rate, double plateau, double k) {
  switch (form) {
  case BT_CURVE_LINE:
    return start + rate * (k - 1);
  case BT_CURVE_EXPONENTIAL:
    return plateau - (plateau - start) * exp(-rate * (k - 1));
  case BT_CURVE_POWER:
    return plateau - (plateau - start) * pow(k, -rate);
  default:
    return start;
  }
}

const char *bt_curve_caution(BtCurveCaution caution) {
  switch (caution) {
  case BT_CURVE_BEYOND:
    return "The plateau lies beyond what can be reached: the curve tells of the attempts made, not "
           "of later ones.";
  case BT_CURVE_PLATEAU_OPEN:
    return "These attempts do not tell where the curve levels off: the plateau and the rate have "
           "no limits.";
  case BT_CURVE_RATE_OPEN:
    return "These attempts do not tell how fast the change might be: the rate has no limits.";
  case BT_CURVE_AT_ONCE:
    return "The change is over by the second attempt: there is no rate to tell.";
  case BT_CURVE_PERFECT:
    return "The curve goes through every point: there is nothing to judge its error by.";
  }
  return "";
}

// Forms -----------------------------------------------------------------------

// The mean (one column) or a line over the attempts before (two).
static BtCurveFit linear(const BtCurveData *data, gsize columns) {
  g_autofree double *x = g_new(double, data->n *columns);
  for (gsize i = 0; i < data->n; i++) {
    x[i * columns] = 1;
    if (columns > 1)
      x[i * columns + 1] = data->t[i];
  }
  g_autoptr(BtRegression) found = bt_regression(data->value, x, data->n, columns, true);
  if (found->why_not)
    return bt__curve_refused(found->why_not, data->n);
  bool perfect = bt__curve_perfect(data, found->residual_ss);
  BtCurveFit fit = bt__curve_refused("this form has none", data->n);
  fit.why_not = NULL;
  fit.start = found->b[0];
  if (columns > 1)
    fit.rate = found->b[1];
  fit.df = found->df;
  fit.residual_ss = found->residual_ss;
  fit.residual_sd = found->residual_sd;
  fit.cautions = perfect ? BT_CURVE_PERFECT : 0;
  fit.aicc = bt__aicc(found->residual_ss, data->n, columns + 1, perfect);
  return fit;
}

static bool all_same(const BtCurveData *data) {
  for (gsize i = 1; i < data->n; i++) {
    if (data->value[i] != data->value[0])
      return false;
  }
  return true;
}

static const char *why_no_curve(const BtCurveData *data) {
  if (data->n == 0)
    return NO_VALUE;
  if (data->n == 1)
    return ONE;
  return all_same(data) ? SAME : NULL;
}

static void fit_all(BtCurve *curve, BtCurveData *data, const double *before, const double *log_of,
                    double least, double most) {
  const char *why_not = why_no_curve(data),
             *why_no_bend = data->n < BT_CURVE_LEAST ? TOO_FEW : why_not;
  data->t = before;
  curve->fit[BT_CURVE_FLAT] = data->n > 0 ? linear(data, 1) : bt__curve_refused(NO_VALUE, 0);
  curve->fit[BT_CURVE_LINE] = why_not ? bt__curve_refused(why_not, data->n) : linear(data, 2);
  if (why_no_bend) {
    curve->fit[BT_CURVE_EXPONENTIAL] = curve->fit[BT_CURVE_POWER] =
        bt__curve_refused(why_no_bend, data->n);
    return;
  }
  curve->fit[BT_CURVE_EXPONENTIAL] = bt__curve_fit(data, least, most);
  data->t = log_of;
  curve->fit[BT_CURVE_POWER] = bt__curve_fit(data, least, most);
}

// The choice ------------------------------------------------------------------

// The first form that goes through every point, if some do: forms come from the plainest on.
static bool take_perfect(BtCurve *curve) {
  for (int form = 0; form < BT_CURVE_FORMS; form++) {
    if (!curve->fit[form].why_not && (curve->fit[form].cautions & BT_CURVE_PERFECT)) {
      curve->preferred = (BtCurveForm)form;
      return true;
    }
  }
  return false;
}

static void choose(BtCurve *curve) {
  int best = -1, second = -1;
  if (curve->n < BT_CURVE_LEAST) {
    curve->why_no_choice = "fewer than five attempts cannot tell one form from another";
    return;
  }
  if (take_perfect(curve))
    return;
  for (int form = 0; form < BT_CURVE_FORMS; form++) {
    const BtEstimate *aicc = &curve->fit[form].aicc;
    if (aicc->why_not)
      continue;
    if (best < 0 || aicc->value < curve->fit[best].aicc.value) {
      second = best;
      best = form;
    } else if (second < 0 || aicc->value < curve->fit[second].aicc.value) {
      second = form;
    }
  }
  curve->preferred = (BtCurveForm)best; // the mean always has a criterion from three values on
  curve->rival = (BtCurveForm)(second < 0 ? best : second);
  curve->tie = second >= 0 && curve->fit[second].aicc.value - curve->fit[best].aicc.value < TIE;
}

static BtTrend trend_of(const BtCurveData *data) {
  if (data->n == 0)
    return (BtTrend){0};
  g_autofree gint64 *milli = g_new(gint64, data->n);
  for (gsize i = 0; i < data->n; i++)
    milli[i] = (gint64)llround(data->value[i] * MILLI);
  return bt_trend(milli, data->n);
}

BtCurve bt_curve(const double *attempt, const double *value, gsize n, double least, double most) {
  g_autofree double *y = g_new(double, n + 1), *before = g_new(double, n + 1),
                    *log_of = g_new(double, n + 1), *left = g_new(double, n + 1);
  BtCurveData data = {.value = y, .left = left};
  for (gsize i = 0; i < n; i++) {
    if (bt_is_missing(value[i]))
      continue;
    y[data.n] = value[i];
    before[data.n] = attempt[i] - 1;
    log_of[data.n++] = log(attempt[i]);
    data.scale = fmax(data.scale, fabs(value[i]));
  }
  BtCurve curve = {.n = data.n};
  fit_all(&curve, &data, before, log_of, least, most);
  choose(&curve);
  curve.trend = trend_of(&data);
  return curve;
}
