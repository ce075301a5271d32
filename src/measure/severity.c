// SPDX-License-Identifier: GPL-3.0-or-later
//
// Severity of assessors from scores with holes.
#include <benchtally/severity.h>

#include <benchtally/mixed.h>

#include "measure/numerics.h"
#include "measure/spread.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

#define NO_SCORE           "no score was given"
#define NOT_FINITE         "the value is beyond what numbers hold"
#define LEFT_OUT           "scored no session that the others scored"
#define SCORED_BY_LEFT_OUT "its assessors scored no session that the others scored"
#define TOO_FEW            "assessors share too few trainees to tell severity from chance"

// The scores to compare with subjects and assessors numbered without gaps, and what was fitted to
// them.
typedef struct {
  const BtJudged *judged;
  gsize subjects, assessors;               // that have scores
  gsize *subject, *assessor;               // of each score
  gsize *subject_number, *assessor_number; // of each as given; G_MAXSIZE: none to compare
  double df;                               // of the error
} Work;

// Numbering -------------------------------------------------------------------

static gsize *number(const gsize *given, gsize n, gsize most, gsize *numbers, gsize *used) {
  gsize *of = g_new(gsize, n);
  for (gsize i = 0; i < most; i++)
    numbers[i] = G_MAXSIZE;
  *used = 0;
  for (gsize i = 0; i < n; i++) {
    gsize *at = &numbers[given[i]];
    if (*at == G_MAXSIZE)
      *at = (*used)++;
    of[i] = *at;
  }
  return of;
}

static Work set_up(const BtJudged *judged) {
  Work work = {.judged = judged};
  work.subject_number = g_new(gsize, judged->subjects);
  work.assessor_number = g_new(gsize, judged->assessors);
  work.subject =
      number(judged->subject, judged->n, judged->subjects, work.subject_number, &work.subjects);
  work.assessor =
      number(judged->assessor, judged->n, judged->assessors, work.assessor_number, &work.assessors);
  work.df = (double)judged->n + 1 - (double)work.subjects - (double)work.assessors;
  return work;
}

static void tear_down(Work *work) {
  g_free(work->subject);
  g_free(work->assessor);
  g_free(work->subject_number);
  g_free(work->assessor_number);
}

// Means and links -------------------------------------------------------------

// The scores of each subject or assessor one after another; `first` gets where each begins.
static double *sorted_scores(const double *score, const gsize *of, gsize n, gsize most,
                             gsize *first) {
  double *sorted = g_new(double, n);
  for (gsize i = 0; i <= most; i++)
    first[i] = 0;
  for (gsize i = 0; i < n; i++)
    first[of[i] + 1]++;
  for (gsize i = 0; i < most; i++)
    first[i + 1] += first[i];
  g_autofree gsize *next = g_memdup2(first, most * sizeof *first);
  for (gsize i = 0; i < n; i++)
    sorted[next[of[i]]++] = score[i];
  return sorted;
}

static BtEstimate raw_mean(const double *score, gsize n) {
  if (n == 0)
    return bt_not_estimable(NO_SCORE, 0);
  BtSpread spread = bt__spread(score, n);
  return bt_estimate_t(spread.mean, spread.sd / sqrt((double)n), (double)n - 1, n, NOT_FINITE);
}

static void tell_means(BtSeverityStudy *told, const BtJudged *judged) {
  gsize most = MAX(judged->subjects, judged->assessors);
  g_autofree gsize *first = g_new(gsize, most + 1);
  g_autofree double *by_assessor =
      sorted_scores(judged->score, judged->assessor, judged->n, judged->assessors, first);
  for (gsize a = 0; a < judged->assessors; a++) {
    told->assessor[a].n = first[a + 1] - first[a];
    told->assessor[a].raw_mean = raw_mean(&by_assessor[first[a]], told->assessor[a].n);
  }
  g_autofree double *by_subject =
      sorted_scores(judged->score, judged->subject, judged->n, judged->subjects, first);
  for (gsize s = 0; s < judged->subjects; s++) {
    told->subject[s].n = first[s + 1] - first[s];
    told->subject[s].raw_mean = raw_mean(&by_subject[first[s]], told->subject[s].n);
  }
}

