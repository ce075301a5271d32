// SPDX-License-Identifier: GPL-3.0-or-later
//
// Progress: a block for each exercise, its charts beside each other and their figures below.
#include "report/advice.h"
#include "report/progress.h"
#include "report/sheets.h"
#include "words/words.h"

// Kinds of errors -------------------------------------------------------------

static int count_of(const BtAttempt *attempt, const char *id) {
  int kind = bt_rubric_find_error(attempt->rubric, id);
  for (guint i = 0; kind >= 0 && i < attempt->ledger->technique->len; i++) {
    const BtTechniqueRow *row = &g_array_index(attempt->ledger->technique, BtTechniqueRow, i);
    if (row->error == kind)
      return row->count;
  }
  return 0;
}

static int count_all(const BtAttempt *attempt) {
  int sum = 0;
  for (guint i = 0; i < attempt->ledger->technique->len; i++)
    sum += g_array_index(attempt->ledger->technique, BtTechniqueRow, i).count;
  return sum;
}

int bt__found_in(const BtProgressBlock *block, const BtAttempt *attempt, const BtFoundKind *kind) {
  if (kind->kind >= 0)
    return count_of(attempt, block->exercise->rubric->errors[kind->kind].id);
  int rest = count_all(attempt);
  for (guint i = 0; i < block->kinds->len; i++) {
    const BtFoundKind *own = &g_array_index(block->kinds, BtFoundKind, i);
    if (own->kind >= 0)
      rest -= bt__found_in(block, attempt, own);
  }
  return rest;
}

const char *bt__kind_title(const BtProgressBlock *block, const BtFoundKind *kind) {
  return kind->kind < 0 ? "Other kinds" : block->exercise->rubric->errors[kind->kind].title;
}

static int by_frequency(gconstpointer a, gconstpointer b) {
  const BtFoundKind *x = a, *y = b;
  return x->found != y->found ? y->found - x->found : x->kind - y->kind;
}

// The kinds found at least once, the most frequent first; the last of too many stands for the rest.
static GArray *found_kinds(const BtExercise *exercise) {
  GArray *kinds = g_array_new(FALSE, FALSE, sizeof(BtFoundKind));
  int all = 0, named = 0;
  for (int i = 0; i < exercise->rubric->n_errors; i++) {
    BtFoundKind kind = {i, 0};
    for (guint j = 0; j < exercise->attempts->len; j++)
      kind.found += count_of(bt__attempt(exercise, j), exercise->rubric->errors[i].id);
    if (kind.found > 0)
      g_array_append_val(kinds, kind);
  }
  for (guint j = 0; j < exercise->attempts->len; j++)
    all += count_all(bt__attempt(exercise, j));
  g_array_sort(kinds, by_frequency);
  if (kinds->len > BT_P_KINDS_MOST)
    g_array_set_size(kinds, BT_P_KINDS_MOST - 1);
  for (guint i = 0; i < kinds->len; i++)
    named += g_array_index(kinds, BtFoundKind, i).found;
  const BtFoundKind rest = {-1, all - named};
  if (rest.found > 0)
    g_array_append_val(kinds, rest);
  return kinds;
}

// Phases ----------------------------------------------------------------------

gint64 bt__phase_ms(const BtProgressBlock *block, const BtAttempt *attempt, int phase) {
  int own = bt_rubric_find_phase(attempt->rubric, block->exercise->rubric->phases[phase].id);
  return own < 0 ? -1 : attempt->ledger->charged_ms[own];
}

// Tables ----------------------------------------------------------------------

static void put_header(BtXlsxSheet *sheet, int row, int column, BtStyle style, const char *text) {
  bt__put_text(sheet, row, column, style, text);
}

static void put_figures_header(const BtProgressBlock *block) {
  static const char *const headers[BT_P_COLUMNS] = {
      "Attempt", "Date",        "Outcome",   "Total %",  "Needed %",    "Steps %",   "Order %",
      "Time %",  "Technique %", "Product %", "Rating %", "Others from", "Others to", "Others (n)"};
  for (int i = 0; i < BT_P_COLUMNS; i++)
    put_header(block->sheet, block->figures, i,
               i == BT_P_OUTCOME ? BT_STYLE_HEADER : BT_STYLE_HEADER_RIGHT, headers[i]);
}

static void put_others(BtXlsxSheet *sheet, int row, const BtMiddleHalf *others) {
  bool shown = bt__middle_half_shown(others);
  bt__put_percent(sheet, row, BT_P_LOW, shown ? others->low_milli : -1);
  bt__put_percent(sheet, row, BT_P_HIGH, shown ? others->high_milli : -1);
  if (shown)
    bt__xlsx_count(sheet, row, BT_P_OTHERS, others->n);
  else
    bt__put_text(sheet, row, BT_P_OTHERS, BT_STYLE_COUNT, "too few");
}

static void put_figures(const BtProgressBlock *block, int row, const BtAttempt *attempt) {
  BtXlsxSheet *sheet = block->sheet;
  const BtSessionRow *session = attempt->row;
  g_autofree char *outcome = bt__outcome_text(session->outcome);
  bt__xlsx_count(sheet, row, BT_P_ATTEMPT, session->attempt);
  bt__xlsx_date(sheet, row, BT_P_DATE, session->started_ms);
  bt__put_text(sheet, row, BT_P_OUTCOME, BT_STYLE_CELL, outcome);
  bt__put_percent(sheet, row, BT_P_TOTAL, session->total_percent_milli);
  bt__xlsx_milli(sheet, row, BT_P_NEEDED, BT_STYLE_DECIMAL, attempt->rubric->score.pass_milli);
  for (int i = 0; i < BT_COMPONENTS; i++) {
    gint64 percent_milli = bt__percent_milli_cut(session->given_mp[i], session->possible_mp[i]);
    bt__put_percent(sheet, row, BT_P_STEPS + i, session->assessed[i] ? percent_milli : -1);
  }
  put_others(sheet, row, &attempt->others);
}

