// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards: put on record, adopted, superseded; all of it kept, none of it changing a score.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include "fault/book_asserts.h"
#include "fault/book_fixture.h"

typedef struct {
  Fixture fixture;
  BtBook *book;
  gint64 now_ms;
} Bench;

static int setup(void **state) {
  Bench *bench = g_new0(Bench, 1);
  fixture_setup(&bench->fixture);
  bench->book = fixture_open(&bench->fixture, BT_BOOK_CREATE);
  bench->now_ms = FIXTURE_STARTED_MS;
  bt_book_set_clock(bench->book, fixture_clock, &bench->now_ms);
  fixture_fill(bench->book);
  *state = bench;
  return 0;
}

static int teardown(void **state) {
  Bench *bench = *state;
  bt_book_close(bench->book);
  fixture_teardown(&bench->fixture);
  g_free(bench);
  return 0;
}

static const BtStandard angoff = {.rubric = (char *)"splint",
                                  .edition = 1,
                                  .method = (char *)"angoff",
                                  .cut_milli = 64250,
                                  .se_milli = 1875,
                                  .judges = 3,
                                  .judges_note = (char *)"Drs Rowan, Alder and Hazel",
                                  .set_on = (char *)"2026-03-01",
                                  .figures_json = (char *)"{\"rounds\":2}"};

static gint64 add(BtBook *book, const BtStandard *standard) {
  g_autoptr(GError) error = NULL;
  gint64 id = 0;
  if (!bt_book_add_standard(book, standard, &id, &error))
    fail_msg("%s", error->message);
  return id;
}

static void adopt(BtBook *book, gint64 id, const char *reason) {
  g_autoptr(GError) error = NULL;
  if (!bt_book_adopt_standard(book, id, reason, &error))
    fail_msg("%s", error->message);
}

static void a_standard_comes_back_as_it_was_set(void **state) {
  BtBook *book = ((Bench *)*state)->book;
  bt_book_set_actor(book, "Dr Rowan");
  gint64 id = add(book, &angoff);
  g_autoptr(GPtrArray) standards = bt_book_standards(book, "splint", NULL);
  assert_int_equal(standards->len, 1);
  const BtStandard *there = standards->pdata[0];
  assert_int_equal(there->id, id);
  assert_string_equal(there->rubric, "splint");
  assert_int_equal(there->edition, 1);
  assert_string_equal(there->method, "angoff");
  assert_int_equal(there->cut_milli, 64250);
  assert_int_equal(there->se_milli, 1875);
  assert_int_equal(there->judges, 3);
  assert_string_equal(there->judges_note, "Drs Rowan, Alder and Hazel");
  assert_string_equal(there->set_on, "2026-03-01");
  assert_string_equal(there->figures_json, "{\"rounds\":2}");
  assert_true(there->added_ms > FIXTURE_STARTED_MS);
  assert_string_equal(there->added_by, "Dr Rowan");
  assert_int_equal(there->adopted_ms, 0);
  assert_null(there->adopted_by);
  assert_false(there->in_force);
  assert_sound(book);
}

static void what_was_not_told_stays_unknown(void **state) {
  BtBook *book = ((Bench *)*state)->book;
  BtStandard bare = angoff;
  bare.se_milli = -1;
  bare.judges = 0;
  bare.judges_note = NULL;
  add(book, &bare);
  g_autoptr(GPtrArray) standards = bt_book_standards(book, NULL, NULL);
  const BtStandard *there = standards->pdata[0];
  assert_int_equal(there->se_milli, -1);
  assert_int_equal(there->judges, 0);
  assert_null(there->judges_note);
  assert_sound(book);
}

static void a_later_adoption_supersedes_and_both_stay(void **state) {
  BtBook *book = ((Bench *)*state)->book;
  gint64 first = add(book, &angoff);
  gint64 second = add(book, &angoff);
  bt_book_set_actor(book, "Dr Alder");
  adopt(book, first, "the panel agreed");
  adopt(book, second, "two judges had been absent");
  g_autoptr(GPtrArray) standards = bt_book_standards(book, NULL, NULL);
  const BtStandard *earlier = standards->pdata[0];
  const BtStandard *later = standards->pdata[1];
  assert_false(earlier->in_force);
  assert_string_equal(earlier->adopted_reason, "the panel agreed");
  assert_true(later->in_force);
  assert_string_equal(later->adopted_by, "Dr Alder");
  assert_true(later->adopted_ms > earlier->adopted_ms);
  adopt(book, first, "the first after all");
  g_autoptr(GPtrArray) again = bt_book_standards(book, NULL, NULL);
  assert_true(((const BtStandard *)again->pdata[0])->in_force);
  assert_false(((const BtStandard *)again->pdata[1])->in_force);
  assert_sound(book);
}

