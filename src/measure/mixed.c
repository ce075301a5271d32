// SPDX-License-Identifier: GPL-3.0-or-later
//
// Linear mixed models: what is asked, checked, and what was found, in the units of the data.
#include "measure/mixed_parts.h"

#include <math.h>

// Factors this large leave nothing of the group effects to shrink: residuals are then those of
// least squares, and below this share of all there are none.
#define NO_SHRINKING 1e4
#define NO_RESIDUAL  1e-13

// Checks ----------------------------------------------------------------------

static const char *why_not_at_all(const BtMixedData *data) {
  if (data->rows < 2)
    return "there are fewer than two values";
  bool same = true;
  for (gsize i = 1; same && i < data->rows; i++)
    same = data->y[i] == data->y[0];
  if (same)
    return "all values are the same";
  gsize taken = data->columns;
  for (gsize t = 0; t < data->terms; t++) {
    const BtMixedTerm *term = &data->term[t];
    if (!term->fixed && term->groups < 2)
      return "there is only one group";
    if (term->groups * (term->slope ? 2 : 1) >= data->rows)
      return "there are as many groups as values";
    taken += term->fixed ? term->groups : 0;
  }
  return taken >= data->rows ? "there are no more values than means to estimate" : NULL;
}

static void set_factors(BtMixedEngine *engine, double diagonal) {
  for (gsize t = 0; t < engine->blocks; t++) {
    BtMixedBlock *block = &engine->block[t];
    block->lambda[0][0] = block->lambda[1][1] = block->fixed ? 1 : diagonal;
    block->lambda[1][0] = 0;
  }
}

static const char *why_no_solution(BtMixedEngine *engine) {
  set_factors(engine, 1);
  if (!bt__mixed_solve(engine) || bt__mixed_confounded(engine))
    return "the means to estimate cannot be told apart";
  set_factors(engine, NO_SHRINKING);
  if (!bt__mixed_solve(engine) || engine->residual_ss <= NO_RESIDUAL * engine->total_ss)
    return "the values leave nothing to chance: there is no error to measure against";
  return bt__mixed_search(engine) ? NULL : "the likelihood has no maximum that could be found";
}

// Results ---------------------------------------------------------------------

static void tell_variances(BtMixedPart *part, const BtMixedBlock *block, double variance) {
  const double(*lambda)[2] = block->lambda;
  double slope = hypot(lambda[1][0], lambda[1][1]);
  part->at_boundary = lambda[0][0] == 0 || (block->width == 2 && lambda[1][1] == 0);
  part->variance = variance * lambda[0][0] * lambda[0][0];
  if (block->width == 1)
    return;
  part->slope_variance = variance * slope * slope / (block->slope_unit * block->slope_unit);
  part->covariance = variance * lambda[0][0] * lambda[1][0] / block->slope_unit;
  part->correlation = lambda[0][0] > 0 && slope > 0 ? lambda[1][0] / slope : 0;
}

// The factor of a block with its slopes in the data's unit.
static void factor_in_units(const BtMixedBlock *block, double factor[2][2]) {
  factor[0][0] = block->lambda[0][0];
  factor[0][1] = 0;
  factor[1][0] = block->lambda[1][0] / block->slope_unit;
  factor[1][1] = block->lambda[1][1] / block->slope_unit;
}

// factor x middle x factor', times the variance.
static void tell_group_variance(double *into, int width, double factor[2][2], double middle[2][2],
                                double variance) {
  for (int i = 0; i < width; i++) {
    for (int j = 0; j < width; j++) {
      double sum = 0;
      for (int k = 0; k <= i; k++) {
        for (int l = 0; l <= j; l++)
          sum += factor[i][k] * middle[k][l] * factor[j][l];
      }
      into[i * width + j] = variance * sum;
    }
  }
}

static void tell_part(BtMixedPart *part, BtMixedEngine *engine, const BtMixedBlock *block) {
  double variance = bt__mixed_variance(engine), factor[2][2], inverse[2][2];
  gsize width = (gsize)block->width;
  *part = (BtMixedPart){.groups = block->groups, .width = block->width};
  part->effect = g_new0(double, block->groups *width);
  part->effect_variance = g_new0(double, block->groups *width *width);
  if (!block->fixed)
    tell_variances(part, block, variance);
  factor_in_units(block, factor);
  for (gsize g = 0; g < block->groups; g++) {
    const double *v = &engine->solution[block->first + g * width];
    for (gsize i = 0; i < width; i++)
      part->effect[g * width + i] = factor[i][0] * v[0] + (i > 0 ? factor[1][1] * v[1] : 0);
    bt__mixed_inverse_block(engine->factor, block->first + g * width, block->width, inverse);
    tell_group_variance(&part->effect_variance[g * width * width], block->width, factor, inverse,
                        variance);
  }
}

// Solves R z = k (or R' z = k) in place; R is upper triangular and small.
static void back_from_orthonormal(const gsl_matrix *r, double *z, bool transposed) {
  gsize n = r->size1;
  for (gsize step = 0; step < n; step++) {
    gsize i = transposed ? step : n - 1 - step;
    for (gsize j = 0; j < n; j++) {
      if (transposed ? j < i : j > i)
        z[i] -= (transposed ? gsl_matrix_get(r, j, i) : gsl_matrix_get(r, i, j)) * z[j];
    }
    z[i] /= gsl_matrix_get(r, i, i);
  }
}

