// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/standard_logistic.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_linalg.h>

#include "measure/numerics.h"
#include "measure/standard_resample.h"

#define STEPS_MOST 100
#define HALVINGS   30
// Steps this small end the climb, relative to the coefficients of a standardised figure; what is
// left after them is about their square.
#define CLOSE_ENOUGH    1e-8
#define CLOSE_FOR_DRAWS 1e-5

typedef struct {
  const double *x, *weight;
  const bool *yes;
  gsize n;
  double mean, sd; // x is taken about its mean, in its standard deviations
  bool firth;
} Sample;

// At coefficients b: the slope of the likelihood, the information (its Cholesky factor), Newton's
// step, and how much higher that promises to lead. `sound` is false where there is no step.
typedef struct {
  bool sound;
  double slope[2], information[4], step[2];
  double promise;
} Look;

static double chance_of(double odds_log) {
  return 1 / (1 + exp(-odds_log));
}

// Adds the slope of Firth's half of the log of the determinant: the leverages times (1/2 - p).
static void add_firth(const Sample *sample, const double b[2], Look *at) {
  double inverse[4];
  memcpy(inverse, at->information, sizeof inverse);
  gsl_matrix_view view = gsl_matrix_view_array(inverse, 2, 2);
  gsl_linalg_cholesky_invert(&view.matrix);
  for (gsize i = 0; i < sample->n; i++) {
    double z = (sample->x[i] - sample->mean) / sample->sd, p = chance_of(b[0] + b[1] * z);
    double spread = inverse[0] + 2 * z * inverse[1] + z * z * inverse[3];
    double pull = sample->weight[i] * p * (1 - p) * spread * (0.5 - p);
    at->slope[0] += pull;
    at->slope[1] += pull * z;
  }
}

static void find_step(Look *at) {
  memcpy(at->step, at->slope, sizeof at->step);
  gsl_matrix_view factor = gsl_matrix_view_array(at->information, 2, 2);
  gsl_vector_view step = gsl_vector_view_array(at->step, 2);
  gsl_linalg_cholesky_svx(&factor.matrix, &step.vector);
  at->promise = at->slope[0] * at->step[0] + at->slope[1] * at->step[1];
  at->sound = isfinite(at->promise);
}

static Look look(const Sample *sample, const double b[2]) {
  Look at = {0};
  double w00 = 0, w01 = 0, w11 = 0, per_sd = 1 / sample->sd;
  for (gsize i = 0; i < sample->n; i++) {
    if (sample->weight[i] == 0)
      continue;
    double z = (sample->x[i] - sample->mean) * per_sd, p = chance_of(b[0] + b[1] * z);
    double w = sample->weight[i] * p * (1 - p), off = sample->weight[i] * (sample->yes[i] - p);
    at.slope[0] += off;
    at.slope[1] += off * z;
    w00 += w;
    w01 += w * z;
    w11 += w * z * z;
  }
  at.information[0] = w00;
  at.information[1] = at.information[2] = w01;
  at.information[3] = w11;
  gsl_matrix_view factor = gsl_matrix_view_array(at.information, 2, 2);
  if (gsl_linalg_cholesky_decomp1(&factor.matrix) != 0)
    return at;
  if (sample->firth)
    add_firth(sample, b, &at);
  find_step(&at);
  return at;
}

// Goes Newton's step, or as much of it as leaves less to climb. False: no part of it does.
static bool climb(const Sample *sample, double b[2], Look *at) {
  double part = 1;
  for (int halving = 0; halving < HALVINGS; halving++, part /= 2) {
    double next[2] = {b[0] + part * at->step[0], b[1] + part * at->step[1]};
    Look there = look(sample, next);
    if (there.sound && there.promise < at->promise) {
      b[0] = next[0];
      b[1] = next[1];
      *at = there;
      return true;
    }
  }
  return false;
}

static bool is_top(const Look *at, const double b[2], double close_enough) {
  return hypot(at->step[0], at->step[1]) <= close_enough * (1 + hypot(b[0], b[1]));
}

// Back from standardised x to x itself.
static BtLogistic in_units(const Sample *sample, const double b[2], Look *at) {
  gsl_matrix_view view = gsl_matrix_view_array(at->information, 2, 2);
  gsl_linalg_cholesky_invert(&view.matrix);
  double shift = sample->mean / sample->sd, v00 = at->information[0], v01 = at->information[1],
         v11 = at->information[3];
  return (BtLogistic){.converged = true,
                      .intercept = b[0] - b[1] * shift,
                      .slope = b[1] / sample->sd,
                      .var_intercept = v00 - 2 * shift * v01 + shift * shift * v11,
                      .var_slope = v11 / (sample->sd * sample->sd),
                      .covariance = (v01 - shift * v11) / sample->sd};
}

BtLogistic bt__logistic(const double *x, const bool *yes, const double *weight, gsize n, bool firth,
                        const BtLogistic *start) {
  bt__gsl_quiet();
  BtMoments moments = bt__moments(x, weight, n);
  if (!(moments.sd > 0))
    return (BtLogistic){0};
  Sample sample = {.x = x,
                   .weight = weight,
                   .yes = yes,
                   .n = n,
                   .mean = moments.mean,
                   .sd = moments.sd,
                   .firth = firth};
  double b[2] = {0, 0};
  if (start && start->converged) {
    b[0] = start->intercept + start->slope * sample.mean;
    b[1] = start->slope * sample.sd;
  }
  double close_enough = start ? CLOSE_FOR_DRAWS : CLOSE_ENOUGH;
  Look at = look(&sample, b);
  int steps = 0;
  while (at.sound && !is_top(&at, b, close_enough)) {
    if (++steps > STEPS_MOST || !climb(&sample, b, &at))
      return (BtLogistic){0};
  }
  if (!at.sound)
    return (BtLogistic){0};
  b[0] += at.step[0]; // the last one, too small to look again
  b[1] += at.step[1];
  return in_units(&sample, b, &at);
}
