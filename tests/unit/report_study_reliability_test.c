// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the observations of a book allow: which design is taken, what counts, who is in doubt. The
// studies are put together here, with totals whose parts are known.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include <benchtally/study_reliability.h>

enum { CHECKPOINTS = 3 };

// A study whose rows live in this fixture.
typedef struct {
  BtRubric rubric;
  BtStudy study;
  GPtrArray *sessions; // of BtSessionRow
  GRand *random;
} Fixture;

static void free_session(gpointer data) {
  BtSessionRow *row = data;
  g_free(row->session);
  g_free(row->trainee);
  g_free(row->assessor);
  g_free(row);
}

static void free_row(gpointer data) {
  BtStudyRow *row = data;
  g_free(row->step_share);
  g_free(row);
}

static Fixture fixture_new(void) {
  Fixture fixture = {.random = g_rand_new_with_seed(5)};
  fixture.rubric.n_checkpoints = CHECKPOINTS;
  fixture.rubric.score.pass_milli = 70000;
  fixture.sessions = g_ptr_array_new_with_free_func(free_session);
  fixture.study.rows = g_ptr_array_new_with_free_func(free_row);
  return fixture;
}

static void fixture_clear(Fixture *fixture) {
  g_ptr_array_unref(fixture->study.rows);
  g_ptr_array_unref(fixture->sessions);
  g_rand_free(fixture->random);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Fixture, fixture_clear)

// One observation, after those of the same trainee and session before it.
static BtStudyRow *put(Fixture *fixture, int trainee, int attempt, int assessor, double total) {
  BtSessionRow *session = g_new0(BtSessionRow, 1);
  session->trainee = g_strdup_printf("T-%02d", trainee);
  session->session = g_strdup_printf("S-%02d-%d", trainee, attempt);
  session->assessor = g_strdup_printf("A-%d", assessor);
  session->attempt = attempt;
  session->of_record = true;
  const GPtrArray *rows = fixture->study.rows;
  if (rows->len) {
    const BtStudyRow *before = g_ptr_array_index(rows, rows->len - 1);
    session->of_record = strcmp(before->row->session, session->session) != 0;
  }
  BtStudyRow *row = g_new0(BtStudyRow, 1);
  row->row = session;
  row->total_percent = total;
  row->step_share = g_new(double, CHECKPOINTS);
  for (int i = 0; i < CHECKPOINTS; i++)
    row->step_share[i] = g_rand_double(fixture->random);
  g_ptr_array_add(fixture->sessions, session);
  g_ptr_array_add(fixture->study.rows, row);
  return row;
}

// A total with parts for the trainee, progress, and what is left.
static double total(Fixture *fixture, int trainee, int attempt) {
  return 55 + 2.5 * (trainee % 8) + 4 * attempt + g_rand_double_range(fixture->random, -4, 4);
}

static BtStudyReliability *read_off(Fixture *fixture) {
  fixture->study.rubric = &fixture->rubric;
  return bt_study_reliability(&fixture->study, -1, BT_BY_ANOVA);
}

static void expect_design(const BtStudyReliability *found, const char *expected) {
  assert_non_null(found->gstudy);
  const BtDesign *design = found->gstudy->design;
  g_autofree char *name = bt_design_name(design, design->effect[design->effects - 1]);
  assert_string_equal(name, expected);
  assert_non_null(found->about_design);
  assert_non_null(found->confounded);
  assert_false(found->from_items);
}

// So many trainees and attempts, each seen by as many of the pool's assessors as the function of
// both says.
static void fill(Fixture *fixture, int trainees, int attempts, int pool,
                 int (*assessors)(int, int)) {
  for (int t = 1; t <= trainees; t++) {
    for (int a = 1; a <= attempts; a++) {
      for (int by = 1; by <= assessors(t, a); by++)
        put(fixture, t, a, 1 + (t + a + by) % pool, total(fixture, t, a) - 2 * by);
    }
  }
}

