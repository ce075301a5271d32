// SPDX-License-Identifier: GPL-3.0-or-later
//
// The first sheet: the answer in sentences, on one printed page.
#include "report/advice.h"
#include "report/sheets.h"
#include "report/words.h"

#define PRACTISE_MOST 5
#define CAUTIONS_MOST 8

enum { LABEL, WORDS, TOTAL, NEEDED, ATTEMPTS, DATE, COLUMNS };

// One line "what: words" of the sheet.
static void put_line(BtXlsxSheet *sheet, int *row, const char *label, BtStyle style,
                     const char *words) {
  bt__put_text(sheet, *row, LABEL, BT_STYLE_LABEL, label);
  bt__put_text(sheet, *row, WORDS, style, words);
  (*row)++;
}

static void put_heading(BtXlsxSheet *sheet, int *row, const char *text) {
  (*row)++;
  bt__put_text(sheet, *row, LABEL, BT_STYLE_HEADING, text);
  (*row)++;
}

// Head ------------------------------------------------------------------------

static char *who_text(const BtTraineeRecord *record) {
  const BtPerson *person = record->person;
  GString *text = g_string_new(NULL);
  g_string_printf(text, "Trainee %s", person->code);
  if (person->level && *person->level)
    bt__join(text, ", ", person->level);
  if (person->cohort && *person->cohort)
    bt__join_printf(text, ", ", "cohort %s", person->cohort);
  g_autofree char *date = bt_date_format(record->as_of_ms);
  g_autofree char *sessions = bt_count_of((gint64)record->sessions->len, "session", NULL);
  g_autofree char *exercises = bt_count_of((gint64)record->exercises->len, "exercise", NULL);
  bt__join_printf(text, ". ", "%s of %s. As of %s.", sessions, exercises, date);
  return g_string_free(text, FALSE);
}

static void put_answer(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  const BtExercise *exercise = bt__latest_exercise(record);
  const BtAttempt *latest = bt__latest_attempt(exercise);
  g_autofree char *sentence =
      bt_outcome_sentence(latest->rubric, latest->observation, latest->ledger);
  g_autofree char *date = bt_date_format(latest->row->started_ms);
  g_autofree char *what =
      g_strdup_printf("%s %s", bt__outcome_mark((int)latest->ledger->outcome), sentence);
  g_autofree char *label = g_strdup_printf("Latest session, %s", date);
  BtStyle style = latest->ledger->outcome == BT_PASS ? BT_STYLE_ACCENT : BT_STYLE_ATTENTION;
  put_line(sheet, row, label, BT_STYLE_STRONG, exercise->rubric->title);
  put_line(sheet, row, "", style, what);
}

// Latest outcomes -------------------------------------------------------------

static void put_outcome(BtXlsxSheet *sheet, int row, const BtExercise *exercise) {
  const BtAttempt *latest = bt__latest_attempt(exercise);
  g_autofree char *sentence =
      bt_outcome_sentence(latest->rubric, latest->observation, latest->ledger);
  g_autofree char *words =
      g_strdup_printf("%s %s", bt__outcome_mark((int)latest->ledger->outcome), sentence);
  bt__put_text(sheet, row, LABEL, BT_STYLE_CELL_STRONG, exercise->rubric->title);
  bt__put_text(sheet, row, WORDS, BT_STYLE_CELL, words);
  bt__put_percent(sheet, row, TOTAL, latest->row->total_percent_milli);
  bt__xlsx_milli(sheet, row, NEEDED, BT_STYLE_DECIMAL, latest->rubric->score.pass_milli);
  bt__xlsx_count(sheet, row, ATTEMPTS, (gint64)exercise->attempts->len);
  bt__xlsx_date(sheet, row, DATE, latest->row->started_ms);
}