static gsize root(gsize *parent, gsize i) {
  while (parent[i] != i)
    i = parent[i] = parent[parent[i]];
  return i;
}

// Assessors who scored the same subject are of one group, and so are those whom others link.
static void tell_groups(BtSeverityStudy *told, const BtJudged *judged) {
  g_autofree gsize *parent = g_new(gsize, judged->assessors);
  g_autofree gsize *first_of = g_new(gsize, judged->subjects);
  for (gsize a = 0; a < judged->assessors; a++)
    parent[a] = a;
  for (gsize s = 0; s < judged->subjects; s++)
    first_of[s] = G_MAXSIZE;
  for (gsize i = 0; i < judged->n; i++) {
    gsize *first = &first_of[judged->subject[i]];
    if (*first == G_MAXSIZE)
      *first = judged->assessor[i];
    parent[root(parent, judged->assessor[i])] = root(parent, *first);
  }
  for (gsize a = 0; a < judged->assessors; a++) {
    if (told->assessor[a].n > 0 && root(parent, a) == a)
      told->assessor[a].group = told->groups++;
  }
  for (gsize a = 0; a < judged->assessors; a++)
    told->assessor[a].group = told->assessor[root(parent, a)].group;
}

static void tell_shared(BtSeverityStudy *told, const BtJudged *judged) {
  g_autofree gsize *only = g_new(gsize, judged->subjects); // the one assessor; none; several
  const gsize none = G_MAXSIZE, several = G_MAXSIZE - 1;
  for (gsize s = 0; s < judged->subjects; s++)
    only[s] = none;
  for (gsize i = 0; i < judged->n; i++) {
    gsize *at = &only[judged->subject[i]];
    *at = *at == none || *at == judged->assessor[i] ? judged->assessor[i] : several;
  }
  for (gsize i = 0; i < judged->n; i++)
    told->assessor[judged->assessor[i]].shared += only[judged->subject[i]] == several;
}

// The group to compare: the one with the most scores of those with two or more assessors. Of equals
// the first in the scores; G_MAXSIZE without any.
static gsize largest_group(const BtSeverityStudy *told, const BtJudged *judged) {
  gsize largest = G_MAXSIZE;
  g_autofree gsize *scores = g_new0(gsize, told->groups);
  g_autofree gsize *members = g_new0(gsize, told->groups);
  for (gsize a = 0; a < told->assessors; a++) {
    const BtAssessorSeverity *one = &told->assessor[a];
    if (one->n == 0)
      continue;
    scores[one->group] += one->n;
    members[one->group]++;
  }
  for (gsize i = 0; i < judged->n; i++) {
    gsize group = told->assessor[judged->assessor[i]].group;
    if (members[group] > 1 && (largest == G_MAXSIZE || scores[group] > scores[largest]))
      largest = group;
  }
  return largest;
}

// Without a group to compare nobody is left out of it.
static void tell_left_out(BtSeverityStudy *told, gsize group) {
  for (gsize a = 0; a < told->assessors; a++) {
    BtAssessorSeverity *one = &told->assessor[a];
    one->left_out = group != G_MAXSIZE && one->n > 0 && one->group != group;
    told->left_out += one->left_out;
  }
}

typedef struct {
  BtJudged judged;
  double *score;
  gsize *subject, *assessor;
} Kept;

