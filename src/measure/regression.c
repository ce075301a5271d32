// SPDX-License-Identifier: GPL-3.0-or-later
//
// Linear least squares. A QR of the columns, each divided by a power of two so that its length is
// near 1, then refinement of the augmented system r + A b = y, A' r = 0 with residuals in long
// double (Bjorck 1967, BIT 7:257-278): coefficients come out right to the last digits as long as
// the columns can be told apart at all.
#include <benchtally/regression.h>

#include "measure/numerics.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define OWN_SHARE   1e-13 // of a column's length, beside those before it: less is rounding
#define REFINE_MOST 10

typedef struct {
  gsize rows, columns;
  const double *y;
  gsl_matrix *a; // columns divided by `unit`
  double *unit;  // powers of two
  gsl_matrix *qr;
  gsl_vector *tau;
  gsl_vector *b, *r;         // coefficients of `a`, residuals
  gsl_vector *off, *moved;   // rows: scratch
  gsl_vector *slack, *shift; // columns: scratch
} Fit;

// Layout ----------------------------------------------------------------------

static Fit lay_out(const double *y, const double *x, gsize rows, gsize columns) {
  Fit fit = {.rows = rows, .columns = columns, .y = y, .unit = g_new(double, columns)};
  fit.a = gsl_matrix_alloc(rows, columns);
  fit.qr = gsl_matrix_alloc(rows, columns);
  fit.tau = gsl_vector_alloc(columns);
  fit.b = gsl_vector_calloc(columns);
  fit.r = gsl_vector_calloc(rows);
  fit.off = gsl_vector_alloc(rows);
  fit.moved = gsl_vector_alloc(rows);
  fit.slack = gsl_vector_alloc(columns);
  fit.shift = gsl_vector_alloc(columns);
  for (gsize j = 0; j < columns; j++) {
    gsl_vector_const_view column = gsl_vector_const_view_array_with_stride(x + j, columns, rows);
    int power;
    frexp(gsl_blas_dnrm2(&column.vector), &power);
    fit.unit[j] = ldexp(1, power);
    for (gsize i = 0; i < rows; i++)
      gsl_matrix_set(fit.a, i, j, x[i * columns + j] / fit.unit[j]);
  }
  gsl_matrix_memcpy(fit.qr, fit.a);
  gsl_linalg_QR_decomp(fit.qr, fit.tau);
  return fit;
}

static void clear(Fit *fit) {
  g_free(fit->unit);
  gsl_matrix_free(fit->a);
  gsl_matrix_free(fit->qr);
  gsl_vector *const vectors[] = {fit->tau,   fit->b,     fit->r,    fit->off,
                                 fit->moved, fit->slack, fit->shift};
  for (gsize i = 0; i < G_N_ELEMENTS(vectors); i++)
    gsl_vector_free(vectors[i]);
}

static bool told_apart(const Fit *fit) {
  for (gsize j = 0; j < fit->columns; j++) {
    if (!(fabs(gsl_matrix_get(fit->qr, j, j)) > OWN_SHARE))
      return false;
  }
  return true;
}

// Refinement ------------------------------------------------------------------

// How far the equations are from holding: off = y - r - A b, slack = -A' r.
static void look_how_far(Fit *fit) {
  for (gsize i = 0; i < fit->rows; i++) {
    long double off = (long double)fit->y[i] - gsl_vector_get(fit->r, i);
    for (gsize j = 0; j < fit->columns; j++)
      off -= (long double)gsl_matrix_get(fit->a, i, j) * gsl_vector_get(fit->b, j);
    gsl_vector_set(fit->off, i, (double)off);
  }
  for (gsize j = 0; j < fit->columns; j++) {
    long double slack = 0;
    for (gsize i = 0; i < fit->rows; i++)
      slack -= (long double)gsl_matrix_get(fit->a, i, j) * gsl_vector_get(fit->r, i);
    gsl_vector_set(fit->slack, j, (double)slack);
  }
}

// What to add to b and r, from the factors: with h = Q' off, R' d = slack, it is R^-1 (h1 - d) for
// b and Q (d, h2) for r.
static void find_shift(Fit *fit) {
  gsize p = fit->columns;
  gsl_matrix_const_view r = gsl_matrix_const_submatrix(fit->qr, 0, 0, p, p);
  gsl_vector_memcpy(fit->moved, fit->off);
  gsl_linalg_QR_QTvec(fit->qr, fit->tau, fit->moved);
  gsl_vector_view head = gsl_vector_subvector(fit->moved, 0, p);
  gsl_blas_dtrsv(CblasUpper, CblasTrans, CblasNonUnit, &r.matrix, fit->slack);
  gsl_vector_memcpy(fit->shift, &head.vector);
  gsl_vector_sub(fit->shift, fit->slack);
  gsl_blas_dtrsv(CblasUpper, CblasNoTrans, CblasNonUnit, &r.matrix, fit->shift);
  gsl_vector_memcpy(&head.vector, fit->slack);
  gsl_linalg_QR_Qvec(fit->qr, fit->tau, fit->moved);
}

