// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/study_reliability_parts.h"

#include <stdlib.h>
#include <string.h>

#define PERCENT        100.0
#define MILLI          1000.0
#define WIDE           1.959963984540054 // standard errors either side: 95 % of the time
#define LEAST_DF       2                 // of every effect with trainees in it
#define NO_TRAINEES    "fewer than two trainees have a score"
#define NO_RELIABILITY "no reliability could be estimated"
#define UNRELIABLE     "the scores do not tell trainees apart"

// Which observations count ----------------------------------------------------

static bool counts(const BtStudyRow *row) {
  return row->row->mode != BT_MODE_SELF && !bt_is_missing(row->total_percent);
}

static bool same_session(const BtStudyRow *a, const BtStudyRow *b) {
  return strcmp(a->row->session, b->row->session) == 0;
}

// One observation a session and assessor: the one of record, else the first. Rows come by session
// and assessor, so others of the same stand beside it.
static GPtrArray *observations_of(const BtStudy *study) {
  GPtrArray *list = g_ptr_array_new();
  for (guint i = 0; i < study->rows->len; i++) {
    BtStudyRow *row = g_ptr_array_index(study->rows, i);
    BtStudyRow *before = list->len ? g_ptr_array_index(list, list->len - 1) : NULL;
    if (!counts(row))
      continue;
    if (!before || !same_session(row, before) ||
        strcmp(row->row->assessor, before->row->assessor) != 0)
      g_ptr_array_add(list, row);
    else if (row->row->of_record)
      list->pdata[list->len - 1] = row;
  }
  return list;
}

// Those of record: each trainee's own, or only the latest of each.
static GPtrArray *of_record(const GPtrArray *observations, bool latest_only) {
  GPtrArray *list = g_ptr_array_new();
  for (guint i = 0; i < observations->len; i++) {
    BtStudyRow *row = g_ptr_array_index(observations, i);
    BtStudyRow *before = list->len ? g_ptr_array_index(list, list->len - 1) : NULL;
    if (!row->row->of_record)
      continue;
    if (latest_only && before && strcmp(before->row->trainee, row->row->trainee) == 0)
      list->pdata[list->len - 1] = row;
    else
      g_ptr_array_add(list, row);
  }
  return list;
}

// Of the sessions of these rows, all observations.
static GPtrArray *all_of_sessions(const GPtrArray *observations, const GPtrArray *rows) {
  GPtrArray *list = g_ptr_array_new();
  guint at = 0;
  for (guint i = 0; i < observations->len && at < rows->len; i++) {
    BtStudyRow *row = g_ptr_array_index(observations, i);
    while (at < rows->len && !same_session(row, g_ptr_array_index(rows, at)))
      at++;
    if (at < rows->len)
      g_ptr_array_add(list, row);
  }
  return list;
}

static void count(BtStudyReliability *found, const BtStudy *study, const GPtrArray *observations) {
  g_autoptr(GHashTable) assessors = g_hash_table_new(g_str_hash, g_str_equal);
  guint in_session = 0;
  for (guint i = 0; i < study->rows->len; i++)
    found->self_rated +=
        ((BtStudyRow *)g_ptr_array_index(study->rows, i))->row->mode == BT_MODE_SELF;
  for (guint i = 0; i < observations->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(observations, i);
    const BtStudyRow *before = i ? g_ptr_array_index(observations, i - 1) : NULL;
    g_hash_table_add(assessors, row->row->assessor);
    found->trainees += !before || strcmp(row->row->trainee, before->row->trainee) != 0;
    in_session = before && same_session(row, before) ? in_session + 1 : 1;
    found->sessions += in_session == 1;
    found->double_seen += in_session == 2;
  }
  found->observations = observations->len;
  found->assessors = g_hash_table_size(assessors);
}

// Items -----------------------------------------------------------------------

static BtItems *items_of(const BtStudy *study, const GPtrArray *latest) {
  gsize n = (gsize)study->rubric->n_checkpoints;
  g_autofree double *cell = g_new(double, latest->len *n + 1);
  for (guint i = 0; i < latest->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(latest, i);
    memcpy(cell + i * n, row->step_share, n * sizeof *cell);
  }
  BtRatings table = {latest->len, n, cell};
  return bt_items(&table);
}

// The generalizability study --------------------------------------------------

// Levels in order of first appearance.
static gsize *levels_of(const GPtrArray *rows, const char *facet) {
  g_autoptr(GHashTable) numbers = g_hash_table_new(g_str_hash, g_str_equal);
  gsize *level = g_new(gsize, rows->len + 1);
  for (guint i = 0; i < rows->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(rows, i);
    if (strcmp(facet, "session") == 0) {
      level[i] = (gsize)row->row->attempt;
      continue;
    }
    char *code = strcmp(facet, "trainee") == 0 ? row->row->trainee : row->row->assessor;
    gpointer number = NULL;
    if (!g_hash_table_lookup_extended(numbers, code, NULL, &number)) {
      number = GUINT_TO_POINTER(g_hash_table_size(numbers));
      g_hash_table_insert(numbers, code, number);
    }
    level[i] = GPOINTER_TO_UINT(number);
  }
  return level;
}

