// SPDX-License-Identifier: GPL-3.0-or-later
//
// Methods: how every figure is made, from what, by whom first, and what could not be estimated.
#include "report/cohort_sheets.h"
#include "report/sheets.h"
#include "words/words.h"

enum { H_WHAT, H_SHEET, H_HOW, H_SOURCE, H_N, H_LIMITS, H_COLUMNS };

static const BtXlsxColumn method_columns[H_COLUMNS] = {
    {"Figure", BT_STYLE_CELL_STRONG, 24},  {"Sheet", BT_STYLE_CELL, 13},
    {"How it is made", BT_STYLE_CELL, 62}, {"Source", BT_STYLE_CELL, 40},
    {"Rests on (n)", BT_STYLE_CELL, 26},   {"Limits and what to mind", BT_STYLE_CELL, 48}};

static const struct {
  const char *cell[H_COLUMNS];
} methods[] = {
    {{"Total, outcome", "all",
      "The weighted parts that were assessed, in exact fractions; by the observation of record, "
      "scored again. Percentages are cut to one decimal, not rounded.",
      "The scoring law of this program", "one session",
      "None: points are counted. How sure a total is: see the standard error of measurement."}},
    {{"Need", "Overview",
      "Order: exercises whose latest session is not yet for a critical failure or a floor; "
      "exercises not yet; percent below the marks, summed; exercises undecided; the best total, "
      "lowest first; the code.",
      "A rule of this program", "the latest session of each exercise",
      "An order to begin with, no measure."}},
    {{"Days since", "Overview",
      "Dates (UTC) from a trainee's last session to the latest session of all, so that the same "
      "book gives the same workbook on any day.",
      "", "", ""}},
    {{"Trend", "Overview",
      "Percent an attempt: one straight line through all exercises done twice or more, each with a "
      "level of its own. Least squares. Rising or falling: the limits leave out 0.",
      "Draper and Smith 1998, ch. 14", "sessions with a total",
      "Student's t, 95 %. Learning slows down, so a line is a rough figure over many attempts."}},
    {{"Competency", "Heat",
      "Points given of points possible over the checkpoints (those of its phases too), rules, "
      "measures and ratings that it names and that counted, less what its errors cost, not below "
      "0; "
      "the latest session of each exercise, summed.",
      "A rule of this program", "one trainee's latest sessions",
      "None. A competency of few points moves by much."}},
    {{"Median, middle half", "Heat, Curves", "Quartiles, linear between the values.",
      "Hyndman and Fan 1996, definition 7", "trainees", "Few trainees: near their own values."}},
    {{"Done, %", "Checkpoints",
      "Sessions in which it was done as often and as right as the rubric asks, of those where it "
      "was "
      "seen and counted.",
      "Wilson 1927", "sessions seen and counted",
      "Wilson's limits, 95 %; sessions of one trainee are taken as independent."}},
    {{"Difficulty", "Checkpoints", "Mean share done; 1 is the easiest.", "Common practice",
      "trainees, latest session of each", "Of these trainees; another group may find it easier."}},
    {{"Discrimination", "Checkpoints",
      "Corrected item-total correlation: with the trainee's mean over the other checkpoints, each "
      "taken from its own mean over the trainees.",
      "Henrysson 1963", "trainees, latest session of each",
      "Fisher's z, 95 %. Needs some who do it and some who do not."}},
    {{"Found a session", "Errors",
      "Errors found over the sessions in which technique was assessed.", "Garwood 1936",
      "sessions assessed",
      "Exact Poisson limits, 95 %; too narrow where a few "
      "trainees make most of them."}},
    {{"With it, %", "Errors", "Sessions with at least one, of those assessed.", "Wilson 1927",
      "sessions assessed", "Wilson's limits, 95 %."}},
    {{"Severity", "Assessors",
      "How far below the mean assessor, from the very same performances, by a mixed model; fewer "
      "than five assessors each by what they alone show.",
      "Searle, Casella and McCulloch 1992; Gelman and Hill 2007, ch. 12", "totals given",
      "Student's t, 95 %. Within the largest group linked by shared sessions; others are left "
      "out."}},
    {{"Agreed, kappa, AC1", "Assessors",
      "Share of pairs of assessors that say the same; the same with chance taken out in two ways. "
      "Kappa is low where nearly all say the same, AC1 is not.",
      "Cohen 1960; Fleiss 1971; Gwet 2008", "pairs of one thing in one session",
      "Large sample, 95 %; entries of one session are taken as a cluster."}},
    {{"ICC", "Assessors", "Share of the variance of totals that is not the assessor or chance.",
      "Shrout and Fleiss 1979; McGraw and Wong 1996", "sessions seen by two or more",
      "F, 95 %. Low where all sessions are alike."}},
    {{"What a mark would do", "Standards",
      "Decisions of the year to the latest session, decided again by the mark alone; critical "
      "failures and floors stay.",
      "Counting", "decided sessions of record", "Wilson's limits for the share at or above."}},
    {{"Standard error of measurement", "Standards",
      "Absolute error of one session seen by one assessor by a generalizability study; where the "
      "design allows none, from alpha over the checkpoints.",
      "Brennan 2001; Cronbach 1951", "observations", "One error either side holds two of three."}},
    {{"Curve; start and gain", "Curves",
      "Total = start + gain x log2(attempt) + error; start and gain of each trainee vary around "
      "the "
      "cohort's (restricted likelihood), so few attempts borrow strength.",
      "Laird and Ware 1982; Bates and others 2015", "attempts with a total",
      "95 %, of the prediction. A trainee with few attempts is drawn to the cohort."}},
    {{"At mark by attempt", "Curves",
      "The first attempt at which the curve is at the mark, up to 30; empty: not within 30.",
      "A rule of this program", "attempts with a total", "Every attempt at which it may be so."}},
};

