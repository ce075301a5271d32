// SPDX-License-Identifier: GPL-3.0-or-later
//
// Two raters and a table of counts: Cohen's kappa and what stands beside it.
#include "measure/agreement_parts.h"

BtCrossTable *bt_cross_table(const BtRatings *ratings, gsize first, gsize second) {
  g_auto(BtLevels) levels = bt__levels(ratings);
  BtCrossTable *table = g_new(BtCrossTable, 1);
  table->categories = levels.n;
  table->count = g_new0(double, levels.n *levels.n + 1);
  for (gsize i = 0; i < ratings->subjects; i++) {
    int a = levels.place[i * ratings->raters + first],
        b = levels.place[i * ratings->raters + second];
    if (a >= 0 && b >= 0)
      table->count[(gsize)a * levels.n + (gsize)b]++;
  }
  table->value = g_steal_pointer(&levels.value);
  return table;
}

void bt_cross_table_free(BtCrossTable *table) {
  if (!table)
    return;
  g_free(table->value);
  g_free(table->count);
  g_free(table);
}

// Weights ---------------------------------------------------------------------

static double weight_of(BtWeights kind, double distance) {
  switch (kind) {
  case BT_WEIGHTS_LINEAR:
    return 1 - distance;
  case BT_WEIGHTS_QUADRATIC:
    return 1 - distance * distance;
  case BT_WEIGHTS_NONE:
    break;
  }
  return distance > 0 ? 0 : 1;
}

void bt_weights(BtWeights kind, const double *value, gsize categories, double *weight) {
  double span = categories > 1 ? value[categories - 1] - value[0] : 1;
  for (gsize i = 0; i < categories; i++) {
    for (gsize j = 0; j < categories; j++)
      weight[i * categories + j] = weight_of(kind, fabs(value[i] - value[j]) / span);
  }
}

void bt_weights_of_disagreement(const double *disagreement, gsize categories, double *weight) {
  double most = 0;
  for (gsize i = 0; i < categories * categories; i++)
    most = MAX(most, disagreement[i]);
  for (gsize i = 0; i < categories * categories; i++)
    weight[i] = most > 0 ? 1 - disagreement[i] / most : 1;
}

// Kappa -----------------------------------------------------------------------

// A table as shares, with its margins and what they expect.
typedef struct {
  gsize k;
  double n;
  double *share;           // k x k
  double *weight;          // k x k
  double *row, *column;    // margins
  double *row_weight;      // mean weight of a row's cells under the columns' margin
  double *column_weight;   // of a column's cells under the rows' margin
  double observed, chance; // weighted
} Shares;

static void shares_clear(Shares *shares) {
  g_free(shares->share); // the rest stands behind it in the same block
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Shares, shares_clear)

static Shares new_shares(gsize k) {
  Shares shares = {.k = k, .share = g_new0(double, 2 * k * k + 4 * k + 1)};
  shares.weight = shares.share + k * k;
  shares.row = shares.weight + k * k;
  shares.column = shares.row + k;
  shares.row_weight = shares.column + k;
  shares.column_weight = shares.row_weight + k;
  return shares;
}

static void fill_margins(Shares *shares, const double *count) {
  gsize k = shares->k;
  for (gsize c = 0; c < k * k; c++)
    shares->n += count[c];
  for (gsize i = 0; i < k; i++) {
    for (gsize j = 0; j < k; j++) {
      double share = shares->n > 0 ? count[i * k + j] / shares->n : 0;
      shares->share[i * k + j] = share;
      shares->row[i] += share;
      shares->column[j] += share;
    }
  }
}

static void fill_weights(Shares *shares, const double *weight) {
  gsize k = shares->k;
  for (gsize i = 0; i < k; i++) {
    for (gsize j = 0; j < k; j++) {
      double w = weight ? weight[i * k + j] : i == j;
      shares->weight[i * k + j] = w;
      shares->row_weight[i] += w * shares->column[j];
      shares->column_weight[j] += w * shares->row[i];
      shares->observed += w * shares->share[i * k + j];
      shares->chance += w * shares->row[i] * shares->column[j];
    }
  }
}

// Fleiss, Cohen and Everitt (1969), Psychol Bull 72:323-327: equation 13, for weights of any kind;
// with weights 1 and 0 it is their equation for kappa itself.
static double standard_error(const Shares *shares) {
  double po = shares->observed, pe = shares->chance, sum = 0;
  for (gsize i = 0; i < shares->k; i++) {
    for (gsize j = 0; j < shares->k; j++) {
      gsize cell = i * shares->k + j;
      double term = shares->weight[cell] * (1 - pe) -
                    (shares->row_weight[i] + shares->column_weight[j]) * (1 - po);
      sum += shares->share[cell] * term * term;
    }
  }
  double middle = po * pe - 2 * pe + po;
  return sqrt(MAX(sum - middle * middle, 0) / shares->n) / ((1 - pe) * (1 - pe));
}

// The same paper, equation 9: were the raters independent.
static double null_error(const Shares *shares) {
  double pe = shares->chance, sum = 0;
  for (gsize i = 0; i < shares->k; i++) {
    for (gsize j = 0; j < shares->k; j++) {
      double term =
          shares->weight[i * shares->k + j] - shares->row_weight[i] - shares->column_weight[j];
      sum += shares->row[i] * shares->column[j] * term * term;
    }
  }
  return sqrt(MAX(sum - pe * pe, 0) / shares->n) / (1 - pe);
}

// Kappa with the largest diagonal that the margins allow (Cohen 1960).
static double greatest_kappa(const Shares *shares) {
  double most = 0, chance = 0;
  for (gsize i = 0; i < shares->k; i++) {
    most += MIN(shares->row[i], shares->column[i]);
    chance += shares->row[i] * shares->column[i];
  }
  return (most - chance) / (1 - chance);
}

BtKappa bt_kappa(const double *count, gsize categories, const double *weight) {
  g_auto(Shares) shares = new_shares(categories);
  fill_margins(&shares, count);
  fill_weights(&shares, weight);
  gsize n = (gsize)shares.n;
  BtKappa kappa = {.observed = shares.observed, .by_chance = shares.chance};
  double left = 1 - shares.chance;
  if (!(shares.n > 0) || left < 1e-12) {
    kappa.estimate = bt_not_estimable(shares.n > 0 ? BT__ALL_THE_SAME : BT__NO_TWO, n);
    return kappa;
  }
  bool without_exception = 1 - shares.observed < 1e-12;
  kappa.estimate = bt__estimate_cut((shares.observed - shares.chance) / left,
                                    without_exception ? 0 : standard_error(&shares), INFINITY, -1,
                                    1, n, BT__ALL_THE_SAME);
  kappa.null_se = null_error(&shares);
  kappa.greatest = greatest_kappa(&shares);
  return kappa;
}

BtTwoByTwo bt_two_by_two(const double count[4]) {
  double n = count[0] + count[1] + count[2] + count[3];
  return (BtTwoByTwo){.prevalence = (count[3] - count[0]) / n,
                      .bias = (count[2] - count[1]) / n,
                      .pabak = 2 * (count[0] + count[3]) / n - 1};
}