// The scores of those who are compared, all subjects and assessors numbered as given.
static Kept keep_compared(const BtSeverityStudy *told, const BtJudged *judged) {
  Kept kept = {.score = g_new(double, judged->n),
               .subject = g_new(gsize, judged->n),
               .assessor = g_new(gsize, judged->n)};
  gsize n = 0;
  for (gsize i = 0; i < judged->n; i++) {
    if (told->assessor[judged->assessor[i]].left_out)
      continue;
    kept.score[n] = judged->score[i];
    kept.subject[n] = judged->subject[i];
    kept.assessor[n++] = judged->assessor[i];
  }
  kept.judged =
      (BtJudged){n, kept.score, kept.subject, kept.assessor, judged->subjects, judged->assessors};
  return kept;
}

static void kept_clear(Kept *kept) {
  g_free(kept->score);
  g_free(kept->subject);
  g_free(kept->assessor);
}

// As random -------------------------------------------------------------------

enum { SUBJECT, ASSESSOR };

static BtMixed *fit_model(const Work *work) {
  BtMixedTerm terms[] = {
      [SUBJECT] = {.groups = work->subjects, .of = work->subject, .fixed = true},
      [ASSESSOR] = {.groups = work->assessors, .of = work->assessor},
  };
  BtMixedData data = {.rows = work->judged->n,
                      .y = work->judged->score,
                      .terms = G_N_ELEMENTS(terms),
                      .term = terms};
  return bt_mixed_fit(&data, BT_MIXED_REML);
}

// An effect with its error; none where the effect has no variance to predict from.
static BtEstimate effect_of(const Work *work, const BtMixedPart *part, gsize at, double sign,
                            gsize n) {
  double variance = part->effect_variance[at];
  return bt_estimate_t(sign * part->effect[at], variance > 0 ? sqrt(variance) : NAN, work->df, n,
                       NOT_FINITE);
}

static void tell_random(BtSeverityStudy *told, const Work *work, const BtMixed *fit) {
  for (gsize a = 0; a < told->assessors; a++) {
    BtAssessorSeverity *one = &told->assessor[a];
    if (work->assessor_number[a] != G_MAXSIZE)
      one->as_random = effect_of(work, &fit->part[ASSESSOR], work->assessor_number[a], -1, one->n);
  }
  // The equation of a subject makes its effect the raw mean less the mean effect of its assessors.
  for (gsize s = 0; told->random && s < told->subjects; s++) {
    BtFairMean *one = &told->subject[s];
    if (work->subject_number[s] != G_MAXSIZE)
      one->fair_mean = effect_of(work, &fit->part[SUBJECT], work->subject_number[s], 1, one->n);
  }
}

// As fixed --------------------------------------------------------------------

// Scores of one subject after another: the assessor of each, and where each subject begins.
typedef struct {
  gsize *first, *assessor;
  double *score;
} Sorted;

static Sorted sort_by_subject(const Work *work) {
  const BtJudged *judged = work->judged;
  Sorted sorted = {.first = g_new(gsize, work->subjects + 1), .assessor = g_new(gsize, judged->n)};
  sorted.score =
      sorted_scores(judged->score, work->subject, judged->n, work->subjects, sorted.first);
  g_autofree gsize *next = g_memdup2(sorted.first, work->subjects * sizeof *sorted.first);
  for (gsize i = 0; i < judged->n; i++)
    sorted.assessor[next[work->subject[i]]++] = work->assessor[i];
  return sorted;
}

static void sorted_clear(Sorted *sorted) {
  g_free(sorted->first);
  g_free(sorted->assessor);
  g_free(sorted->score);
}

// The shares of the assessors in one subject's scores; the caller has them cleared.
static void add_shares(const Sorted *sorted, gsize subject, gsl_vector *share) {
  gsize first = sorted->first[subject], n = sorted->first[subject + 1] - first;
  for (gsize i = 0; i < n; i++)
    *gsl_vector_ptr(share, sorted->assessor[first + i]) += 1 / (double)n;
}

