// SPDX-License-Identifier: GPL-3.0-or-later
//
// Agreement on a plain table of ratings: one row a rating.
#include <benchtally/table.h>

#include "cli/agreement.h"
#include "cli/figure.h"

#define FORM_WIDTH 15

// The table as subjects by raters, the items one after another.
typedef struct {
  BtTable *table;
  GPtrArray *subject, *rater, *item; // names, borrowed from the table; item NULL: there is none
  gsize items;
  double *cell;   // items x subjects x raters
  gsize *cluster; // of each item of each subject: the subject
} Sheet;

static void sheet_clear(Sheet *sheet) {
  g_clear_pointer(&sheet->subject, g_ptr_array_unref);
  g_clear_pointer(&sheet->rater, g_ptr_array_unref);
  g_clear_pointer(&sheet->item, g_ptr_array_unref);
  g_free(sheet->cell);
  g_free(sheet->cluster);
  bt_table_free(sheet->table);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Sheet, sheet_clear)

// Reading ---------------------------------------------------------------------

// Ratings without an order: each text a number of its own, in order of appearance. Caller frees.
static double *texts_as_numbers(const BtTable *table, int column) {
  gsize rows = bt_table_rows(table);
  double *value = g_new(double, rows);
  g_autoptr(GHashTable) number = g_hash_table_new(g_str_hash, g_str_equal);
  for (gsize i = 0; i < rows; i++) {
    const char *text = bt_table_text(table, i, column);
    value[i] = BT_MISSING;
    if (!text)
      continue;
    gpointer known = g_hash_table_lookup(number, text);
    if (!known) {
      known = GUINT_TO_POINTER(g_hash_table_size(number) + 1);
      g_hash_table_insert(number, (gpointer)text, known);
    }
    value[i] = GPOINTER_TO_UINT(known);
  }
  return value;
}

// Which subject, rater and item each row is about.
typedef struct {
  gsize *subject, *rater, *item;
  double *rating;
} Rows;

static void rows_clear(Rows *rows) {
  g_free(rows->subject);
  g_free(rows->rater);
  g_free(rows->item);
  g_free(rows->rating);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Rows, rows_clear)

static bool read_rows(Sheet *sheet, BtScale scale, Rows *rows, GPtrArray *faults) {
  const BtTable *table = sheet->table;
  int item = bt_table_column(table, "item"), rating = bt_table_column(table, "rating");
  rows->subject =
      bt_table_levels(table, bt_table_column(table, "subject"), &sheet->subject, faults);
  rows->rater = bt_table_levels(table, bt_table_column(table, "rater"), &sheet->rater, faults);
  rows->item = item < 0 ? NULL : bt_table_levels(table, item, &sheet->item, faults);
  rows->rating = scale == BT_NOMINAL ? texts_as_numbers(table, rating)
                                     : bt_table_numbers(table, rating, faults);
  return rows->subject && rows->rater && rows->rating && (item < 0 || rows->item);
}

// Lays the rows out; a cell that is given twice is a fault.
static void lay_out(Sheet *sheet, const Rows *rows, GPtrArray *faults) {
  const BtTable *table = sheet->table;
  gsize subjects = sheet->subject->len, raters = sheet->rater->len;
  sheet->items = sheet->item ? sheet->item->len : 1;
  gsize cells = sheet->items * subjects * raters;
  sheet->cell = g_new(double, cells);
  sheet->cluster = g_new(gsize, sheet->items * subjects);
  g_autofree bool *given = g_new0(bool, cells);
  for (gsize i = 0; i < cells; i++)
    sheet->cell[i] = BT_MISSING;
  for (gsize i = 0; i < sheet->items * subjects; i++)
    sheet->cluster[i] = i % subjects;
  for (gsize i = 0; i < bt_table_rows(table); i++) {
    gsize item = rows->item ? rows->item[i] : 0;
    gsize at = (item * subjects + rows->subject[i]) * raters + rows->rater[i];
    if (given[at])
      bt_table_fault(table, i, bt_table_column(table, "rater"), faults,
                     "%s has rated %s already in a row above",
                     (const char *)sheet->rater->pdata[rows->rater[i]],
                     (const char *)sheet->subject->pdata[rows->subject[i]]);
    given[at] = true;
    sheet->cell[at] = rows->rating[i];
  }
}

