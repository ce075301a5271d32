// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/gstudy_parts.h"

#include <benchtally/mixed.h>

#define NO_FIGURE "the scores do not determine it"

static void take_over(BtGStudy *study, const BtMixed *fit) {
  int last = study->design->effects - 1;
  for (int i = 0; i <= last; i++) {
    double variance = i < last ? fit->part[i].variance : fit->residual_variance;
    study->effect[i].component = bt_estimate(variance, study->effect[i].groups, NO_FIGURE);
  }
  study->error_df = 0; // it belonged to the mean squares
}

const char *bt__gstudy_reml(BtGStudy *study, const BtScores *scores, const BtGroups *groups) {
  gsize terms = (gsize)study->design->effects - 1;
  g_autofree double *ones = g_new(double, scores->n);
  g_autofree BtMixedTerm *term = g_new0(BtMixedTerm, terms);
  for (gsize i = 0; i < scores->n; i++)
    ones[i] = 1;
  for (gsize i = 0; i < terms; i++)
    term[i] = (BtMixedTerm){.groups = groups[i].groups, .of = groups[i].of};
  BtMixedData data = {
      .rows = scores->n, .y = scores->score, .columns = 1, .x = ones, .terms = terms, .term = term};
  g_autoptr(BtMixed) fit = bt_mixed_fit(&data, BT_MIXED_REML);
  if (!fit->why_not)
    take_over(study, fit);
  return fit->why_not;
}
