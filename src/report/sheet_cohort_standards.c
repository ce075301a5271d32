// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards: the pass marks on record, and what each would have done to the decisions of the last
// year.
#include "report/cohort_sheets.h"
#include "report/sheets.h"

#include <benchtally/study_standard.h>

#include <string.h>

enum {
  M_EXERCISE,
  M_STANDARD,
  M_STATE,
  M_MARK,
  M_SE,
  M_JUDGES,
  M_SET_ON,
  M_WHO,
  M_RATE, // and its limits
  M_STAYS_PASS = M_RATE + 3,
  M_STAYS_NOT_YET,
  M_TO_NOT_YET,
  M_TO_PASS,
  M_DECIDED,
  M_HELD,
  M_DOUBTFUL,
  M_COLUMNS
};

static const BtXlsxColumn columns[M_COLUMNS] = {{"Exercise", BT_STYLE_CELL, 34},
                                                {"Standard", BT_STYLE_CELL, 26},
                                                {"State", BT_STYLE_CELL, 30},
                                                {"Mark, %", BT_STYLE_DECIMAL, 9},
                                                {"Standard error", BT_STYLE_DECIMAL, 10},
                                                {"Judges", BT_STYLE_COUNT, 8},
                                                {"Set on", BT_STYLE_CELL, 12},
                                                {"Who sat", BT_STYLE_CELL, 24},
                                                {"At or above, %", BT_STYLE_PERCENT, 9},
                                                {"At or above, from", BT_STYLE_PERCENT, 9},
                                                {"At or above, to", BT_STYLE_PERCENT, 9},
                                                {"Stays pass", BT_STYLE_COUNT, 10},
                                                {"Stays not yet", BT_STYLE_COUNT, 10},
                                                {"To not yet", BT_STYLE_COUNT, 10},
                                                {"To pass", BT_STYLE_COUNT, 10},
                                                {"Decided", BT_STYLE_COUNT, 10},
                                                {"Held all the same", BT_STYLE_COUNT, 10},
                                                {"Doubtful", BT_STYLE_COUNT, 10}};

// A mark to tell of; `standard` NULL: the edition's own.
typedef struct {
  const BtStandard *standard;
  const BtCohortExercise *exercise; // NULL: no session of its edition is in scope
  const BtCohortEdition *edition;   // likewise
  gint64 mark_milli;
} Mark;

// Which marks -----------------------------------------------------------------

static void add_standards(GArray *marks, const BtCohortRecord *record,
                          const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  const BtRubric *rubric = edition->study->rubric;
  const Mark own = {NULL, exercise, edition, rubric->score.pass_milli};
  g_array_append_val(marks, own);
  for (guint i = 0; i < record->standards->len; i++) {
    const BtStandard *standard = g_ptr_array_index(record->standards, i);
    const Mark mark = {standard, exercise, edition, standard->cut_milli};
    if (standard->edition == rubric->edition && strcmp(standard->rubric, rubric->id) == 0)
      g_array_append_val(marks, mark);
  }
}

static bool is_told(const GArray *marks, const BtStandard *standard) {
  for (guint i = 0; i < marks->len; i++) {
    if (g_array_index(marks, Mark, i).standard == standard)
      return true;
  }
  return false;
}

// Each edition's own mark with those on record for it; then the rest. Caller frees.
static GArray *marks_of(const BtCohortRecord *record) {
  const char *const *rubrics = record->scope->rubrics;
  GArray *marks = g_array_new(FALSE, FALSE, sizeof(Mark));
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtCohortExercise *exercise = bt__cohort_exercise(record, i);
    for (guint j = 0; j < exercise->editions->len; j++)
      add_standards(marks, record, exercise, bt__cohort_edition(exercise, j));
  }
  for (guint i = 0; i < record->standards->len; i++) {
    const BtStandard *standard = g_ptr_array_index(record->standards, i);
    const Mark mark = {standard, NULL, NULL, standard->cut_milli};
    if (!is_told(marks, standard) && (!rubrics || g_strv_contains(rubrics, standard->rubric)))
      g_array_append_val(marks, mark);
  }
  return marks;
}

// Words -----------------------------------------------------------------------