// The first round is the plain solution; each one after it takes off what rounding left, until that
// does not shrink to a half any more.
static void solve(Fit *fit) {
  double last = INFINITY;
  for (int i = 0; i < REFINE_MOST; i++) {
    look_how_far(fit);
    find_shift(fit);
    double size = gsl_blas_dnrm2(fit->shift);
    if (i > 1 && !(size < last / 2))
      return;
    last = size;
    gsl_vector_add(fit->b, fit->shift);
    gsl_vector_add(fit->r, fit->moved);
  }
}

// Results ---------------------------------------------------------------------

static void tell_squares(BtRegression *told, const Fit *fit, bool constant) {
  long double residual = 0, model = 0, mean = 0;
  for (gsize i = 0; constant && i < fit->rows; i++)
    mean += (long double)fit->y[i] / (long double)fit->rows;
  for (gsize i = 0; i < fit->rows; i++) {
    long double r = gsl_vector_get(fit->r, i), about = fit->y[i] - r - mean;
    residual += r * r;
    model += about * about;
  }
  told->residual_ss = (double)residual;
  told->model_ss = (double)model;
  if (residual + model > 0)
    told->r_squared = (double)(model / (residual + model));
  if (told->df > 0)
    told->residual_sd = (double)sqrtl(residual / told->df);
  told->f_df = (double)(fit->columns - constant);
  if (told->df > 0 && told->f_df > 0 && residual > 0) {
    told->f = (double)(model / told->f_df / (residual / told->df));
    told->p = pf(told->f, told->f_df, told->df, FALSE, FALSE);
  }
}

static void tell_covariance(BtRegression *told, const Fit *fit) {
  gsize p = fit->columns;
  gsl_matrix *inverse = gsl_matrix_alloc(p, p), *product = gsl_matrix_alloc(p, p);
  gsl_matrix_const_view r = gsl_matrix_const_submatrix(fit->qr, 0, 0, p, p);
  gsl_matrix_set_identity(inverse);
  gsl_blas_dtrsm(CblasLeft, CblasUpper, CblasNoTrans, CblasNonUnit, 1, &r.matrix, inverse);
  gsl_blas_dgemm(CblasNoTrans, CblasTrans, 1, inverse, inverse, 0, product);
  double variance = told->residual_sd * told->residual_sd;
  for (gsize i = 0; i < p; i++) {
    for (gsize j = 0; j < p; j++)
      told->covariance[i * p + j] =
          variance * gsl_matrix_get(product, i, j) / fit->unit[i] / fit->unit[j];
  }
  gsl_matrix_free(inverse);
  gsl_matrix_free(product);
}

static BtEstimate with_error(double value, double variance, const BtRegression *fit) {
  return bt_estimate_t(value, sqrt(variance), fit->df, fit->rows,
                       "the value is beyond what numbers hold");
}

BtRegression *bt_regression(const double *y, const double *x, gsize rows, gsize columns,
                            bool constant) {
  bt__gsl_quiet();
  BtRegression *told = g_new0(BtRegression, 1);
  told->rows = rows;
  told->columns = columns;
  told->b = g_new0(BtEstimate, columns);
  told->covariance = g_new0(double, columns *columns);
  if (rows == 0 || columns == 0 || rows < columns) {
    told->why_not = "there are fewer values than coefficients";
    return told;
  }
  Fit fit = lay_out(y, x, rows, columns);
  if (told_apart(&fit)) {
    solve(&fit);
    told->df = (double)(rows - columns);
    tell_squares(told, &fit, constant);
    tell_covariance(told, &fit);
    for (gsize j = 0; j < columns; j++)
      told->b[j] = with_error(gsl_vector_get(fit.b, j) / fit.unit[j],
                              told->covariance[j * columns + j], told);
  } else {
    told->why_not = "what explains the values cannot be told apart";
  }
  clear(&fit);
  return told;
}

void bt_regression_free(BtRegression *fit) {
  if (!fit)
    return;
  g_free(fit->b);
  g_free(fit->covariance);
  g_free(fit);
}

BtRegression *bt_regression_line(const double *y, const double *x, gsize rows) {
  g_autofree double *design = g_new(double, 2 * rows);
  for (gsize i = 0; i < rows; i++) {
    design[2 * i] = 1;
    design[2 * i + 1] = x[i];
  }
  return bt_regression(y, design, rows, 2, true);
}

BtEstimate bt_regression_at(const BtRegression *fit, const double *x) {
  if (fit->why_not)
    return bt_not_estimable(fit->why_not, fit->rows);
  double value = 0, variance = 0;
  for (gsize i = 0; i < fit->columns; i++) {
    value += x[i] * fit->b[i].value;
    for (gsize j = 0; j < fit->columns; j++)
      variance += x[i] * fit->covariance[i * fit->columns + j] * x[j];
  }
  return with_error(value, fmax(variance, 0), fit);
}
