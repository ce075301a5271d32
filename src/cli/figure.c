// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/figure.h"

#include <benchtally/base.h>

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

// Enough digits for every double to come back the same.
#define DOUBLE_DIGITS 17
#define COLUMNS       80

// A number with so many decimals; what rounds to zero has no sign.
static void put_number(GString *out, double value, int decimals) {
  char text[G_ASCII_DTOSTR_BUF_SIZE], form[8];
  g_snprintf(form, sizeof form, "%%.%df", decimals);
  g_ascii_formatd(text, sizeof text, form, value);
  bool negative_zero = text[0] == '-' && strspn(text, "-0.") == strlen(text);
  g_string_append(out, negative_zero ? text + 1 : text);
}

void cli_put_figure(GString *out, const BtEstimate *estimate, int decimals) {
  if (estimate->why_not) {
    g_string_append_printf(out, "not estimable: %s (n %" G_GSIZE_FORMAT ")", estimate->why_not,
                           estimate->n);
    return;
  }
  put_number(out, estimate->value, decimals);
  g_string_append(out, " (");
  if (estimate->has_limits) {
    g_string_append(out, "95 % limits ");
    put_number(out, estimate->low, decimals);
    g_string_append(out, " to ");
    put_number(out, estimate->high, decimals);
    g_string_append(out, "; ");
  }
  if (estimate->has_se) {
    g_string_append(out, "standard error ");
    put_number(out, estimate->se, decimals);
    g_string_append(out, "; ");
  }
  g_string_append_printf(out, "n %" G_GSIZE_FORMAT ")", estimate->n);
}

// Words of `text` onto a line that has `at` columns already; later lines are indented.
static void put_words(GString *out, int at, int indent, const char *text) {
  g_auto(GStrv) words = g_strsplit(text, " ", -1);
  bool first = true;
  for (char **word = words; *word; word++) {
    int width = (int)g_utf8_strlen(*word, -1);
    if (!first && at + 1 + width > COLUMNS) {
      g_string_append_printf(out, "\n%*s", indent, "");
      at = indent;
      first = true;
    }
    g_string_append_printf(out, "%s%s", first ? "" : " ", *word);
    at += (first ? 0 : 1) + width;
    first = false;
  }
  g_string_append_c(out, '\n');
}

void cli_put_figure_row(GString *out, const char *form, int width, const BtEstimate *estimate,
                        int decimals) {
  g_autoptr(GString) figure = g_string_new(NULL);
  cli_put_figure(figure, estimate, decimals);
  gsize before = out->len;
  g_string_append_printf(out, "  %-*s  ", width, form);
  put_words(out, (int)g_utf8_strlen(out->str + before, -1), width + 4, figure->str);
}

char *cli_percent_text(double percent) {
  // A whole thousandth may stand a hair below itself as a double; a millionth mends that.
  double thousandths = floor(percent * 1000 + 0.001);
  return bt_decimal_format_cut((gint64)thousandths, 1);
}

void cli_put_paragraph(GString *out, int indent, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  g_string_append_printf(out, "%*s", indent, "");
  put_words(out, indent, indent, text);
}

json_t *cli_json_figure(const char *form, const BtEstimate *estimate) {
  json_t *figure = json_pack("{s:s, s:I}", "form", form, "n", (json_int_t)estimate->n);
  if (estimate->why_not) {
    json_object_set_new(figure, "value", json_null());
    json_object_set_new(figure, "why", json_string(estimate->why_not));
    return figure;
  }
  json_object_set_new(figure, "value", json_real(estimate->value));
  if (estimate->has_se)
    json_object_set_new(figure, "se", json_real(estimate->se));
  if (estimate->has_limits) {
    json_object_set_new(figure, "low", json_real(estimate->low));
    json_object_set_new(figure, "high", json_real(estimate->high));
  }
  return figure;
}

void cli_put_json(GString *out, json_t *document) {
  char *text =
      json_dumps(document, JSON_INDENT(2) | JSON_SORT_KEYS | JSON_REAL_PRECISION(DOUBLE_DIGITS));
  g_string_append(out, text);
  g_string_append_c(out, '\n');
  free(text);
  json_decref(document);
}
