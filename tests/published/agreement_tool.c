// SPDX-License-Identifier: GPL-3.0-or-later
//
// agreement_tool FILE [TIMES]: what the library makes of a table of ratings, for another program to
// make the same: "name value" a line, 17 digits, nothing for what is not estimable. FILE has a row
// a subject, a column a rater, commas between, NA for none. With TIMES: how many microseconds each
// group of figures takes, the least of so many runs.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <benchtally/agreement.h>
#include <benchtally/association.h>
#include <benchtally/proportion.h>

static void put(const char *name, double value) {
  printf("%s %.17g\n", name, value);
}

static void put_estimate(const char *name, const BtEstimate *estimate) {
  if (estimate->why_not)
    return;
  g_autofree char *se = g_strconcat(name, ".se", NULL), *low = g_strconcat(name, ".low", NULL);
  g_autofree char *high = g_strconcat(name, ".high", NULL);
  put(name, estimate->value);
  if (estimate->has_se)
    put(se, estimate->se);
  if (estimate->has_limits) {
    put(low, estimate->low);
    put(high, estimate->high);
  }
}

// The table -------------------------------------------------------------------

static double *read_table(const char *path, BtRatings *ratings) {
  g_autofree char *text = NULL;
  g_autoptr(GError) error = NULL;
  if (!g_file_get_contents(path, &text, NULL, &error)) {
    fprintf(stderr, "%s\n", error->message);
    exit(2);
  }
  g_auto(GStrv) lines = g_strsplit(g_strstrip(text), "\n", -1);
  GArray *cells = g_array_new(FALSE, FALSE, sizeof(double));
  ratings->subjects = g_strv_length(lines);
  for (gsize i = 0; lines[i]; i++) {
    g_auto(GStrv) fields = g_strsplit(lines[i], ",", -1);
    ratings->raters = g_strv_length(fields);
    for (gsize j = 0; fields[j]; j++) {
      double value = g_str_equal(fields[j], "NA") ? BT_MISSING : g_ascii_strtod(fields[j], NULL);
      g_array_append_val(cells, value);
    }
  }
  ratings->cell = (double *)cells->data;
  return (double *)g_array_free(cells, FALSE);
}

static double *column_of(const BtRatings *ratings, gsize rater) {
  double *column = g_new(double, ratings->subjects);
  for (gsize i = 0; i < ratings->subjects; i++)
    column[i] = ratings->cell[i * ratings->raters + rater];
  return column;
}

// Groups of figures -----------------------------------------------------------

static BtKappa kappa_of(const BtCrossTable *table, BtWeights weights) {
  g_autofree double *weight = g_new(double, table->categories * table->categories + 1);
  bt_weights(weights, table->value, table->categories, weight);
  return bt_kappa(table->count, table->categories, weight);
}

static void kappa(const BtRatings *ratings, bool say) {
  g_autoptr(BtCrossTable) table = bt_cross_table(ratings, 0, 1);
  BtKappa plain = kappa_of(table, BT_WEIGHTS_NONE);
  BtKappa linear = kappa_of(table, BT_WEIGHTS_LINEAR);
  BtKappa quadratic = kappa_of(table, BT_WEIGHTS_QUADRATIC);
  if (!say)
    return;
  put_estimate("kappa", &plain.estimate);
  put("kappa.null", plain.null_se);
  put_estimate("linear", &linear.estimate);
  put_estimate("quadratic", &quadratic.estimate);
}

static void many(const BtRatings *ratings, bool say) {
  BtManyRaters all = bt_many_raters(ratings, 0, NULL);
  if (!say)
    return;
  put_estimate("agreed", &all.agreed);
  put_estimate("fleiss", &all.fleiss);
  put_estimate("ac1", &all.ac1);
  put_estimate("bp", &all.brennan_prediger);
}

