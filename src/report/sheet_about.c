// SPDX-License-Identifier: GPL-3.0-or-later
//
// The last sheet: where the numbers come from and how to check them.
#include "report/sheets.h"
#include "words/words.h"

enum { LABEL, WORDS };

static void put_heading(BtXlsxSheet *sheet, int *row, const char *text) {
  (*row)++;
  bt__put_text(sheet, (*row)++, LABEL, BT_STYLE_HEADING, text);
}

static void put_line(BtXlsxSheet *sheet, int *row, const char *label, const char *words) {
  bt__put_text(sheet, *row, LABEL, BT_STYLE_LABEL, label);
  bt__put_text(sheet, (*row)++, WORDS, BT_STYLE_TEXT, words);
}

static void put_making(BtXlsxSheet *sheet, int *row) {
  put_heading(sheet, row, "How scores are made");
  put_line(sheet, row, "Steps",
           "What was done as expected, of the points each checkpoint is worth.");
  put_line(sheet, row, "Order",
           "Rules that say what belongs before what. A broken one costs what it says and names the "
           "two events.");
  put_line(sheet, row, "Time",
           "Full points up to the target, none from the limit, in proportion to the work done.");
  put_line(sheet, row, "Technique",
           "A budget earned on work done, from which the errors found are taken.");
  put_line(sheet, row, "Product", "Measures taken from the finished model.");
  put_line(sheet, row, "Rating", "Judgements of the whole on described scales.");
  put_line(sheet, row, "Total",
           "The weighted parts that were assessed, in exact fractions. Percentages are cut, not "
           "rounded, so nothing below the line reads as the line. Numbers here are values, not "
           "formulas: the log is the original, this workbook a copy.");
  put_line(sheet, row, "Outcome",
           "Pass, not yet, or undecided when something that is needed was not assessed. A critical "
           "failure is not yet, whatever the points.");
  g_autofree char *engine = g_strdup_printf("Version %d of the scoring engine.", BT_ENGINE_VERSION);
  put_line(sheet, row, "Engine", engine);
}

static void put_editions(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  put_heading(sheet, row, "Rubrics used");
  for (guint i = 0; i < record->editions->len; i++) {
    const BtEdition *edition = g_ptr_array_index(record->editions, i);
    g_autofree char *label = g_strdup_printf("%s, edition %d", edition->rubric, edition->edition);
    g_autofree char *words = g_strdup_printf("%s\nSHA-256 %s", edition->title, edition->sha256);
    put_line(sheet, row, label, words);
  }
}

static void put_receipts(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  put_heading(sheet, row, "Chain heads and receipts");
  g_autofree char *head =
      g_strdup_printf("%s (record %" G_GINT64_FORMAT ")", record->head, record->head_records);
  put_line(sheet, row, "Head of the book", head);
  for (guint i = 0; i < record->sessions->len; i++) {
    const BtSessionRow *session = g_ptr_array_index(record->sessions, i);
    g_autofree char *closed = bt_rfc3339_format(session->closed_ms);
    g_autofree char *words = g_strdup_printf(
        "%s, closed %s", session->receipt ? session->receipt : "no receipt", closed);
    put_line(sheet, row, session->session, words);
  }
}

static void put_checking(BtXlsxSheet *sheet, int *row) {
  put_heading(sheet, row, "How to check this record");
  put_line(sheet, row, "The book",
           "Run: benchtally verify. It follows every chain and names any record that was changed, "
           "left out or put in.");
  put_line(sheet, row, "The receipts",
           "Compare the receipts on this sheet with those written on paper when each session was "
           "closed.");
  put_line(sheet, row, "The scores",
           "Run: benchtally score SESSION --json. The same log and rubric give the same points, to "
           "the thousandth, on every machine.");
}

void bt__sheet_about(BtXlsx *xlsx, const BtTraineeRecord *record) {
  BtXlsxSheet *sheet = bt__begin_sheet(
      xlsx, record, "About this record",
      "Every number here can be followed back to the second of the lab and the line of the rubric.",
      true, false);
  bt__xlsx_width(sheet, LABEL, 30);
  bt__xlsx_width(sheet, WORDS, 82);
  int row = 2;
  put_checking(sheet, &row);
  put_editions(sheet, &row, record);
  put_receipts(sheet, &row, record);
  put_making(sheet, &row);
  put_heading(sheet, &row, "What this record is");
  put_line(sheet, &row, "Made by",
           "Benchtally " BENCHTALLY_VERSION ", free software under the GPL, version 3 or later.");
  put_line(
      sheet, &row, "Cautions",
      "A training record, no certificate of clinical competence. The lab's own rules on eye "
      "protection, gloves, suction and supervision hold. On a patient the supervising surgeon, "
      "the manufacturer's instructions and local protocol decide.");
}