static char *exercise_text(const Mark *mark) {
  if (mark->edition)
    return g_strdup_printf("%s, edition %d", mark->edition->study->rubric->title,
                           mark->edition->study->rubric->edition);
  return g_strdup_printf("%s, edition %d (no session here)", mark->standard->rubric,
                         mark->standard->edition);
}

static char *standard_text(const BtStandard *standard) {
  if (!standard)
    return g_strdup("Pass mark of the rubric");
  const char *name = bt_standard_method_name(standard->method);
  return g_strdup_printf("%c%s (no. %" G_GINT64_FORMAT ")", g_ascii_toupper(*name), name + 1,
                         standard->id);
}

static char *state_text(const BtStandard *standard) {
  if (!standard)
    return g_strdup("decides today");
  if (!standard->adopted_ms)
    return g_strdup("on record, not adopted");
  g_autofree char *date = bt_date_format(standard->adopted_ms);
  return g_strdup_printf("%s %s: %s", standard->in_force ? "adopted" : "adopted, since replaced,",
                         date, standard->adopted_reason ? standard->adopted_reason : "no reason");
}

// Rows ------------------------------------------------------------------------

static void put_origin(BtXlsxSheet *sheet, int row, const BtStandard *standard) {
  if (!standard) {
    for (int i = M_SE; i <= M_WHO; i++)
      bt__xlsx_blank(sheet, row, i, columns[i].style);
    return;
  }
  if (standard->se_milli >= 0)
    bt__xlsx_milli(sheet, row, M_SE, BT_STYLE_DECIMAL, standard->se_milli);
  else
    bt__xlsx_blank(sheet, row, M_SE, BT_STYLE_DECIMAL);
  if (standard->judges > 0)
    bt__xlsx_count(sheet, row, M_JUDGES, standard->judges);
  else
    bt__xlsx_blank(sheet, row, M_JUDGES, BT_STYLE_COUNT);
  bt__put_text(sheet, row, M_SET_ON, BT_STYLE_CELL, standard->set_on);
  bt__put_text(sheet, row, M_WHO, BT_STYLE_CELL, standard->judges_note);
}

// A part of the decisions, which is hidden where it or the rest is small.
static void put_part(BtXlsxSheet *sheet, int row, int column, gsize part, gsize all, int least) {
  if (bt__part_may_show((gint64)part, (gint64)all, least))
    bt__xlsx_count(sheet, row, column, (gint64)part);
  else
    bt__put_not_shown(sheet, row, column);
}

static void put_effect(BtXlsxSheet *sheet, int row, const BtStudyEffect *found, int least) {
  const BtPastEffect *effect = &found->effect;
  const gint64 count[4] = {(gint64)effect->stays_pass, (gint64)effect->stays_not_yet,
                           (gint64)effect->to_not_yet, (gint64)effect->to_pass};
  BtHiding hiding[4];
  BtHiding all = bt__suppress_line(count, 4, least, hiding);
  bool shown = all == BT_SHOWN;
  for (int i = 0; i < 4; i++) {
    bt__put_count(sheet, row, M_STAYS_PASS + i, count[i], hiding[i], least);
    shown &= hiding[i] == BT_SHOWN;
  }
  bt__put_count(sheet, row, M_DECIDED, (gint64)effect->decided, all, least);
  put_part(sheet, row, M_HELD, effect->held, effect->stays_not_yet, least);
  if (found->zone < 0)
    bt__xlsx_blank(sheet, row, M_DOUBTFUL, BT_STYLE_COUNT);
  else
    put_part(sheet, row, M_DOUBTFUL, effect->doubtful->len, effect->decided, least);
  // The share at or above, less those who pass, would tell who is held.
  if (shown && bt__part_may_show((gint64)effect->held, count[1], least))
    bt__put_estimate(sheet, row, M_RATE, BT_STYLE_PERCENT, &found->pass_rate, 100);
  else
    bt__put_not_shown(sheet, row, M_RATE);
}