static bool read_sheet(const char *path, BtScale scale, Sheet *sheet, int *status) {
  static const char *const columns[] = {"subject", "rater", "rating", NULL};
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  sheet->table = bt_table_read(path, columns, faults, &error);
  g_auto(Rows) rows = {0};
  if (sheet->table && read_rows(sheet, scale, &rows, faults))
    lay_out(sheet, &rows, faults);
  cli_print_faults(faults);
  if (error)
    *status = cli_error(g_steal_pointer(&error));
  else if (bt_faults_count_errors(faults) > 0)
    *status = 2;
  return *status == 0;
}

// Figures ---------------------------------------------------------------------

static BtRatings whole(const Sheet *sheet) {
  return (BtRatings){sheet->items * sheet->subject->len, sheet->rater->len, sheet->cell};
}

static BtRatings part(const Sheet *sheet, gsize item) {
  gsize cells = sheet->subject->len * sheet->rater->len;
  return (BtRatings){sheet->subject->len, sheet->rater->len, sheet->cell + item * cells};
}

// What is told of a table of ratings, whole or of one item.
typedef struct {
  BtAgreement agreement;
  BtManyRaters many;
  bool weighted; // two raters, and weights were asked for
  BtKappa plain, weighted_kappa;
  BtEstimate alpha;
  BtIcc icc;
  BtConcordance concordance;
  bool numbers; // ICC and concordance mean something
} Figures;

static BtKappa weighted_kappa(const BtRatings *ratings, BtWeights kind) {
  g_autoptr(BtCrossTable) table = bt_cross_table(ratings, 0, 1);
  g_autofree double *weight = g_new(double, table->categories * table->categories + 1);
  bt_weights(kind, table->value, table->categories, weight);
  return bt_kappa(table->count, table->categories, weight);
}

static Figures figures_of(const BtRatings *ratings, const gsize *cluster,
                          const AgreementRequest *request) {
  Figures figures = {.agreement = bt_agreement(ratings, 0, 0, cluster),
                     .many = bt_many_raters(ratings, 0, cluster),
                     .alpha = bt_alpha(ratings, request->scale, request->draws, request->seed),
                     .numbers = request->scale != BT_NOMINAL};
  if (ratings->raters == 2)
    figures.plain = weighted_kappa(ratings, BT_WEIGHTS_NONE);
  figures.weighted = ratings->raters == 2 && request->weights != BT_WEIGHTS_NONE;
  if (figures.weighted)
    figures.weighted_kappa = weighted_kappa(ratings, request->weights);
  if (figures.numbers) {
    figures.icc = bt_icc(ratings);
    figures.concordance = bt_kendall_w(ratings);
  }
  return figures;
}

// Text ------------------------------------------------------------------------

static const char *weighted_name(BtWeights weights) {
  return weights == BT_WEIGHTS_LINEAR ? "linear kappa" : "quadratic kappa";
}

static void put_categories(GString *out, const Figures *figures, bool two,
                           const AgreementRequest *request) {
  cli_put_figure_row(out, "agreed", FORM_WIDTH, &figures->agreement.agreed, 2);
  if (two)
    cli_put_figure_row(out, "Cohen's kappa", FORM_WIDTH, &figures->plain.estimate, 2);
  if (figures->weighted)
    cli_put_figure_row(out, weighted_name(request->weights), FORM_WIDTH,
                       &figures->weighted_kappa.estimate, 2);
  cli_put_figure_row(out, two ? "Scott's pi" : "Fleiss' kappa", FORM_WIDTH, &figures->many.fleiss,
                     2);
  cli_put_figure_row(out, "Gwet's AC1", FORM_WIDTH, &figures->many.ac1, 2);
  cli_put_figure_row(out, "equal chances", FORM_WIDTH, &figures->many.brennan_prediger, 2);
}

