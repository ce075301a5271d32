// SPDX-License-Identifier: GPL-3.0-or-later
//
// Curves: attempt by attempt, and each trainee's start and gain.
#include "report/cohort_sheets.h"
#include "report/sheets.h"

#include <math.h>

#define CHART_ROWS 22
#define ROW_PIXELS 20
#define BAR_POINTS 10.0 // width of the middle half's bars
#define LINE_LEAST 3    // fewer points are no line

// The table of attempts -------------------------------------------------------

enum { P_EXERCISE, P_ATTEMPT, P_LOW, P_MEDIAN, P_HIGH, P_CURVE, P_MARK, P_N, P_COLUMNS };

// Widths are those of the table of trainees below, which is wider.
static const BtXlsxColumn attempt_columns[P_COLUMNS] = {
    {"Exercise", BT_STYLE_CELL, 40},
    {"Attempt", BT_STYLE_COUNT, 26},
    {"A quarter below, %", BT_STYLE_PERCENT, 11},
    {"Median, %", BT_STYLE_PERCENT, 11},
    {"A quarter above, %", BT_STYLE_PERCENT, 11},
    {"Curve, %", BT_STYLE_PERCENT, 11},
    {"Needed, %", BT_STYLE_DECIMAL, 11},
    {"Trainees", BT_STYLE_COUNT, 12}};

static int count_attempts(BtXlsxSheet *sheet, int n, const BtCohortRecord *record,
                          const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  (void)sheet;
  (void)record;
  (void)exercise;
  return n + (int)edition->attempts->len;
}

static double curve_at(const BtCohortCurve *curve, int attempt) {
  return curve->start.value + curve->gain.value * log2(attempt);
}

static void put_attempt(BtXlsxSheet *sheet, int row, const char *title,
                        const BtCohortEdition *edition, const BtCohortAttempt *one, int least) {
  bool few = one->n < least;
  const BtCohortCurve *curve = edition->practices->cohort;
  bt__put_text(sheet, row, P_EXERCISE, BT_STYLE_CELL, title);
  bt__xlsx_count(sheet, row, P_ATTEMPT, one->attempt);
  bt__put_percent(sheet, row, P_LOW, few ? -1 : one->low_milli);
  bt__put_percent(sheet, row, P_MEDIAN, few ? -1 : one->median_milli);
  bt__put_percent(sheet, row, P_HIGH, few ? -1 : one->high_milli);
  if (curve->why_not || (int)curve->trainees < least)
    bt__xlsx_blank(sheet, row, P_CURVE, BT_STYLE_PERCENT);
  else
    bt__xlsx_real(sheet, row, P_CURVE, BT_STYLE_PERCENT, curve_at(curve, one->attempt));
  bt__xlsx_milli(sheet, row, P_MARK, BT_STYLE_DECIMAL, edition->study->rubric->score.pass_milli);
  if (least == 0) {
    bt__xlsx_count(sheet, row, P_N, one->n);
    return;
  }
  // From attempt to attempt a count would tell how many came no more.
  g_autofree char *words = few ? bt__fewer_than(least) : g_strdup_printf("%d or more", least);
  bt__put_text(sheet, row, P_N, BT_STYLE_COUNT, words);
}

// The charts ------------------------------------------------------------------

enum { D_X, D_Y, D_COLUMNS };

static const BtCohortAttempt *attempt_at(const BtCohortEdition *edition, guint index) {
  return &g_array_index(edition->attempts, BtCohortAttempt, index);
}

static const BtCohortAttempt *last_attempt(const BtCohortEdition *edition) {
  return attempt_at(edition, edition->attempts->len - 1);
}

static char *chart_title(const char *exercise, const BtCohortEdition *edition) {
  const BtCohortAttempt *first = attempt_at(edition, 0), *last = last_attempt(edition);
  g_autofree char *from = bt_decimal_format_cut(first->median_milli, 1);
  g_autofree char *to = bt_decimal_format_cut(last->median_milli, 1);
  if (first == last)
    return g_strdup_printf("%s: median %s %% at attempt %d", exercise, from, first->attempt);
  return g_strdup_printf("%s: median %s %% at attempt %d, %s %% at %d", exercise, from,
                         first->attempt, to, last->attempt);
}

// The middle half as an upright bar at each attempt: two points and a gap. Returns its last row.
static int put_bars(BtXlsxSheet *sheet, int row, int column, const GArray *attempts) {
  int at = row;
  for (guint i = 0; i < attempts->len; i++) {
    const BtCohortAttempt *one = &g_array_index(attempts, BtCohortAttempt, i);
    at += i > 0; // an empty row ends the bar before
    for (int j = 0; j < 2; j++) {
      bt__xlsx_real(sheet, at, column + D_X, BT_STYLE_DRAWN, one->attempt);
      bt__draw_percent(sheet, at++, column + D_Y, j == 0 ? one->low_milli : one->high_milli);
    }
  }
  return at - 1;
}

