// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/standard_logistic.h"

#include <math.h>

#include <gsl/gsl_linalg.h>

#include "measure/numerics.h"
#include "measure/standard_resample.h"

#define STEPS_MOST   100
#define HALVINGS     30
#define CLOSE_ENOUGH 1e-11 // relative to coefficients of a standardised figure

typedef struct {
  const double *x, *weight;
  const bool *yes;
  gsize n;
  double mean, sd; // x is taken about its mean, in its standard deviations
  bool firth;
} Sample;

// At coefficients b: the likelihood that is climbed, its slope, and the information (its Cholesky
// factor; `sound` is false where it has none).
typedef struct {
  bool sound;
  double height;
  double slope[2], information[4];
} Slope;

static double chance_of(double odds_log) {
  return 1 / (1 + exp(-odds_log));
}

// log(1 + exp(t)) without overflow.
static double log1pexp(double t) {
  return t > 0 ? t + log1p(exp(-t)) : log1p(exp(t));
}

// Adds Firth's half of the log of the determinant, and its slope: the leverages times (1/2 - p).
static void add_firth(const Sample *sample, const double b[2], const gsl_matrix *factor,
                      Slope *at) {
  at->height += log(gsl_matrix_get(factor, 0, 0)) + log(gsl_matrix_get(factor, 1, 1));
  double inverse[4] = {gsl_matrix_get(factor, 0, 0), gsl_matrix_get(factor, 0, 1),
                       gsl_matrix_get(factor, 1, 0), gsl_matrix_get(factor, 1, 1)};
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

static Slope look(const Sample *sample, const double b[2]) {
  Slope at = {0};
  double w00 = 0, w01 = 0, w11 = 0;
  for (gsize i = 0; i < sample->n; i++) {
    if (sample->weight[i] == 0)
      continue;
    double z = (sample->x[i] - sample->mean) / sample->sd, t = b[0] + b[1] * z;
    double p = chance_of(t), w = sample->weight[i] * p * (1 - p);
    double off = sample->weight[i] * (sample->yes[i] - p);
    at.height += sample->weight[i] * ((sample->yes[i] ? t : 0) - log1pexp(t));
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
  at.sound = gsl_linalg_cholesky_decomp1(&factor.matrix) == 0;
  if (at.sound && sample->firth)
    add_firth(sample, b, &factor.matrix, &at);
  at.sound = at.sound && isfinite(at.height);
  return at;
}

// Goes one step uphill, as far as it is uphill. False: the step is too small to matter, or none
// leads up.
static bool climb(const Sample *sample, double b[2], Slope *at) {
  double step[2] = {at->slope[0], at->slope[1]};
  gsl_vector_view view = gsl_vector_view_array(step, 2);
  gsl_matrix_view factor = gsl_matrix_view_array(at->information, 2, 2);
  gsl_linalg_cholesky_svx(&factor.matrix, &view.vector);
  double size = hypot(step[0], step[1]), far = 1 + hypot(b[0], b[1]);
  for (int halving = 0; halving < HALVINGS; halving++) {
    double next[2] = {b[0] + step[0], b[1] + step[1]};
    Slope there = look(sample, next);
    if (there.sound && there.height >= at->height - 1e-12 * fabs(at->height)) {
      b[0] = next[0];
      b[1] = next[1];
      *at = there;
      return size > CLOSE_ENOUGH * far;
    }
    step[0] /= 2;
    step[1] /= 2;
  }
  return false;
}

// Back from standardised x to x itself.
static BtLogistic in_units(const Sample *sample, const double b[2], Slope *at) {
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

BtLogistic bt__logistic(const double *x, const bool *yes, const double *weight, gsize n,
                        bool firth) {
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
  Slope at = look(&sample, b);
  int steps = 0;
  while (at.sound && steps < STEPS_MOST && climb(&sample, b, &at))
    steps++;
  if (!at.sound || steps == STEPS_MOST)
    return (BtLogistic){0};
  return in_units(&sample, b, &at);
}
