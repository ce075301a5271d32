// SPDX-License-Identifier: GPL-3.0-or-later
//
// Trend of a few values: the median slope (Theil 1950, Sen 1968) and Kendall's exact test.
#include <benchtally/measure.h>

#include <benchtally/base.h>

#include <stdlib.h>
#include <string.h>

#define PAIRS_MOST (BT_TREND_MOST * (BT_TREND_MOST - 1) / 2)

// Slopes as fractions of a difference of values over a difference of places, compared exactly.
typedef struct {
  gint64 rise;
  int run; // above 0
} Slope;

static int by_slope(const void *a, const void *b) {
  const Slope *x = a, *y = b;
  gint64 left = x->rise * y->run, right = y->rise * x->run;
  return (left > right) - (left < right);
}

static gint64 median_slope(const gint64 *values, int n) {
  Slope slopes[PAIRS_MOST];
  int pairs = 0;
  for (int i = 0; i < n; i++) {
    for (int j = i + 1; j < n; j++)
      slopes[pairs++] = (Slope){values[j] - values[i], j - i};
  }
  if (pairs == 0)
    return 0;
  qsort(slopes, (gsize)pairs, sizeof *slopes, by_slope);
  const Slope *low = &slopes[(pairs - 1) / 2], *high = &slopes[pairs / 2];
  return bt_round_ratio(low->rise * high->run + high->rise * low->run, 1,
                        2 * (gint64)low->run * high->run);
}

static int kendall_s(const gint64 *values, int n) {
  int s = 0;
  for (int i = 0; i < n; i++) {
    for (int j = i + 1; j < n; j++)
      s += (values[j] > values[i]) - (values[j] < values[i]);
  }
  return s;
}

// Counting arrangements by inversions. The generating function over all arrangements of n values of
// which t are equal, t' others are equal ... is [n]!/([t]![t']!...) with [k]! the product of
// 1 + q + ... + q^(j-1) for j up to k (MacMahon; Stanley, Enumerative Combinatorics 1, 1.7.1).
// 20! is below 2^63, so plain integers hold every count.

static void multiply(gint64 *counts, int top, int k) {
  for (int i = top; i >= 0; i--) {
    gint64 sum = 0;
    for (int j = 0; j < k && j <= i; j++)
      sum += counts[i - j];
    counts[i] = sum;
  }
}

static void divide(gint64 *counts, int top, int k) {
  for (int i = 0; i <= top; i++) {
    for (int j = 1; j < k && j <= i; j++)
      counts[i] -= counts[i - j];
  }
}

// Divides by [t]! for each group of t equal values; returns how many pairs are equal.
static int divide_ties(gint64 *counts, int top, const gint64 *values, int n) {
  int tied_pairs = 0;
  for (int i = 0; i < n; i++) {
    int before = 0;
    for (int j = 0; j < i; j++)
      before += values[j] == values[i];
    if (before > 0) // the (before + 1)th of its group brings the factor [before + 1]
      divide(counts, top, before + 1);
    tied_pairs += before;
  }
  return tied_pairs;
}

static int by_chance(const gint64 *values, int n, int s) {
  gint64 counts[PAIRS_MOST + 1];
  memset(counts, 0, sizeof counts);
  counts[0] = 1;
  int pairs = n * (n - 1) / 2;
  for (int k = 2; k <= n; k++)
    multiply(counts, pairs, k);
  int unequal = pairs - divide_ties(counts, pairs, values, n);
  gint64 all = 0, as_steady = 0;
  for (int inversions = 0; inversions <= unequal; inversions++) {
    all += counts[inversions];
    if (abs(unequal - 2 * inversions) >= abs(s))
      as_steady += counts[inversions];
  }
  // In parts of 2^63 / 1000 at most: first thousandths, then what is left rounds up.
  g_assert(all > 0); // one order at the least has no inversion
  if (all < 1000000)
    return (int)((as_steady * 1000 + all - 1) / all);
  gint64 step = all / 1000;
  return (int)MIN(1000, as_steady / step + (as_steady % step != 0));
}

BtTrend bt_trend(const gint64 *values, gsize n) {
  gsize skip = n > BT_TREND_MOST ? n - BT_TREND_MOST : 0;
  const gint64 *last = values + skip;
  int count = (int)(n - skip);
  BtTrend trend = {.n = count,
                   .first = last[0],
                   .last = last[count - 1],
                   .slope = median_slope(last, count),
                   .s = kendall_s(last, count)};
  trend.by_chance_permille = by_chance(last, count, trend.s);
  return trend;
}

bool bt_trend_is_clear(const BtTrend *trend) {
  return trend->by_chance_permille <= 50;
}
