// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the files of the mixed model share: the penalised least squares system of Bates, Maechler,
// Bolker and Walker (2015), section 3, for one value of the covariance factors.
//
// Group effects are u = Lambda v with v of variance sigma^2 I. The columns of the system are one a
// group effect, term by term (start and slope of a group side by side), then those of x, made
// orthonormal: x = Q R. With W = [Z Q] and S = diag(Lambda, I) its matrix is S' W'W S + D, D being
// 1 for every v that is penalised and 0 for what is free.
#ifndef BENCHTALLY_MEASURE_MIXED_PARTS_H
#define BENCHTALLY_MEASURE_MIXED_PARTS_H

#include <benchtally/mixed.h>

#include "measure/mixed_factor.h"

#include <gsl/gsl_matrix.h>
#include <suitesparse/cs.h>

typedef struct {
  gsize groups, first; // its first column of the system
  int width;
  bool fixed;
  double slope_unit;   // the slopes' root mean square, which they are divided by here
  double lambda[2][2]; // covariance factor of a group: lower triangle; [0][0] is 1 when fixed
} BtMixedBlock;

struct BtMixedEngine {
  BtMixedMethod method;
  gsize rows, columns, size; // size: columns of the system
  gsize blocks, lead;        // lead: the block whose columns come first; `blocks` for none
  BtMixedBlock *block;
  guint *block_of; // the block of each column of the system; `blocks` for those of x
  gsl_matrix *r;   // of x = Q R; NULL without columns
  double *y;       // its projection on x taken off ...
  double *start;   // ... which is Q times this
  double total_ss; // of y, about its mean

  cs_dl *design, *gram; // W, W'W
  double *moment;       // W'y
  cs_dl *system;
  cs_long_t *diagonal; // where each column of it holds its own row
  BtMixedFactor *factor;
  double *solution;       // v and b; of x without `start`
  double *scratch, *told; // of as many numbers as the system has columns, and rows

  double residual_ss;  // of the rows alone
  double penalised;    // with the squares of v
  double determinants; // the criterion but for the part of the residuals
  double criterion;
};

// Lays the system out. NULL with *why_not where it cannot be: columns that tell the same.
BtMixedEngine *bt__mixed_engine(const BtMixedData *data, BtMixedMethod method,
                                const char **why_not);
void bt__mixed_engine_free(BtMixedEngine *engine);

// Solves the system at the covariance factors as they stand in the blocks. False: it has no
// solution.
bool bt__mixed_solve(BtMixedEngine *engine);
// Whether some free column cannot be told from others, in the system as solved.
bool bt__mixed_confounded(const BtMixedEngine *engine);
// Rows less the columns that are free, for REML; all rows for ML.
double bt__mixed_df(const BtMixedEngine *engine);
double bt__mixed_variance(const BtMixedEngine *engine); // of the residuals

// The inverse's rows and columns of x: columns x columns. Caller frees with g_free.
double *bt__mixed_inverse_of_x(const BtMixedEngine *engine);

// Finds the covariance factors at the least criterion and leaves the system solved there. False: it
// could not be solved.
bool bt__mixed_search(BtMixedEngine *engine);

// A component whose standard deviation is given.
typedef struct {
  BtMixedComponent component;
  gsize block;
  double sd; // in units of the system: slopes by their `slope_unit`
} BtMixedPin;

// The least criterion with a component so. The search begins at the factors as they stand and
// leaves them where it ends.
double bt__mixed_search_pinned(BtMixedEngine *engine, const BtMixedPin *pin);

#endif
