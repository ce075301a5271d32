// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_MEASURE_CURVE_PARTS_H
#define BENCHTALLY_MEASURE_CURVE_PARTS_H

#include <benchtally/curve.h>

// Attempts with values, and the clock of the form: both curves are
// plateau - (plateau - start) exp(-rate t), with t = k - 1 or ln k.
typedef struct {
  gsize n;
  const double *value;
  const double *t; // 0 at the first attempt of all
  double *left;    // n: scratch
  double scale;    // the greatest value, signs aside
} BtCurveData;

// Akaike's criterion for small samples, the spread being one of the `figures`; not estimable where
// there are no more values than that and one. `perfect`: there is no spread.
BtEstimate bt__aicc(double residual_ss, gsize n, gsize figures, bool perfect);
// Whether these residuals are rounding alone.
bool bt__curve_perfect(const BtCurveData *data, double residual_ss);

// A fit that says why there is none, in each of its figures.
BtCurveFit bt__curve_refused(const char *why_not, gsize n);

// One of the two curves. Five values at the least, not all the same, at five different times.
BtCurveFit bt__curve_fit(const BtCurveData *data, double least, double most);

// The curve at a given rate, which leaves least squares linear.
typedef struct {
  double rate;
  double start, plateau, residual_ss;
  double start_share, plateau_share; // of their variance in that of a residual
} BtCurveSlice;
BtCurveSlice bt__curve_slice(const BtCurveData *data, double rate);

// The first time after the first attempt, and the last.
void bt__curve_times(const BtCurveData *data, double *second, double *last);

// Rates looked at, evenly in their logarithms.
#define BT__CURVE_SLICES 60
typedef struct {
  BtCurveSlice slice[BT__CURVE_SLICES];
  int best; // the least sum of squares
} BtCurveSearch;
BtCurveSearch bt__curve_search(const BtCurveData *data);

// The ends of the region in which the sum of squares is at most `most_ss`.
typedef struct {
  double rate_low, rate_high, start_low, start_high, plateau_low, plateau_high;
  bool open_low, open_high; // the region goes on beyond the rates looked at
} BtCurveRegion;
BtCurveRegion bt__curve_region(const BtCurveData *data, const BtCurveSearch *search,
                               double most_ss);

#endif