static void put_mark(BtXlsxSheet *sheet, int row, const Mark *mark, int least) {
  g_autofree char *exercise = exercise_text(mark), *standard = standard_text(mark->standard),
                  *state = state_text(mark->standard);
  bt__put_text(sheet, row, M_EXERCISE, BT_STYLE_CELL, exercise);
  bt__put_text(sheet, row, M_STANDARD, BT_STYLE_CELL, standard);
  bt__put_text(sheet, row, M_STATE, BT_STYLE_CELL, state);
  bt__xlsx_milli(sheet, row, M_MARK, BT_STYLE_DECIMAL, mark->mark_milli);
  put_origin(sheet, row, mark->standard);
  if (!mark->edition)
    return;
  // Two marks side by side tell how many lie between them; of these two the row itself does.
  if (least > 0 && mark->standard && !mark->standard->in_force) {
    bt__put_not_shown(sheet, row, M_DECIDED);
    return;
  }
  const BtEstimate *sem = &mark->edition->reliability->sem_percent;
  g_autoptr(BtStudyEffect) effect = bt_study_effect(
      mark->edition->study, (double)mark->mark_milli / 1000, sem->why_not ? -1 : sem->value);
  put_effect(sheet, row, effect, least);
}

// The chart -------------------------------------------------------------------

// The marks of an edition under each other, where one was set beside its own. Returns the next row.
static int draw(BtXlsxSheet *sheet, int row, const GArray *marks, guint first, guint n) {
  const Mark *own = &g_array_index(marks, Mark, first);
  g_autoptr(GArray) bars = g_array_new(FALSE, FALSE, sizeof(BtBar));
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < n; i++) {
    const Mark *mark = &g_array_index(marks, Mark, first + i);
    const BtStandard *standard = mark->standard;
    double cut = (double)mark->mark_milli / 1000;
    const BtEstimate told =
        bt_estimate_se(cut, standard ? (double)standard->se_milli / 1000 : -1, 0, "");
    g_autofree char *what = standard_text(standard);
    char *name = g_strdup_printf("%s%s", what, standard && standard->in_force ? ", adopted" : "");
    const BtBar bar = {name, told.value, told.low, told.high, told.has_limits};
    g_ptr_array_add(names, name);
    g_array_append_val(bars, bar);
  }
  g_autofree char *exercise = exercise_text(own);
  g_autofree char *title = g_strdup_printf("%s: marks on record", exercise);
  const BtBarChart chart = {.title = title,
                            .x_title = "Mark, percent of the points",
                            .limits = BT_LIMITS_95,
                            .x_max = 100,
                            .x_unit = 20,
                            .bars = (const BtBar *)(const void *)bars->data,
                            .n = (int)bars->len};
  return row + bt__bar_chart(sheet, row, 0, M_COLUMNS + 1, &chart) + 1;
}

static int draw_all(BtXlsxSheet *sheet, int row, const GArray *marks) {
  for (guint i = 0; i < marks->len;) {
    const Mark *own = &g_array_index(marks, Mark, i);
    guint n = 1;
    while (i + n < marks->len && g_array_index(marks, Mark, i + n).edition == own->edition)
      n++;
    if (own->edition && n > 1)
      row = draw(sheet, row, marks, i, n);
    i += n;
  }
  return row;
}

// The sheet -------------------------------------------------------------------

void bt__cohort_standards(BtXlsx *xlsx, const BtCohortRecord *record) {
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Standards",
      record->standards->len > 0
          ? "Each edition's own pass mark, which decides, and the standards on record for it, with "
            "what each would have done to the decisions of the year to the latest session."
          : "No standard is on record yet; `benchtally standard` sets one. Each edition's own pass "
            "mark decides.",
      "A standard is for the next edition. Held: at or above the mark, not yet for a critical "
      "failure or a floor. Doubtful: within one standard error of measurement of the mark.",
      false, true);
  if (bt__cohort_is_empty(sheet, record) && record->standards->len == 0)
    return;
  g_autoptr(GArray) marks = marks_of(record);
  int n = (int)marks->len, top = BT_C_TABLE + (record->sessions == 0 ? 2 : 0);
  bt__xlsx_table(sheet, "Standards", top, 0, columns, M_COLUMNS, n, true);
  for (int i = 0; i < n; i++)
    put_mark(sheet, top + 1 + i, &g_array_index(marks, Mark, (guint)i),
             record->scope->suppress_below);
  int row = draw_all(sheet, top + n + 3, marks);
  bt__xlsx_print_area(sheet, row, M_COLUMNS - 1);
}
