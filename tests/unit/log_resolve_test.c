// SPDX-License-Identifier: GPL-3.0-or-later
//
// What is refused, what is accepted with a warning, and what comes out, entry by entry: the scoring
// law, section 10, "On entry".
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/log.h>

#include "support/log_rubric.h"

#define SEQ 5

static const char *const detail_names[] = {"length", "hole", "use"};

// What was reported of one entry.
typedef struct {
  int errors, warnings;
  BtField field; // of the first report
  int detail;
  char *text; // "wrong; expected" of all, a line each
} Reports;

static void on_fault(BtField field, int detail, bool warning, char *wrong, char *expected,
                     gpointer user_data) {
  Reports *reports = user_data;
  if (reports->errors + reports->warnings == 0) {
    reports->field = field;
    reports->detail = detail;
  }
  *(warning ? &reports->warnings : &reports->errors) += 1;
  char *before = reports->text;
  reports->text = g_strdup_printf("%s%s; %s\n", before ? before : "", wrong, expected);
  g_free(before);
  g_free(wrong);
  g_free(expected);
}

typedef struct {
  BtRubric *rubric;
  BtEvent event;
  BtDetailValue details[3];
  Reports reports;
} Bench;

static bool resolve(Bench *bench, const char *time, const char *action, const char *site,
                    const char *item, const char *value, const char *redo,
                    const char *const *words) {
  static const char *const none[3] = {NULL, "", NULL};
  BtRawEvent raw = {
      time, action, site, item, value, redo, "a note", detail_names, words ? words : none, 3};
  g_clear_pointer(&bench->reports.text, g_free);
  bench->reports = (Reports){0};
  return bt_event_resolve(bench->rubric, &raw, SEQ, &bench->event, bench->details, on_fault,
                          &bench->reports);
}

static int set_up(void **state) {
  Bench *bench = g_new0(Bench, 1);
  bench->rubric = log_rubric_new();
  *state = bench;
  return 0;
}

static int tear_down(void **state) {
  Bench *bench = *state;
  bt_rubric_free(bench->rubric);
  g_free(bench->reports.text);
  g_free(bench);
  return 0;
}

static void work_with_everything_right_is_resolved_silently(void **state) {
  Bench *bench = *state;
  const char *const values[] = {"16 mm", "3", "lag"};
  assert_true(resolve(bench, "1:05.25", "screw", "ulna-shaft", "", NULL, "4", values));
  assert_int_equal(bench->reports.errors + bench->reports.warnings, 0);
  const BtEvent *event = &bench->event;
  assert_int_equal(event->seq, SEQ);
  assert_int_equal(event->at_ms, 65250);
  assert_int_equal(event->kind, BT_EVENT_WORK);
  assert_int_equal(event->action, ACTION_SCREW);
  assert_int_equal(event->site, SITE_ULNA);
  assert_int_equal(event->item, -1);
  assert_int_equal(event->component, -1);
  assert_int_equal(event->redo, 4);
  assert_string_equal(event->note, "a note");
  assert_int_equal(event->n_details, 3);
  assert_int_equal(event->details[DETAIL_LENGTH].milli, 16000);
  assert_int_equal(event->details[DETAIL_HOLE].milli, 3000);
  assert_int_equal(event->details[DETAIL_USE].word, 2);
  assert_string_equal(event->details[DETAIL_USE].text, "lag");
}

static void details_left_empty_are_not_logged(void **state) {
  Bench *bench = *state;
  const char *const values[] = {"", NULL, "lag"};
  assert_true(resolve(bench, "0", "screw", "ulna-shaft", "", "", "", values));
  assert_int_equal(bench->event.n_details, 1);
  assert_int_equal(bench->event.details[0].detail, DETAIL_USE);
  assert_int_equal(bench->event.redo, BT_REDO_NO);
}

