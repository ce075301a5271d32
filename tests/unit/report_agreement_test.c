// SPDX-License-Identifier: GPL-3.0-or-later
//
// Assessors of one session against each other, in the sample session that two of them watched. What
// they wrote stands in sample_sessions/two-assessors-ankle.csv; the expectations are read from it
// by hand.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include <benchtally/rubric.h>
#include <benchtally/study_agreement.h>
#include <glib/gstdio.h>

#define SAMPLES BENCHTALLY_SOURCE_DIR "/sample_sessions/"
#define RUBRICS BENCHTALLY_SOURCE_DIR "/rubrics/"

typedef struct {
  char *folder, *path;
  BtBook *book;
} Fixture;

static void add_rubric(BtBook *book, const char *path) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  g_autoptr(BtRubric) rubric = bt_rubric_read_file(path, faults, &error);
  bool added = false;
  assert_non_null(rubric);
  assert_true(bt_book_add_rubric(book, rubric, &added, &error));
}

static void import_file(BtBook *book, const char *path) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  BtImportCount count;
  assert_true(bt_book_import(book, path, &count, faults, NULL, NULL, &error));
}

static int setup(void **state) {
  Fixture *fixture = g_new0(Fixture, 1);
  g_autoptr(GError) error = NULL;
  fixture->folder = g_dir_make_tmp("bt-agreement-XXXXXX", &error);
  fixture->path = g_build_filename(fixture->folder, "book.db", NULL);
  fixture->book = bt_book_open(fixture->path, BT_BOOK_CREATE, &error);
  assert_non_null(fixture->book);
  int added, already;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  assert_true(bt_book_add_people_file(fixture->book, SAMPLES "people.csv", &added, &already, faults,
                                      &error));
  add_rubric(fixture->book, RUBRICS "ankle-lag-plate.yaml");
  add_rubric(fixture->book, RUBRICS "mandible-two-sites.yaml");
  import_file(fixture->book, SAMPLES "two-assessors-ankle.csv");
  import_file(fixture->book, SAMPLES "critical-error-ankle.csv");
  import_file(fixture->book, SAMPLES "own-record-mandible.csv");
  *state = fixture;
  return 0;
}

static int teardown(void **state) {
  Fixture *fixture = *state;
  bt_book_close(fixture->book);
  g_remove(fixture->path);
  g_rmdir(fixture->folder);
  g_free(fixture->path);
  g_free(fixture->folder);
  g_free(fixture);
  return 0;
}

static BtStudy *study_of(Fixture *fixture, const char *rubric) {
  BtStudyScope scope = {.rubric = rubric};
  g_autoptr(GError) error = NULL;
  BtStudy *study = bt_study_read(fixture->book, &scope, NULL, NULL, &error);
  if (!study)
    fail_msg("%s", error->message);
  return study;
}

static void a_session_seen_once_is_left_out(void **state) {
  g_autoptr(BtStudy) study = study_of(*state, "ankle-lag-plate");
  g_autoptr(BtViews) views = bt_views_new(study, false);
  assert_int_equal(views->sessions, 1);
  assert_int_equal(views->alone, 1);
  assert_int_equal(views->assessors, 2);
  assert_string_equal(views->session[0], "larkfield-08");
  assert_string_equal(views->assessor[0], "AS-1");
  assert_string_equal(views->assessor[1], "AS-4");
}

static void own_records_are_let_in_when_asked_for(void **state) {
  g_autoptr(BtStudy) study = study_of(*state, "mandible-two-sites");
  g_autoptr(BtViews) without = bt_views_new(study, false);
  assert_int_equal(without->sessions, 0);
  assert_int_equal(without->own_left_out, 1);
  g_autoptr(BtViews) with = bt_views_new(study, true);
  assert_int_equal(with->sessions, 1);
  assert_int_equal(with->own_left_out, 0);
  assert_string_equal(with->assessor[1], BT_OWN_RECORD);
  BtAgreement all = bt_views_agreement(with, BT_VIEW_STEP, -1);
  assert_int_equal(all.raters, 2);
}

