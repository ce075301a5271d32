// SPDX-License-Identifier: GPL-3.0-or-later
//
// Overview: one row a trainee, who needs what; below it how many stand where in each exercise.
#include "report/advice.h"
#include "report/cohort_sheets.h"
#include "report/sheets.h"
#include "words/words.h"

#define EXERCISES_MOST 40 // columns that a sheet has room for
#define CHART_ROWS     18
#define FIRST_PAGE     6 // columns from "Needs" to "Best %"
#define ROW_PIXELS     20

static const BtOutcome outcomes[] = {BT_PASS, BT_NOT_YET, BT_UNDECIDED};

// Need in words ---------------------------------------------------------------

static int pressing(const BtStanding *standing) {
  const BtStudyRow *row = standing->latest->row;
  return bt__is_held(row) ? 3 : row->outcome == BT_NOT_YET ? 2 : row->outcome == BT_UNDECIDED;
}

static gint64 below_mark_milli(const BtStanding *standing) {
  return standing->latest->rubric->score.pass_milli - bt__total_milli(standing->latest->row);
}

// The exercise that presses most, and of those farthest below its mark; NULL when all are passed.
static const BtStanding *most_pressing(const BtCohortTrainee *trainee, guint n_exercises) {
  const BtStanding *found = NULL;
  for (guint i = 0; i < n_exercises; i++) {
    const BtStanding *one = &trainee->standing[i];
    if (one->sessions == 0 || pressing(one) == 0)
      continue;
    if (!found || pressing(one) > pressing(found) ||
        (pressing(one) == pressing(found) && below_mark_milli(one) > below_mark_milli(found)))
      found = one;
  }
  return found;
}

// The competency with the smallest share of its points; -1: none has any.
static int weakest_competency(const BtCohortSession *session) {
  const BtCompetencyScore *scores = session->row->competency;
  int weakest = -1;
  for (int i = 0; i < session->rubric->n_competencies; i++) {
    if (scores[i].possible_mp > 0 &&
        (weakest < 0 || scores[i].given_mp * scores[weakest].possible_mp <
                            scores[weakest].given_mp * scores[i].possible_mp))
      weakest = i;
  }
  return weakest;
}

// The checkpoint that lost most points; -1: none lost any.
static int costliest_checkpoint(const BtCohortSession *session) {
  double most = 0;
  int costliest = -1;
  for (int i = 0; i < session->rubric->n_checkpoints; i++) {
    double share = session->row->step_share[i];
    double lost =
        bt_is_missing(share) ? 0 : (1 - share) * (double)session->rubric->checkpoints[i].points_mp;
    if (lost > most) {
      most = lost;
      costliest = i;
    }
  }
  return costliest;
}

static void say_outcome(GString *text, const BtStanding *standing) {
  const BtCohortSession *session = standing->latest;
  g_string_append_printf(text, "%s: ", session->rubric->title);
  if (session->row->outcome == BT_UNDECIDED) {
    g_string_append(text, "undecided, something needed was not assessed.");
    return;
  }
  g_autofree char *total = bt_decimal_format_cut(MAX(bt__total_milli(session->row), 0), 1);
  g_autofree char *pass = bt_decimal_format(session->rubric->score.pass_milli);
  g_string_append_printf(text, "not yet, %s of %s %% needed%s.", total, pass,
                         bt__is_held(session->row) ? ", a critical failure or below a floor" : "");
}

static void say_weakness(GString *text, const BtCohortSession *session) {
  int competency = weakest_competency(session), checkpoint = costliest_checkpoint(session);
  if (competency >= 0) {
    const BtCompetencyScore *score = &session->row->competency[competency];
    g_autofree char *percent = bt__percent_text(score->given_mp, score->possible_mp);
    g_string_append_printf(text, " Weakest there: %s, %s %%.",
                           session->rubric->competencies[competency].title, percent);
  }
  if (checkpoint >= 0)
    g_string_append_printf(text, " Cost most: %s.", session->rubric->checkpoints[checkpoint].title);
}

static char *needs_of(const BtCohortTrainee *trainee, guint n_exercises) {
  const BtStanding *standing = most_pressing(trainee, n_exercises);
  if (!standing)
    return g_strdup("At the standard in every exercise tried.");
  GString *text = g_string_new(NULL);
  say_outcome(text, standing);
  say_weakness(text, standing->latest);
  int others = trainee->with[BT_NOT_YET] + trainee->with[BT_UNDECIDED] - 1;
  if (others > 0) {
    g_autofree char *count = bt_count_of(others, "other exercise is", "other exercises are");
    g_string_append_printf(text, " %s not yet at the standard.", count);
  }
  return g_string_free(text, FALSE);
}

