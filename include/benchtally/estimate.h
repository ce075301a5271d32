// SPDX-License-Identifier: GPL-3.0-or-later
//
// A statistic as it is told: a figure with its uncertainty, or the reason why there is none. What
// every module of the measure layer gives back.
#ifndef BENCHTALLY_ESTIMATE_H
#define BENCHTALLY_ESTIMATE_H

#include <math.h>
#include <stdbool.h>

#include <glib.h>

#include <benchtally/export.h>

G_BEGIN_DECLS

#define BT_LEVEL 0.95 // of every interval, unless its function says otherwise

// Never holds a number that is not finite. `why_not` is NULL when `value` was estimated; else it
// completes the sentence "not estimable: ...", is static, and the rest is 0 (n apart).
typedef struct {
  const char *why_not;
  gsize n; // what it was estimated from: subjects, sessions, attempts ... as its function says
  double value;
  bool has_se, has_limits;
  double se;        // standard error
  double low, high; // limits of the interval at BT_LEVEL
} BtEstimate;

// An estimate of nothing, with its reason (static text).
BT_API BtEstimate bt_not_estimable(const char *why_not, gsize n);
// A bare figure. One that is not finite becomes not estimable, for `why_not`, as in all three.
BT_API BtEstimate bt_estimate(double value, gsize n, const char *why_not);
// With its standard error and the normal interval around it; a standard error that is not finite or
// below 0 leaves the figure bare.
BT_API BtEstimate bt_estimate_se(double value, double se, gsize n, const char *why_not);
// The same with the interval of Student's t on `df` degrees of freedom; bare where df is not above
// 0.
BT_API BtEstimate bt_estimate_t(double value, double se, double df, gsize n, const char *why_not);
// With limits, which may lie askew; limits that are not finite leave the figure bare.
BT_API BtEstimate bt_estimate_limits(double value, double low, double high, gsize n,
                                     const char *why_not);

// A rating, score or time that was not given. Data in tables of double mark it so; results never.
#define BT_MISSING NAN
static inline bool bt_is_missing(double value) {
  return isnan(value);
}

// Subjects by raters (or persons by items): `cell` holds subjects x raters values row by row,
// BT_MISSING where there is none. Plain data: whoever made it owns it.
typedef struct {
  gsize subjects, raters;
  const double *cell;
} BtRatings;

G_END_DECLS
#endif
