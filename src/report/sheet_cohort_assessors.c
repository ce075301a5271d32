// SPDX-License-Identifier: GPL-3.0-or-later
//
// Assessors: what each observed and how severely, and how far they agree.
#include "report/cohort_sheets.h"
#include "report/sheets.h"

#include <string.h>

// One assessor at one exercise ------------------------------------------------

typedef struct {
  const char *code; // borrowed
  gint64 mode[3];   // observations by BtMode
  gint64 of_record;
  const BtAssessorSeverity *severity; // NULL: none of theirs has a total
} Assessor;

static int by_code(gconstpointer a, gconstpointer b) {
  return strcmp(((const Assessor *)a)->code, ((const Assessor *)b)->code);
}

static const BtAssessorSeverity *severity_of(const BtStudyReliability *reliability,
                                             const char *code) {
  for (guint i = 0; i < reliability->assessor->len; i++) {
    if (strcmp(g_ptr_array_index(reliability->assessor, i), code) == 0)
      return &reliability->severity->assessor[i];
  }
  return NULL;
}

// Who observed an edition, by code; trainees' own records are nobody's. Caller frees.
static GArray *assessors_of(const BtCohortEdition *edition) {
  GArray *list = g_array_new(FALSE, FALSE, sizeof(Assessor));
  g_autoptr(GHashTable) places = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < edition->study->rows->len; i++) {
    const BtSessionRow *row = ((BtStudyRow *)g_ptr_array_index(edition->study->rows, i))->row;
    if (row->mode == BT_MODE_SELF)
      continue;
    guint place = GPOINTER_TO_UINT(g_hash_table_lookup(places, row->assessor));
    if (place == 0) {
      const Assessor made = {.code = row->assessor,
                             .severity = severity_of(edition->reliability, row->assessor)};
      g_array_append_val(list, made);
      place = list->len;
      g_hash_table_insert(places, row->assessor, GUINT_TO_POINTER(place));
    }
    Assessor *one = &g_array_index(list, Assessor, place - 1);
    one->mode[row->mode]++;
    one->of_record += row->of_record;
  }
  g_array_sort(list, by_code);
  return list;
}

static const char *severity_words(const BtSeverityStudy *study, const BtAssessorSeverity *one) {
  if (study->why_not)
    return study->why_not;
  if (!one)
    return "no total given";
  if (one->severity.why_not)
    return one->severity.why_not;
  if (!one->severity.has_limits)
    return "assessors do not differ";
  return one->severity.low > 0    ? "harsher than the mean assessor"
         : one->severity.high < 0 ? "milder than the mean assessor"
                                  : "not told from the mean assessor";
}

// The table of assessors ------------------------------------------------------

enum {
  A_EXERCISE,
  A_ASSESSOR,
  A_OBSERVED,
  A_OF_RECORD,
  A_LIVE,
  A_VIDEO,
  A_SHARED,
  A_MEAN,
  A_SEVERITY, // and its limits
  A_WORDS = A_SEVERITY + 3,
  A_COLUMNS
};

static const BtXlsxColumn assessor_columns[A_COLUMNS] = {
    {"Exercise", BT_STYLE_CELL, 34},      {"Assessor", BT_STYLE_CELL_STRONG, 26},
    {"Observed", BT_STYLE_COUNT, 11},     {"Of record", BT_STYLE_COUNT, 9},
    {"Live", BT_STYLE_COUNT, 9},          {"Video", BT_STYLE_COUNT, 9},
    {"Shared", BT_STYLE_COUNT, 9},        {"Mean total, %", BT_STYLE_PERCENT, 9},
    {"Severity, %", BT_STYLE_FIGURE, 10}, {"Severity from", BT_STYLE_FIGURE, 10},
    {"Severity to", BT_STYLE_FIGURE, 10}, {"In words", BT_STYLE_CELL, 44}};

// "Assessor Quartz (A-01)"; caller frees.
static char *person_text(const BtCohortRecord *record, const char *code) {
  const char *name = bt__cohort_name(record, code);
  return name ? g_strdup_printf("%s (%s)", name, code) : g_strdup(code);
}

static void put_assessor(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                         const char *exercise, const BtSeverityStudy *study, const Assessor *one) {
  g_autofree char *who = person_text(record, one->code);
  bool estimated = one->severity && !study->why_not;
  BtEstimate none = bt_not_estimable("", 0);
  bt__put_text(sheet, row, A_EXERCISE, BT_STYLE_CELL, exercise);
  bt__put_text(sheet, row, A_ASSESSOR, BT_STYLE_CELL_STRONG, who);
  bt__xlsx_count(sheet, row, A_OBSERVED, one->mode[BT_MODE_LIVE] + one->mode[BT_MODE_VIDEO]);
  bt__xlsx_count(sheet, row, A_OF_RECORD, one->of_record);
  bt__xlsx_count(sheet, row, A_LIVE, one->mode[BT_MODE_LIVE]);
  bt__xlsx_count(sheet, row, A_VIDEO, one->mode[BT_MODE_VIDEO]);
  bt__xlsx_count(sheet, row, A_SHARED, one->severity ? (gint64)one->severity->shared : 0);
  bt__put_value(sheet, row, A_MEAN, BT_STYLE_PERCENT,
                one->severity ? &one->severity->raw_mean : &none, 1);
  bt__put_estimate(sheet, row, A_SEVERITY, BT_STYLE_FIGURE,
                   estimated ? &one->severity->severity : &none, 1);
  bt__put_text(sheet, row, A_WORDS, BT_STYLE_CELL, severity_words(study, one->severity));
}

