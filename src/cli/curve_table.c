// SPDX-License-Identifier: GPL-3.0-or-later
//
// Curves of a plain table: an attempt a row, in the columns trainee, attempt, value and, where they
// are there, passed and exercise.
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <benchtally/table.h>

#include "cli/curve.h"

#define ATTEMPT_MOST 1000000

typedef struct {
  BtTable *table;
  GPtrArray *faults;
  double *attempt, *value;
  gsize *trainee, *exercise; // exercise: NULL without that column
  GPtrArray *trainees, *exercises;
  int passed_column;
} Attempts;

static void attempts_clear(Attempts *attempts) {
  g_free(attempts->attempt);
  g_free(attempts->value);
  g_free(attempts->trainee);
  g_free(attempts->exercise);
  g_clear_pointer(&attempts->trainees, g_ptr_array_unref);
  g_clear_pointer(&attempts->exercises, g_ptr_array_unref);
  bt_table_free(attempts->table);
  g_clear_pointer(&attempts->faults, g_ptr_array_unref);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Attempts, attempts_clear)

// Reading ---------------------------------------------------------------------

static bool read_columns(Attempts *attempts) {
  const BtTable *table = attempts->table;
  int exercise = bt_table_column(table, "exercise");
  attempts->passed_column = bt_table_column(table, "passed");
  attempts->trainee = bt_table_levels(table, bt_table_column(table, "trainee"), &attempts->trainees,
                                      attempts->faults);
  attempts->attempt = bt_table_numbers(table, bt_table_column(table, "attempt"), attempts->faults);
  attempts->value = bt_table_numbers(table, bt_table_column(table, "value"), attempts->faults);
  if (exercise >= 0)
    attempts->exercise = bt_table_levels(table, exercise, &attempts->exercises, attempts->faults);
  return attempts->trainee && attempts->attempt && attempts->value &&
         (exercise < 0 || attempts->exercise);
}

static void check_values(const Attempts *attempts, const BtCurveTerms *terms) {
  const BtTable *table = attempts->table;
  for (gsize row = 0; row < bt_table_rows(table); row++) {
    double k = attempts->attempt[row], value = attempts->value[row];
    if (!(k >= 1 && k <= ATTEMPT_MOST && k == floor(k)))
      bt_table_fault(table, row, bt_table_column(table, "attempt"), attempts->faults,
                     "a whole number from 1 is expected: the how-manieth attempt it was");
    if (value < 0 || (terms->of == BT_CURVE_OF_PERCENT && value > 100))
      bt_table_fault(table, row, bt_table_column(table, "value"), attempts->faults,
                     terms->of == BT_CURVE_OF_PERCENT
                         ? "a percentage from 0 to 100 is expected; for times give --value time"
                         : "a time in seconds is expected");
  }
}

// Whether an attempt was decided, and how.
static void read_passed(const Attempts *attempts, gsize row, BtCurvePoint *point) {
  static const char *const words[] = {"yes", "pass", "1", "no", "not yet", "0", "undecided"};
  enum { YES = 3, DECIDED = 6 };
  const char *text = bt_table_text(attempts->table, row, attempts->passed_column);
  if (!text)
    return;
  int word = bt_word_index(text, words, G_N_ELEMENTS(words));
  if (word < 0)
    bt_table_fault(attempts->table, row, attempts->passed_column, attempts->faults,
                   "%s: yes or no is expected, or nothing where it was not decided", text);
  point->decided = word >= 0 && word < DECIDED;
  point->passed = word >= 0 && word < YES;
}

// Points of one exercise ------------------------------------------------------

// A point with its place in the file.
typedef struct {
  BtCurvePoint point;
  gsize trainee, row;
} Placed;

static int by_trainee(const void *a, const void *b) {
  const Placed *x = a, *y = b;
  if (x->trainee != y->trainee)
    return x->trainee < y->trainee ? -1 : 1;
  return (x->point.attempt > y->point.attempt) - (x->point.attempt < y->point.attempt);
}

// The points of an exercise (all rows without that column), by trainee and attempt; an attempt that
// is there twice is a fault. Caller frees.
static GArray *points_of(const Attempts *attempts, gsize exercise) {
  g_autoptr(GArray) placed = g_array_new(FALSE, TRUE, sizeof(Placed));
  for (gsize row = 0; row < bt_table_rows(attempts->table); row++) {
    if (attempts->exercise && attempts->exercise[row] != exercise)
      continue;
    Placed one = {.trainee = attempts->trainee[row], .row = row};
    one.point.trainee = g_ptr_array_index(attempts->trainees, one.trainee);
    one.point.attempt = (int)attempts->attempt[row];
    one.point.value = attempts->value[row];
    read_passed(attempts, row, &one.point);
    g_array_append_val(placed, one);
  }
  g_array_sort(placed, by_trainee);
  GArray *points = g_array_new(FALSE, FALSE, sizeof(BtCurvePoint));
  for (guint i = 0; i < placed->len; i++) {
    const Placed *one = &g_array_index(placed, Placed, i);
    if (i > 0 && by_trainee(one - 1, one) == 0)
      bt_table_fault(attempts->table, MAX((one - 1)->row, one->row),
                     bt_table_column(attempts->table, "attempt"), attempts->faults,
                     "attempt %d of %s is there twice", one->point.attempt, one->point.trainee);
    g_array_append_val(points, one->point);
  }
  return points;
}

// Command ---------------------------------------------------------------------

static void free_set(gpointer data) {
  CurveSet *set = data;
  bt_practices_free(set->practices);
}

static GArray *sets_of(const Attempts *attempts, const CurveRequest *request) {
  GArray *sets = g_array_new(FALSE, TRUE, sizeof(CurveSet));
  g_array_set_clear_func(sets, free_set);
  gsize exercises = attempts->exercises ? attempts->exercises->len : 1;
  for (gsize i = 0; i < exercises; i++) {
    g_autoptr(GArray) points = points_of(attempts, i);
    CurveSet set = {.exercise =
                        attempts->exercises ? g_ptr_array_index(attempts->exercises, i) : NULL,
                    .decided = attempts->passed_column >= 0 || request->terms.by_mark};
    set.practices =
        bt_practices((const BtCurvePoint *)(void *)points->data, points->len, &request->terms);
    g_array_append_val(sets, set);
  }
  return sets;
}

int curve_of_table(Cli *cli, const CurveRequest *request, const char *path) {
  static const char *const columns[] = {"trainee", "attempt", "value", NULL};
  g_autoptr(GError) error = NULL;
  g_auto(Attempts) attempts = {.faults = bt_faults_new()};
  attempts.table = bt_table_read(path, columns, attempts.faults, &error);
  if (error)
    return cli_error(g_steal_pointer(&error));
  g_autoptr(GArray) sets = NULL;
  if (attempts.table && read_columns(&attempts))
    check_values(&attempts, &request->terms);
  if (bt_faults_count_errors(attempts.faults) == 0)
    sets = sets_of(&attempts, request);
  cli_print_faults(attempts.faults);
  if (bt_faults_count_errors(attempts.faults) > 0)
    return 2;
  return curve_print(cli, (const CurveSet *)(void *)sets->data, sets->len, request);
}
