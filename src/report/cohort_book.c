// SPDX-License-Identifier: GPL-3.0-or-later
//
// The director's workbook.
#include "report/cohort_sheets.h"
#include "report/sheets.h"

#include <string.h>

// Sheets ----------------------------------------------------------------------

// "The cohort", or "Cohort 2026".
static char *whose(const BtCohortRecord *record) {
  return record->scope->cohort ? g_strdup_printf("Cohort %s", record->scope->cohort)
                               : g_strdup("The cohort");
}

BtXlsxSheet *bt__cohort_sheet(BtXlsx *xlsx, const BtCohortRecord *record, const char *name,
                              const char *line, const char *second, bool read, bool landscape) {
  BtXlsxSheet *sheet = bt__xlsx_sheet(xlsx, name, read, landscape);
  g_autofree char *cohort = whose(record);
  g_autofree char *title = g_strdup_printf("%s: %s", cohort, name);
  g_autofree char *footer =
      g_strdup_printf("A training record, no certificate. %s%s", title,
                      record->scope->suppress_below > 0 ? ". Small counts are not shown" : "");
  bt__put_text(sheet, 0, 0, BT_STYLE_TITLE, title);
  bool lines = record->sessions > 0; // an empty sheet says only that
  if (lines && line)
    bt__put_text(sheet, 1, 0, BT_STYLE_SUBTITLE, line);
  if (lines && second)
    bt__put_text(sheet, 2, 0, BT_STYLE_SUBTITLE, second);
  bt__xlsx_footer(sheet, footer);
  return sheet;
}

bool bt__cohort_is_empty(BtXlsxSheet *sheet, const BtCohortRecord *record) {
  if (record->sessions > 0)
    return false;
  bt__xlsx_width(sheet, 0, 100);
  bt__put_text(sheet, BT_C_TABLE, 0, BT_STYLE_TEXT,
               "There is no closed session to report in what was asked for. `benchtally sessions` "
               "shows what the book holds; --cohort, --rubric, --from and --before narrow it.");
  return true;
}

char *bt__edition_title(const BtCohortExercise *exercise, const BtRubric *rubric) {
  return exercise->editions->len > 1
             ? g_strdup_printf("%s, edition %d", rubric->title, rubric->edition)
             : g_strdup(rubric->title);
}

int bt__each_edition(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                     BtEachEdition *each) {
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtCohortExercise *exercise = bt__cohort_exercise(record, i);
    for (guint j = 0; j < exercise->editions->len; j++)
      row = each(sheet, row, record, exercise, bt__cohort_edition(exercise, j));
  }
  return row;
}

// Cells -----------------------------------------------------------------------

void bt__put_value(BtXlsxSheet *sheet, int row, int column, BtStyle style,
                   const BtEstimate *estimate, double scale) {
  if (estimate->why_not)
    bt__xlsx_blank(sheet, row, column, style);
  else
    bt__xlsx_real(sheet, row, column, style, estimate->value * scale + 0.0); // no -0
}

void bt__put_estimate(BtXlsxSheet *sheet, int row, int column, BtStyle style,
                      const BtEstimate *estimate, double scale) {
  bt__put_value(sheet, row, column, style, estimate, scale);
  if (estimate->why_not || !estimate->has_limits) {
    bt__xlsx_blank(sheet, row, column + 1, style);
    bt__xlsx_blank(sheet, row, column + 2, style);
    return;
  }
  bt__xlsx_real(sheet, row, column + 1, style, estimate->low * scale);
  bt__xlsx_real(sheet, row, column + 2, style, estimate->high * scale);
}

char *bt__fewer_than(int least) {
  return g_strdup_printf("fewer than %d", least);
}

void bt__put_not_shown(BtXlsxSheet *sheet, int row, int column) {
  bt__put_text(sheet, row, column, BT_STYLE_COUNT, "not shown");
}

