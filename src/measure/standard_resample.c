// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/standard_resample.h"

#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_statistics_double.h>

#include "measure/agreement_parts.h"

#define MISSING_MOST 0.05 // share of draws that may lack a figure
#define TAIL         ((1 - BT_LEVEL) / 2)

// Rows in order of stratum and unit, with where each unit and each stratum begins.
typedef struct {
  gsize *row;
  gsize *unit_start;    // into `row`; units + 1
  gsize *stratum_start; // into the units; strata + 1
  gsize units, strata;
} Urn;

static int by_place(gconstpointer a, gconstpointer b, gpointer user_data) {
  const BtDrawing *drawing = user_data;
  gsize x = *(const gsize *)a, y = *(const gsize *)b;
  gsize sx = drawing->stratum ? drawing->stratum[x] : 0;
  gsize sy = drawing->stratum ? drawing->stratum[y] : 0;
  if (sx != sy)
    return sx < sy ? -1 : 1;
  gsize ux = drawing->unit ? drawing->unit[x] : x, uy = drawing->unit ? drawing->unit[y] : y;
  return ux != uy ? (ux < uy ? -1 : 1) : (x > y) - (x < y);
}

static Urn urn_of(const BtDrawing *drawing) {
  gsize n = drawing->rows;
  Urn urn = {.row = g_new(gsize, n + 1),
             .unit_start = g_new(gsize, n + 1),
             .stratum_start = g_new(gsize, n + 1)};
  for (gsize i = 0; i < n; i++)
    urn.row[i] = i;
  g_qsort_with_data(urn.row, (gint)n, sizeof *urn.row, by_place, (gpointer)drawing);
  for (gsize i = 0; i < n; i++) {
    gsize row = urn.row[i], before = i > 0 ? urn.row[i - 1] : row;
    bool new_stratum =
        i == 0 || (drawing->stratum && drawing->stratum[row] != drawing->stratum[before]);
    if (new_stratum)
      urn.stratum_start[urn.strata++] = urn.units;
    if (new_stratum || !drawing->unit || drawing->unit[row] != drawing->unit[before])
      urn.unit_start[urn.units++] = i;
  }
  urn.unit_start[urn.units] = n;
  urn.stratum_start[urn.strata] = urn.units;
  return urn;
}

static void urn_clear(Urn *urn) {
  g_free(urn->row);
  g_free(urn->unit_start);
  g_free(urn->stratum_start);
}

static void draw(const Urn *urn, GRand *random, double *weight, gsize rows) {
  memset(weight, 0, rows * sizeof *weight);
  for (gsize s = 0; s < urn->strata; s++) {
    gsize first = urn->stratum_start[s], units = urn->stratum_start[s + 1] - first;
    for (gsize i = 0; i < units; i++) {
      gsize unit = first + (gsize)g_rand_int_range(random, 0, (gint32)units);
      for (gsize r = urn->unit_start[unit]; r < urn->unit_start[unit + 1]; r++)
        weight[urn->row[r]]++;
    }
  }
}

// Adds to an estimate what `draws` values of its figure (which are sorted) tell.
static void add_limits(BtEstimate *estimate, double *value, gsize draws) {
  gsize given = 0;
  for (gsize i = 0; i < draws; i++) {
    if (!bt_is_missing(value[i]))
      value[given++] = value[i];
  }
  if (estimate->why_not || given < 2 || (double)(draws - given) > MISSING_MOST * (double)draws)
    return;
  qsort(value, given, sizeof *value, bt__by_value);
  estimate->se = gsl_stats_sd(value, 1, given);
  estimate->low = gsl_stats_quantile_from_sorted_data(value, 1, given, TAIL);
  estimate->high = gsl_stats_quantile_from_sorted_data(value, 1, given, 1 - TAIL);
  estimate->has_se = estimate->has_limits = true;
}

void bt__resample(const BtDrawing *drawing, BtResampling resampling, BtFigures *figures,
                  gpointer user_data, BtEstimate *estimate, gsize n) {
  gsize draws = resampling.draws;
  if (draws == 0 || drawing->rows == 0)
    return;
  Urn urn = urn_of(drawing);
  GRand *random = g_rand_new_with_seed(resampling.seed);
  g_autofree double *weight = g_new(double, drawing->rows);
  g_autofree double *figure = g_new(double, n);
  g_autofree double *value = g_new(double, n *draws); // figure by figure
  for (gsize d = 0; d < draws; d++) {
    draw(&urn, random, weight, drawing->rows);
    figures(weight, figure, user_data);
    for (gsize i = 0; i < n; i++)
      value[i * draws + d] = figure[i];
  }
  for (gsize i = 0; i < n; i++)
    add_limits(&estimate[i], value + i * draws, draws);
  g_rand_free(random);
  urn_clear(&urn);
}

BtMoments bt__moments(const double *value, const double *weight, gsize n) {
  BtMoments moments = {.mean = BT_MISSING, .sd = BT_MISSING};
  double sum = 0, squares = 0;
  for (gsize i = 0; i < n; i++) {
    moments.weight += weight[i];
    sum += weight[i] * value[i];
  }
  if (moments.weight < 1)
    return moments;
  moments.mean = sum / moments.weight;
  for (gsize i = 0; i < n; i++)
    squares += weight[i] * (value[i] - moments.mean) * (value[i] - moments.mean);
  if (moments.weight > 1)
    moments.sd = sqrt(squares / (moments.weight - 1));
  return moments;
}
