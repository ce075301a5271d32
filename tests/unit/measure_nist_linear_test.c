// SPDX-License-Identifier: GPL-3.0-or-later
//
// Least squares against NIST's certified values, from powers of x as doubles hold them. For Filip,
// whose eleven columns are nearly one plane, the rounding of those powers costs half the digits;
// all others come out right to the last two.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/regression.h>

#include "support/nist.h"

typedef struct {
  gsize rows, columns, first; // first: the number of the first coefficient, 0 with a constant
  double *y, *x;
} Problem;

static Problem problem(json_t *example) {
  Problem p = {0};
  p.y = published_matrix(published_input(example, "y"), NULL, &p.rows);
  p.first = json_is_true(published_input(example, "no_intercept")) ? 1 : 0;
  json_t *table = json_object_get(json_object_get(example, "inputs"), "X_rows");
  gsize given = 1;
  g_autofree double *x = table ? published_matrix(table, NULL, &given)
                               : published_matrix(published_input(example, "x"), NULL, NULL);
  gsize highest =
      table ? given : (gsize)json_integer_value(published_input(example, "poly_degree"));
  p.columns = highest + 1 - p.first;
  p.x = g_new(double, p.rows *p.columns);
  for (gsize i = 0; i < p.rows; i++) {
    for (gsize j = 0; j < p.columns; j++) {
      gsize power = j + p.first;
      p.x[i * p.columns + j] = !table       ? (double)powl(x[i], (long double)power)
                               : power == 0 ? 1
                                            : x[i * given + power - 1];
    }
  }
  return p;
}

// `needed` digits of the coefficients, of their standard errors, and of the residual and total
// figures.
static void check(json_t *family, const char *id, const double needed[3]) {
  json_t *example = published_example(family, id);
  Problem p = problem(example);
  g_autoptr(BtRegression) fit = bt_regression(p.y, p.x, p.rows, p.columns, p.first == 0);
  assert_null(fit->why_not);
  double of_b = NIST_MOST, of_se = NIST_MOST, of_rest = NIST_MOST;
  for (gsize j = 0; j < p.columns; j++) {
    g_autofree char *name = g_strdup_printf("B%u", (unsigned)(j + p.first));
    g_autofree char *sd_name = g_strconcat("sd_", name, NULL);
    nist_look(example, name, fit->b[j].value, &of_b);
    nist_look(example, sd_name, fit->b[j].se, &of_se);
  }
  nist_look(example, "rsd", fit->residual_sd, &of_rest);
  nist_look(example, "r2", fit->r_squared, &of_rest);
  nist_ask(example, "coefficients", of_b, needed[0]);
  nist_ask(example, "their standard errors", of_se, needed[1]);
  nist_ask(example, "residual sd, R squared", of_rest, needed[2]);
  g_free(p.y);
  g_free(p.x);
}

static void regressions_reach_the_certified_digits(void **state) {
  (void)state;
  json_t *family = published_family("nist_linear");
  check(family, "nist_Norris", (double[]){13.5, 13.5, 13.5});
  check(family, "nist_Pontius", (double[]){13, 13, 13});
  check(family, "nist_NoInt1", (double[]){14, 14, 14});
  check(family, "nist_NoInt2", (double[]){14, 14, 14});
  check(family, "nist_Filip", (double[]){7.4, 7.4, 9.3});
  check(family, "nist_Longley", (double[]){14, 13.5, 14});
  check(family, "nist_Wampler1", (double[]){13, 13, 13});
  check(family, "nist_Wampler2", (double[]){12.7, 13, 13});
  check(family, "nist_Wampler3", (double[]){13.5, 12.7, 14});
  check(family, "nist_Wampler4", (double[]){13, 12.7, 14});
  check(family, "nist_Wampler5", (double[]){13, 12.7, 14});
  json_decref(family);
}

// Three points of which the line misses each by a hand-worked amount: y = 1/3 + x, residuals
// -1/3, 2/3, -1/3, so s^2 = (6/9) / 1, F = 2 / (2/3) = 3 on 1 and 1, whose chance is 1/3 (the
// square of Cauchy's t at 1.732, 60 degrees).
static void a_line_worked_by_hand(void **state) {
  (void)state;
  double x[] = {0, 1, 2}, y[] = {0, 2, 2};
  g_autoptr(BtRegression) fit = bt_regression_line(y, x, 3);
  assert_null(fit->why_not);
  assert_true(fabs(fit->b[0].value - 1.0 / 3) < 1e-15);
  assert_true(fabs(fit->b[1].value - 1) < 1e-15);
  assert_true(fabs(fit->residual_ss - 2.0 / 3) < 1e-15);
  assert_true(fabs(fit->b[1].se - sqrt(1.0 / 3)) < 1e-15);
  assert_true(fabs(fit->f - 3) < 1e-13);
  assert_true(fabs(fit->p - 1.0 / 3) < 1e-13);
  assert_true(fabs(fit->r_squared - 0.75) < 1e-15);
  // At the mean of x the error is that of a mean: s / sqrt(3). Limits by t on 1: 12.7062 (tables).
  BtEstimate middle = bt_regression_at(fit, (double[]){1, 1});
  assert_true(fabs(middle.value - 4.0 / 3) < 1e-15);
  assert_true(fabs(middle.se - sqrt(2.0) / 3) < 1e-15);
  assert_true(fabs(middle.high - middle.value - 12.7062 * middle.se) < 1e-4);
}

static void what_has_no_line_says_why(void **state) {
  (void)state;
  double x[] = {4, 4, 4}, y[] = {1, 2, 3}, rising[] = {1, 2, 3};
  g_autoptr(BtRegression) same_x = bt_regression_line(y, x, 3);
  assert_string_equal(same_x->why_not, "what explains the values cannot be told apart");
  BtEstimate at = bt_regression_at(same_x, (double[]){1, 4});
  assert_non_null(at.why_not);
  g_autoptr(BtRegression) none = bt_regression_line(NULL, NULL, 0);
  assert_string_equal(none->why_not, "there are fewer values than coefficients");
  g_autoptr(BtRegression) one = bt_regression_line(y, x, 1);
  assert_string_equal(one->why_not, "there are fewer values than coefficients");
  g_autoptr(BtRegression) two = bt_regression_line(y, rising, 2); // told, but without an error
  assert_null(two->why_not);
  assert_false(two->b[1].has_se || two->b[1].has_limits);
  assert_true(two->df == 0 && two->residual_sd == 0 && two->f == 0);
  double zero[] = {0, 0, 0};
  g_autoptr(BtRegression) nothing = bt_regression(y, zero, 3, 1, false);
  assert_non_null(nothing->why_not);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(regressions_reach_the_certified_digits),
      cmocka_unit_test(a_line_worked_by_hand),
      cmocka_unit_test(what_has_no_line_says_why),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