// Two attempts and two assessors do; what holds the trainees must rest on more.
static bool well_determined(const BtGStudy *study) {
  guint object = 1U << study->design->object;
  for (int i = 0; i < study->design->effects; i++) {
    if (study->effect[i].df < (study->design->effect[i] & object ? LEAST_DF : 1))
      return false;
  }
  return !study->why_not;
}

// The study of these rows under a design; NULL when they do not determine it well enough.
static BtGStudy *study_of(const char *text, const GPtrArray *rows, BtComponentMethod method) {
  g_autoptr(BtDesign) design = bt_design_parse(text, NULL);
  gsize *level[BT_FACETS_MOST] = {NULL};
  g_autofree double *score = g_new(double, rows->len + 1);
  for (guint i = 0; i < rows->len; i++)
    score[i] = ((BtStudyRow *)g_ptr_array_index(rows, i))->total_percent;
  for (int facet = 0; facet < design->facets; facet++)
    level[facet] = levels_of(rows, design->name[facet]);
  BtScores scores = {rows->len, score, (const gsize *const *)level};
  g_autoptr(BtGStudy) study = bt_gstudy(design, &scores, BT_BY_ANOVA);
  if (well_determined(study) && method != BT_BY_ANOVA) {
    bt_gstudy_free(study);
    study = bt_gstudy(design, &scores, method);
  }
  for (int facet = 0; facet < design->facets; facet++)
    g_free(level[facet]);
  return well_determined(study) ? g_steal_pointer(&study) : NULL;
}

// Tries one design; true when it is taken.
static bool take(BtStudyReliability *found, const char *design, const GPtrArray *rows,
                 BtComponentMethod method, const char *about, const char *confounded) {
  if (!(found->gstudy = study_of(design, rows, method)))
    return false;
  found->about_design = about;
  found->confounded = confounded;
  for (int i = 0; i < found->gstudy->design->facets; i++) {
    if (strcmp(found->gstudy->design->name[i], "session") == 0)
      found->session_facet = i;
    if (strcmp(found->gstudy->design->name[i], "assessor") == 0)
      found->assessor_facet = i;
  }
  return true;
}

static const char *why_no_design(const BtStudyReliability *found) {
  if (found->trainees < 2)
    return "Fewer than two trainees have a score; nothing can be compared yet.";
  if (found->sessions == found->trainees && found->double_seen == 0)
    return "Each trainee has one session with one assessor: let some come a second time, or let "
           "two assessors see the same sessions.";
  return "Too few trainees came twice, and too few sessions had two assessors, to tell chance from "
         "skill.";
}

static void choose_design(BtStudyReliability *found, const GPtrArray *observations,
                          const GPtrArray *latest, BtComponentMethod method) {
  g_autoptr(GPtrArray) records = of_record(observations, false);
  g_autoptr(GPtrArray) last_sessions = all_of_sessions(observations, latest);
  found->session_facet = found->assessor_facet = -1;
  if (2 * found->double_seen >= found->sessions &&
      take(found, "trainee x session x assessor", observations, method,
           "Most sessions were seen by two assessors or more, and trainees came more than once.",
           "What is left beside trainees, sessions and assessors is one with chance."))
    return;
  if (found->double_seen > 0 &&
      take(found, "assessor:(trainee x session)", observations, method,
           "Some sessions were seen by two assessors, and trainees came more than once.",
           "How severe an assessor is cannot be told from how this one session was seen."))
    return;
  if (take(found, "trainee x session", records, method,
           "Trainees came more than once; too few sessions were seen by two assessors.",
           "How severe the assessor was is one with how the trainee did that day."))
    return;
  if (found->double_seen > 0 &&
      take(found, "trainee x assessor", last_sessions, method,
           "The latest sessions were seen by two assessors; too few trainees came twice.",
           "How the trainee did that day is one with the trainee, so reliability looks higher "
           "than it is."))
    return;
  found->about_design = why_no_design(found);
}

BtPlan bt_study_plan(const BtStudyReliability *reliability, double sessions, double assessors) {
  BtPlan plan = bt_plan_of_study(reliability->gstudy);
  if (reliability->session_facet >= 0) {
    plan.conditions[reliability->session_facet] = sessions;
    plan.same = 1U << reliability->session_facet;
  }
  if (reliability->assessor_facet >= 0)
    plan.conditions[reliability->assessor_facet] = assessors;
  return plan;
}

