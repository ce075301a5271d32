// SPDX-License-Identifier: GPL-3.0-or-later
//
// What judges' own marks tell together, and Ebel's way to one.
#include <benchtally/standard.h>

#include <stdlib.h>
#include <string.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>
#include <gsl/gsl_statistics_double.h>

#include "measure/agreement_parts.h"

#define NO_JUDGE  "no judge set a mark"
#define FAR_LEVEL 0.05 // for the whole panel
#define ROUNDING  1e-9 // of a percent: less apart is the same

// The marks that were set, one after another; caller frees.
static double *given_marks(const double *cut, gsize judges, gsize *given) {
  double *mark = g_new(double, judges + 1);
  *given = 0;
  for (gsize j = 0; j < judges; j++) {
    if (!bt_is_missing(cut[j]))
      mark[(*given)++] = cut[j];
  }
  return mark;
}

// Whether `value` lies farther from the n - 1 others than their spread explains: Student's t of a
// left-out value (Cook and Weisberg 1982, Residuals and Influence in Regression, section 2.2.2).
static bool is_far(double value, double rest_mean, double rest_sd, gsize n) {
  double away = fabs(value - rest_mean);
  if (n < 3 || away <= ROUNDING)
    return false;
  if (rest_sd <= ROUNDING)
    return true; // all the others said the same
  double others = (double)n - 1;
  double chance = 2 * pt(away / (rest_sd * sqrt(1 + 1 / others)), others - 1, FALSE, FALSE);
  return chance < FAR_LEVEL / (double)n;
}

static void compare_with_rest(BtPanel *panel, gsize judge, double *rest, gsize judges) {
  gsize others = 0;
  for (gsize j = 0; j < judges; j++) {
    if (j != judge && !bt_is_missing(panel->cut[j]))
      rest[others++] = panel->cut[j];
  }
  if (others == 0)
    return;
  double mean = gsl_stats_mean(rest, 1, others);
  double sd = others > 1 ? gsl_stats_sd(rest, 1, others) : 0;
  panel->from_rest[judge] = panel->cut[judge] - mean;
  panel->far[judge] = is_far(panel->cut[judge], mean, sd, others + 1);
}

BtPanel bt_panel(const double *cut, gsize judges) {
  BtPanel panel = {.cut = g_new(double, judges + 1),
                   .from_rest = g_new(double, judges + 1),
                   .far = g_new0(bool, judges + 1),
                   .median = BT_MISSING};
  g_autofree double *mark = given_marks(cut, judges, &panel.judges);
  g_autofree double *rest = g_new(double, judges + 1);
  for (gsize j = 0; j < judges; j++) {
    panel.cut[j] = cut[j];
    panel.from_rest[j] = BT_MISSING;
  }
  for (gsize j = 0; j < judges; j++) {
    if (!bt_is_missing(cut[j]))
      compare_with_rest(&panel, j, rest, judges);
  }
  gsize n = panel.judges;
  if (n == 0) {
    panel.mean = bt_not_estimable(NO_JUDGE, 0);
    return panel;
  }
  qsort(mark, n, sizeof *mark, bt__by_value);
  panel.median = gsl_stats_median_from_sorted_data(mark, 1, n);
  panel.variance = n > 1 ? gsl_stats_variance(mark, 1, n) : 0;
  panel.mean = bt__estimate_cut(gsl_stats_mean(mark, 1, n), sqrt(panel.variance / (double)n),
                                (double)n - 1, 0, 100, n, NO_JUDGE);
  return panel;
}

void bt_panel_clear(BtPanel *panel) {
  g_clear_pointer(&panel->cut, g_free);
  g_clear_pointer(&panel->from_rest, g_free);
  g_clear_pointer(&panel->far, g_free);
}

BtPanelChange bt_panel_change(const double *before, const double *after, gsize judges) {
  BtPanelChange change = {0};
  g_autofree double *earlier = g_new(double, judges + 1), *later = g_new(double, judges + 1),
                    *moved = g_new(double, judges + 1);
  gsize n = 0;
  for (gsize j = 0; j < judges; j++) {
    if (bt_is_missing(before[j]) || bt_is_missing(after[j]))
      continue;
    earlier[n] = before[j];
    later[n] = after[j];
    moved[n] = after[j] - before[j];
    change.moved += fabs(moved[n]) > ROUNDING;
    n++;
  }
  change.judges = n;
  double sd = n > 1 ? gsl_stats_sd(moved, 1, n) : 0;
  change.sd_before = n > 1 ? gsl_stats_sd(earlier, 1, n) : 0;
  change.sd_after = n > 1 ? gsl_stats_sd(later, 1, n) : 0;
  change.change =
      bt__estimate_cut(n > 0 ? gsl_stats_mean(moved, 1, n) : NAN, sd / sqrt((double)n),
                       (double)n - 1, -100, 100, n, "no judge set a mark in both rounds");
  return change;
}

BtPanel bt_ebel(const BtEbelCell *cells, gsize n, gsize judges) {
  g_autofree double *items = g_new0(double, judges + 1), *done = g_new0(double, judges + 1);
  for (gsize i = 0; i < n; i++) {
    if (bt_is_missing(cells[i].percent) || bt_is_missing(cells[i].items))
      continue;
    items[cells[i].judge] += cells[i].items;
    done[cells[i].judge] += cells[i].items * cells[i].percent;
  }
  for (gsize j = 0; j < judges; j++)
    done[j] = items[j] > 0 ? done[j] / items[j] : BT_MISSING;
  return bt_panel(done, judges);
}