static void put_outcomes(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  static const BtXlsxColumn columns[COLUMNS] = {
      {"Exercise", BT_STYLE_CELL, 25},  {"Latest outcome", BT_STYLE_CELL, 66},
      {"Total %", BT_STYLE_PERCENT, 9}, {"Needed %", BT_STYLE_DECIMAL, 10},
      {"Attempts", BT_STYLE_COUNT, 10}, {"Date", BT_STYLE_DATE, 12}};
  put_heading(sheet, row, "Latest outcome in each exercise");
  int n = (int)record->exercises->len;
  bt__xlsx_table(sheet, "Outcomes", *row, LABEL, columns, COLUMNS, n, false);
  for (int i = 0; i < n; i++)
    put_outcome(sheet, *row + 1 + i, g_ptr_array_index(record->exercises, (guint)i));
  *row += n + 1;
}

// Sentences -------------------------------------------------------------------

static void put_trends(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  put_heading(sheet, row, "Trend");
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtExercise *exercise = g_ptr_array_index(record->exercises, i);
    g_autofree char *trend = bt__trend_sentence(exercise);
    g_autofree char *others = bt__others_sentence(bt__latest_attempt(exercise));
    g_autofree char *words = g_strdup_printf("%s%s%s", trend, *others ? " " : "", others);
    put_line(sheet, row, exercise->rubric->title, BT_STYLE_TEXT, words);
  }
}

static void put_practice(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  put_heading(sheet, row, "To practise next");
  g_autoptr(GPtrArray) advice = bt__advice(record, PRACTISE_MOST);
  if (advice->len == 0)
    put_line(sheet, row, "", BT_STYLE_TEXT, "The latest attempts lost no points.");
  for (guint i = 0; i < advice->len; i++) {
    const BtAdvice *item = g_ptr_array_index(advice, i);
    g_autofree char *words = bt__advice_sentence(item);
    put_line(sheet, row, item->exercise->rubric->title, BT_STYLE_TEXT, words);
  }
}

// Cautions --------------------------------------------------------------------

// The cautions of the rubrics, each once.
static GPtrArray *cautions_of(const BtTraineeRecord *record) {
  GPtrArray *cautions = g_ptr_array_new();
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtExercise *exercise = g_ptr_array_index(record->exercises, i);
    for (char **caution = exercise->rubric->cautions; caution && *caution; caution++) {
      if (!g_ptr_array_find_with_equal_func(cautions, *caution, g_str_equal, NULL))
        g_ptr_array_add(cautions, *caution);
    }
  }
  return cautions;
}

static void put_cautions(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  static const char *const without_rubrics[] = {
      "Saws, drills, wires and dust hurt people: eye protection, gloves, suction and supervision "
      "as "
      "the lab's own rules say.",
      "Plate and screw choices in rubrics are teaching examples. On a patient the supervising "
      "surgeon, the manufacturer's instructions and local protocol decide."};
  g_autoptr(GPtrArray) cautions = cautions_of(record);
  if (cautions->len == 0) {
    for (gsize i = 0; i < G_N_ELEMENTS(without_rubrics); i++)
      g_ptr_array_add(cautions, (gpointer)without_rubrics[i]);
  }
  put_heading(sheet, row, "Please note");
  put_line(sheet, row, "", BT_STYLE_CAUTION,
           "This is a training record. It certifies no clinical competence.");
  for (guint i = 0; i < cautions->len && i < CAUTIONS_MOST; i++)
    put_line(sheet, row, "", BT_STYLE_CAUTION, g_ptr_array_index(cautions, i));
  if (cautions->len > CAUTIONS_MOST)
    put_line(sheet, row, "", BT_STYLE_CAUTION, "More cautions stand in the rubrics themselves.");
}

void bt__sheet_summary(BtXlsx *xlsx, const BtTraineeRecord *record) {
  g_autofree char *who = who_text(record);
  BtXlsxSheet *sheet = bt__begin_sheet(xlsx, record, "Summary", who, true, false);
  int row = 3;
  put_answer(sheet, &row, record);
  put_outcomes(sheet, &row, record);
  put_trends(sheet, &row, record);
  put_practice(sheet, &row, record);
  put_cautions(sheet, &row, record);
  bt__xlsx_one_page(sheet);
}
