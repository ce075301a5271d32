// SPDX-License-Identifier: GPL-3.0-or-later
//
// Decimals, rounding, durations and times on the session's clock. Expected values are worked by
// hand.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/base.h>

#define UNTOUCHED 77

static void a_plain_decimal_is_read_as_thousandths(void **state) {
  (void)state;
  static const struct {
    const char *text;
    gint64 milli;
  } rows[] = {
      {"12", 12000},
      {"-0.5", -500},
      {"1.250", 1250},
      {"0", 0},
      {"-0", 0},
      {"0.001", 1},
      {"007", 7000},
      {"1000000", 1000000000},
      {"-1000000", -1000000000},
      {"999999.999", 999999999},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gint64 milli = UNTOUCHED;
    assert_true(bt_decimal_parse(rows[i].text, &milli));
    assert_int_equal(milli, rows[i].milli);
  }
}

static void what_is_no_plain_decimal_is_refused_and_nothing_is_written(void **state) {
  (void)state;
  static const char *const rows[] = {"",
                                     "-",
                                     ".5",
                                     "5.",
                                     "1e3",
                                     "+1",
                                     " 1",
                                     "1 ",
                                     "1,5",
                                     "1.2345",
                                     "--1",
                                     "0x10",
                                     "1.2.3",
                                     "1000000.001",
                                     "99999999999999999999",
                                     "1000001",
                                     "-1000000.001",
                                     "inf",
                                     "nan",
                                     "\xD9\xA3"};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gint64 milli = UNTOUCHED;
    assert_false(bt_decimal_parse(rows[i], &milli));
    assert_int_equal(milli, UNTOUCHED);
  }
}