static void editions_have_standards_of_their_own(void **state) {
  BtBook *book = ((Bench *)*state)->book;
  g_autoptr(BtRubric) next = fixture_read_rubric();
  next->edition = 2;
  assert_true(bt_book_add_rubric(book, next, NULL, NULL));
  BtStandard of_next = angoff;
  of_next.edition = 2;
  gint64 first = add(book, &angoff);
  adopt(book, first, "agreed");
  adopt(book, add(book, &of_next), "agreed for the second");
  g_autoptr(GPtrArray) standards = bt_book_standards(book, "splint", NULL);
  assert_true(((const BtStandard *)standards->pdata[0])->in_force);
  assert_true(((const BtStandard *)standards->pdata[1])->in_force);
  g_autoptr(GPtrArray) none = bt_book_standards(book, "another", NULL);
  assert_int_equal(none->len, 0);
}

static void assert_adoption_refused(BtBook *book, gint64 id, const char *reason, int code) {
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_adopt_standard(book, id, reason, &error));
  assert_true(g_error_matches(error, BT_ERROR, code));
}

static void an_adoption_needs_a_standard_and_a_reason(void **state) {
  BtBook *book = ((Bench *)*state)->book;
  gint64 id = add(book, &angoff);
  assert_adoption_refused(book, id + 1, "agreed", BT_ERROR_UNKNOWN);
  assert_adoption_refused(book, id, "", BT_ERROR_OPTION);
  adopt(book, id, "agreed");
  assert_adoption_refused(book, id, "again", BT_ERROR_CONFLICT);
  assert_sound(book);
}

static void assert_refused(BtBook *book, const BtStandard *standard, int code, const char *part) {
  g_autoptr(GError) error = NULL;
  gint64 id = -7;
  assert_false(bt_book_add_standard(book, standard, &id, &error));
  if (!g_error_matches(error, BT_ERROR, code) || !strstr(error->message, part))
    fail_msg("%s", error->message);
  assert_int_equal(id, -7);
}

static void what_is_no_standard_is_refused(void **state) {
  BtBook *book = ((Bench *)*state)->book;
  BtStandard wrong = angoff;
  wrong.edition = 9;
  assert_refused(book, &wrong, BT_ERROR_UNKNOWN, "edition 9");
  wrong = angoff;
  wrong.method = (char *)"by eye";
  assert_refused(book, &wrong, BT_ERROR_OPTION, "the method");
  wrong = angoff;
  wrong.cut_milli = 100001;
  assert_refused(book, &wrong, BT_ERROR_OPTION, "the pass mark");
  wrong = angoff;
  wrong.se_milli = -2;
  assert_refused(book, &wrong, BT_ERROR_OPTION, "the standard error");
  wrong = angoff;
  wrong.judges = -1;
  assert_refused(book, &wrong, BT_ERROR_OPTION, "judges");
  wrong = angoff;
  wrong.judges_note = (char *)"two\nlines";
  assert_refused(book, &wrong, BT_ERROR_OPTION, "who sat");
  static const char *const dates[] = {"", "2026-02-30", "2026-3-1", "2026-03-01T10:00:00Z"};
  for (gsize i = 0; i < G_N_ELEMENTS(dates); i++) {
    wrong = angoff;
    wrong.set_on = (char *)dates[i];
    assert_refused(book, &wrong, BT_ERROR_OPTION, "2026-03-04");
  }
  static const char *const figures[] = {
      "", "[1]", "{\"b\":1,\"a\":2}", "{\"a\": 1}", "{\"a\":1,\"a\":1}", "{\"a\":1} "};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++) {
    wrong = angoff;
    wrong.figures_json = (char *)figures[i];
    assert_refused(book, &wrong, BT_ERROR_OPTION, "canonical");
  }
}

// The rubric's own pass mark decides, before and after.
static void adopting_changes_no_result(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  assert_true(fixture_import(&bench->fixture, bench->book,
                             FIXTURE_EVENTS(FIXTURE_ROW("S-001", "T-01", "A-01", "live")), NULL,
                             faults, NULL));
  g_autofree char *before = bt_book_result_json(bench->book, 1, NULL);
  BtStandard all = angoff;
  all.cut_milli = 100 * 1000;
  adopt(bench->book, add(bench->book, &all), "for the next edition");
  g_autofree char *after = bt_book_result_json(bench->book, 1, NULL);
  assert_string_equal(before, after);
  assert_sound(bench->book);
}

#define STANDARD_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void) {
  const struct CMUnitTest tests[] = {
      STANDARD_TEST(a_standard_comes_back_as_it_was_set),
      STANDARD_TEST(what_was_not_told_stays_unknown),
      STANDARD_TEST(a_later_adoption_supersedes_and_both_stay),
      STANDARD_TEST(editions_have_standards_of_their_own),
      STANDARD_TEST(an_adoption_needs_a_standard_and_a_reason),
      STANDARD_TEST(what_is_no_standard_is_refused),
      STANDARD_TEST(adopting_changes_no_result),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
