// SPDX-License-Identifier: GPL-3.0-or-later
//
// Hofstee's compromise between what judges want and what the scores are.
#include <benchtally/standard.h>

#include <stdlib.h>
#include <string.h>

#include "measure/agreement_parts.h"
#include "measure/standard_resample.h"

#define NO_JUDGE      "no judge said what would do"
#define NO_SCORES     "there are no scores"
#define UPSIDE_DOWN   "a least limit lies above its greatest"
#define DOES_NOT_MEET "scores and limits do not meet"

// The share of scores below a mark: at each different score the exact one, in between on the
// straight line, 0 up to the least score and 1 above the greatest.
typedef struct {
  gsize n;
  double *score; // the different ones, ascending
  double *below; // share strictly below each
} Curve;

// The judges' rows stand first, the scores' after them.
typedef struct {
  const BtHofsteeJudge *judge;
  gsize judges, n;
  double *score;      // sorted
  gsize *place;       // of each sorted score in the input
  double *at, *below; // room for a curve
} Compromise;

static int by_score(gconstpointer a, gconstpointer b, gpointer user_data) {
  const double *score = user_data;
  return bt__by_value(&score[*(const gsize *)a], &score[*(const gsize *)b]);
}

static Compromise compromise_of(const BtHofsteeJudge *judge, gsize judges,
                                const BtCohortScores *scores) {
  gsize n = scores->n;
  Compromise all = {.judge = judge,
                    .judges = judges,
                    .n = n,
                    .score = g_new(double, n + 1),
                    .place = g_new(gsize, n + 1),
                    .at = g_new(double, n + 1),
                    .below = g_new(double, n + 1)};
  for (gsize i = 0; i < n; i++)
    all.place[i] = i;
  g_qsort_with_data(all.place, (gint)n, sizeof *all.place, by_score, (gpointer)scores->score);
  for (gsize i = 0; i < n; i++)
    all.score[i] = scores->score[all.place[i]];
  return all;
}

static void compromise_clear(Compromise *all) {
  g_free(all->score);
  g_free(all->place);
  g_free(all->at);
  g_free(all->below);
}

// The curve of the scores, each as often as `weight` (NULL: once) says.
static Curve curve_of(const Compromise *all, const double *weight) {
  Curve curve = {.score = all->at, .below = all->below};
  double below = 0;
  for (gsize i = 0; i < all->n; i++) {
    double times = weight ? weight[all->judges + all->place[i]] : 1;
    if (times == 0)
      continue;
    if (curve.n == 0 || all->score[i] > curve.score[curve.n - 1]) {
      curve.score[curve.n] = all->score[i];
      curve.below[curve.n++] = below;
    }
    below += times;
  }
  for (gsize i = 0; i < curve.n; i++)
    curve.below[i] /= below;
  return curve;
}

