// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/study_curve.h>

#include <benchtally/regression.h>

#include <string.h>

#define PERCENT   100.0
#define MILLI     1000.0
#define NUMBERS   10 // that are written as words
#define FEW_DRIFT "fewer than 20 values since trainees showed the standard"
#define NO_SPREAD "all values since trainees showed the standard are the same"

// Points ----------------------------------------------------------------------

static BtCurvePoint point_of(const BtStudyRow *row, const BtCurveTerms *terms) {
  BtCurvePoint point = {.trainee = row->row->trainee,
                        .attempt = row->row->attempt,
                        .session = row->row->session,
                        .decided = row->outcome != BT_UNDECIDED,
                        .passed = row->outcome == BT_PASS};
  if (terms->of == BT_CURVE_OF_CHECKPOINT) {
    guint8 state = row->step[terms->checkpoint];
    point.value = row->step_share[terms->checkpoint] * PERCENT; // missing stays missing
    point.decided = state == BT_STEP_DONE || state == BT_STEP_NOT_DONE;
    point.passed = state == BT_STEP_DONE;
  } else {
    point.value = terms->of == BT_CURVE_OF_SECONDS ? row->total_s : row->total_percent;
  }
  return point;
}

static double own_mark(const BtRubric *rubric, BtCurveOf of) {
  if (of == BT_CURVE_OF_PERCENT)
    return (double)rubric->score.pass_milli / MILLI;
  if (of == BT_CURVE_OF_SECONDS && rubric->clock.present && rubric->clock.target_ms > 0)
    return (double)rubric->clock.target_ms / MILLI;
  return BT_MISSING;
}

BtPractices *bt_study_practices(const BtStudy *study, const BtCurveTerms *terms) {
  g_autoptr(GArray) points = g_array_new(FALSE, FALSE, sizeof(BtCurvePoint));
  BtCurveTerms with_mark = *terms;
  if (bt_is_missing(terms->mark))
    with_mark.mark = own_mark(study->rubric, terms->of);
  for (guint i = 0; i < study->rows->len; i++) { // by trainee and start, and so by attempt
    const BtStudyRow *row = g_ptr_array_index(study->rows, i);
    if (!row->row->of_record)
      continue;
    BtCurvePoint point = point_of(row, terms);
    g_array_append_val(points, point);
  }
  return bt_practices((const BtCurvePoint *)(void *)points->data, points->len, &with_mark);
}

// One trainee -----------------------------------------------------------------

static void free_practice(gpointer data) {
  BtPractice *practice = data;
  bt_way_clear(&practice->way);
  g_free(practice->decided_at);
  g_free(practice);
}

static void fit_curve(BtPractice *practice, const BtCurveTerms *terms) {
  g_autofree double *attempt = g_new(double, practice->n), *value = g_new(double, practice->n);
  for (gsize i = 0; i < practice->n; i++) {
    attempt[i] = practice->point[i].attempt;
    value[i] = practice->point[i].value;
    practice->values += !bt_is_missing(value[i]);
  }
  practice->curve = bt_curve(attempt, value, practice->n, 0,
                             terms->of == BT_CURVE_OF_SECONDS ? INFINITY : PERCENT);
}

static void follow_decisions(BtPractice *practice, const BtPractices *practices) {
  g_autofree bool *passed = g_new(bool, practice->n);
  practice->decided_at = g_new(int, practice->n);
  for (gsize i = 0; i < practice->n; i++) {
    if (!practice->point[i].decided)
      continue;
    practice->decided_at[practice->decided] = practice->point[i].attempt;
    passed[practice->decided++] = practice->point[i].passed;
  }
  if (practices->to.why_not)
    return;
  practice->way = bt_way(&practices->to, &practices->from, passed, practice->decided);
  gsize since = practice->way.at_standard ? practice->way.reached : practice->decided, at = 0;
  practice->verdict =
      bt_sequential_verdict(&practices->test, passed + since, practice->decided - since, &at);
  practice->verdict_at = at ? practice->decided_at[since + at - 1] : 0;
}

static BtPractice *new_practice(const BtCurvePoint *point, gsize n, const BtPractices *practices) {
  BtPractice *practice = g_new0(BtPractice, 1);
  practice->trainee = point->trainee;
  practice->point = point;
  practice->n = n;
  practice->not_here = (gsize)MAX(0, point[n - 1].attempt - (int)n);
  fit_curve(practice, &practices->terms);
  follow_decisions(practice, practices);
  return practice;
}

