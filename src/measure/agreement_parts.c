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

// Ratings are mostly small whole numbers, whose places are looked up; all others are sorted.
#define SMALL_WHOLE 256

static bool is_small_whole(double value) {
  return value >= 0 && value < SMALL_WHOLE && value == (double)(int)value;
}

// Fills the levels from small whole numbers; false, with nothing done, when some are not.
static bool look_up(const BtRatings *ratings, BtLevels *levels) {
  gsize cells = ratings->subjects * ratings->raters;
  int place[SMALL_WHOLE] = {0};
  for (gsize i = 0; i < cells; i++) {
    if (bt_is_missing(ratings->cell[i]))
      continue;
    if (!is_small_whole(ratings->cell[i]))
      return false;
    place[(int)ratings->cell[i]] = 1;
  }
  for (int value = 0; value < SMALL_WHOLE; value++) {
    if (place[value] == 0)
      continue;
    place[value] = (int)levels->n;
    levels->value[levels->n++] = value;
  }
  for (gsize i = 0; i < cells; i++)
    levels->place[i] = bt_is_missing(ratings->cell[i]) ? -1 : place[(int)ratings->cell[i]];
  return true;
}

// Where `value`, which is among them, stands in `n` ascending values.
static int place_of(const double *sorted, gsize n, double value) {
  const double *found = bsearch(&value, sorted, n, sizeof *sorted, bt__by_value);
  return (int)(found - sorted);
}

static void sort_out(const BtRatings *ratings, BtLevels *levels) {
  gsize cells = ratings->subjects * ratings->raters, given = 0;
  for (gsize i = 0; i < cells; i++) {
    if (!bt_is_missing(ratings->cell[i]))
      levels->value[given++] = ratings->cell[i];
  }
  qsort(levels->value, given, sizeof *levels->value, bt__by_value);
  for (gsize i = 0; i < given; i++) {
    if (levels->n == 0 || levels->value[i] != levels->value[levels->n - 1])
      levels->value[levels->n++] = levels->value[i];
  }
  for (gsize i = 0; i < cells; i++)
    levels->place[i] =
        bt_is_missing(ratings->cell[i]) ? -1 : place_of(levels->value, levels->n, ratings->cell[i]);
}

BtLevels bt__levels(const BtRatings *ratings) {
  gsize cells = ratings->subjects * ratings->raters;
  BtLevels levels = {.value = g_new(double, MAX(cells, SMALL_WHOLE)),
                     .place = g_new(int, cells + 1)};
  if (!look_up(ratings, &levels))
    sort_out(ratings, &levels);
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
