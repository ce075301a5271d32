// SPDX-License-Identifier: GPL-3.0-or-later
//
// Checkpoints: what fails everyone, and what tells trainees apart.
#include "report/cohort_sheets.h"
#include "report/sheets.h"

#include <benchtally/proportion.h>

// Discrimination from which a checkpoint is said to tell trainees apart (common practice).
#define TELLS_APART 0.2

enum {
  K_EXERCISE,
  K_CHECKPOINT,
  K_READ,
  K_CRITICAL,
  K_DONE,
  K_NOT_DONE,
  K_NOT_SEEN,
  K_OUT,
  K_SESSIONS,
  K_SHARE, // and its limits
  K_DIFFICULTY = K_SHARE + 3,
  K_DISCRIMINATION, // and its limits
  K_TRAINEES = K_DISCRIMINATION + 3,
  K_COLUMNS
};

static const BtXlsxColumn columns[K_COLUMNS] = {
    {"Exercise", BT_STYLE_CELL, 28},     {"Checkpoint", BT_STYLE_CELL, 46},
    {"Reads as", BT_STYLE_CELL, 30},     {"Critical", BT_STYLE_CELL, 9},
    {"Done", BT_STYLE_COUNT, 8},         {"Not done", BT_STYLE_COUNT, 8},
    {"Not seen", BT_STYLE_COUNT, 8},     {"Did not count", BT_STYLE_COUNT, 9},
    {"Sessions", BT_STYLE_COUNT, 10},    {"Done, %", BT_STYLE_PERCENT, 8},
    {"Done from", BT_STYLE_PERCENT, 8},  {"Done to", BT_STYLE_PERCENT, 8},
    {"Difficulty", BT_STYLE_FIGURE, 11}, {"Discrimi\u00adnation", BT_STYLE_FIGURE, 10},
    {"Discr. from", BT_STYLE_FIGURE, 8}, {"Discr. to", BT_STYLE_FIGURE, 8},
    {"Trainees", BT_STYLE_COUNT, 10}};

// A checkpoint over the sessions of record of an edition.
typedef struct {
  const BtCohortExercise *exercise;
  const BtRubric *rubric;
  int index;
  gint64 count[4]; // by BtStepState
  BtEstimate share;
  const BtItem *item; // of the latest session of each trainee
} Checkpoint;

// Counting --------------------------------------------------------------------

static void count_steps(const BtStudy *study, Checkpoint *checkpoints) {
  for (guint i = 0; i < study->rows->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(study->rows, i);
    for (int j = 0; j < study->rubric->n_checkpoints && row->row->of_record; j++)
      checkpoints[j].count[row->step[j]]++;
  }
}

static int by_share(gconstpointer a, gconstpointer b) {
  const Checkpoint *x = a, *y = b;
  if ((x->share.why_not == NULL) != (y->share.why_not == NULL))
    return x->share.why_not ? 1 : -1; // what nobody saw comes last
  if (x->share.value < y->share.value || x->share.value > y->share.value)
    return x->share.value < y->share.value ? -1 : 1;
  return x->index - y->index;
}

// The checkpoints of an edition, the least done first. Caller frees.
static GArray *checkpoints_of(const BtCohortExercise *exercise, guint index) {
  const BtStudy *study = bt__cohort_edition(exercise, index)->study;
  const BtStudyReliability *reliability = bt__cohort_edition(exercise, index)->reliability;
  GArray *list = g_array_new(FALSE, TRUE, sizeof(Checkpoint));
  g_array_set_size(list, (guint)study->rubric->n_checkpoints);
  count_steps(study, (Checkpoint *)(void *)list->data);
  for (guint i = 0; i < list->len; i++) {
    Checkpoint *one = &g_array_index(list, Checkpoint, i);
    gsize done = (gsize)one->count[BT_STEP_DONE];
    one->exercise = exercise;
    one->rubric = study->rubric;
    one->index = (int)i;
    one->share = bt_proportion_wilson(done, done + (gsize)one->count[BT_STEP_NOT_DONE]);
    one->item = &reliability->items->item[i];
  }
  g_array_sort(list, by_share);
  return list;
}

