// SPDX-License-Identifier: GPL-3.0-or-later
//
// Mixed models: published fits, complete tables where REML is the analysis of variance, what does
// not change the answer, what has none, and a large table with a known truth.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/mixed.h>

#include "support/published.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

// The values recomputed come from another program's search, which ends somewhat above the least
// criterion: within this share of the values, as that program says itself when it searches longer
// (mixed_r_test.sh).
#define SEARCHED 1e-5

static double normal(GRand *chance) {
  return qnorm(g_rand_double_range(chance, 1e-12, 1 - 1e-12), 0, 1, TRUE, FALSE);
}

static void assert_near(double is, double want, double tolerance) {
  if (!(fabs(is - want) <= tolerance * fmax(1, fabs(want))))
    fail_msg("%.15g is not %.15g", is, want);
}

// A model of a table: rows of one grouping after another, columns the second grouping or none.
typedef struct {
  gsize n;
  double *ones;
  gsize *row, *column;
  BtMixedTerm term[2];
  BtMixedData data;
} Table;

static void table_init(Table *table, const double *cell, gsize rows, gsize columns, gsize terms) {
  *table = (Table){.n = rows * columns};
  table->ones = g_new(double, table->n);
  table->row = g_new(gsize, table->n);
  table->column = g_new(gsize, table->n);
  for (gsize i = 0; i < table->n; i++) {
    table->ones[i] = 1;
    table->row[i] = i / columns;
    table->column[i] = i % columns;
  }
  table->term[0] = (BtMixedTerm){.groups = rows, .of = table->row};
  table->term[1] = (BtMixedTerm){.groups = columns, .of = table->column};
  table->data = (BtMixedData){.rows = table->n,
                              .y = cell,
                              .columns = 1,
                              .x = table->ones,
                              .terms = terms,
                              .term = table->term};
}

static void table_clear(Table *table) {
  g_free(table->ones);
  g_free(table->row);
  g_free(table->column);
}

static BtMixed *fit_table(const double *cell, gsize rows, gsize columns, gsize terms) {
  Table table;
  table_init(&table, cell, rows, columns, terms);
  BtMixed *fit = bt_mixed_fit(&table.data, BT_MIXED_REML);
  table_clear(&table);
  return fit;
}

// Published -------------------------------------------------------------------

static void the_dyestuff_of_davies(void **state) {
  (void)state;
  json_t *family = published_family("mixed");
  json_t *example = published_example(family, "dyestuff");
  gsize rows, columns;
  g_autofree double *cell =
      published_matrix(published_input(example, "batches_rows"), &rows, &columns);
  g_autoptr(BtMixed) fit = fit_table(cell, rows, columns, 1);
  assert_null(fit->why_not);
  assert_false(fit->singular);
  published_check(example, "var_batch", fit->part[0].variance);
  published_check(example, "var_resid", fit->residual_variance);
  published_check_to(example, "reml_batch", fit->part[0].variance, SEARCHED);
  json_decref(family);
}

static void the_dyestuff_of_box_and_tiao_ends_at_0_exactly(void **state) {
  (void)state;
  json_t *family = published_family("mixed");
  json_t *example = published_example(family, "dyestuff2");
  gsize rows, columns;
  g_autofree double *cell =
      published_matrix(published_input(example, "batches_rows"), &rows, &columns);
  g_autoptr(BtMixed) fit = fit_table(cell, rows, columns, 1);
  assert_null(fit->why_not);
  assert_true(fit->singular && fit->part[0].at_boundary);
  assert_true(fit->part[0].variance == 0);
  published_check(example, "reml_batch", fit->part[0].variance);
  published_check(example, "reml_resid", fit->residual_variance);
  for (gsize g = 0; g < rows; g++)
    assert_true(fit->part[0].effect[g] == 0 && fit->part[0].effect_variance[g] == 0);
  json_decref(family);
}

