// SPDX-License-Identifier: GPL-3.0-or-later
//
// Heat: trainee by competency, and the cohort's middle half of each competency.
#include "report/cohort_sheets.h"
#include "report/record.h"
#include "report/sheets.h"
#include "words/words.h"

#include <benchtally/measure.h>

#include <string.h>

#define COMPETENCIES_MOST 60 // columns that a sheet has room for
#define MEDIAN_ROW        3
#define CHART_COLUMNS     5 // as wide as the chart, counted from 0
#define COLUMNS_A_PAGE    9

// A competency of the cohort: rubrics that give it the same id share it.
typedef struct {
  const char *id, *title; // borrowed
  GString *exercises;     // titles, owned
} Competency;

static void free_competency(gpointer data) {
  Competency *competency = data;
  g_string_free(competency->exercises, TRUE);
  g_free(competency);
}

static Competency *competency_of(GPtrArray *list, const BtCompetency *wanted) {
  for (guint i = 0; i < list->len; i++) {
    Competency *known = g_ptr_array_index(list, i);
    if (strcmp(known->id, wanted->id) == 0)
      return known;
  }
  Competency *made = g_new(Competency, 1);
  *made = (Competency){wanted->id, wanted->title, g_string_new(NULL)};
  g_ptr_array_add(list, made);
  return made;
}

// Those of the latest editions used, in the order of the exercises. Caller frees.
static GPtrArray *competencies_of(const BtCohortRecord *record) {
  GPtrArray *list = g_ptr_array_new_with_free_func(free_competency);
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtRubric *rubric = bt__cohort_exercise(record, i)->rubric;
    for (int j = 0; j < rubric->n_competencies; j++)
      bt__join(competency_of(list, &rubric->competencies[j])->exercises, "; ", rubric->title);
  }
  return list;
}

// Figures ---------------------------------------------------------------------

// What the latest sessions of a trainee, one an exercise, show of a competency.
static BtCompetencyScore score_of(const BtCohortTrainee *trainee, guint n_exercises,
                                  const Competency *competency) {
  BtCompetencyScore sum = {0};
  for (guint i = 0; i < n_exercises; i++) {
    const BtCohortSession *latest = trainee->standing[i].latest;
    for (int j = 0; latest && j < latest->rubric->n_competencies; j++) {
      const BtCompetencyScore *one = &latest->row->competency[j];
      if (strcmp(latest->rubric->competencies[j].id, competency->id) != 0)
        continue;
      sum.assessed |= one->assessed;
      sum.given_mp += one->given_mp;
      sum.possible_mp += one->possible_mp;
      sum.errors += one->errors;
    }
  }
  return sum;
}

static BtStyle shade_of(gint64 percent_milli) {
  static const struct {
    gint64 from_milli;
    BtStyle style;
  } shades[] = {{80000, BT_STYLE_PERCENT}, {60000, BT_STYLE_HEAT_1}, {40000, BT_STYLE_HEAT_2}};
  for (gsize i = 0; i < G_N_ELEMENTS(shades); i++) {
    if (percent_milli >= shades[i].from_milli)
      return shades[i].style;
  }
  return BT_STYLE_HEAT_3;
}

static void put_score(BtXlsxSheet *sheet, int row, int column, const BtCompetencyScore *score) {
  gint64 percent_milli = bt__percent_milli_cut(score->given_mp, score->possible_mp);
  if (percent_milli >= 0) {
    bt__xlsx_milli(sheet, row, column, shade_of(percent_milli), percent_milli);
  } else if (score->assessed) { // nothing to earn there, only errors to make
    g_autofree char *errors = bt_count_of(score->errors, "error", NULL);
    bt__put_text(sheet, row, column, BT_STYLE_PERCENT, errors);
  } else {
    bt__xlsx_blank(sheet, row, column, BT_STYLE_PERCENT);
  }
}

// The percentages of all trainees who have one, ascending, in thousandths. Caller frees.
static GArray *percents_of(const BtCohortRecord *record, const Competency *competency) {
  GArray *list = g_array_new(FALSE, FALSE, sizeof(gint64));
  for (guint i = 0; i < record->trainees->len; i++) {
    const BtCompetencyScore score =
        score_of(bt__cohort_trainee(record, i), record->exercises->len, competency);
    gint64 percent_milli = bt__percent_milli_cut(score.given_mp, score.possible_mp);
    if (percent_milli >= 0)
      g_array_append_val(list, percent_milli);
  }
  return list;
}

