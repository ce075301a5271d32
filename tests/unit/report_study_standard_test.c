// SPDX-License-Identifier: GPL-3.0-or-later
//
// Marks held against the book's decisions: of the ankle sessions one passed with 95.8 %, one is not
// yet with 86.2 % for a critical error (sample_sessions/README.md works both by hand).
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <math.h>

#include <benchtally/rubric.h>
#include <benchtally/study_standard.h>
#include <glib/gstdio.h>

#define SAMPLES BENCHTALLY_SOURCE_DIR "/sample_sessions/"
#define RUBRICS BENCHTALLY_SOURCE_DIR "/rubrics/"
#define DAY_MS  G_GINT64_CONSTANT(86400000)

typedef struct {
  char *folder, *path;
  BtBook *book;
} Fixture;

static void add_rubric(BtBook *book, const char *path) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtRubric) rubric = bt_rubric_read_file(path, faults, NULL);
  bool added = false;
  assert_true(rubric && bt_book_add_rubric(book, rubric, &added, NULL));
}

static void import_file(BtBook *book, const char *path) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtImportCount count;
  assert_true(bt_book_import(book, path, &count, faults, NULL, NULL, NULL));
}

static int setup(void **state) {
  Fixture *fixture = g_new0(Fixture, 1);
  fixture->folder = g_dir_make_tmp("bt-standard-XXXXXX", NULL);
  fixture->path = g_build_filename(fixture->folder, "book.db", NULL);
  fixture->book = bt_book_open(fixture->path, BT_BOOK_CREATE, NULL);
  assert_non_null(fixture->book);
  int added, already;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  assert_true(
      bt_book_add_people_file(fixture->book, SAMPLES "people.csv", &added, &already, faults, NULL));
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

static BtStudy *study_of(void **state, const char *rubric) {
  Fixture *fixture = *state;
  BtStudyScope scope = {.rubric = rubric};
  BtStudy *study = bt_study_read(fixture->book, &scope, NULL, NULL, NULL);
  assert_non_null(study);
  return study;
}

static void scores_are_those_of_record(void **state) {
  g_autoptr(BtStudy) study = study_of(state, "ankle-lag-plate");
  assert_int_equal(study->rows->len, 3); // one session has two observations
  g_autoptr(BtStudyScores) scores = bt_study_scores(study, 0, 0);
  assert_int_equal(scores->n, 2);
  assert_int_equal(scores->trainees, 2);
  assert_string_equal(scores->row[0]->row->trainee, "LK-05");
  assert_string_equal(scores->row[1]->row->trainee, "LK-06");
  assert_true(floor(scores->score[0] * 10) == 958 && floor(scores->score[1] * 10) == 862);
  assert_int_equal(scores->was[0], BT_WAS_PASS);
  assert_int_equal(scores->was[1], BT_WAS_HELD);
  gint64 latest_ms = scores->row[0]->row->started_ms;
  g_autoptr(BtStudyScores) last_day = bt_study_scores(study, latest_ms, 0);
  assert_int_equal(last_day->n, 1);
  g_autoptr(BtStudyScores) before = bt_study_scores(study, 0, latest_ms);
  assert_int_equal(before->n, 1);
}

static void assert_effect(const BtStudy *study, double cut, gsize stays_pass, gsize to_not_yet,
                          gsize held) {
  g_autoptr(BtStudyEffect) effect = bt_study_effect(study, cut, 1);
  assert_int_equal(effect->effect.decided, 2);
  assert_int_equal(effect->effect.stays_pass, stays_pass);
  assert_int_equal(effect->effect.to_not_yet, to_not_yet);
  assert_int_equal(effect->effect.stays_not_yet, 1);
  assert_int_equal(effect->effect.to_pass, 0); // no mark undoes a critical error
  assert_int_equal(effect->effect.held, held);
  assert_int_equal(effect->to_ms - effect->from_ms, 365 * DAY_MS);
}

static void what_a_mark_would_have_done(void **state) {
  g_autoptr(BtStudy) study = study_of(state, "ankle-lag-plate");
  assert_effect(study, 80, 1, 0, 1);
  assert_effect(study, 90, 1, 0, 0);
  assert_effect(study, 96, 0, 1, 0);
  g_autoptr(BtStudyEffect) effect = bt_study_effect(study, 96, 1);
  assert_int_equal(effect->effect.doubtful->len, 1); // 95.8
  assert_true(effect->zone == 1);
  assert_true(effect->pass_rate.value == 0 && effect->pass_rate.n == 2);
}

static void a_rubric_without_sessions_has_no_effect(void **state) {
  g_autoptr(BtStudy) study = study_of(state, "arch-bars");
  g_autoptr(BtStudyEffect) effect = bt_study_effect(study, 70, -1);
  assert_int_equal(effect->scores->n, 0);
  assert_true(effect->from_ms == 0 && effect->to_ms == 0);
  assert_non_null(effect->pass_rate.why_not);
  assert_true(effect->zone < 0); // nothing to tell an error of measurement from
  bt_study_effect_free(NULL);
  bt_study_scores_free(NULL);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup_teardown(scores_are_those_of_record, setup, teardown),
      cmocka_unit_test_setup_teardown(what_a_mark_would_have_done, setup, teardown),
      cmocka_unit_test_setup_teardown(a_rubric_without_sessions_has_no_effect, setup, teardown),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
