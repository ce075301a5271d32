// SPDX-License-Identifier: GPL-3.0-or-later
//
// Mixed models against the definition: dense matrices, the covariance of all rows written out and
// inverted (Searle, Casella and McCulloch 1992, chapters 6 and 7), on random designs with holes. It
// shares no step with the program: likelihood, means, predictions and their errors must agree, and
// no step of any variance may lower the criterion.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

#include <benchtally/mixed.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define ROWS    48
#define DESIGNS 60
#define TERMS   2
#define GROUPS  9

// One random design: two crossed groupings with holes, the first with a slope in every other one.
typedef struct {
  double y[ROWS], x[ROWS * 2], slope[ROWS];
  gsize of[TERMS][ROWS], groups[TERMS];
  BtMixedTerm term[TERMS];
  BtMixedData data;
} Design;

// Variances of the model: of each term start, slope and covariance, and of the residuals.
typedef struct {
  double g[TERMS][2][2], residual;
} Components;

static double normal(GRand *chance) {
  return qnorm(g_rand_double_range(chance, 1e-12, 1 - 1e-12), 0, 1, TRUE, FALSE);
}

static void draw_effects(Design *design, GRand *chance) {
  double sd[TERMS] = {g_rand_double_range(chance, 1, 4), g_rand_double_range(chance, 0, 3)};
  for (gsize t = 0; t < TERMS; t++) {
    double start[GROUPS], slope[GROUPS];
    for (gsize g = 0; g < GROUPS; g++) {
      start[g] = sd[t] * normal(chance);
      slope[g] = 0.3 * start[g] + 0.5 * normal(chance);
    }
    for (gsize i = 0; i < ROWS; i++)
      design->y[i] += start[design->of[t][i]] +
                      (design->term[t].slope ? slope[design->of[t][i]] * design->slope[i] : 0);
  }
}

static void draw(Design *design, GRand *chance, bool with_slope, bool fixed) {
  for (gsize t = 0; t < TERMS; t++)
    design->groups[t] = (gsize)g_rand_int_range(chance, 4, GROUPS + 1);
  for (gsize i = 0; i < ROWS; i++) {
    for (gsize t = 0; t < TERMS; t++) // each group once at the least, the rest by chance
      design->of[t][i] =
          i < design->groups[t] ? i : (gsize)g_rand_int_range(chance, 0, (gint32)design->groups[t]);
    design->slope[i] = g_rand_double_range(chance, 0, 6);
    design->x[2 * i] = 1;
    design->x[2 * i + 1] = design->slope[i];
    design->y[i] = 200 + 3 * design->slope[i] + 2 * normal(chance);
  }
  for (gsize t = 0; t < TERMS; t++)
    design->term[t] = (BtMixedTerm){.groups = design->groups[t],
                                    .of = design->of[t],
                                    .slope = t == 0 && with_slope ? design->slope : NULL,
                                    .fixed = t == 1 && fixed};
  draw_effects(design, chance);
  design->data = (BtMixedData){.rows = ROWS,
                               .y = design->y,
                               .columns = fixed ? 0 : 2,
                               .x = design->x,
                               .terms = TERMS,
                               .term = design->term};
}

static Components found(const BtMixed *fit) {
  Components c = {.residual = fit->residual_variance};
  for (gsize t = 0; t < TERMS; t++) {
    c.g[t][0][0] = fit->part[t].variance;
    c.g[t][0][1] = c.g[t][1][0] = fit->part[t].covariance;
    c.g[t][1][1] = fit->part[t].slope_variance;
  }
  return c;
}

// Definition ------------------------------------------------------------------

static double z_of(const Design *design, gsize term, gsize row, int effect) {
  return effect == 0 ? 1 : design->term[term].slope ? design->slope[row] : 0;
}

// Covariance of row `i` with effect `e` of group `g` of a term.
static double row_with_effect(const Design *design, const Components *c, gsize term, gsize i,
                              gsize g, int e) {
  if (design->of[term][i] != g)
    return 0;
  return c->g[term][0][e] * z_of(design, term, i, 0) + c->g[term][1][e] * z_of(design, term, i, 1);
}

