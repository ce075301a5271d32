// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/estimate.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

BtEstimate bt_not_estimable(const char *why_not, gsize n) {
  return (BtEstimate){.why_not = why_not, .n = n};
}

BtEstimate bt_estimate(double value, gsize n, const char *why_not) {
  if (!isfinite(value))
    return bt_not_estimable(why_not, n);
  return (BtEstimate){.value = value, .n = n};
}

BtEstimate bt_estimate_se(double value, double se, gsize n, const char *why_not) {
  return bt_estimate_t(value, se, INFINITY, n, why_not); // t with endless df is the normal
}

BtEstimate bt_estimate_t(double value, double se, double df, gsize n, const char *why_not) {
  BtEstimate estimate = bt_estimate(value, n, why_not);
  if (estimate.why_not || !isfinite(se) || se < 0 || !(df > 0))
    return estimate;
  double half = qt((1 - BT_LEVEL) / 2, df, FALSE, FALSE) * se;
  if (!isfinite(half))
    return estimate;
  estimate.has_se = estimate.has_limits = true;
  estimate.se = se;
  estimate.low = value - half;
  estimate.high = value + half;
  return estimate;
}

BtEstimate bt_estimate_limits(double value, double low, double high, gsize n, const char *why_not) {
  BtEstimate estimate = bt_estimate(value, n, why_not);
  if (estimate.why_not || !isfinite(low) || !isfinite(high))
    return estimate;
  estimate.has_limits = true;
  estimate.low = low;
  estimate.high = high;
  return estimate;
}