static void put_numbers(GString *out, const Sheet *sheet, const Figures *figures,
                        const AgreementRequest *request) {
  if (request->scale != BT_ORDINAL) {
    BtRatings ratings = whole(sheet);
    agreement_put_icc(out, &figures->icc, true);
    cli_put_figure_row(out, "Kendall's W", FORM_WIDTH, &figures->concordance.w, 2);
    g_autoptr(GString) differences = g_string_new(NULL);
    agreement_put_differences(differences, &ratings, (const char *const *)sheet->rater->pdata, 2,
                              request->wide);
    if (differences->len > 0)
      g_string_append_printf(out, "\nDifferences\n%s", differences->str);
  } else {
    cli_put_figure_row(out, "Kendall's W", FORM_WIDTH, &figures->concordance.w, 2);
  }
}

static void put_sources(GString *out, const AgreementRequest *request) {
  g_string_append_c(out, '\n');
  if (request->scale <= BT_ORDINAL)
    cli_put_paragraph(
        out, 0,
        "Agreed: how often two ratings of one subject are the same. Kappa: Cohen 1960, error "
        "Fleiss, Cohen and Everitt 1969; Scott 1955; Fleiss 1971. AC1: Gwet 2008. Equal chances: "
        "Brennan and Prediger 1981. Holes by Gwet 2014. Where nearly all ratings are the same, "
        "kappa falls though agreement is high: read it beside the share agreed and AC1.");
  else
    cli_put_paragraph(
        out, 0,
        "ICC(form, ratings averaged): Shrout and Fleiss 1979. 1: each subject its own raters; 2: "
        "the same raters, severity counts against agreement; 3: severity taken out. k: the mean "
        "of all raters. Differences: Bland and Altman 1986. W: Kendall 1970.");
  cli_put_paragraph(out, 0,
                    "Alpha: Krippendorff 2011, %s; limits from %u draws of subjects (seed %u).",
                    bt_scale_name(request->scale), request->draws, request->seed);
}

static void put_sentence(GString *out, const Sheet *sheet, const Figures *figures,
                         const AgreementRequest *request) {
  g_autofree char *what =
      g_strdup_printf("ratings of %" G_GSIZE_FORMAT " %s", figures->agreement.paired,
                      sheet->item                      ? "subjects and items"
                      : figures->agreement.paired == 1 ? "subject"
                                                       : "subjects");
  const BtEstimate *icc = &figures->icc.form[BT_ICC_2];
  if (request->scale <= BT_ORDINAL)
    agreement_put_sentence(out, &figures->agreement, "raters", what);
  else if (icc->why_not)
    cli_put_paragraph(out, 0, "How far the raters agree is not estimable: %s.", icc->why_not);
  else
    cli_put_paragraph(out, 0,
                      "Of what makes %" G_GSIZE_FORMAT " ratings differ, a share of %.2f is the "
                      "subjects and the rest is who rated them and chance; the mean of all %u "
                      "raters reaches %.2f.",
                      figures->icc.subjects * figures->icc.raters, icc->value, sheet->rater->len,
                      figures->icc.form[BT_ICC_2K].value);
}

static GArray *items_of(const Sheet *sheet) {
  GArray *items = g_array_new(FALSE, FALSE, sizeof(AgreementItem));
  for (gsize i = 0; sheet->item && i < sheet->items; i++) {
    BtRatings ratings = part(sheet, i);
    AgreementItem item = {sheet->item->pdata[i], bt_agreement(&ratings, 0, 0, NULL)};
    g_array_append_val(items, item);
  }
  return items;
}

static void put_text(GString *out, const Sheet *sheet, const Figures *figures,
                     const AgreementRequest *request) {
  g_autofree char *alpha = g_strdup_printf("alpha, %s", bt_scale_name(request->scale));
  put_sentence(out, sheet, figures, request);
  g_string_append_c(out, '\n');
  if (request->scale <= BT_ORDINAL)
    put_categories(out, figures, sheet->rater->len == 2, request);
  cli_put_figure_row(out, alpha, FORM_WIDTH, &figures->alpha, 2);
  if (figures->numbers)
    put_numbers(out, sheet, figures, request);
  if (sheet->item && request->scale <= BT_ORDINAL) {
    g_autoptr(GArray) items = items_of(sheet);
    g_string_append_c(out, '\n');
    agreement_put_items(out, "item", "", items, request->wide);
  }
  put_sources(out, request);
}