static void each_built_in_action_brings_what_it_needs(void **state) {
  Bench *bench = *state;
  static const char *const plain[] = {"start", "finish", "pause", "resume", "note"};
  for (gsize i = 0; i < G_N_ELEMENTS(plain); i++) {
    assert_true(resolve(bench, "0:10", plain[i], "", "", "", "", NULL));
    assert_string_equal(bt_event_kind_name(bench->event.kind), plain[i]);
    assert_int_equal(bench->event.action, -1);
    assert_int_equal(bench->event.item, -1);
  }
  assert_true(resolve(bench, "0:10", "inject", "", "wedge", "", "", NULL));
  assert_int_equal(bench->event.item, 0);
  assert_true(resolve(bench, "0:10", "error", "", "plunge", "", "", NULL));
  assert_int_equal(bench->event.item, 0);
  assert_true(resolve(bench, "0:10", "measure", "", "gap", "1.25", "", NULL));
  assert_int_equal(bench->event.value_milli, 1250);
  assert_true(resolve(bench, "0:10", "measure", "", "gap", "-1.25mm", "", NULL));
  assert_int_equal(bench->event.value_milli, -1250);
  assert_true(resolve(bench, "0:10", "rate", "", "flow", "3", "", NULL));
  assert_int_equal(bench->event.value_milli, 3000);
  assert_true(resolve(bench, "0:10", "unseen", "", "radius-screws", "", "", NULL));
  assert_int_equal(bench->event.item, 1);
  assert_int_equal(bench->event.component, -1);
  assert_true(resolve(bench, "0:10", "unseen", "", "product", "", "", NULL));
  assert_int_equal(bench->event.item, -1);
  assert_int_equal(bench->event.component, BT_PRODUCT);
  assert_int_equal(bench->reports.errors + bench->reports.warnings, 0);
}

static void an_error_or_a_note_may_say_where(void **state) {
  Bench *bench = *state;
  assert_true(resolve(bench, "0:10", "error", "ulna-shaft", "plunge", "", "", NULL));
  assert_int_equal(bench->event.site, SITE_ULNA);
  assert_true(resolve(bench, "0:10", "note", "styloid", "", "", "", NULL));
  assert_int_equal(bench->event.site, SITE_STYLOID);
  assert_int_equal(bench->reports.errors + bench->reports.warnings, 0);
  assert_false(resolve(bench, "0:10", "note", "nowhere", "", "", "", NULL));
}

static void a_redo_is_a_yes_or_an_earlier_row(void **state) {
  Bench *bench = *state;
  assert_true(resolve(bench, "0:10", "mark", "", "", "", "yes", NULL));
  assert_int_equal(bench->event.redo, BT_REDO_YES);
  assert_true(resolve(bench, "0:10", "mark", "", "", "", "1", NULL));
  assert_int_equal(bench->event.redo, 1);
}

typedef struct {
  const char *time, *action, *site, *item, *value, *redo;
  const char *values[3];
  BtField field;
  int detail;
  const char *phrase;
} Row;

static void check_rows(Bench *bench, const Row *rows, gsize n, bool refused) {
  for (gsize i = 0; i < n; i++) {
    const Row *row = &rows[i];
    bool accepted = resolve(bench, row->time, row->action, row->site, row->item, row->value,
                            row->redo, row->values);
    const Reports *reports = &bench->reports;
    if (accepted == refused || reports->errors != (refused ? 1 : 0) ||
        reports->warnings != (refused ? 0 : 1) || reports->field != row->field ||
        reports->detail != row->detail || !strstr(reports->text, row->phrase))
      fail_msg("row %d (%s): %s, field %d, detail %d: %s", (int)i, row->phrase,
               accepted ? "accepted" : "refused", (int)reports->field, reports->detail,
               reports->text ? reports->text : "nothing said");
  }
}

