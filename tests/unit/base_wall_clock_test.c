// SPDX-License-Identifier: GPL-3.0-or-later
//
// Dates and times of the wall clock against the examples of RFC 3339, section 5.8. The seconds
// since 1970 were asked of GNU date.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/base.h>

#define UNTOUCHED 77

static void the_examples_of_rfc_3339_are_read(void **state) {
  (void)state;
  static const struct {
    const char *text;
    gint64 ms;
  } rows[] = {
      {"1985-04-12T23:20:50.52Z", G_GINT64_CONSTANT(482196050520)},
      // The RFC: "equivalent to 1996-12-20T00:39:57Z in UTC".
      {"1996-12-19T16:39:57-08:00", G_GINT64_CONSTANT(851042397000)},
      {"1996-12-20T00:39:57Z", G_GINT64_CONSTANT(851042397000)},
      {"1937-01-01T12:00:27.87+00:20", G_GINT64_CONSTANT(-1041337172130)},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gint64 ms = UNTOUCHED;
    assert_true(bt_rfc3339_parse(rows[i].text, &ms));
    assert_int_equal(ms, rows[i].ms);
  }
}

static void a_leap_second_is_refused_as_the_header_says(void **state) {
  (void)state;
  static const char *const rows[] = {"1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00"};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gint64 ms = UNTOUCHED;
    assert_false(bt_rfc3339_parse(rows[i], &ms));
    assert_int_equal(ms, UNTOUCHED);
  }
}

static void other_forms_of_rfc_3339_are_read(void **state) {
  (void)state;
  static const struct {
    const char *text;
    gint64 ms;
  } rows[] = {{"2026-03-04T09:05:00Z", G_GINT64_CONSTANT(1772615100000)},
              {"2026-03-04t09:05:00z", G_GINT64_CONSTANT(1772615100000)},
              {"2026-03-04T10:05:00+01:00", G_GINT64_CONSTANT(1772615100000)},
              {"2026-03-04T09:05:00-00:00", G_GINT64_CONSTANT(1772615100000)},
              {"2026-03-04T09:05:00.001Z", G_GINT64_CONSTANT(1772615100001)},
              {"2024-02-29T12:00:00Z", G_GINT64_CONSTANT(1709208000000)},
              {"1969-12-31T23:59:59Z", -1000},
              {"9999-12-31T23:59:59Z", G_GINT64_CONSTANT(253402300799000)},
              {"0001-01-01T00:00:00Z", G_GINT64_CONSTANT(-62135596800000)}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gint64 ms = UNTOUCHED;
    assert_true(bt_rfc3339_parse(rows[i].text, &ms));
    assert_int_equal(ms, rows[i].ms);
  }
}

static void what_is_no_date_and_time_is_refused(void **state) {
  (void)state;
  static const char *const rows[] = {
      "", "2026-03-04", "2026-03-04T09:05Z", "2026-03-04 09:05:00Z", "2026-03-04T09:05:00",
      "2026-02-29T09:05:00Z", "2026-13-01T09:05:00Z", "2026-00-01T09:05:00Z",
      "2026-03-00T09:05:00Z", "2026-03-32T09:05:00Z", "2026-03-04T24:00:00Z",
      "2026-03-04T09:60:00Z", "2026-03-04T09:05:00.Z", "2026-03-04T09:05:00.1234Z",
      "2026-03-04T09:05:00+1:00", "2026-03-04T09:05:00+01", "2026-03-04T09:05:00+24:00",
      "2026-03-04T09:05:00+01:60", "2026-03-04T09:05:00Z ", "0000-01-01T00:00:00Z",
      "2026-03-04T09:05:00ZZ", "04/03/2026 09:05", "2026-3-4T09:05:00Z",
      // Years that the written form could not hold once they are turned to UTC.
      "9999-12-31T23:59:59-01:00", "0001-01-01T00:00:00+01:00"};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gint64 ms = UNTOUCHED;
    assert_false(bt_rfc3339_parse(rows[i], &ms));
    assert_int_equal(ms, UNTOUCHED);
  }
}

static void a_moment_is_written_in_utc_and_read_back(void **state) {
  (void)state;
  static const struct {
    gint64 ms;
    const char *text, *date;
  } rows[] = {
      {G_GINT64_CONSTANT(1772615100000), "2026-03-04T09:05:00Z", "4 Mar 2026"},
      {G_GINT64_CONSTANT(1772615100250), "2026-03-04T09:05:00.250Z", "4 Mar 2026"},
      {-1, "1969-12-31T23:59:59.999Z", "31 Dec 1969"},
      {0, "1970-01-01T00:00:00Z", "1 Jan 1970"},
      {G_GINT64_CONSTANT(-62135596800000), "0001-01-01T00:00:00Z", "1 Jan 1"},
      {G_GINT64_CONSTANT(253402300799000), "9999-12-31T23:59:59Z", "31 Dec 9999"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *text = bt_rfc3339_format(rows[i].ms);
    g_autofree char *date = bt_date_format(rows[i].ms);
    gint64 again = UNTOUCHED;
    assert_string_equal(text, rows[i].text);
    assert_string_equal(date, rows[i].date);
    assert_true(bt_rfc3339_parse(text, &again));
    assert_int_equal(again, rows[i].ms);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_examples_of_rfc_3339_are_read),
      cmocka_unit_test(a_leap_second_is_refused_as_the_header_says),
      cmocka_unit_test(other_forms_of_rfc_3339_are_read),
      cmocka_unit_test(what_is_no_date_and_time_is_refused),
      cmocka_unit_test(a_moment_is_written_in_utc_and_read_back),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
