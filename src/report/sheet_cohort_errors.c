// SPDX-License-Identifier: GPL-3.0-or-later
//
// Errors: kinds by how often they are found in a session, critical ones first.
#include "report/cohort_sheets.h"
#include "report/sheets.h"

#include <benchtally/proportion.h>
#include <benchtally/rate.h>

enum {
  E_EXERCISE,
  E_KIND,
  E_SEVERITY,
  E_FOUND,
  E_RATE, // and its limits
  E_WITH = E_RATE + 3,
  E_WITHOUT,
  E_NOT_ASSESSED,
  E_SESSIONS,
  E_SHARE, // and its limits
  E_COLUMNS = E_SHARE + 3
};

static const BtXlsxColumn columns[E_COLUMNS] = {
    {"Exercise", BT_STYLE_CELL, 30},          {"Kind of error", BT_STYLE_CELL, 46},
    {"Severity", BT_STYLE_CELL, 10},          {"Found", BT_STYLE_COUNT, 9},
    {"Found a session", BT_STYLE_FIGURE, 9},  {"Rate from", BT_STYLE_FIGURE, 8},
    {"Rate to", BT_STYLE_FIGURE, 8},          {"Sessions with it", BT_STYLE_COUNT, 11},
    {"Sessions without", BT_STYLE_COUNT, 11}, {"Not assessed", BT_STYLE_COUNT, 11},
    {"Sessions", BT_STYLE_COUNT, 11},         {"With it, %", BT_STYLE_PERCENT, 9},
    {"With it from", BT_STYLE_PERCENT, 8},    {"With it to", BT_STYLE_PERCENT, 8}};

// A kind of error over the sessions of record of an edition.
typedef struct {
  const BtCohortExercise *exercise;
  const BtRubric *rubric;
  int index;
  gint64 with, without, not_assessed, found;
  BtEstimate rate;
} Kind;

// Counting --------------------------------------------------------------------

static void count_kinds(const BtStudy *study, Kind *kinds) {
  for (guint i = 0; i < study->rows->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(study->rows, i);
    for (int j = 0; j < study->rubric->n_errors && row->row->of_record; j++) {
      kinds[j].with += row->errors[j] > 0;
      kinds[j].without += row->errors[j] == 0;
      kinds[j].not_assessed += row->errors[j] < 0;
      kinds[j].found += MAX(row->errors[j], 0);
    }
  }
}

static const BtErrorKind *kind_of(const Kind *kind) {
  return &kind->rubric->errors[kind->index];
}

static int by_severity_and_rate(gconstpointer a, gconstpointer b) {
  const Kind *x = a, *y = b;
  if (kind_of(x)->severity != kind_of(y)->severity)
    return (int)kind_of(y)->severity - (int)kind_of(x)->severity;
  if (x->rate.value < y->rate.value || x->rate.value > y->rate.value)
    return x->rate.value > y->rate.value ? -1 : 1;
  return x->index - y->index;
}

static GArray *kinds_of(const BtCohortExercise *exercise, const BtStudy *study) {
  GArray *list = g_array_new(FALSE, TRUE, sizeof(Kind));
  g_array_set_size(list, (guint)study->rubric->n_errors);
  count_kinds(study, (Kind *)(void *)list->data);
  for (guint i = 0; i < list->len; i++) {
    Kind *kind = &g_array_index(list, Kind, i);
    kind->exercise = exercise;
    kind->rubric = study->rubric;
    kind->index = (int)i;
    kind->rate = bt_rate((gsize)kind->found, (gsize)(kind->with + kind->without));
  }
  g_array_sort(list, by_severity_and_rate);
  return list;
}

// Rows ------------------------------------------------------------------------

static void put_figures(BtXlsxSheet *sheet, int row, const Kind *kind, bool shown, int least) {
  if (!shown) {
    bt__put_not_shown(sheet, row, E_FOUND);
    bt__put_not_shown(sheet, row, E_RATE);
    bt__put_not_shown(sheet, row, E_SHARE);
    return;
  }
  const BtEstimate share =
      bt_proportion_wilson((gsize)kind->with, (gsize)(kind->with + kind->without));
  bt__put_lone_count(sheet, row, E_FOUND, kind->found, least);
  bt__put_estimate(sheet, row, E_RATE, BT_STYLE_FIGURE, &kind->rate, 1);
  bt__put_estimate(sheet, row, E_SHARE, BT_STYLE_PERCENT, &share, 100);
}