// Equations of the assessors with the subjects taken out: C a = q, C the counts less, for each
// subject, its n times the products of shares, q the sums of scores about the subjects' means. The
// assessors' effects are told about their mean, so ones are added to C, which hold nothing else.
static void add_subject(const Sorted *sorted, gsize subject, gsl_matrix *c, gsl_vector *q) {
  gsize first = sorted->first[subject], n = sorted->first[subject + 1] - first;
  double mean = bt__spread(&sorted->score[first], n).mean;
  for (gsize i = 0; i < n; i++) {
    gsize a = sorted->assessor[first + i];
    *gsl_vector_ptr(q, a) += sorted->score[first + i] - mean;
    *gsl_matrix_ptr(c, a, a) += 1;
    for (gsize j = 0; j < n; j++)
      *gsl_matrix_ptr(c, a, sorted->assessor[first + j]) -= 1 / (double)n;
  }
}

typedef struct {
  gsl_matrix *inverse;       // of C: the effects' covariance, but for the variance of a score
  gsl_vector *effect;        // about their mean
  gsl_vector *share, *moved; // scratch
  double variance;
} Within;

static Within solve_within(const Work *work, const Sorted *sorted) {
  gsize n = work->assessors;
  Within within = {.inverse = gsl_matrix_alloc(n, n),
                   .effect = gsl_vector_alloc(n),
                   .share = gsl_vector_alloc(n),
                   .moved = gsl_vector_alloc(n)};
  gsl_vector *q = gsl_vector_calloc(n);
  gsl_matrix_set_all(within.inverse, 1 / (double)n);
  for (gsize s = 0; s < work->subjects; s++)
    add_subject(sorted, s, within.inverse, q);
  gsl_linalg_cholesky_decomp1(within.inverse);
  gsl_linalg_cholesky_invert(within.inverse);
  gsl_matrix_add_constant(within.inverse, -1 / (double)n); // the ones again
  gsl_blas_dsymv(CblasLower, 1, within.inverse, q, 0, within.effect);
  gsl_vector_free(q);
  return within;
}

static void within_clear(Within *within) {
  gsl_matrix_free(within->inverse);
  gsl_vector_free(within->effect);
  gsl_vector_free(within->share);
  gsl_vector_free(within->moved);
}

static double variance_within(const Work *work, const Sorted *sorted, const Within *within) {
  g_autofree double *left = g_new(double, work->judged->n);
  double sum = 0;
  for (gsize s = 0; s < work->subjects; s++) {
    gsize first = sorted->first[s], n = sorted->first[s + 1] - first;
    for (gsize i = first; i < first + n; i++)
      left[i] = sorted->score[i] - gsl_vector_get(within->effect, sorted->assessor[i]);
    sum += bt__spread(&left[first], n).sum_of_squares;
  }
  return sum / work->df;
}

// What the shares of the assessors make of their effects, and its variance for a score of 1.
static double mean_effect(const Sorted *sorted, gsize subject, const Within *within,
                          double *variance) {
  double mean;
  gsl_vector_set_zero(within->share);
  add_shares(sorted, subject, within->share);
  gsl_blas_dsymv(CblasLower, 1, within->inverse, within->share, 0, within->moved);
  gsl_blas_ddot(within->share, within->moved, variance);
  gsl_blas_ddot(within->share, within->effect, &mean);
  return mean;
}

static void tell_fixed(BtSeverityStudy *told, const Work *work) {
  Sorted sorted = sort_by_subject(work);
  Within within = solve_within(work, &sorted);
  within.variance = variance_within(work, &sorted, &within);
  for (gsize a = 0; a < told->assessors; a++) {
    BtAssessorSeverity *one = &told->assessor[a];
    gsize at = work->assessor_number[a];
    if (at != G_MAXSIZE)
      one->as_fixed = bt_estimate_t(-gsl_vector_get(within.effect, at),
                                    sqrt(within.variance * gsl_matrix_get(within.inverse, at, at)),
                                    work->df, one->n, NOT_FINITE);
  }
  // Comparisons within subjects tell nothing of the subjects' mean errors: the two are
  // independent, their variances add.
  for (gsize s = 0; !told->random && s < told->subjects; s++) {
    BtFairMean *one = &told->subject[s];
    double of_effect = 0;
    if (work->subject_number[s] == G_MAXSIZE)
      continue;
    double effect = mean_effect(&sorted, work->subject_number[s], &within, &of_effect);
    one->fair_mean =
        bt_estimate_t(one->raw_mean.value - effect,
                      sqrt(within.variance * (1 / (double)one->n + fmax(of_effect, 0))), work->df,
                      one->n, NOT_FINITE);
  }
  within_clear(&within);
  sorted_clear(&sorted);
}