// All together ----------------------------------------------------------------

static void fit_cohort(BtPractices *practices) {
  gsize room = practices->points->len, n = 0, trainees = 0;
  g_autofree double *attempt = g_new(double, room + 1), *value = g_new(double, room + 1);
  g_autofree gsize *trainee = g_new(gsize, room + 1);
  for (guint p = 0; p < practices->practice->len; p++) {
    const BtPractice *practice = g_ptr_array_index(practices->practice, p);
    for (gsize i = 0; i < practice->n; i++) {
      if (bt_is_missing(practice->point[i].value))
        continue;
      attempt[n] = practice->point[i].attempt;
      value[n] = practice->point[i].value;
      trainee[n++] = trainees;
    }
    trainees += practice->values > 0;
  }
  BtCohortAttempts attempts = {n, attempt, value, trainee, trainees};
  practices->cohort = bt_cohort_curve(&attempts, practices->terms.mark, practices->falling);
  trainees = 0;
  for (guint p = 0; p < practices->practice->len && !practices->cohort->why_not; p++) {
    BtPractice *practice = g_ptr_array_index(practices->practice, p);
    if (practice->values > 0)
      practice->in_cohort = &practices->cohort->trainee[trainees++];
  }
}

// The values made while at standard, the attempt that showed it not counted: its place among the
// points is where they begin. Appends to `values`; gives the first such place.
static gsize values_at_standard(const BtPractice *practice, GArray *values) {
  gsize first = practice->n;
  if (!practice->way.at_standard)
    return first;
  int reached = practice->decided_at[practice->way.reached - 1];
  for (gsize i = practice->n; i > 0 && practice->point[i - 1].attempt > reached; i--)
    first = i - 1;
  for (gsize i = first; i < practice->n; i++) {
    if (!bt_is_missing(practice->point[i].value))
      g_array_append_val(values, practice->point[i].value);
  }
  return first;
}

static void describe(BtDrift *drift, const GArray *values) {
  drift->n = values->len;
  if (drift->n < BT_DRIFT_LEAST) {
    drift->why_not = FEW_DRIFT;
    return;
  }
  g_autofree double *ones = g_new(double, drift->n);
  for (gsize i = 0; i < drift->n; i++)
    ones[i] = 1;
  const double *value = (const double *)(void *)values->data;
  g_autoptr(BtRegression) mean = bt_regression(value, ones, drift->n, 1, true);
  drift->mean = mean->b[0].value;
  drift->sd = mean->residual_sd;
  drift->run = bt_cusum_normal_run(BT_DRIFT_SLACK, BT_DRIFT_LIMIT, 0);
  if (!(drift->sd > 0))
    drift->why_not = NO_SPREAD;
}

// The attempt at which what a trainee does at standard has drifted for the worse; 0: none.
static int drifted_at(const BtPractice *practice, const BtDrift *drift, bool falling) {
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  gsize at = values_at_standard(practice, values);
  double worse = falling ? 1 : -1; // upwards is worse
  for (guint i = 0; i < values->len; i++) {
    double *value = &g_array_index(values, double, i);
    *value = worse * (*value - drift->mean) / drift->sd;
  }
  g_autofree double *sum = g_new(double, values->len + 1);
  bt_cusum_tabular((const double *)(void *)values->data, values->len, 0, BT_DRIFT_SLACK,
                   BT_DRIFT_LIMIT, sum, NULL);
  for (guint i = 0; at < practice->n; at++) {
    if (bt_is_missing(practice->point[at].value))
      continue;
    if (sum[i++] > BT_DRIFT_LIMIT)
      return practice->point[at].attempt;
  }
  return 0;
}

static void look_for_drift(BtPractices *practices) {
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  for (guint p = 0; p < practices->practice->len; p++)
    values_at_standard(g_ptr_array_index(practices->practice, p), values);
  describe(&practices->drift, values);
  for (guint p = 0; p < practices->practice->len && !practices->drift.why_not; p++) {
    BtPractice *practice = g_ptr_array_index(practices->practice, p);
    practice->drifted_at = drifted_at(practice, &practices->drift, practices->falling);
  }
}

// Decides every attempt by its value.
static void decide_by_mark(BtPractices *practices) {
  double mark = practices->terms.mark;
  for (guint i = 0; i < practices->points->len; i++) {
    BtCurvePoint *point = &g_array_index(practices->points, BtCurvePoint, i);
    point->decided = !bt_is_missing(point->value);
    point->passed =
        point->decided && (practices->falling ? point->value <= mark : point->value >= mark);
  }
}

