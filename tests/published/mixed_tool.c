// SPDX-License-Identifier: GPL-3.0-or-later
//
// Fits a mixed model to a table and prints what was found, a name and a number a line, for a test
// that fits the same with another program:
//
//   mixed_tool FILE.csv reml|ml [column NAME]... [group NAME | slope NAME BY | fixed NAME]...
//
// The table's column "score" is explained by a mean (left out when a factor is fixed), by the
// columns named, and by group effects: a start, or a start and a slope by another column.
#include <stdio.h>
#include <stdlib.h>

#include <benchtally/mixed.h>
#include <benchtally/table.h>

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

static void tell_all(const char *name, const double *value, gsize n) {
  for (gsize i = 0; i < n; i++)
    printf("%s.%u %.17g\n", name, (unsigned)i + 1, value[i]);
}

static void tell_part(gsize t, const BtMixedPart *part) {
  gsize effects = part->groups * (gsize)part->width;
  g_autofree char *effect = g_strdup_printf("effect.%u", (unsigned)t + 1);
  g_autofree char *variance = g_strdup_printf("effect_variance.%u", (unsigned)t + 1);
  double component[] = {part->variance, part->covariance, part->slope_variance};
  g_autofree char *name = g_strdup_printf("component.%u", (unsigned)t + 1);
  tell_all(name, component, part->width == 2 ? 3 : 1);
  tell_all(effect, part->effect, effects);
  tell_all(variance, part->effect_variance, effects * (gsize)part->width);
}

static void tell(const BtMixed *fit) {
  printf("criterion %.17g\nresidual %.17g\n", fit->criterion, fit->residual_variance);
  tell_all("b", fit->b, fit->columns);
  tell_all("b_covariance", fit->b_covariance, fit->columns * fit->columns);
  for (gsize t = 0; t < fit->terms; t++)
    tell_part(t, &fit->part[t]);
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
  printf("seconds %.6f\n", (double)(g_get_monotonic_time() - begin) / 1e6);
  if (fit->why_not)
    fprintf(stderr, "%s: not estimable: %s\n", argv[1], fit->why_not);
  else
    tell(fit);
  for (guint t = 0; t < model.terms->len; t++) {
    g_free((gpointer)g_array_index(model.terms, BtMixedTerm, t).of);
    g_free((gpointer)g_array_index(model.terms, BtMixedTerm, t).slope);
  }
  g_array_unref(model.terms);
  g_ptr_array_unref(model.columns);
  return fit->why_not ? 1 : 0;
}
