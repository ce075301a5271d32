// SPDX-License-Identifier: GPL-3.0-or-later
//
// The plain data: faults in words, names of things, lookups, and observations that own what they
// hold.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/model.h>

#include "support/log_rubric.h"

static void assert_fault_reads(const BtFault *fault, const char *text) {
  g_autofree char *formatted = bt_fault_format(fault);
  assert_string_equal(formatted, text);
}

static void assert_fault(const char *file, int line, int column, bool warning, const char *expected,
                         const char *text) {
  BtFault *fault =
      bt_fault_new(file, line, column, warning, g_strdup("too long"), g_strdup(expected));
  assert_fault_reads(fault, text);
  bt_fault_free(fault);
}

static void a_fault_reads_as_place_then_what_is_wrong_then_what_to_do(void **state) {
  (void)state;
  assert_fault("a.csv", 3, 7, false, "cut it", "a.csv:3:7: too long; cut it");
  assert_fault("a.csv", 3, 0, false, NULL, "a.csv:3: too long");
  assert_fault("a.csv", 0, 0, true, "cut it", "a.csv: warning: too long; cut it");
  assert_fault(NULL, 3, 7, false, NULL, "3:7: too long");
  assert_fault(NULL, 0, 0, false, NULL, "too long");
  bt_fault_free(NULL);
}

static void warnings_are_no_errors(void **state) {
  (void)state;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  assert_int_equal(bt_faults_count_errors(faults), 0);
  g_ptr_array_add(faults, bt_fault_new("f", 1, 1, true, g_strdup("w"), NULL));
  g_ptr_array_add(faults, bt_fault_new("f", 1, 1, false, g_strdup("e"), NULL));
  g_ptr_array_add(faults, bt_fault_new("f", 1, 1, false, g_strdup("e"), NULL));
  assert_int_equal(bt_faults_count_errors(faults), 2);
}

static void add_many(BtFaultList *list, int n, bool warning) {
  for (int i = 0; i < n; i++)
    bt_fault_list_add(list, i + 1, 2, warning, g_strdup_printf("wrong %d", i), g_strdup("mend it"));
}

static void a_list_keeps_the_first_faults_and_counts_the_rest(void **state) {
  (void)state;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtFaultList list = {.file = "f", .faults = faults};
  add_many(&list, BT_FAULTS_KEPT, false);
  assert_false(bt_fault_list_keeps(&list, false));
  assert_true(bt_fault_list_keeps(&list, true));
  bt_fault_list_finish(&list);
  assert_int_equal(faults->len, BT_FAULTS_KEPT);
  add_many(&list, 2, false);
  add_many(&list, BT_WARNINGS_KEPT + 1, true);
  bt_fault_list_finish(&list);
  assert_int_equal(faults->len, BT_FAULTS_KEPT + BT_WARNINGS_KEPT + 1);
  assert_int_equal(list.errors, BT_FAULTS_KEPT + 2);
  assert_fault_reads(faults->pdata[BT_FAULTS_KEPT - 1], "f:100:2: wrong 99; mend it");
  assert_fault_reads(faults->pdata[faults->len - 1],
                     "f: 2 more faults and 1 more warning not shown");
}

static void a_line_beyond_what_a_fault_holds_is_the_greatest_it_can(void **state) {
  (void)state;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtFaultList list = {.faults = faults};
  bt_fault_list_add(&list, G_MAXINT64, 0, false, g_strdup("far"), NULL);
  assert_fault_reads(faults->pdata[0], "2147483647: far");
}