BtPractices *bt_practices(const BtCurvePoint *points, gsize n, const BtCurveTerms *terms) {
  BtPractices *practices = g_new0(BtPractices, 1);
  practices->terms = *terms;
  practices->falling = terms->of == BT_CURVE_OF_SECONDS;
  practices->to =
      bt_cusum_for(BT_TO_STANDARD, terms->adequate, terms->inadequate, terms->within, terms->error);
  practices->from = bt_cusum_for(BT_FROM_STANDARD, terms->adequate, terms->inadequate,
                                 terms->within, terms->error);
  practices->test =
      bt_sequential_test(terms->adequate, terms->inadequate, terms->error, terms->error);
  practices->practice = g_ptr_array_new_with_free_func(free_practice);
  practices->points = g_array_new(FALSE, FALSE, sizeof(BtCurvePoint));
  if (n > 0)
    g_array_append_vals(practices->points, points, (guint)n);
  if (terms->by_mark)
    decide_by_mark(practices);
  const BtCurvePoint *own = (const BtCurvePoint *)(void *)practices->points->data;
  for (gsize from = 0, to = 0; from < n; from = to) {
    while (to < n && g_str_equal(own[to].trainee, own[from].trainee))
      to++;
    g_ptr_array_add(practices->practice, new_practice(&own[from], to - from, practices));
  }
  fit_cohort(practices);
  look_for_drift(practices);
  return practices;
}

void bt_practices_free(BtPractices *practices) {
  if (!practices)
    return;
  bt_cohort_curve_free(practices->cohort);
  g_ptr_array_unref(practices->practice);
  g_array_unref(practices->points);
  g_free(practices);
}

// Words -----------------------------------------------------------------------

// "four", "23"; caller frees.
static char *number_words(gsize n) {
  static const char *const words[NUMBERS + 1] = {"no",  "one",   "two",   "three", "four", "five",
                                                 "six", "seven", "eight", "nine",  "ten"};
  return n <= NUMBERS ? g_strdup(words[n]) : g_strdup_printf("%" G_GSIZE_FORMAT, n);
}

static char *not_yet_words(gsize passes, const char *again) {
  return passes == 1 ? g_strdup_printf("one more pass would show it%s", again)
                     : g_strdup_printf("%" G_GSIZE_FORMAT " more passes in a row would show it%s",
                                       passes, again);
}

static char *signal_words(const BtPractice *practice) {
  const BtWay *way = &practice->way;
  gsize looked_at = way->left - way->left_from + 1;
  g_autofree char *number = number_words(looked_at);
  if (way->left == practice->decided)
    return g_strdup_printf("signal: look at the last %s", number);
  g_autofree char *missing = not_yet_words(way->passes_needed, " again");
  return g_strdup_printf(
      "signal at attempt %d: look at attempts %d to %d; %s", practice->decided_at[way->left - 1],
      practice->decided_at[way->left_from - 1], practice->decided_at[way->left - 1], missing);
}

char *bt_practice_words(const BtPractice *practice, const BtPractices *practices) {
  const BtWay *way = &practice->way;
  if (practices->to.why_not)
    return g_strdup_printf("not told: %s", practices->to.why_not);
  if (practice->decided == 0)
    return g_strdup("not told: no attempt was decided");
  if (way->at_standard)
    return g_strdup_printf("standard reached at attempt %d",
                           practice->decided_at[way->reached - 1]);
  if (way->left > 0)
    return signal_words(practice);
  g_autofree char *missing = not_yet_words(way->passes_needed, "");
  return g_strdup_printf("not yet shown: %s", missing);
}

char *bt_to_mark_words(const BtToMark *to_mark) {
  g_autofree char *interval = NULL;
  if (to_mark->low == 0)
    return g_strdup_printf("not within %d attempts", BT_ATTEMPTS_MOST);
  if (to_mark->high == 0)
    interval = g_strdup_printf("%" G_GSIZE_FORMAT " or later, perhaps not within %d", to_mark->low,
                               BT_ATTEMPTS_MOST);
  else
    interval =
        g_strdup_printf("%" G_GSIZE_FORMAT " to %" G_GSIZE_FORMAT, to_mark->low, to_mark->high);
  return to_mark->at == 0
             ? g_strdup_printf("not within %d attempts (%s)", BT_ATTEMPTS_MOST, interval)
             : g_strdup_printf("at attempt %" G_GSIZE_FORMAT " (%s)", to_mark->at, interval);
}