// Words -----------------------------------------------------------------------

static const char *share_words(const BtEstimate *share) {
  if (share->why_not)
    return "never seen where it counted";
  if (share->value <= 0)
    return "nobody does it";
  if (share->high < 0.5)
    return "most do not do it";
  return share->low > 0.9 ? "nearly all do it" : "";
}

static const char *discrimination_words(const BtEstimate *discrimination) {
  if (discrimination->why_not || !discrimination->has_limits)
    return "";
  if (discrimination->high < 0)
    return "better trainees do it less: look at how it is worded";
  return discrimination->low > TELLS_APART ? "tells trainees apart" : "";
}

static char *read_as(const Checkpoint *checkpoint) {
  const char *share = share_words(&checkpoint->share);
  const char *discrimination = discrimination_words(&checkpoint->item->discrimination);
  return g_strconcat(share, *share && *discrimination ? "; " : "", discrimination, NULL);
}

// Rows ------------------------------------------------------------------------

// Whether a share of trainees may stand there: it and its number would give counts.
static bool difficulty_may_show(const BtEstimate *difficulty, gint64 least) {
  double done = difficulty->value * (double)difficulty->n;
  return least == 0 || bt__part_may_show((gint64)(done + 0.5), (gint64)difficulty->n, least);
}

static void put_item(BtXlsxSheet *sheet, int row, const BtItem *item, bool shown, int least) {
  if (shown && difficulty_may_show(&item->difficulty, least))
    bt__put_value(sheet, row, K_DIFFICULTY, BT_STYLE_FIGURE, &item->difficulty, 1);
  else
    bt__put_not_shown(sheet, row, K_DIFFICULTY);
  if (!bt__is_small((gint64)item->discrimination.n, least))
    bt__put_estimate(sheet, row, K_DISCRIMINATION, BT_STYLE_FIGURE, &item->discrimination, 1);
  else
    bt__put_not_shown(sheet, row, K_DISCRIMINATION);
  if (least == 0)
    bt__xlsx_count(sheet, row, K_TRAINEES, (gint64)item->difficulty.n);
  else
    bt__put_not_shown(sheet, row, K_TRAINEES); // beside other totals it would tell who lacks it
}

static void put_checkpoint(BtXlsxSheet *sheet, int row, const Checkpoint *one, int least) {
  static const BtStepState order[4] = {BT_STEP_DONE, BT_STEP_NOT_DONE, BT_STEP_NOT_SEEN,
                                       BT_STEP_OUT};
  const BtCheckpoint *checkpoint = &one->rubric->checkpoints[one->index];
  gint64 count[4], sum = 0;
  BtHiding hiding[4];
  bool shown = true;
  for (int i = 0; i < 4; i++)
    sum += count[i] = one->count[order[i]];
  BtHiding all = bt__suppress_line(count, 4, least, hiding);
  g_autofree char *exercise = bt__edition_title(one->exercise, one->rubric);
  bt__put_text(sheet, row, K_EXERCISE, BT_STYLE_CELL, exercise);
  bt__put_text(sheet, row, K_CHECKPOINT, BT_STYLE_CELL, checkpoint->title);
  bt__put_text(sheet, row, K_CRITICAL, BT_STYLE_CELL,
               checkpoint->critical == BT_CRITICAL_NO ? "" : "critical");
  for (int i = 0; i < 4; i++) {
    bt__put_count(sheet, row, K_DONE + i, count[i], hiding[i], least);
    shown &= hiding[i] == BT_SHOWN || i >= 2;
  }
  bt__put_count(sheet, row, K_SESSIONS, sum, all, least);
  shown &= all == BT_SHOWN;
  g_autofree char *words = shown ? read_as(one) : NULL;
  bt__put_text(sheet, row, K_READ, BT_STYLE_CELL, words);
  if (shown)
    bt__put_estimate(sheet, row, K_SHARE, BT_STYLE_PERCENT, &one->share, 100);
  else
    bt__put_not_shown(sheet, row, K_SHARE);
  put_item(sheet, row, one->item, shown, least);
}

// The chart -------------------------------------------------------------------

