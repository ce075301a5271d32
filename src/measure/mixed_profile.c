// SPDX-License-Identifier: GPL-3.0-or-later
//
// Limits of a standard deviation by the profile of its likelihood.
#include "measure/mixed_parts.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <string.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define BRACKETS   40 // steps away from the best value
#define STEP       1.4
#define ROOT_MOST  60
#define ROOT_NEAR  1e-7 // of the standard deviation
#define NOT_FINITE "the value is beyond what numbers hold"

typedef struct {
  BtMixedEngine *engine;
  BtMixedPin pin;
  double allowed; // the criterion at the limits
} Profile;

// How far the least criterion with this standard deviation is beyond what is allowed.
static double beyond(double log_sd, void *data) {
  Profile *profile = data;
  profile->pin.sd = exp(log_sd);
  return bt__mixed_search_pinned(profile->engine, &profile->pin) - profile->allowed;
}

// The root between two places that lie on either side of it; NaN where the search fails.
static double root_between(Profile *profile, double low, double high) {
  gsl_function function = {.function = beyond, .params = profile};
  gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
  int status = gsl_root_fsolver_set(solver, &function, low, high);
  for (int i = 0; i < ROOT_MOST && status == GSL_SUCCESS; i++) {
    status = gsl_root_fsolver_iterate(solver);
    if (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver), gsl_root_fsolver_x_upper(solver),
                               ROOT_NEAR, 0) == GSL_SUCCESS)
      break;
  }
  double root = status == GSL_SUCCESS ? gsl_root_fsolver_root(solver) : NAN;
  gsl_root_fsolver_free(solver);
  return root;
}

// The limit above (`step` above 0) or below: NaN where none is met.
static double limit(Profile *profile, double sd, double step) {
  double near = log(sd);
  for (int i = 0; i < BRACKETS; i++) {
    double far = near + step;
    if (beyond(far, profile) > 0)
      return exp(root_between(profile, fmin(near, far), fmax(near, far)));
    near = far;
  }
  return NAN;
}

// A standard deviation of 0 has no factor to move away from: the search up begins at what the
// residuals' makes of a small one.
static double upper_limit(Profile *profile, double sd) {
  return limit(profile, sd > 0 ? sd : 0.01 * sqrt(bt__mixed_variance(profile->engine)), log(STEP));
}

static double lower_limit(Profile *profile, double sd) {
  if (sd == 0)
    return 0;
  if (profile->pin.component != BT_MIXED_RESIDUAL) {
    profile->pin.sd = 0;
    if (bt__mixed_search_pinned(profile->engine, &profile->pin) <= profile->allowed)
      return 0;
  }
  return limit(profile, sd, -log(STEP));
}

static double sd_found(const BtMixed *fit, const Profile *profile) {
  if (profile->pin.component == BT_MIXED_RESIDUAL)
    return sqrt(fit->residual_variance);
  const BtMixedPart *part = &fit->part[profile->pin.block];
  return sqrt(profile->pin.component == BT_MIXED_START ? part->variance : part->slope_variance);
}

// The factors as they were, for every search away from them; those at 0 a little above, since the
// search steps from where it stands.
static void put_back(BtMixedEngine *engine, const BtMixedBlock *found, double least) {
  for (gsize t = 0; t < engine->blocks; t++) {
    engine->block[t] = found[t];
    for (int i = 0; i < engine->block[t].width && !engine->block[t].fixed; i++)
      engine->block[t].lambda[i][i] = fmax(engine->block[t].lambda[i][i], least);
  }
}

BtEstimate bt_mixed_sd(const BtMixed *fit, BtMixedComponent component, gsize term) {
  if (fit->why_not)
    return bt_not_estimable(fit->why_not, fit->rows);
  BtMixedEngine *engine = fit->engine;
  bool residual = component == BT_MIXED_RESIDUAL;
  gsize n = residual ? fit->rows : fit->part[term].groups;
  if (!residual && (engine->block[term].fixed ||
                    (component == BT_MIXED_SLOPE && engine->block[term].width == 1)))
    return bt_not_estimable("the model has no such variance", n);
  Profile profile = {.engine = engine,
                     .pin = {.component = component, .block = residual ? 0 : term},
                     .allowed = fit->criterion + qchisq(BT_LEVEL, 1, TRUE, FALSE)};
  double unit = component == BT_MIXED_SLOPE ? engine->block[term].slope_unit : 1;
  double sd = sd_found(fit, &profile) * unit;
  g_autofree BtMixedBlock *found = g_memdup2(engine->block, engine->blocks * sizeof *found);
  put_back(engine, found, 0.01);
  double low = lower_limit(&profile, sd);
  put_back(engine, found, 0.01);
  double high = upper_limit(&profile, sd);
  put_back(engine, found, 0);
  bt__mixed_solve(engine);
  return bt_estimate_limits(sd / unit, low / unit, high / unit, n, NOT_FINITE);
}