// Reaction times by day, starts and slopes of the subjects.
static void sleep_study_init(json_t *example, Table *table) {
  gsize rows, columns;
  double *cell = published_matrix(published_input(example, "reaction_rows_subject_cols_day0to9"),
                                  &rows, &columns);
  table_init(table, cell, rows, columns, 1);
  double *day = g_new(double, table->n), *x = g_new(double, 2 * table->n);
  for (gsize i = 0; i < table->n; i++) {
    x[2 * i] = 1;
    x[2 * i + 1] = day[i] = (double)table->column[i];
  }
  table->term[0].slope = day;
  table->data.x = x;
  table->data.columns = 2;
}

static void sleep_study_clear(Table *table) {
  g_free((gpointer)table->term[0].slope);
  g_free((gpointer)table->data.x);
  g_free((gpointer)table->data.y);
  table_clear(table);
}

static void the_sleep_study_of_belenky(void **state) {
  (void)state;
  json_t *family = published_family("mixed");
  json_t *example = published_example(family, "sleepstudy");
  Table table;
  sleep_study_init(example, &table);
  g_autoptr(BtMixed) fit = bt_mixed_fit(&table.data, BT_MIXED_REML);
  assert_null(fit->why_not);
  published_check_to(example, "b0", fit->b[0], SEARCHED);
  published_check_to(example, "b1", fit->b[1], SEARCHED);
  published_check_to(example, "se_b0", sqrt(fit->b_covariance[0]), SEARCHED);
  published_check_to(example, "se_b1", sqrt(fit->b_covariance[3]), SEARCHED);
  published_check_to(example, "sd_int", sqrt(fit->part[0].variance), SEARCHED);
  published_check_to(example, "sd_slope", sqrt(fit->part[0].slope_variance), SEARCHED);
  published_check_to(example, "corr", fit->part[0].correlation, 100 * SEARCHED);
  published_check_to(example, "sd_resid", sqrt(fit->residual_variance), SEARCHED);
  published_check_to(example, "reml_deviance", fit->criterion, 1e-10);
  assert_true(fit->criterion < published_value(example, "recomputed", "reml_deviance"));
  sleep_study_clear(&table);
  json_decref(family);
}

// Limits ----------------------------------------------------------------------

// The other program finds its limits on a spline through points of the profile.
#define SPLINED 2e-4

static void check_limits(json_t *example, const BtMixed *fit, BtMixedComponent component,
                         const char *name) {
  BtEstimate sd = bt_mixed_sd(fit, component, 0);
  g_autofree char *low = g_strconcat(name, "_low", NULL), *high = g_strconcat(name, "_high", NULL);
  assert_null(sd.why_not);
  assert_true(sd.has_limits);
  published_check_to(example, low, sd.low, SPLINED);
  published_check_to(example, high, sd.high, SPLINED);
}

static void limits_of_the_dyestuffs(void **state) {
  (void)state;
  json_t *family = published_family("mixed");
  const char *const ids[] = {"dyestuff", "dyestuff2"};
  for (gsize i = 0; i < G_N_ELEMENTS(ids); i++) {
    json_t *example = published_example(family, ids[i]);
    gsize rows, columns;
    g_autofree double *cell =
        published_matrix(published_input(example, "batches_rows"), &rows, &columns);
    Table table;
    table_init(&table, cell, rows, columns, 1);
    g_autoptr(BtMixed) fit = bt_mixed_fit(&table.data, BT_MIXED_ML);
    check_limits(example, fit, BT_MIXED_START, "ml_sd_batch");
    BtEstimate none = bt_mixed_sd(fit, BT_MIXED_SLOPE, 0);
    assert_string_equal(none.why_not, "the model has no such variance");
    table_clear(&table);
  }
  json_decref(family);
}