static void names_and_numbers_of_things_agree_both_ways(void **state) {
  (void)state;
  for (int i = 0; i < BT_COMPONENTS; i++)
    assert_int_equal(bt_component_from_name(bt_component_name((BtComponent)i)), i);
  for (int i = BT_EVENT_START; i <= BT_EVENT_NOTE; i++)
    assert_int_equal(bt_event_kind_from_name(bt_event_kind_name((BtEventKind)i)), i);
  for (int i = BT_MODE_LIVE; i <= BT_MODE_SELF; i++)
    assert_int_equal(bt_mode_from_name(bt_mode_name((BtMode)i)), i);
  for (int i = BT_PASS; i <= BT_NOT_YET; i++)
    assert_int_equal(bt_outcome_from_name(bt_outcome_name((BtOutcome)i)), i);
  assert_int_equal(bt_outcome_from_name("Pass"), -1);
  assert_int_equal(bt_outcome_from_name(NULL), -1);
  assert_null(bt_event_kind_name(BT_EVENT_WORK));
  assert_int_equal(bt_event_kind_from_name("screw"), BT_EVENT_WORK);
  assert_int_equal(bt_event_kind_from_name("Start"), BT_EVENT_WORK);
  assert_int_equal(bt_component_from_name("clock"), -1);
  assert_int_equal(bt_mode_from_name("Live"), -1);
}

// The names that stand in files, as the design and the scoring law spell them.
static void names_in_files_are_spelt_as_the_design_says(void **state) {
  (void)state;
  static const char *const reasons[] = {
      "critical_error", "critical_rule",    "measure_fail",          "not_finished",
      "not_assessed",   "nothing_possible", "critical_unseen",       "rule_unseen",
      "nothing_counts", "critical_short",   "critical_not_verified", "below_pass",
      "below_floor"};
  static const char *const lists[BT_LISTS] = {
      "unplanned",    "extra",        "overtaken",     "ignored",         "after_end",
      "before_start", "while_paused", "taken_as_redo", "redo_of_nothing", "unseen"};
  for (int i = 0; i < (int)G_N_ELEMENTS(reasons); i++)
    assert_string_equal(bt_reason_name((BtReasonCode)i), reasons[i]);
  for (int i = 0; i < BT_LISTS; i++)
    assert_string_equal(bt_list_name((BtList)i), lists[i]);
  assert_string_equal(bt_outcome_name(BT_NOT_YET), "not_yet");
  assert_string_equal(bt_outcome_words(BT_NOT_YET), "Not yet");
  assert_string_equal(bt_outcome_words(BT_PASS), "Pass");
  assert_string_equal(bt_outcome_words(BT_UNDECIDED), "Undecided");
  assert_string_equal(bt_severity_name(BT_SEVERE_CRITICAL), "critical");
  assert_null(bt_why_out_name(BT_IN_SCORE));
  assert_string_equal(bt_why_out_name(BT_OUT_NOT_TAKEN), "not_taken");
  assert_string_equal(bt_why_out_name(BT_OUT_UNSEEN), "unseen");
}

static void a_range_is_closed_and_may_be_open_ended(void **state) {
  (void)state;
  BtRange both = {14000, 18000, true, true}, below = {0, 18000, false, true};
  BtRange above = {14000, 0, true, false}, one = {14500, 14500, true, true};
  assert_true(bt_range_holds(&both, 14000) && bt_range_holds(&both, 18000));
  assert_false(bt_range_holds(&both, 13999) || bt_range_holds(&both, 18001));
  assert_true(bt_range_holds(&below, -1000000) && !bt_range_holds(&below, 18001));
  assert_true(bt_range_holds(&above, 1000000) && !bt_range_holds(&above, 13999));
  g_autofree char *a = bt_range_format(&both);
  g_autofree char *b = bt_range_format(&below);
  g_autofree char *c = bt_range_format(&above);
  g_autofree char *d = bt_range_format(&one);
  assert_string_equal(a, "14..18");
  assert_string_equal(b, "..18");
  assert_string_equal(c, "14..");
  assert_string_equal(d, "14.5");
}

