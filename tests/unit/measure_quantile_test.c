// SPDX-License-Identifier: GPL-3.0-or-later
//
// Quantiles against hand-worked values of definition 7 (Hyndman and Fan, The American Statistician
// 50, 1996): at (n - 1) p between the order statistics.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/measure.h>

static void quartiles_of_four_lie_between_the_order_statistics(void **state) {
  (void)state;
  // (4 - 1) / 4 = 0.75: a quarter short of the second; 2.25: a quarter past the third.
  gint64 values[] = {4000, 1000, 3000, 2000};
  assert_int_equal(bt_quantile(values, 4, 1, 4), 1750);
  assert_int_equal(bt_quantile(values, 4, 1, 2), 2500);
  assert_int_equal(bt_quantile(values, 4, 3, 4), 3250);
  assert_int_equal(bt_quantile(values, 4, 0, 1), 1000);
  assert_int_equal(bt_quantile(values, 4, 1, 1), 4000);
}

static void quartiles_of_five_are_values_themselves(void **state) {
  (void)state;
  gint64 values[] = {50, 10, 40, 20, 30};
  assert_int_equal(bt_quantile(values, 5, 1, 4), 20);
  assert_int_equal(bt_quantile(values, 5, 3, 4), 40);
}

static void halves_round_away_from_zero(void **state) {
  (void)state;
  gint64 up[] = {1, 2}, down[] = {-2, -1}, across[] = {-1, 0};
  assert_int_equal(bt_quantile(up, 2, 1, 2), 2);
  assert_int_equal(bt_quantile(down, 2, 1, 2), -2);
  assert_int_equal(bt_quantile(across, 2, 1, 2), -1);
}

static void one_value_is_every_quantile(void **state) {
  (void)state;
  gint64 value[] = {7};
  assert_int_equal(bt_quantile(value, 1, 1, 4), 7);
  assert_int_equal(bt_quantile(value, 1, 1, 1), 7);
}

static void leaving_one_out_is_the_quantile_of_the_others(void **state) {
  (void)state;
  const gint64 sorted[] = {1, 3, 3, 8, 13, 21, 34};
  for (gsize without = 0; without < 7; without++) {
    gint64 others[6];
    for (gsize i = 0, j = 0; i < 7; i++) {
      if (i != without)
        others[j++] = sorted[i];
    }
    for (gint64 num = 0; num <= 8; num++)
      assert_int_equal(bt_quantile_without(sorted, 7, without, num, 8),
                       bt_quantile(others, 6, num, 8));
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(quartiles_of_four_lie_between_the_order_statistics),
      cmocka_unit_test(quartiles_of_five_are_values_themselves),
      cmocka_unit_test(halves_round_away_from_zero), cmocka_unit_test(one_value_is_every_quantile),
      cmocka_unit_test(leaving_one_out_is_the_quantile_of_the_others)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