// The table of trainees -------------------------------------------------------

static const char *trend_word(const BtEstimate *trend) {
  if (trend->why_not)
    return "not estimable";
  if (!trend->has_limits)
    return "too few for limits";
  return trend->low > 0 ? "rising" : trend->high < 0 ? "falling" : "not clear";
}

static BtColumns *trainee_columns(const BtCohortRecord *record, guint n_exercises) {
  BtColumns *columns = bt__columns_new();
  bt__columns_add(columns, "Trainee", "code", BT_STYLE_CELL_STRONG, 11);
  if (!record->scope->without_names)
    bt__columns_add(columns, "Name", "name", BT_STYLE_CELL, 20);
  bt__columns_add(columns, "Level", "level", BT_STYLE_CELL, 9);
  bt__columns_add(columns, "Needs", "needs", BT_STYLE_CELL, 58);
  bt__columns_add(columns, "Sessions", "sessions", BT_STYLE_COUNT, 10);
  bt__columns_add(columns, "Last session", "last", BT_STYLE_DATE, 12);
  bt__columns_add(columns, "Days since", "days", BT_STYLE_COUNT, 12);
  bt__columns_add(columns, "Last %", "last-total", BT_STYLE_PERCENT, 10);
  bt__columns_add(columns, "Best %", "best-total", BT_STYLE_PERCENT, 8);
  bt__columns_add(columns, "Trend, % an attempt", "trend", BT_STYLE_FIGURE, 11);
  bt__columns_add(columns, "Trend from", "trend-from", BT_STYLE_FIGURE, 8);
  bt__columns_add(columns, "Trend to", "trend-to", BT_STYLE_FIGURE, 8);
  bt__columns_add(columns, "Trend", "trend-word", BT_STYLE_CELL, 13);
  for (guint i = 0; i < n_exercises; i++) {
    const BtRubric *rubric = bt__cohort_exercise(record, i)->rubric;
    bt__columns_add(columns, rubric->title, rubric->id, BT_STYLE_CELL, 15);
  }
  return columns;
}

// "○ Not yet, 61.2 (3)": the latest outcome and total, and how many sessions.
static char *state_text(const BtStanding *standing) {
  if (standing->sessions == 0)
    return g_strdup("");
  const BtStudyRow *row = standing->latest->row;
  g_autofree char *outcome = bt__outcome_text((int)row->outcome);
  g_autofree char *total =
      bt__total_milli(row) < 0 ? g_strdup("-") : bt_decimal_format_cut(bt__total_milli(row), 1);
  return g_strdup_printf("%s, %s (%d)", outcome, total, standing->sessions);
}

static void put_trainee(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                        const BtCohortTrainee *trainee, guint n_exercises) {
  g_autofree char *needs = needs_of(trainee, record->exercises->len);
  const BtPerson *person = trainee->person;
  int at = 0;
  bt__put_text(sheet, row, at++, BT_STYLE_CELL_STRONG, trainee->code);
  if (!record->scope->without_names)
    bt__put_text(sheet, row, at++, BT_STYLE_CELL, bt__cohort_name(record, trainee->code));
  bt__put_text(sheet, row, at++, BT_STYLE_CELL, person ? person->level : NULL);
  bt__put_text(sheet, row, at++, BT_STYLE_CELL, needs);
  bt__xlsx_count(sheet, row, at++, (gint64)trainee->sessions->len);
  bt__xlsx_date(sheet, row, at++, trainee->latest->row->row->started_ms);
  bt__xlsx_count(sheet, row, at++, bt__days_since(record, trainee->latest));
  bt__put_percent(sheet, row, at++, bt__total_milli(trainee->latest->row));
  bt__put_percent(sheet, row, at++, trainee->best_milli);
  bt__put_estimate(sheet, row, at, BT_STYLE_FIGURE, &trainee->trend, 1);
  bt__put_text(sheet, row, at + 3, BT_STYLE_CELL, trend_word(&trainee->trend));
  for (guint i = 0; i < n_exercises; i++) {
    g_autofree char *state = state_text(&trainee->standing[i]);
    bt__put_text(sheet, row, at + 4 + (int)i, BT_STYLE_CELL, state);
  }
}

