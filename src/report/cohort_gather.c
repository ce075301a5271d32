// SPDX-License-Identifier: GPL-3.0-or-later
//
// From the book to the plain record of the cohort: one study an edition, each read in one pass.
#include "report/cohort_record.h"

#include <string.h>

// Totals are cut to a thousandth; a whole thousandth may stand a hair below itself as a double.
#define CUT_SLACK 0.001

#define DAY_MS         G_GINT64_CONSTANT(86400000)
#define NO_DATE_YET_MS G_GINT64_CONSTANT(946684800000) // 1 Jan 2000: a document must have one

// Access ----------------------------------------------------------------------

const BtCohortExercise *bt__cohort_exercise(const BtCohortRecord *record, guint index) {
  return g_ptr_array_index(record->exercises, index);
}

const BtCohortTrainee *bt__cohort_trainee(const BtCohortRecord *record, guint index) {
  return g_ptr_array_index(record->trainees, index);
}

const BtCohortSession *bt__cohort_session(const BtCohortTrainee *trainee, guint index) {
  return &g_array_index(trainee->sessions, BtCohortSession, index);
}

const BtCohortEdition *bt__cohort_edition(const BtCohortExercise *exercise, guint index) {
  return g_ptr_array_index(exercise->editions, index);
}

gint64 bt__total_milli(const BtStudyRow *row) {
  return bt_is_missing(row->total_percent) ? -1 : (gint64)(row->total_percent * 1000 + CUT_SLACK);
}

bool bt__is_held(const BtStudyRow *row) {
  return row->outcome == BT_NOT_YET && !row->total_decides;
}

gint64 bt__days_since(const BtCohortRecord *record, const BtCohortSession *session) {
  return record->to_ms / DAY_MS - session->row->row->started_ms / DAY_MS;
}

const char *bt__cohort_name(const BtCohortRecord *record, const char *code) {
  return g_hash_table_lookup(record->names, code);
}

// Freeing ---------------------------------------------------------------------

static void free_exercise(gpointer data) {
  BtCohortExercise *exercise = data;
  g_ptr_array_unref(exercise->editions);
  g_free(exercise);
}

static void free_trainee(gpointer data) {
  BtCohortTrainee *trainee = data;
  g_array_unref(trainee->sessions);
  g_free(trainee->standing);
  g_free(trainee);
}

void bt__cohort_record_free(BtCohortRecord *record) {
  if (!record)
    return;
  g_clear_pointer(&record->trainees, g_ptr_array_unref);
  g_clear_pointer(&record->exercises, g_ptr_array_unref);
  g_clear_pointer(&record->names, g_hash_table_unref);
  g_clear_pointer(&record->people, g_ptr_array_unref);
  g_clear_pointer(&record->editions, g_ptr_array_unref);
  g_clear_pointer(&record->standards, g_ptr_array_unref);
  g_free(record);
}

// What is asked for -----------------------------------------------------------

static bool wanted(const BtCohortScope *scope, const char *rubric) {
  return !scope->rubrics || g_strv_contains(scope->rubrics, rubric);
}

// A rubric that is named and not in the book is refused, in the words of the study.
static bool check_rubrics(BtBook *book, const BtCohortRecord *record, GError **error) {
  for (const char *const *id = record->scope->rubrics; id && *id; id++) {
    bool known = false;
    for (guint i = 0; i < record->editions->len && !known; i++)
      known = strcmp(((BtEdition *)g_ptr_array_index(record->editions, i))->rubric, *id) == 0;
    const BtStudyScope scope = {.rubric = *id};
    g_autoptr(BtStudy) study = known ? NULL : bt_study_read(book, &scope, NULL, NULL, error);
    if (!known && !study)
      return false;
  }
  return true;
}

