// SPDX-License-Identifier: GPL-3.0-or-later
//
// Variance components from sums of squares.
#include "measure/gstudy_parts.h"

#include <gsl/gsl_linalg.h>

#include "measure/numerics.h"

#define NO_FIGURE "the scores do not determine it"
// A pivot this small against the number of scores is none: two effects say the same.
#define LEAST_PIVOT 1e-9

int bt__effect_index(const BtDesign *design, guint effect) {
  int i = 0;
  while (design->effect[i] != effect)
    i++;
  return i;
}

double bt__scores_each(const BtGStudy *study, int effect) {
  return (double)study->n / (double)study->effect[effect].groups;
}

// Complete scores -------------------------------------------------------------

// Each component as a sum of mean squares, `weight[effect][mean square]`, row by row. From
// E(MS of a) = sum over b that hold a of pi(b) component(b), pi(b) being how many scores each group
// of b has (Brennan 2001, section 3.4.4), solved from the largest effect down.
static double *weights_of(const BtGStudy *study) {
  const BtDesign *design = study->design;
  gsize n = (gsize)design->effects;
  double *weight = g_new0(double, n *n);
  for (gsize a = n; a-- > 0;) {
    double each = bt__scores_each(study, (int)a);
    weight[a * n + a] = 1 / each;
    for (gsize b = a + 1; b < n; b++) {
      if ((design->effect[a] & design->effect[b]) != design->effect[a])
        continue;
      double share = bt__scores_each(study, (int)b) / each;
      for (gsize j = b; j < n; j++)
        weight[a * n + j] -= share * weight[b * n + j];
    }
  }
  return weight;
}

// The component, with its standard error from var(MS) = 2 MS^2 / (df + 2).
static BtEstimate component_of(const BtGStudy *study, const double *weight, gsize groups) {
  double value = 0, variance = 0;
  for (int j = 0; j < study->design->effects; j++) {
    double part = weight[j] * study->effect[j].mean_square.value;
    value += part;
    variance += 2 * part * part / (study->effect[j].df + 2);
  }
  BtEstimate component = bt_estimate_se(value, sqrt(variance), groups, NO_FIGURE);
  component.has_limits = false; // far from normal, with as few conditions as there are
  component.low = component.high = 0;
  return component;
}

// Satterthwaite's (1946) degrees of freedom of relative error at the study's own conditions: the
// mean square of the objects over their number of scores is universe variance plus that error.
static double error_df(const BtGStudy *study, const double *weight) {
  const BtDesign *design = study->design;
  int object = bt__effect_index(design, 1U << design->object);
  const double *row = weight + (gsize)object * (gsize)design->effects;
  double error = 0, squares = 0;
  for (int j = 0; j < design->effects; j++) {
    double w = (j == object ? 1 / bt__scores_each(study, object) : 0) - row[j];
    double part = w * study->effect[j].mean_square.value;
    error += part;
    squares += part * part / study->effect[j].df;
  }
  return squares > 0 ? error * error / squares : 0;
}

bool bt__gstudy_complete(BtGStudy *study) {
  int n = study->design->effects;
  for (int i = 0; i < n; i++) {
    if (study->effect[i].mean_square.why_not)
      return false;
  }
  g_autofree double *weight = weights_of(study);
  for (int i = 0; i < n; i++)
    study->effect[i].component =
        component_of(study, weight + (gsize)i * (gsize)n, study->effect[i].groups);
  study->error_df = error_df(study, weight);
  return true;
}

// Incomplete scores -----------------------------------------------------------

// By how much the component of `b` comes into the uncorrected sum of squares of `a`: the sum over
// groups of both of size squared over the size of the group of `a` (Brennan 2001, eq. 7.3; Searle,
// Casella and McCulloch 1992, chapter 5). `both` are the groups of the two effects together.
static double coefficient(const BtGroups *a, const BtGroups *both) {
  double sum = 0;
  for (gsize g = 0; g < both->groups; g++) {
    double size = (double)both->size[g];
    sum += size * size / (double)a->size[a->of[both->first[g]]];
  }
  return sum;
}

static double coefficient_of_mean(const BtGroups *b, gsize n) {
  double sum = 0;
  for (gsize g = 0; g < b->groups; g++)
    sum += (double)b->size[g] * (double)b->size[g];
  return sum / (double)n;
}

// The uncorrected sum of squares of an effect less that of the mean, from parts that were taken
// about the mean, so that scores far from 0 lose no digits.
static double about_mean(const BtGStudy *study, int effect) {
  guint set = study->design->effect[effect];
  double sum = 0;
  for (int i = 0; i <= effect; i++) {
    if ((study->design->effect[i] & set) == study->design->effect[i])
      sum += study->effect[i].sum_of_squares;
  }
  return sum;
}

static gsl_matrix *equations(const BtGStudy *study, const BtGroups *groups) {
  const BtDesign *design = study->design;
  gsize n = (gsize)design->effects;
  gsl_matrix *matrix = gsl_matrix_alloc(n, n);
  for (gsize b = 0; b < n; b++) {
    double of_mean = coefficient_of_mean(&groups[b], study->n);
    for (gsize a = 0; a < n; a++) {
      int both = bt__effect_index(design, design->effect[a] | design->effect[b]);
      gsl_matrix_set(matrix, a, b, coefficient(&groups[a], &groups[both]) - of_mean);
    }
  }
  return matrix;
}

static double least_pivot(const gsl_matrix *lu) {
  double least = fabs(gsl_matrix_get(lu, 0, 0));
  for (gsize i = 1; i < lu->size1; i++)
    least = MIN(least, fabs(gsl_matrix_get(lu, i, i)));
  return least;
}

static bool solve(gsl_matrix *matrix, const gsl_vector *right, gsl_vector *solution, gsize scores) {
  int sign = 0;
  gsl_permutation *order = gsl_permutation_alloc(matrix->size1);
  bool solved = gsl_linalg_LU_decomp(matrix, order, &sign) == 0 &&
                least_pivot(matrix) > LEAST_PIVOT * (double)scores &&
                gsl_linalg_LU_solve(matrix, order, right, solution) == 0;
  gsl_permutation_free(order);
  return solved;
}

bool bt__gstudy_henderson(BtGStudy *study, const BtGroups *groups) {
  bt__gsl_quiet();
  gsize n = (gsize)study->design->effects;
  gsl_matrix *matrix = equations(study, groups);
  gsl_vector *right = gsl_vector_alloc(n), *solution = gsl_vector_alloc(n);
  for (gsize i = 0; i < n; i++)
    gsl_vector_set(right, i, about_mean(study, (int)i));
  bool solved = solve(matrix, right, solution, study->n);
  for (gsize i = 0; i < n && solved; i++)
    study->effect[i].component =
        bt_estimate(gsl_vector_get(solution, i), study->effect[i].groups, NO_FIGURE);
  gsl_matrix_free(matrix);
  gsl_vector_free(right);
  gsl_vector_free(solution);
  return solved;
}