static int put_trainees(BtXlsxSheet *sheet, const BtCohortRecord *record) {
  guint n_exercises = MIN(record->exercises->len, EXERCISES_MOST);
  g_autoptr(BtColumns) columns = trainee_columns(record, n_exercises);
  int n = (int)record->trainees->len;
  bt__xlsx_table(sheet, "Overview", BT_C_TABLE, 0,
                 (const BtXlsxColumn *)(const void *)columns->columns->data,
                 (int)columns->columns->len, n, true);
  for (int i = 0; i < n; i++)
    put_trainee(sheet, BT_C_TABLE + 1 + i, record, bt__cohort_trainee(record, (guint)i),
                n_exercises);
  return BT_C_TABLE + 1 + MAX(n, 1);
}

// Where they stand, by exercise -----------------------------------------------

enum { S_EXERCISE, S_PASS, S_NOT_YET, S_UNDECIDED, S_ALL, S_COLUMNS };

// Trainees whose latest session of the exercise came out so, in the order of `outcomes`.
static void count_states(const BtCohortRecord *record, guint exercise, gint64 count[3]) {
  for (guint i = 0; i < record->trainees->len; i++) {
    const BtStanding *standing = &bt__cohort_trainee(record, i)->standing[exercise];
    for (int j = 0; j < 3 && standing->sessions > 0; j++)
      count[j] += standing->latest->row->outcome == outcomes[j];
  }
}

// Returns whether every count is shown.
static bool put_state(BtXlsxSheet *sheet, int row, int column, const BtCohortRecord *record,
                      guint exercise) {
  int least = record->scope->suppress_below;
  gint64 count[3] = {0, 0, 0};
  BtHiding hiding[3];
  count_states(record, exercise, count);
  BtHiding all = bt__suppress_line(count, 3, least, hiding);
  bool shown = all == BT_SHOWN;
  bt__put_text(sheet, row, column + S_EXERCISE, BT_STYLE_CELL,
               bt__cohort_exercise(record, exercise)->rubric->title);
  for (int i = 0; i < 3; i++) {
    bt__put_count(sheet, row, column + S_PASS + i, count[i], hiding[i], least);
    shown &= hiding[i] == BT_SHOWN;
  }
  bt__put_count(sheet, row, column + S_ALL, count[0] + count[1] + count[2], all, least);
  return shown;
}

static void draw_states(BtXlsxSheet *sheet, int row, int column, const BtCohortRecord *record,
                        int header, int data_column) {
  static const BtColour colours[] = {BT_LAGOON, BT_OCHRE, BT_SLATE};
  gint64 all[3] = {0, 0, 0}, most = 0;
  BtXlsxSeries series[3];
  int n = (int)record->exercises->len;
  for (int i = 0; i < n; i++) {
    gint64 count[3] = {0, 0, 0};
    count_states(record, (guint)i, count);
    for (int j = 0; j < 3; j++)
      all[j] += count[j];
    most = MAX(most, count[0] + count[1] + count[2]);
  }
  for (int j = 0; j < 3; j++)
    series[j] = (BtXlsxSeries){.name = bt_outcome_words(outcomes[j]),
                               .y_column = data_column + S_PASS + j,
                               .colour = colours[j],
                               .in_legend = true};
  g_autofree char *title = g_strdup_printf(
      "At the standard by the latest session: %" G_GINT64_FORMAT " of %" G_GINT64_FORMAT, all[0],
      all[0] + all[1] + all[2]);
  double unit = MAX(1, bt__nice_step((double)most, 6));
  const BtXlsxChart chart = {.title = title,
                             .y_title = "Trainees",
                             .y_min = 0,
                             .y_max = unit * (double)((int)((double)most / unit) + 1),
                             .y_unit = unit,
                             .y_labels = true,
                             .y_grid = true,
                             .width = BT_C_CHART_WIDTH,
                             .height = CHART_ROWS * ROW_PIXELS};
  bt__xlsx_stacked(sheet, row, column, &chart, sheet, header + 1, header + n,
                   data_column + S_EXERCISE, series, 3);
}

