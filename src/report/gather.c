// SPDX-License-Identifier: GPL-3.0-or-later
//
// From the book to the plain record of one trainee. What all trainees share is read once, into the
// context; of one trainee each kind of thing is read in one pass.
#include "report/record.h"

#include "words/words.h"

struct BtWorkbookContext {
  BtBook *book;          // borrowed
  GPtrArray *people;     // of BtPerson
  GHashTable *names;     // code -> name, borrowed from people
  GPtrArray *rows;       // of BtSessionRow, all
  GHashTable *by_person; // trainee -> GPtrArray of BtSessionRow, borrowed from rows
  GPtrArray *editions;   // of BtEdition
  BtCohort *cohort;
  char head[BT_SHA256_HEX + 1];
  gint64 head_records;
};

// Context ---------------------------------------------------------------------

static void unref_list(gpointer list) {
  g_ptr_array_unref(list);
}

static void sort_out_people(BtWorkbookContext *context) {
  context->names = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < context->people->len; i++) {
    BtPerson *person = g_ptr_array_index(context->people, i);
    if (person->name && *person->name)
      g_hash_table_insert(context->names, person->code, person->name);
  }
}

static void sort_out_rows(BtWorkbookContext *context) {
  context->by_person = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, unref_list);
  for (guint i = 0; i < context->rows->len; i++) {
    BtSessionRow *row = g_ptr_array_index(context->rows, i);
    GPtrArray *list = g_hash_table_lookup(context->by_person, row->trainee);
    if (!list) {
      list = g_ptr_array_new();
      g_hash_table_insert(context->by_person, row->trainee, list);
    }
    g_ptr_array_add(list, row);
  }
}

BtWorkbookContext *bt_workbook_context_new(BtBook *book, GError **error) {
  g_autoptr(BtWorkbookContext) context = g_new0(BtWorkbookContext, 1);
  context->book = book;
  if (!(context->people = bt_book_people(book, -1, error)) ||
      !(context->rows = bt_book_sessions(book, NULL, error)) ||
      !(context->editions = bt_book_editions(book, error)) ||
      !bt_book_head(book, context->head, &context->head_records, error))
    return NULL;
  sort_out_people(context);
  sort_out_rows(context);
  context->cohort = bt__cohort_new(context->rows);
  return g_steal_pointer(&context);
}

void bt_workbook_context_free(BtWorkbookContext *context) {
  if (!context)
    return;
  g_clear_pointer(&context->names, g_hash_table_unref);
  g_clear_pointer(&context->by_person, g_hash_table_unref);
  g_clear_pointer(&context->people, g_ptr_array_unref);
  g_clear_pointer(&context->rows, g_ptr_array_unref);
  g_clear_pointer(&context->editions, g_ptr_array_unref);
  bt__cohort_free(context->cohort);
  g_free(context);
}

// Attempts --------------------------------------------------------------------

static void free_attempt(gpointer data) {
  BtAttempt *attempt = data;
  bt_observation_free(attempt->observation);
  bt_ledger_free(attempt->ledger);
  g_free(attempt);
}

static void free_exercise(gpointer data) {
  BtExercise *exercise = data;
  g_ptr_array_unref(exercise->attempts);
  g_clear_pointer(&exercise->lines, g_ptr_array_unref);
  g_free(exercise);
}

static BtAttempt *load_attempt(const BtWorkbookContext *context, const BtSessionRow *row,
                               GError **error) {
  const BtRubric *rubric = NULL;
  BtObservation *observation = bt_book_load(context->book, row->id, &rubric, error);
  if (!observation)
    return NULL;
  BtAttempt *attempt = g_new(BtAttempt, 1);
  *attempt = (BtAttempt){.row = row,
                         .rubric = rubric,
                         .observation = observation,
                         .ledger = bt_score(rubric, observation),
                         .others = bt__cohort_at(context->cohort, row)};
  return attempt;
}

