// SPDX-License-Identifier: GPL-3.0-or-later
//
// The system of a mixed model: laid out once, factorised for each trial of the covariance factors.
#include "measure/mixed_parts.h"

#include "measure/numerics.h"
#include "measure/spread.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

// A column whose own part, beside the columns before it, is less than this share of its square
// holds nothing new.
#define OWN_SHARE 1e-10

#define SAME_COLUMNS "columns of the model tell the same"

// Layout ----------------------------------------------------------------------

static double root_mean_square(const double *value, gsize n) {
  double sum = 0;
  for (gsize i = 0; i < n; i++)
    sum += value[i] * value[i];
  return sum > 0 ? sqrt(sum / (double)n) : 1;
}

static void lay_blocks(BtMixedEngine *engine, const BtMixedData *data) {
  engine->blocks = data->terms;
  engine->block = g_new0(BtMixedBlock, data->terms);
  for (gsize t = 0; t < data->terms; t++) {
    const BtMixedTerm *term = &data->term[t];
    BtMixedBlock *block = &engine->block[t];
    block->groups = term->groups;
    block->width = term->slope ? 2 : 1;
    block->fixed = term->fixed;
    block->slope_unit = term->slope ? root_mean_square(term->slope, data->rows) : 1;
    block->lambda[0][0] = block->lambda[1][1] = 1;
  }
}

static gsize columns_of(const BtMixedBlock *block) {
  return block->groups * (gsize)block->width;
}

// Columns in order: those of the term with the most, the other terms' as they come, those of x.
static void number_columns(BtMixedEngine *engine) {
  engine->lead = engine->blocks;
  for (gsize t = 0; t < engine->blocks; t++) {
    if (engine->lead == engine->blocks ||
        columns_of(&engine->block[t]) > columns_of(&engine->block[engine->lead]))
      engine->lead = t;
  }
  if (engine->lead < engine->blocks)
    engine->size = columns_of(&engine->block[engine->lead]);
  for (gsize t = 0; t < engine->blocks; t++) {
    if (t == engine->lead)
      continue;
    engine->block[t].first = engine->size;
    engine->size += columns_of(&engine->block[t]);
  }
  engine->size += engine->columns;
  engine->block_of = g_new(guint, engine->size);
  for (gsize i = 0; i < engine->size; i++)
    engine->block_of[i] = (guint)engine->blocks;
  for (gsize t = 0; t < engine->blocks; t++) {
    const BtMixedBlock *block = &engine->block[t];
    for (gsize i = 0; i < columns_of(block); i++)
      engine->block_of[block->first + i] = (guint)t;
  }
}

// Makes x orthonormal in place: x = Q R, with R kept. False: a column is a sum of those before it.
static bool orthonormalise(BtMixedEngine *engine, gsl_matrix *x) {
  gsize p = x->size2;
  g_autoptr(GArray) length = g_array_sized_new(FALSE, FALSE, sizeof(double), (guint)p);
  for (gsize j = 0; j < p; j++) {
    gsl_vector_const_view column = gsl_matrix_const_column(x, j);
    double norm = gsl_blas_dnrm2(&column.vector);
    g_array_append_val(length, norm);
  }
  gsl_matrix *qr = gsl_matrix_alloc(x->size1, p);
  gsl_vector *tau = gsl_vector_alloc(p);
  gsl_matrix_memcpy(qr, x);
  gsl_linalg_QR_decomp(qr, tau);
  engine->r = gsl_matrix_calloc(p, p);
  bool told_apart = true;
  for (gsize j = 0; j < p; j++) {
    for (gsize i = 0; i <= j; i++)
      gsl_matrix_set(engine->r, i, j, gsl_matrix_get(qr, i, j));
    double own = fabs(gsl_matrix_get(qr, j, j));
    told_apart = told_apart && own > OWN_SHARE * g_array_index(length, double, j);
  }
  gsl_matrix_free(qr);
  gsl_vector_free(tau);
  if (told_apart)
    gsl_blas_dtrsm(CblasRight, CblasUpper, CblasNoTrans, CblasNonUnit, 1, engine->r, x);
  return told_apart;
}

