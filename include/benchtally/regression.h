// SPDX-License-Identifier: GPL-3.0-or-later
//
// Linear least squares and one-way analysis of variance.
#ifndef BENCHTALLY_REGRESSION_H
#define BENCHTALLY_REGRESSION_H

#include <benchtally/estimate.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

// Every BtEstimate here is normal-theory exact: limits by Student's t with the residual degrees of
// freedom.
typedef struct {
  const char *why_not; // NULL: fitted; else static, completes "not estimable: ...", rest is 0
  gsize rows, columns;
  BtEstimate *b;      // columns. n: rows. Without error where no degrees of freedom are left
  double *covariance; // columns x columns, of b; 0 where no degrees of freedom are left
  double df;          // rows - columns
  double residual_ss;
  double residual_sd; // 0 without degrees of freedom
  double model_ss;    // about the mean when x holds the constant, else about 0
  double r_squared;   // model_ss / (model_ss + residual_ss); 0 when both are 0
  double f, f_df;     // of all columns but the constant, on f_df and df degrees of freedom
  double p;           // chance of such an f without any effect; f and p are 0 where there is none
} BtRegression;

// Fits y = X b + e by least squares: Householder QR, refined with residuals in long double
// (Bjorck 1967) as long as that helps. `x` is rows x columns, row by row; `constant` tells that
// some sum of its columns is one throughout. Not estimable: no rows, fewer rows than columns,
// columns that cannot be told apart. Never NULL; caller frees with bt_regression_free.
BT_API BT_MUST_USE BtRegression *bt_regression(const double *y, const double *x, gsize rows,
                                               gsize columns, bool constant);
BT_API void bt_regression_free(BtRegression *fit); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtRegression, bt_regression_free)

// The straight line y = b[0] + b[1] x. Never NULL; caller frees with bt_regression_free.
BT_API BT_MUST_USE BtRegression *bt_regression_line(const double *y, const double *x, gsize rows);
// The mean of y at the row `x` of values, with limits of the mean there. n: rows.
BT_API BtEstimate bt_regression_at(const BtRegression *fit, const double *x);

typedef struct {
  const char *why_not; // NULL: estimated; else static, completes "not estimable: ...", rest is 0
  gsize n, groups;
  double between_df, within_df;
  double between_ss, within_ss, between_ms, within_ms;
  double f, p; // 0 where nothing varies within the groups
  double r_squared;
} BtAnova;

// One-way analysis of variance: `group[i]`, below `groups`, is the group of value[i]. Groups
// without values do not count. Not estimable: fewer than two groups, no more values than groups,
// all values the same.
BT_API BtAnova bt_anova(const double *value, const gsize *group, gsize n, gsize groups);

G_END_DECLS
#endif
