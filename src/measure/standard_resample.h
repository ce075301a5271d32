// SPDX-License-Identifier: GPL-3.0-or-later
//
// Resampling for standards. A draw is told as weights: how often each row was drawn. So a figure is
// one function of the data and the weights, and the figure of the data themselves is that at all
// weights 1.
#ifndef BENCHTALLY_MEASURE_STANDARD_RESAMPLE_H
#define BENCHTALLY_MEASURE_STANDARD_RESAMPLE_H

#include <benchtally/standard.h>

// Rows that are drawn together (of one unit) within strata; either may be NULL: each row a unit,
// one stratum. Borrowed.
typedef struct {
  gsize rows;
  const gsize *unit, *stratum;
} BtDrawing;

// Writes its figures (BT_MISSING for those that a draw does not give).
typedef void BtFigures(const double *weight, double *figure, gpointer user_data);

// Draws each stratum's units with replacement, as many as it has, and adds to every estimate of
// `estimate` (n of them, one a figure) the standard error and the percentile limits, in place. One
// that is not estimable stays so; one whose figure is missing in more than 1 draw of 20 stays bare.
void bt__resample(const BtDrawing *drawing, BtResampling resampling, BtFigures *figures,
                  gpointer user_data, BtEstimate *estimate, gsize n);

// Mean and standard deviation of the values that have weight (frequencies); BT_MISSING where the
// weights sum to less than 1, or 2.
typedef struct {
  double weight, mean, sd;
} BtMoments;
BtMoments bt__moments(const double *value, const double *weight, gsize n);

#endif