// Takes the projection on the orthonormal x off y, so that what is left is not lost in large means.
static void project(BtMixedEngine *engine, const gsl_matrix *x) {
  gsl_vector_view y = gsl_vector_view_array(engine->y, engine->rows);
  gsl_vector_view start = gsl_vector_view_array(engine->start, engine->columns);
  gsl_blas_dgemv(CblasTrans, 1, x, &y.vector, 0, &start.vector);
  gsl_blas_dgemv(CblasNoTrans, -1, x, &start.vector, 1, &y.vector);
}

static void enter_design(BtMixedEngine *engine, const BtMixedData *data, const double *x) {
  gsize entries = engine->columns;
  for (gsize t = 0; t < engine->blocks; t++)
    entries += (gsize)engine->block[t].width;
  cs_dl *entered = cs_dl_spalloc((cs_long_t)data->rows, (cs_long_t)engine->size,
                                 (cs_long_t)(entries * data->rows), 1, 1);
  for (gsize i = 0; i < data->rows; i++) {
    for (gsize t = 0; t < engine->blocks; t++) {
      const BtMixedBlock *block = &engine->block[t];
      gsize column = block->first + data->term[t].of[i] * (gsize)block->width;
      cs_dl_entry(entered, (cs_long_t)i, (cs_long_t)column, 1);
      if (block->width == 2)
        cs_dl_entry(entered, (cs_long_t)i, (cs_long_t)column + 1,
                    data->term[t].slope[i] / block->slope_unit);
    }
    for (gsize j = 0; j < engine->columns; j++)
      cs_dl_entry(entered, (cs_long_t)i, (cs_long_t)(engine->size - engine->columns + j),
                  x[i * engine->columns + j]);
  }
  engine->design = cs_dl_compress(entered);
  cs_dl_spfree(entered);
}

// The products of the columns, which no trial changes, and the order of elimination.
static void lay_system(BtMixedEngine *engine) {
  cs_dl *transposed = cs_dl_transpose(engine->design, 1);
  cs_dl *unsorted = cs_dl_multiply(transposed, engine->design);
  engine->gram = cs_dl_transpose(unsorted, 1); // symmetric; transposing sorts the columns
  engine->system = cs_dl_transpose(unsorted, 1);
  engine->moment = g_new0(double, engine->size);
  cs_dl_gaxpy(transposed, engine->y, engine->moment);
  cs_dl_spfree(transposed);
  cs_dl_spfree(unsorted);
  const BtMixedBlock *lead = engine->lead < engine->blocks ? &engine->block[engine->lead] : NULL;
  engine->factor =
      bt__mixed_factor_new(engine->system, lead ? lead->groups : 0, lead ? lead->width : 0);
  engine->solution = g_new0(double, engine->size);
  engine->scratch = g_new(double, engine->size);
  engine->diagonal = g_new(cs_long_t, engine->size);
  for (gsize c = 0; c < engine->size; c++) {
    engine->diagonal[c] = engine->gram->p[c];
    while (engine->gram->i[engine->diagonal[c]] != (cs_long_t)c)
      engine->diagonal[c]++;
  }
  engine->told = g_new(double, engine->rows);
}

BtMixedEngine *bt__mixed_engine(const BtMixedData *data, BtMixedMethod method,
                                const char **why_not) {
  bt__gsl_quiet();
  BtMixedEngine *engine = g_new0(BtMixedEngine, 1);
  engine->method = method;
  engine->rows = data->rows;
  engine->columns = data->columns;
  lay_blocks(engine, data);
  number_columns(engine);
  engine->y = g_memdup2(data->y, data->rows * sizeof *data->y);
  engine->start = g_new0(double, data->columns);
  g_autofree double *x = g_memdup2(data->x, data->rows * data->columns * sizeof *data->x);
  if (data->columns > 0) {
    gsl_matrix_view view = gsl_matrix_view_array(x, data->rows, data->columns);
    if (data->columns > data->rows || !orthonormalise(engine, &view.matrix)) {
      *why_not = SAME_COLUMNS;
      bt__mixed_engine_free(engine);
      return NULL;
    }
    project(engine, &view.matrix);
  }
  engine->total_ss = bt__spread(engine->y, data->rows).sum_of_squares;
  enter_design(engine, data, x);
  lay_system(engine);
  return engine;
}