#define MINUTE_MS 60000.0

static void put_phases(const BtProgressBlock *block) {
  BtXlsxSheet *sheet = block->sheet;
  put_header(sheet, block->phases, 0, BT_STYLE_HEADER_RIGHT, "Attempt");
  put_header(sheet, block->phases, 1, BT_STYLE_HEADER_RIGHT, "Clock, min");
  for (int i = 0; i < block->n_phases; i++) {
    g_autofree char *header = g_strdup_printf("%s, min", block->exercise->rubric->phases[i].title);
    put_header(sheet, block->phases, 2 + i, BT_STYLE_HEADER_RIGHT, header);
  }
  for (int i = 0; i < block->n; i++) {
    const BtAttempt *attempt = bt__attempt(block->exercise, (guint)i);
    int row = block->phases + 1 + i;
    bt__xlsx_count(sheet, row, 0, attempt->row->attempt);
    bt__xlsx_real(sheet, row, 1, BT_STYLE_PERCENT, (double)attempt->ledger->total_ms / MINUTE_MS);
    for (int j = 0; j < block->n_phases; j++) {
      gint64 ms = bt__phase_ms(block, attempt, j);
      if (ms < 0)
        bt__xlsx_blank(sheet, row, 2 + j, BT_STYLE_PERCENT);
      else
        bt__xlsx_real(sheet, row, 2 + j, BT_STYLE_PERCENT, (double)ms / MINUTE_MS);
    }
  }
}

static void put_errors(const BtProgressBlock *block) {
  BtXlsxSheet *sheet = block->sheet;
  if (block->kinds->len == 0)
    return;
  put_header(sheet, block->errors, 0, BT_STYLE_HEADER_RIGHT, "Attempt");
  for (guint j = 0; j < block->kinds->len; j++)
    put_header(sheet, block->errors, 1 + (int)j, BT_STYLE_HEADER_RIGHT,
               bt__kind_title(block, &g_array_index(block->kinds, BtFoundKind, j)));
  for (int i = 0; i < block->n; i++) {
    const BtAttempt *attempt = bt__attempt(block->exercise, (guint)i);
    int row = block->errors + 1 + i;
    bt__xlsx_count(sheet, row, 0, attempt->row->attempt);
    for (guint j = 0; j < block->kinds->len; j++)
      bt__xlsx_count(sheet, row, 1 + (int)j,
                     bt__found_in(block, attempt, &g_array_index(block->kinds, BtFoundKind, j)));
  }
}

// Blocks ----------------------------------------------------------------------

static void put_words(const BtProgressBlock *block) {
  g_autofree char *trend = bt__trend_sentence(block->exercise);
  g_autofree char *others = bt__others_sentence(bt__latest_attempt(block->exercise));
  bt__put_text(block->sheet, block->top, 0, BT_STYLE_HEADING, block->exercise->rubric->title);
  bt__put_text(block->sheet, block->top + 1, 0, BT_STYLE_SUBTITLE, trend);
  bt__put_text(block->sheet, block->top + 2, 0, BT_STYLE_SUBTITLE,
               *others ? others : "Fewer than 4 others are at this attempt, so none are shown.");
}

static BtProgressBlock lay_out(BtXlsxSheet *sheet, const BtExercise *exercise, int top) {
  BtProgressBlock block = {.sheet = sheet,
                           .exercise = exercise,
                           .n = (int)exercise->attempts->len,
                           .top = top,
                           .n_phases = MIN(exercise->rubric->n_phases, BT_P_PHASES_MOST),
                           .kinds = found_kinds(exercise)};
  block.figures = top + 4 + 2 * BT_P_CHART_ROWS + 1;
  block.phases = block.figures + block.n + 2;
  block.errors = block.phases + block.n + 2;
  block.end = block.errors + (block.kinds->len > 0 ? block.n + 1 : 0) + 1;
  return block;
}

static int put_block(BtXlsxSheet *sheet, const BtExercise *exercise, int top) {
  BtProgressBlock block = lay_out(sheet, exercise, top);
  put_words(&block);
  put_figures_header(&block);
  for (int i = 0; i < block.n; i++)
    put_figures(&block, block.figures + 1 + i, bt__attempt(exercise, (guint)i));
  put_phases(&block);
  put_errors(&block);
  bt__progress_charts(&block);
  g_array_unref(block.kinds);
  return block.end;
}

void bt__sheet_progress(BtXlsx *xlsx, const BtTraineeRecord *record) {
  BtXlsxSheet *sheet = bt__begin_sheet(
      xlsx, record, "Progress",
      "A block for each exercise. The pale bars are the middle half of the other trainees at the "
      "same attempt.",
      true, false);
  for (int i = 0; i < BT_P_COLUMNS; i++)
    bt__xlsx_width(sheet, i, (BT_P_PIXELS - 5) / 7.0); // 7 pixels a character, and a margin
  int row = 3;
  for (guint i = 0; i < record->exercises->len; i++) {
    if (i > 0)
      bt__xlsx_page_break(sheet, row);
    row = put_block(sheet, g_ptr_array_index(record->exercises, i), row);
  }
  bt__xlsx_print_area(sheet, row - 1, BT_P_COLUMNS - 1);
}