static void limits_of_the_sleep_study(void **state) {
  (void)state;
  json_t *family = published_family("mixed");
  json_t *example = published_example(family, "sleepstudy");
  Table table;
  sleep_study_init(example, &table);
  g_autoptr(BtMixed) fit = bt_mixed_fit(&table.data, BT_MIXED_ML);
  BtMixedWeight line[] = {{-1, 0, false, 1}, {0, 3, true, 1}};
  BtEstimate before = bt_mixed_sum(fit, line, 2);
  check_limits(example, fit, BT_MIXED_START, "ml_sd_int");
  check_limits(example, fit, BT_MIXED_SLOPE, "ml_sd_slope");
  check_limits(example, fit, BT_MIXED_RESIDUAL, "ml_sd_resid");
  BtEstimate after = bt_mixed_sum(fit, line, 2); // the fit is as it was
  assert_true(before.value == after.value && fabs(before.se - after.se) < 1e-12);
  sleep_study_clear(&table);
  json_decref(family);
}

// Complete tables -------------------------------------------------------------

typedef struct {
  double rows, columns, left; // mean squares
} MeanSquares;

static MeanSquares mean_squares(const double *cell, gsize rows, gsize columns) {
  g_autofree double *row = g_new0(double, rows), *column = g_new0(double, columns);
  double mean = 0, of_rows = 0, of_columns = 0, all = 0;
  for (gsize i = 0; i < rows * columns; i++) {
    row[i / columns] += cell[i] / (double)columns;
    column[i % columns] += cell[i] / (double)rows;
    mean += cell[i] / (double)(rows * columns);
  }
  for (gsize i = 0; i < rows; i++)
    of_rows += (double)columns * (row[i] - mean) * (row[i] - mean);
  for (gsize j = 0; j < columns; j++)
    of_columns += (double)rows * (column[j] - mean) * (column[j] - mean);
  for (gsize i = 0; i < rows * columns; i++)
    all += (cell[i] - mean) * (cell[i] - mean);
  double r = (double)rows - 1, c = (double)columns - 1;
  return (MeanSquares){of_rows / r, of_columns / c, (all - of_rows - of_columns) / (r * c)};
}

// In a complete table REML is the analysis of variance wherever that is not below 0 (Searle,
// Casella and McCulloch 1992, section 6.6); else what is below 0 goes into the residuals.
static void complete_tables_are_analysed_as_by_variance(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(20260301);
  int positive = 0, pooled = 0;
  for (int round = 0; round < 200; round++) {
    double cell[100];
    gsize rows = (gsize)g_rand_int_range(chance, 3, 11);
    gsize columns = (gsize)g_rand_int_range(chance, 3, 11);
    double sd = g_rand_double_range(chance, 0, 1.2), row = 0;
    for (gsize i = 0; i < rows * columns; i++) {
      row = i % columns == 0 ? sd * normal(chance) : row;
      cell[i] = 50 + row + 2 * (double)(i % columns) + normal(chance);
    }
    MeanSquares ms = mean_squares(cell, rows, columns);
    g_autoptr(BtMixed) fit = fit_table(cell, rows, columns, 2);
    assert_null(fit->why_not);
    double r = (double)rows, c = (double)columns, left = ms.left;
    if (ms.rows < ms.left) {
      left = ((r - 1) * ms.rows + (r - 1) * (c - 1) * ms.left) / ((r - 1) * c);
      assert_true(fit->part[0].variance == 0 && fit->singular);
      pooled++;
    } else {
      assert_near(fit->part[0].variance, (ms.rows - ms.left) / c, 1e-9);
      assert_false(fit->singular);
      positive++;
    }
    assert_near(fit->residual_variance, left, 1e-9);
    assert_near(fit->part[1].variance, (ms.columns - left) / r, 1e-9);
    assert_near(fit->b_covariance[0], (fmax(ms.rows, left) + ms.columns - left) / (r * c), 1e-9);
  }
  print_message("positive %d, pooled %d\n", positive, pooled);
  assert_true(positive > 100 && pooled > 20);
}

// What is the same ------------------------------------------------------------

