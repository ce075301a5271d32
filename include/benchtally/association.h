// SPDX-License-Identifier: GPL-3.0-or-later
//
// Whether two columns of numbers rise together: speed against quality, a score against its
// attempt. Ranks only, so that no shape is assumed. Pure; arrays are borrowed.
#ifndef BENCHTALLY_ASSOCIATION_H
#define BENCHTALLY_ASSOCIATION_H

#include <benchtally/estimate.h>

G_BEGIN_DECLS

// Pairs of subjects, by how their two values lie (Kendall 1970, Rank Correlation Methods, ch. 3).
typedef struct {
  gsize n;                       // subjects with both values
  gint64 concordant, discordant; // pairs in the same order in both, in opposite order
  gint64 tied_x, tied_y,
      tied; // pairs equal in x, in y, in both (which stand in the first two as well)
} BtPairs;

// A coefficient with the chance of one as far from 0, in either direction, were there no
// association.
typedef struct {
  BtEstimate estimate;
  double by_chance; // two-sided p; 1 where nothing could be estimated
  bool exact;       // from every arrangement, not from an approximation
} BtAssociation;

// Counts the pairs of `n` subjects; one that lacks a value is left out. In n log n steps (Knight
// 1966, J Am Stat Assoc 61:436-439).
BT_API BtPairs bt_pairs(const double *x, const double *y, gsize n);

// Kendall's tau-b, which allows for ties. Exact chance up to 50 subjects without ties (Kendall 1938
// recurrence); else normal, with the variance of ties (Kendall 1970, equation 4.3). Standard error
// sqrt(0.437 / (n - 4)) on Fisher's scale (Fieller, Hartley and Pearson 1957), given as limits.
BT_API BtAssociation bt_kendall_tau(const double *x, const double *y, gsize n);

// Spearman's rho: the correlation of the ranks, ties sharing theirs. Exact chance up to 9 subjects
// without ties (every arrangement); else by Student's t with n - 2. Limits on Fisher's scale with
// standard error sqrt((1 + rho^2 / 2) / (n - 3)) (Bonett and Wright 2000, Psychometrika 65:23-28).
BT_API BtAssociation bt_spearman_rho(const double *x, const double *y, gsize n);

// Goodman and Kruskal's gamma: concordant less discordant pairs, over both.
BT_API BtEstimate bt_gamma(const BtPairs *pairs);
// Somers' d of y given x: the same over all pairs that differ in x. For x given y exchange them.
BT_API BtEstimate bt_somers_d(const BtPairs *pairs);

// The ranks of `n` values, none missing, from 1 up, equal ones sharing the middle of theirs. `rank`
// is the caller's, n long. Returns the sum over the groups of t equal values of t^3 - t.
BT_API double bt_ranks(const double *value, gsize n, double *rank);

G_END_DECLS
#endif
