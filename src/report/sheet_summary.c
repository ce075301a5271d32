// SPDX-License-Identifier: GPL-3.0-or-later
//
// The first sheet: the answer in sentences, on one printed page.
#include <string.h>

#include "report/advice.h"
#include "report/sheets.h"
#include "words/words.h"

#define PRACTISE_MOST 5
#define CAUTIONS_MOST 10

enum { LABEL, WORDS, TOTAL, NEEDED, ATTEMPTS, DATE, COLUMNS };

// One line "what: words" of the sheet; a number and its % stay together.
static void put_line(BtXlsxSheet *sheet, int *row, const char *label, BtStyle style,
                     const char *words) {
  g_autoptr(GString) text = g_string_new(words);
  g_string_replace(text, " %", "\u00a0%", 0);
  bt__put_text(sheet, *row, LABEL, BT_STYLE_LABEL, label);
  bt__put_text(sheet, *row, WORDS, style, text->str);
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

static bool came_out(const BtExercise *exercise, BtOutcome outcome) {
  return bt__latest_attempt(exercise)->ledger->outcome == outcome;
}

static int count_with(const BtTraineeRecord *record, BtOutcome outcome) {
  int n = 0;
  for (guint i = 0; i < record->exercises->len; i++)
    n += came_out(record->exercises->pdata[i], outcome);
  return n;
}

// The exercises whose latest attempt has this outcome, by name; "" for none.
static char *exercises_with(const BtTraineeRecord *record, BtOutcome outcome) {
  GString *titles = g_string_new(NULL);
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtExercise *exercise = g_ptr_array_index(record->exercises, i);
    if (came_out(exercise, outcome))
      bt__join(titles, "; ", exercise->rubric->title);
  }
  return g_string_free(titles, FALSE);
}

// "At the standard in 4 of 6 exercises, by the latest attempt."
static char *standing_text(const BtTraineeRecord *record, int passed) {
  static const char *const of_one[] = {[BT_PASS] = "At the standard",
                                       [BT_UNDECIDED] = "Undecided",
                                       [BT_NOT_YET] = "Not yet at the standard"};
  const BtExercise *latest = bt__latest_exercise(record);
  if (record->exercises->len == 1)
    return g_strdup_printf("%s, by the latest attempt.",
                           of_one[bt__latest_attempt(latest)->ledger->outcome]);
  return g_strdup_printf("At the standard in %d of %u exercises, by the latest attempt.", passed,
                         record->exercises->len);
}

static void put_standing(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  static const BtOutcome others[] = {BT_NOT_YET, BT_UNDECIDED};
  int passed = count_with(record, BT_PASS);
  g_autofree char *standing = standing_text(record, passed);
  put_line(sheet, row, "Where this trainee stands",
           passed == (int)record->exercises->len ? BT_STYLE_ACCENT : BT_STYLE_ATTENTION, standing);
  for (gsize i = 0; i < G_N_ELEMENTS(others) && record->exercises->len > 1; i++) {
    g_autofree char *left = exercises_with(record, others[i]);
    g_autofree char *label = bt__outcome_text((int)others[i]);
    if (*left)
      put_line(sheet, row, label, BT_STYLE_TEXT, left);
  }
}

// Why it came out so stands in the table below.
static void put_latest(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  const BtExercise *exercise = bt__latest_exercise(record);
  const BtAttempt *latest = bt__latest_attempt(exercise);
  g_autofree char *date = bt_date_format(latest->row->started_ms);
  g_autofree char *outcome = bt__outcome_text((int)latest->ledger->outcome);
  g_autofree char *label = g_strdup_printf("Latest session, %s", date);
  g_autofree char *words =
      g_strdup_printf("%s, attempt %d: %s", exercise->rubric->title, latest->row->attempt, outcome);
  put_line(sheet, row, label, BT_STYLE_TEXT, words);
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
    put_line(sheet, row, item->attempt->rubric->title, BT_STYLE_TEXT, words);
  }
}

// Cautions --------------------------------------------------------------------

// A caution and whose it is: of one exercise, or of several (NULL).
typedef struct {
  const char *text, *exercise;
} Caution;

static void add_caution(GArray *cautions, const char *text, const char *exercise) {
  if (strstr(text, "clinical competence"))
    return; // the sheet says so itself
  for (guint i = 0; i < cautions->len; i++) {
    Caution *known = &g_array_index(cautions, Caution, i);
    if (g_str_equal(known->text, text)) {
      known->exercise = NULL;
      return;
    }
  }
  const Caution caution = {text, exercise};
  g_array_append_val(cautions, caution);
}

// The cautions of the rubrics, each once.
static GArray *cautions_of(const BtTraineeRecord *record) {
  GArray *cautions = g_array_new(FALSE, FALSE, sizeof(Caution));
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtExercise *exercise = g_ptr_array_index(record->exercises, i);
    for (char **caution = exercise->rubric->cautions; caution && *caution; caution++)
      add_caution(cautions, *caution, record->exercises->len > 1 ? exercise->rubric->title : NULL);
  }
  return cautions;
}

static void put_general_cautions(BtXlsxSheet *sheet, int *row) {
  static const char *const words[] = {
      "Saws, drills, wires and dust hurt people: eye protection, gloves, suction and supervision "
      "as the lab's own rules say.",
      "Plate and screw choices in rubrics are teaching examples. On a patient the supervising "
      "surgeon, the manufacturer's instructions and local protocol decide."};
  for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
    put_line(sheet, row, "", BT_STYLE_CAUTION, words[i]);
}

// Those of several exercises (`shared`), or those of one, under its name; at most `most`.
static int put_those(BtXlsxSheet *sheet, int *row, const GArray *cautions, bool shared, int most) {
  int n = 0;
  for (guint i = 0; i < cautions->len && n < most; i++) {
    const Caution *caution = &g_array_index(cautions, Caution, i);
    if ((caution->exercise == NULL) != shared)
      continue;
    put_line(sheet, row, shared ? "" : caution->exercise, BT_STYLE_CAUTION, caution->text);
    n++;
  }
  return n;
}

static void put_cautions(BtXlsxSheet *sheet, int *row, const BtTraineeRecord *record) {
  g_autoptr(GArray) cautions = cautions_of(record);
  put_heading(sheet, row, "Please note");
  put_line(sheet, row, "", BT_STYLE_CAUTION,
           "A training record of work on plastic models. It certifies no clinical competence.");
  if (cautions->len == 0)
    put_general_cautions(sheet, row);
  int told = put_those(sheet, row, cautions, true, CAUTIONS_MOST);
  told += put_those(sheet, row, cautions, false, CAUTIONS_MOST - told);
  if ((int)cautions->len > told)
    put_line(sheet, row, "", BT_STYLE_CAUTION, "More cautions stand in the rubrics themselves.");
}

void bt__sheet_summary(BtXlsx *xlsx, const BtTraineeRecord *record) {
  g_autofree char *who = who_text(record);
  BtXlsxSheet *sheet = bt__begin_sheet(xlsx, record, "Summary", who, true, false);
  int row = 3;
  put_standing(sheet, &row, record);
  put_latest(sheet, &row, record);
  put_outcomes(sheet, &row, record);
  put_practice(sheet, &row, record);
  put_trends(sheet, &row, record);
  put_cautions(sheet, &row, record);
  bt__xlsx_one_page(sheet);
}
