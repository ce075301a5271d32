// SPDX-License-Identifier: GPL-3.0-or-later
//
// The progress workbook of one trainee.
#include "report/sheets.h"

#include "words/words.h"

#include <string.h>

#define TEXT_MOST 2000

void bt__put_text(BtXlsxSheet *sheet, int row, int column, BtStyle style, const char *text) {
  if (!text || strlen(text) <= TEXT_MOST || !g_utf8_validate(text, -1, NULL) ||
      g_utf8_strlen(text, -1) <= TEXT_MOST) {
    bt__xlsx_text(sheet, row, column, style, text);
    return;
  }
  g_autofree char *begin = g_utf8_substring(text, 0, TEXT_MOST);
  g_autofree char *shortened = g_strconcat(begin, " ... (shortened here; whole in the book)", NULL);
  bt__xlsx_text(sheet, row, column, style, shortened);
}

// Cut here, or the one decimal of the cell would round 69.96 up to the line.
static gint64 cut(gint64 percent_milli) {
  return percent_milli / 100 * 100;
}

void bt__draw_percent(BtXlsxSheet *sheet, int row, int column, gint64 percent_milli) {
  bt__xlsx_milli(sheet, row, column, BT_STYLE_DRAWN, cut(percent_milli));
}

void bt__put_percent(BtXlsxSheet *sheet, int row, int column, gint64 percent_milli) {
  if (percent_milli < 0)
    bt__xlsx_blank(sheet, row, column, BT_STYLE_PERCENT);
  else
    bt__xlsx_milli(sheet, row, column, BT_STYLE_PERCENT, cut(percent_milli));
}

BtXlsxSheet *bt__begin_sheet(BtXlsx *xlsx, const BtTraineeRecord *record, const char *name,
                             const char *line, bool read, bool landscape) {
  BtXlsxSheet *sheet = bt__xlsx_sheet(xlsx, name, read, landscape);
  g_autofree char *title = g_strdup_printf("%s: %s", bt__trainee_name(record), name);
  g_autofree char *footer = g_strdup_printf("A training record, no certificate. %s", title);
  bt__put_text(sheet, 0, 0, BT_STYLE_TITLE, title);
  bt__put_text(sheet, 1, 0, BT_STYLE_SUBTITLE, line);
  bt__xlsx_footer(sheet, footer);
  return sheet;
}

static void add_sheets(BtXlsx *xlsx, const BtTraineeRecord *record) {
  bt__sheet_summary(xlsx, record);
  bt__sheet_progress(xlsx, record);
  bt__sheet_sessions(xlsx, record);
  bt__sheet_ledger(xlsx, record);
  bt__sheet_timeline(xlsx, record);
  bt__sheet_errors(xlsx, record);
  bt__sheet_corrections(xlsx, record);
  bt__sheet_about(xlsx, record);
}

bool bt__write_workbook(const BtTraineeRecord *record, const char *path, GError **error) {
  g_autofree char *title = g_strdup_printf("Progress of %s", bt__trainee_name(record));
  g_autofree char *who = g_strdup_printf("Trainee %s", record->person->code);
  const BtXlsxProperties properties = {
      .title = title,
      .subject = who,
      .author = "Benchtally " BENCHTALLY_VERSION,
      .keywords = "skills lab, progress, training record",
      .comments = "A training record, no certificate of clinical competence.",
      .created_ms = record->as_of_ms};
  BtXlsx *xlsx = bt__xlsx_new(path, &properties);
  add_sheets(xlsx, record);
  return bt__xlsx_close(xlsx, error);
}

bool bt_workbook_write(BtWorkbookContext *context, const char *trainee, const char *path,
                       GError **error) {
  g_autoptr(BtTraineeRecord) record = bt__gather(context, trainee, error);
  return record && bt__write_workbook(record, path, error);
}
