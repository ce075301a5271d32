// SPDX-License-Identifier: GPL-3.0-or-later
//
// Linear mixed models: y = X b + Z u + e with the group effects u and the residuals e normal, by
// restricted likelihood (REML) or by likelihood (ML). Any number of groupings, crossed or nested,
// with holes; each gives its groups a start of their own, or a start and a slope.
#ifndef BENCHTALLY_MIXED_H
#define BENCHTALLY_MIXED_H

#include <benchtally/estimate.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

// How the rows are grouped: by trainee, by assessor, by assessor within a session (number the
// groups of a nested factor through all nests).
typedef struct {
  gsize groups;        // of them; each has a row at least
  const gsize *of;     // the group of each row, below `groups`
  const double *slope; // NULL: groups differ in their start only. Else a value a row (attempts
                       // before, days): they differ in start and slope, which may correlate
  bool fixed;          // each group's own mean, free: no variance, no shrinking. With a start only;
                       // the columns of x must then hold no constant
} BtMixedTerm;

// Plain data: whoever made it owns it.
typedef struct {
  gsize rows;
  const double *y; // finite
  gsize columns;
  const double *x; // rows x columns, row by row; a column of ones is the mean
  gsize terms;
  const BtMixedTerm *term;
} BtMixedData;

typedef enum { BT_MIXED_REML, BT_MIXED_ML } BtMixedMethod;

// What was found for one term. Of a fixed one the variances are 0.
typedef struct {
  gsize groups;
  int width; // effects a group: 1 start, 2 start and slope
  double variance, slope_variance, covariance;
  double correlation;      // of start and slope; 0 where either has no variance
  bool at_boundary;        // a variance is 0, or the correlation -1 or 1
  double *effect;          // groups x width: conditional means of the group effects (predictions,
                           // shrunk towards 0); of a fixed term the estimates
  double *effect_variance; // groups x width x width: of effect minus true effect, with the error
                           // of b in it
} BtMixedPart;

typedef struct BtMixedEngine BtMixedEngine;

typedef struct {
  const char *why_not; // NULL: fitted; else static, completes "not estimable: ...", rest is 0
  gsize rows;
  double criterion; // -2 log (restricted) likelihood at the optimum
  double residual_variance;
  bool singular; // some part is at its boundary
  gsize columns;
  double *b, *b_covariance; // columns; columns x columns
  gsize terms;
  BtMixedPart *part;
  BtMixedEngine *engine; // private
} BtMixed;

// Fits the model. Profiled criterion after Bates, Maechler, Bolker and Walker (2015), section 3,
// minimised over the relative covariance factors; time and memory grow with the rows as long as all
// terms but one have few groups. ML ends less near its optimum (1e-7 of the variances) and takes a
// solution a trial for every column and fixed group. Never NULL. Not estimable: no rows or one,
// values all the same, as many groups as rows, no residual left, columns or fixed groups that
// cannot be told apart. Caller frees with bt_mixed_free.
BT_API BT_MUST_USE BtMixed *bt_mixed_fit(const BtMixedData *data, BtMixedMethod method);
BT_API void bt_mixed_free(BtMixed *fit); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtMixed, bt_mixed_free)

// A part of a sum: `weight` times a column's b (term -1, its number in `index`), or times a group's
// effect (the term, the group in `index`, `slope` for its slope).
typedef struct {
  int term;
  gsize index;
  bool slope;
  double weight;
} BtMixedWeight;

// The sum of these parts, with the standard error of predicting it: a trainee's own line at an
// attempt, the difference of two assessors. n: rows.
BT_API BtEstimate bt_mixed_sum(const BtMixed *fit, const BtMixedWeight *weights, gsize n);

typedef enum { BT_MIXED_START, BT_MIXED_SLOPE, BT_MIXED_RESIDUAL } BtMixedComponent;

// The standard deviation of the starts or slopes of a term, or of the residuals (`term` is then not
// looked at), with the limits of its profile likelihood: those values that the data make no more
// than chi-square's 95 % point worse than the best (Bates and others 2015, section 5.1). The lower
// limit is 0 where the data allow none at all. It takes some thousand fits: for tables of hundreds
// of rows, not of thousands. n: groups, or rows.
BT_API BtEstimate bt_mixed_sd(const BtMixed *fit, BtMixedComponent component, gsize term);

G_END_DECLS
#endif