void bt__mixed_engine_free(BtMixedEngine *engine) {
  if (!engine)
    return;
  g_free(engine->block);
  g_free(engine->block_of);
  g_free(engine->y);
  g_free(engine->start);
  g_free(engine->moment);
  g_free(engine->solution);
  g_free(engine->scratch);
  g_free(engine->diagonal);
  g_free(engine->told);
  if (engine->r)
    gsl_matrix_free(engine->r);
  cs_dl_spfree(engine->design);
  cs_dl_spfree(engine->gram);
  cs_dl_spfree(engine->system);
  bt__mixed_factor_free(engine->factor);
  g_free(engine);
}

// One trial -------------------------------------------------------------------

static const BtMixedBlock free_column = {.width = 1, .fixed = true, .lambda = {{1, 0}, {0, 1}}};

static const BtMixedBlock *block_at(const BtMixedEngine *engine, gsize column) {
  guint block = engine->block_of[column];
  return block < engine->blocks ? &engine->block[block] : &free_column;
}

// The products of two groups' columns, from row `at` of the column that starts at `begin[0]`, with
// the factors of either put in: row factor' x products x column factor. The columns of one group
// hold the same rows, so their entries lie at the same distance from the column's head.
static void fill_block(BtMixedEngine *engine, const BtMixedBlock *row, const BtMixedBlock *column,
                       const cs_long_t *begin, cs_long_t at) {
  const double *from = engine->gram->x;
  for (int i = 0; i < row->width; i++) {
    for (int j = 0; j < column->width; j++) {
      double sum = 0;
      for (int k = i; k < row->width; k++) {
        for (int l = j; l < column->width; l++)
          sum += row->lambda[k][i] * from[begin[l] + at + k] * column->lambda[l][j];
      }
      engine->system->x[begin[j] + at + i] = sum;
    }
  }
}

static void fill_blocks(BtMixedEngine *engine) {
  const cs_dl *gram = engine->gram;
  for (gsize c = 0; c < engine->size;) {
    const BtMixedBlock *column = block_at(engine, c);
    for (cs_long_t at = 0; at < gram->p[c + 1] - gram->p[c];) {
      const BtMixedBlock *row = block_at(engine, (gsize)gram->i[gram->p[c] + at]);
      fill_block(engine, row, column, &gram->p[c], at);
      at += row->width;
    }
    c += (gsize)column->width;
  }
}

// The same where every block is one column wide.
static void fill_entries(BtMixedEngine *engine, const double *factor) {
  const cs_dl *gram = engine->gram;
  for (gsize c = 0; c < engine->size; c++) {
    for (cs_long_t at = gram->p[c]; at < gram->p[c + 1]; at++)
      engine->system->x[at] = factor[gram->i[at]] * gram->x[at] * factor[c];
  }
}

static void fill_system(BtMixedEngine *engine) {
  double *factor = engine->scratch;
  bool single = true;
  for (gsize t = 0; t < engine->blocks; t++)
    single = single && engine->block[t].width == 1;
  for (gsize c = 0; single && c < engine->size; c++)
    factor[c] = block_at(engine, c)->lambda[0][0];
  if (single)
    fill_entries(engine, factor);
  else
    fill_blocks(engine);
  for (gsize c = 0; c < engine->size; c++)
    engine->system->x[engine->diagonal[c]] += block_at(engine, c)->fixed ? 0 : 1;
}

// Puts the factors in: `vector` becomes S times it, or S' times it.
static void apply_factors(const BtMixedEngine *engine, double *vector, bool transposed) {
  for (gsize t = 0; t < engine->blocks; t++) {
    const BtMixedBlock *block = &engine->block[t];
    for (gsize g = 0; g < block->groups; g++) {
      double *v = &vector[block->first + g * (gsize)block->width];
      double slope = block->width == 2 ? v[1] : 0;
      double crossed = block->lambda[1][0];
      if (block->width == 2)
        v[1] = block->lambda[1][1] * slope + (transposed ? 0 : crossed * v[0]);
      v[0] = block->lambda[0][0] * v[0] + (transposed ? crossed * slope : 0);
    }
  }
}

static void solve_for_moments(BtMixedEngine *engine) {
  memcpy(engine->scratch, engine->moment, engine->size * sizeof *engine->moment);
  apply_factors(engine, engine->scratch, true);
  bt__mixed_factor_solve(engine->factor, engine->scratch, engine->solution);
}

