// SPDX-License-Identifier: GPL-3.0-or-later
//
// Angoff's mark from a table of items by judges.
#include <benchtally/agreement.h>
#include <benchtally/reliability.h>
#include <benchtally/standard.h>

#include <gsl/gsl_linalg.h>

#include "measure/agreement_parts.h"
#include "measure/numerics.h"

#define NOT_CONNECTED "some judges share no item"
#define FEW           "fewer than two judges or items"
#define SPARSE        "too few items were rated in common"

// The ratings of the items and judges that have any.
typedef struct {
  gsize items, judges, holes;
  double *rating; // items x judges
  double *share;  // of each item's points in all
  gsize *judge;   // its place in the input
} Table;

static void table_clear(Table *table) {
  g_free(table->rating);
  g_free(table->share);
  g_free(table->judge);
}

static bool judge_rated(const BtRatings *ratings, gsize judge) {
  for (gsize i = 0; i < ratings->subjects; i++) {
    if (!bt_is_missing(ratings->cell[i * ratings->raters + judge]))
      return true;
  }
  return false;
}

static Table table_of(const BtRatings *ratings, const double *points) {
  Table table = {.rating = g_new(double, ratings->subjects * ratings->raters + 1),
                 .share = g_new(double, ratings->subjects + 1),
                 .judge = g_new(gsize, ratings->raters + 1)};
  for (gsize j = 0; j < ratings->raters; j++) {
    if (judge_rated(ratings, j))
      table.judge[table.judges++] = j;
  }
  double all = 0;
  for (gsize i = 0; i < ratings->subjects; i++) {
    if (bt__rated(ratings, i) == 0)
      continue;
    for (gsize j = 0; j < table.judges; j++) {
      double rating = ratings->cell[i * ratings->raters + table.judge[j]];
      table.rating[table.items * table.judges + j] = rating;
      table.holes += bt_is_missing(rating);
    }
    table.share[table.items] = points ? points[i] : 1;
    all += table.share[table.items++];
  }
  for (gsize i = 0; i < table.items; i++)
    table.share[i] /= all;
  return table;
}

// Filling holes ---------------------------------------------------------------

static double rating_at(const Table *table, gsize item, gsize judge) {
  return table->rating[item * table->judges + judge];
}

// The mean of an item's ratings, each less its judge's effect (NULL: none).
static double item_mean(const Table *table, gsize item, const gsl_vector *effect, double *rated) {
  double sum = 0;
  *rated = 0;
  for (gsize j = 0; j < table->judges; j++) {
    if (bt_is_missing(rating_at(table, item, j)))
      continue;
    sum += rating_at(table, item, j) - (effect ? gsl_vector_get(effect, j) : 0);
    ++*rated;
  }
  return sum / *rated;
}

// Adds an item's part to the normal equations of the judges' effects, the items' being taken out.
static void add_item(const Table *table, gsize item, gsl_matrix *left, gsl_vector *right) {
  double rated = 0, mean = item_mean(table, item, NULL, &rated);
  for (gsize a = 0; a < table->judges; a++) {
    if (bt_is_missing(rating_at(table, item, a)))
      continue;
    *gsl_vector_ptr(right, a) += rating_at(table, item, a) - mean;
    *gsl_matrix_ptr(left, a, a) += 1;
    for (gsize b = 0; b < table->judges; b++) {
      if (!bt_is_missing(rating_at(table, item, b)))
        *gsl_matrix_ptr(left, a, b) -= 1 / rated;
    }
  }
}

// The judges' effects, which sum to 0, by least squares; false: the table falls apart.
static bool judge_effects(const Table *table, gsl_vector *effect) {
  gsl_matrix *left = gsl_matrix_alloc(table->judges, table->judges);
  // The condition on their sum; without it the equations hold for any constant added.
  gsl_matrix_set_all(left, 1 / (double)table->judges);
  gsl_vector_set_zero(effect);
  for (gsize i = 0; i < table->items; i++)
    add_item(table, i, left, effect);
  bool solved = gsl_linalg_cholesky_decomp1(left) == 0;
  for (gsize j = 0; j < table->judges && solved; j++) // a pivot of rounding alone is none
    solved = gsl_matrix_get(left, j, j) > 1e-6;
  solved = solved && gsl_linalg_cholesky_svx(left, effect) == 0;
  gsl_matrix_free(left);
  return solved;
}

static bool fill_holes(Table *table) {
  if (table->holes == 0)
    return true;
  gsl_vector *effect = gsl_vector_alloc(table->judges);
  bool solved = judge_effects(table, effect);
  for (gsize i = 0; i < table->items && solved; i++) {
    double rated = 0, mean = item_mean(table, i, effect, &rated);
    for (gsize j = 0; j < table->judges; j++) {
      double *rating = &table->rating[i * table->judges + j];
      if (bt_is_missing(*rating))
        *rating = CLAMP(mean + gsl_vector_get(effect, j), 0, 100);
    }
  }
  gsl_vector_free(effect);
  return solved;
}

