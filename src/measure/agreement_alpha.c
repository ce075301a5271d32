// SPDX-License-Identifier: GPL-3.0-or-later
//
// Krippendorff's alpha: 1 less observed over expected disagreement, from the ratings that can be
// paired within a subject.
//
// With n_c ratings of value c among n that can be paired, and m_u of them in subject u,
//   alpha = 1 - (n - 1) sum_u D_u / (m_u - 1) / sum_(c<k) n_c n_k d(c,k),
// where D_u is the sum of d over the pairs within u (Krippendorff 2011, section D, with the ordered
// pairs counted once). The ordinal difference is the square of the distance between mid-ranks, so
// that ordinal and interval are one computation.
#include "measure/agreement_parts.h"

#include <stdlib.h>
#include <string.h>

static const char *const scale_names[] = {[BT_NOMINAL] = "nominal",
                                          [BT_ORDINAL] = "ordinal",
                                          [BT_INTERVAL] = "interval",
                                          [BT_RATIO] = "ratio"};

const char *bt_scale_name(BtScale scale) {
  return scale_names[scale];
}

int bt_scale_from_name(const char *name) {
  for (guint i = 0; i < G_N_ELEMENTS(scale_names); i++) {
    if (g_str_equal(name, scale_names[i]))
      return (int)i;
  }
  return -1;
}

// Subjects with two ratings or more, each as the levels it was given.
typedef struct {
  BtScale scale;
  const double *value; // of the levels, borrowed
  gsize n_levels;
  gsize units;
  gsize *start;   // units + 1: where each begins in `place`
  int *place;     // levels
  double *within; // D_u / (m_u - 1); not for ordinal, whose differences depend on the margins
  double *count;  // scratch, n_levels: n_c
  double *score;  // scratch, n_levels: where a level stands
} Units;

static void units_clear(Units *units) {
  g_free(units->start);
  g_free(units->place);
  g_free(units->within);
  g_free(units->count);
  g_free(units->score);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Units, units_clear)

static double ratio_difference(double a, double b) {
  double sum = a + b;
  return sum > 0 ? (a - b) * (a - b) / (sum * sum) : 0;
}

// Sum of d over the pairs of `m` ratings whose levels stand where `score` says: for squares of
// distances, m times the sum of squares around the mean.
static double within_squares(const double *score, const int *place, gsize m) {
  double mean = 0, squares = 0;
  for (gsize i = 0; i < m; i++)
    mean += score[place[i]] / (double)m;
  for (gsize i = 0; i < m; i++)
    squares += (score[place[i]] - mean) * (score[place[i]] - mean);
  return (double)m * squares;
}

static double within_pairs(const Units *units, const int *place, gsize m) {
  double sum = 0;
  for (gsize i = 0; i < m; i++) {
    for (gsize j = i + 1; j < m; j++)
      sum += units->scale == BT_NOMINAL
                 ? place[i] != place[j]
                 : ratio_difference(units->value[place[i]], units->value[place[j]]);
  }
  return sum;
}

static double disagreement_of(const Units *units, gsize unit) {
  const int *place = units->place + units->start[unit];
  gsize m = units->start[unit + 1] - units->start[unit];
  bool squares = units->scale == BT_ORDINAL || units->scale == BT_INTERVAL;
  double sum = squares ? within_squares(units->score, place, m) : within_pairs(units, place, m);
  return sum / (double)(m - 1);
}

static Units gather(const BtRatings *ratings, const BtLevels *levels, BtScale scale) {
  gsize cells = ratings->subjects * ratings->raters, n = 0;
  Units units = {.scale = scale, .value = levels->value, .n_levels = levels->n};
  units.start = g_new0(gsize, ratings->subjects + 1);
  units.place = g_new(int, cells + 1);
  units.within = g_new0(double, ratings->subjects + 1);
  units.count = g_new0(double, levels->n + 1);
  units.score = g_new0(double, levels->n + 1);
  memcpy(units.score, levels->value, levels->n * sizeof *units.score);
  for (gsize i = 0; i < ratings->subjects; i++) {
    if (bt__rated(ratings, i) < 2)
      continue;
    for (gsize r = 0; r < ratings->raters; r++) {
      int place = levels->place[i * ratings->raters + r];
      if (place >= 0)
        units.place[n++] = place;
    }
    units.start[++units.units] = n;
  }
  for (gsize u = 0; u < units.units; u++)
    units.within[u] = disagreement_of(&units, u);
  return units;
}

