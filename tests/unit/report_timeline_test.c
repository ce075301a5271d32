// SPDX-License-Identifier: GPL-3.0-or-later
//
// A session laid out for drawing: lanes, what stands in them and as what, pauses, stretches of
// work.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>
#include <unistd.h>

#include <benchtally/rubric.h>

#include "report/timeline.h"

static const char rubric_text[] =
    "benchtally: 1\n"
    "rubric: lanes\n"
    "edition: 1\n"
    "title: Two phases\n"
    "cautions: [A test; no surgery is taught here.]\n"
    "sites: {shaft: Shaft}\n"
    "actions:\n"
    "  mark: {title: Mark, key: m, sites: [shaft]}\n"
    "  cut: {title: Cut, key: c, sites: [shaft], details: {depth: {unit: mm, range: 1..9 mm}}}\n"
    "  spare: {title: Spare, key: s, sites: [shaft]}\n"
    "phases:\n"
    "  - id: plan\n"
    "    title: Plan\n"
    "    target: 2 min\n"
    "    limit: 4 min\n"
    "    points: 1\n"
    "    checkpoints:\n"
    "      - {id: marked, title: Marked, match: {action: mark}, points: 1}\n"
    "  - id: work\n"
    "    title: Work\n"
    "    checkpoints:\n"
    "      - {id: cut, title: Cut, match: {action: cut}, times: {least: 1, most: 2}, expect: "
    "{depth: 3..4 mm}, "
    "points: 1}\n"
    "order:\n"
    "  - {id: plan-work, first: marked, then: cut, lose: 1, why: Measure twice.}\n"
    "injects:\n"
    "  - {id: chip, title: A chip}\n"
    "errors:\n"
    "  - {id: slip, title: Slip, severity: minor, lose: 1}\n"
    "  - {id: waste, title: Waste, severity: minor, lose: 1, match: {action: spare}, only: "
    "unplanned}\n"
    "score:\n"
    "  technique_points: 4\n"
    "  weights: {steps: 50, order: 20, technique: 30}\n"
    "  pass: 70\n";

static const char log_text[] = "session,trainee,assessor,rubric,edition,started,mode,time,action,"
                               "site,item,value,redo,note,depth\n"
#define ROW "s1,t1,a1,lanes,1,2026-03-04T09:00:00Z,live,"
    ROW "0:10,start,,,,,,\n"        // 1
    ROW "1:00,cut,shaft,,,,,3\n"    // 2: before the mark
    ROW "2:00,pause,,,,,,\n"        // 3
    ROW "3:00,resume,,,,,,\n"       // 4
    ROW "3:00,resume,,,,,,\n"       // 5: ignored
    ROW "4:00,mark,shaft,,,,,\n"    // 6
    ROW "5:00,cut,shaft,,,,,8\n"    // 7: too deep
    ROW "5:30,error,,slip,,,,\n"    // 8
    ROW "6:00,spare,shaft,,,,,\n"   // 9: unplanned, found as waste
    ROW "7:00,cut,shaft,,,yes,,4\n" // 10: redone
    ROW "8:00,finish,,,,,,\n"       // 11
    ROW "8:30,note,,,,,A word,\n"   // 12
    ROW "9:00,mark,shaft,,,,,\n";   // 13: after the end

typedef struct {
  BtRubric *rubric;
  GPtrArray *observations;
  BtSessionRow row;
  BtAttempt attempt;
  BtTimeline *timeline;
} Laid;

static int lay_out(void **state) {
  Laid *laid = g_new0(Laid, 1);
  g_autoptr(GPtrArray) found = bt_faults_new();
  laid->rubric = bt_rubric_read(rubric_text, strlen(rubric_text), NULL, found);
  g_autofree char *path = NULL;
  int fd = g_file_open_tmp("report-timeline-XXXXXX.csv", &path, NULL);
  if (!laid->rubric || fd < 0 || write(fd, log_text, strlen(log_text)) < 0)
    return -1;
  close(fd);
  laid->observations = bt_log_read_observations(path, laid->rubric, found, NULL);
  unlink(path);
  for (guint i = 0; i < found->len; i++) {
    g_autofree char *text = bt_fault_format(g_ptr_array_index(found, i));
    print_message("%s\n", text);
  }
  if (!laid->observations)
    return -1;
  BtObservation *observation = g_ptr_array_index(laid->observations, 0);
  laid->attempt = (BtAttempt){.row = &laid->row,
                              .rubric = laid->rubric,
                              .observation = observation,
                              .ledger = bt_score(laid->rubric, observation)};
  laid->timeline = bt__timeline_new(&laid->attempt);
  *state = laid;
  return 0;
}

static int clear_away(void **state) {
  Laid *laid = *state;
  bt__timeline_free(laid->timeline);
  bt_ledger_free(laid->attempt.ledger);
  g_ptr_array_unref(laid->observations);
  bt_rubric_free(laid->rubric);
  g_free(laid);
  return 0;
}

