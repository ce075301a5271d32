// SPDX-License-Identifier: GPL-3.0-or-later
//
// Trends: slopes worked by hand, chances against the enumeration of every arrangement.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include <benchtally/measure.h>

static void the_slope_is_the_median_over_all_pairs(void **state) {
  (void)state;
  // Slopes 1, 2 and (4 - 1) / 2 = 1.5.
  gint64 three[] = {1000, 2000, 4000};
  assert_int_equal(bt_trend(three, 3).slope, 1500);
  // One wild value among five: slopes 10 10 10 10, 10 10 10 10 but for the four pairs with the
  // third.
  gint64 wild[] = {10, 20, 900, 40, 50};
  assert_int_equal(bt_trend(wild, 5).slope, 10);
  gint64 falling[] = {30, 20, 10};
  assert_int_equal(bt_trend(falling, 3).slope, -10);
}

static void short_rows_have_no_direction(void **state) {
  (void)state;
  gint64 one[] = {5}, two[] = {5, 9};
  BtTrend trend = bt_trend(one, 1);
  assert_int_equal(trend.slope, 0);
  assert_int_equal(trend.by_chance_permille, 1000);
  trend = bt_trend(two, 2);
  assert_int_equal(trend.slope, 4);
  assert_int_equal(trend.by_chance_permille, 1000); // either of two orders is as steady
  assert_false(bt_trend_is_clear(&trend));
}

// Kendall, Rank Correlation Methods, table of S: one-sided 0.042 at n = 4, S = 6; 0.0083 at n = 5,
// S = 10; 0.036 at n = 10, S = 21. Ours is two-sided and rounded up.
static void chances_agree_with_the_table_of_kendall(void **state) {
  (void)state;
  gint64 four[] = {1, 2, 3, 4}, five[] = {1, 2, 3, 4, 5};
  assert_int_equal(bt_trend(four, 4).by_chance_permille, 84);
  assert_int_equal(bt_trend(five, 5).by_chance_permille, 17);
  // 45 pairs of which 12 fall: S = 21.
  gint64 ten[] = {3, 2, 1, 6, 5, 4, 9, 8, 10, 7};
  BtTrend trend = bt_trend(ten, 10);
  assert_int_equal(trend.s, 45 - 2 * (3 + 3 + 4));
  gint64 s21[] = {4, 3, 2, 1, 8, 7, 6, 5, 9, 10};
  trend = bt_trend(s21, 10);
  assert_int_equal(trend.s, 21);
  assert_in_range(trend.by_chance_permille, 71, 74);
}

// The oracle: every arrangement, one by one.
typedef struct {
  gint64 values[8];
  int n, at_least;
  gint64 all, as_steady;
} Enumeration;

static int s_of(const gint64 *values, int n) {
  int s = 0;
  for (int j = 1; j < n; j++) {
    for (int i = 0; i < j; i++)
      s += values[i] < values[j] ? 1 : values[i] > values[j] ? -1 : 0;
  }
  return s;
}

static void enumerate(Enumeration *e, int from) {
  if (from == e->n) {
    e->all++;
    e->as_steady += abs(s_of(e->values, e->n)) >= e->at_least;
    return;
  }
  for (int i = from; i < e->n; i++) {
    gint64 kept = e->values[from];
    e->values[from] = e->values[i];
    e->values[i] = kept;
    enumerate(e, from + 1);
    e->values[i] = e->values[from];
    e->values[from] = kept;
  }
}

static void chances_agree_with_counting_every_arrangement(void **state) {
  (void)state;
  srand(20260304);
  for (int round = 0; round < 300; round++) {
    Enumeration e = {.n = 2 + round % 6};
    for (int i = 0; i < e.n; i++)
      e.values[i] = rand() % (2 + round % 7); // ties are common
    BtTrend trend = bt_trend(e.values, (gsize)e.n);
    assert_int_equal(trend.s, s_of(e.values, e.n));
    e.at_least = abs(trend.s);
    enumerate(&e, 0);
    assert_int_equal(trend.by_chance_permille, (e.as_steady * 1000 + e.all - 1) / e.all);
  }
}

static void twenty_values_are_counted_without_overflow(void **state) {
  (void)state;
  gint64 rising[25];
  for (int i = 0; i < 25; i++)
    rising[i] = i;
  BtTrend trend = bt_trend(rising, 25);
  assert_int_equal(trend.n, 20);
  assert_int_equal(trend.first, 5);
  assert_int_equal(trend.s, 190);
  assert_int_equal(trend.by_chance_permille, 1); // 2 in 20!, rounded up
  gint64 flat[20] = {0};
  assert_int_equal(bt_trend(flat, 20).by_chance_permille, 1000);
}

static void a_clear_trend_needs_five_steady_values(void **state) {
  (void)state;
  gint64 rising[] = {60, 65, 70, 71, 80};
  BtTrend four = bt_trend(rising, 4), five = bt_trend(rising, 5);
  assert_false(bt_trend_is_clear(&four));
  assert_true(bt_trend_is_clear(&five));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_slope_is_the_median_over_all_pairs),
      cmocka_unit_test(short_rows_have_no_direction),
      cmocka_unit_test(chances_agree_with_the_table_of_kendall),
      cmocka_unit_test(chances_agree_with_counting_every_arrangement),
      cmocka_unit_test(twenty_values_are_counted_without_overflow),
      cmocka_unit_test(a_clear_trend_needs_five_steady_values)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