static void what_the_rubric_does_not_know_is_refused(void **state) {
  static const Row rows[] = {
      {"", "mark", "", "", "", "", {0}, BT_FIELD_TIME, -1, "no time"},
      {NULL, "mark", "", "", "", "", {0}, BT_FIELD_TIME, -1, "no time"},
      {"1:5", "mark", "", "", "", "", {0}, BT_FIELD_TIME, -1, "\"1:5\" is no time"},
      {"0", "", "", "", "", "", {0}, BT_FIELD_ACTION, -1, "no action"},
      {"0", "scrw", "", "", "", "", {0}, BT_FIELD_ACTION, -1, "did you mean \"screw\"?"},
      {"0", "Finish", "", "", "", "", {0}, BT_FIELD_ACTION, -1, "did you mean \"finish\"?"},
      {"0", "osteotomy", "", "", "", "", {0}, BT_FIELD_ACTION, -1, "expected one of mark, reduce"},
      {"0", "reduce", "radius", "", "", "", {0}, BT_FIELD_SITE, -1, "unknown site \"radius\""},
      {"0", "inject", "", "wege", "", "", {0}, BT_FIELD_ITEM, -1, "did you mean \"wedge\"?"},
      {"0", "error", "", "plung", "", "", {0}, BT_FIELD_ITEM, -1, "did you mean \"plunge\"?"},
      {"0", "measure", "", "step", "1", "", {0}, BT_FIELD_ITEM, -1, "expected gap"},
      {"0", "rate", "", "Flow", "1", "", {0}, BT_FIELD_ITEM, -1, "did you mean \"flow\"?"},
      {"0", "unseen", "", "clock", "", "", {0}, BT_FIELD_ITEM, -1, "neither a checkpoint nor"},
      {"0", "unseen", "", "product ", "", "", {0}, BT_FIELD_ITEM, -1, "did you mean \"product\"?"},
      {"0",
       "screw",
       "ulna-shaft",
       "",
       "",
       "",
       {"sixteen"},
       BT_FIELD_DETAIL,
       0,
       "\"sixteen\" is no value of length"},
      {"0",
       "reduce",
       "ulna-shaft",
       "",
       "",
       "",
       {"16"},
       BT_FIELD_DETAIL,
       0,
       "reduce has no detail \"length\""},
      {"0",
       "start",
       "",
       "",
       "",
       "",
       {NULL, "3"},
       BT_FIELD_DETAIL,
       1,
       "start has no detail \"hole\""},
  };
  check_rows(*state, rows, G_N_ELEMENTS(rows), true);
}

static void an_error_that_the_engine_finds_is_not_logged_by_hand(void **state) {
  static const Row rows[] = {{"0",
                              "error",
                              "",
                              "needless-screw",
                              "",
                              "",
                              {0},
                              BT_FIELD_ITEM,
                              -1,
                              "found from the work logged, not entered by hand"}};
  check_rows(*state, rows, 1, true);
}

static void a_field_that_means_nothing_there_is_refused(void **state) {
  static const Row rows[] = {
      {"0", "start", "ulna-shaft", "", "", "", {0}, BT_FIELD_SITE, -1, "start takes no site"},
      {"0", "measure", "ulna-shaft", "gap", "1", "", {0}, BT_FIELD_SITE, -1, "takes no site"},
      {"0", "screw", "ulna-shaft", "plunge", "", "", {0}, BT_FIELD_ITEM, -1, "screw takes no item"},
      {"0", "finish", "", "gap", "", "", {0}, BT_FIELD_ITEM, -1, "finish takes no item"},
      {"0", "note", "", "gap", "", "", {0}, BT_FIELD_ITEM, -1, "note takes no item"},
      {"0", "screw", "ulna-shaft", "", "16", "", {0}, BT_FIELD_VALUE, -1, "screw takes no value"},
      {"0", "error", "", "plunge", "1", "", {0}, BT_FIELD_VALUE, -1, "error takes no value"},
      {"0", "error", "", "plunge", "", "yes", {0}, BT_FIELD_REDO, -1, "error cannot be a redo"},
      {"0", "pause", "", "", "", "1", {0}, BT_FIELD_REDO, -1, "pause cannot be a redo"},
  };
  check_rows(*state, rows, G_N_ELEMENTS(rows), true);
}

static void a_field_that_is_needed_there_and_empty_is_refused(void **state) {
  static const Row rows[] = {
      {"0", "inject", "", "", "", "", {0}, BT_FIELD_ITEM, -1, "expected the id of an inject"},
      {"0", "error", "", NULL, "", "", {0}, BT_FIELD_ITEM, -1, "expected the id of an error"},
      {"0", "rate", "", "", "3", "", {0}, BT_FIELD_ITEM, -1, "expected the id of a rating"},
      {"0", "measure", "", "", "3", "", {0}, BT_FIELD_ITEM, -1, "expected the id of a measure"},
      {"0", "unseen", "", "", "", "", {0}, BT_FIELD_ITEM, -1, "a checkpoint or a component"},
      {"0", "measure", "", "gap", "", "", {0}, BT_FIELD_VALUE, -1, "measure without a value"},
      {"0", "rate", "", "flow", NULL, "", {0}, BT_FIELD_VALUE, -1, "rate without a value"},
  };
  check_rows(*state, rows, G_N_ELEMENTS(rows), true);
}

