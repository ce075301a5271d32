// SPDX-License-Identifier: GPL-3.0-or-later
//
// The curves of a cohort by a linear mixed model over the logarithm of the attempt.
#include <benchtally/curve.h>

#include <benchtally/mixed.h>

#include <math.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define BEYOND_NUMBERS "beyond what numbers hold"

// Attempts to the mark --------------------------------------------------------

// An expected line over log2(attempt) with its error.
typedef struct {
  double start, gain;
  double start_variance, gain_variance, covariance;
} Line;

typedef struct {
  double mark;
  bool falling;
} Mark;

static bool at_mark(double value, const Mark *mark) {
  return mark->falling ? value <= mark->mark : value >= mark->mark;
}

static BtToMark to_mark(const Line *line, const Mark *mark) {
  BtToMark found = {0};
  double wide = qnorm((1 - BT_LEVEL) / 2, 0, 1, FALSE, FALSE);
  double better = mark->falling ? -wide : wide;
  bool sure = false;
  for (gsize k = 1; k <= BT_ATTEMPTS_MOST; k++) {
    double x = log2((double)k), value = line->start + line->gain * x;
    double variance = line->start_variance + 2 * x * line->covariance + x * x * line->gain_variance;
    double error = sqrt(fmax(0, variance));
    if (!found.at && at_mark(value, mark))
      found.at = k;
    if (!found.low && at_mark(value + better * error, mark))
      found.low = k;
    // Sure from the last attempt on before which it was not.
    bool now_sure = at_mark(value - better * error, mark);
    if (now_sure && !sure)
      found.high = k;
    sure = now_sure;
  }
  if (!sure)
    found.high = 0;
  return found;
}

// The line of one trainee (or of the cohort: trainee -1), and its figures.
static Line line_of(const BtMixed *fit, gssize trainee, bool common_gain, BtEstimate *start,
                    BtEstimate *gain) {
  const BtMixedWeight parts[] = {{-1, 0, false, 1},
                                 {-1, 1, false, 1},
                                 {0, (gsize)MAX(trainee, 0), false, 1},
                                 {0, (gsize)MAX(trainee, 0), true, 1}};
  const BtMixedWeight own_start[] = {parts[0], parts[2]}, own_gain[] = {parts[1], parts[3]};
  const BtMixedWeight both[] = {parts[0], parts[1], parts[2], parts[3]};
  gsize starts = trainee < 0 ? 1 : 2, gains = trainee < 0 || common_gain ? 1 : 2;
  *start = bt_mixed_sum(fit, own_start, starts);
  *gain = bt_mixed_sum(fit, own_gain, gains);
  BtEstimate sum = bt_mixed_sum(fit, both, trainee < 0 ? 2 : common_gain ? 3 : 4);
  Line line = {start->value, gain->value, start->se * start->se, gain->se * gain->se, 0};
  line.covariance = (sum.se * sum.se - line.start_variance - line.gain_variance) / 2;
  return line;
}

// Fitting ---------------------------------------------------------------------

static BtMixed *fit_model(const BtCohortAttempts *attempts, bool common_gain) {
  g_autofree double *x = g_new(double, 2 * attempts->n + 1),
                    *log_of = g_new(double, attempts->n + 1);
  for (gsize i = 0; i < attempts->n; i++) {
    x[2 * i] = 1;
    x[2 * i + 1] = log_of[i] = log2(attempts->attempt[i]);
  }
  BtMixedTerm trainee = {
      .groups = attempts->trainees, .of = attempts->trainee, .slope = common_gain ? NULL : log_of};
  BtMixedData data = {.rows = attempts->n,
                      .y = attempts->value,
                      .columns = 2,
                      .x = x,
                      .terms = 1,
                      .term = &trainee};
  return bt_mixed_fit(&data, BT_MIXED_REML);
}

static void tell_cohort(BtCohortCurve *curve, const BtMixed *fit, const Mark *mark) {
  const BtMixedPart *part = &fit->part[0];
  Line line = line_of(fit, -1, curve->common_gain, &curve->start, &curve->gain);
  curve->start.n = curve->gain.n = curve->trainees;
  curve->to_mark = to_mark(&line, mark);
  curve->start_sd = sqrt(part->variance);
  curve->gain_sd = sqrt(part->slope_variance);
  curve->correlation = part->correlation;
  curve->residual_sd = sqrt(fit->residual_variance);
  curve->at_boundary = fit->singular;
}

static void tell_trainees(BtCohortCurve *curve, const BtMixed *fit,
                          const BtCohortAttempts *attempts, const Mark *mark) {
  curve->trainee = g_new0(BtTraineeCurve, curve->trainees);
  for (gsize i = 0; i < attempts->n; i++)
    curve->trainee[attempts->trainee[i]].n++;
  for (gsize i = 0; i < curve->trainees; i++) {
    BtTraineeCurve *own = &curve->trainee[i];
    Line line = line_of(fit, (gssize)i, curve->common_gain, &own->start, &own->gain);
    own->start.n = own->gain.n = own->n;
    own->to_mark = to_mark(&line, mark);
  }
}

BtCohortCurve *bt_cohort_curve(const BtCohortAttempts *attempts, double mark, bool falling) {
  BtCohortCurve *curve = g_new0(BtCohortCurve, 1);
  const Mark goal = {mark, falling};
  curve->n = attempts->n;
  curve->trainees = attempts->trainees;
  g_autoptr(BtMixed) fit = fit_model(attempts, false);
  if (fit->why_not) {
    bt_mixed_free(fit);
    fit = fit_model(attempts, true);
    curve->common_gain = true;
  }
  curve->why_not = fit->why_not;
  if (curve->why_not)
    return curve;
  tell_cohort(curve, fit, &goal);
  tell_trainees(curve, fit, attempts, &goal);
  return curve;
}

void bt_cohort_curve_free(BtCohortCurve *curve) {
  if (!curve)
    return;
  g_free(curve->trainee);
  g_free(curve);
}