static int put_assessors_of(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                            const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  g_autoptr(GArray) assessors = assessors_of(edition);
  g_autofree char *title = bt__edition_title(exercise, edition->study->rubric);
  for (guint i = 0; i < assessors->len; i++)
    put_assessor(sheet, row++, record, title, edition->reliability->severity,
                 &g_array_index(assessors, Assessor, i));
  return row;
}

static int count_assessors(BtXlsxSheet *sheet, int n, const BtCohortRecord *record,
                           const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  (void)sheet;
  (void)record;
  (void)exercise;
  g_autoptr(GArray) assessors = assessors_of(edition);
  return n + (int)assessors->len;
}

static int put_assessors(BtXlsxSheet *sheet, int row, const BtCohortRecord *record) {
  int n = bt__each_edition(sheet, 0, record, count_assessors);
  bt__xlsx_table(sheet, "Assessors", row, 0, assessor_columns, A_COLUMNS, n, true);
  row = bt__each_edition(sheet, row + 1, record, put_assessors_of);
  return row + (n == 0);
}

// Agreement -------------------------------------------------------------------

enum {
  G_EXERCISE,
  G_OF,
  G_SESSIONS,
  G_PAIRS,
  G_AGREED,                // and its limits
  G_BEYOND = G_AGREED + 3, // and its limits
  G_AC1 = G_BEYOND + 3,
  G_WORDS,
  G_COLUMNS
};

// The columns stand below those of the assessors, as wide.
static const struct {
  const char *header;
  BtStyle style;
} agreement_columns[G_COLUMNS] = {
    {"Exercise", BT_STYLE_CELL},      {"Of", BT_STYLE_CELL_STRONG},
    {"Sessions", BT_STYLE_COUNT},     {"Pairs", BT_STYLE_COUNT},
    {"Agreed, %", BT_STYLE_PERCENT},  {"Agreed from", BT_STYLE_PERCENT},
    {"Agreed to", BT_STYLE_PERCENT},  {"Beyond chance", BT_STYLE_FIGURE},
    {"Beyond from", BT_STYLE_FIGURE}, {"Beyond to", BT_STYLE_FIGURE},
    {"AC1", BT_STYLE_FIGURE},         {"Beyond chance is", BT_STYLE_CELL}};

// What the figure is, or why there is none.
static void put_which(BtXlsxSheet *sheet, int row, const char *which, const char *why_not) {
  g_autofree char *words =
      why_not ? g_strdup_printf("not estimable: %s", why_not) : g_strdup(which);
  bt__put_text(sheet, row, G_WORDS, BT_STYLE_CELL, words);
}

static void put_ratings(BtXlsxSheet *sheet, int row, const BtAgreement *agreement, bool shared) {
  if (shared) // with the share it would give how many differ
    bt__put_not_shown(sheet, row, G_PAIRS);
  else
    bt__xlsx_count(sheet, row, G_PAIRS, (gint64)agreement->pairs);
  bt__put_estimate(sheet, row, G_AGREED, BT_STYLE_PERCENT, &agreement->agreed, 100);
  bt__put_estimate(sheet, row, G_BEYOND, BT_STYLE_FIGURE, &agreement->kappa, 1);
  bt__put_value(sheet, row, G_AC1, BT_STYLE_FIGURE, &agreement->ac1, 1);
  put_which(sheet, row, agreement->is_cohen ? "kappa (Cohen)" : "kappa (Fleiss)",
            agreement->kappa.why_not);
}

static void put_total(BtXlsxSheet *sheet, int row, const BtScoreAgreement *total) {
  BtIccForm form = total->same_raters ? BT_ICC_2 : BT_ICC_1;
  bt__put_estimate(sheet, row, G_BEYOND, BT_STYLE_FIGURE, &total->icc.form[form], 1);
  put_which(sheet, row, bt_icc_name(form), total->icc.form[form].why_not);
}