// "2025, 2026"; caller frees.
static char *cohorts_of(const GPtrArray *people) {
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (guint i = 0; i < people->len; i++) {
    BtPerson *person = g_ptr_array_index(people, i);
    if (person->cohort && *person->cohort &&
        !g_ptr_array_find_with_equal_func(names, person->cohort, g_str_equal, NULL))
      g_ptr_array_add(names, person->cohort);
  }
  g_ptr_array_add(names, NULL);
  return names->len > 1 ? g_strjoinv(", ", (char **)names->pdata) : g_strdup("none");
}

static bool check_cohort(const BtCohortRecord *record, GError **error) {
  const char *cohort = record->scope->cohort;
  for (guint i = 0; cohort && i < record->people->len; i++) {
    const BtPerson *person = g_ptr_array_index(record->people, i);
    if (g_strcmp0(person->cohort, cohort) == 0)
      return true;
  }
  if (!cohort)
    return true;
  g_autofree char *quoted = bt_quoted(cohort);
  g_autofree char *known = cohorts_of(record->people);
  g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
              "nobody in the book is of the cohort %s; it has: %s", quoted, known);
  return false;
}

// Studies ---------------------------------------------------------------------

// Progress over all studies by what the book says each edition has.
typedef struct {
  const BtCohortScope *scope;
  gint64 before, all;
} Passed;

static void pass_on(gint64 done, gint64 all, gpointer user_data) {
  const Passed *passed = user_data;
  (void)all; // of one rubric
  if (passed->scope->progress)
    passed->scope->progress(MIN(passed->before + done, passed->all), passed->all,
                            passed->scope->user_data);
}

static BtCohortExercise *exercise_of(BtCohortRecord *record, const char *rubric) {
  if (record->exercises->len > 0) {
    BtCohortExercise *last = g_ptr_array_index(record->exercises, record->exercises->len - 1);
    if (strcmp(last->rubric->id, rubric) == 0)
      return last; // editions come by rubric
  }
  BtCohortExercise *exercise = g_new0(BtCohortExercise, 1);
  exercise->editions = g_ptr_array_new_with_free_func((GDestroyNotify)bt__cohort_edition_free);
  g_ptr_array_add(record->exercises, exercise);
  return exercise;
}

static bool read_edition(BtBook *book, BtCohortRecord *record, const BtEdition *edition,
                         Passed *passed, GError **error) {
  const BtStudyScope scope = {.rubric = edition->rubric,
                              .edition = edition->edition,
                              .cohort = record->scope->cohort,
                              .from_ms = record->scope->from_ms,
                              .before_ms = record->scope->before_ms};
  g_autoptr(BtStudy) study = bt_study_read(book, &scope, pass_on, passed, error);
  if (!study)
    return false;
  passed->before += edition->sessions;
  if (study->rows->len == 0)
    return true;
  BtCohortExercise *exercise = exercise_of(record, edition->rubric);
  exercise->rubric = study->rubric;
  g_ptr_array_add(exercise->editions, bt__cohort_edition_new(g_steal_pointer(&study)));
  return true;
}

static bool read_studies(BtBook *book, BtCohortRecord *record, GError **error) {
  Passed passed = {.scope = record->scope};
  for (guint i = 0; i < record->editions->len; i++)
    passed.all += ((BtEdition *)g_ptr_array_index(record->editions, i))->sessions;
  for (guint i = 0; i < record->editions->len; i++) {
    const BtEdition *edition = g_ptr_array_index(record->editions, i);
    if (edition->sessions > 0 && wanted(record->scope, edition->rubric) &&
        !read_edition(book, record, edition, &passed, error))
      return false;
  }
  return true;
}

// Trainees --------------------------------------------------------------------

static BtCohortTrainee *trainee_of(GHashTable *by_code, BtCohortRecord *record,
                                   const BtStudyRow *row) {
  BtCohortTrainee *trainee = g_hash_table_lookup(by_code, row->row->trainee);
  if (trainee)
    return trainee;
  trainee = g_new0(BtCohortTrainee, 1);
  trainee->code = row->row->trainee;
  trainee->person = row->trainee;
  trainee->sessions = g_array_new(FALSE, FALSE, sizeof(BtCohortSession));
  trainee->standing = g_new0(BtStanding, record->exercises->len);
  g_hash_table_insert(by_code, row->row->trainee, trainee);
  g_ptr_array_add(record->trainees, trainee);
  return trainee;
}