// Those that somebody saw, the least done first; critical ones say so. `names` gets what they are
// called. Caller frees.
static GArray *bars_of(const GArray *checkpoints, GPtrArray *names) {
  GArray *bars = g_array_new(FALSE, FALSE, sizeof(BtBar));
  for (guint i = 0; i < checkpoints->len; i++) {
    const Checkpoint *one = &g_array_index(checkpoints, Checkpoint, i);
    const BtCheckpoint *checkpoint = &one->rubric->checkpoints[one->index];
    if (one->share.why_not)
      continue;
    char *name = g_strdup_printf(
        "%s%s", checkpoint->critical == BT_CRITICAL_NO ? "" : "Critical: ", checkpoint->title);
    const BtBar bar = {name, one->share.value * 100, one->share.low * 100, one->share.high * 100,
                       one->share.has_limits};
    g_ptr_array_add(names, name);
    g_array_append_val(bars, bar);
  }
  return bars;
}

// The least done on top. Returns the rows it covers.
static int draw(BtXlsxSheet *sheet, int row, const GArray *checkpoints) {
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GArray) bars = bars_of(checkpoints, names);
  if (bars->len == 0)
    return 0;
  const Checkpoint *first = &g_array_index(checkpoints, Checkpoint, 0);
  g_autofree char *exercise = bt__edition_title(first->exercise, first->rubric);
  g_autofree char *title = g_strdup_printf("%s: what is done least is done in %.0f %%", exercise,
                                           first->share.value * 100);
  const BtBarChart chart = {.title = title,
                            .x_title =
                                "Done, percent of the sessions where it was seen and counted",
                            .limits = BT_LIMITS_95,
                            .x_max = 100,
                            .x_unit = 20,
                            .bars = (const BtBar *)(const void *)bars->data,
                            .n = (int)bars->len};
  return bt__bar_chart(sheet, row, K_COLUMNS + 1, K_COLUMNS + 1 + BT_C_CHART_COLUMNS, &chart);
}

// The sheet -------------------------------------------------------------------

// The checkpoints of all editions (GArray of Checkpoint). Caller frees.
static GPtrArray *all_checkpoints(const BtCohortRecord *record, int *n) {
  GPtrArray *lists = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  *n = 0;
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtCohortExercise *exercise = bt__cohort_exercise(record, i);
    for (guint j = 0; j < exercise->editions->len; j++) {
      GArray *list = checkpoints_of(exercise, j);
      g_ptr_array_add(lists, list);
      *n += (int)list->len;
    }
  }
  return lists;
}

static void put_all(BtXlsxSheet *sheet, const BtCohortRecord *record) {
  int n = 0, row = BT_C_TABLE + 1, chart_row = BT_C_TABLE, least = record->scope->suppress_below;
  g_autoptr(GPtrArray) lists = all_checkpoints(record, &n);
  bt__xlsx_table(sheet, "Checkpoints", BT_C_TABLE, 0, columns, K_COLUMNS, n, true);
  for (guint i = 0; i < lists->len; i++) {
    const GArray *list = g_ptr_array_index(lists, i);
    for (guint j = 0; j < list->len; j++)
      put_checkpoint(sheet, row++, &g_array_index(list, Checkpoint, j), least);
    if (least == 0)
      chart_row += draw(sheet, chart_row, list) + 1;
  }
  bt__cohort_print(sheet, MAX(row, chart_row) - 1, K_COLUMNS, chart_row > BT_C_TABLE);
}

void bt__cohort_checkpoints(BtXlsx *xlsx, const BtCohortRecord *record) {
  BtXlsxSheet *sheet = bt__cohort_sheet(
      xlsx, record, "Checkpoints",
      "What fails everyone: the least done first. Done: as often and as right as the rubric asks. "
      "Percent of sessions where it was seen and counted; what was not seen stands apart.",
      "Difficulty: mean share done in each trainee's latest session, 1 the easiest. "
      "Discrimination: "
      "how it goes with the rest of that session, -1 to 1; from 0.2 it tells trainees apart.",
      false, true);
  if (!bt__cohort_is_empty(sheet, record))
    put_all(sheet, record);
}
