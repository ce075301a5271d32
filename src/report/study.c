// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/study.h>

#include <benchtally/estimate.h>

#include "report/competency.h"

#define PER_MILLI 1000.0

typedef struct {
  BtStudy face;      // first: the public pointer is a pointer to this
  GPtrArray *people; // of BtPerson
  GPtrArray *lines;  // of BtSessionRow
} Study;

// Which rubric ----------------------------------------------------------------

// "arch-bars, forearm-two-bones"; caller frees.
static char *rubrics_of(const GPtrArray *editions, int *n) {
  GString *list = g_string_new(NULL);
  const char *before = NULL;
  *n = 0;
  for (guint i = 0; i < editions->len; i++) {
    const BtEdition *edition = g_ptr_array_index(editions, i);
    if (g_strcmp0(edition->rubric, before) == 0)
      continue;
    g_string_append_printf(list, "%s%s", before ? ", " : "", edition->rubric);
    before = edition->rubric;
    (*n)++;
  }
  return g_string_free(list, FALSE);
}

// The rubric that is meant, borrowed from the book.
static const BtRubric *rubric_of(BtBook *book, const BtStudyScope *scope, GError **error) {
  g_autoptr(GPtrArray) editions = bt_book_editions(book, error);
  if (!editions)
    return NULL;
  int n = 0;
  g_autofree char *list = rubrics_of(editions, &n);
  if (!scope->rubric && n != 1) {
    if (n == 0)
      g_set_error_literal(error, BT_ERROR, BT_ERROR_UNKNOWN,
                          "the book holds no rubric; add one: benchtally rubric add FILE");
    else
      g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                  "the book holds %d rubrics; name one with --rubric: %s", n, list);
    return NULL;
  }
  const char *id =
      scope->rubric ? scope->rubric : ((BtEdition *)g_ptr_array_index(editions, 0))->rubric;
  GError *problem = NULL;
  const BtRubric *rubric = bt_book_rubric(book, id, scope->edition, &problem);
  if (!rubric && problem)
    g_propagate_error(error, problem);
  else if (!rubric && scope->edition > 0)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "the book has no edition %d of \"%s\"; `benchtally rubric list` shows what it has",
                scope->edition, id);
  else if (!rubric)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN, "the book has no rubric \"%s\"; it has: %s", id,
                n ? list : "none");
  return rubric;
}

// One row ---------------------------------------------------------------------

static void free_row(gpointer data) {
  BtStudyRow *row = data;
  bt_observation_free(row->observation);
  g_free(row); // its arrays stand behind it in the same block
}

// A row with its arrays in one block, those of wide members first so that each is aligned.
static BtStudyRow *new_row(const BtRubric *rubric) {
  gsize steps = (gsize)rubric->n_checkpoints, errors = (gsize)rubric->n_errors;
  gsize doubles =
      steps + (gsize)rubric->n_ratings + (gsize)rubric->n_measures + (gsize)rubric->n_phases;
  gsize competencies = (gsize)rubric->n_competencies * sizeof(BtCompetencyScore);
  BtStudyRow *row = g_malloc0(sizeof(BtStudyRow) + competencies + doubles * sizeof(double) +
                              errors * sizeof(int) + steps);
  row->competency = (BtCompetencyScore *)(row + 1);
  row->step_share = (double *)(row->competency + rubric->n_competencies);
  row->rating = row->step_share + steps;
  row->measure = row->rating + rubric->n_ratings;
  row->phase_s = row->measure + rubric->n_measures;
  row->errors = (int *)(row->phase_s + rubric->n_phases);
  row->step = (guint8 *)(row->errors + errors);
  return row;
}

static BtStepState state_of(const BtCheckpoint *checkpoint, const BtStepRow *step, bool assessed) {
  if (step->why_out == BT_OUT_UNSEEN || (step->why_out == BT_IN_SCORE && !assessed))
    return BT_STEP_NOT_SEEN;
  if (step->why_out != BT_IN_SCORE)
    return BT_STEP_OUT;
  return (int)step->conforming->len >= checkpoint->least ? BT_STEP_DONE : BT_STEP_NOT_DONE;
}

static void fill_steps(BtStudyRow *row, const BtRubric *rubric, const BtLedger *ledger) {
  bool assessed = ledger->component[BT_STEPS].assessed;
  for (int i = 0; i < rubric->n_checkpoints; i++) {
    const BtCheckpoint *checkpoint = &rubric->checkpoints[i];
    const BtStepRow *step = &g_array_index(ledger->steps, BtStepRow, i);
    row->step[i] = (guint8)state_of(checkpoint, step, assessed);
    bool seen = row->step[i] == BT_STEP_DONE || row->step[i] == BT_STEP_NOT_DONE;
    int conforming = MIN((int)step->conforming->len, checkpoint->least);
    row->step_share[i] = seen ? (double)conforming / checkpoint->least : BT_MISSING;
  }
}

static void fill_values(double *to, const GArray *values) {
  for (guint i = 0; i < values->len; i++) {
    const BtValueRow *value = &g_array_index(values, BtValueRow, i);
    to[i] = value->has_value ? (double)value->value_milli / PER_MILLI : BT_MISSING;
  }
}