static int attempts_series(BtXlsxSeries *series, const BtCohortEdition *edition, int first_row) {
  int n = 0;
  bool line = edition->attempts->len >= LINE_LEAST;
  series[n++] = (BtXlsxSeries){
      .name = "Needed", .y_column = P_MARK, .colour = BT_INK, .line = 1, .dashed = true};
  if (!edition->practices->cohort->why_not)
    series[n++] = (BtXlsxSeries){.name = "Curve of the cohort",
                                 .y_column = P_CURVE,
                                 .colour = BT_OCHRE,
                                 .line = line ? 2 : 0,
                                 .mark = line ? BT_MARK_NONE : BT_MARK_SQUARE};
  series[n++] = (BtXlsxSeries){.name = "Median",
                               .y_column = P_MEDIAN,
                               .colour = BT_LAGOON,
                               .mark = BT_MARK_DISC,
                               .mark_size = 8};
  for (int i = 0; i < n; i++) {
    series[i].first_row = first_row;
    series[i].last_row = first_row + (int)edition->attempts->len - 1;
    series[i].x_column = P_ATTEMPT;
    series[i].in_legend = true;
  }
  return n;
}

static BtXlsxChart over_attempts(const BtCohortEdition *edition) {
  int last = last_attempt(edition)->attempt;
  return (BtXlsxChart){.x_title = "Attempt",
                       .y_title = "Percent of the points",
                       .x_min = 0,
                       .x_max = last + 1,
                       .x_unit = MAX(1, bt__nice_step(last, 20)),
                       .x_label_from = 0.5,
                       .x_label_to = last + 0.5,
                       .y_max = 100,
                       .y_unit = 20,
                       .y_labels = true,
                       .y_grid = true,
                       .width = BT_C_CHART_WIDTH,
                       .height = CHART_ROWS * ROW_PIXELS};
}

static void draw(BtXlsxSheet *sheet, int row, int column, const char *exercise,
                 const BtCohortEdition *edition, int first_row) {
  int data_column = column + BT_C_CHART_COLUMNS;
  int bars_end = put_bars(sheet, row, data_column, edition->attempts);
  BtXlsxSeries series[4];
  series[0] = (BtXlsxSeries){.name = "Middle half of the trainees",
                             .first_row = row,
                             .last_row = bars_end,
                             .x_column = data_column + D_X,
                             .y_column = data_column + D_Y,
                             .colour = BT_SAND,
                             .line = BAR_POINTS,
                             .transparency = 60,
                             .in_legend = true};
  int n = 1 + attempts_series(series + 1, edition, first_row);
  g_autofree char *title = chart_title(exercise, edition);
  BtXlsxChart chart = over_attempts(edition);
  chart.title = title;
  bt__xlsx_scatter(sheet, row, column, &chart, sheet, series, n);
}

static int put_attempts_of(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                           const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  g_autofree char *title = bt__edition_title(exercise, edition->study->rubric);
  for (guint i = 0; i < edition->attempts->len; i++)
    put_attempt(sheet, row++, title, edition, attempt_at(edition, i),
                record->scope->suppress_below);
  return row;
}

static int put_attempts(BtXlsxSheet *sheet, const BtCohortRecord *record) {
  bt__xlsx_table(sheet, "Attempts", BT_C_TABLE, 0, attempt_columns, P_COLUMNS,
                 bt__each_edition(sheet, 0, record, count_attempts), true);
  int row = bt__each_edition(sheet, BT_C_TABLE + 1, record, put_attempts_of);
  return MAX(row, BT_C_TABLE + 2);
}

// Returns the first row after the charts; BT_C_TABLE when there are none.
static int draw_attempts(BtXlsxSheet *sheet, const BtCohortRecord *record, int column) {
  int row = BT_C_TABLE + 1, chart_row = BT_C_TABLE;
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtCohortExercise *exercise = bt__cohort_exercise(record, i);
    for (guint j = 0; j < exercise->editions->len; j++) {
      const BtCohortEdition *edition = bt__cohort_edition(exercise, j);
      int n = (int)edition->attempts->len;
      g_autofree char *title = bt__edition_title(exercise, edition->study->rubric);
      if (n > 0) {
        draw(sheet, chart_row, column, title, edition, row);
        chart_row += MAX(CHART_ROWS, 3 * n) + 1;
      }
      row += n;
    }
  }
  return chart_row;
}

// The table of trainees -------------------------------------------------------

enum {
  T_EXERCISE,
  T_TRAINEE,
  T_ATTEMPTS,
  T_FIRST,
  T_LAST,
  T_START, // and its limits
  T_GAIN = T_START + 3,
  T_TO_MARK = T_GAIN + 3, // and its limits
  T_WORDS = T_TO_MARK + 3,
  T_COLUMNS
};

