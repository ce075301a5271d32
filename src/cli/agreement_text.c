// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/agreement.h"

#include <string.h>

#include "cli/figure.h"

#define FORM_WIDTH  15 // so that a row with all that a figure can say keeps to 80 columns
#define PAIRS_SHOWN 12

char *agreement_percent(double share) {
  return bt_decimal_format_cut((gint64)(share * 100000 + 1e-6), 1); // 99.96 is no 100.0
}

// What rounds to zero has no sign. Caller frees.
static char *number(double value, int decimals) {
  char *text = g_strdup_printf("%.*f", decimals, value);
  if (text[0] == '-' && strspn(text, "-0.") == strlen(text))
    memmove(text, text + 1, strlen(text));
  return text;
}

// "0.60 to 0.95"; "" where there are no limits. Caller frees.
static char *limits_text(const BtEstimate *estimate, double times, int decimals) {
  if (!estimate->has_limits)
    return g_strdup("");
  g_autofree char *low = number(estimate->low * times, decimals);
  g_autofree char *high = number(estimate->high * times, decimals);
  return g_strdup_printf("%s to %s", low, high);
}

// "0.78", or a dash. Caller frees.
static char *bare(const BtEstimate *estimate) {
  return estimate->why_not ? g_strdup("-") : number(estimate->value, 2);
}

void agreement_put_sentence(GString *out, const BtAgreement *agreement, const char *who,
                            const char *what) {
  if (agreement->agreed.why_not) {
    cli_put_paragraph(out, 0, "Agreement on %s is not estimable: %s.", what,
                      agreement->agreed.why_not);
    return;
  }
  g_autofree char *percent = agreement_percent(agreement->agreed.value);
  g_autofree char *limits = limits_text(&agreement->agreed, 100, 1);
  g_autofree char *kappa = agreement->kappa.why_not
                               ? g_strdup_printf("not estimable, %s", agreement->kappa.why_not)
                               : number(agreement->kappa.value, 2);
  g_autofree char *kappa_limits = limits_text(&agreement->kappa, 1, 2);
  g_autofree char *ac1 = bare(&agreement->ac1);
  g_autofree char *lead =
      agreement->raters == 2
          ? g_strdup_printf("Two %s agreed on", who)
          : g_strdup_printf("Any two of %" G_GSIZE_FORMAT " %s agreed on", agreement->raters, who);
  cli_put_paragraph(out, 0, "%s %s %% of %s%s%s%s; kappa %s%s%s%s, AC1 %s.", lead, percent, what,
                    *limits ? " (95 % limits " : "", limits, *limits ? ")" : "", kappa,
                    *kappa_limits ? " (" : "", kappa_limits, *kappa_limits ? ")" : "", ac1);
}

// Items -----------------------------------------------------------------------

static gint by_agreement(gconstpointer a, gconstpointer b) {
  const BtEstimate *x = &((const AgreementItem *)a)->agreement.agreed;
  const BtEstimate *y = &((const AgreementItem *)b)->agreement.agreed;
  if (!x->why_not != !y->why_not)
    return x->why_not ? 1 : -1;
  return (x->value > y->value) - (x->value < y->value);
}

static char **item_row(const AgreementItem *item, bool with_prevalence) {
  const BtAgreement *agreement = &item->agreement;
  g_autofree char *n = g_strdup_printf("%" G_GSIZE_FORMAT, agreement->paired);
  bool told = !agreement->agreed.why_not;
  g_autofree char *percent = told ? agreement_percent(agreement->agreed.value) : g_strdup("-");
  g_autofree char *limits = limits_text(&agreement->agreed, 100, 0);
  g_autofree char *kappa = bare(&agreement->kappa), *ac1 = bare(&agreement->ac1);
  g_autofree char *kappa_limits = limits_text(&agreement->kappa, 1, 2);
  g_autofree char *prevalence = told ? agreement_percent(agreement->prevalence) : g_strdup("-");
  return cli_row(8, item->name, n, percent, limits, kappa, kappa_limits, ac1,
                 with_prevalence ? prevalence : NULL);
}

