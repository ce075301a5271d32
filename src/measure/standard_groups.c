// SPDX-License-Identifier: GPL-3.0-or-later
//
// Contrasting groups.
#include <benchtally/standard.h>

#include <stdlib.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>
#include <gsl/gsl_poly.h>

#include "measure/agreement_parts.h"
#include "measure/standard_logistic.h"
#include "measure/standard_resample.h"

#define NO_COMPETENT     "nobody was named competent"
#define NO_NOT_COMPETENT "nobody was named not yet competent"
#define NOT_HIGHER       "the competent did not score higher"
#define NO_SPREAD        "a group has no two different scores"
#define NO_CROSSING      "no crossing between the two means"
#define NO_SLOPE         "competence does not rise with score"
#define NO_FIT           "the curve could not be fitted"

const char *bt_contrasting_cut_name(BtContrastingCut cut) {
  static const char *const names[] = {"midpoint of the means", "crossing of the curves",
                                      "even chance (logistic)"};
  return names[cut];
}

// Both groups' scores, as often as `weight` says.
typedef struct {
  const double *score, *weight;
  const bool *competent;
  gsize n;
  double *part;     // room for n: the weights of one group
  BtLogistic whole; // the fit of all of them, from which those of draws begin
} Groups;

static BtMoments group_moments(const Groups *groups, bool competent) {
  for (gsize i = 0; i < groups->n; i++)
    groups->part[i] = groups->competent[i] == competent ? groups->weight[i] : 0;
  return bt__moments(groups->score, groups->part, groups->n);
}

// The marks -------------------------------------------------------------------

// Where two normal curves of equal weight are as high as each other: between the means, and (in
// *other, BT_MISSING for none) elsewhere.
static double crossing(const BtMoments *low, const BtMoments *high, double *other) {
  // Twice the difference of the logs of the densities, about the mean of `low`.
  double gap = high->mean - low->mean, v0 = low->sd * low->sd, v1 = high->sd * high->sd;
  double root[2] = {BT_MISSING, BT_MISSING}, between = BT_MISSING;
  int roots =
      gsl_poly_solve_quadratic(1 / v1 - 1 / v0, -2 * gap / v1,
                               gap * gap / v1 + 2 * log(high->sd / low->sd), &root[0], &root[1]);
  *other = BT_MISSING;
  for (int i = 0; i < roots; i++) {
    if (root[i] >= 0 && root[i] <= gap)
      between = low->mean + root[i];
    else
      *other = low->mean + root[i];
  }
  return between;
}

// How far the groups' scores reach into each other.
typedef struct {
  double most_not_competent, least_competent;
} Edges;

static Edges edges_of(const Groups *groups) {
  Edges edges = {-INFINITY, INFINITY};
  for (gsize i = 0; i < groups->n; i++) {
    if (groups->weight[i] == 0)
      continue;
    if (groups->competent[i])
      edges.least_competent = MIN(edges.least_competent, groups->score[i]);
    else
      edges.most_not_competent = MAX(edges.most_not_competent, groups->score[i]);
  }
  return edges;
}

static BtLogistic logistic_of(const Groups *groups) {
  Edges edges = edges_of(groups);
  if (!isfinite(edges.most_not_competent) || !isfinite(edges.least_competent))
    return (BtLogistic){0}; // a draw without one of the groups
  bool separated = edges.most_not_competent <= edges.least_competent;
  return bt__logistic(groups->score, groups->competent, groups->weight, groups->n, separated,
                      groups->whole.converged ? &groups->whole : NULL);
}

static double even_chance(const BtLogistic *fit) {
  return fit->converged && fit->slope > 0 ? -fit->intercept / fit->slope : BT_MISSING;
}