static gint64 quartile(GArray *percents, int quarter) {
  return percents->len == 0
             ? -1
             : bt_quantile((gint64 *)(void *)percents->data, percents->len, quarter, 4);
}

// The table of trainees -------------------------------------------------------

static BtColumns *heat_columns(const BtCohortRecord *record, const GPtrArray *competencies,
                               guint n) {
  BtColumns *columns = bt__columns_new();
  bt__columns_add(columns, "Trainee", "code", BT_STYLE_CELL_STRONG, 12);
  if (!record->scope->without_names)
    bt__columns_add(columns, "Name", "name", BT_STYLE_CELL, 20);
  for (guint i = 0; i < n; i++) {
    const Competency *competency = g_ptr_array_index(competencies, i);
    g_autofree char *header = g_strdup_printf("%s, %%", competency->title);
    bt__columns_add(columns, header, competency->id, BT_STYLE_PERCENT, 18);
  }
  return columns;
}

static void put_medians(BtXlsxSheet *sheet, int first, const BtCohortRecord *record,
                        const GPtrArray *competencies, guint n) {
  bt__put_text(sheet, MEDIAN_ROW, 0, BT_STYLE_LABEL, "Median");
  for (guint i = 0; i < n; i++) {
    g_autoptr(GArray) percents = percents_of(record, g_ptr_array_index(competencies, i));
    bt__put_percent(sheet, MEDIAN_ROW, first + (int)i, quartile(percents, 2));
  }
}

static int put_heat(BtXlsxSheet *sheet, const BtCohortRecord *record,
                    const GPtrArray *competencies) {
  guint n = MIN(competencies->len, COMPETENCIES_MOST);
  g_autoptr(BtColumns) columns = heat_columns(record, competencies, n);
  int first = (int)(columns->columns->len - n), rows = (int)record->trainees->len;
  put_medians(sheet, first, record, competencies, n);
  bt__xlsx_plain_table(sheet, "Heat", BT_C_TABLE, 0,
                       (const BtXlsxColumn *)(const void *)columns->columns->data,
                       (int)columns->columns->len, rows, true);
  for (int i = 0; i < rows; i++) {
    const BtCohortTrainee *trainee = bt__cohort_trainee(record, (guint)i);
    int row = BT_C_TABLE + 1 + i;
    bt__put_text(sheet, row, 0, BT_STYLE_CELL_STRONG, trainee->code);
    if (!record->scope->without_names)
      bt__put_text(sheet, row, 1, BT_STYLE_CELL, bt__cohort_name(record, trainee->code));
    for (guint j = 0; j < n; j++) {
      const BtCompetencyScore score =
          score_of(trainee, record->exercises->len, g_ptr_array_index(competencies, j));
      put_score(sheet, row, first + (int)j, &score);
    }
  }
  return BT_C_TABLE + 1 + MAX(rows, 1);
}

// The cohort's middle half ----------------------------------------------------

enum { C_TITLE, C_EXERCISE, C_LOW, C_MEDIAN, C_HIGH, C_N, C_COLUMNS };

static const BtXlsxColumn shared_columns[C_COLUMNS] = {{"Competency", BT_STYLE_CELL, 44},
                                                       {"Exercise", BT_STYLE_CELL, 44},
                                                       {"A quarter below, %", BT_STYLE_PERCENT, 13},
                                                       {"Median, %", BT_STYLE_PERCENT, 11},
                                                       {"A quarter above, %", BT_STYLE_PERCENT, 13},
                                                       {"Trainees", BT_STYLE_COUNT, 14}};

static void put_middle(BtXlsxSheet *sheet, int row, const Competency *competency, GArray *percents,
                       int least) {
  bool few = (int)percents->len < least;
  bt__put_text(sheet, row, C_TITLE, BT_STYLE_CELL, competency->title);
  bt__put_text(sheet, row, C_EXERCISE, BT_STYLE_CELL, competency->exercises->str);
  for (int i = 0; i < 3; i++)
    bt__put_percent(sheet, row, C_LOW + i, few ? -1 : quartile(percents, i + 1));
  // How many lack a figure could be counted from two totals, so none is told.
  g_autofree char *words = few ? bt__fewer_than(least) : g_strdup_printf("%d or more", least);
  bt__put_text(sheet, row, C_N, BT_STYLE_COUNT, words);
}

