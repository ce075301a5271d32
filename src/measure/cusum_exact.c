// SPDX-License-Identifier: GPL-3.0-or-later
//
// What a chart does to trainees of a known rate. Charts of two scores: the sum's distribution is
// followed from attempt to attempt through all the values it can have. Normal values: the integral
// equation of the average run length on Gauss-Legendre nodes.
#include "measure/cusum_parts.h"

#include "measure/numerics.h"

#include <gsl/gsl_integration.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define MASS_LEAST    1e-20 // of one value, beside all that have not signalled: less is left out
#define SETTLED       1e-14 // change of the chance to go on without a signal, when it is steady
#define SETTLED_STEPS 50
#define STEPS_MOST    100000
#define NODES         64

// The sum's distribution ------------------------------------------------------

typedef struct {
  double sum, mass;
} Atom;

typedef struct {
  GArray *atoms; // of Atom, by sum: what has not signalled yet
  GArray *next;
  double mass; // of all
} Cloud;

static Cloud start(void) {
  Cloud cloud = {g_array_new(FALSE, FALSE, sizeof(Atom)), g_array_new(FALSE, FALSE, sizeof(Atom)),
                 1};
  Atom zero = {0, 1};
  g_array_append_val(cloud.atoms, zero);
  return cloud;
}

static void clear(Cloud *cloud) {
  g_array_unref(cloud->atoms);
  g_array_unref(cloud->next);
}

// One value the next attempt leads to, as both kinds of attempt give them in order.
typedef struct {
  const BtCusum *chart;
  const GArray *atoms;
  guint at;
  bool passed;
  double share;
} Branch;

static bool branch_ended(const Branch *branch) {
  return branch->at >= branch->atoms->len;
}

static Atom branch_value(const Branch *branch) {
  const Atom *atom = &g_array_index(branch->atoms, Atom, branch->at);
  return (Atom){bt__cusum_next(branch->chart, atom->sum, branch->passed),
                atom->mass * branch->share};
}

static void put(GArray *atoms, Atom atom) {
  Atom *last = atoms->len ? &g_array_index(atoms, Atom, atoms->len - 1) : NULL;
  if (last && atom.sum - last->sum < BT__CUSUM_SAME)
    last->mass += atom.mass;
  else
    g_array_append_val(atoms, atom);
}

// Merges what a pass and what a "not yet" make of the cloud; what signals is lost to it.
static void attempt(Cloud *cloud, const BtCusum *chart, double rate) {
  Branch pass = {chart, cloud->atoms, 0, true, 1 - rate};
  Branch not_yet = {chart, cloud->atoms, 0, false, rate};
  double least = MASS_LEAST * cloud->mass;
  g_array_set_size(cloud->next, 0);
  cloud->mass = 0;
  while (!branch_ended(&pass) || !branch_ended(&not_yet)) {
    bool take_pass = branch_ended(&not_yet) ||
                     (!branch_ended(&pass) && branch_value(&pass).sum < branch_value(&not_yet).sum);
    Branch *branch = take_pass ? &pass : &not_yet;
    Atom atom = branch_value(branch);
    branch->at++;
    if (atom.mass <= least || bt__cusum_signals(chart, atom.sum))
      continue;
    cloud->mass += atom.mass;
    put(cloud->next, atom);
  }
  GArray *spare = cloud->atoms;
  cloud->atoms = cloud->next;
  cloud->next = spare;
}

BtEstimate bt_cusum_signals(const BtCusum *chart, double rate, gsize attempts) {
  if (chart->why_not)
    return bt_not_estimable(chart->why_not, attempts);
  if (!(rate >= 0 && rate <= 1))
    return bt_not_estimable("a rate lies between 0 and 1", attempts);
  Cloud cloud = start();
  double signalled = 0;
  for (gsize i = 0; i < attempts; i++) {
    double before = cloud.mass;
    attempt(&cloud, chart, rate);
    signalled += before - cloud.mass;
  }
  clear(&cloud);
  return bt_estimate(CLAMP(signalled, 0, 1), attempts, "the chance is beyond what numbers hold");
}

// Sums the chances to go on. Once the share that goes on is steady, the rest is a geometric series.
BtEstimate bt_cusum_run(const BtCusum *chart, double rate) {
  if (chart->why_not)
    return bt_not_estimable(chart->why_not, 0);
  if (!(rate >= 0 && rate <= 1))
    return bt_not_estimable("a rate lies between 0 and 1", 0);
  Cloud cloud = start();
  double run = 0, share_before = -1;
  int steady = 0;
  for (int i = 0; i < STEPS_MOST && cloud.mass > 0 && steady < SETTLED_STEPS; i++) {
    double before = cloud.mass;
    run += before;
    attempt(&cloud, chart, rate);
    double share = cloud.mass / before;
    steady = fabs(share - share_before) < SETTLED ? steady + 1 : 0;
    share_before = share;
  }
  double rest = cloud.mass > 0 ? cloud.mass / (1 - share_before) : 0;
  bool ended = cloud.mass <= 0 || (steady >= SETTLED_STEPS && share_before < 1 - SETTLED);
  clear(&cloud);
  return ended ? bt_estimate(run + rest, 0, "the run is beyond what numbers hold")
               : bt_not_estimable("at this rate the chart hardly ever signals", 0);
}

// Normal values ---------------------------------------------------------------

// Fills (I - K) of L(u) = 1 + L(0) P(0|u) + sum of w L(x) p(x|u), u being 0 and the nodes.
static void fill_system(gsl_matrix *system, const gsl_integration_glfixed_table *table,
                        double slack, double limit, double shift) {
  gsize size = system->size1;
  double at[NODES + 1] = {0}, weight[NODES + 1] = {0};
  for (gsize j = 1; j < size; j++)
    gsl_integration_glfixed_point(0, limit, j - 1, &at[j], &weight[j], table);
  for (gsize i = 0; i < size; i++) {
    double drop = slack - shift - at[i]; // X less this is the next sum
    gsl_matrix_set(system, i, 0, (i == 0) - pnorm(drop, 0, 1, TRUE, FALSE));
    for (gsize j = 1; j < size; j++)
      gsl_matrix_set(system, i, j, (i == j) - weight[j] * dnorm(at[j] + drop, 0, 1, FALSE));
  }
}

BtEstimate bt_cusum_normal_run(double slack, double limit, double shift) {
  if (!(slack >= 0) || !(limit > 0) || !isfinite(slack + limit + shift))
    return bt_not_estimable("slack must not be below 0, and the limit must be above 0", 0);
  bt__gsl_quiet();
  gsize size = NODES + 1;
  gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(NODES);
  gsl_matrix *system = gsl_matrix_alloc(size, size);
  gsl_vector *ones = gsl_vector_alloc(size), *run = gsl_vector_alloc(size);
  gsl_permutation *order = gsl_permutation_alloc(size);
  int sign;
  fill_system(system, table, slack, limit, shift);
  gsl_vector_set_all(ones, 1);
  bool solved = gsl_linalg_LU_decomp(system, order, &sign) == GSL_SUCCESS &&
                gsl_linalg_LU_solve(system, order, ones, run) == GSL_SUCCESS;
  double from_zero = gsl_vector_get(run, 0);
  gsl_permutation_free(order);
  gsl_vector_free(run);
  gsl_vector_free(ones);
  gsl_matrix_free(system);
  gsl_integration_glfixed_table_free(table);
  return solved && from_zero >= 1
             ? bt_estimate(from_zero, 0, "the run is beyond what numbers hold")
             : bt_not_estimable("at this shift the chart hardly ever signals", 0);
}