static void thousandths_are_written_as_the_shortest_decimal(void **state) {
  (void)state;
  static const struct {
    gint64 milli;
    const char *text;
  } rows[] = {{12000, "12"}, {500, "0.5"},   {-500, "-0.5"}, {0, "0"},
              {1, "0.001"},  {-1, "-0.001"}, {1250, "1.25"}, {100000, "100"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *text = bt_decimal_format(rows[i].milli);
    assert_string_equal(text, rows[i].text);
  }
}

static void a_cut_decimal_never_rounds_up_to_the_line(void **state) {
  (void)state;
  static const struct {
    gint64 milli;
    int decimals;
    const char *text;
  } rows[] = {{12345, 1, "12.3"}, {69999, 1, "69.9"}, {69999, 0, "69"},     {-12399, 1, "-12.3"},
              {-400, 0, "0"},     {70000, 1, "70.0"}, {12345, 3, "12.345"}, {50, 2, "0.05"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *text = bt_decimal_format_cut(rows[i].milli, rows[i].decimals);
    assert_string_equal(text, rows[i].text);
  }
}

static void every_decimal_survives_being_written_and_read(void **state) {
  (void)state;
  for (gint64 milli = -20000; milli <= 20000; milli++) {
    g_autofree char *text = bt_decimal_format(milli);
    gint64 again = UNTOUCHED;
    assert_true(bt_decimal_parse(text, &again));
    assert_int_equal(again, milli);
  }
}

static void a_half_is_rounded_away_from_zero(void **state) {
  (void)state;
  static const struct {
    gint64 a, b, den, rounded;
  } rows[] = {
      {1, 1, 2, 1},
      {-1, 1, 2, -1},
      {3, 5, 10, 2},
      {10, 2, 3, 7},
      {10, 1, 3, 3},
      {-10, 2, 3, -7},
      {1, 49, 100, 0},
      {1, 50, 100, 1},
      {-1, 49, 100, 0},
      {0, 5, 7, 0},
      {4999, 1, 10000, 0},
      {5000, 1, 10000, 1},
      // Beyond 64 bits on the way: 10^9 x 86,400,000,000 / 86,400,000,000.
      {1000000000, 86400000000, 86400000000, 1000000000},
      {G_MAXINT64, 2, 4, (G_MAXINT64 / 2) + 1},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    assert_int_equal(bt_round_ratio(rows[i].a, rows[i].b, rows[i].den), rows[i].rounded);
}

static void a_duration_carries_its_unit(void **state) {
  (void)state;
  static const struct {
    const char *text;
    gint64 ms;
  } good[] = {{"90 s", 90000},   {"8 min", 480000},    {"1 h", 3600000}, {"1.5 min", 90000},
              {"0 s", 0},        {"24 h", 86400000},   {"0.001 s", 1},   {"1440 min", 86400000},
              {"0.001 min", 60}, {"86400 s", 86400000}};
  static const char *const bad[] = {"",         "90",       "90s",  "8 mins", "1 hour", "-1 s",
                                    "24.001 h", "1441 min", "1:30", "1  min", " 1 min", "1 min "};
  for (gsize i = 0; i < G_N_ELEMENTS(good); i++) {
    gint64 ms = UNTOUCHED;
    assert_true(bt_duration_parse(good[i].text, &ms));
    assert_int_equal(ms, good[i].ms);
  }
  for (gsize i = 0; i < G_N_ELEMENTS(bad); i++) {
    gint64 ms = UNTOUCHED;
    assert_false(bt_duration_parse(bad[i], &ms));
    assert_int_equal(ms, UNTOUCHED);
  }
}

static void a_clock_time_is_read_in_each_of_its_forms(void **state) {
  (void)state;
  static const struct {
    const char *text;
    gint64 ms;
  } good[] = {{"4:05", 245000},
              {"1:04:05", 3845000},
              {"245", 245000},
              {"75.25", 75250},
              {"0:00", 0},
              {"0", 0},
              {"90:00", 5400000},
              {"1:05.25", 65250},
              {"24:00:00", 86400000},
              {"1440:00", 86400000},
              {"86400", 86400000},
              {"0:00:00.001", 1},
              {"00:09", 9000},
              {"23:59:59.999", 86399999}};
  static const char *const bad[] = {"",        "1:5",        "0:60",         "1:60:00", "1:05.1234",
                                    "1:2:3:4", "1:02:03:04", "24:00:00.001", ":30",     "-1:00",
                                    "1:05:",   "1:05 ",      " 1:05",        "1440:01", "86401",
                                    "1:005",   "1.5:00",     "99999999999",  "1:05.",   "4.05.1"};
  for (gsize i = 0; i < G_N_ELEMENTS(good); i++) {
    gint64 ms = UNTOUCHED;
    assert_true(bt_clock_parse(good[i].text, &ms));
    assert_int_equal(ms, good[i].ms);
  }
  for (gsize i = 0; i < G_N_ELEMENTS(bad); i++) {
    gint64 ms = UNTOUCHED;
    assert_false(bt_clock_parse(bad[i], &ms));
    assert_int_equal(ms, UNTOUCHED);
  }
}

static void a_clock_time_is_written_for_people_cut_and_for_data_exact(void **state) {
  (void)state;
  static const struct {
    gint64 ms;
    const char *people, *data;
  } rows[] = {{0, "0:00", "0:00"},
              {245000, "4:05", "4:05"},
              {3599999, "59:59", "59:59.999"},
              {3600000, "1:00:00", "1:00:00"},
              {65250, "1:05", "1:05.25"},
              {86400000, "24:00:00", "24:00:00"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *people = bt_clock_format(rows[i].ms);
    g_autofree char *data = bt_clock_format_exact(rows[i].ms);
    gint64 again = UNTOUCHED;
    assert_string_equal(people, rows[i].people);
    assert_string_equal(data, rows[i].data);
    assert_true(bt_clock_parse(data, &again));
    assert_int_equal(again, rows[i].ms);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_plain_decimal_is_read_as_thousandths),
      cmocka_unit_test(what_is_no_plain_decimal_is_refused_and_nothing_is_written),
      cmocka_unit_test(thousandths_are_written_as_the_shortest_decimal),
      cmocka_unit_test(a_cut_decimal_never_rounds_up_to_the_line),
      cmocka_unit_test(every_decimal_survives_being_written_and_read),
      cmocka_unit_test(a_half_is_rounded_away_from_zero),
      cmocka_unit_test(a_duration_carries_its_unit),
      cmocka_unit_test(a_clock_time_is_read_in_each_of_its_forms),
      cmocka_unit_test(a_clock_time_is_written_for_people_cut_and_for_data_exact),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