static void tell_columns(BtMixed *fit) {
  BtMixedEngine *engine = fit->engine;
  gsize p = fit->columns = engine->columns;
  fit->b = g_new0(double, p);
  for (gsize j = 0; j < p; j++)
    fit->b[j] = engine->start[j] + engine->solution[engine->size - p + j];
  fit->b_covariance = bt__mixed_inverse_of_x(engine);
  if (p == 0)
    return;
  back_from_orthonormal(engine->r, fit->b, false);
  // R^-1 C R^-T, C being symmetric: rows first, then the rows of what that gave, transposed.
  for (int side = 0; side < 2; side++) {
    for (gsize i = 0; i < p; i++)
      back_from_orthonormal(engine->r, &fit->b_covariance[i * p], false);
    for (gsize i = 0; i < p; i++) {
      for (gsize j = 0; j < i; j++) {
        double other = fit->b_covariance[i * p + j];
        fit->b_covariance[i * p + j] = fit->b_covariance[j * p + i];
        fit->b_covariance[j * p + i] = other;
      }
    }
  }
  for (gsize i = 0; i < p * p; i++)
    fit->b_covariance[i] *= fit->residual_variance;
}

BtMixed *bt_mixed_fit(const BtMixedData *data, BtMixedMethod method) {
  BtMixed *fit = g_new0(BtMixed, 1);
  fit->rows = data->rows;
  fit->why_not = why_not_at_all(data);
  if (fit->why_not)
    return fit;
  fit->engine = bt__mixed_engine(data, method, &fit->why_not);
  if (fit->engine)
    fit->why_not = why_no_solution(fit->engine);
  if (fit->why_not)
    return fit;
  fit->criterion = fit->engine->criterion;
  fit->residual_variance = bt__mixed_variance(fit->engine);
  tell_columns(fit);
  fit->terms = data->terms;
  fit->part = g_new0(BtMixedPart, data->terms);
  for (gsize t = 0; t < data->terms; t++) {
    tell_part(&fit->part[t], fit->engine, &fit->engine->block[t]);
    fit->singular = fit->singular || fit->part[t].at_boundary;
  }
  return fit;
}

void bt_mixed_free(BtMixed *fit) {
  if (!fit)
    return;
  for (gsize t = 0; t < fit->terms; t++) {
    g_free(fit->part[t].effect);
    g_free(fit->part[t].effect_variance);
  }
  g_free(fit->part);
  g_free(fit->b);
  g_free(fit->b_covariance);
  bt__mixed_engine_free(fit->engine);
  g_free(fit);
}

// Sums ------------------------------------------------------------------------

// What a sum is made of, as weights of the columns of the system: of v, and of the orthonormal x.
typedef struct {
  GArray *column; // of gsize
  GArray *weight; // of double
} Mix;

static void mix(Mix *into, gsize column, double weight) {
  g_array_append_val(into->column, column);
  g_array_append_val(into->weight, weight);
}

static void mix_effect(Mix *into, const BtMixedBlock *block, const BtMixedWeight *part) {
  double factor[2][2];
  gsize column = block->first + part->index * (gsize)block->width;
  int row = part->slope ? 1 : 0;
  factor_in_units(block, factor);
  for (int k = 0; k <= row; k++)
    mix(into, column + (gsize)k, part->weight * factor[row][k]);
}

BtEstimate bt_mixed_sum(const BtMixed *fit, const BtMixedWeight *weights, gsize n) {
  if (fit->why_not)
    return bt_not_estimable(fit->why_not, fit->rows);
  gsize p = fit->columns;
  g_autoptr(GArray) column = g_array_new(FALSE, FALSE, sizeof(gsize));
  g_autoptr(GArray) weight = g_array_new(FALSE, FALSE, sizeof(double));
  g_autofree double *of_x = g_new0(double, p);
  Mix all = {column, weight};
  double value = 0;
  for (gsize i = 0; i < n; i++) {
    const BtMixedWeight *part = &weights[i];
    if (part->term < 0) {
      of_x[part->index] += part->weight;
      value += part->weight * fit->b[part->index];
      continue;
    }
    const BtMixedPart *found = &fit->part[part->term];
    value +=
        part->weight * found->effect[part->index * (gsize)found->width + (part->slope ? 1 : 0)];
    mix_effect(&all, &fit->engine->block[part->term], part);
  }
  if (p > 0)
    back_from_orthonormal(fit->engine->r, of_x, true);
  for (gsize j = 0; j < p; j++)
    mix(&all, fit->engine->size - p + j, of_x[j]);
  double variance = fit->residual_variance *
                    bt__mixed_quadratic(fit->engine->factor, (gsize *)(void *)column->data,
                                        (double *)(void *)weight->data, column->len);
  return bt_estimate_se(value, sqrt(variance), fit->rows, "the sum is beyond what numbers hold");
}