// Midpoint and crossing, from draws within the groups.
static void draw_between_groups(const double *weight, double *mark, gpointer user_data) {
  Groups groups = *(const Groups *)user_data;
  groups.weight = weight;
  BtMoments low = group_moments(&groups, false), high = group_moments(&groups, true);
  bool apart = low.mean<high.mean, spread = low.sd> 0 && high.sd > 0;
  double other = 0;
  mark[BT_CUT_MIDPOINT] = apart ? (low.mean + high.mean) / 2 : BT_MISSING;
  mark[BT_CUT_CROSSING] = apart && spread ? crossing(&low, &high, &other) : BT_MISSING;
}

// The even chance hangs on how many of the cohort are competent, so the whole cohort is drawn from:
// within groups, that share would stand still, and the limits would be too narrow.
static void draw_even_chance(const double *weight, double *mark, gpointer user_data) {
  Groups groups = *(const Groups *)user_data;
  groups.weight = weight;
  BtLogistic fit = logistic_of(&groups);
  *mark = even_chance(&fit);
}

// By formula ------------------------------------------------------------------

// Half the standard error of a difference of means, with Welch's degrees of freedom (1947).
static BtEstimate midpoint(const BtMoments *low, const BtMoments *high, gsize n) {
  double a = low->sd * low->sd / low->weight, b = high->sd * high->sd / high->weight;
  double df = (a + b) * (a + b) / (a * a / (low->weight - 1) + b * b / (high->weight - 1));
  return bt__estimate_cut((low->mean + high->mean) / 2, sqrt(a + b) / 2, df, 0, 100, n, NO_SPREAD);
}

// The delta method for -intercept / slope.
static BtEstimate logistic_cut(BtContrasting *result, Groups *groups) {
  BtLogistic fit = groups->whole = logistic_of(groups);
  if (!fit.converged)
    return bt_not_estimable(NO_FIT, groups->n);
  double cut = even_chance(&fit);
  if (bt_is_missing(cut))
    return bt_not_estimable(NO_SLOPE, groups->n);
  result->intercept = fit.intercept;
  result->slope = fit.slope;
  double variance = (fit.var_intercept + 2 * cut * fit.covariance + cut * cut * fit.var_slope) /
                    (fit.slope * fit.slope);
  return bt__estimate_cut(cut, sqrt(variance), INFINITY, 0, 100, groups->n, NO_SLOPE);
}

// Why no mark can be had from the groups at all; NULL: one may.
static const char *why_none(const BtMoments *low, const BtMoments *high) {
  if (high->weight < 1)
    return NO_COMPETENT;
  if (low->weight < 1)
    return NO_NOT_COMPETENT;
  return low->mean < high->mean ? NULL : NOT_HIGHER;
}

static void find_cuts(BtContrasting *result, Groups *groups, const BtMoments *low,
                      const BtMoments *high) {
  result->other_crossing = BT_MISSING;
  const char *why_not = why_none(low, high);
  for (int c = 0; c < BT_CONTRASTING_CUTS && why_not; c++)
    result->cut[c] = bt_not_estimable(why_not, groups->n);
  if (why_not)
    return;
  result->cut[BT_CUT_MIDPOINT] = midpoint(low, high, groups->n);
  bool spread = low->sd > 0 && high->sd > 0;
  double cross = spread ? crossing(low, high, &result->other_crossing) : BT_MISSING;
  result->cut[BT_CUT_CROSSING] = bt_estimate(cross, groups->n, spread ? NO_CROSSING : NO_SPREAD);
  result->cut[BT_CUT_LOGISTIC] = logistic_cut(result, groups);
  Edges edges = edges_of(groups);
  result->separated = edges.most_not_competent <= edges.least_competent;
  result->gap_low = result->separated ? edges.most_not_competent : 0;
  result->gap_high = result->separated ? edges.least_competent : 0;
}

// Who is told wrongly ---------------------------------------------------------

static BtEstimate tail(const BtMoments *group, double cut, bool above) {
  double share = group->sd > 0 ? pnorm(cut, group->mean, group->sd, !above, FALSE) : NAN;
  return bt_estimate(share, (gsize)group->weight, NO_SPREAD);
}

