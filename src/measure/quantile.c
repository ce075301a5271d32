// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/measure.h>

#include <benchtally/base.h>

#include <stdlib.h>

static int by_value(const void *a, const void *b) {
  gint64 x = *(const gint64 *)a, y = *(const gint64 *)b;
  return (x > y) - (x < y);
}

gint64 bt_quantile_without(const gint64 *sorted, gsize n, gsize without, gint64 num, gint64 den) {
  gsize left = without < n ? n - 1 : n;
  gint64 place = (gint64)(left - 1) * num; // in parts of 1/den
  gsize below = (gsize)(place / den);
  gint64 part = place % den;
  gint64 low = sorted[below + (below >= without)];
  if (part == 0)
    return low;
  gint64 high = sorted[below + 1 + (below + 1 >= without)];
  // One rounding: of the whole value, not of the step added to the lower one.
  return bt_round_ratio(low * (den - part) + high * part, 1, den);
}

gint64 bt_quantile(gint64 *values, gsize n, gint64 num, gint64 den) {
  qsort(values, n, sizeof *values, by_value);
  return bt_quantile_without(values, n, n, num, den);
}
