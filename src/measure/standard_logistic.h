// SPDX-License-Identifier: GPL-3.0-or-later
//
// Logistic regression of a yes or no on one figure.
#ifndef BENCHTALLY_MEASURE_STANDARD_LOGISTIC_H
#define BENCHTALLY_MEASURE_STANDARD_LOGISTIC_H

#include <stdbool.h>

#include <glib.h>

typedef struct {
  bool converged;
  double intercept, slope;                     // of the log odds
  double var_intercept, var_slope, covariance; // from the information at the end
} BtLogistic;

// Fits `yes` on `x`, each row as often as `weight` says, by Newton's steps. `firth` takes the
// maximum of the likelihood times the root of the information's determinant (Firth 1993), which
// exists even where the groups are apart; without it the caller sees to it that they overlap.
// `start` is a fit to begin from, for a draw, whose digits matter less; NULL for none.
BtLogistic bt__logistic(const double *x, const bool *yes, const double *weight, gsize n, bool firth,
                        const BtLogistic *start);

#endif