static void a_value_that_is_no_such_number_is_refused(void **state) {
  static const Row rows[] = {
      {"0", "measure", "", "gap", "1,25", "", {0}, BT_FIELD_VALUE, -1, "with a point"},
      {"0", "measure", "", "gap", "1.2345", "", {0}, BT_FIELD_VALUE, -1, "three decimals"},
      {"0", "measure", "", "gap", "1 cm", "", {0}, BT_FIELD_VALUE, -1, "bare or in mm"},
      {"0", "measure", "", "gap", "mm", "", {0}, BT_FIELD_VALUE, -1, "is no value of gap"},
      {"0", "measure", "", "gap", "1 mm ", "", {0}, BT_FIELD_VALUE, -1, "is no value of gap"},
      {"0", "rate", "", "flow", "0", "", {0}, BT_FIELD_VALUE, -1, "from 1 to 5"},
      {"0", "rate", "", "flow", "6", "", {0}, BT_FIELD_VALUE, -1, "off the scale of flow"},
      {"0", "rate", "", "flow", "3.5", "", {0}, BT_FIELD_VALUE, -1, "off the scale of flow"},
      {"0", "rate", "", "flow", "-3", "", {0}, BT_FIELD_VALUE, -1, "off the scale of flow"},
      {"0", "rate", "", "flow", "good", "", {0}, BT_FIELD_VALUE, -1, "off the scale of flow"},
      {"0",
       "screw",
       "ulna-shaft",
       "",
       "",
       "",
       {NULL, "2.5"},
       BT_FIELD_DETAIL,
       1,
       "expected a whole number"},
      {"0",
       "screw",
       "ulna-shaft",
       "",
       "",
       "",
       {NULL, "two"},
       BT_FIELD_DETAIL,
       1,
       "expected a whole number"},
      {"0",
       "screw",
       "ulna-shaft",
       "",
       "",
       "",
       {NULL, "2 mm"},
       BT_FIELD_DETAIL,
       1,
       "expected a whole number"},
      {"0", "screw", "ulna-shaft", "", "", "", {"16 in"}, BT_FIELD_DETAIL, 0, "bare or in mm"},
      {"0", "screw", "ulna-shaft", "", "", "", {"16.0001"}, BT_FIELD_DETAIL, 0, "three decimals"},
  };
  check_rows(*state, rows, G_N_ELEMENTS(rows), true);
}

static void a_redo_that_names_no_earlier_row_is_refused(void **state) {
  static const Row rows[] = {
      {"0", "mark", "", "", "", "5", {0}, BT_FIELD_REDO, -1, "\"5\" is no earlier row"},
      {"0", "mark", "", "", "", "6", {0}, BT_FIELD_REDO, -1, "this is row 5"},
      {"0", "mark", "", "", "", "0", {0}, BT_FIELD_REDO, -1, "\"0\" is no redo mark"},
      {"0", "mark", "", "", "", "-1", {0}, BT_FIELD_REDO, -1, "is no redo mark"},
      {"0", "mark", "", "", "", "no", {0}, BT_FIELD_REDO, -1, "is no redo mark"},
      {"0", "mark", "", "", "", "1.0", {0}, BT_FIELD_REDO, -1, "is no redo mark"},
      {"0", "mark", "", "", "", "99999999999", {0}, BT_FIELD_REDO, -1, "is no redo mark"},
  };
  check_rows(*state, rows, G_N_ELEMENTS(rows), true);
}