static double row_with_row(const Design *design, const Components *c, gsize i, gsize j) {
  double sum = i == j ? c->residual : 0;
  for (gsize t = 0; t < TERMS; t++) {
    for (int e = 0; e < 2 && !design->term[t].fixed; e++)
      sum += row_with_effect(design, c, t, i, design->of[t][j], e) * z_of(design, t, j, e);
  }
  return sum;
}

typedef struct {
  gsize p;
  gsl_matrix *inverse, *x, *covariance; // V^-1, X, (X' V^-1 X)^-1
  gsl_vector *b, *left;                 // estimates; V^-1 (y - X b)
  double criterion;
} Dense;

static gsl_matrix *dense_x(const Design *design) {
  bool fixed = design->term[1].fixed;
  gsl_matrix *x = gsl_matrix_calloc(ROWS, fixed ? design->groups[1] : 2);
  for (gsize i = 0; i < ROWS; i++) {
    for (gsize j = 0; j < x->size2; j++)
      gsl_matrix_set(x, i, j, fixed ? design->of[1][i] == j : design->x[2 * i + j]);
  }
  return x;
}

// Inverts in place; returns the logarithm of the determinant.
static double invert(gsl_matrix *a) {
  double log_determinant = 0;
  assert_int_equal(gsl_linalg_cholesky_decomp1(a), 0);
  for (gsize i = 0; i < a->size1; i++)
    log_determinant += 2 * log(gsl_matrix_get(a, i, i));
  gsl_linalg_cholesky_invert(a);
  return log_determinant;
}

static Dense solve(const Design *design, const Components *c, BtMixedMethod method) {
  Dense d = {.inverse = gsl_matrix_alloc(ROWS, ROWS), .x = dense_x(design)};
  d.p = d.x->size2;
  d.covariance = gsl_matrix_alloc(d.p, d.p);
  d.b = gsl_vector_alloc(d.p);
  d.left = gsl_vector_alloc(ROWS);
  for (gsize i = 0; i < ROWS; i++) {
    for (gsize j = 0; j < ROWS; j++)
      gsl_matrix_set(d.inverse, i, j, row_with_row(design, c, i, j));
  }
  d.criterion = invert(d.inverse);
  gsl_matrix *weighted = gsl_matrix_alloc(ROWS, d.p); // V^-1 X
  gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, d.inverse, d.x, 0, weighted);
  gsl_blas_dgemm(CblasTrans, CblasNoTrans, 1, d.x, weighted, 0, d.covariance);
  double of_x = invert(d.covariance);
  gsl_vector *moment = gsl_vector_alloc(d.p), *off = gsl_vector_alloc(ROWS);
  gsl_vector_const_view y = gsl_vector_const_view_array(design->y, ROWS);
  gsl_blas_dgemv(CblasTrans, 1, weighted, &y.vector, 0, moment);
  gsl_blas_dgemv(CblasNoTrans, 1, d.covariance, moment, 0, d.b);
  gsl_vector_memcpy(off, &y.vector);
  gsl_blas_dgemv(CblasNoTrans, -1, d.x, d.b, 1, off);
  gsl_blas_dgemv(CblasNoTrans, 1, d.inverse, off, 0, d.left);
  double squares;
  gsl_blas_ddot(off, d.left, &squares);
  bool reml = method == BT_MIXED_REML;
  d.criterion += squares + (reml ? of_x : 0) + (double)(ROWS - (reml ? d.p : 0)) * log(2 * G_PI);
  gsl_matrix_free(weighted);
  gsl_vector_free(moment);
  gsl_vector_free(off);
  return d;
}

static void dense_clear(Dense *d) {
  gsl_matrix_free(d->inverse);
  gsl_matrix_free(d->x);
  gsl_matrix_free(d->covariance);
  gsl_vector_free(d->b);
  gsl_vector_free(d->left);
}

// Comparisons -----------------------------------------------------------------

static void assert_near(double is, double want, double tolerance) {
  if (!(fabs(is - want) <= tolerance * fmax(1, fabs(want))))
    fail_msg("%.15g is not %.15g", is, want);
}

