// SPDX-License-Identifier: GPL-3.0-or-later
//
// A study against the sample session that two assessors watched: what each of them wrote stands in
// sample_sessions/two-assessors-ankle.csv, what it comes to is worked by hand in its README.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <math.h>
#include <string.h>

#include <benchtally/rubric.h>
#include <benchtally/study.h>
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
  fixture->folder = g_dir_make_tmp("bt-study-XXXXXX", &error);
  fixture->path = g_build_filename(fixture->folder, "book.db", NULL);
  fixture->book = bt_book_open(fixture->path, BT_BOOK_CREATE, &error);
  assert_non_null(fixture->book);
  int added, already;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  assert_true(bt_book_add_people_file(fixture->book, SAMPLES "people.csv", &added, &already, faults,
                                      &error));
  add_rubric(fixture->book, RUBRICS "ankle-lag-plate.yaml");
  add_rubric(fixture->book, RUBRICS "arch-bars.yaml");
  import_file(fixture->book, SAMPLES "two-assessors-ankle.csv");
  import_file(fixture->book, SAMPLES "critical-error-ankle.csv");
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

static BtStudy *study_of(Fixture *fixture, const BtStudyScope *scope) {
  g_autoptr(GError) error = NULL;
  BtStudy *study = bt_study_read(fixture->book, scope, NULL, NULL, &error);
  if (!study)
    fail_msg("%s", error->message);
  return study;
}

static const BtStudyRow *row_of(const BtStudy *study, const char *session, BtMode mode) {
  for (guint i = 0; i < study->rows->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(study->rows, i);
    if (g_str_equal(row->row->session, session) && row->row->mode == mode)
      return row;
  }
  fail_msg("no row for %s", session);
  return NULL;
}

static int checkpoint(const BtStudy *study, const char *id) {
  for (int i = 0; i < study->rubric->n_checkpoints; i++) {
    if (g_str_equal(study->rubric->checkpoints[i].id, id))
      return i;
  }
  fail_msg("no checkpoint %s", id);
  return -1;
}

static int error_kind(const BtStudy *study, const char *id) {
  for (int i = 0; i < study->rubric->n_errors; i++) {
    if (g_str_equal(study->rubric->errors[i].id, id))
      return i;
  }
  fail_msg("no error kind %s", id);
  return -1;
}

static void two_assessors_of_one_session(void **state) {
  g_autoptr(BtStudy) study = study_of(*state, &(BtStudyScope){.rubric = "ankle-lag-plate"});
  assert_int_equal(study->rows->len, 3);
  const BtStudyRow *live = row_of(study, "larkfield-08", BT_MODE_LIVE);
  const BtStudyRow *video = row_of(study, "larkfield-08", BT_MODE_VIDEO);
  assert_string_equal(live->trainee->code, "LK-05");
  assert_true(live->row->of_record);
  assert_false(video->row->of_record);

  int tap = checkpoint(study, "tapped");
  assert_int_equal(live->step[tap], BT_STEP_DONE);
  assert_int_equal(video->step[tap], BT_STEP_NOT_SEEN);
  assert_true(isnan(video->step_share[tap]));
  int done = 0, not_done = 0; // the slanting hole is all that the video saw undone
  for (int i = 0; i < study->rubric->n_checkpoints; i++) {
    done += live->step[i] == BT_STEP_DONE && live->step_share[i] == 1.0;
    not_done += video->step[i] == BT_STEP_NOT_DONE && video->step_share[i] == 0.0;
  }
  int out = 0; // the options not taken are the same for both
  for (int i = 0; i < study->rubric->n_checkpoints; i++) {
    assert_int_equal(live->step[i] == BT_STEP_OUT, video->step[i] == BT_STEP_OUT);
    out += live->step[i] == BT_STEP_OUT;
  }
  assert_int_equal(done, study->rubric->n_checkpoints - out);
  assert_int_equal(not_done, 1);

  int plunge = error_kind(study, "plunge");
  assert_int_equal(live->errors[plunge], 0);
  assert_int_equal(video->errors[plunge], 1);

  // Ratings stand in the rubric's order: reads-fracture, hand-feel.
  assert_true(live->rating[0] == 4.0 && live->rating[1] == 3.0);
  assert_true(video->rating[0] == 3.0 && video->rating[1] == 3.0);
  assert_true(live->measure[0] == 0.5 && live->measure[2] == 14.0); // step, angle
  assert_true(isnan(video->measure[0]));
  assert_true(live->total_s == 25.0 * 60.0);
  assert_int_equal(floor(live->total_percent * 10.0), 958);
  assert_int_equal(floor(video->total_percent * 10.0), 893);
  assert_int_equal(live->outcome, BT_PASS);
  assert_int_equal(video->outcome, BT_UNDECIDED);
  assert_null(live->observation);
}

static void the_scope_chooses(void **state) {
  BtStudyScope scope = {.rubric = "ankle-lag-plate", .of_record_only = true};
  g_autoptr(BtStudy) record = study_of(*state, &scope);
  assert_int_equal(record->rows->len, 2);
  scope =
      (BtStudyScope){.rubric = "ankle-lag-plate", .session = "larkfield-08", .with_events = true};
  g_autoptr(BtStudy) session = study_of(*state, &scope);
  assert_int_equal(session->rows->len, 2);
  const BtStudyRow *live = row_of(session, "larkfield-08", BT_MODE_LIVE);
  assert_int_equal(live->observation->events->len, 25); // the lines of the file
  // 2026-03-04T09:10:00Z begins the span; it has no other end than itself.
  gint64 started = live->row->started_ms;
  scope = (BtStudyScope){.rubric = "ankle-lag-plate", .from_ms = started, .before_ms = started + 1};
  g_autoptr(BtStudy) at = study_of(*state, &scope);
  assert_int_equal(at->rows->len, 2);
  scope.from_ms = started + 1;
  scope.before_ms = 0;
  g_autoptr(BtStudy) later = study_of(*state, &scope);
  for (guint i = 0; i < later->rows->len; i++)
    assert_true(((BtStudyRow *)g_ptr_array_index(later->rows, i))->row->started_ms > started);
  scope = (BtStudyScope){.rubric = "arch-bars"};
  g_autoptr(BtStudy) none = study_of(*state, &scope);
  assert_int_equal(none->rows->len, 0);
}

static void refused(Fixture *fixture, const BtStudyScope *scope, const char *part) {
  g_autoptr(GError) error = NULL;
  assert_null(bt_study_read(fixture->book, scope, NULL, NULL, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_UNKNOWN));
  if (!strstr(error->message, part))
    fail_msg("\"%s\" does not say \"%s\"", error->message, part);
}

static void what_is_not_there_is_named(void **state) {
  refused(*state, &(BtStudyScope){0}, "name one with --rubric: ankle-lag-plate, arch-bars");
  refused(*state, &(BtStudyScope){.rubric = "ankle"}, "it has: ankle-lag-plate, arch-bars");
  refused(*state, &(BtStudyScope){.rubric = "arch-bars", .edition = 7}, "no edition 7");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup_teardown(two_assessors_of_one_session, setup, teardown),
      cmocka_unit_test_setup_teardown(the_scope_chooses, setup, teardown),
      cmocka_unit_test_setup_teardown(what_is_not_there_is_named, setup, teardown),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