static const BtPlaced *placed(const Laid *laid, int seq) {
  for (guint i = 0; i < laid->timeline->marks->len; i++) {
    const BtPlaced *mark = &g_array_index(laid->timeline->marks, BtPlaced, i);
    if (mark->event->seq == seq)
      return mark;
  }
  fail_msg("event %d is not there", seq);
  return NULL;
}

static void lanes_are_phases_then_what_else_there_is(void **state) {
  const Laid *laid = *state;
  static const char *const titles[] = {"Plan", "Work", "Other work", "Technique errors", "Clock"};
  assert_int_equal(laid->timeline->lanes->len, G_N_ELEMENTS(titles));
  for (guint i = 0; i < G_N_ELEMENTS(titles); i++)
    assert_string_equal(g_array_index(laid->timeline->lanes, BtLane, i).title, titles[i]);
  assert_int_equal(laid->timeline->clock_lane, 4);
  // The plan was begun after the cut at 1:00, and has a target; the work has none.
  assert_int_equal(g_array_index(laid->timeline->lanes, BtLane, 0).begin_ms, 60000);
  assert_int_equal(g_array_index(laid->timeline->lanes, BtLane, 0).target_ms, 120000);
  assert_int_equal(g_array_index(laid->timeline->lanes, BtLane, 1).target_ms, -1);
}

static void each_event_stands_where_it_belongs(void **state) {
  const Laid *laid = *state;
  static const struct {
    int seq, lane;
    BtMarkRole role;
    const char *result;
  } wanted[] = {{1, 4, BT_ROLE_CLOCK, "clock"},
                {2, 1, BT_ROLE_AS_EXPECTED, "as expected"},
                {5, -1, BT_ROLE_CLOCK, "ignored"},
                {6, 0, BT_ROLE_AS_EXPECTED, "as expected"},
                {7, 1, BT_ROLE_NOT_AS_EXPECTED, "put right later"},
                {8, 3, BT_ROLE_FOUND_ERROR, "technique error"},
                {9, 2, BT_ROLE_OTHER_WORK, "not asked for"},
                {10, 1, BT_ROLE_REDO, "redone"},
                {12, -1, BT_ROLE_REMARK, "noted"},
                {13, 2, BT_ROLE_OTHER_WORK, "after the end"}};
  assert_int_equal(laid->timeline->marks->len, 13);
  for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++) {
    const BtPlaced *mark = placed(laid, wanted[i].seq);
    assert_int_equal(mark->lane, wanted[i].lane);
    assert_int_equal(mark->role, wanted[i].role);
    assert_string_equal(mark->result, wanted[i].result);
  }
}

// The cut at 1:00 was the first of its rule; it came before the mark, as the later one did not.
static void only_what_is_out_of_order_is_marked(void **state) {
  const Laid *laid = *state;
  assert_string_equal(placed(laid, 2)->order, "too early");
  for (int seq = 3; seq <= 13; seq++)
    assert_null(placed(laid, seq)->order);
}

static void errors_have_letters_by_kind(void **state) {
  const Laid *laid = *state;
  assert_int_equal(placed(laid, 8)->letter, 'A');
  assert_int_equal(placed(laid, 9)->letter, 'B');
  assert_int_equal(placed(laid, 7)->letter, 0);
}

static void stretches_follow_each_other_from_the_start(void **state) {
  const Laid *laid = *state;
  assert_int_equal(placed(laid, 2)->from_ms, 10000);
  assert_int_equal(placed(laid, 6)->from_ms, 60000);
  assert_int_equal(placed(laid, 7)->from_ms, 240000);
  assert_int_equal(placed(laid, 10)->from_ms, 360000);
  assert_int_equal(placed(laid, 8)->from_ms, -1); // an error is no work
}

static void a_pause_lasts_to_the_resume_that_ends_it(void **state) {
  const Laid *laid = *state;
  assert_int_equal(laid->timeline->pauses->len, 2);
  assert_int_equal(g_array_index(laid->timeline->pauses, gint64, 0), 120000);
  assert_int_equal(g_array_index(laid->timeline->pauses, gint64, 1), 180000);
}

int main(void) {
#define TEST(name) cmocka_unit_test_setup_teardown(name, lay_out, clear_away)
  const struct CMUnitTest tests[] = {TEST(lanes_are_phases_then_what_else_there_is),
                                     TEST(each_event_stands_where_it_belongs),
                                     TEST(only_what_is_out_of_order_is_marked),
                                     TEST(errors_have_letters_by_kind),
                                     TEST(stretches_follow_each_other_from_the_start),
                                     TEST(a_pause_lasts_to_the_resume_that_ends_it)};
#undef TEST
  return cmocka_run_group_tests(tests, NULL, NULL);
}
