// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rank correlation and shares: against counting every pair, every arrangement, every binomial term.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <benchtally/association.h>
#include <benchtally/proportion.h>

#define ROUNDS 300
#define MOST   25

static void near_to(double value, double wanted, double relative) {
  if (!(fabs(value - wanted) <= relative * MAX(1, fabs(wanted))))
    fail_msg("%.17g, expected %.17g", value, wanted);
}

static int sign(double a, double b) {
  return (a > b) - (a < b);
}

static void pairs_are_those_that_counting_finds(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(31);
  for (int round = 0; round < ROUNDS; round++) {
    double x[MOST], y[MOST];
    gsize n = (gsize)g_rand_int_range(dice, 0, MOST + 1);
    BtPairs wanted = {0};
    for (gsize i = 0; i < n; i++) {
      x[i] = g_rand_int_range(dice, 0, 8) == 0 ? BT_MISSING : (double)g_rand_int_range(dice, 0, 6);
      y[i] = g_rand_int_range(dice, 0, 6);
      wanted.n += !bt_is_missing(x[i]);
      for (gsize j = 0; j < i; j++) {
        if (bt_is_missing(x[i]) || bt_is_missing(x[j]))
          continue;
        int sx = sign(x[i], x[j]), sy = sign(y[i], y[j]);
        wanted.concordant += sx * sy > 0;
        wanted.discordant += sx * sy < 0;
        wanted.tied_x += sx == 0;
        wanted.tied_y += sy == 0;
        wanted.tied += sx == 0 && sy == 0;
      }
    }
    BtPairs pairs = bt_pairs(x, y, n);
    assert_memory_equal(&pairs, &wanted, sizeof pairs);
  }
  g_rand_free(dice);
}

// Every arrangement of 7 values: the chance of a tau, and of a rho, as far from 0.
static void exact_chances_are_those_of_every_arrangement(void **state) {
  (void)state;
  enum { N = 7, ALL = 5040 };
  double x[N] = {1, 2, 3, 4, 5, 6, 7};
  static double order[ALL][N];
  int made = 0;
  for (int code = 0; code < ALL; code++) { // the code's factorial digits pick from what is left
    double left[N];
    memcpy(left, x, sizeof left);
    for (int i = 0, rest = code, n = N; i < N; i++, n--) {
      int pick = rest % n;
      rest /= n;
      order[code][i] = left[pick];
      memmove(left + pick, left + pick + 1, (size_t)(n - pick - 1) * sizeof *left);
    }
    made++;
  }
  assert_int_equal(made, ALL);
  for (int of = 0; of < ALL; of += 997) {
    BtAssociation tau = bt_kendall_tau(x, order[of], N), rho = bt_spearman_rho(x, order[of], N);
    int tau_as_far = 0, rho_as_far = 0;
    for (int i = 0; i < ALL; i++) {
      BtPairs pairs = bt_pairs(x, order[i], N);
      double other = (double)(pairs.concordant - pairs.discordant) / 21, middle = 0;
      for (int k = 0; k < N; k++)
        middle += (x[k] - 4) * (order[i][k] - 4) / 28;
      tau_as_far += fabs(other) >= fabs(tau.estimate.value) - 1e-12;
      rho_as_far += fabs(middle) >= fabs(rho.estimate.value) - 1e-12;
    }
    assert_true(tau.exact && rho.exact);
    near_to(tau.by_chance, (double)tau_as_far / ALL, 1e-12);
    near_to(rho.by_chance, (double)rho_as_far / ALL, 1e-12);
  }
}

static void what_says_nothing_says_why(void **state) {
  (void)state;
  double x[] = {1, 2, 3}, same[] = {5, 5, 5}, holes[] = {BT_MISSING, BT_MISSING, 1};
  assert_non_null(bt_kendall_tau(x, same, 3).estimate.why_not);
  assert_non_null(bt_spearman_rho(x, same, 3).estimate.why_not);
  assert_true(bt_kendall_tau(x, same, 3).by_chance == 1);
  assert_non_null(bt_kendall_tau(x, holes, 3).estimate.why_not);
  assert_non_null(bt_spearman_rho(NULL, NULL, 0).estimate.why_not);
  BtPairs none = bt_pairs(NULL, NULL, 0);
  assert_non_null(bt_gamma(&none).why_not);
  assert_non_null(bt_somers_d(&none).why_not);
}

static void the_ends_are_one_and_bare(void **state) {
  (void)state;
  double x[] = {1, 2, 3, 4, 5, 6}, down[] = {9, 8, 7, 5, 3, 1};
  BtAssociation tau = bt_kendall_tau(x, down, 6), rho = bt_spearman_rho(x, down, 6);
  near_to(tau.estimate.value, -1, 0);
  near_to(rho.estimate.value, -1, 0);
  near_to(tau.by_chance, 2.0 / 720, 1e-12);
  assert_false(tau.estimate.has_limits || rho.estimate.has_limits);
}

// The limits of Clopper and Pearson leave 2.5 of 100 in each tail: summed term by term.
static double tail(gsize from, gsize to, gsize n, double p) {
  double sum = 0;
  for (gsize k = from; k <= to; k++)
    sum += exp(lgamma((double)n + 1) - lgamma((double)k + 1) - lgamma((double)(n - k) + 1) +
               (double)k * log(p) + (double)(n - k) * log1p(-p));
  return sum;
}

static void exact_limits_leave_their_tails(void **state) {
  (void)state;
  for (gsize n = 1; n <= 40; n += 3) {
    for (gsize x = 0; x <= n; x++) {
      BtEstimate exact = bt_proportion_exact(x, n), wilson = bt_proportion_wilson(x, n);
      if (x > 0)
        near_to(tail(x, n, n, exact.low), 0.025, 1e-10);
      if (x < n)
        near_to(tail(0, x, n, exact.high), 0.025, 1e-10);
      assert_true(wilson.low >= 0 && wilson.high <= 1);
      assert_true(wilson.low <= wilson.value && wilson.value <= wilson.high);
    }
  }
  assert_string_equal(bt_proportion_wilson(0, 0).why_not, "nothing was counted");
  assert_string_equal(bt_proportion_exact(0, 0).why_not, "nothing was counted");
}

// Three sessions of 10, 20 and 30 entries with 9, 16 and 27 matched. Share 52/60; off it by 1/3,
// -4/3 and 1; standard error sqrt(3/2 x (1 + 16 + 9)/9) / 60 = sqrt(13/3) / 60.
static void clusters_of_different_size(void **state) {
  (void)state;
  double these[] = {9, 16, 27, 0}, all[] = {10, 20, 30, 0};
  BtEstimate share = bt_proportion_clustered(these, all, 4);
  near_to(share.value, 52.0 / 60, 1e-14);
  near_to(share.se, sqrt(13.0 / 3) / 60, 1e-12);
  assert_int_equal(share.n, 60);
  assert_true(share.high == 1); // cut: 0.867 + 4.30 x 0.035
  assert_false(bt_proportion_clustered(these, all, 1).has_limits);
  assert_non_null(bt_proportion_clustered(these + 3, all + 3, 1).why_not);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(pairs_are_those_that_counting_finds),
      cmocka_unit_test(exact_chances_are_those_of_every_arrangement),
      cmocka_unit_test(what_says_nothing_says_why),
      cmocka_unit_test(the_ends_are_one_and_bare),
      cmocka_unit_test(exact_limits_leave_their_tails),
      cmocka_unit_test(clusters_of_different_size),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