void bt__cohort_shared_heat(BtXlsx *xlsx, const BtCohortRecord *record) {
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Heat",
      "What the latest sessions show of each competency: the middle half of the trainees, and the "
      "median, in percent of its points.",
      "No trainee is shown alone; nothing is shown of a competency that too few have a figure for.",
      false, true);
  if (bt__cohort_is_empty(sheet, record))
    return;
  g_autoptr(GPtrArray) competencies = competencies_of(record);
  bt__xlsx_table(sheet, "Heat", BT_C_TABLE, 0, shared_columns, C_COLUMNS, (int)competencies->len,
                 true);
  for (guint i = 0; i < competencies->len; i++) {
    const Competency *competency = g_ptr_array_index(competencies, i);
    g_autoptr(GArray) percents = percents_of(record, competency);
    put_middle(sheet, BT_C_TABLE + 1 + (int)i, competency, percents, record->scope->suppress_below);
  }
}

// The chart -------------------------------------------------------------------

static int by_median(gconstpointer a, gconstpointer b) {
  double x = ((const BtBar *)a)->value, y = ((const BtBar *)b)->value;
  return (x > y) - (x < y);
}

// The medians with the middle half, the lowest on top. Returns the rows it covers.
static int draw_medians(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                        const GPtrArray *competencies) {
  g_autoptr(GArray) bars = g_array_new(FALSE, FALSE, sizeof(BtBar));
  for (guint i = 0; i < competencies->len; i++) {
    const Competency *competency = g_ptr_array_index(competencies, i);
    g_autoptr(GArray) percents = percents_of(record, competency);
    const BtBar bar = {competency->title, (double)quartile(percents, 2) / 1000,
                       (double)quartile(percents, 1) / 1000, (double)quartile(percents, 3) / 1000,
                       true};
    if (percents->len > 0)
      g_array_append_val(bars, bar);
  }
  if (bars->len == 0 || record->trainees->len < BT_COHORT_LEAST) // no middle half worth its name
    return 0;
  g_array_sort(bars, by_median);
  const BtBar *lowest = &g_array_index(bars, BtBar, 0);
  g_autofree char *percent = bt_decimal_format_cut((gint64)(lowest->value * 1000), 1);
  g_autofree char *title = g_strdup_printf("Lowest: %s, %s %%", lowest->label, percent);
  const BtBarChart chart = {
      .title = title,
      .x_title = "Percent of the points",
      .limits = {"A quarter of the trainees below", "on to the median", "a quarter above"},
      .x_max = 100,
      .x_unit = 20,
      .bars = lowest,
      .n = (int)bars->len};
  return bt__bar_chart(sheet, row, 0, MAX((int)competencies->len + 4, BT_C_CHART_COLUMNS), &chart);
}

void bt__cohort_heat(BtXlsx *xlsx, const BtCohortRecord *record) {
  g_autoptr(GPtrArray) competencies = competencies_of(record);
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Heat",
      "Percent of the points of each competency in the latest session of each exercise, less what "
      "its errors cost. Trainees as on Overview.",
      competencies->len > COMPETENCIES_MOST ? "White from 80, darker from 60 and from 40, bold "
                                              "below 40; empty: not assessed. Only the "
                                              "first 60 competencies have a column."
                                            : "White from 80, darker from 60, darker still from "
                                              "40, darkest and bold below 40. Empty: "
                                              "nothing of it was assessed.",
      false, true);
  if (bt__cohort_is_empty(sheet, record))
    return;
  if (competencies->len == 0) {
    bt__put_text(
        sheet, BT_C_TABLE, 0, BT_STYLE_SUBTITLE,
        "The rubrics name no competency. Their part `competencies` says which checkpoints, "
        "rules and errors tell of one.");
    return;
  }
  int last_column = (int)MIN(competencies->len, COMPETENCIES_MOST) + !record->scope->without_names;
  int row = put_heat(sheet, record, competencies) + 1;
  row += draw_medians(sheet, row, record, competencies);
  bt__xlsx_print_area(sheet, row, MAX(last_column, CHART_COLUMNS));
  if (last_column > COLUMNS_A_PAGE)
    bt__xlsx_pages_beside(sheet, 1, COLUMNS_A_PAGE);
}
