// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/nonlinear.h"

#include <benchtally/regression.h>

#include <cminpack.h>
#include <float.h>
#include <math.h>
#include <string.h>

#define CALLS_A_PARAMETER 1000
#define POLISH_MOST       100
#define SHRINK_LEAST      0.9   // of one step to the next, or rounding is all that is left
#define OFFSET_MOST       0.001 // relative, of a settled fit
#define STEP_LEAST        1e-8  // a step below this, relative, ends a fit without residuals
#define BEYOND            1e100 // stands for a residual where the curve is not defined
#define NOT_SETTLED       "the curve did not settle on any figures"

typedef struct {
  BtResiduals *fill;
  gconstpointer data;
  gsize rows, parameters;
  double *derivative; // row by row
} Problem;

// Levenberg and Marquardt -----------------------------------------------------

static void fill_residuals(const Problem *problem, const double *b, double *residual) {
  bool defined = problem->fill(b, residual, NULL, problem->data);
  for (gsize i = 0; defined && i < problem->rows; i++)
    defined = isfinite(residual[i]);
  for (gsize i = 0; !defined && i < problem->rows; i++)
    residual[i] = BEYOND; // worse than anything: the step is not taken
}

// False where a derivative is not finite.
static bool fill_derivative(const Problem *problem, const double *b, double *residual) {
  if (!problem->fill(b, residual, problem->derivative, problem->data))
    return false;
  for (gsize i = 0; i < problem->rows * problem->parameters; i++) {
    if (!isfinite(problem->derivative[i]))
      return false;
  }
  return true;
}

// As cminpack asks for it: residuals (flag 1) or derivatives (flag 2), column by column.
static int look(void *data, int m, int n, const double *b, double *residual, double *by_column,
                int stride, int flag) {
  const Problem *problem = data;
  if (flag == 1) {
    fill_residuals(problem, b, residual);
    return 0;
  }
  g_autofree double *same = g_new(double, problem->rows);
  if (!fill_derivative(problem, b, same))
    return -1;
  for (int i = 0; i < m; i++) {
    for (int j = 0; j < n; j++)
      by_column[i + j * stride] = problem->derivative[i * n + j];
  }
  return 0;
}

static void descend(Problem *problem, double *b) {
  int m = (int)problem->rows, n = (int)problem->parameters, calls, derivative_calls;
  gsize p = problem->parameters;
  g_autofree double *work = g_new0(double, problem->rows *(p + 2) + 5 * p);
  g_autofree int *pivot = g_new0(int, p);
  double *residual = work, *by_column = residual + m, *row_work = by_column + m * n;
  double *scale = row_work + m, *qtf = scale + n, *w1 = qtf + n, *w2 = w1 + n, *w3 = w2 + n;
  lmder(look, problem, m, n, b, residual, by_column, m, DBL_EPSILON, DBL_EPSILON, 0,
        CALLS_A_PARAMETER * (n + 1), scale, 1, 100, 0, &calls, &derivative_calls, pivot, qtf, w1,
        w2, w3, row_work);
}

// Gauss and Newton ------------------------------------------------------------

// The plane that touches the curve at b: what the residuals have along it and across it, and the
// step along it.
typedef struct {
  BtRegression *plane; // NULL where the curve is not defined
  double residual_ss;  // at b
  double step;         // relative, the greatest of a parameter
} Tangent;

static Tangent touch(const Problem *problem, const double *b, double *residual) {
  Tangent tangent = {0};
  if (!fill_derivative(problem, b, residual))
    return tangent;
  for (gsize i = 0; i < problem->rows; i++) {
    tangent.residual_ss += residual[i] * residual[i];
    residual[i] = -residual[i];
  }
  if (!isfinite(tangent.residual_ss))
    return tangent;
  tangent.plane =
      bt_regression(residual, problem->derivative, problem->rows, problem->parameters, false);
  for (gsize j = 0; !tangent.plane->why_not && j < problem->parameters; j++) {
    double step = fabs(tangent.plane->b[j].value);
    tangent.step = fmax(tangent.step, b[j] != 0 ? step / fabs(b[j]) : step);
  }
  return tangent;
}

// Steps along the plane as long as each is clearly shorter than the one before. Leaves the
// last plane in `at`.
static void polish(const Problem *problem, double *b, Tangent *at) {
  gsize n = problem->parameters;
  g_autofree double *residual = g_new(double, problem->rows), *next = g_new(double, n);
  *at = touch(problem, b, residual);
  for (int i = 0; i < POLISH_MOST && at->plane && !at->plane->why_not && at->step > 0; i++) {
    for (gsize j = 0; j < n; j++)
      next[j] = b[j] + at->plane->b[j].value;
    Tangent then = touch(problem, next, residual);
    if (!then.plane || then.plane->why_not || !(then.step < SHRINK_LEAST * at->step)) {
      bt_regression_free(then.plane);
      return;
    }
    memcpy(b, next, n * sizeof *b);
    bt_regression_free(at->plane);
    *at = then;
  }
}

static bool has_settled(const Tangent *at) {
  const BtRegression *plane = at->plane;
  if (at->step < STEP_LEAST)
    return true;
  if (!(plane->df > 0))
    return false;
  double along = plane->model_ss / (double)plane->columns, across = plane->residual_ss / plane->df;
  return along < OFFSET_MOST * OFFSET_MOST * across;
}

// Results ---------------------------------------------------------------------

static void tell(BtNonlinear *fit, const Tangent *at) {
  const BtRegression *plane = at->plane;
  if (!plane || plane->why_not || !has_settled(at)) {
    fit->why_not = plane && plane->why_not ? plane->why_not : NOT_SETTLED;
    return;
  }
  fit->df = plane->df;
  fit->residual_ss = at->residual_ss;
  if (plane->df > 0) {
    fit->residual_sd = sqrt(at->residual_ss / plane->df);
    memcpy(fit->covariance, plane->covariance,
           fit->parameters * fit->parameters * sizeof *fit->covariance);
  }
}

BtNonlinear *bt__nonlinear(BtResiduals *fill, gconstpointer data, gsize rows, const double *start,
                           gsize parameters) {
  BtNonlinear *fit = g_new0(BtNonlinear, 1);
  fit->rows = rows;
  fit->parameters = parameters;
  fit->b = g_memdup2(start, parameters * sizeof *start);
  fit->covariance = g_new0(double, parameters *parameters);
  if (rows < parameters) {
    fit->why_not = "there are fewer values than figures to find";
    return fit;
  }
  Problem problem = {fill, data, rows, parameters, g_new0(double, rows *parameters)};
  Tangent at = {0};
  descend(&problem, fit->b);
  polish(&problem, fit->b, &at);
  tell(fit, &at);
  bt_regression_free(at.plane);
  g_free(problem.derivative);
  return fit;
}

void bt__nonlinear_free(BtNonlinear *fit) {
  if (!fit)
    return;
  g_free(fit->b);
  g_free(fit->covariance);
  g_free(fit);
}
