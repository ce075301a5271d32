// SPDX-License-Identifier: GPL-3.0-or-later
//
// Technique errors over time, and the corrections of the record.
#include "report/sheets.h"
#include "words/words.h"

// Errors ----------------------------------------------------------------------

enum {
  E_DATE,
  E_EXERCISE,
  E_ATTEMPT,
  E_KIND,
  E_SEVERITY,
  E_COUNT,
  E_LOST,
  E_TIMES,
  E_SESSION,
  E_COLUMNS
};

static const BtXlsxColumn error_columns[E_COLUMNS] = {
    {"Date", BT_STYLE_DATE, 12},           {"Exercise", BT_STYLE_CELL, 36},
    {"Attempt", BT_STYLE_COUNT, 10},       {"Kind of error", BT_STYLE_CELL, 40},
    {"Severity", BT_STYLE_CELL, 11},       {"Found", BT_STYLE_COUNT, 9},
    {"Points lost", BT_STYLE_DECIMAL, 14}, {"At (m:ss)", BT_STYLE_CELL, 24},
    {"Session", BT_STYLE_CELL, 27}};

static void put_error(BtXlsxSheet *sheet, int at, const BtAttempt *attempt,
                      const BtTechniqueRow *row) {
  const BtErrorKind *kind = &attempt->rubric->errors[row->error];
  g_autofree char *times = bt__times_text(attempt->observation, row->events);
  bt__xlsx_date(sheet, at, E_DATE, attempt->row->started_ms);
  bt__put_text(sheet, at, E_EXERCISE, BT_STYLE_CELL, attempt->rubric->title);
  bt__xlsx_count(sheet, at, E_ATTEMPT, attempt->row->attempt);
  bt__put_text(sheet, at, E_KIND, BT_STYLE_CELL, kind->title);
  bt__put_text(sheet, at, E_SEVERITY, BT_STYLE_CELL, bt_severity_name(kind->severity));
  bt__xlsx_count(sheet, at, E_COUNT, row->count);
  bt__xlsx_milli(sheet, at, E_LOST, BT_STYLE_DECIMAL, row->lost_mp);
  bt__put_text(sheet, at, E_TIMES, BT_STYLE_CELL, times);
  bt__put_text(sheet, at, E_SESSION, BT_STYLE_CELL, attempt->row->session);
}

static int put_errors_of(BtXlsxSheet *sheet, int at, const BtAttempt *attempt) {
  int n = 0;
  for (guint i = 0; i < attempt->ledger->technique->len; i++) {
    const BtTechniqueRow *row = &g_array_index(attempt->ledger->technique, BtTechniqueRow, i);
    if (row->count > 0)
      put_error(sheet, at + n++, attempt, row);
  }
  return n;
}

static int by_start(gconstpointer a, gconstpointer b) {
  const BtAttempt *x = *(BtAttempt *const *)a, *y = *(BtAttempt *const *)b;
  if (x->row->started_ms != y->row->started_ms)
    return x->row->started_ms < y->row->started_ms ? -1 : 1;
  return x->row->id < y->row->id ? -1 : x->row->id > y->row->id;
}

// All attempts of all exercises by start, borrowed. Caller frees the array.
static GPtrArray *attempts_by_start(const BtTraineeRecord *record) {
  GPtrArray *attempts = g_ptr_array_new();
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtExercise *exercise = g_ptr_array_index(record->exercises, i);
    for (guint j = 0; j < exercise->attempts->len; j++)
      g_ptr_array_add(attempts, g_ptr_array_index(exercise->attempts, j));
  }
  g_ptr_array_sort(attempts, by_start);
  return attempts;
}

void bt__sheet_errors(BtXlsx *xlsx, const BtTraineeRecord *record) {
  BtXlsxSheet *sheet = bt__begin_sheet(
      xlsx, record, "Errors",
      "Technique errors found in each session, by kind. The charts over attempts are on the sheet "
      "Progress.",
      false, true);
  g_autoptr(GPtrArray) attempts = attempts_by_start(record);
  int n = 0;
  for (guint i = 0; i < attempts->len; i++)
    n += put_errors_of(sheet, 4 + n, g_ptr_array_index(attempts, i));
  bt__xlsx_table(sheet, "Errors", 3, 0, error_columns, E_COLUMNS, n, true);
  if (n == 0)
    bt__put_text(sheet, 4, E_KIND, BT_STYLE_CELL, "No technique error was found in any session.");
}

// Corrections -----------------------------------------------------------------

enum { C_WRITTEN, C_SESSION, C_EVENT, C_DONE, C_BEFORE, C_AFTER, C_REASON, C_BY, C_COLUMNS };

static const BtXlsxColumn correction_columns[C_COLUMNS] = {
    {"Written (UTC)", BT_STYLE_CELL, 22}, {"Session", BT_STYLE_CELL, 27},
    {"Event", BT_STYLE_COUNT, 9},         {"What was done", BT_STYLE_CELL, 15},
    {"Before", BT_STYLE_CELL, 40},        {"After", BT_STYLE_CELL, 40},
    {"Reason", BT_STYLE_CELL, 40},        {"By", BT_STYLE_CELL, 26}};

static void put_correction(BtXlsxSheet *sheet, int at, const BtTraineeRecord *record,
                           const BtCorrection *correction) {
  g_autofree char *written = bt_rfc3339_format(correction->wall_ms);
  g_autofree char *by = bt__person_text(record, correction->by);
  bt__put_text(sheet, at, C_WRITTEN, BT_STYLE_CELL, written);
  bt__put_text(sheet, at, C_SESSION, BT_STYLE_CELL, correction->row->session);
  bt__xlsx_count(sheet, at, C_EVENT, correction->seq);
  bt__put_text(sheet, at, C_DONE, BT_STYLE_CELL, correction->amended ? "replaced" : "struck");
  bt__put_text(sheet, at, C_BEFORE, BT_STYLE_CELL, correction->before);
  bt__put_text(sheet, at, C_AFTER, BT_STYLE_CELL, correction->after);
  bt__put_text(sheet, at, C_REASON, BT_STYLE_CELL, correction->reason);
  bt__put_text(sheet, at, C_BY, BT_STYLE_CELL, by);
}

void bt__sheet_corrections(BtXlsx *xlsx, const BtTraineeRecord *record) {
  BtXlsxSheet *sheet =
      bt__begin_sheet(xlsx, record, "Corrections",
                      "Every event of these sessions that was struck or replaced, with its reason. "
                      "Nothing is ever removed from the book.",
                      false, true);
  int n = (int)record->corrections->len;
  bt__xlsx_table(sheet, "Corrections", 3, 0, correction_columns, C_COLUMNS, n, true);
  for (int i = 0; i < n; i++)
    put_correction(sheet, 4 + i, record, g_ptr_array_index(record->corrections, (guint)i));
  if (n == 0)
    bt__put_text(sheet, 4, C_BEFORE, BT_STYLE_CELL, "No event of these sessions was corrected.");
}