static BtExercise *exercise_of(GPtrArray *exercises, const BtSessionRow *row) {
  for (guint i = 0; i < exercises->len; i++) {
    BtExercise *exercise = g_ptr_array_index(exercises, i);
    if (g_str_equal(exercise->rubric->id, row->rubric))
      return exercise;
  }
  BtExercise *exercise = g_new(BtExercise, 1);
  *exercise = (BtExercise){.attempts = g_ptr_array_new_with_free_func(free_attempt)};
  g_ptr_array_add(exercises, exercise);
  return exercise;
}

static int by_latest_session(gconstpointer a, gconstpointer b) {
  const BtExercise *x = *(BtExercise *const *)a, *y = *(BtExercise *const *)b;
  const BtSessionRow *left = bt__latest_attempt(x)->row, *right = bt__latest_attempt(y)->row;
  if (left->started_ms != right->started_ms)
    return left->started_ms < right->started_ms ? 1 : -1;
  return left->id < right->id ? 1 : -1; // one session each: never equal
}

// Loads and scores the sessions, which come by start, and sorts them by exercise.
static bool load_exercises(const BtWorkbookContext *context, BtTraineeRecord *record,
                           GError **error) {
  for (guint i = 0; i < record->sessions->len; i++) {
    BtAttempt *attempt = load_attempt(context, g_ptr_array_index(record->sessions, i), error);
    if (!attempt)
      return false;
    BtExercise *exercise = exercise_of(record->exercises, attempt->row);
    exercise->rubric = attempt->rubric;
    g_ptr_array_add(exercise->attempts, attempt);
  }
  g_ptr_array_sort(record->exercises, by_latest_session);
  for (guint i = 0; i < record->exercises->len; i++) {
    BtExercise *exercise = g_ptr_array_index(record->exercises, i);
    const BtAttempt *latest = bt__latest_attempt(exercise);
    exercise->lines = bt_ledger_lines(latest->rubric, latest->observation, latest->ledger);
  }
  return true;
}

// Corrections -----------------------------------------------------------------

static void free_correction(gpointer data) {
  BtCorrection *correction = data;
  g_free(correction->by);
  g_free(correction->reason);
  g_free(correction->before);
  g_free(correction->after);
  g_free(correction);
}

// "3:05 screw, radius-shaft, length 16 mm": a record of the log as it was written.
static char *record_text(const BtRecord *record) {
  GString *text = g_string_new(NULL);
  const char *const fields[] = {record->time,  record->action,  record->site, record->item,
                                record->value, record->details, record->note};
  for (gsize i = 0; i < G_N_ELEMENTS(fields); i++) {
    if (fields[i] && *fields[i])
      bt__join(text, i == 1 ? " " : ", ", fields[i]);
  }
  if (record->redo && *record->redo)
    bt__join_printf(text, ", ", "redo %s", record->redo);
  return g_string_free(text, FALSE);
}

// What stood for event `seq` before record `index`.
static const BtRecord *stood_before(const GPtrArray *history, guint index, int seq) {
  for (guint i = index; i > 0; i--) {
    const BtRecord *record = g_ptr_array_index(history, i - 1);
    if (record->seq == seq && (record->kind == BT_RECORD_EVENT || record->kind == BT_RECORD_AMEND))
      return record;
  }
  return NULL;
}

static BtCorrection *correction_of(const BtSessionRow *row, const GPtrArray *history, guint index) {
  const BtRecord *record = g_ptr_array_index(history, index);
  const BtRecord *before = stood_before(history, index, record->seq);
  BtCorrection *correction = g_new(BtCorrection, 1);
  *correction =
      (BtCorrection){.row = row,
                     .amended = record->kind == BT_RECORD_AMEND,
                     .seq = record->seq,
                     .wall_ms = record->wall_ms,
                     .by = g_strdup(record->by),
                     .reason = g_strdup(record->reason),
                     .before = before ? record_text(before) : NULL,
                     .after = record->kind == BT_RECORD_AMEND ? record_text(record) : NULL};
  return correction;
}

