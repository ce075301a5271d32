// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/spread.h"

#include <math.h>

static long double mean_of(const double *value, gsize n) {
  long double sum = 0;
  for (gsize i = 0; i < n; i++)
    sum += value[i];
  // The mean of what is left over corrects the rounding of the first.
  long double mean = sum / (long double)n, left = 0;
  for (gsize i = 0; i < n; i++)
    left += value[i] - mean;
  return mean + left / (long double)n;
}

static long double squares_about(const double *value, gsize n, long double mean) {
  long double squares = 0, left = 0;
  for (gsize i = 0; i < n; i++) {
    long double off = value[i] - mean;
    squares += off * off;
    left += off;
  }
  return squares - left * left / (long double)n;
}

BtSpread bt__spread(const double *value, gsize n) {
  BtSpread spread = {.n = n};
  if (n == 0)
    return spread;
  long double mean = mean_of(value, n);
  long double squares = squares_about(value, n, mean);
  spread.mean = (double)mean;
  spread.sum_of_squares = (double)squares;
  if (n > 1) {
    spread.variance = (double)(squares / (long double)(n - 1));
    spread.sd = (double)sqrtl(squares / (long double)(n - 1));
  }
  return spread;
}

double bt__autocorrelation(const double *value, gsize n) {
  if (n < 2)
    return 0;
  long double mean = mean_of(value, n), products = 0;
  long double squares = squares_about(value, n, mean);
  for (gsize i = 1; i < n; i++)
    products += (value[i] - mean) * (value[i - 1] - mean);
  return squares > 0 ? (double)(products / squares) : 0;
}