// How firm decisions are ------------------------------------------------------

static void describe_latest(BtStudyReliability *found, const GPtrArray *latest) {
  double mean = 0, squares = 0;
  for (guint i = 0; i < latest->len; i++) {
    double total = ((BtStudyRow *)g_ptr_array_index(latest, i))->total_percent;
    double away = total - mean;
    mean += away / (i + 1);
    squares += away * (total - mean);
    g_array_append_val(found->latest_percent, total);
  }
  found->mean_percent = mean;
  found->sd_percent = latest->len > 1 ? sqrt(squares / (latest->len - 1)) : 0;
}

static void find_reliability(BtStudyReliability *found) {
  gsize n = found->latest_percent->len;
  if (found->gstudy) {
    BtPlan one = bt_study_plan(found, 1, 1);
    found->one = bt_dstudy(found->gstudy, &one);
    found->reliability = found->one.decision;
    found->sem_percent = found->one.sem_absolute;
    return;
  }
  found->one.ranking = found->one.decision = bt_not_estimable(NO_RELIABILITY, n);
  found->one.sem_relative = found->one.sem_absolute = found->one.ranking;
  found->from_items = true;
  found->reliability = found->items->alpha;
  bool usable = !found->reliability.why_not && found->sd_percent > 0;
  found->sem_percent =
      usable ? bt_estimate(found->sd_percent * sqrt(1 - MAX(0, found->reliability.value)), n,
                           NO_RELIABILITY)
             : bt_not_estimable(n < 2 ? NO_TRAINEES : NO_RELIABILITY, n);
}

static BtDecision undecided(const char *why_not, gsize n) {
  BtEstimate none = bt_not_estimable(why_not, n);
  return (BtDecision){none, none, none, none, none, .why_two = NULL};
}

static void judge_decisions(BtStudyReliability *found) {
  gsize n = found->latest_percent->len;
  double r = found->reliability.value;
  const double *scores = (const double *)(const void *)found->latest_percent->data;
  if (found->reliability.why_not || found->sd_percent <= 0 || r <= 0) {
    const char *why = n < 2                        ? NO_TRAINEES
                      : found->reliability.why_not ? NO_RELIABILITY
                                                   : UNRELIABLE;
    found->decision = found->decision_normal = undecided(why, n);
    return;
  }
  found->decision = bt_decision_beta(scores, n, 0, PERCENT, found->cut_percent, r);
  found->decision_normal = bt_decision_normal(
      (found->cut_percent - found->mean_percent) / found->sd_percent, MIN(r, 1), n);
}

static int by_nearness(gconstpointer a, gconstpointer b) {
  double x = fabs(((const BtDoubtful *)a)->away_percent);
  double y = fabs(((const BtDoubtful *)b)->away_percent);
  return (x > y) - (x < y);
}

static void find_doubtful(BtStudyReliability *found, const GPtrArray *latest) {
  double sem = found->sem_percent.value;
  for (guint i = 0; i < latest->len && !found->sem_percent.why_not; i++) {
    const BtStudyRow *row = g_ptr_array_index(latest, i);
    double away = row->total_percent - found->cut_percent;
    BtDoubtful doubtful = {row, away, fabs(away) <= sem};
    if (fabs(away) <= WIDE * sem)
      g_array_append_val(found->doubtful, doubtful);
  }
  g_array_sort(found->doubtful, by_nearness);
}

// All of it -------------------------------------------------------------------

BtStudyReliability *bt_study_reliability(const BtStudy *study, double cut_percent,
                                         BtComponentMethod method) {
  BtStudyReliability *found = g_new0(BtStudyReliability, 1);
  g_autoptr(GPtrArray) observations = observations_of(study);
  g_autoptr(GPtrArray) latest = of_record(observations, true);
  found->rubric = study->rubric;
  found->cut_percent =
      cut_percent < 0 ? (double)study->rubric->score.pass_milli / MILLI : cut_percent;
  found->latest_percent = g_array_new(FALSE, FALSE, sizeof(double));
  found->doubtful = g_array_new(FALSE, FALSE, sizeof(BtDoubtful));
  count(found, study, observations);
  found->items = items_of(study, latest);
  choose_design(found, observations, latest, method);
  describe_latest(found, latest);
  find_reliability(found);
  judge_decisions(found);
  find_doubtful(found, latest);
  bt__study_severity(found, observations, latest);
  return found;
}

void bt_study_reliability_free(BtStudyReliability *found) {
  if (!found)
    return;
  g_free(found->items);
  bt_gstudy_free(found->gstudy);
  g_array_unref(found->latest_percent);
  g_array_unref(found->doubtful);
  bt_severity_free(found->severity);
  g_ptr_array_unref(found->assessor);
  g_array_unref(found->fair);
  g_free(found);
}
