// SPDX-License-Identifier: GPL-3.0-or-later
//
// Every session in one table, and the other observations in a second.
#include "report/advice.h"
#include "report/sheets.h"
#include "words/words.h"

enum {
  DATE,
  SESSION,
  EXERCISE,
  EDITION,
  ATTEMPT,
  ASSESSOR,
  MODE,
  OUTCOME,
  TOTAL,
  STEPS, // the components follow in their order
  TIME = STEPS + BT_COMPONENTS,
  EVENTS,
  CORRECTIONS,
  RECEIPT,
  COLUMNS
};

static const BtXlsxColumn columns[COLUMNS] = {{"Date", BT_STYLE_DATE, 12},
                                              {"Session", BT_STYLE_CELL, 27},
                                              {"Exercise", BT_STYLE_CELL, 36},
                                              {"Edition", BT_STYLE_COUNT, 10},
                                              {"Attempt", BT_STYLE_COUNT, 10},
                                              {"Assessor", BT_STYLE_CELL, 20},
                                              {"Mode", BT_STYLE_CELL, 8},
                                              {"Outcome", BT_STYLE_CELL, 13},
                                              {"Total %", BT_STYLE_PERCENT, 10},
                                              {"Steps %", BT_STYLE_PERCENT, 10},
                                              {"Order %", BT_STYLE_PERCENT, 10},
                                              {"Time %", BT_STYLE_PERCENT, 10},
                                              {"Technique %", BT_STYLE_PERCENT, 14},
                                              {"Product %", BT_STYLE_PERCENT, 12},
                                              {"Rating %", BT_STYLE_PERCENT, 11},
                                              {"Clock", BT_STYLE_DURATION, 9},
                                              {"Events", BT_STYLE_COUNT, 9},
                                              {"Corrections", BT_STYLE_COUNT, 14},
                                              {"Receipt", BT_STYLE_CELL, 27}};

static const char *exercise_title(const BtTraineeRecord *record, const BtSessionRow *row) {
  for (guint i = 0; i < record->editions->len; i++) {
    const BtEdition *edition = g_ptr_array_index(record->editions, i);
    if (edition->edition == row->edition && g_str_equal(edition->rubric, row->rubric))
      return edition->title;
  }
  return row->rubric;
}

static void put_figures(BtXlsxSheet *sheet, int at, const BtSessionRow *row) {
  bt__put_percent(sheet, at, TOTAL, row->total_percent_milli);
  for (int i = 0; i < BT_COMPONENTS; i++)
    bt__put_percent(sheet, at, STEPS + i,
                    row->assessed[i] ? bt__percent_milli_cut(row->given_mp[i], row->possible_mp[i])
                                     : -1);
  bt__xlsx_duration(sheet, at, TIME, row->outcome < 0 ? -1 : row->total_ms);
  bt__xlsx_count(sheet, at, EVENTS, row->events);
  bt__xlsx_count(sheet, at, CORRECTIONS, row->corrections);
  bt__put_text(sheet, at, RECEIPT, BT_STYLE_CELL, row->receipt);
}

static void put_row(BtXlsxSheet *sheet, int at, const BtTraineeRecord *record,
                    const BtSessionRow *row, const char *outcome) {
  g_autofree char *assessor = bt__person_text(record, row->assessor);
  bt__xlsx_date(sheet, at, DATE, row->started_ms);
  bt__put_text(sheet, at, SESSION, BT_STYLE_CELL, row->session);
  bt__put_text(sheet, at, EXERCISE, BT_STYLE_CELL, exercise_title(record, row));
  bt__xlsx_count(sheet, at, EDITION, row->edition);
  bt__xlsx_count(sheet, at, ATTEMPT, row->attempt);
  bt__put_text(sheet, at, ASSESSOR, BT_STYLE_CELL, assessor);
  bt__put_text(sheet, at, MODE, BT_STYLE_CELL, bt_mode_name(row->mode));
  bt__put_text(sheet, at, OUTCOME, BT_STYLE_CELL, outcome);
  put_figures(sheet, at, row);
}

static int put_table(BtXlsxSheet *sheet, int at, const char *name, const BtTraineeRecord *record,
                     const GPtrArray *rows, bool first) {
  bt__xlsx_table(sheet, name, at, 0, columns, COLUMNS, (int)rows->len, first);
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = g_ptr_array_index(rows, i);
    g_autofree char *outcome =
        row->closed ? bt__outcome_text(row->outcome) : g_strdup("still open");
    put_row(sheet, at + 1 + (int)i, record, row, outcome);
  }
  return at + 1 + (int)MAX(rows->len, 1);
}

static int put_others(BtXlsxSheet *sheet, int row, const BtTraineeRecord *record) {
  bt__put_text(sheet, row, 0, BT_STYLE_HEADING, "Other observations of these sessions");
  bt__put_text(sheet, row + 1, 0, BT_STYLE_SUBTITLE,
               "Second assessors, the trainee's own, and what is still open. They decide no "
               "result.");
  return put_table(sheet, row + 2, "Other_observations", record, record->others, false);
}

void bt__sheet_sessions(BtXlsx *xlsx, const BtTraineeRecord *record) {
  BtXlsxSheet *sheet = bt__begin_sheet(
      xlsx, record, "Sessions",
      "One row a session, by its observation of record: the results as they were issued. "
      "Percentages are of the points possible, cut to one decimal.",
      false, true);
  int row = put_table(sheet, 3, "Sessions", record, record->sessions, true);
  if (record->others->len > 0)
    row = put_others(sheet, row + 1, record);
  bt__xlsx_print_area(sheet, row - 1, CORRECTIONS); // the receipts are printed on About
}
