// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rates with Garwood's limits: the table that statisticians copy, and the two tails added up.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <benchtally/rate.h>

// Pearson and Hartley, Biometrika Tables for Statisticians, vol. 1, table 40 (after Garwood 1936),
// 95 % limits of a Poisson count, to the digits printed; written down from memory.
static void limits_are_those_of_the_printed_table(void **state) {
  (void)state;
  static const struct {
    gsize count;
    double low, high, to;
  } printed[] = {{0, 0, 3.69, 0.005},       {1, 0.0253, 5.57, 0.005}, {2, 0.242, 7.22, 0.005},
                 {3, 0.619, 8.77, 0.005},   {5, 1.62, 11.67, 0.005},  {10, 4.80, 18.39, 0.005},
                 {20, 12.22, 30.89, 0.005}, {50, 37.11, 65.92, 0.005}};
  for (gsize i = 0; i < G_N_ELEMENTS(printed); i++) {
    const BtEstimate rate = bt_rate(printed[i].count, 1);
    assert_null(rate.why_not);
    assert_true(rate.has_limits);
    assert_true(fabs(rate.low - printed[i].low) <= printed[i].to);
    assert_true(fabs(rate.high - printed[i].high) <= printed[i].to);
  }
}

// The chance of `count` or fewer.
static double at_most(gsize count, double mean) {
  double term = exp(-mean), sum = term;
  for (gsize i = 1; i <= count; i++) {
    term *= mean / (double)i;
    sum += term;
  }
  return sum;
}

static void each_tail_holds_25_in_1000(void **state) {
  (void)state;
  for (gsize count = 1; count <= 60; count++) {
    const BtEstimate rate = bt_rate(count, 7);
    assert_true(fabs(rate.value - (double)count / 7) < 1e-15 * (double)count);
    assert_true(fabs(at_most(count, rate.high * 7) - 0.025) < 1e-11);
    assert_true(fabs(1 - at_most(count - 1, rate.low * 7) - 0.025) < 1e-11);
  }
}

static void nothing_found_and_nothing_looked_at_are_told_apart(void **state) {
  (void)state;
  const BtEstimate none = bt_rate(0, 40), unknown = bt_rate(0, 0);
  assert_null(none.why_not);
  assert_true(none.value <= 0 && none.low <= 0 && none.high > 0);
  assert_int_equal(none.n, 40);
  assert_string_equal(unknown.why_not, "no session was looked at");
  assert_false(unknown.has_limits);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(limits_are_those_of_the_printed_table),
      cmocka_unit_test(each_tail_holds_25_in_1000),
      cmocka_unit_test(nothing_found_and_nothing_looked_at_are_told_apart)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