static void note_span(BtCohortRecord *record, const BtSessionRow *row) {
  if (record->observations == 0 || row->started_ms < record->from_ms)
    record->from_ms = row->started_ms;
  record->to_ms = MAX(record->to_ms, row->started_ms);
  record->as_of_ms = MAX(record->as_of_ms, row->closed_ms);
  record->observations++;
}

static void sort_out_study(GHashTable *by_code, BtCohortRecord *record, const BtStudy *study,
                           int exercise) {
  for (guint i = 0; i < study->rows->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(study->rows, i);
    note_span(record, row->row);
    if (!row->row->of_record)
      continue;
    const BtCohortSession session = {row, study->rubric, exercise};
    g_array_append_val(trainee_of(by_code, record, row)->sessions, session);
    record->sessions++;
  }
}

static void sort_out_trainees(BtCohortRecord *record) {
  g_autoptr(GHashTable) by_code = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < record->exercises->len; i++) {
    const BtCohortExercise *exercise = bt__cohort_exercise(record, i);
    for (guint j = 0; j < exercise->editions->len; j++)
      sort_out_study(by_code, record, bt__cohort_edition(exercise, j)->study, (int)i);
  }
  bt__cohort_stand(record);
}

// A scope that leaves nothing of what the book has is more likely a slip than a question.
static bool check_anything_left(const BtCohortRecord *record, GError **error) {
  const BtCohortScope *scope = record->scope;
  gint64 closed = 0;
  for (guint i = 0; i < record->editions->len; i++)
    closed += ((BtEdition *)g_ptr_array_index(record->editions, i))->sessions;
  bool narrowed = scope->rubrics || scope->cohort || scope->from_ms > 0 || scope->before_ms > 0;
  if (record->sessions > 0 || closed == 0 || !narrowed)
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
              "nobody has a closed session in what was asked for; `benchtally sessions` shows what "
              "the book holds");
  return false;
}

// The record ------------------------------------------------------------------

static void sort_out_names(BtCohortRecord *record) {
  for (guint i = 0; i < record->people->len && !record->scope->without_names; i++) {
    BtPerson *person = g_ptr_array_index(record->people, i);
    if (person->name && *person->name)
      g_hash_table_insert(record->names, person->code, person->name);
  }
}

static void date_it(BtCohortRecord *record) {
  for (guint i = 0; i < record->editions->len && record->observations == 0; i++)
    record->as_of_ms =
        MAX(record->as_of_ms, ((BtEdition *)g_ptr_array_index(record->editions, i))->added_ms);
  if (record->as_of_ms <= 0)
    record->as_of_ms = NO_DATE_YET_MS;
}

BtCohortRecord *bt__cohort_gather(BtBook *book, const BtCohortScope *scope, GError **error) {
  g_autoptr(BtCohortRecord) record = g_new0(BtCohortRecord, 1);
  record->scope = scope;
  record->exercises = g_ptr_array_new_with_free_func(free_exercise);
  record->trainees = g_ptr_array_new_with_free_func(free_trainee);
  record->names = g_hash_table_new(g_str_hash, g_str_equal);
  if (!(record->people = bt_book_people(book, -1, error)) ||
      !(record->editions = bt_book_editions(book, error)) ||
      !(record->standards = bt_book_standards(book, NULL, error)) ||
      !bt_book_head(book, record->head, &record->head_records, error) ||
      !check_rubrics(book, record, error) || !check_cohort(record, error) ||
      !read_studies(book, record, error))
    return NULL;
  sort_out_names(record);
  sort_out_trainees(record);
  if (!check_anything_left(record, error))
    return NULL;
  date_it(record);
  return g_steal_pointer(&record);
}