static int two(int trainee, int attempt) {
  (void)trainee, (void)attempt;
  return 2;
}
static int one(int trainee, int attempt) {
  (void)trainee, (void)attempt;
  return 1;
}
static int two_now_and_then(int trainee, int attempt) {
  return (trainee + attempt) % 4 == 0 ? 2 : 1;
}

static void the_fullest_design_that_the_scores_allow_is_taken(void **state) {
  (void)state;
  static const struct {
    int trainees, attempts, pool;
    int (*assessors)(int, int);
    const char *design;
  } cases[] = {{16, 3, 2, two, "trainee x session x assessor"},
               // Of four assessors two by two: too few meet to tell all seven effects apart.
               {16, 3, 4, two, "assessor:(trainee x session)"},
               {16, 3, 4, two_now_and_then, "assessor:(trainee x session)"},
               {16, 3, 4, one, "trainee x session"},
               {16, 1, 4, two, "trainee x assessor"}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_auto(Fixture) fixture = fixture_new();
    fill(&fixture, cases[i].trainees, cases[i].attempts, cases[i].pool, cases[i].assessors);
    g_autoptr(BtStudyReliability) found = read_off(&fixture);
    expect_design(found, cases[i].design);
    assert_int_equal(found->trainees, cases[i].trainees);
    assert_int_equal(found->sessions, cases[i].trainees * cases[i].attempts);
    assert_int_equal(found->observations, fixture.study.rows->len);
  }
}

static void without_a_design_it_goes_by_the_checkpoints(void **state) {
  (void)state;
  g_auto(Fixture) fixture = fixture_new();
  fill(&fixture, 9, 1, 4, one);
  g_autoptr(BtStudyReliability) found = read_off(&fixture);
  assert_null(found->gstudy);
  assert_true(found->from_items);
  assert_non_null(strstr(found->about_design, "one session with one assessor"));
  assert_true(found->reliability.value == found->items->alpha.value);
  assert_int_equal(found->items->persons, 9);
  assert_non_null(found->one.decision.why_not);
}

static void an_empty_book_and_one_trainee_are_no_fault(void **state) {
  (void)state;
  g_auto(Fixture) nobody = fixture_new(), alone = fixture_new();
  put(&alone, 1, 1, 1, 71);
  put(&alone, 1, 2, 1, 75);
  g_autoptr(BtStudyReliability) none = read_off(&nobody), one_trainee = read_off(&alone);
  assert_non_null(strstr(none->about_design, "Fewer than two trainees"));
  assert_non_null(strstr(one_trainee->about_design, "Fewer than two trainees"));
  assert_non_null(none->decision.consistency.why_not);
  assert_non_null(one_trainee->decision.consistency.why_not);
  assert_non_null(one_trainee->sem_percent.why_not);
  assert_int_equal(one_trainee->doubtful->len, 0);
  assert_int_equal(one_trainee->latest_percent->len, 1);
  assert_float_equal(one_trainee->mean_percent, 75, 1e-12);
}

static void what_all_gain_is_progress_and_no_error(void **state) {
  (void)state;
  // Totals of trainee and attempt added up, no chance: every session ranks and decides alike.
  g_auto(Fixture) fixture = fixture_new();
  for (int t = 1; t <= 6; t++) {
    for (int a = 1; a <= 3; a++)
      put(&fixture, t, a, 1, 40 + 5 * t + 8 * a);
  }
  g_autoptr(BtStudyReliability) found = read_off(&fixture);
  expect_design(found, "trainee x session");
  assert_float_equal(found->reliability.value, 1, 1e-9);
  assert_float_equal(found->sem_percent.value, 0, 1e-6);
  BtPlan plan = bt_plan_of_study(found->gstudy);
  assert_true(bt_dstudy(found->gstudy, &plan).decision.value < 0.9); // were it taken for error
}