// The table of states at a cell, and its chart below it when no count is hidden. `widths`: sets the
// widths of the columns, too. Returns the first row after both.
static int put_states(BtXlsxSheet *sheet, int row, int column, const BtCohortRecord *record,
                      bool widths) {
  BtXlsxColumn columns[S_COLUMNS] = {{"Exercise", BT_STYLE_CELL, 40},
                                     {"Pass", BT_STYLE_COUNT, 14},
                                     {"Not yet", BT_STYLE_COUNT, 14},
                                     {"Undecided", BT_STYLE_COUNT, 14},
                                     {"Trainees", BT_STYLE_COUNT, 14}};
  for (int i = 0; i < S_COLUMNS && !widths; i++)
    columns[i].width = 0;
  int n = (int)record->exercises->len;
  bool shown = true;
  bt__xlsx_table(sheet, "States", row, column, columns, S_COLUMNS, n, widths);
  for (int i = 0; i < n; i++)
    shown &= put_state(sheet, row + 1 + i, column, record, (guint)i);
  if (!shown)
    return row + 1 + n;
  draw_states(sheet, row + n + 2, widths ? 0 : column, record, row, column);
  return row + n + 2 + CHART_ROWS;
}

// Sheets ----------------------------------------------------------------------

// "24 trainees, 612 sessions at 6 exercises, 4 Sep 2024 to 26 Jun 2026." Caller frees.
static char *extent(const BtCohortRecord *record) {
  g_autofree char *trainees = bt_count_of((gint64)record->trainees->len, "trainee", NULL);
  g_autofree char *sessions = bt_count_of(record->sessions, "session", NULL);
  g_autofree char *exercises = bt_count_of((gint64)record->exercises->len, "exercise", NULL);
  g_autofree char *from = bt_date_format(record->from_ms), *to = bt_date_format(record->to_ms);
  return g_strdup_printf("%s, %s of %s, %s to %s.", trainees, sessions, exercises, from, to);
}

static char *answer(const BtCohortRecord *record) {
  int there = 0, held = 0, not_yet = 0;
  for (guint i = 0; i < record->trainees->len; i++) {
    const BtCohortTrainee *trainee = bt__cohort_trainee(record, i);
    there += trainee->with[BT_NOT_YET] + trainee->with[BT_UNDECIDED] == 0;
    held += trainee->held > 0;
    not_yet += trainee->held == 0 && trainee->with[BT_NOT_YET] > 0;
  }
  g_autofree char *about = extent(record);
  return g_strdup_printf("%s By the latest sessions %d %s at the standard in every exercise tried; "
                         "%d kept back by a critical failure or a floor, %d by the total alone.",
                         about, there, there == 1 ? "is" : "are", held, not_yet);
}

void bt__cohort_overview(BtXlsx *xlsx, const BtCohortRecord *record) {
  g_autofree char *line = answer(record);
  g_autofree char *to = bt_date_format(record->to_ms);
  g_autofree char *rule = g_strdup_printf(
      "Sorted by need: kept back by a critical failure or a floor in most exercises; then not yet "
      "in most; then farthest below the marks; then undecided in most; then lowest at best. Days "
      "count to the latest session, %s.%s",
      to,
      record->exercises->len > EXERCISES_MOST ? " Only the first 40 exercises have a column." : "");
  BtXlsxSheet *sheet = bt__cohort_sheet(xlsx, record, "Overview", line, rule, false, true);
  if (bt__cohort_is_empty(sheet, record))
    return;
  int column = record->scope->without_names ? 2 : 3; // "Needs", the widest
  int row = put_trainees(sheet, record) + 1;
  bt__put_text(sheet, row, column, BT_STYLE_HEADING, "How many stand where, by the latest session");
  put_states(sheet, row + 1, column, record, false);
  bt__xlsx_pages_beside(sheet, 1, column + FIRST_PAGE);
}

void bt__cohort_shared_overview(BtXlsx *xlsx, const BtCohortRecord *record) {
  int least = record->scope->suppress_below;
  g_autofree char *all = bt__is_small(record->trainees->len, least)
                             ? bt__fewer_than(least)
                             : g_strdup_printf("%u", record->trainees->len);
  g_autofree char *line = g_strdup_printf(
      "For sharing: %s trainees, none shown alone. By the latest session of each exercise.", all);
  g_autofree char *rule =
      g_strdup_printf("Counts from 1 to %d read \"fewer than %d\"; others read \"not shown\" where "
                      "a small one could "
                      "be worked out from them and a total, and so does what is made from either.",
                      least - 1, least);
  BtXlsxSheet *sheet = bt__cohort_sheet(xlsx, record, "Overview", line, rule, true, true);
  if (!bt__cohort_is_empty(sheet, record))
    put_states(sheet, BT_C_TABLE, 0, record, true);
}
