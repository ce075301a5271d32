// SPDX-License-Identifier: GPL-3.0-or-later
//
// The latest ledger of each exercise: every row with its time and reason; what else was noted.
#include "words/ledger_parts.h"
#include "report/sheets.h"
#include "words/words.h"

enum { EXERCISE, PART, WHAT, EXPECTED, HAPPENED, AT, GIVEN, POSSIBLE, RESULT, WHY, KEY, COLUMNS };

static const BtXlsxColumn columns[COLUMNS] = {
    {"Exercise", BT_STYLE_CELL, 36},     {"Part", BT_STYLE_CELL, 12},
    {"What", BT_STYLE_CELL, 38},         {"Expected", BT_STYLE_CELL, 36},
    {"Happened", BT_STYLE_CELL, 32},     {"At", BT_STYLE_DURATION, 8},
    {"Given", BT_STYLE_DECIMAL, 9},      {"Possible", BT_STYLE_DECIMAL, 11},
    {"Result", BT_STYLE_CELL, 12},       {"Why", BT_STYLE_CELL, 48},
    {"Key in rubric", BT_STYLE_CELL, 20}};

static const char *result_word(const BtLedgerLine *line) {
  if (line->critical)
    return "! critical";
  if (!line->counts)
    return "not scored";
  return line->lost ? "- lost" : "full";
}

// Nothing given of nothing possible would only be noise.
static void put_points(BtXlsxSheet *sheet, int row, const BtLedgerLine *line) {
  if (line->given_mp == 0 && line->possible_mp == 0) {
    bt__xlsx_blank(sheet, row, GIVEN, BT_STYLE_DECIMAL);
    bt__xlsx_blank(sheet, row, POSSIBLE, BT_STYLE_DECIMAL);
    return;
  }
  bt__xlsx_milli(sheet, row, GIVEN, BT_STYLE_DECIMAL, line->given_mp);
  bt__xlsx_milli(sheet, row, POSSIBLE, BT_STYLE_DECIMAL, line->possible_mp);
}

static void put_line(BtXlsxSheet *sheet, int row, const char *exercise, const BtLedgerLine *line) {
  BtStyle style = line->lost ? BT_STYLE_CELL_STRONG : BT_STYLE_CELL;
  bt__put_text(sheet, row, EXERCISE, BT_STYLE_CELL, exercise);
  bt__put_text(sheet, row, PART, BT_STYLE_CELL, bt__component_title(line->component));
  bt__put_text(sheet, row, WHAT, style, line->what);
  bt__put_text(sheet, row, EXPECTED, BT_STYLE_CELL, line->expected);
  bt__put_text(sheet, row, HAPPENED, BT_STYLE_CELL, line->happened);
  bt__xlsx_duration(sheet, row, AT, line->at_ms);
  put_points(sheet, row, line);
  bt__put_text(sheet, row, RESULT, style, result_word(line));
  bt__put_text(sheet, row, WHY, BT_STYLE_CELL, line->why);
  bt__put_text(sheet, row, KEY, BT_STYLE_CELL, line->id);
}

// What else was noted, as rows of the same table.
static int put_notes(BtXlsxSheet *sheet, int row, const BtExercise *exercise) {
  const BtAttempt *latest = bt__latest_attempt(exercise);
  const BtScored scored = {latest->rubric, latest->observation, latest->ledger};
  g_autoptr(GPtrArray) notes = bt__ledger_notes(&scored);
  for (guint i = 0; i < notes->len; i++, row++) {
    for (int j = WHAT; j < COLUMNS; j++)
      bt__xlsx_blank(sheet, row, j, BT_STYLE_CELL);
    bt__put_text(sheet, row, EXERCISE, BT_STYLE_CELL, exercise->rubric->title);
    bt__put_text(sheet, row, PART, BT_STYLE_CELL, "Also noted");
    bt__put_text(sheet, row, WHY, BT_STYLE_CELL, g_ptr_array_index(notes, i));
  }
  return row;
}

static int put_exercise(BtXlsxSheet *sheet, int row, const BtExercise *exercise) {
  for (guint i = 0; i < exercise->lines->len; i++, row++)
    put_line(sheet, row, exercise->rubric->title, g_ptr_array_index(exercise->lines, i));
  return put_notes(sheet, row, exercise);
}

void bt__sheet_ledger(BtXlsx *xlsx, const BtTraineeRecord *record) {
  enum { HEADER = 3 };
  BtXlsxSheet *sheet = bt__begin_sheet(
      xlsx, record, "Latest ledger",
      "Every row of the latest session of each exercise. Given points are exact; a technique error "
      "shows what it took. \"At\" is the time on the session's clock.",
      false, true);
  int row = HEADER + 1;
  for (guint i = 0; i < record->exercises->len; i++)
    row = put_exercise(sheet, row, g_ptr_array_index(record->exercises, i));
  bt__xlsx_table(sheet, "Ledger", HEADER, 0, columns, COLUMNS, row - HEADER - 1, true);
  bt__xlsx_print_area(sheet, row - 1, KEY - 1); // the key is for looking up on a screen
}