static void what_may_be_the_very_error_is_kept_with_a_warning(void **state) {
  static const Row rows[] = {
      {"0", "reduce", "", "", "", "", {0}, BT_FIELD_SITE, -1, "reduce without a site"},
      {"0",
       "reduce",
       "styloid",
       "",
       "",
       "",
       {0},
       BT_FIELD_SITE,
       -1,
       "the rubric has it at radius-shaft, ulna-shaft"},
      {"0", "mark", "styloid", "", "", "", {0}, BT_FIELD_SITE, -1, "the rubric gives it no site"},
      {"0", "screw", "ulna-shaft", "", "", "", {"70"}, BT_FIELD_DETAIL, 0, "gives 8..60 mm"},
      {"0", "screw", "ulna-shaft", "", "", "", {"7.999 mm"}, BT_FIELD_DETAIL, 0, "outside"},
      {"0", "screw", "ulna-shaft", "", "", "", {NULL, "13"}, BT_FIELD_DETAIL, 1, "gives 1..12"},
      {"0", "screw", "ulna-shaft", "", "", "", {NULL, "0"}, BT_FIELD_DETAIL, 1, "outside"},
      {"0",
       "screw",
       "ulna-shaft",
       "",
       "",
       "",
       {NULL, NULL, "neutrl"},
       BT_FIELD_DETAIL,
       2,
       "did you mean \"neutral\"?"},
      {"0",
       "screw",
       "ulna-shaft",
       "",
       "",
       "",
       {NULL, NULL, "Lag"},
       BT_FIELD_DETAIL,
       2,
       "not among the words of use"},
  };
  Bench *bench = *state;
  check_rows(bench, rows, G_N_ELEMENTS(rows), false);
  assert_int_equal(bench->event.details[0].word, -1);
  assert_string_equal(bench->event.details[0].text, "Lag");
  assert_true(resolve(bench, "0", "screw", "ulna-shaft", "", "", "", rows[6].values));
  assert_int_equal(bench->event.details[0].milli, 0);
  assert_true(resolve(bench, "0", "reduce", "styloid", "", "", "", NULL));
  assert_int_equal(bench->event.site, SITE_STYLOID);
  assert_true(resolve(bench, "0", "reduce", "", "", "", "", NULL));
  assert_int_equal(bench->event.site, -1);
}

static void the_ends_of_a_range_and_of_a_scale_are_inside(void **state) {
  Bench *bench = *state;
  const char *const low[] = {"8", "1", "neutral"}, *const high[] = {"60 mm", "12", "lag"};
  assert_true(resolve(bench, "0", "screw", "ulna-shaft", "", "", "", low));
  assert_int_equal(bench->reports.warnings, 0);
  assert_true(resolve(bench, "24:00:00", "screw", "ulna-shaft", "", "", "", high));
  assert_int_equal(bench->reports.warnings, 0);
  assert_true(resolve(bench, "0", "rate", "", "flow", "1", "", NULL));
  assert_true(resolve(bench, "0", "rate", "", "flow", "5", "", NULL));
}

static void all_that_is_wrong_with_an_entry_is_said_at_once(void **state) {
  Bench *bench = *state;
  const char *const values[] = {"long", "2.5", "neutrl"};
  assert_false(resolve(bench, "x", "screw", "ulna", "gap", "1", "9", values));
  assert_int_equal(bench->reports.errors, 7);
  assert_int_equal(bench->reports.warnings, 1);
}

static void an_entry_can_be_judged_without_a_listener(void **state) {
  Bench *bench = *state;
  BtRawEvent raw = {.time = "0", .action = "scrw"};
  assert_false(bt_event_resolve(bench->rubric, &raw, 1, &bench->event, NULL, NULL, NULL));
  raw.action = "mark";
  assert_true(bt_event_resolve(bench->rubric, &raw, 1, &bench->event, NULL, NULL, NULL));
  assert_null(bench->event.note);
}

int main(void) {
  const struct CMUnitTest tests[] = {
#define BENCH_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
      BENCH_TEST(work_with_everything_right_is_resolved_silently),
      BENCH_TEST(details_left_empty_are_not_logged),
      BENCH_TEST(each_built_in_action_brings_what_it_needs),
      BENCH_TEST(an_error_or_a_note_may_say_where),
      BENCH_TEST(a_redo_is_a_yes_or_an_earlier_row),
      BENCH_TEST(what_the_rubric_does_not_know_is_refused),
      BENCH_TEST(an_error_that_the_engine_finds_is_not_logged_by_hand),
      BENCH_TEST(a_field_that_means_nothing_there_is_refused),
      BENCH_TEST(a_field_that_is_needed_there_and_empty_is_refused),
      BENCH_TEST(a_value_that_is_no_such_number_is_refused),
      BENCH_TEST(a_redo_that_names_no_earlier_row_is_refused),
      BENCH_TEST(what_may_be_the_very_error_is_kept_with_a_warning),
      BENCH_TEST(the_ends_of_a_range_and_of_a_scale_are_inside),
      BENCH_TEST(all_that_is_wrong_with_an_entry_is_said_at_once),
      BENCH_TEST(an_entry_can_be_judged_without_a_listener),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