// The video could not see the tap, and holds that the gliding hole slants; it saw a plunge.
static void what_the_two_saw_otherwise(void **state) {
  g_autoptr(BtStudy) study = study_of(*state, "ankle-lag-plate");
  g_autoptr(BtViews) views = bt_views_new(study, false);
  const BtRubric *rubric = study->rubric;
  g_autoptr(GArray) list = bt_views_disagreements(views);
  assert_int_equal(list->len, 2);
  const BtDisagreement *step = &g_array_index(list, BtDisagreement, 0);
  const BtDisagreement *error = &g_array_index(list, BtDisagreement, 1);
  assert_int_equal(step->what, BT_VIEW_STEP);
  assert_true(step->counted);
  assert_int_equal(views->view[0]->step[step->item], BT_STEP_DONE);
  assert_int_equal(views->view[1]->step[step->item], BT_STEP_NOT_DONE);
  assert_int_equal(error->what, BT_VIEW_ERROR);
  assert_true(error->counted);
  assert_int_equal(views->view[0]->errors[error->item], 0);
  assert_true(views->view[1]->errors[error->item] > 0);
  BtAgreement all = bt_views_agreement(views, BT_VIEW_STEP, -1);
  assert_int_equal(all.pairs - all.same, 1);
  assert_true(all.pairs < (gsize)rubric->n_checkpoints); // the tap, and options not taken
}

static void scores_stand_side_by_side(void **state) {
  g_autoptr(BtStudy) study = study_of(*state, "ankle-lag-plate");
  g_autoptr(BtViews) views = bt_views_new(study, false);
  double cell[2];
  bt_views_fill(views, BT_VIEW_TOTAL_PERCENT, -1, cell);
  assert_true(fabs(cell[0] - 95.837) < 0.002); // the sample sessions' README, rounded there
  assert_true(fabs(cell[1] - 89.320) < 0.002);
  BtScoreAgreement score = bt_views_icc(views, BT_VIEW_TOTAL_PERCENT, -1);
  assert_non_null(score.icc.form[BT_ICC_2].why_not); // one session is no table
}

static BtViewEvents *events_of(Fixture *fixture, const BtViews *views, gint64 tolerance_ms) {
  g_autoptr(GError) error = NULL;
  BtViewEvents *events = bt_views_events(fixture->book, views, tolerance_ms, &error);
  assert_non_null(events);
  return events;
}

// Seventeen entries each: the video lacks the tap and has a plunge; its second drilling stands two
// seconds earlier, all else at the same second.
static void entries_match_within_the_tolerance(void **state) {
  Fixture *fixture = *state;
  g_autoptr(BtStudy) study = study_of(fixture, "ankle-lag-plate");
  g_autoptr(BtViews) views = bt_views_new(study, false);
  g_autoptr(BtViewEvents) usual = events_of(fixture, views, 5000);
  assert_int_equal(usual->compared->len, 1);
  assert_int_equal(usual->entries, 34);
  assert_int_equal(usual->matched, 16);
  assert_true(usual->share.value == 32.0 / 34);
  assert_true(usual->median_off_s.value == 0);
  assert_true(fabs(usual->off_s.bias.value - 2.0 / 16) < 1e-12);
  g_autoptr(BtViewEvents) narrow = events_of(fixture, views, 1000);
  assert_int_equal(narrow->matched, 15);
  g_autoptr(BtViewEvents) none = events_of(fixture, views, -1);
  assert_int_equal(none->matched, 0);
  assert_non_null(none->median_off_s.why_not);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_session_seen_once_is_left_out),
      cmocka_unit_test(own_records_are_let_in_when_asked_for),
      cmocka_unit_test(what_the_two_saw_otherwise),
      cmocka_unit_test(scores_stand_side_by_side),
      cmocka_unit_test(entries_match_within_the_tolerance),
  };
  return cmocka_run_group_tests(tests, setup, teardown);
}