static const BtXlsxColumn trainee_columns[T_COLUMNS] = {
    {"Exercise", BT_STYLE_CELL, 0},
    {"Trainee", BT_STYLE_CELL_STRONG, 0},
    {"Attempts", BT_STYLE_COUNT, 0},
    {"First, %", BT_STYLE_PERCENT, 0},
    {"Latest, %", BT_STYLE_PERCENT, 0},
    {"Start, %", BT_STYLE_PERCENT, 0},
    {"Start from", BT_STYLE_PERCENT, 0},
    {"Start to", BT_STYLE_PERCENT, 0},
    {"Gain a doubling", BT_STYLE_FIGURE, 10},
    {"Gain from", BT_STYLE_FIGURE, 8},
    {"Gain to", BT_STYLE_FIGURE, 8},
    {"At mark by attempt", BT_STYLE_COUNT, 10},
    {"By, from", BT_STYLE_COUNT, 8},
    {"By, to", BT_STYLE_COUNT, 8},
    {"Standard, from pass and not yet", BT_STYLE_CELL, 46}};

static void put_attempt_number(BtXlsxSheet *sheet, int row, int column, gsize attempt) {
  if (attempt > 0)
    bt__xlsx_count(sheet, row, column, (gint64)attempt);
  else
    bt__xlsx_blank(sheet, row, column, BT_STYLE_COUNT);
}

static void put_curve(BtXlsxSheet *sheet, int row, const BtTraineeCurve *curve) {
  bt__put_estimate(sheet, row, T_START, BT_STYLE_PERCENT, &curve->start, 1);
  bt__put_estimate(sheet, row, T_GAIN, BT_STYLE_FIGURE, &curve->gain, 1);
  put_attempt_number(sheet, row, T_TO_MARK, curve->to_mark.at);
  put_attempt_number(sheet, row, T_TO_MARK + 1, curve->to_mark.low);
  put_attempt_number(sheet, row, T_TO_MARK + 2, curve->to_mark.high);
}

static gint64 value_milli(const BtCurvePoint *point) {
  return bt_is_missing(point->value) ? -1 : (gint64)(point->value * 1000 + 0.5);
}

static void put_practice(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                         const char *title, const BtCohortEdition *edition,
                         const BtPractice *practice) {
  const char *name = bt__cohort_name(record, practice->trainee);
  g_autofree char *who =
      name ? g_strdup_printf("%s (%s)", practice->trainee, name) : g_strdup(practice->trainee);
  g_autofree char *words = bt_practice_words(practice, edition->practices);
  bt__put_text(sheet, row, T_EXERCISE, BT_STYLE_CELL, title);
  bt__put_text(sheet, row, T_TRAINEE, BT_STYLE_CELL_STRONG, who);
  bt__xlsx_count(sheet, row, T_ATTEMPTS, (gint64)practice->n);
  bt__put_percent(sheet, row, T_FIRST, value_milli(&practice->point[0]));
  bt__put_percent(sheet, row, T_LAST, value_milli(&practice->point[practice->n - 1]));
  if (practice->in_cohort && !edition->practices->cohort->why_not)
    put_curve(sheet, row, practice->in_cohort);
  bt__put_text(sheet, row, T_WORDS, BT_STYLE_CELL, words);
}

static int put_practices_of(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                            const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  g_autofree char *title = bt__edition_title(exercise, edition->study->rubric);
  for (guint i = 0; i < edition->practices->practice->len; i++)
    put_practice(sheet, row++, record, title, edition,
                 g_ptr_array_index(edition->practices->practice, i));
  return row;
}

static int count_practices(BtXlsxSheet *sheet, int n, const BtCohortRecord *record,
                           const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  (void)sheet;
  (void)record;
  (void)exercise;
  return n + (int)edition->practices->practice->len;
}

static int put_trainees(BtXlsxSheet *sheet, int row, const BtCohortRecord *record) {
  bt__xlsx_table(sheet, "Trainees", row, 0, trainee_columns, T_COLUMNS,
                 bt__each_edition(sheet, 0, record, count_practices), false);
  return bt__each_edition(sheet, row + 1, record, put_practices_of);
}

// The sheet -------------------------------------------------------------------

void bt__cohort_curves(BtXlsx *xlsx, const BtCohortRecord *record) {
  bool shared = record->scope->suppress_below > 0;
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Curves",
      "Attempt by attempt: the median and the middle half of the trainees at each. The curve is "
      "the "
      "cohort's: start + gain x log2(attempt).",
      shared ? "No trainee is shown alone; nothing is shown of an attempt that too few came to."
             : "Later attempts are of those who came so often, and need not be the same people. "
               "Below: each trainee, whose few attempts borrow strength from the cohort.",
      false, true);
  if (bt__cohort_is_empty(sheet, record))
    return;
  int row = put_attempts(sheet, record), chart_row = BT_C_TABLE;
  if (!shared) {
    chart_row = draw_attempts(sheet, record, T_COLUMNS + 1);
    bt__put_text(sheet, ++row, 0, BT_STYLE_HEADING, "Each trainee at each exercise");
    row = put_trainees(sheet, row + 1, record);
  }
  bt__cohort_print(sheet, MAX(row, chart_row) - 1, shared ? (int)P_COLUMNS : (int)T_COLUMNS,
                   chart_row > BT_C_TABLE);
}
