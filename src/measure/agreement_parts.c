// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/agreement_parts.h"

#include <stdlib.h>
#include <string.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

// A standard error below this share of 1 is rounding, not error: coefficients are of the order
// of 1.
#define SE_LEAST 1e-9

BtEstimate bt__estimate_cut(double value, double se, double df, double least, double most, gsize n,
                            const char *why_not) {
  BtEstimate estimate = bt_estimate(value, n, why_not);
  if (estimate.why_not || !isfinite(se) || se < SE_LEAST || !(df > 0))
    return estimate;
  double half = qt((1 - BT_LEVEL) / 2, df, FALSE, FALSE) * se;
  estimate =
      bt_estimate_limits(value, MAX(value - half, least), MIN(value + half, most), n, why_not);
  estimate.has_se = estimate.has_limits;
  estimate.se = estimate.has_limits ? se : 0;
  return estimate;
}

int bt__by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

// The given ratings in ascending order, each value once; caller frees.
static double *different_values(const BtRatings *ratings, gsize *n) {
  gsize cells = ratings->subjects * ratings->raters, given = 0;
  double *value = g_new(double, cells + 1);
  for (gsize i = 0; i < cells; i++) {
    if (!bt_is_missing(ratings->cell[i]))
      value[given++] = ratings->cell[i];
  }
  qsort(value, given, sizeof *value, bt__by_value);
  *n = 0;
  for (gsize i = 0; i < given; i++) {
    if (*n == 0 || value[i] != value[*n - 1])
      value[(*n)++] = value[i];
  }
  return value;
}

BtLevels bt__levels(const BtRatings *ratings) {
  gsize cells = ratings->subjects * ratings->raters;
  BtLevels levels = {.place = g_new(int, cells + 1)};
  levels.value = different_values(ratings, &levels.n);
  for (gsize i = 0; i < cells; i++) {
    const double *found = bt_is_missing(ratings->cell[i])
                              ? NULL
                              : bsearch(&ratings->cell[i], levels.value, levels.n,
                                        sizeof *levels.value, bt__by_value);
    levels.place[i] = found ? (int)(found - levels.value) : -1;
  }
  return levels;
}

void bt__levels_clear(BtLevels *levels) {
  g_clear_pointer(&levels->value, g_free);
  g_clear_pointer(&levels->place, g_free);
}

gsize bt__rated(const BtRatings *ratings, gsize subject) {
  gsize rated = 0;
  for (gsize r = 0; r < ratings->raters; r++)
    rated += !bt_is_missing(ratings->cell[subject * ratings->raters + r]);
  return rated;
}

double *bt__complete_rows(const BtRatings *ratings, gsize *complete) {
  gsize width = ratings->raters;
  double *rows = g_new(double, ratings->subjects *width + 1);
  *complete = 0;
  for (gsize i = 0; i < ratings->subjects; i++) {
    if (bt__rated(ratings, i) == width)
      memcpy(rows + (*complete)++ * width, ratings->cell + i * width, width * sizeof *rows);
  }
  return rows;
}