// All -------------------------------------------------------------------------

static const char *why_not(const BtSeverityStudy *told, const Work *work) {
  if (told->n == 0)
    return "no score was given";
  if (told->groups > 1 && told->left_out == 0)
    return "assessors fall into groups that share no trainee";
  if (work->assessors < 2)
    return "there is only one assessor";
  if (work->subjects < 2)
    return told->left_out > 0 ? TOO_FEW : "there is only one trainee";
  if (work->df < 1)
    return TOO_FEW;
  return NULL;
}

// Why one has no figure; `of_left_out` for those who are not compared.
static BtEstimate none_for(const char *why_not, const char *of_left_out, bool left_out, gsize n) {
  return bt_not_estimable(n == 0 ? NO_SCORE : left_out ? of_left_out : why_not, n);
}

// What is not estimated: all, or those left out.
static void tell_nothing(BtSeverityStudy *told, const Work *work) {
  for (gsize a = 0; a < told->assessors; a++) {
    BtAssessorSeverity *one = &told->assessor[a];
    bool left_out = work->assessor_number[a] == G_MAXSIZE;
    one->severity = one->as_fixed = one->as_random =
        none_for(told->why_not, LEFT_OUT, left_out, one->n);
  }
  for (gsize s = 0; s < told->subjects; s++) {
    BtFairMean *mean = &told->subject[s];
    bool left_out = work->subject_number[s] == G_MAXSIZE;
    mean->fair_mean = none_for(told->why_not, SCORED_BY_LEFT_OUT, left_out, mean->n);
  }
}

static void tell_models(BtSeverityStudy *told, const Work *work) {
  g_autoptr(BtMixed) fit = fit_model(work);
  told->why_not = fit->why_not;
  if (told->why_not)
    return;
  told->random = work->assessors >= BT_SEVERITY_FEW;
  told->assessor_variance = fit->part[ASSESSOR].variance;
  told->residual_variance = fit->residual_variance;
  tell_fixed(told, work);
  tell_random(told, work, fit);
  for (gsize a = 0; a < told->assessors; a++) {
    BtAssessorSeverity *one = &told->assessor[a];
    one->severity = told->random ? one->as_random : one->as_fixed;
  }
}

BtSeverityStudy *bt_severity(const BtJudged *judged) {
  bt__gsl_quiet();
  BtSeverityStudy *told = g_new0(BtSeverityStudy, 1);
  told->n = judged->n;
  told->subjects = judged->subjects;
  told->assessors = judged->assessors;
  told->assessor = g_new0(BtAssessorSeverity, judged->assessors);
  told->subject = g_new0(BtFairMean, judged->subjects);
  tell_means(told, judged);
  tell_groups(told, judged);
  tell_shared(told, judged);
  tell_left_out(told, largest_group(told, judged));
  Kept kept = keep_compared(told, judged);
  Work work = set_up(&kept.judged);
  told->why_not = why_not(told, &work);
  tell_nothing(told, &work);
  if (!told->why_not)
    tell_models(told, &work);
  if (told->why_not)
    tell_nothing(told, &work);
  tear_down(&work);
  kept_clear(&kept);
  return told;
}

void bt_severity_free(BtSeverityStudy *severity) {
  if (!severity)
    return;
  g_free(severity->assessor);
  g_free(severity->subject);
  g_free(severity);
}