static void scale_origin_and_names_do_not_matter(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(11);
  double y[60], turned[60], ones[60];
  gsize a[60], b[60], turned_a[60], turned_b[60];
  for (gsize i = 0; i < 60; i++) {
    a[i] = i % 12;
    b[i] = (i / 12 + (gsize)g_rand_int(chance)) % 5;
    y[i] = normal(chance) + (double)(a[i] * a[i] % 7) + (double)b[i];
    ones[i] = 1;
  }
  for (gsize i = 0; i < 60; i++) {
    turned[i] = 1e6 + 1000 * y[59 - i];
    turned_a[i] = 11 - a[59 - i];
    turned_b[i] = (b[59 - i] + 2) % 5;
  }
  BtMixedTerm term[] = {{.groups = 12, .of = a}, {.groups = 5, .of = b}};
  BtMixedTerm other[] = {{.groups = 5, .of = turned_b}, {.groups = 12, .of = turned_a}};
  BtMixedData one = {60, y, 1, ones, 2, term}, two = {60, turned, 1, ones, 2, other};
  g_autoptr(BtMixed) first = bt_mixed_fit(&one, BT_MIXED_REML);
  g_autoptr(BtMixed) second = bt_mixed_fit(&two, BT_MIXED_REML);
  assert_near(second->residual_variance, 1e6 * first->residual_variance, 1e-8);
  assert_near(second->part[1].variance, 1e6 * first->part[0].variance, 1e-8);
  assert_near(second->part[0].variance, 1e6 * first->part[1].variance, 1e-8);
  assert_near(second->b[0], 1e6 + 1000 * first->b[0], 1e-11);
  assert_near(second->part[1].effect[11 - 4], 1000 * first->part[0].effect[4], 1e-7);
}

// Restricted likelihood by hand: without group effects it is the sample variance; a fixed grouping
// gives the groups' means.
static void models_without_group_effects(void **state) {
  (void)state;
  double y[] = {1, 2, 6, 7, 3, 5}, ones[] = {1, 1, 1, 1, 1, 1};
  gsize of[] = {0, 0, 1, 1, 2, 2};
  BtMixedData mean = {.rows = 6, .y = y, .columns = 1, .x = ones};
  g_autoptr(BtMixed) alone = bt_mixed_fit(&mean, BT_MIXED_REML);
  assert_near(alone->b[0], 4, 1e-14);
  assert_near(alone->residual_variance, 28.0 / 5, 1e-13);
  g_autoptr(BtMixed) likelihood = bt_mixed_fit(&mean, BT_MIXED_ML);
  assert_near(likelihood->residual_variance, 28.0 / 6, 1e-13);
  BtMixedTerm term = {.groups = 3, .of = of, .fixed = true};
  BtMixedData means = {.rows = 6, .y = y, .terms = 1, .term = &term};
  g_autoptr(BtMixed) groups = bt_mixed_fit(&means, BT_MIXED_REML);
  assert_near(groups->part[0].effect[1], 6.5, 1e-13);
  assert_near(groups->residual_variance, 1, 1e-13); // (0.5 + 0.5 + 2) / 3
  assert_near(groups->part[0].effect_variance[1], 0.5, 1e-13);
  assert_false(groups->singular);
}

// What has no answer ----------------------------------------------------------

static void assert_why(const BtMixedData *data, const char *why) {
  g_autoptr(BtMixed) fit = bt_mixed_fit(data, BT_MIXED_REML);
  assert_non_null(fit->why_not);
  assert_string_equal(fit->why_not, why);
  BtMixedWeight weight = {.term = -1, .weight = 1};
  BtEstimate sum = bt_mixed_sum(fit, &weight, 1);
  assert_string_equal(sum.why_not, why);
}

