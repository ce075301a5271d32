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

#define MASS_LEAST   1e-20 // of one value, of all that have not signalled: less is left out
#define ATOMS_MOST   4096  // values followed one by one; more are put on a lattice
#define LATTICE      2048  // its steps up to the limit
#define STEADY       1e-11 // relative change of the chance of a signal, when it is steady
#define STEADY_STEPS 50
#define NOTHING      1e-12 // of the run: so little is left to add that it need not be steady
#define STEPS_MOST   50000
#define NODES        64

// The sum's distribution ------------------------------------------------------

typedef struct {
  double sum, mass;
} Atom;

// Where the sum is, given that there was no signal yet.
typedef struct {
  GArray *atoms; // of Atom, by sum; their mass is 1
  GArray *next;
  double step; // of the lattice they are on; 0: each value is its own
} Cloud;

static Cloud start(void) {
  Cloud cloud = {.atoms = g_array_new(FALSE, FALSE, sizeof(Atom)),
                 .next = g_array_new(FALSE, FALSE, sizeof(Atom))};
  Atom zero = {0, 1};
  g_array_append_val(cloud.atoms, zero);
  return cloud;
}

static void clear(Cloud *cloud) {
  g_array_unref(cloud->atoms);
  g_array_unref(cloud->next);
}

// What one kind of attempt makes of the values, in their order.
typedef struct {
  const BtCusum *chart;
  const GArray *atoms;
  guint at; // of the value that `atom` came from
  bool passed;
  double share;
  Atom atom; // INFINITY at the end
} Branch;

static void look(Branch *branch) {
  branch->atom = (Atom){INFINITY, 0};
  if (branch->at >= branch->atoms->len)
    return;
  const Atom *from = &g_array_index(branch->atoms, Atom, branch->at);
  branch->atom.sum = bt__cusum_next(branch->chart, from->sum, branch->passed);
  branch->atom.mass = from->mass * branch->share;
}

static Atom take(Branch *branch) {
  Atom atom = branch->atom;
  branch->at++;
  look(branch);
  return atom;
}

// Adds to one of the last two values, or behind them.
static void add(GArray *atoms, double sum, double mass) {
  for (guint back = 1; back <= MIN(2, atoms->len); back++) {
    Atom *atom = &g_array_index(atoms, Atom, atoms->len - back);
    if (fabs(sum - atom->sum) < BT__CUSUM_SAME) {
      atom->mass += mass;
      return;
    }
  }
  Atom atom = {sum, mass};
  g_array_append_val(atoms, atom);
}

// Values come in order. On a lattice each is shared out between its neighbours, its mean kept.
static void put(Cloud *cloud, Atom atom) {
  if (cloud->step == 0) {
    add(cloud->next, atom.sum, atom.mass);
    return;
  }
  double below = floor(atom.sum / cloud->step), share = atom.sum / cloud->step - below;
  add(cloud->next, below * cloud->step, atom.mass * (1 - share));
  add(cloud->next, (below + 1) * cloud->step, atom.mass * share);
}

// Makes `next` the cloud, its mass 1 again.
static void turn(Cloud *cloud, double mass) {
  for (guint i = 0; i < cloud->next->len; i++)
    g_array_index(cloud->next, Atom, i).mass /= mass;
  GArray *spare = cloud->atoms;
  cloud->atoms = cloud->next;
  cloud->next = spare;
}

// Merges what a pass and what a "not yet" make of the cloud. Gives the chance of a signal.
static double attempt(Cloud *cloud, const BtCusum *chart, double rate) {
  Branch pass = {.chart = chart, .atoms = cloud->atoms, .passed = true, .share = 1 - rate};
  Branch not_yet = {.chart = chart, .atoms = cloud->atoms, .passed = false, .share = rate};
  double signalled = 0, mass = 0;
  if (cloud->atoms->len > ATOMS_MOST)
    cloud->step = chart->limit / LATTICE;
  g_array_set_size(cloud->next, 0);
  look(&pass);
  look(&not_yet);
  while (pass.atom.sum < INFINITY || not_yet.atom.sum < INFINITY) {
    Atom atom = take(pass.atom.sum < not_yet.atom.sum ? &pass : &not_yet);
    if (bt__cusum_signals(chart, atom.sum)) {
      signalled += atom.mass;
    } else if (atom.mass > MASS_LEAST) {
      mass += atom.mass;
      put(cloud, atom);
    }
  }
  if (mass > 0)
    turn(cloud, mass);
  return MIN(signalled, 1);
}

static const char *why_not_followed(const BtCusum *chart, double rate) {
  if (chart->why_not)
    return chart->why_not;
  return rate >= 0 && rate <= 1 ? NULL : "a rate lies between 0 and 1";
}

BtEstimate bt_cusum_signals(const BtCusum *chart, double rate, gsize attempts) {
  const char *why_not = why_not_followed(chart, rate);
  if (why_not)
    return bt_not_estimable(why_not, attempts);
  Cloud cloud = start();
  double without = 1, signalled = 0;
  for (gsize i = 0; i < attempts && without > 0; i++) {
    double now = without * attempt(&cloud, chart, rate);
    signalled += now;
    without -= now;
  }
  clear(&cloud);
  return bt_estimate(CLAMP(signalled, 0, 1), attempts, "the chance is beyond what numbers hold");
}

// Sums the chances to go on. Once the chance of a signal is steady, the rest is a geometric series.
static double followed_run(const BtCusum *chart, double rate) {
  Cloud cloud = start();
  double run = 0, without = 1, before = 0, rest = -1;
  int steady = 0;
  for (int i = 0; i < STEPS_MOST && rest < 0; i++) {
    run += without;
    double signal = attempt(&cloud, chart, rate);
    without *= 1 - signal;
    bool same = signal > 0 && fabs(signal - before) <= STEADY * signal;
    steady = same ? steady + 1 : 0;
    before = signal;
    if (without <= NOTHING * run * signal || steady >= STEADY_STEPS)
      rest = without > 0 ? without / signal : 0;
  }
  clear(&cloud);
  return rest < 0 ? INFINITY : run + rest;
}

BtEstimate bt_cusum_run(const BtCusum *chart, double rate) {
  const char *why_not = why_not_followed(chart, rate);
  if (why_not)
    return bt_not_estimable(why_not, 0);
  double up = chart->on_pass > 0 ? 1 - rate : rate; // the chance of what adds to the sum
  return bt_estimate(up > 0 ? followed_run(chart, rate) : INFINITY, 0,
                     "at this rate the chart hardly ever signals");
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