static void compare_means(const BtMixed *fit, const Design *design, const Dense *d) {
  for (gsize i = 0; i < d->p; i++) {
    bool fixed = design->term[1].fixed;
    assert_near(fixed ? fit->part[1].effect[i] : fit->b[i], gsl_vector_get(d->b, i), 1e-8);
    if (fixed)
      assert_near(fit->part[1].effect_variance[i], gsl_matrix_get(d->covariance, i, i), 1e-8);
    for (gsize j = 0; !fixed && j < d->p; j++)
      assert_near(fit->b_covariance[i * d->p + j], gsl_matrix_get(d->covariance, i, j), 1e-8);
  }
}

// Var(u^ - u) = G - C' P C, with C the covariances of the rows with u and P = V^-1 - V^-1 X (X'
// V^-1 X)^-1 X' V^-1.
static double prediction_covariance(const Dense *d, const gsl_vector *c1, const gsl_vector *c2,
                                    double g) {
  gsl_vector *weighted = gsl_vector_alloc(ROWS), *one = gsl_vector_alloc(d->p),
             *other = gsl_vector_alloc(d->p), *moved = gsl_vector_alloc(d->p);
  double of_v, of_x;
  gsl_blas_dgemv(CblasNoTrans, 1, d->inverse, c1, 0, weighted);
  gsl_blas_ddot(c2, weighted, &of_v);
  gsl_blas_dgemv(CblasTrans, 1, d->x, weighted, 0, one);
  gsl_blas_dgemv(CblasNoTrans, 1, d->inverse, c2, 0, weighted);
  gsl_blas_dgemv(CblasTrans, 1, d->x, weighted, 0, other);
  gsl_blas_dgemv(CblasNoTrans, 1, d->covariance, one, 0, moved);
  gsl_blas_ddot(other, moved, &of_x);
  gsl_vector_free(weighted);
  gsl_vector_free(one);
  gsl_vector_free(other);
  gsl_vector_free(moved);
  return g - of_v + of_x;
}

static void compare_group(const BtMixedPart *part, const Design *design, const Components *c,
                          const Dense *d, gsize term, gsize group) {
  gsl_vector *with[2] = {gsl_vector_alloc(ROWS), gsl_vector_alloc(ROWS)};
  gsize width = (gsize)part->width;
  for (int e = 0; e < part->width; e++) {
    double effect;
    for (gsize i = 0; i < ROWS; i++)
      gsl_vector_set(with[e], i, row_with_effect(design, c, term, i, group, e));
    gsl_blas_ddot(with[e], d->left, &effect);
    assert_near(part->effect[group * width + (gsize)e], effect, 1e-8);
  }
  for (gsize e = 0; e < width * width; e++)
    assert_near(part->effect_variance[group * width * width + e],
                prediction_covariance(d, with[e / width], with[e % width],
                                      c->g[term][e / width][e % width]),
                1e-8);
  gsl_vector_free(with[0]);
  gsl_vector_free(with[1]);
}

// A small step of any variance, or of the covariance, must not lead lower.
static void assert_least(const Design *design, const Components *at, BtMixedMethod method,
                         double least) {
  for (gsize t = 0; t < TERMS; t++) {
    for (int step = 0; step < 6 && !design->term[t].fixed; step++) {
      Components c = *at;
      int i = step / 2 < 2 ? step / 2 : 0, j = step / 2 < 2 ? i : 1;
      if (!design->term[t].slope && (i > 0 || j > 0))
        continue;
      double by = (step % 2 ? 0.01 : -0.01) * sqrt(c.g[t][i][i] * c.g[t][j][j] + 1e-4);
      c.g[t][i][j] += by;
      c.g[t][j][i] = c.g[t][i][j];
      double left = c.g[t][0][0] * c.g[t][1][1] - c.g[t][0][1] * c.g[t][0][1];
      if (c.g[t][0][0] < 0 || c.g[t][1][1] < 0 || left < 0) // no covariance matrix
        continue;
      Dense d = solve(design, &c, method);
      assert_true(d.criterion > least - 1e-7);
      dense_clear(&d);
    }
  }
}