// JSON ------------------------------------------------------------------------

static json_t *kappa_json(const char *form, const BtKappa *kappa) {
  json_t *figure = cli_json_figure(form, &kappa->estimate);
  json_object_set_new(figure, "observed", json_real(kappa->observed));
  json_object_set_new(figure, "by_chance", json_real(kappa->by_chance));
  json_object_set_new(figure, "null_se",
                      kappa->null_se > 0 ? json_real(kappa->null_se) : json_null());
  return figure;
}

// Agreement of ratings as categories, which those on an interval or ratio scale are not.
static void add_categories(json_t *result, const BtRatings *ratings, const Figures *figures,
                           const AgreementRequest *request) {
  json_t *own = agreement_json(NULL, &figures->agreement);
  json_object_del(own, "prevalence"); // of a category that nobody named
  json_object_update(result, own);
  json_decref(own);
  json_object_set_new(
      result, "fleiss",
      cli_json_figure("kappa (Fleiss 1971; two raters: pi, Scott 1955)", &figures->many.fleiss));
  json_object_set_new(
      result, "brennan_prediger",
      cli_json_figure("Brennan and Prediger 1981", &figures->many.brennan_prediger));
  if (ratings->raters == 2)
    json_object_set_new(result, "cohen", kappa_json("kappa (Cohen 1960)", &figures->plain));
  if (figures->weighted)
    json_object_set_new(result, "weighted",
                        kappa_json(weighted_name(request->weights), &figures->weighted_kappa));
}

static void add_numbers(json_t *result, const Figures *figures) {
  const BtConcordance *concordance = &figures->concordance;
  json_t *w = cli_json_figure("W (Kendall 1970)", &concordance->w);
  json_object_set_new(w, "chi_square", json_real(concordance->chi_square));
  json_object_set_new(w, "by_chance", json_real(concordance->by_chance));
  json_object_set_new(result, "concordance", w);
  json_object_set_new(result, "icc", agreement_json_icc(&figures->icc, true));
}

static json_t *figures_json(const BtRatings *ratings, const Figures *figures,
                            const AgreementRequest *request) {
  g_autofree char *alpha =
      g_strdup_printf("alpha (Krippendorff 2011), %s", bt_scale_name(request->scale));
  json_t *result = json_pack("{s:o}", "alpha", cli_json_figure(alpha, &figures->alpha));
  if (request->scale <= BT_ORDINAL)
    add_categories(result, ratings, figures, request);
  if (figures->numbers)
    add_numbers(result, figures);
  return result;
}

static json_t *sheet_json(const Sheet *sheet, const Figures *figures,
                          const AgreementRequest *request) {
  BtRatings ratings = whole(sheet);
  json_t *document = figures_json(&ratings, figures, request);
  json_object_set_new(document, "subjects", json_integer(sheet->subject->len));
  json_object_set_new(document, "scale", json_string(bt_scale_name(request->scale)));
  json_object_set_new(document, "draws", json_integer(request->draws));
  json_object_set_new(document, "seed", json_integer(request->seed));
  if (figures->numbers)
    json_object_set_new(
        document, "differences",
        agreement_json_differences(&ratings, (const char *const *)sheet->rater->pdata));
  json_t *items = json_array();
  for (gsize i = 0; sheet->item && i < sheet->items; i++) {
    BtRatings of_item = part(sheet, i);
    Figures own = figures_of(&of_item, NULL, request);
    json_t *item = figures_json(&of_item, &own, request);
    json_object_set_new(item, "id", json_string(sheet->item->pdata[i]));
    json_array_append_new(items, item);
  }
  json_object_set_new(document, "items", items);
  return document;
}

int agreement_of_table(Cli *cli, const AgreementRequest *request, const char *path) {
  int status = 0;
  g_auto(Sheet) sheet = {0};
  if (!read_sheet(path, request->scale, &sheet, &status))
    return status;
  BtRatings ratings = whole(&sheet);
  Figures figures = figures_of(&ratings, sheet.item ? sheet.cluster : NULL, request);
  if (request->json)
    cli_put_json(cli->out, sheet_json(&sheet, &figures, request));
  else
    put_text(cli->out, &sheet, &figures, request);
  return 0;
}
