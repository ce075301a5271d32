// SPDX-License-Identifier: GPL-3.0-or-later
//
// Where each trainee stands, and in which order they need the director.
#include "report/cohort_record.h"

#include <benchtally/regression.h>

#include <string.h>

#define NEVER_TWICE "no exercise was done twice with a total"

// Standing --------------------------------------------------------------------

static void stand_at(BtCohortTrainee *trainee, const BtCohortSession *session) {
  BtStanding *standing = &trainee->standing[session->exercise];
  gint64 total_milli = bt__total_milli(session->row);
  standing->best_milli =
      standing->sessions == 0 ? total_milli : MAX(standing->best_milli, total_milli);
  standing->latest = session;
  standing->sessions++;
  trainee->best_milli = MAX(trainee->best_milli, total_milli);
  trainee->latest = session;
}

static void count_standing(BtCohortTrainee *trainee, const BtStanding *standing) {
  const BtStudyRow *row = standing->latest->row;
  gint64 short_milli = standing->latest->rubric->score.pass_milli - bt__total_milli(row);
  trainee->with[row->outcome]++;
  trainee->held += bt__is_held(row);
  if (row->outcome == BT_NOT_YET && bt__total_milli(row) >= 0)
    trainee->short_milli += MAX(short_milli, 0);
}

// Trend -----------------------------------------------------------------------

// Sessions with a total at each exercise; caller frees.
static int *count_totals(const BtCohortTrainee *trainee, guint n_exercises) {
  int *n = g_new0(int, n_exercises + 1);
  for (guint i = 0; i < trainee->sessions->len; i++) {
    const BtCohortSession *session = bt__cohort_session(trainee, i);
    n[session->exercise] += bt__total_milli(session->row) >= 0;
  }
  return n;
}

// A column of ones for each exercise done twice, at its place from 0; -1 for the others. Returns
// how many there are and *rows, the sessions that count.
static gsize give_columns(const int *n, int *column, guint n_exercises, gsize *rows) {
  gsize columns = 0;
  *rows = 0;
  for (guint i = 0; i < n_exercises; i++) {
    column[i] = n[i] >= 2 ? (int)columns++ : -1;
    *rows += n[i] >= 2 ? (gsize)n[i] : 0;
  }
  return columns;
}

// Least squares with a level of its own for each exercise and one slope for all.
static BtEstimate trend_of(const BtCohortTrainee *trainee, guint n_exercises) {
  g_autofree int *n = count_totals(trainee, n_exercises);
  g_autofree int *column = g_new(int, n_exercises + 1);
  gsize rows = 0, slope = give_columns(n, column, n_exercises, &rows), columns = slope + 1;
  if (rows == 0)
    return bt_not_estimable(NEVER_TWICE, trainee->sessions->len);
  g_autofree double *x = g_new0(double, rows *columns);
  g_autofree double *y = g_new(double, rows);
  gsize at = 0;
  for (guint i = 0; i < trainee->sessions->len; i++) {
    const BtCohortSession *session = bt__cohort_session(trainee, i);
    if (column[session->exercise] < 0 || bt__total_milli(session->row) < 0)
      continue;
    x[at * columns + (gsize)column[session->exercise]] = 1;
    x[at * columns + slope] = session->row->row->attempt;
    y[at++] = session->row->total_percent;
  }
  g_autoptr(BtRegression) fit = bt_regression(y, x, rows, columns, true);
  return fit->why_not ? bt_not_estimable(fit->why_not, rows) : fit->b[slope];
}

// Need ------------------------------------------------------------------------

static int by_start(gconstpointer a, gconstpointer b) {
  const BtSessionRow *x = ((const BtCohortSession *)a)->row->row,
                     *y = ((const BtCohortSession *)b)->row->row;
  if (x->started_ms != y->started_ms)
    return x->started_ms < y->started_ms ? -1 : 1;
  return x->id < y->id ? -1 : x->id > y->id;
}

// The rule of need, as the sheet Overview states it.
static int by_need(gconstpointer a, gconstpointer b) {
  const BtCohortTrainee *x = *(BtCohortTrainee *const *)a, *y = *(BtCohortTrainee *const *)b;
  if (x->held != y->held)
    return y->held - x->held;
  if (x->with[BT_NOT_YET] != y->with[BT_NOT_YET])
    return y->with[BT_NOT_YET] - x->with[BT_NOT_YET];
  if (x->short_milli != y->short_milli)
    return x->short_milli < y->short_milli ? 1 : -1;
  if (x->with[BT_UNDECIDED] != y->with[BT_UNDECIDED])
    return y->with[BT_UNDECIDED] - x->with[BT_UNDECIDED];
  if (x->best_milli != y->best_milli)
    return x->best_milli < y->best_milli ? -1 : 1;
  return strcmp(x->code, y->code);
}

static void stand(BtCohortTrainee *trainee, guint n_exercises) {
  g_array_sort(trainee->sessions, by_start);
  trainee->best_milli = -1;
  for (guint i = 0; i < trainee->sessions->len; i++)
    stand_at(trainee, bt__cohort_session(trainee, i));
  for (guint i = 0; i < n_exercises; i++) {
    if (trainee->standing[i].sessions > 0)
      count_standing(trainee, &trainee->standing[i]);
  }
  trainee->trend = trend_of(trainee, n_exercises);
}

void bt__cohort_stand(BtCohortRecord *record) {
  for (guint i = 0; i < record->trainees->len; i++)
    stand(g_ptr_array_index(record->trainees, i), record->exercises->len);
  g_ptr_array_sort(record->trainees, by_need);
}