void agreement_put_items(GString *out, const char *head, const char *prevalent, GArray *items,
                         bool wide) {
  enum { NAME, N, AGREED, LIMITS, KAPPA, KAPPA_LIMITS, AC1, PREVALENCE };
  const char *const heads[] = {[NAME] = head,
                               [N] = ">n",
                               [AGREED] = ">agreed %",
                               [LIMITS] = "limits %",
                               [KAPPA] = ">kappa",
                               [KAPPA_LIMITS] = "limits",
                               [AC1] = ">AC1",
                               [PREVALENCE] = prevalent,
                               NULL};
  static const int least_needed[] = {KAPPA_LIMITS, LIMITS, AC1, -1};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  g_array_sort(items, by_agreement); // GLib keeps the order of equals
  for (guint i = 0; i < items->len; i++)
    g_ptr_array_add(rows, item_row(&g_array_index(items, AgreementItem, i), *prevalent));
  cli_table_fit(out, heads, rows, cli_bold(), cli_columns(), wide ? NULL : least_needed);
}

// Scores ----------------------------------------------------------------------

void agreement_put_icc(GString *out, const BtIcc *icc, bool same_raters) {
  static const char *const forms[] = {
      [BT_ICC_1] = "ICC(1,1)",  [BT_ICC_2] = "ICC(2,1)",  [BT_ICC_3] = "ICC(3,1)",
      [BT_ICC_1K] = "ICC(1,k)", [BT_ICC_2K] = "ICC(2,k)", [BT_ICC_3K] = "ICC(3,k)"};
  if (icc->subjects < 2) { // not one of them can be told
    g_string_append_printf(out, "  ICC not estimable: %s (n %" G_GSIZE_FORMAT ")\n",
                           icc->form[BT_ICC_2].why_not, icc->subjects);
    return;
  }
  for (int f = 0; f < BT_ICC_FORMS; f++) {
    if (same_raters || f == BT_ICC_1 || f == BT_ICC_1K)
      cli_put_figure_row(out, forms[f], FORM_WIDTH, &icc->form[f], 2);
  }
  if (icc->left_out > 0)
    g_string_append_printf(out, "  Left out, not scored by all: %" G_GSIZE_FORMAT "\n",
                           icc->left_out);
}

// The ratings of one rater; caller frees.
static double *column_of(const BtRatings *ratings, gsize rater) {
  double *column = g_new(double, ratings->subjects + 1);
  for (gsize i = 0; i < ratings->subjects; i++)
    column[i] = ratings->cell[i * ratings->raters + rater];
  return column;
}

typedef struct {
  gsize first, second;
  BtBlandAltman limits;
} Difference;

static gint by_number(gconstpointer a, gconstpointer b) {
  gsize x = ((const Difference *)a)->limits.bias.n, y = ((const Difference *)b)->limits.bias.n;
  return (x < y) - (x > y);
}

// Each two raters with a subject in common (of Difference), those with most first.
static GArray *differences_of(const BtRatings *ratings) {
  GArray *list = g_array_new(FALSE, FALSE, sizeof(Difference));
  g_autoptr(GPtrArray) column = g_ptr_array_new_with_free_func(g_free);
  for (gsize r = 0; r < ratings->raters; r++)
    g_ptr_array_add(column, column_of(ratings, r));
  for (gsize a = 0; a < ratings->raters; a++) {
    for (gsize b = a + 1; b < ratings->raters; b++) {
      Difference difference = {a, b,
                               bt_bland_altman(column->pdata[a], column->pdata[b],
                                               ratings->subjects, BT_LIMITS_MULTIPLIER)};
      if (difference.limits.bias.n > 0)
        g_array_append_val(list, difference);
    }
  }
  g_array_sort(list, by_number);
  return list;
}