static bool add_corrections(const BtWorkbookContext *context, const BtSessionRow *row,
                            BtTraineeRecord *record, GError **error) {
  g_autoptr(GPtrArray) history = bt_book_history(context->book, row->id, error);
  if (!history)
    return false;
  for (guint i = 0; i < history->len; i++) {
    const BtRecord *entry = g_ptr_array_index(history, i);
    if (entry->kind == BT_RECORD_STRIKE || entry->kind == BT_RECORD_AMEND)
      g_ptr_array_add(record->corrections, correction_of(row, history, i));
  }
  return true;
}

static bool load_corrections(const BtWorkbookContext *context, const GPtrArray *rows,
                             BtTraineeRecord *record, GError **error) {
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = g_ptr_array_index(rows, i);
    if (row->corrections > 0 && !add_corrections(context, row, record, error))
      return false;
  }
  return true;
}

// The record ------------------------------------------------------------------

static int by_start(gconstpointer a, gconstpointer b) {
  const BtSessionRow *x = *(BtSessionRow *const *)a, *y = *(BtSessionRow *const *)b;
  if (x->started_ms != y->started_ms)
    return x->started_ms < y->started_ms ? -1 : 1;
  return x->id < y->id ? -1 : x->id > y->id;
}

static void sort_out_sessions(const GPtrArray *rows, BtTraineeRecord *record) {
  for (guint i = 0; i < rows->len; i++) {
    BtSessionRow *row = g_ptr_array_index(rows, i);
    g_ptr_array_add(row->of_record && row->closed ? record->sessions : record->others, row);
    if (row->closed)
      record->as_of_ms = MAX(record->as_of_ms, row->closed_ms);
  }
  g_ptr_array_sort(record->sessions, by_start);
  g_ptr_array_sort(record->others, by_start);
}

static bool uses(const GPtrArray *rows, const BtEdition *edition) {
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = g_ptr_array_index(rows, i);
    if (row->edition == edition->edition && g_str_equal(row->rubric, edition->rubric))
      return true;
  }
  return false;
}

static void pick_editions(const BtWorkbookContext *context, const GPtrArray *rows,
                          BtTraineeRecord *record) {
  for (guint i = 0; i < context->editions->len; i++) {
    BtEdition *edition = g_ptr_array_index(context->editions, i);
    if (uses(rows, edition))
      g_ptr_array_add(record->editions, edition);
  }
}

static const BtPerson *find_person(const BtWorkbookContext *context, const char *code) {
  for (guint i = 0; i < context->people->len; i++) {
    const BtPerson *person = g_ptr_array_index(context->people, i);
    if (g_str_equal(person->code, code))
      return person;
  }
  return NULL;
}

static BtTraineeRecord *record_new(const BtWorkbookContext *context, const BtPerson *person) {
  BtTraineeRecord *record = g_new0(BtTraineeRecord, 1);
  record->person = person;
  record->exercises = g_ptr_array_new_with_free_func(free_exercise);
  record->others = g_ptr_array_new();
  record->sessions = g_ptr_array_new();
  record->corrections = g_ptr_array_new_with_free_func(free_correction);
  record->editions = g_ptr_array_new();
  record->names = context->names;
  record->head_records = context->head_records;
  g_strlcpy(record->head, context->head, sizeof record->head);
  return record;
}

BtTraineeRecord *bt__gather(BtWorkbookContext *context, const char *trainee, GError **error) {
  const BtPerson *person = find_person(context, trainee);
  if (!person) {
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "%s: no such person in the book; `benchtally person list` shows who there is",
                trainee);
    return NULL;
  }
  g_autoptr(BtTraineeRecord) record = record_new(context, person);
  const GPtrArray *rows = g_hash_table_lookup(context->by_person, trainee);
  if (rows)
    sort_out_sessions(rows, record);
  if (!rows || record->sessions->len == 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "%s: no closed session to report; `benchtally sessions` shows what there is",
                trainee);
    return NULL;
  }
  pick_editions(context, rows, record);
  if (!load_exercises(context, record, error) || !load_corrections(context, rows, record, error))
    return NULL;
  return g_steal_pointer(&record);
}
