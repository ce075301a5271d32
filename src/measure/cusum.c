// SPDX-License-Identifier: GPL-3.0-or-later
//
// Charts of pass and "not yet": scores, a trainee's way, the sequential test; and the tabular sums
// of measured values.
#include <benchtally/cusum.h>

#include "measure/cusum_parts.h"

#include <math.h>

#define HUNDREDTHS  100.0
#define LIMITS_MOST 20000 // hundredths

static bool is_share(double share) {
  return share > 0 && share < 1;
}

// Charts ----------------------------------------------------------------------

BtCusum bt_cusum(BtWatch watch, double adequate, double inadequate, double limit) {
  BtCusum chart = {.watch = watch, .adequate = adequate, .inadequate = inadequate, .limit = limit};
  if (!is_share(adequate) || !is_share(inadequate) || !(adequate < inadequate))
    chart.why_not = "the share of \"not yet\" at standard must lie below the one that is not at "
                    "standard, both between 0 and 1";
  else if (!(limit > 0))
    chart.why_not = "the limit must be above 0";
  if (chart.why_not)
    return chart;
  double towards = watch == BT_TO_STANDARD ? 1 : -1;
  chart.on_pass = towards * log((1 - adequate) / (1 - inadequate));
  chart.on_not_yet = towards * log(adequate / inadequate);
  return chart;
}

// The rate at which a signal is a false one.
static double rate_of_false(const BtCusum *chart) {
  return chart->watch == BT_TO_STANDARD ? chart->inadequate : chart->adequate;
}

BtCusum bt_cusum_for(BtWatch watch, double adequate, double inadequate, gsize attempts,
                     double error) {
  BtCusum chart = bt_cusum(watch, adequate, inadequate, LIMITS_MOST / HUNDREDTHS);
  if (!chart.why_not && !is_share(error))
    chart.why_not = "the chance of a false signal must lie between 0 and 1";
  if (!chart.why_not && (attempts < 1 || attempts > BT_CUSUM_ATTEMPTS_MOST))
    chart.why_not = "the attempts looked at must be 1 to 200";
  if (chart.why_not)
    return chart;
  if (bt_cusum_signals(&chart, rate_of_false(&chart), attempts).value > error) {
    chart.why_not = "no limit holds so small a chance of a false signal over so many attempts";
    return chart;
  }
  int low = 0, high = LIMITS_MOST; // `high` holds the error, `low` does not
  while (high - low > 1) {
    int middle = (low + high) / 2;
    chart.limit = middle / HUNDREDTHS;
    if (bt_cusum_signals(&chart, rate_of_false(&chart), attempts).value <= error)
      high = middle;
    else
      low = middle;
  }
  chart.limit = high / HUNDREDTHS;
  return chart;
}

double bt__cusum_next(const BtCusum *chart, double sum, bool passed) {
  return fmax(0, sum + (passed ? chart->on_pass : chart->on_not_yet));
}

bool bt__cusum_signals(const BtCusum *chart, double sum) {
  return sum >= chart->limit - BT__CUSUM_SAME;
}

gsize bt_cusum_passes_needed(const BtCusum *chart, double sum) {
  double missing = chart->limit - BT__CUSUM_SAME - sum;
  return missing > 0 ? (gsize)ceil(missing / chart->on_pass) : 0;
}

// A trainee's way -------------------------------------------------------------

BtWay bt_way(const BtCusum *to, const BtCusum *from, const bool *passed, gsize n) {
  BtWay way = {.n = n, .sum = g_new(double, n + 1), .watch = g_new(BtWatch, n + 1)};
  double sum = 0;
  gsize run_from = 1; // since when the sum has been above 0
  for (gsize i = 0; i < n; i++) {
    const BtCusum *chart = way.at_standard ? from : to;
    if (sum == 0)
      run_from = i + 1;
    sum = way.sum[i] = bt__cusum_next(chart, sum, passed[i]);
    way.watch[i] = chart->watch;
    if (!bt__cusum_signals(chart, sum))
      continue;
    if (way.at_standard) {
      way.left = i + 1;
      way.left_from = run_from;
    } else {
      way.reached = i + 1;
    }
    way.at_standard = !way.at_standard;
    sum = 0;
  }
  way.passes_needed = way.at_standard ? 0 : bt_cusum_passes_needed(to, sum);
  return way;
}

void bt_way_clear(BtWay *way) {
  g_clear_pointer(&way->sum, g_free);
  g_clear_pointer(&way->watch, g_free);
}

// The sequential test ---------------------------------------------------------

BtSequentialTest bt_sequential_test(double acceptable, double unacceptable, double alpha,
                                    double beta) {
  BtSequentialTest test = {0};
  if (!is_share(acceptable) || !is_share(unacceptable) || !(acceptable < unacceptable))
    test.why_not = "the acceptable share must lie below the other, both between 0 and 1";
  else if (!is_share(alpha) || !is_share(beta) || alpha >= 0.5 || beta >= 0.5)
    test.why_not = "the chances of error must lie between 0 and one half";
  if (test.why_not)
    return test;
  test.p = log(unacceptable / acceptable);
  test.q = log((1 - acceptable) / (1 - unacceptable));
  test.s = test.q / (test.p + test.q);
  test.accept = -log((1 - alpha) / beta) / (test.p + test.q);
  test.reject = log((1 - beta) / alpha) / (test.p + test.q);
  return test;
}

BtTestVerdict bt_sequential_verdict(const BtSequentialTest *test, const bool *passed, gsize n,
                                    gsize *at) {
  double sum = 0;
  for (gsize i = 0; i < n; i++) {
    sum += passed[i] ? -test->s : 1 - test->s;
    bool accept = sum <= test->accept + BT__CUSUM_SAME;
    if (!accept && sum < test->reject - BT__CUSUM_SAME)
      continue;
    if (at)
      *at = i + 1;
    return accept ? BT_TEST_ACCEPTABLE : BT_TEST_UNACCEPTABLE;
  }
  if (at)
    *at = 0;
  return BT_TEST_OPEN;
}

// Measured values -------------------------------------------------------------

gsize bt_cusum_tabular(const double *value, gsize n, double target, double slack, double limit,
                       double *high, double *low) {
  double up = 0, down = 0;
  gsize first = 0;
  for (gsize i = 0; i < n; i++) {
    up = fmax(0, up + (value[i] - target) - slack);
    down = fmax(0, down + (target - value[i]) - slack);
    if (high)
      high[i] = up;
    if (low)
      low[i] = down;
    if (!first && (up > limit || down > limit))
      first = i + 1;
  }
  return first;
}
