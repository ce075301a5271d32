// SPDX-License-Identifier: GPL-3.0-or-later
//
// Ratings that are numbers: intraclass correlations, limits of agreement, concordance of ranks.
#include <benchtally/association.h>

#include "measure/agreement_parts.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define TAIL        ((1 - BT_LEVEL) / 2)
#define TOO_FEW_ICC "fewer than two subjects were rated by all"
#define NO_VARIANCE "neither subjects nor assessors differ"
#define ROUNDING    1e-12 // of the ratings: differences that far apart are the same

// Intraclass correlations -----------------------------------------------------

const char *bt_icc_name(BtIccForm form) {
  static const char *const names[] = {
      [BT_ICC_1] = "ICC(1,1), own raters, one rating",
      [BT_ICC_2] = "ICC(2,1), absolute agreement, one rating",
      [BT_ICC_3] = "ICC(3,1), consistency, one rating",
      [BT_ICC_1K] = "ICC(1,k), own raters, mean rating",
      [BT_ICC_2K] = "ICC(2,k), absolute agreement, mean rating",
      [BT_ICC_3K] = "ICC(3,k), consistency, mean rating",
  };
  return names[form];
}

static double mean_of(const double *value, gsize n, gsize step) {
  double mean = 0;
  for (gsize i = 0; i < n; i++)
    mean += (value[i * step] - mean) / (double)(i + 1);
  return mean;
}

// A sum of squares that is rounding beside the numbers it was made from is none.
static double cleared(double squares, double scale) {
  return squares < 1e-26 * scale ? 0 : squares;
}

static void mean_squares(BtIcc *icc, const double *row) {
  gsize n = icc->subjects, k = icc->raters;
  double all = mean_of(row, n * k, 1), between = 0, raters = 0, within = 0, error = 0, scale = 0;
  g_autofree double *column = g_new(double, k);
  for (gsize r = 0; r < k; r++) {
    column[r] = mean_of(row + r, n, k);
    raters += (double)n * (column[r] - all) * (column[r] - all);
  }
  for (gsize i = 0; i < n; i++) {
    double own = mean_of(row + i * k, k, 1);
    between += (double)k * (own - all) * (own - all);
    for (gsize r = 0; r < k; r++) {
      double value = row[i * k + r], left = value - own - column[r] + all;
      within += (value - own) * (value - own);
      error += left * left;
      scale += value * value;
    }
  }
  double df = (double)n - 1, raters_df = (double)k - 1;
  icc->between = cleared(between, scale) / df;
  icc->raters_ms = cleared(raters, scale) / raters_df;
  icc->within = cleared(within, scale) / ((double)n * raters_df);
  icc->error = cleared(error, scale) / (df * raters_df);
  icc->subject_variance = (icc->between - icc->error) / (double)k;
  icc->rater_variance = (icc->raters_ms - icc->error) / (double)n;
}

// Forms 1 and 3, which compare the subjects with one error of `df` degrees of freedom.
static void one_error(BtIcc *icc, BtIccForm single, BtIccForm mean, double error, double df) {
  double k = (double)icc->raters, top = icc->between, subjects_df = (double)icc->subjects - 1;
  double f = top / error, low = f / qf(TAIL, subjects_df, df, FALSE, FALSE);
  double high = f * qf(TAIL, df, subjects_df, FALSE, FALSE);
  icc->form[single] =
      bt_estimate_limits((top - error) / (top + (k - 1) * error), (low - 1) / (low + k - 1),
                         (high - 1) / (high + k - 1), icc->subjects, NO_VARIANCE);
  icc->form[mean] = bt_estimate_limits((top - error) / top, 1 - 1 / low, 1 - 1 / high,
                                       icc->subjects, NO_VARIANCE);
}

static double stepped_up(double one, double k) { // Spearman-Brown
  return k * one / (1 + (k - 1) * one);
}

// Form 2: limits with Satterthwaite's degrees of freedom (Shrout and Fleiss 1979, p. 424; McGraw
// and Wong 1996, table 7, as corrected by their erratum 1:390).
static void absolute_agreement(BtIcc *icc) {
  double n = (double)icc->subjects, k = (double)icc->raters;
  double top = icc->between, error = icc->error, raters = icc->raters_ms;
  double one = (top - error) / (top + (k - 1) * error + k * (raters - error) / n);
  double mean = (top - error) / (top + (raters - error) / n);
  double f = raters / error, rest = n * (1 + (k - 1) * one) - k * one, weighted = k * one * f;
  double df = (k - 1) * (n - 1) * (weighted + rest) * (weighted + rest) /
              ((n - 1) * weighted * weighted + rest * rest);
  double f_low = qf(TAIL, n - 1, df, FALSE, FALSE), f_high = qf(TAIL, df, n - 1, FALSE, FALSE);
  double others = k * raters + (k * n - k - n) * error;
  double low = n * (top - f_low * error) / (f_low * others + n * top);
  double high = n * (f_high * top - error) / (others + n * f_high * top);
  icc->form[BT_ICC_2] = bt_estimate_limits(one, low, high, icc->subjects, NO_VARIANCE);
  icc->form[BT_ICC_2K] =
      bt_estimate_limits(mean, stepped_up(low, k), stepped_up(high, k), icc->subjects, NO_VARIANCE);
}

