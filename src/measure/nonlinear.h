// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_MEASURE_NONLINEAR_H
#define BENCHTALLY_MEASURE_NONLINEAR_H

#include <stdbool.h>

#include <glib.h>

// What is fitted: at the parameters `b`, fills the residuals (curve less value, one a row) and,
// unless it is NULL, their derivatives (rows x parameters, row by row). False: `b` lies where the
// curve is not defined.
typedef bool BtResiduals(const double *b, double *residual, double *derivative, gconstpointer data);

typedef struct {
  const char *why_not; // NULL: fitted; else static, completes "not estimable: ..."
  gsize rows, parameters;
  double *b;          // parameters; where the search ended when it found nothing
  double *covariance; // parameters x parameters; 0 where df is 0
  double df, residual_ss, residual_sd;
} BtNonlinear;

// Least squares from `start` (copied) by cminpack's lmder (Levenberg-Marquardt: More 1978), then
// Gauss-Newton steps as long as they help. Settled when the residuals are all but square to the
// curve's tangent plane (relative offset below 0.001; Bates and Watts 1988, section 2.2.3). Never
// NULL; caller frees with bt__nonlinear_free.
BtNonlinear *bt__nonlinear(BtResiduals *fill, gconstpointer data, gsize rows, const double *start,
                           gsize parameters);
void bt__nonlinear_free(BtNonlinear *fit); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtNonlinear, bt__nonlinear_free)

#endif
