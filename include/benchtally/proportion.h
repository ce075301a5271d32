// SPDX-License-Identifier: GPL-3.0-or-later
//
// A share of things counted, with its interval at BT_LEVEL. Pure; nothing is owned. Every estimate
// is not estimable for `all` 0; `n` is `all`. `these` is at most `all`.
#ifndef BENCHTALLY_PROPORTION_H
#define BENCHTALLY_PROPORTION_H

#include <benchtally/estimate.h>

G_BEGIN_DECLS

// The score interval (Wilson 1927, J Am Stat Assoc 22:209-212; without continuity correction). What
// to show for agreement and pass rates: it never leaves 0..1 and holds for few and for extreme
// counts (Newcombe 1998, method 3).
BT_API BtEstimate bt_proportion_wilson(gsize these, gsize all);

// The exact interval from the binomial tails (Clopper and Pearson 1934, Biometrika 26:404-413):
// never covers less than it says, and so is wider.
BT_API BtEstimate bt_proportion_exact(gsize these, gsize all);

// The share over clusters that differ in size, as of agreeing entries over sessions: `these[i]` of
// `all[i]` in cluster i. The standard error is that of a ratio (Cochran 1977, Sampling Techniques,
// equation 6.13), because entries of one session are no independent draws; limits by Student's t
// with one less than the clusters, cut to 0..1. Bare where fewer than two clusters hold anything or
// where all have the same share. `n` is the sum of `all`. Both arrays are borrowed, `clusters`
// long.
BT_API BtEstimate bt_proportion_clustered(const double *these, const double *all, gsize clusters);

G_END_DECLS
#endif
