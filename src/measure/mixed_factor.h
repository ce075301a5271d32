// SPDX-License-Identifier: GPL-3.0-or-later
//
// The factor of a mixed model's system. Its leading columns belong to groups that no row shares
// (those of the term with the most): they are eliminated group by group, which leaves the Schur
// complement of the other columns, few of them as a rule, to a sparse Cholesky factorisation with
// a fill-reducing order. This is the way of Bates's blocked factors: time grows with the rows, not
// with the square of the groups.
#ifndef BENCHTALLY_MEASURE_MIXED_FACTOR_H
#define BENCHTALLY_MEASURE_MIXED_FACTOR_H

#include <stdbool.h>

#include <glib.h>
#include <suitesparse/cs.h>

typedef struct BtMixedFactor BtMixedFactor;

// For systems of this pattern: symmetric, all of it, rows sorted, with `groups` groups of `width`
// leading columns. Caller frees with bt__mixed_factor_free.
BtMixedFactor *bt__mixed_factor_new(const cs_dl *system, gsize groups, int width);
void bt__mixed_factor_free(BtMixedFactor *factor); // NULL is allowed

// Factorises these values; the system must live as long as they are asked for. False: the system is
// not positive definite.
bool bt__mixed_factorise(BtMixedFactor *factor, const cs_dl *system);

double bt__mixed_log_determinant(const BtMixedFactor *factor);
// How much of a column's square is its own, beside the columns eliminated before it.
double bt__mixed_own_share(const BtMixedFactor *factor, gsize column);
// x = system^-1 right.
void bt__mixed_factor_solve(const BtMixedFactor *factor, const double *right, double *x);

// A block of the inverse: of `width` columns from `column`.
void bt__mixed_inverse_block(BtMixedFactor *factor, gsize column, int width, double inverse[2][2]);
// k' system^-1 k for weights k at these columns, which may repeat.
double bt__mixed_quadratic(const BtMixedFactor *factor, const gsize *column, const double *weight,
                           gsize n);

#endif
