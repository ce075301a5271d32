// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/regression.h>

#include <math.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

// Means and squares group by group, in long double and about a common origin near the data: group
// means differ in digits that a double of a large mean has not.
typedef struct {
  gsize groups; // that have values
  long double between, within;
} Squares;

static void group_means(const double *value, const gsize *group, gsize n, gsize groups,
                        long double *mean, gsize *size) {
  for (gsize i = 0; i < n; i++) {
    mean[group[i]] += (long double)value[i] - value[0];
    size[group[i]]++;
  }
  for (gsize g = 0; g < groups; g++)
    mean[g] /= (long double)MAX(size[g], 1);
}

static Squares squares(const double *value, const gsize *group, gsize n, gsize groups) {
  g_autofree long double *mean = g_new0(long double, groups);
  g_autofree gsize *size = g_new0(gsize, groups);
  group_means(value, group, n, groups, mean, size);
  Squares sums = {0};
  long double grand = 0;
  for (gsize g = 0; g < groups; g++) {
    sums.groups += size[g] > 0;
    grand += mean[g] * (long double)size[g] / (long double)n;
  }
  for (gsize g = 0; g < groups; g++)
    sums.between += (long double)size[g] * (mean[g] - grand) * (mean[g] - grand);
  for (gsize i = 0; i < n; i++) {
    long double off = (long double)value[i] - value[0] - mean[group[i]];
    sums.within += off * off;
  }
  return sums;
}

static const char *why_not(const Squares *sums, gsize n) {
  if (sums->groups < 2)
    return "there are fewer than two groups";
  if (n <= sums->groups)
    return "there are as many groups as values";
  return sums->between + sums->within > 0 ? NULL : "all values are the same";
}

BtAnova bt_anova(const double *value, const gsize *group, gsize n, gsize groups) {
  BtAnova anova = {.n = n, .why_not = "there are no values"};
  if (n == 0)
    return anova;
  Squares sums = squares(value, group, n, groups);
  anova.groups = sums.groups;
  anova.why_not = why_not(&sums, n);
  if (anova.why_not)
    return anova;
  long double between = sums.between / (long double)(sums.groups - 1);
  long double within = sums.within / (long double)(n - sums.groups);
  anova.between_df = (double)(sums.groups - 1);
  anova.within_df = (double)(n - sums.groups);
  anova.between_ss = (double)sums.between;
  anova.within_ss = (double)sums.within;
  anova.between_ms = (double)between;
  anova.within_ms = (double)within;
  anova.r_squared = (double)(sums.between / (sums.between + sums.within));
  if (within > 0) {
    anova.f = (double)(between / within);
    anova.p = pf(anova.f, anova.between_df, anova.within_df, FALSE, FALSE);
  }
  return anova;
}