// A figure that could not be estimated ----------------------------------------

enum { W_WHAT, W_SHEET, W_WHY, W_COLUMNS };

static const BtXlsxColumn missing_columns[W_COLUMNS] = {{"Not estimated", BT_STYLE_CELL_STRONG, 0},
                                                        {"Sheet", BT_STYLE_CELL, 0},
                                                        {"Of what, and why", BT_STYLE_CELL, 0}};

typedef struct {
  const char *what, *sheet;
  char *why; // owned
} Missing;

static void clear_missing(gpointer data) {
  g_free(((Missing *)data)->why);
}

static void add(GArray *list, const char *what, const char *sheet, const char *of,
                const char *why) {
  const Missing missing = {what, sheet, g_strdup_printf("%s: %s", of, why)};
  g_array_append_val(list, missing);
}

static void add_of_edition(GArray *list, const BtCohortExercise *exercise,
                           const BtCohortEdition *edition) {
  g_autofree char *title = bt__edition_title(exercise, edition->study->rubric);
  const BtStudyReliability *reliability = edition->reliability;
  const BtEstimate *icc =
      &edition->total.icc.form[edition->total.same_raters ? BT_ICC_2 : BT_ICC_1];
  int bare = 0;
  for (int i = 0; i < edition->study->rubric->n_checkpoints; i++)
    bare += reliability->items->item[i].discrimination.why_not != NULL;
  if (bare > 0) {
    g_autofree char *why = g_strdup_printf(
        "%d of its checkpoints: all trainees alike in the latest session, or fewer than three",
        bare);
    add(list, "Discrimination", "Checkpoints", title, why);
  }
  if (reliability->severity->why_not)
    add(list, "Severity", "Assessors", title, reliability->severity->why_not);
  if (edition->steps.agreed.why_not)
    add(list, "Agreed", "Assessors", title, edition->steps.agreed.why_not);
  if (edition->steps.kappa.why_not)
    add(list, "Kappa", "Assessors", title, edition->steps.kappa.why_not);
  if (icc->why_not)
    add(list, "ICC", "Assessors", title, icc->why_not);
  if (edition->practices->cohort->why_not)
    add(list, "Curve of the cohort", "Curves", title, edition->practices->cohort->why_not);
  if (reliability->sem_percent.why_not)
    add(list, "Standard error of measurement", "Standards", title,
        reliability->sem_percent.why_not);
}

// How many trainees have no trend, by reason.
static void add_trends(GArray *list, const BtCohortRecord *record) {
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < record->trainees->len; i++) {
    const char *why = bt__cohort_trainee(record, i)->trend.why_not;
    if (why)
      g_hash_table_insert(seen, (gpointer)why,
                          GINT_TO_POINTER(GPOINTER_TO_INT(g_hash_table_lookup(seen, why)) + 1));
  }
  g_autoptr(GList) reasons = g_list_sort(g_hash_table_get_keys(seen), (GCompareFunc)g_strcmp0);
  for (GList *reason = reasons; reason; reason = reason->next) {
    int n = GPOINTER_TO_INT(g_hash_table_lookup(seen, reason->data));
    int least = record->scope->suppress_below;
    g_autofree char *count =
        bt__is_small(n, least) ? bt__fewer_than(least) : g_strdup_printf("%d", n);
    g_autofree char *of = g_strdup_printf("%s of the trainees", count);
    add(list, "Trend", "Overview", of, reason->data);
  }
}

static GArray *missing_of(const BtCohortRecord *record) {
  GArray *list = g_array_new(FALSE, FALSE, sizeof(Missing));
  g_array_set_clear_func(list, clear_missing);
  if (record->scope->suppress_below == 0)
    add_trends(list, record);
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtCohortExercise *exercise = bt__cohort_exercise(record, i);
    for (guint j = 0; j < exercise->editions->len; j++)
      add_of_edition(list, exercise, bt__cohort_edition(exercise, j));
  }
  return list;
}

// The sheet -------------------------------------------------------------------