// From the rows themselves, not from y'y less what is told: no digits cancel.
static void sum_squares(BtMixedEngine *engine) {
  double *effect = engine->scratch, *told = engine->told;
  memcpy(effect, engine->solution, engine->size * sizeof *effect);
  memset(told, 0, engine->rows * sizeof *told);
  apply_factors(engine, effect, false);
  cs_dl_gaxpy(engine->design, effect, told);
  engine->residual_ss = 0;
  for (gsize i = 0; i < engine->rows; i++)
    engine->residual_ss += (engine->y[i] - told[i]) * (engine->y[i] - told[i]);
  engine->penalised = engine->residual_ss;
  for (gsize i = 0; i < engine->size; i++) {
    if (!block_at(engine, i)->fixed)
      engine->penalised += engine->solution[i] * engine->solution[i];
  }
}

static gsize free_columns(const BtMixedEngine *engine) {
  gsize n = engine->columns;
  for (gsize t = 0; t < engine->blocks; t++)
    n += engine->block[t].fixed ? engine->block[t].groups : 0;
  return n;
}

double bt__mixed_df(const BtMixedEngine *engine) {
  gsize taken = engine->method == BT_MIXED_REML ? free_columns(engine) : 0;
  return (double)engine->rows - (double)taken;
}

double bt__mixed_variance(const BtMixedEngine *engine) {
  return engine->penalised / bt__mixed_df(engine);
}

static gsize *free_list(const BtMixedEngine *engine) {
  gsize *at = g_new(gsize, free_columns(engine)), n = 0;
  for (gsize i = 0; i < engine->size; i++) {
    if (block_at(engine, i)->fixed)
      at[n++] = i;
  }
  return at;
}

// Logarithm of the determinant of the inverse's rows and columns that are free. That of the
// penalised part of the system, which ML takes, is this plus that of the whole (Schur).
static double log_determinant_free(const BtMixedEngine *engine) {
  gsize n = free_columns(engine);
  if (n == 0)
    return 0;
  g_autofree gsize *at = free_list(engine);
  g_autofree double *unit = g_new0(double, engine->size), *solved = g_new(double, engine->size);
  gsl_matrix *inverse = gsl_matrix_alloc(n, n);
  for (gsize i = 0; i < n; i++) {
    unit[at[i]] = 1;
    bt__mixed_factor_solve(engine->factor, unit, solved);
    unit[at[i]] = 0;
    for (gsize j = 0; j < n; j++)
      gsl_matrix_set(inverse, i, j, solved[at[j]]);
  }
  gsl_linalg_cholesky_decomp1(inverse);
  double sum = 0;
  for (gsize i = 0; i < n; i++)
    sum += 2 * log(gsl_matrix_get(inverse, i, i));
  gsl_matrix_free(inverse);
  return sum;
}

bool bt__mixed_solve(BtMixedEngine *engine) {
  fill_system(engine);
  if (!bt__mixed_factorise(engine->factor, engine->system))
    return false;
  solve_for_moments(engine);
  sum_squares(engine);
  engine->determinants = bt__mixed_log_determinant(engine->factor);
  if (engine->method == BT_MIXED_ML)
    engine->determinants += log_determinant_free(engine);
  for (gsize j = 0; engine->method == BT_MIXED_REML && j < engine->columns; j++)
    engine->determinants += 2 * log(fabs(gsl_matrix_get(engine->r, j, j)));
  double df = bt__mixed_df(engine);
  engine->criterion = engine->determinants + df * (1 + log(2 * G_PI * engine->penalised / df));
  return isfinite(engine->criterion);
}

bool bt__mixed_confounded(const BtMixedEngine *engine) {
  for (gsize i = 0; i < engine->size; i++) {
    if (block_at(engine, i)->fixed && bt__mixed_own_share(engine->factor, i) <= OWN_SHARE)
      return true;
  }
  return false;
}

double *bt__mixed_inverse_of_x(const BtMixedEngine *engine) {
  gsize p = engine->columns;
  double *inverse = g_new(double, p *p);
  g_autofree double *unit = g_new0(double, engine->size), *solved = g_new(double, engine->size);
  for (gsize i = 0; i < p; i++) {
    unit[engine->size - p + i] = 1;
    bt__mixed_factor_solve(engine->factor, unit, solved);
    unit[engine->size - p + i] = 0;
    memcpy(&inverse[i * p], &solved[engine->size - p], p * sizeof *inverse);
  }
  return inverse;
}