static BtWronglyTold wrongly_told(const Groups *groups, const BtMoments *low, const BtMoments *high,
                                  double cut) {
  BtWronglyTold wrong = {.false_pass_share = tail(low, cut, true),
                         .false_not_yet_share = tail(high, cut, false)};
  for (gsize i = 0; i < groups->n; i++) {
    wrong.false_pass += !groups->competent[i] && groups->score[i] >= cut;
    wrong.false_not_yet += groups->competent[i] && groups->score[i] < cut;
  }
  return wrong;
}

typedef struct {
  double score;
  bool competent;
} Scored;

static int by_score(const void *a, const void *b) {
  return bt__by_value(&((const Scored *)a)->score, &((const Scored *)b)->score);
}

// Goes up the scores: with each as the mark, those below it who are competent are wrongly told, and
// those at or above it who are not.
static void find_fewest_wrong(BtContrasting *result, const Groups *groups) {
  gsize n = groups->n, wrong = result->not_competent.n;
  g_autofree Scored *sorted = g_new(Scored, n + 1);
  for (gsize i = 0; i < n; i++)
    sorted[i] = (Scored){groups->score[i], groups->competent[i]};
  qsort(sorted, n, sizeof *sorted, by_score);
  result->fewest_wrong = n;
  for (gsize i = 0; i < n; i++) {
    bool first_of_score = i == 0 || sorted[i - 1].score < sorted[i].score;
    if (first_of_score && (i == 0 || wrong < result->fewest_wrong)) {
      result->fewest_wrong = wrong;
      result->fewest_wrong_at = sorted[i].score;
    }
    wrong = sorted[i].competent ? wrong + 1 : wrong - 1;
  }
}

static void resample(BtContrasting *result, Groups *groups, const gsize *trainee,
                     BtResampling resampling) {
  for (int c = 0; c < BT_CONTRASTING_CUTS; c++) {
    result->resampled[c] = result->cut[c];
    result->resampled[c].has_se = result->resampled[c].has_limits = false;
  }
  if (result->cut[BT_CUT_MIDPOINT].why_not) // then there is none at all
    return;
  g_autofree gsize *stratum = g_new(gsize, groups->n + 1);
  for (gsize i = 0; i < groups->n; i++)
    stratum[i] = groups->competent[i];
  BtDrawing within_groups = {groups->n, trainee, stratum}, cohort = {groups->n, trainee, NULL};
  // The two marks before the even chance.
  bt__resample(&within_groups, resampling, draw_between_groups, groups, result->resampled,
               BT_CUT_LOGISTIC);
  bt__resample(&cohort, resampling, draw_even_chance, groups, &result->resampled[BT_CUT_LOGISTIC],
               1);
}

BtContrasting bt_contrasting(const BtCohortScores *scores, const bool *competent,
                             BtResampling resampling) {
  gsize n = scores->n;
  g_autofree double *weight = g_new(double, n + 1), *part = g_new(double, n + 1);
  for (gsize i = 0; i < n; i++)
    weight[i] = 1;
  Groups groups = {
      .score = scores->score, .weight = weight, .competent = competent, .n = n, .part = part};
  BtMoments low = group_moments(&groups, false), high = group_moments(&groups, true);
  BtContrasting result = {.not_competent = {(gsize)low.weight, low.mean, low.sd},
                          .competent = {(gsize)high.weight, high.mean, high.sd}};
  find_cuts(&result, &groups, &low, &high);
  for (int c = 0; c < BT_CONTRASTING_CUTS; c++) {
    if (!result.cut[c].why_not)
      result.wrong[c] = wrongly_told(&groups, &low, &high, result.cut[c].value);
  }
  find_fewest_wrong(&result, &groups);
  resample(&result, &groups, scores->trainee, resampling);
  return result;
}