// How many of the curve's scores lie at or below the mark.
static gsize scores_up_to(const Curve *curve, double mark) {
  gsize low = 0, high = curve->n;
  while (low < high) {
    gsize middle = (low + high) / 2;
    if (curve->score[middle] <= mark)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

static double curve_at(const Curve *curve, double mark) {
  gsize up_to = scores_up_to(curve, mark);
  if (up_to == 0)
    return 0;
  double score = curve->score[up_to - 1], below = curve->below[up_to - 1];
  if (up_to == curve->n)
    return mark > score ? 1 : below;
  return below + (mark - score) / (curve->score[up_to] - score) * (curve->below[up_to] - below);
}

static double line_at(const BtHofsteeJudge *limits, double mark) {
  double width = limits->most_cut - limits->least_cut;
  double part = width > 0 ? (mark - limits->least_cut) / width : 0;
  return limits->most_not_yet + part * (limits->least_not_yet - limits->most_not_yet);
}

// Means of the judges' limits, each judge as often as `weight` (NULL: once) says.
static BtHofsteeJudge limits_of(const Compromise *all, const double *weight) {
  BtHofsteeJudge limits = {0};
  double judges = 0;
  for (gsize j = 0; j < all->judges; j++) {
    double times = weight ? weight[j] : 1;
    judges += times;
    limits.least_cut += times * all->judge[j].least_cut;
    limits.most_cut += times * all->judge[j].most_cut;
    limits.least_not_yet += times * all->judge[j].least_not_yet;
    limits.most_not_yet += times * all->judge[j].most_not_yet;
  }
  limits.least_cut /= judges;
  limits.most_cut /= judges;
  limits.least_not_yet /= judges;
  limits.most_not_yet /= judges;
  return limits;
}

// The curve less the line never falls, so the least mark at which it is not below 0 can be
// bracketed by the scores, and between two scores both are straight.
static double meeting_mark(const Curve *curve, const BtHofsteeJudge *limits) {
  double low = limits->least_cut, high = limits->most_cut;
  for (gsize i = scores_up_to(curve, low); i < curve->n && curve->score[i] < high; i++) {
    if (curve->below[i] >= line_at(limits, curve->score[i])) {
      high = curve->score[i];
      break;
    }
    low = curve->score[i];
  }
  double under = curve_at(curve, low) - line_at(limits, low);
  double over = curve_at(curve, high) - line_at(limits, high);
  if (low >= curve->score[curve->n - 1] && over > 0)
    return MAX(low, curve->score[curve->n - 1]); // met in the leap above the greatest score
  return over > under ? low + (high - low) * -under / (over - under) : low;
}

static BtHofsteeMeeting find_meeting(const Curve *curve, const BtHofsteeJudge *limits,
                                     double *mark) {
  if (curve_at(curve, limits->least_cut) > limits->most_not_yet) {
    *mark = limits->least_cut;
    return BT_HOFSTEE_TOO_MANY;
  }
  if (curve_at(curve, limits->most_cut) < limits->least_not_yet) {
    *mark = limits->most_cut;
    return BT_HOFSTEE_TOO_FEW;
  }
  *mark = meeting_mark(curve, limits);
  return BT_HOFSTEE_MEETS;
}

static void draw_mark(const double *weight, double *mark, gpointer user_data) {
  const Compromise *all = user_data;
  BtHofsteeJudge limits = limits_of(all, weight);
  Curve curve = curve_of(all, weight);
  find_meeting(&curve, &limits, mark);
}

// The share of scores strictly below the mark, nothing joined.
static double share_below(const Curve *curve, double mark) {
  gsize up_to = scores_up_to(curve, mark);
  if (up_to > 0 && curve->score[up_to - 1] == mark)
    return curve->below[up_to - 1];
  return up_to == curve->n ? 1 : curve->below[up_to];
}

static void find_whole_mark(BtHofstee *result, const Curve *curve) {
  result->whole_cut = BT_MISSING;
  for (double mark = ceil(result->limits.least_cut); mark <= result->limits.most_cut; mark++) {
    double below = share_below(curve, mark);
    if (below < line_at(&result->limits, mark))
      continue;
    result->whole_cut = mark;
    result->whole_not_yet = below;
    return;
  }
}

static const char *why_no_curve(const BtHofsteeJudge *judge, gsize judges, gsize n) {
  if (judges == 0)
    return NO_JUDGE;
  if (n == 0)
    return NO_SCORES;
  for (gsize j = 0; j < judges; j++) {
    if (judge[j].least_cut > judge[j].most_cut || judge[j].least_not_yet > judge[j].most_not_yet)
      return UPSIDE_DOWN;
  }
  return NULL;
}

// Judges among judges, trainees among trainees.
static void resample(BtHofstee *result, Compromise *all, const BtCohortScores *scores,
                     BtResampling resampling) {
  gsize rows = all->judges + all->n;
  g_autofree gsize *unit = g_new(gsize, rows + 1), *stratum = g_new(gsize, rows + 1);
  for (gsize i = 0; i < rows; i++) {
    stratum[i] = i >= all->judges;
    gsize place = stratum[i] ? i - all->judges : i;
    unit[i] = stratum[i] && scores->trainee ? scores->trainee[place] : place;
  }
  BtDrawing drawing = {rows, unit, stratum};
  bt__resample(&drawing, resampling, draw_mark, all, &result->cut, 1);
}

BtHofstee bt_hofstee(const BtHofsteeJudge *judge, gsize judges, const BtCohortScores *scores,
                     BtResampling resampling) {
  BtHofstee result = {.why_not = why_no_curve(judge, judges, scores->n), .whole_cut = BT_MISSING};
  result.cut = bt_not_estimable(result.why_not, scores->n);
  if (result.why_not)
    return result;
  Compromise all = compromise_of(judge, judges, scores);
  result.limits = limits_of(&all, NULL);
  Curve curve = curve_of(&all, NULL);
  double mark = 0;
  result.meeting = find_meeting(&curve, &result.limits, &mark);
  find_whole_mark(&result, &curve);
  if (result.meeting == BT_HOFSTEE_MEETS) {
    result.cut = bt_estimate(mark, scores->n, DOES_NOT_MEET);
    result.not_yet = line_at(&result.limits, mark);
    resample(&result, &all, scores, resampling);
  } else {
    result.cut = bt_not_estimable(DOES_NOT_MEET, scores->n);
    result.instead = mark;
  }
  compromise_clear(&all);
  return result;
}
