// SPDX-License-Identifier: GPL-3.0-or-later
//
// Statistics over results. Pure functions over whole numbers (thousandths).
#ifndef BENCHTALLY_MEASURE_H
#define BENCHTALLY_MEASURE_H

#include <stdbool.h>

#include <glib.h>

#include <benchtally/error.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

// The quantile at num/den (0 <= num <= den, den > 0) of `n` >= 1 values in any order: linear
// between the order statistics around (n - 1) num / den (Hyndman and Fan 1996, definition 7; what
// spreadsheets call inclusive), rounded half away from zero. `values` is sorted in place. The
// definition by itself; reports, which leave a person out of the comparison, use the next one.
BT_API gint64 bt_quantile(gint64 *values, gsize n, gint64 num, gint64 den);

// The same of `n` values that are sorted already, leaving out the one at index `without` (n: none
// is left out, and n >= 1; else n >= 2). For a person's place among the others.
BT_API gint64 bt_quantile_without(const gint64 *sorted, gsize n, gsize without, gint64 num,
                                  gint64 den);

#define BT_TREND_MOST 20 // attempts looked at, the latest ones; exact counting holds up to here

// How a row of values, one an attempt, changes.
typedef struct {
  int n;              // values looked at: the last BT_TREND_MOST at most
  gint64 first, last; // of those
  gint64 slope;       // Theil-Sen: the median of the slopes between all pairs, per attempt
  int s;              // Kendall: pairs that rise less pairs that fall
  // The probability that a row of these very values in random order is as steady or more, in either
  // direction, in thousandths, rounded up; 1000 for fewer than two different values.
  int by_chance_permille;
} BtTrend;

// The trend of `n` >= 1 values in order of attempt. With fewer than two the slope is 0.
BT_API BtTrend bt_trend(const gint64 *values, gsize n);

// Whether the trend is worth a word: at most 1 in 20 by chance. Fewer than five values never are:
// even four that rise without a break come so, or fall so, by chance once in 12.
BT_API bool bt_trend_is_clear(const BtTrend *trend);

G_END_DECLS
#endif