// Figures ---------------------------------------------------------------------

// The judges' own marks, in their places of the input; caller frees.
static double *marks(const Table *table, gsize judges) {
  double *cut = g_new(double, judges + 1);
  for (gsize j = 0; j < judges; j++)
    cut[j] = BT_MISSING;
  for (gsize j = 0; j < table->judges; j++) {
    double sum = 0;
    for (gsize i = 0; i < table->items; i++)
      sum += table->share[i] * rating_at(table, i, j);
    cut[table->judge[j]] = sum;
  }
  return cut;
}

// The scores of a study of items by judges from the ratings that were given.
static BtGStudy *study_of(const BtRatings *ratings, const BtDesign *design) {
  gsize cells = ratings->subjects * ratings->raters, n = 0;
  g_autofree double *score = g_new(double, cells + 1);
  g_autofree gsize *item = g_new(gsize, cells + 1), *judge = g_new(gsize, cells + 1);
  for (gsize c = 0; c < cells; c++) {
    if (bt_is_missing(ratings->cell[c]))
      continue;
    score[n] = ratings->cell[c];
    item[n] = c / ratings->raters;
    judge[n++] = c % ratings->raters;
  }
  const gsize *levels[] = {item, judge};
  BtScores scores = {.n = n, .score = score, .levels = levels};
  return bt_gstudy(design, &scores, BT_BY_ANOVA);
}

// The components in the order of the design: item, judge, residual.
static void fill_components(BtAngoff *angoff, const BtRatings *ratings) {
  BtEstimate *component[] = {&angoff->item_variance, &angoff->judge_variance,
                             &angoff->residual_variance};
  for (gsize i = 0; i < G_N_ELEMENTS(component); i++)
    *component[i] = bt_not_estimable(FEW, angoff->judges);
  if (angoff->items < 2 || angoff->judges < 2)
    return;
  g_autoptr(BtDesign) design = bt_design_parse("item x judge", NULL);
  g_autoptr(BtGStudy) study = study_of(ratings, design);
  for (gsize i = 0; i < G_N_ELEMENTS(component); i++)
    *component[i] =
        study->why_not ? bt_not_estimable(SPARSE, angoff->judges) : study->effect[i].component;
}

static double at_least_0(const BtEstimate *component) {
  return MAX(component->value, 0);
}

// Judges and items both drawn: the variance of a mean weighted by shares of the points. With equal
// shares it is Brennan and Lockwood's (1980).
static BtEstimate with_items_drawn(const BtAngoff *angoff, const Table *table) {
  if (angoff->judge_variance.why_not) // then so are the others
    return bt_not_estimable(angoff->judge_variance.why_not, angoff->judges);
  double squares = 0, judges = (double)angoff->judges;
  for (gsize i = 0; i < table->items; i++)
    squares += table->share[i] * table->share[i];
  double variance = at_least_0(&angoff->judge_variance) / judges +
                    at_least_0(&angoff->item_variance) * squares +
                    at_least_0(&angoff->residual_variance) * squares / judges;
  return bt__estimate_cut(angoff->panel.mean.value, sqrt(variance), INFINITY, 0, 100,
                          angoff->judges, FEW);
}

BtAngoff bt_angoff(const BtRatings *ratings, const double *points) {
  bt__gsl_quiet();
  Table table = table_of(ratings, points);
  BtAngoff angoff = {.items = table.items, .judges = table.judges, .holes = table.holes};
  bool whole = fill_holes(&table);
  g_autofree double *cut = marks(&table, ratings->raters);
  for (gsize j = 0; j < ratings->raters && !whole; j++)
    cut[j] = BT_MISSING;
  angoff.panel = bt_panel(cut, ratings->raters);
  fill_components(&angoff, ratings);
  angoff.agreement =
      table.judges < 2 ? bt_not_estimable(FEW, table.judges) : bt_icc(ratings).form[BT_ICC_2];
  if (whole && table.items > 0) {
    angoff.both = with_items_drawn(&angoff, &table);
  } else {
    angoff.both = bt_not_estimable(whole ? FEW : NOT_CONNECTED, table.judges);
    angoff.panel.mean = bt_not_estimable(whole ? angoff.panel.mean.why_not : NOT_CONNECTED, 0);
  }
  table_clear(&table);
  return angoff;
}

void bt_angoff_clear(BtAngoff *angoff) {
  bt_panel_clear(&angoff->panel);
}