void agreement_put_differences(GString *out, const BtRatings *ratings, const char *const *names,
                               int decimals, bool wide) {
  static const char *const heads[] = {
      "  first", "second", ">n", ">first less second", "limits", "95 of 100 between", NULL};
  g_autoptr(GArray) list = differences_of(ratings);
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  guint shown = wide ? list->len : MIN(list->len, PAIRS_SHOWN);
  for (guint i = 0; i < shown; i++) {
    const Difference *difference = &g_array_index(list, Difference, i);
    const BtBlandAltman *limits = &difference->limits;
    g_autofree char *first = g_strconcat("  ", names[difference->first], NULL);
    g_autofree char *n = g_strdup_printf("%" G_GSIZE_FORMAT, limits->bias.n);
    g_autofree char *bias = number(limits->bias.value, decimals);
    g_autofree char *of_bias = limits_text(&limits->bias, 1, decimals);
    g_autofree char *low = number(limits->lower.value, decimals);
    g_autofree char *high = number(limits->upper.value, decimals);
    g_autofree char *between =
        limits->lower.why_not ? g_strdup("-") : g_strdup_printf("%s to %s", low, high);
    g_ptr_array_add(rows, cli_row(6, first, names[difference->second], n, bias, of_bias, between));
  }
  if (rows->len > 0)
    cli_table(out, heads, rows, cli_bold());
  if (shown < list->len)
    g_string_append_printf(out, "  %u more pairs of assessors; --wide shows them.\n",
                           list->len - shown);
}

// JSON ------------------------------------------------------------------------

json_t *agreement_json(const char *id, const BtAgreement *agreement) {
  json_t *item =
      json_pack("{s:I s:I s:I s:I s:o s:o s:o}", //
                "n", (json_int_t)agreement->paired, "pairs", (json_int_t)agreement->pairs, "same",
                (json_int_t)agreement->same, "raters", (json_int_t)agreement->raters, "agreed",
                cli_json_figure("share agreed", &agreement->agreed), "kappa",
                cli_json_figure(agreement->is_cohen ? "kappa (Cohen 1960)"
                                                    : "kappa (Fleiss 1971, for holes "
                                                      "Gwet 2014)",
                                &agreement->kappa),
                "ac1", cli_json_figure("AC1 (Gwet 2008)", &agreement->ac1));
  json_object_set_new(item, "prevalence",
                      agreement->paired ? json_real(agreement->prevalence) : json_null());
  if (id)
    json_object_set_new(item, "id", json_string(id));
  return item;
}

json_t *agreement_json_icc(const BtIcc *icc, bool same_raters) {
  json_t *forms = json_array();
  for (int f = 0; f < BT_ICC_FORMS; f++) {
    if (same_raters || f == BT_ICC_1 || f == BT_ICC_1K)
      json_array_append_new(forms, cli_json_figure(bt_icc_name((BtIccForm)f), &icc->form[f]));
  }
  json_t *result = json_pack("{s:I s:I s:I s:b s:o}", "subjects", (json_int_t)icc->subjects,
                             "raters", (json_int_t)icc->raters, "left_out",
                             (json_int_t)icc->left_out, "same_raters", same_raters, "forms", forms);
  if (!icc->form[BT_ICC_1].why_not) {
    json_object_set_new(result, "mean_squares",
                        json_pack("{s:f s:f s:f s:f}", "between", icc->between, "within",
                                  icc->within, "raters", icc->raters_ms, "error", icc->error));
  }
  return result;
}

json_t *agreement_json_limits(const BtBlandAltman *limits) {
  json_t *result =
      json_pack("{s:o s:o s:o s:f}", "bias", cli_json_figure("mean difference", &limits->bias),
                "lower", cli_json_figure("lower limit of agreement", &limits->lower), "upper",
                cli_json_figure("upper limit of agreement", &limits->upper), "multiplier",
                BT_LIMITS_MULTIPLIER);
  json_object_set_new(result, "sd", limits->lower.why_not ? json_null() : json_real(limits->sd));
  return result;
}

json_t *agreement_json_differences(const BtRatings *ratings, const char *const *names) {
  g_autoptr(GArray) list = differences_of(ratings);
  json_t *pairs = json_array();
  for (guint i = 0; i < list->len; i++) {
    const Difference *difference = &g_array_index(list, Difference, i);
    json_t *pair = agreement_json_limits(&difference->limits);
    json_object_set_new(pair, "first", json_string(names[difference->first]));
    json_object_set_new(pair, "second", json_string(names[difference->second]));
    json_array_append_new(pairs, pair);
  }
  return pairs;
}
