// SPDX-License-Identifier: GPL-3.0-or-later
//
// Learning curves against worked examples.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/curve.h>

#include "measure/curve_parts.h"
#include "measure/nonlinear.h"
#include "support/published.h"

// Wright (1936): each doubling of the units leaves 80 or 85 % of the time. Unit times are those of
// a power curve that starts at 1 and falls towards 0; their sums are the cumulative ones.
static void coefficients_of_the_eighty_percent_curve(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *example = published_example(family, "wright_80");
  const double rates[] = {0.80, 0.85};
  const int units[] = {2, 4, 5, 8, 10, 100};
  const char *const skipped = "85"; // of 85 % the table gives the hundredth unit only
  published_check(example, "exp_80", log2(0.80));
  for (int r = 0; r < 2; r++) {
    double rate = -log2(rates[r]), sum = 0;
    for (int k = 1, i = 0; k <= 100; k++) {
      double unit = bt_curve_value(BT_CURVE_POWER, 1, rate, 0, k);
      sum += unit;
      if (k != units[i])
        continue;
      i++;
      g_autofree char *u = g_strdup_printf("u%.0f_%d", 100 * rates[r], k);
      g_autofree char *c = g_strdup_printf("c%.0f_%d", 100 * rates[r], k);
      if (k < 100 && strstr(u, skipped))
        continue;
      published_check(example, u, unit);
      if (k == 5 || k >= 10)
        published_check(example, c, sum);
    }
  }
  json_decref(family);
}

// The share of what is still to gain that one more attempt takes: the slope over the distance to
// the plateau. Differences of attempts of 1e-4 leave eight digits.
static double relative_rate(BtCurveForm form, double rate, double k) {
  double step = 1e-4, plateau = 30, start = 90;
  double slope = (bt_curve_value(form, start, rate, plateau, k + step) -
                  bt_curve_value(form, start, rate, plateau, k - step)) /
                 (2 * step);
  return -slope / (bt_curve_value(form, start, rate, plateau, k) - plateau);
}

// Heathcote, Brown and Mewhort (2000): constant for an exponential, hyperbolic for a power curve
// (of N + E trials, E of them before the first).
static void relative_learning_rates(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *example = published_example(family, "heathcote_rlr");
  json_t *of = published_input(example, "case");
  double a = json_number_value(json_object_get(of, "a"));
  double b = json_number_value(json_object_get(of, "b"));
  double earlier = json_number_value(json_object_get(of, "E"));
  const double trials[] = {1, 10, 100};
  for (int i = 0; i < 3; i++) {
    g_autofree char *name = g_strdup_printf("pow%.0f", trials[i]);
    published_check_to(example, "exp_any", relative_rate(BT_CURVE_EXPONENTIAL, a, trials[i] + 1),
                       1e-7);
    published_check_to(example, name, relative_rate(BT_CURVE_POWER, b, trials[i] + earlier), 1e-7);
  }
  json_decref(family);
}

typedef struct {
  gsize n;
  double *x, *y;
} Points;

static bool saturating(const double *b, double *residual, double *derivative, gconstpointer data) {
  const Points *points = data;
  for (gsize i = 0; i < points->n; i++) {
    double left = exp(-b[1] * points->x[i]);
    residual[i] = b[0] * (1 - left) - points->y[i];
    if (derivative) {
      derivative[2 * i] = 1 - left;
      derivative[2 * i + 1] = b[0] * points->x[i] * left;
    }
  }
  return true;
}

static bool hyperbola(const double *b, double *residual, double *derivative, gconstpointer data) {
  const Points *points = data;
  for (gsize i = 0; i < points->n; i++) {
    double below = b[1] + points->x[i];
    residual[i] = b[0] * points->x[i] / below - points->y[i];
    if (derivative) {
      derivative[2 * i] = points->x[i] / below;
      derivative[2 * i + 1] = -b[0] * points->x[i] / (below * below);
    }
  }
  return true;
}

// Bates and Watts (1988), A1.4: y = A (1 - exp(-k t)). Akaike's criterion as R counts it.
static void oxygen_demand(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *example = published_example(family, "bod");
  Points points;
  points.x = published_matrix(published_input(example, "Time"), NULL, &points.n);
  points.y = published_matrix(published_input(example, "demand"), NULL, NULL);
  const double start[] = {20, 0.3};
  g_autoptr(BtNonlinear) fit = bt__nonlinear(saturating, &points, points.n, start, 2);
  assert_null(fit->why_not);
  published_check(example, "A", fit->b[0]);
  published_check(example, "k", fit->b[1]);
  published_check(example, "se_A", sqrt(fit->covariance[0]));
  published_check(example, "se_k", sqrt(fit->covariance[3]));
  published_check(example, "rse", fit->residual_sd);
  published_check(example, "rss", fit->residual_ss);
  // Three figures: A, k, spread. The small-sample term is 2 k (k + 1) / (n - k - 1) = 24 / 2.
  BtEstimate aicc = bt__aicc(fit->residual_ss, points.n, 3, false);
  published_check(example, "aic", aicc.value - 12);
  g_free(points.x);
  g_free(points.y);
  json_decref(family);
}

// Bates and Watts (1988), A1.3: y = V x / (K + x).
static void enzyme_velocity(void **state) {
  (void)state;
  json_t *family = published_family("curve");
  json_t *example = published_example(family, "puromycin");
  Points points;
  points.x = published_matrix(published_input(example, "conc"), NULL, &points.n);
  points.y = published_matrix(published_input(example, "rate"), NULL, NULL);
  const double start[] = {200, 0.05};
  g_autoptr(BtNonlinear) fit = bt__nonlinear(hyperbola, &points, points.n, start, 2);
  assert_null(fit->why_not);
  published_check(example, "V", fit->b[0]);
  published_check(example, "K", fit->b[1]);
  published_check(example, "se_V", sqrt(fit->covariance[0]));
  published_check(example, "se_K", sqrt(fit->covariance[3]));
  published_check(example, "rss", fit->residual_ss);
  g_free(points.x);
  g_free(points.y);
  json_decref(family);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(coefficients_of_the_eighty_percent_curve),
      cmocka_unit_test(relative_learning_rates),
      cmocka_unit_test(oxygen_demand),
      cmocka_unit_test(enzyme_velocity),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
