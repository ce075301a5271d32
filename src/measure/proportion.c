// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/proportion.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include "measure/agreement_parts.h"

#define NOTHING_COUNTED "nothing was counted"
#define TAIL            ((1 - BT_LEVEL) / 2)

BtEstimate bt_proportion_wilson(gsize these, gsize all) {
  double n = (double)all, p = (double)these / n;
  double z = qnorm(TAIL, 0, 1, FALSE, FALSE);
  double middle = p + z * z / (2 * n), half = z * sqrt(p * (1 - p) / n + z * z / (4 * n * n));
  double whole = 1 + z * z / n;
  // At the ends the formula gives 0 and 1 but for rounding.
  double low = these == 0 ? 0 : (middle - half) / whole;
  double high = these == all ? 1 : (middle + half) / whole;
  return bt_estimate_limits(p, low, high, all, NOTHING_COUNTED);
}

BtEstimate bt_proportion_exact(gsize these, gsize all) {
  double x = (double)these, n = (double)all;
  double low = these == 0 ? 0 : qbeta(TAIL, x, n - x + 1, TRUE, FALSE);
  double high = these == all ? 1 : qbeta(TAIL, x + 1, n - x, FALSE, FALSE);
  return bt_estimate_limits(x / n, low, high, all, NOTHING_COUNTED);
}

BtEstimate bt_proportion_clustered(const double *these, const double *all, gsize clusters) {
  double part = 0, whole = 0, used = 0, squares = 0;
  for (gsize i = 0; i < clusters; i++) {
    part += these[i];
    whole += all[i];
    used += all[i] > 0;
  }
  double share = part / whole;
  for (gsize i = 0; i < clusters; i++) {
    double off = these[i] - share * all[i];
    squares += off * off;
  }
  double se = sqrt(squares * used / (used - 1)) / whole;
  return bt__estimate_cut(share, se, used - 1, 0, 1, (gsize)whole, NOTHING_COUNTED);
}