static void fill_errors(BtStudyRow *row, const BtLedger *ledger) {
  bool assessed = ledger->component[BT_TECHNIQUE].assessed;
  for (guint i = 0; i < ledger->technique->len; i++) {
    const BtTechniqueRow *kind = &g_array_index(ledger->technique, BtTechniqueRow, i);
    row->errors[kind->error] = assessed || kind->count > 0 ? kind->count : -1;
  }
}

// Whether another pass mark may decide otherwise.
static bool total_decides(const BtLedger *ledger) {
  bool only_total = ledger->outcome != BT_UNDECIDED;
  for (guint i = 0; i < ledger->reasons->len; i++)
    only_total &= g_array_index(ledger->reasons, BtReason, i).code == BT_REASON_BELOW_PASS;
  return only_total;
}

static void fill_row(BtStudyRow *row, const BtRubric *rubric, const BtLedger *ledger) {
  fill_steps(row, rubric, ledger);
  fill_values(row->rating, ledger->rating);
  fill_values(row->measure, ledger->product);
  fill_errors(row, ledger);
  for (int i = 0; i < rubric->n_phases; i++)
    row->phase_s[i] = (double)ledger->charged_ms[i] / PER_MILLI;
  row->total_percent = ledger->total_percent_milli < 0
                           ? BT_MISSING
                           : (double)ledger->total_percent_milli / PER_MILLI;
  row->total_s = (double)ledger->total_ms / PER_MILLI;
  row->concordance = ledger->concordance_den > 0
                         ? (double)ledger->concordance_num / (double)ledger->concordance_den
                         : BT_MISSING;
  row->displaced = (int)ledger->displaced->len;
  row->outcome = ledger->outcome;
  row->total_decides = total_decides(ledger);
}

// All rows --------------------------------------------------------------------

static bool in_scope(const BtSessionRow *line, const BtPerson *trainee, const BtRubric *rubric,
                     const BtStudyScope *scope) {
  return line->closed && line->edition == rubric->edition && line->started_ms >= scope->from_ms &&
         (scope->before_ms == 0 || line->started_ms < scope->before_ms) &&
         (!scope->cohort || (trainee && g_strcmp0(trainee->cohort, scope->cohort) == 0));
}

static BtStudyRow *read_row(BtBook *book, const BtSessionRow *line, const BtStudyScope *scope,
                            const BtCompetencyPlan *plan, GError **error) {
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, line->id, &rubric, error);
  if (!observation)
    return NULL;
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  BtStudyRow *row = new_row(rubric);
  row->row = line;
  fill_row(row, rubric, ledger);
  bt__competency_scores(plan, ledger, row->competency);
  if (scope->with_events)
    row->observation = g_steal_pointer(&observation);
  return row;
}

typedef void Progress(gint64 done, gint64 all, gpointer user_data);

static bool read_rows(BtBook *book, Study *study, const BtStudyScope *scope, Progress *progress,
                      gpointer user_data, GError **error) {
  g_autoptr(BtCompetencyPlan) plan = bt__competency_plan_new(study->face.rubric);
  g_autoptr(GHashTable) people = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < study->people->len; i++) {
    BtPerson *person = g_ptr_array_index(study->people, i);
    g_hash_table_insert(people, person->code, person);
  }
  for (guint i = 0; i < study->lines->len; i++) {
    const BtSessionRow *line = g_ptr_array_index(study->lines, i);
    const BtPerson *trainee = g_hash_table_lookup(people, line->trainee);
    if (in_scope(line, trainee, study->face.rubric, scope)) {
      BtStudyRow *row = read_row(book, line, scope, plan, error);
      if (!row)
        return false;
      row->trainee = trainee;
      g_ptr_array_add(study->face.rows, row);
    }
    if (progress)
      progress((gint64)i + 1, study->lines->len, user_data);
  }
  return true;
}

BtStudy *bt_study_read(BtBook *book, const BtStudyScope *scope, Progress *progress,
                       gpointer user_data, GError **error) {
  const BtRubric *rubric = rubric_of(book, scope, error);
  if (!rubric)
    return NULL;
  g_autoptr(BtStudy) face = (BtStudy *)g_new0(Study, 1);
  Study *study = (Study *)face;
  face->rubric = rubric;
  face->rows = g_ptr_array_new_with_free_func(free_row);
  BtSessionFilter filter = {.rubric = rubric->id,
                            .session = scope->session,
                            .trainee = scope->trainee,
                            .of_record_only = scope->of_record_only};
  if (!(study->people = bt_book_people(book, -1, error)) ||
      !(study->lines = bt_book_sessions(book, &filter, error)) ||
      !read_rows(book, study, scope, progress, user_data, error))
    return NULL;
  return g_steal_pointer(&face);
}

void bt_study_free(BtStudy *face) {
  if (!face)
    return;
  Study *study = (Study *)face;
  g_ptr_array_unref(face->rows);
  g_clear_pointer(&study->lines, g_ptr_array_unref);
  g_clear_pointer(&study->people, g_ptr_array_unref);
  g_free(study);
}
