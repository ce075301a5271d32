// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_MEASURE_SPREAD_H
#define BENCHTALLY_MEASURE_SPREAD_H

#include <glib.h>

// Mean and spread of finite values by the corrected two-pass way (Chan, Golub and LeVeque 1983,
// Am Stat 37:242-247, formula 1.7), sums in long double. All 0 without values.
typedef struct {
  gsize n;
  double mean;
  double sum_of_squares; // about the mean
  double variance;       // of a sample (n - 1); 0 of fewer than two
  double sd;
} BtSpread;
BtSpread bt__spread(const double *value, gsize n);

// How a value goes with the one before it: the sum of products of neighbours about the mean over
// the sum of squares (Box and Jenkins 1976, section 2.1.5). 0 where nothing varies.
double bt__autocorrelation(const double *value, gsize n);

#endif
