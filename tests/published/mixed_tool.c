// SPDX-License-Identifier: GPL-3.0-or-later
//
// Fits a mixed model to a table and prints what was found as JSON, for a test that fits the same
// with another program:
//
//   mixed_tool FILE.csv reml|ml [column NAME]... [group NAME | slope NAME BY | fixed NAME]...
//
// The table's column "score" is explained by a mean (left out when a factor is fixed), by the
// columns named, and by group effects: a start, or a start and a slope by another column.
#include <stdio.h>
#include <stdlib.h>

#include <benchtally/mixed.h>
#include <benchtally/table.h>
#include <jansson.h>

typedef struct {
  BtTable *table;
  GPtrArray *faults;
  gsize rows;
  GPtrArray *columns; // of double[rows]
  GArray *terms;      // of BtMixedTerm
} Model;

static double *numbers(Model *model, const char *name) {
  double *value =
      bt_table_numbers(model->table, bt_table_column(model->table, name), model->faults);
  if (!value)
    exit(2);
  return value;
}

static void add_term(Model *model, const char *name, const char *slope, bool fixed) {
  GPtrArray *names = NULL;
  int column = bt_table_column(model->table, name);
  gsize *of = bt_table_levels(model->table, column, &names, model->faults);
  if (!of)
    exit(2);
  BtMixedTerm term = {.groups = names->len,
                      .of = of,
                      .slope = slope ? numbers(model, slope) : NULL,
                      .fixed = fixed};
  g_array_append_val(model->terms, term);
  g_ptr_array_unref(names);
}

static void read_words(Model *model, char **word) {
  for (; *word; word += 2) {
    if (g_str_equal(word[0], "column"))
      g_ptr_array_add(model->columns, numbers(model, word[1]));
    else if (g_str_equal(word[0], "slope"))
      add_term(model, word[1], word[2], false), word++;
    else
      add_term(model, word[1], NULL, g_str_equal(word[0], "fixed"));
  }
}

static double *design(const Model *model, gsize *columns) {
  gsize mean = 1;
  for (guint t = 0; t < model->terms->len; t++)
    mean = g_array_index(model->terms, BtMixedTerm, t).fixed ? 0 : mean;
  *columns = mean + model->columns->len;
  double *x = g_new(double, model->rows **columns);
  for (gsize i = 0; i < model->rows; i++) {
    for (gsize j = 0; j < *columns; j++) {
      const double *given = j < mean ? NULL : g_ptr_array_index(model->columns, j - mean);
      x[i * *columns + j] = given ? given[i] : 1;
    }
  }
  return x;
}

static json_t *list(const double *value, gsize n) {
  json_t *array = json_array();
  for (gsize i = 0; i < n; i++)
    json_array_append_new(array, json_real(value[i]));
  return array;
}

static json_t *tell(const BtMixed *fit) {
  json_t *parts = json_array();
  for (gsize t = 0; t < fit->terms; t++) {
    const BtMixedPart *part = &fit->part[t];
    gsize width = (gsize)part->width;
    json_array_append_new(
        parts, json_pack("{s:f, s:f, s:f, s:f, s:b, s:o, s:o}", "variance", part->variance,
                         "slope_variance", part->slope_variance, "covariance", part->covariance,
                         "correlation", part->correlation, "at_boundary", part->at_boundary,
                         "effect", list(part->effect, part->groups * width), "effect_variance",
                         list(part->effect_variance, part->groups * width * width)));
  }
  return json_pack("{s:f, s:f, s:b, s:o, s:o, s:o}", "criterion", fit->criterion,
                   "residual_variance", fit->residual_variance, "singular", fit->singular, "b",
                   list(fit->b, fit->columns), "b_covariance",
                   list(fit->b_covariance, fit->columns * fit->columns), "parts", parts);
}

int main(int argc, char **argv) {
  if (argc < 3)
    return 2;
  g_autoptr(GPtrArray) faults = g_ptr_array_new();
  const char *const needed[] = {"score", NULL};
  g_autoptr(GError) error = NULL;
  g_autoptr(BtTable) table = bt_table_read(argv[1], needed, faults, &error);
  if (!table)
    return 2;
  Model model = {.table = table,
                 .faults = faults,
                 .rows = bt_table_rows(table),
                 .columns = g_ptr_array_new_with_free_func(g_free),
                 .terms = g_array_new(FALSE, FALSE, sizeof(BtMixedTerm))};
  read_words(&model, &argv[3]);
  g_autofree double *y = numbers(&model, "score");
  gsize columns = 0;
  g_autofree double *x = design(&model, &columns);
  BtMixedData data = {.rows = model.rows,
                      .y = y,
                      .columns = columns,
                      .x = x,
                      .terms = model.terms->len,
                      .term = (BtMixedTerm *)(void *)model.terms->data};
  gint64 begin = g_get_monotonic_time();
  g_autoptr(BtMixed) fit =
      bt_mixed_fit(&data, g_str_equal(argv[2], "ml") ? BT_MIXED_ML : BT_MIXED_REML);
  json_t *told = fit->why_not ? json_pack("{s:s}", "why_not", fit->why_not) : tell(fit);
  json_object_set_new(told, "ms", json_real((double)(g_get_monotonic_time() - begin) / 1000));
  json_dumpf(told, stdout, JSON_REAL_PRECISION(17) | JSON_INDENT(2));
  json_decref(told);
  for (guint t = 0; t < model.terms->len; t++) {
    g_free((gpointer)g_array_index(model.terms, BtMixedTerm, t).of);
    g_free((gpointer)g_array_index(model.terms, BtMixedTerm, t).slope);
  }
  g_array_unref(model.terms);
  g_ptr_array_unref(model.columns);
  return 0;
}