static void compare(GRand *chance, bool with_slope, bool fixed, BtMixedMethod method,
                    int *at_boundary) {
  Design design;
  draw(&design, chance, with_slope, fixed);
  g_autoptr(BtMixed) fit = bt_mixed_fit(&design.data, method);
  assert_null(fit->why_not);
  Components c = found(fit);
  Dense d = solve(&design, &c, method);
  assert_near(fit->criterion, d.criterion, 1e-10);
  compare_means(fit, &design, &d);
  for (gsize t = 0; t < TERMS; t++) {
    for (gsize g = 0; !design.term[t].fixed && g < design.groups[t]; g++)
      compare_group(&fit->part[t], &design, &c, &d, t, g);
  }
  assert_least(&design, &c, method, d.criterion);
  *at_boundary += fit->singular;
  dense_clear(&d);
}

static void fits_agree_with_the_definition(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(20260201);
  int at_boundary = 0;
  for (int i = 0; i < DESIGNS; i++)
    compare(chance, i % 2, i % 3 == 2, i % 5 == 4 ? BT_MIXED_ML : BT_MIXED_REML, &at_boundary);
  print_message("at a boundary: %d of %d\n", at_boundary, DESIGNS);
  assert_in_range(at_boundary, 3, DESIGNS - 20); // both ways of ending were met
}

static void sums_agree_with_the_definition(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(20260202);
  Design design;
  draw(&design, chance, true, false);
  g_autoptr(BtMixed) fit = bt_mixed_fit(&design.data, BT_MIXED_REML);
  assert_null(fit->why_not);
  Components c = found(fit);
  Dense d = solve(&design, &c, BT_MIXED_REML);
  // The line of group 2 at 5: b0 + 5 b1 + start + 5 slope. Its error by the definition is that of
  // k'b + u with the covariance of b^ - b and u^ - u, -(X' V^-1 X)^-1 X' V^-1 C.
  BtMixedWeight line[] = {{-1, 0, false, 1}, {-1, 1, false, 5}, {0, 2, false, 1}, {0, 2, true, 5}};
  BtEstimate told = bt_mixed_sum(fit, line, G_N_ELEMENTS(line));
  gsl_vector *with = gsl_vector_alloc(ROWS), *weighted = gsl_vector_alloc(ROWS),
             *k = gsl_vector_alloc(2), *cross = gsl_vector_alloc(2), *moved = gsl_vector_alloc(2);
  for (gsize i = 0; i < ROWS; i++)
    gsl_vector_set(with, i,
                   row_with_effect(&design, &c, 0, i, 2, 0) +
                       5 * row_with_effect(&design, &c, 0, i, 2, 1));
  double g = c.g[0][0][0] + 10 * c.g[0][0][1] + 25 * c.g[0][1][1], effect, of_b, of_both;
  gsl_vector_set(k, 0, 1);
  gsl_vector_set(k, 1, 5);
  gsl_blas_ddot(with, d.left, &effect);
  gsl_blas_dgemv(CblasNoTrans, 1, d.covariance, k, 0, moved);
  gsl_blas_ddot(k, moved, &of_b);
  gsl_blas_dgemv(CblasNoTrans, 1, d.inverse, with, 0, weighted);
  gsl_blas_dgemv(CblasTrans, 1, d.x, weighted, 0, cross);
  gsl_blas_ddot(cross, moved, &of_both);
  assert_near(told.value, gsl_vector_get(d.b, 0) + 5 * gsl_vector_get(d.b, 1) + effect, 1e-9);
  assert_near(told.se * told.se, of_b - 2 * of_both + prediction_covariance(&d, with, with, g),
              1e-8);
  assert_int_equal(told.n, ROWS);
  gsl_vector *const vectors[] = {with, weighted, k, cross, moved};
  for (gsize i = 0; i < G_N_ELEMENTS(vectors); i++)
    gsl_vector_free(vectors[i]);
  dense_clear(&d);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(fits_agree_with_the_definition),
      cmocka_unit_test(sums_agree_with_the_definition),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