static void what_has_no_answer_says_why(void **state) {
  (void)state;
  double y[] = {1, 2, 4, 3, 3, 5}, flat[] = {2, 2, 2, 2, 2, 2}, steps[] = {1, 1, 4, 4, 5, 5};
  double ones[] = {1, 1, 1, 1, 1, 1}, twice[12], slope[] = {1, 2, 3, 4, 5, 6};
  gsize of[] = {0, 0, 1, 1, 2, 2}, each[] = {0, 1, 2, 3, 4, 5}, one[] = {0, 0, 0, 0, 0, 0};
  for (gsize i = 0; i < 12; i++)
    twice[i] = 1;
  BtMixedTerm term = {.groups = 3, .of = of};
  BtMixedData data = {6, y, 1, ones, 1, &term};
  g_autoptr(BtMixed) fit = bt_mixed_fit(&data, BT_MIXED_REML);
  assert_null(fit->why_not);
  data.rows = 0;
  assert_why(&data, "there are fewer than two values");
  data.rows = 1;
  assert_why(&data, "there are fewer than two values");
  data.rows = 6;
  data.y = flat;
  assert_why(&data, "all values are the same");
  data.y = steps;
  assert_why(&data, "the values leave nothing to chance: there is no error to measure against");
  data.y = y;
  data.x = twice;
  data.columns = 2;
  assert_why(&data, "columns of the model tell the same");
  data.x = ones;
  data.columns = 1;
  term.slope = slope;
  assert_why(&data, "there are as many groups as values");
  term = (BtMixedTerm){.groups = 6, .of = each};
  assert_why(&data, "there are as many groups as values");
  term = (BtMixedTerm){.groups = 1, .of = one};
  assert_why(&data, "there is only one group");
  term = (BtMixedTerm){.groups = 3, .of = of, .fixed = true}; // beside the mean: one too many
  assert_why(&data, "the means to estimate cannot be told apart");
}

// Size ------------------------------------------------------------------------

#define MANY      20000
#define TRAINEES  8000
#define ASSESSORS 100

// Variances of 25, 4 and 16 are found within four of their standard errors, which for the trainees'
// and the assessors' are near sqrt(2 / groups) times the mean square each rests on.
static void a_large_table_gives_back_its_truth(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(20260302);
  g_autofree double *y = g_new(double, MANY), *ones = g_new(double, MANY);
  g_autofree gsize *trainee = g_new(gsize, MANY), *assessor = g_new(gsize, MANY);
  g_autofree double *ability = g_new(double, TRAINEES), *severity = g_new(double, ASSESSORS);
  for (gsize i = 0; i < TRAINEES; i++)
    ability[i] = 5 * normal(chance);
  for (gsize i = 0; i < ASSESSORS; i++)
    severity[i] = 2 * normal(chance);
  for (gsize i = 0; i < MANY; i++) {
    trainee[i] = i % TRAINEES;
    assessor[i] = i < ASSESSORS ? i : (gsize)g_rand_int_range(chance, 0, ASSESSORS);
    y[i] = 60 + ability[trainee[i]] - severity[assessor[i]] + 4 * normal(chance);
    ones[i] = 1;
  }
  BtMixedTerm term[] = {{.groups = TRAINEES, .of = trainee}, {.groups = ASSESSORS, .of = assessor}};
  BtMixedData data = {MANY, y, 1, ones, 2, term};
  gint64 begin = g_get_monotonic_time();
  g_autoptr(BtMixed) fit = bt_mixed_fit(&data, BT_MIXED_REML);
  print_message("%d rows: %.2f s\n", MANY, (double)(g_get_monotonic_time() - begin) / 1e6);
  assert_null(fit->why_not);
  assert_true(fabs(fit->residual_variance - 16) < 4 * 16 * sqrt(2.0 / (MANY - TRAINEES)));
  assert_true(fabs(fit->part[0].variance - 25) < 4 * (25 + 16 / 2.5) * sqrt(2.0 / TRAINEES));
  assert_true(fabs(fit->part[1].variance - 4) < 4 * (4 + 16.0 / 200) * sqrt(2.0 / ASSESSORS));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_dyestuff_of_davies),
      cmocka_unit_test(the_dyestuff_of_box_and_tiao_ends_at_0_exactly),
      cmocka_unit_test(the_sleep_study_of_belenky),
      cmocka_unit_test(limits_of_the_dyestuffs),
      cmocka_unit_test(limits_of_the_sleep_study),
      cmocka_unit_test(complete_tables_are_analysed_as_by_variance),
      cmocka_unit_test(scale_origin_and_names_do_not_matter),
      cmocka_unit_test(models_without_group_effects),
      cmocka_unit_test(what_has_no_answer_says_why),
      cmocka_unit_test(a_large_table_gives_back_its_truth),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