static void put_kind(BtXlsxSheet *sheet, int row, const Kind *kind, int least) {
  const gint64 count[3] = {kind->with, kind->without, kind->not_assessed};
  BtHiding hiding[3];
  BtHiding all = bt__suppress_line(count, 3, least, hiding);
  g_autofree char *exercise = bt__edition_title(kind->exercise, kind->rubric);
  bt__put_text(sheet, row, E_EXERCISE, BT_STYLE_CELL, exercise);
  bt__put_text(sheet, row, E_KIND, BT_STYLE_CELL, kind_of(kind)->title);
  bt__put_text(sheet, row, E_SEVERITY, BT_STYLE_CELL, bt_severity_name(kind_of(kind)->severity));
  for (int i = 0; i < 3; i++)
    bt__put_count(sheet, row, E_WITH + i, count[i], hiding[i], least);
  bt__put_count(sheet, row, E_SESSIONS, count[0] + count[1] + count[2], all, least);
  bool shown = all == BT_SHOWN && hiding[0] == BT_SHOWN && hiding[1] == BT_SHOWN;
  put_figures(sheet, row, kind, shown, least);
}

// The chart -------------------------------------------------------------------

static GArray *bars_of(const GArray *kinds, GPtrArray *names, double *most) {
  GArray *bars = g_array_new(FALSE, FALSE, sizeof(BtBar));
  *most = 0;
  for (guint i = 0; i < kinds->len; i++) {
    const Kind *kind = &g_array_index(kinds, Kind, i);
    if (kind->rate.why_not)
      continue;
    bool critical = kind_of(kind)->severity == BT_SEVERE_CRITICAL;
    char *name = g_strdup_printf("%s%s", critical ? "Critical: " : "", kind_of(kind)->title);
    const BtBar bar = {name, kind->rate.value, kind->rate.low, kind->rate.high,
                       kind->rate.has_limits};
    g_ptr_array_add(names, name);
    g_array_append_val(bars, bar);
    *most = MAX(*most, kind->rate.high);
  }
  return bars;
}

static gint64 critical_found(const GArray *kinds) {
  gint64 n = 0;
  for (guint i = 0; i < kinds->len; i++) {
    const Kind *kind = &g_array_index(kinds, Kind, i);
    n += kind_of(kind)->severity == BT_SEVERE_CRITICAL ? kind->found : 0;
  }
  return n;
}

// Returns the rows it covers.
static int draw(BtXlsxSheet *sheet, int row, const GArray *kinds) {
  double most = 0;
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GArray) bars = bars_of(kinds, names, &most);
  if (bars->len == 0)
    return 0;
  const Kind *first = &g_array_index(kinds, Kind, 0);
  g_autofree char *exercise = bt__edition_title(first->exercise, first->rubric);
  g_autofree char *found = bt_count_of(critical_found(kinds), "critical error", NULL);
  g_autofree char *title = g_strdup_printf("%s: %s found", exercise, found);
  double unit = bt__nice_step(most, 4);
  const BtBarChart chart = {.title = title,
                            .x_title = "Found a session",
                            .limits = BT_LIMITS_95,
                            .x_max = unit * (double)((int)(most / unit) + 1),
                            .x_unit = unit,
                            .bars = (const BtBar *)(const void *)bars->data,
                            .n = (int)bars->len};
  return bt__bar_chart(sheet, row, E_COLUMNS + 1, E_COLUMNS + 1 + BT_C_CHART_COLUMNS, &chart);
}

// The sheet -------------------------------------------------------------------

static GPtrArray *all_kinds(const BtCohortRecord *record, int *n) {
  GPtrArray *lists = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  *n = 0;
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtCohortExercise *exercise = bt__cohort_exercise(record, i);
    for (guint j = 0; j < exercise->editions->len; j++) {
      GArray *list = kinds_of(exercise, bt__cohort_edition(exercise, j)->study);
      g_ptr_array_add(lists, list);
      *n += (int)list->len;
    }
  }
  return lists;
}

static void put_all(BtXlsxSheet *sheet, const BtCohortRecord *record) {
  int n = 0, row = BT_C_TABLE + 1, chart_row = BT_C_TABLE, least = record->scope->suppress_below;
  g_autoptr(GPtrArray) lists = all_kinds(record, &n);
  bt__xlsx_table(sheet, "Errors", BT_C_TABLE, 0, columns, E_COLUMNS, n, true);
  for (guint i = 0; i < lists->len; i++) {
    const GArray *list = g_ptr_array_index(lists, i);
    for (guint j = 0; j < list->len; j++)
      put_kind(sheet, row++, &g_array_index(list, Kind, j), least);
    if (least == 0)
      chart_row += draw(sheet, chart_row, list) + 1;
  }
  if (n == 0)
    bt__put_text(sheet, row++, 0, BT_STYLE_CELL, "The rubrics name no kinds of error.");
  bt__cohort_print(sheet, MAX(row, chart_row) - 1, E_COLUMNS, chart_row > BT_C_TABLE);
}

void bt__cohort_errors(BtXlsx *xlsx, const BtCohortRecord *record) {
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Errors",
      "Kinds of error by exercise, critical ones first, then by how often a session has them. By "
      "the observation of record.",
      "Limits of the rate hold where one session tells nothing of the next; with few trainees and "
      "many sessions of each they are too narrow.",
      false, true);
  if (!bt__cohort_is_empty(sheet, record))
    put_all(sheet, record);
}