// Three rows: checkpoints, errors, the total.
static int put_agreement_of(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                            const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  static const char *const of[] = {"Checkpoints", "Kinds of error", "Total"};
  int least = record->scope->suppress_below, sessions = (int)edition->views->sessions;
  g_autofree char *title = bt__edition_title(exercise, edition->study->rubric);
  for (int i = 0; i < 3; i++) {
    bt__put_text(sheet, row + i, G_EXERCISE, BT_STYLE_CELL, title);
    bt__put_text(sheet, row + i, G_OF, BT_STYLE_CELL_STRONG, of[i]);
    bt__put_lone_count(sheet, row + i, G_SESSIONS, sessions, least);
    if (bt__is_small(sessions, least))
      bt__put_text(sheet, row + i, G_WORDS, BT_STYLE_CELL, "not shown: too few sessions");
  }
  if (!bt__is_small(sessions, least)) {
    put_ratings(sheet, row, &edition->steps, least > 0);
    put_ratings(sheet, row + 1, &edition->errors, least > 0);
    put_total(sheet, row + 2, &edition->total);
  }
  return row + 3;
}

// `first`: it is the sheet's first table and sets the widths.
static int put_agreement(BtXlsxSheet *sheet, int row, const BtCohortRecord *record, bool first) {
  int n = 0;
  BtXlsxColumn columns[G_COLUMNS];
  for (int i = 0; i < G_COLUMNS; i++)
    columns[i] = (BtXlsxColumn){agreement_columns[i].header, agreement_columns[i].style,
                                first ? assessor_columns[i].width : 0};
  for (guint i = 0; i < record->exercises->len; i++)
    n += 3 * (int)bt__cohort_exercise(record, i)->editions->len;
  bt__xlsx_table(sheet, "Agreement", row, 0, columns, G_COLUMNS, n, first);
  return bt__each_edition(sheet, row + 1, record, put_agreement_of);
}

// The chart -------------------------------------------------------------------

static int draw_severity(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                         const BtCohortExercise *exercise, const BtCohortEdition *edition) {
  const BtStudyReliability *reliability = edition->reliability;
  if (reliability->severity->why_not)
    return row;
  g_autoptr(GArray) dots = g_array_new(FALSE, FALSE, sizeof(BtBar));
  double most = 1;
  for (guint i = 0; i < reliability->assessor->len; i++) {
    const BtEstimate *one = &reliability->severity->assessor[i].severity;
    const BtBar dot = {g_ptr_array_index(reliability->assessor, i), one->value, one->low, one->high,
                       one->has_limits};
    if (one->why_not)
      continue;
    g_array_append_val(dots, dot);
    most = MAX(most, MAX(ABS(one->value), MAX(ABS(one->low), ABS(one->high))));
  }
  g_autofree char *title_of = bt__edition_title(exercise, edition->study->rubric);
  g_autofree char *title = g_strdup_printf("%s: severity of assessors", title_of);
  double unit = bt__nice_step(most, 2), reach = unit * (double)((int)(most / unit) + 1);
  (void)record;
  const BtBarChart chart = {.title = title,
                            .x_title = "Percent of the points; to the right: harsher",
                            .limits = {NULL, "Severity", "95 % limits"},
                            .x_min = -reach,
                            .x_max = reach,
                            .x_unit = unit,
                            .bars = (const BtBar *)(const void *)dots->data,
                            .n = (int)dots->len};
  return row + 1 +
         bt__dot_chart(sheet, row, A_COLUMNS + 1, A_COLUMNS + 1 + BT_C_CHART_COLUMNS, &chart,
                       "The mean assessor");
}

// The sheet -------------------------------------------------------------------

static void put_shared(BtXlsxSheet *sheet, const BtCohortRecord *record) {
  (void)put_agreement(sheet, BT_C_TABLE, record, true);
}

static void put_all(BtXlsxSheet *sheet, const BtCohortRecord *record) {
  int row = put_assessors(sheet, BT_C_TABLE, record) + 1;
  bt__put_text(sheet, row, 0, BT_STYLE_HEADING, "Agreement in sessions that two or more observed");
  row = put_agreement(sheet, row + 1, record, false);
  int chart_row = bt__each_edition(sheet, BT_C_TABLE, record, draw_severity);
  bt__cohort_print(sheet, MAX(row, chart_row) - 1, A_COLUMNS, chart_row > BT_C_TABLE);
}

void bt__cohort_assessors(BtXlsx *xlsx, const BtCohortRecord *record) {
  bool shared = record->scope->suppress_below > 0;
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Assessors",
      shared ? "How far assessors of the same sessions agree. No assessor is shown alone."
             : "Severity: percent of the points below what the mean assessor gives the very same "
               "performance; above 0 harsher. Shared: sessions that another observed, too.",
      "Beyond chance: kappa of checkpoints and kinds of error, an intraclass correlation of the "
      "total; 1 is full agreement, 0 is chance. Trainees' own records are left out.",
      false, true);
  if (bt__cohort_is_empty(sheet, record))
    return;
  (shared ? put_shared : put_all)(sheet, record);
}