BtIcc bt_icc(const BtRatings *ratings) {
  BtIcc icc = {.raters = ratings->raters};
  g_autofree double *row = bt__complete_rows(ratings, &icc.subjects);
  icc.left_out = ratings->subjects - icc.subjects;
  if (icc.subjects < 2 || icc.raters < 2) {
    for (int f = 0; f < BT_ICC_FORMS; f++)
      icc.form[f] = bt_not_estimable(TOO_FEW_ICC, icc.subjects);
    return icc;
  }
  mean_squares(&icc, row);
  double subjects = (double)icc.subjects, others = (double)icc.raters - 1;
  one_error(&icc, BT_ICC_1, BT_ICC_1K, icc.within, subjects * others);
  one_error(&icc, BT_ICC_3, BT_ICC_3K, icc.error, (subjects - 1) * others);
  absolute_agreement(&icc);
  return icc;
}

// Bland and Altman ------------------------------------------------------------

// With the standard error `se`, by Student's t; a spread of 0 is one.
static BtEstimate by_student(double value, double se, double df, gsize n) {
  double half = qt(TAIL, df, FALSE, FALSE) * se;
  BtEstimate estimate = bt_estimate_limits(value, value - half, value + half, n, BT__NO_TWO);
  estimate.has_se = estimate.has_limits;
  estimate.se = estimate.has_limits ? se : 0;
  return estimate;
}

BtBlandAltman bt_bland_altman(const double *first, const double *second, gsize n,
                              double multiplier) {
  static const char no_spread[] = "all differences are the same";
  double mean = 0, squares = 0, used = 0, largest = 0;
  for (gsize i = 0; i < n; i++) {
    double difference = first[i] - second[i]; // missing when either is
    if (bt_is_missing(difference))
      continue;
    double off = difference - mean;
    mean += off / ++used;
    squares += off * (difference - mean);
    largest = MAX(largest, MAX(fabs(first[i]), fabs(second[i])));
  }
  gsize both = (gsize)used;
  bool alike = squares <= used * pow(ROUNDING * largest, 2);
  if (both < 3 || alike) {
    const char *why = both == 0  ? BT__NO_TWO
                      : both < 3 ? "fewer than three subjects have both values"
                                 : no_spread;
    BtEstimate none = bt_not_estimable(why, both);
    return (BtBlandAltman){
        .bias = both ? bt_estimate(mean, both, why) : none, .lower = none, .upper = none};
  }
  double sd = sqrt(squares / (used - 1)), se = sd / sqrt(used);
  double se_limit = se * sqrt(1 + multiplier * multiplier / 2);
  return (BtBlandAltman){.bias = by_student(mean, se, used - 1, both),
                         .sd = sd,
                         .lower = by_student(mean - multiplier * sd, se_limit, used - 1, both),
                         .upper = by_student(mean + multiplier * sd, se_limit, used - 1, both)};
}

BtEstimate bt_repeatability(const BtRatings *ratings, double multiplier, double *within_sd) {
  double squares = 0, df = 0;
  gsize used = 0;
  for (gsize i = 0; i < ratings->subjects; i++) {
    double mean = 0, n = 0;
    for (gsize r = 0; r < ratings->raters; r++) {
      double value = ratings->cell[i * ratings->raters + r];
      if (bt_is_missing(value))
        continue;
      double off = value - mean;
      mean += off / ++n;
      squares += off * (value - mean);
    }
    used += n > 1;
    df += n > 1 ? n - 1 : 0;
  }
  double sd = sqrt(squares / df);
  if (within_sd)
    *within_sd = df > 0 ? sd : 0;
  return bt_estimate(multiplier * M_SQRT2 * sd, used, "no subject was measured twice");
}

// Ranks -----------------------------------------------------------------------

// The sum over raters of their ties; adds each one's ranks to `sum`.
static double add_ranks(const double *row, gsize n, gsize raters, double *sum) {
  double ties = 0;
  g_autofree double *value = g_new(double, n), *rank = g_new(double, n);
  for (gsize r = 0; r < raters; r++) {
    for (gsize i = 0; i < n; i++)
      value[i] = row[i * raters + r];
    ties += bt_ranks(value, n, rank);
    for (gsize i = 0; i < n; i++)
      sum[i] += rank[i];
  }
  return ties;
}

BtConcordance bt_kendall_w(const BtRatings *ratings) {
  gsize complete = 0;
  g_autofree double *row = bt__complete_rows(ratings, &complete);
  BtConcordance concordance = {.left_out = ratings->subjects - complete, .by_chance = 1};
  if (complete < 2 || ratings->raters < 2) {
    concordance.w = bt_not_estimable(TOO_FEW_ICC, complete);
    return concordance;
  }
  double n = (double)complete, m = (double)ratings->raters;
  g_autofree double *sum = g_new0(double, complete);
  double ties = add_ranks(row, complete, ratings->raters, sum);
  for (gsize i = 0; i < complete; i++) {
    double off = sum[i] - m * (n + 1) / 2;
    concordance.sum_squares += off * off;
  }
  double most = (m * m * (n * n * n - n) - m * ties) / 12;
  if (most <= 0) {
    concordance.w = bt_not_estimable("every assessor ranked all subjects the same", complete);
    return concordance;
  }
  double w = concordance.sum_squares / most;
  concordance.w = bt_estimate(w, complete, BT__ALL_THE_SAME);
  concordance.mean_rho = (m * w - 1) / (m - 1);
  concordance.chi_square = m * (n - 1) * w;
  concordance.by_chance = pchisq(concordance.chi_square, n - 1, FALSE, FALSE);
  return concordance;
}