static void alpha(const BtRatings *ratings, bool say) {
  for (int scale = 0; scale <= BT_RATIO; scale++) {
    g_autofree char *name = g_strconcat("alpha.", bt_scale_name((BtScale)scale), NULL);
    BtEstimate estimate = bt_alpha(ratings, (BtScale)scale, 0, 1);
    if (say)
      put_estimate(name, &estimate);
  }
}

static void icc(const BtRatings *ratings, bool say) {
  static const char *const names[] = {"icc1", "icc2", "icc3", "icc1k", "icc2k", "icc3k"};
  BtIcc result = bt_icc(ratings);
  for (int f = 0; say && f < BT_ICC_FORMS; f++)
    put_estimate(names[f], &result.form[f]);
}

static void concordance(const BtRatings *ratings, bool say) {
  BtConcordance result = bt_kendall_w(ratings);
  if (!say || result.w.why_not)
    return;
  put_estimate("w", &result.w);
  put("w.chi", result.chi_square);
  put("w.p", result.by_chance);
}

static void tau(const BtRatings *ratings, bool say) {
  g_autofree double *x = column_of(ratings, 0), *y = column_of(ratings, 1);
  BtAssociation result = bt_kendall_tau(x, y, ratings->subjects);
  if (!say || result.estimate.why_not)
    return;
  put("tau", result.estimate.value);
  put("tau.p", result.by_chance);
}

static void rho(const BtRatings *ratings, bool say) {
  g_autofree double *x = column_of(ratings, 0), *y = column_of(ratings, 1);
  BtAssociation result = bt_spearman_rho(x, y, ratings->subjects);
  if (!say || result.estimate.why_not)
    return;
  put("rho", result.estimate.value);
  put("rho.p", result.by_chance);
}

static void limits(const BtRatings *ratings, bool say) {
  g_autofree double *x = column_of(ratings, 0), *y = column_of(ratings, 1);
  BtBlandAltman result = bt_bland_altman(x, y, ratings->subjects, BT_LIMITS_MULTIPLIER);
  if (!say)
    return;
  put_estimate("bias", &result.bias);
  put_estimate("lower", &result.lower);
  put_estimate("upper", &result.upper);
}

static void shares(const BtRatings *ratings, bool say) {
  gsize both = 0, same = 0;
  for (gsize i = 0; i < ratings->subjects; i++) {
    const double *row = ratings->cell + i * ratings->raters;
    both += !bt_is_missing(row[0]) && !bt_is_missing(row[1]);
    same += row[0] == row[1];
  }
  BtEstimate wilson = bt_proportion_wilson(same, both), exact = bt_proportion_exact(same, both);
  if (!say)
    return;
  put_estimate("wilson", &wilson);
  put_estimate("exact", &exact);
}

static const struct {
  const char *name;
  void (*run)(const BtRatings *ratings, bool say);
} groups[] = {{"kappa", kappa}, {"many", many},     {"alpha", alpha},
              {"icc", icc},     {"w", concordance}, {"tau", tau},
              {"rho", rho},     {"limits", limits}, {"shares", shares}};

static double fastest_us(void (*run)(const BtRatings *, bool), const BtRatings *ratings,
                         int times) {
  gint64 least = G_MAXINT64;
  for (int i = 0; i < times; i++) {
    gint64 from = g_get_monotonic_time();
    run(ratings, false);
    least = MIN(least, g_get_monotonic_time() - from);
  }
  return (double)MAX(least, 1);
}

int main(int argc, char **argv) {
  BtRatings ratings = {0};
  if (argc < 2)
    return 2;
  g_autofree double *cell = read_table(argv[1], &ratings);
  int times = argc > 2 ? atoi(argv[2]) : 0;
  for (gsize i = 0; i < G_N_ELEMENTS(groups); i++) {
    if (times > 0)
      put(groups[i].name, fastest_us(groups[i].run, &ratings, times));
    else
      groups[i].run(&ratings, true);
  }
  return cell ? 0 : 1;
}