static void the_doubtful_stand_by_their_latest_session(void **state) {
  (void)state;
  g_auto(Fixture) fixture = fixture_new();
  fill(&fixture, 16, 3, 4, one);
  g_autoptr(BtStudyReliability) found = read_off(&fixture);
  double sem = found->sem_percent.value, before = 0;
  assert_true(sem > 0);
  gsize expected = 0;
  for (guint i = 0; i < fixture.study.rows->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(fixture.study.rows, i);
    expected += row->row->attempt == 3 && fabs(row->total_percent - 70) <= 1.959963984540054 * sem;
  }
  assert_true(expected > 1);
  assert_int_equal(found->doubtful->len, expected);
  for (guint i = 0; i < found->doubtful->len; i++) {
    const BtDoubtful *doubtful = &g_array_index(found->doubtful, BtDoubtful, i);
    assert_int_equal(doubtful->row->row->attempt, 3);
    assert_true(doubtful->within_one == (fabs(doubtful->away_percent) <= sem));
    assert_true(fabs(doubtful->away_percent) >= before);
    before = fabs(doubtful->away_percent);
  }
}

static void own_records_and_second_ones_of_an_assessor_do_not_count(void **state) {
  (void)state;
  g_auto(Fixture) fixture = fixture_new();
  for (int t = 1; t <= 6; t++) {
    for (int a = 1; a <= 2; a++) {
      put(&fixture, t, a, 1, total(&fixture, t, a));
      BtStudyRow *again = put(&fixture, t, a, 1, 0); // the same assessor, from video
      ((BtSessionRow *)again->row)->mode = BT_MODE_VIDEO;
      BtStudyRow *own = put(&fixture, t, a, 9, 100);
      ((BtSessionRow *)own->row)->mode = BT_MODE_SELF;
      BtStudyRow *empty = put(&fixture, t, a, 3, BT_MISSING); // nothing counted
      assert_false(empty->row->of_record);
    }
  }
  g_autoptr(BtStudyReliability) found = read_off(&fixture);
  assert_int_equal(found->observations, 12);
  assert_int_equal(found->self_rated, 12);
  assert_int_equal(found->assessors, 1);
  assert_int_equal(found->double_seen, 0);
  expect_design(found, "trainee x session");
}

static void severity_comes_from_the_same_sessions(void **state) {
  (void)state;
  // Assessor 2 gives every performance 6 points less than assessor 1.
  g_auto(Fixture) fixture = fixture_new();
  for (int t = 1; t <= 6; t++) {
    double seen = 60 + 5 * t + g_rand_double_range(fixture.random, -0.1, 0.1);
    put(&fixture, t, 1, 1, seen);
    put(&fixture, t, 1, 2, seen - 6 + g_rand_double_range(fixture.random, -0.1, 0.1));
  }
  g_autoptr(BtStudyReliability) found = read_off(&fixture);
  assert_null(found->severity->why_not);
  assert_string_equal(g_ptr_array_index(found->assessor, 1), "A-2");
  assert_float_equal(found->severity->assessor[1].severity.value, 3, 0.1);
  assert_float_equal(found->severity->assessor[0].severity.value, -3, 0.1);
  assert_int_equal(found->fair->len, 6);
  for (guint i = 0; i < found->fair->len; i++) {
    const BtFairTotal *fair = &g_array_index(found->fair, BtFairTotal, i);
    assert_float_equal(fair->percent.fair_mean.value, (float)(60 + 5 * (i + 1) - 3), 0.3);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_fullest_design_that_the_scores_allow_is_taken),
      cmocka_unit_test(without_a_design_it_goes_by_the_checkpoints),
      cmocka_unit_test(an_empty_book_and_one_trainee_are_no_fault),
      cmocka_unit_test(what_all_gain_is_progress_and_no_error),
      cmocka_unit_test(the_doubtful_stand_by_their_latest_session),
      cmocka_unit_test(own_records_and_second_ones_of_an_assessor_do_not_count),
      cmocka_unit_test(severity_comes_from_the_same_sessions),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
