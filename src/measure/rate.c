// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/rate.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

BtEstimate bt_rate(gsize found, gsize sessions) {
  if (sessions == 0)
    return bt_not_estimable("no session was looked at", 0);
  double count = (double)found, n = (double)sessions, tail = (1 - BT_LEVEL) / 2;
  double low = found == 0 ? 0 : qchisq(tail, 2 * count, 1, 0) / 2;
  double high = qchisq(tail, 2 * count + 2, 0, 0) / 2;
  return bt_estimate_limits(count / n, low / n, high / n, sessions, "the count has no limits");
}