static void things_are_found_by_id_and_others_are_not(void **state) {
  (void)state;
  g_autoptr(BtRubric) rubric = log_rubric_new();
  assert_int_equal(bt_rubric_find_site(rubric, "ulna-shaft"), SITE_ULNA);
  assert_int_equal(bt_rubric_find_action(rubric, "screw"), ACTION_SCREW);
  assert_int_equal(bt_rubric_find_checkpoint(rubric, "radius-screws"), 1);
  assert_int_equal(bt_rubric_find_inject(rubric, "wedge"), 0);
  assert_int_equal(bt_rubric_find_error(rubric, "plunge"), 0);
  assert_int_equal(bt_rubric_find_measure(rubric, "gap"), 0);
  assert_int_equal(bt_rubric_find_rating(rubric, "flow"), 0);
  assert_int_equal(bt_rubric_find_phase(rubric, "gap"), -1);
  assert_int_equal(bt_rubric_find_rule(rubric, "gap"), -1);
  assert_int_equal(bt_rubric_find_site(rubric, "Ulna-shaft"), -1);
  assert_int_equal(bt_action_find_detail(&rubric->actions[ACTION_SCREW], "use"), DETAIL_USE);
  assert_int_equal(bt_action_find_detail(&rubric->actions[ACTION_MARK], "use"), -1);
  assert_null(bt_rubric_alloc(rubric, 0, 8));
  assert_null(bt_rubric_strdup(rubric, NULL));
  bt_rubric_free(NULL);
}

static void an_observation_owns_all_that_it_is_given(void **state) {
  (void)state;
  char session[] = "S1", trainee[] = "T1", assessor[] = "A1", id[] = "forearm";
  char note[] = "slow", word[] = "neutral";
  BtHeader header = {session, trainee, assessor, id, 1, 5, BT_MODE_VIDEO};
  BtDetailValue details[] = {{.detail = 0, .milli = 16000, .word = -1},
                             {.detail = 2, .word = 0, .text = word}};
  BtEvent event = {
      .seq = 1, .kind = BT_EVENT_WORK, .details = details, .n_details = 2, .note = note};
  g_autoptr(BtObservation) observation = bt_observation_new(&header);
  bt_observation_add(observation, &event);
  memset(session, 'x', 2);
  memset(note, 'x', 4);
  memset(word, 'x', 7);
  memset(details, 0, sizeof details);
  const BtEvent *kept = &g_array_index(observation->events, BtEvent, 0);
  assert_int_equal(observation->events->len, 1);
  assert_string_equal(observation->header.session, "S1");
  assert_int_equal(observation->header.mode, BT_MODE_VIDEO);
  assert_string_equal(kept->note, "slow");
  assert_int_equal(kept->details[0].milli, 16000);
  assert_null(kept->details[0].text);
  assert_string_equal(kept->details[1].text, "neutral");
  bt_observation_free(NULL);
}

static void a_new_ledger_is_empty_and_frees_what_was_put_in(void **state) {
  (void)state;
  g_autoptr(BtRubric) rubric = log_rubric_new();
  g_autoptr(BtLedger) ledger = bt_ledger_new(rubric);
  assert_int_equal(ledger->total_percent_milli, -1);
  assert_null(ledger->total);
  assert_int_equal(ledger->reasons->len, 0);
  for (int i = 0; i < BT_LISTS; i++)
    assert_int_equal(ledger->list[i]->len, 0);
  BtReason reason = {BT_REASON_BELOW_PASS, NULL, g_array_new(FALSE, FALSE, sizeof(int))};
  g_array_append_val(ledger->reasons, reason);
  bt_ledger_free(NULL);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_fault_reads_as_place_then_what_is_wrong_then_what_to_do),
      cmocka_unit_test(warnings_are_no_errors),
      cmocka_unit_test(a_list_keeps_the_first_faults_and_counts_the_rest),
      cmocka_unit_test(a_line_beyond_what_a_fault_holds_is_the_greatest_it_can),
      cmocka_unit_test(names_and_numbers_of_things_agree_both_ways),
      cmocka_unit_test(names_in_files_are_spelt_as_the_design_says),
      cmocka_unit_test(a_range_is_closed_and_may_be_open_ended),
      cmocka_unit_test(things_are_found_by_id_and_others_are_not),
      cmocka_unit_test(an_observation_owns_all_that_it_is_given),
      cmocka_unit_test(a_new_ledger_is_empty_and_frees_what_was_put_in),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