void bt__put_count(BtXlsxSheet *sheet, int row, int column, gint64 count, BtHiding hiding,
                   int least) {
  if (hiding == BT_SHOWN) {
    bt__xlsx_count(sheet, row, column, count);
  } else if (hiding == BT_WITHHELD) {
    bt__put_not_shown(sheet, row, column);
  } else {
    g_autofree char *words = bt__fewer_than(least);
    bt__put_text(sheet, row, column, BT_STYLE_COUNT, words);
  }
}

void bt__put_lone_count(BtXlsxSheet *sheet, int row, int column, gint64 count, int least) {
  bt__put_count(sheet, row, column, count, bt__is_small(count, least) ? BT_SMALL : BT_SHOWN, least);
}

// Columns ---------------------------------------------------------------------

BtColumns *bt__columns_new(void) {
  BtColumns *columns = g_new(BtColumns, 1);
  columns->columns = g_array_new(FALSE, FALSE, sizeof(BtXlsxColumn));
  columns->texts = g_ptr_array_new_with_free_func(g_free);
  return columns;
}

static bool is_taken(const BtColumns *columns, const char *header) {
  g_autofree char *folded = g_utf8_casefold(header, -1);
  for (guint i = 0; i < columns->texts->len; i++) {
    g_autofree char *other = g_utf8_casefold(g_ptr_array_index(columns->texts, i), -1);
    if (strcmp(folded, other) == 0)
      return true;
  }
  return false;
}

#define HEADER_MOST 120 // letters; a table takes 255 with its key

void bt__columns_add(BtColumns *columns, const char *header, const char *key, BtStyle style,
                     double width) {
  g_autofree char *begin = g_utf8_strlen(header, -1) > HEADER_MOST
                               ? g_utf8_substring(header, 0, HEADER_MOST)
                               : g_strdup(header);
  char *text = is_taken(columns, begin) ? g_strdup_printf("%s (%s)", begin, key) : g_strdup(begin);
  const BtXlsxColumn column = {text, style, width};
  g_ptr_array_add(columns->texts, text);
  g_array_append_val(columns->columns, column);
}

void bt__columns_free(BtColumns *columns) {
  g_array_unref(columns->columns);
  g_ptr_array_unref(columns->texts);
  g_free(columns);
}

// Paper -----------------------------------------------------------------------

void bt__cohort_print(BtXlsxSheet *sheet, int last_row, int columns, bool charts) {
  enum { CHART_CELLS = (BT_C_CHART_WIDTH + 63) / 64 }; // columns of the usual width
  bt__xlsx_print_area(sheet, last_row, columns - 1 + (charts ? 1 + CHART_CELLS : 0));
  if (charts)
    bt__xlsx_pages_beside(sheet, 0, columns);
}

// The workbook ----------------------------------------------------------------

static void add_sheets(BtXlsx *xlsx, const BtCohortRecord *record) {
  bool shared = record->scope->suppress_below > 0;
  (shared ? bt__cohort_shared_overview : bt__cohort_overview)(xlsx, record);
  (shared ? bt__cohort_shared_heat : bt__cohort_heat)(xlsx, record);
  bt__cohort_checkpoints(xlsx, record);
  bt__cohort_errors(xlsx, record);
  bt__cohort_assessors(xlsx, record);
  bt__cohort_standards(xlsx, record);
  bt__cohort_curves(xlsx, record);
  bt__cohort_methods(xlsx, record);
}

static bool write_record(const BtCohortRecord *record, const char *path, GError **error) {
  g_autofree char *title = whose(record);
  const BtXlsxProperties properties = {
      .title = title,
      .subject = "A cohort's skills lab",
      .author = "Benchtally " BENCHTALLY_VERSION,
      .keywords = "skills lab, cohort, training record",
      .comments = "A training record, no certificate of clinical competence.",
      .created_ms = record->as_of_ms};
  BtXlsx *xlsx = bt__xlsx_new(path, &properties);
  add_sheets(xlsx, record);
  return bt__xlsx_close(xlsx, error);
}

bool bt_cohort_workbook_write(BtBook *book, const BtCohortScope *scope, const char *path,
                              GError **error) {
  g_autoptr(BtCohortRecord) record = bt__cohort_gather(book, scope, error);
  return record && write_record(record, path, error);
}