// The sum over pairs of levels of n_c n_k d(c,k).
static double expected_sum(const Units *units, double n) {
  double sum = 0, mean = 0;
  if (units->scale == BT_NOMINAL) {
    for (gsize c = 0; c < units->n_levels; c++)
      sum += units->count[c] * (n - units->count[c]) / 2;
    return sum;
  }
  if (units->scale == BT_RATIO) {
    for (gsize c = 0; c < units->n_levels; c++) {
      for (gsize k = c + 1; units->count[c] > 0 && k < units->n_levels; k++)
        sum +=
            units->count[c] * units->count[k] * ratio_difference(units->value[c], units->value[k]);
    }
    return sum;
  }
  for (gsize c = 0; c < units->n_levels; c++)
    mean += units->score[c] * (units->count[c] / n);
  for (gsize c = 0; c < units->n_levels; c++)
    sum += units->count[c] * (units->score[c] - mean) * (units->score[c] - mean);
  return n * sum;
}

// How often each level was given, each subject counted so many times; returns n.
static double count_levels(Units *units, const guint *times) {
  double n = 0;
  memset(units->count, 0, units->n_levels * sizeof *units->count);
  for (gsize u = 0; u < units->units; u++) {
    for (gsize i = units->start[u]; i < units->start[u + 1]; i++)
      units->count[units->place[i]] += times[u];
    n += times[u] * (double)(units->start[u + 1] - units->start[u]);
  }
  return n;
}

static void stand_at_mid_ranks(Units *units) {
  double below = 0;
  for (gsize c = 0; c < units->n_levels; c++) {
    units->score[c] = below + units->count[c] / 2;
    below += units->count[c];
  }
}

// NaN where all ratings are the same.
static double alpha_of(Units *units, const guint *times) {
  double n = count_levels(units, times), observed = 0;
  if (units->scale == BT_ORDINAL)
    stand_at_mid_ranks(units);
  for (gsize u = 0; u < units->units; u++) {
    if (times[u] > 0)
      observed +=
          times[u] * (units->scale == BT_ORDINAL ? disagreement_of(units, u) : units->within[u]);
  }
  return 1 - (n - 1) * observed / expected_sum(units, n);
}

// The value at `share` of sorted values (Hyndman and Fan 1996, definition 7).
static double quantile(const double *sorted, gsize n, double share) {
  double place = (double)(n - 1) * share;
  gsize below = (gsize)place;
  double part = place - (double)below;
  return below + 1 < n ? sorted[below] + part * (sorted[below + 1] - sorted[below]) : sorted[below];
}

// Limits of alpha over draws of subjects. A draw whose ratings are all the same has no alpha and is
// drawn anew, as long as no more than half of the draws were so.
static BtEstimate with_limits(Units *units, BtEstimate estimate, guint draws, guint32 seed) {
  g_autofree guint *times = g_new(guint, units->units);
  g_autofree double *alpha = g_new(double, draws);
  GRand *dice = g_rand_new_with_seed(seed);
  gsize kept = 0;
  for (guint d = 0; d < 2 * draws && kept < draws; d++) {
    memset(times, 0, units->units * sizeof *times);
    for (gsize u = 0; u < units->units; u++)
      times[g_rand_int_range(dice, 0, (gint32)units->units)]++;
    double drawn = alpha_of(units, times);
    if (isfinite(drawn))
      alpha[kept++] = drawn;
  }
  g_rand_free(dice);
  if (kept < draws)
    return estimate;
  qsort(alpha, kept, sizeof *alpha, bt__by_value);
  double tail = (1 - BT_LEVEL) / 2;
  return bt_estimate_limits(estimate.value, quantile(alpha, kept, tail),
                            quantile(alpha, kept, 1 - tail), estimate.n, estimate.why_not);
}

BtEstimate bt_alpha(const BtRatings *ratings, BtScale scale, guint draws, guint32 seed) {
  g_auto(BtLevels) levels = bt__levels(ratings);
  g_auto(Units) units = gather(ratings, &levels, scale);
  gsize n = units.start[units.units];
  if (units.units == 0)
    return bt_not_estimable(BT__NO_TWO, 0);
  if (scale == BT_RATIO && levels.value[0] < 0)
    return bt_not_estimable("a rating is below 0, which a ratio scale has not", n);
  g_autofree guint *once = g_new(guint, units.units);
  for (gsize u = 0; u < units.units; u++)
    once[u] = 1;
  BtEstimate estimate = bt_estimate(alpha_of(&units, once), n, BT__ALL_THE_SAME);
  bool too_many = scale == BT_RATIO && levels.n > BT_ALPHA_RATIO_MOST;
  bool without_exception = estimate.value >= 1;
  if (estimate.why_not || draws == 0 || too_many || without_exception || units.units < 2)
    return estimate;
  return with_limits(&units, estimate, draws, seed);
}