static int put_methods(BtXlsxSheet *sheet) {
  int n = (int)G_N_ELEMENTS(methods), row = BT_C_TABLE + 1;
  bt__xlsx_table(sheet, "Methods", BT_C_TABLE, 0, method_columns, H_COLUMNS, n + 1, true);
  for (int i = 0; i < n; i++, row++) {
    for (int j = 0; j < H_COLUMNS; j++)
      bt__put_text(sheet, row, j, method_columns[j].style, methods[i].cell[j]);
  }
  const BtCurveTerms terms = BT_CURVE_TERMS;
  g_autofree char *how = g_strdup_printf(
      "Cumulative sum over pass and not yet, undecided left out (LC-CUSUM, then CUSUM). At "
      "standard: "
      "%.0f %% not yet; not at standard: %.0f %%. Limits so that a false signal within "
      "%" G_GSIZE_FORMAT " attempts has a chance of %.0f %% at most.",
      terms.adequate * 100, terms.inadequate * 100, terms.within, terms.error * 100);
  const char *const cells[H_COLUMNS] = {"Standard, from pass and not yet",
                                        "Curves",
                                        how,
                                        "Biau and Porcher 2010; Page 1954",
                                        "decided attempts in order",
                                        "A signal to look, no decision; it cannot be shown in very "
                                        "few attempts."};
  for (int j = 0; j < H_COLUMNS; j++)
    bt__put_text(sheet, row, j, method_columns[j].style, cells[j]);
  return row + 1;
}

static int put_missing(BtXlsxSheet *sheet, int row, const BtCohortRecord *record) {
  g_autoptr(GArray) list = missing_of(record);
  bt__put_text(sheet, row++, 0, BT_STYLE_HEADING, "What could not be estimated, and why");
  if (list->len == 0) {
    bt__put_text(sheet, row++, 0, BT_STYLE_SUBTITLE, "Nothing: all of the above was estimated.");
    return row;
  }
  bt__xlsx_table(sheet, "Not_estimated", row, 0, missing_columns, W_COLUMNS, (int)list->len, false);
  for (guint i = 0; i < list->len; i++) {
    const Missing *missing = &g_array_index(list, Missing, i);
    bt__put_text(sheet, ++row, W_WHAT, BT_STYLE_CELL_STRONG, missing->what);
    bt__put_text(sheet, row, W_SHEET, BT_STYLE_CELL, missing->sheet);
    bt__put_text(sheet, row, W_WHY, BT_STYLE_CELL, missing->why);
  }
  return row + 1;
}

static void put_line(BtXlsxSheet *sheet, int *row, const char *label, const char *words) {
  bt__put_text(sheet, *row, 0, BT_STYLE_LABEL, label);
  bt__put_text(sheet, (*row)++, 2, BT_STYLE_TEXT, words);
}

static void put_scope(BtXlsxSheet *sheet, int row, const BtCohortRecord *record) {
  const BtCohortScope *scope = record->scope;
  g_autofree char *rubrics =
      scope->rubrics ? g_strjoinv(", ", (char **)scope->rubrics) : g_strdup("all");
  g_autofree char *from = scope->from_ms ? bt_date_format(scope->from_ms) : g_strdup("the first");
  g_autofree char *before =
      scope->before_ms ? bt_date_format(scope->before_ms) : g_strdup("the end");
  g_autofree char *asked =
      g_strdup_printf("Exercises: %s. Cohort: %s. Sessions from %s to before %s.", rubrics,
                      scope->cohort ? scope->cohort : "all", from, before);
  g_autofree char *head =
      g_strdup_printf("%s (record %" G_GINT64_FORMAT ")", record->head, record->head_records);
  bt__put_text(sheet, row++, 0, BT_STYLE_HEADING, "What this record is");
  put_line(sheet, &row, "What was asked for", asked);
  if (scope->suppress_below > 0) {
    g_autofree char *rule = g_strdup_printf(
        "For sharing. No row of a single person. Counts from 1 to %d read \"fewer than %d\". Where "
        "one "
        "of them could be worked out from a total and what stands beside it, or the hidden ones "
        "together are fewer than %d, the next smallest read \"not shown\" until it cannot. What is "
        "made from a hidden count is hidden too.",
        scope->suppress_below - 1, scope->suppress_below, scope->suppress_below);
    put_line(sheet, &row, "Small counts", rule);
  }
  put_line(sheet, &row, "Head of the book", head);
  put_line(sheet, &row, "How to check it",
           "`benchtally verify` follows every chain of the book. `benchtally score --json` gives "
           "the ledgers that all figures start from, `agreement`, `reliability`, `standard` and "
           "`curve` the statistics with every digit.");
  put_line(sheet, &row, "Made by",
           "Benchtally " BENCHTALLY_VERSION ", free software under the GPL, version 3 or later.");
  put_line(
      sheet, &row, "Cautions",
      "A training record of work on plastic models, no certificate of clinical competence. The "
      "lab's own rules on eye protection, gloves, suction and supervision hold. On a patient "
      "the supervising surgeon, the manufacturer's instructions and local protocol decide.");
}

void bt__cohort_methods(BtXlsx *xlsx, const BtCohortRecord *record) {
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Methods",
      "Every figure's name, how it is made, who first described it, what it rests on, its limits.",
      "Limits hold the true value 95 times of 100 where what is said here holds.", true, true);
  int row = put_methods(sheet) + 1;
  if (record->sessions > 0)
    row = put_missing(sheet, row, record) + 1;
  put_scope(sheet, row, record);
}
