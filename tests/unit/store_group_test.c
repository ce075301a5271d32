// SPDX-License-Identifier: GPL-3.0-or-later
//
// Many writes that become durable together, entries that are sent more than once, accounts, looks.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <benchtally/account.h>
#include <sqlite3.h>

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

#define DONE(call)                                                                                 \
  do {                                                                                             \
    g_autoptr(GError) error = NULL;                                                                \
    if (!(call))                                                                                   \
      fail_msg("%s", error ? error->message : "no error was told");                                \
  } while (0)

static gint64 begin(BtBook *book) {
  const BtHeader header = {.session = "S-1",
                           .trainee = "T-01",
                           .assessor = "A-01",
                           .rubric = "splint",
                           .edition = 1,
                           .started_ms = FIXTURE_STARTED_MS,
                           .mode = BT_MODE_LIVE};
  gint64 id = 0;
  DONE(bt_book_begin(book, &header, &id, &error));
  return id;
}

#define ID(n) "0190c1a0-0000-7000-8000-00000000000" #n

static const BtRawEvent start = {.time = "0:00", .action = "start"};
static const BtRawEvent reduce = {.time = "1:00", .action = "reduce", .site = "shaft"};
static const BtRawEvent nonsense = {.time = "2:00", .action = "polish"};

// The number given; 0: refused with faults; -1 with the error's code in *code.
static int submit(BtBook *book, gint64 id, const BtSubmission *submission, int *code) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  int seq = 0;
  bool done = bt_book_submit(book, id, submission, &seq, faults, &error);
  *code = error ? error->code : 0;
  if (!done && !error)
    assert_true(bt_faults_count_errors(faults) > 0);
  return done ? seq : error ? -1 : 0;
}

static int events_of(BtBook *book, gint64 id) {
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, id, &rubric, &error);
  assert_non_null(observation);
  return (int)observation->events->len;
}

// Groups ----------------------------------------------------------------------

static void a_group_shows_and_lasts_only_once_it_is_committed(void **state) {
  Bench *bench = *state;
  int code = 0;
  gint64 id = begin(bench->book);
  DONE(bt_book_group_begin(bench->book, &error));
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = ID(1), .event = &start}, &code),
                   1);
  BtBook *other = fixture_open(&bench->fixture, BT_BOOK_READ);
  assert_int_equal(events_of(other, id), 0);
  DONE(bt_book_group_commit(bench->book, &error));
  assert_int_equal(events_of(other, id), 1);
  bt_book_close(other);
  assert_sound(bench->book);
}

static void what_fails_in_a_group_leaves_the_rest_of_it_standing(void **state) {
  Bench *bench = *state;
  int code = 0;
  gint64 id = begin(bench->book);
  DONE(bt_book_group_begin(bench->book, &error));
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = ID(1), .event = &start}, &code),
                   1);
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = ID(2), .event = &nonsense}, &code),
                   0);
  assert_int_equal(
      submit(bench->book, id, &(BtSubmission){.id = ID(3), .seq = 9, .reason = "slip"}, &code), -1);
  assert_int_equal(code, BT_ERROR_UNKNOWN);
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = ID(4), .event = &reduce}, &code),
                   2);
  DONE(bt_book_group_commit(bench->book, &error));
  assert_int_equal(events_of(bench->book, id), 2);
  assert_sound(bench->book);
}

static void a_group_that_was_not_committed_is_gone(void **state) {
  Bench *bench = *state;
  int code = 0;
  gint64 id = begin(bench->book);
  DONE(bt_book_group_begin(bench->book, &error));
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = ID(1), .event = &start}, &code),
                   1);
  bt_book_close(bench->book);
  bench->book = fixture_open(&bench->fixture, BT_BOOK_WRITE);
  assert_int_equal(events_of(bench->book, id), 0);
  assert_sound(bench->book);
}

static void a_reading_handle_has_no_groups(void **state) {
  Bench *bench = *state;
  g_autoptr(GError) error = NULL;
  BtBook *reader = fixture_open(&bench->fixture, BT_BOOK_READ);
  assert_false(bt_book_group_begin(reader, &error));
  assert_int_equal(error->code, BT_ERROR_BOOK_READ_ONLY);
  bt_book_close(reader);
}

// Sent more than once ---------------------------------------------------------

static void the_same_entry_again_gives_its_number_again(void **state) {
  Bench *bench = *state;
  int code = 0;
  gint64 id = begin(bench->book);
  const BtSubmission first = {.id = ID(1), .event = &start},
                     second = {.id = ID(2), .event = &reduce};
  assert_int_equal(submit(bench->book, id, &first, &code), 1);
  assert_int_equal(submit(bench->book, id, &second, &code), 2);
  assert_int_equal(submit(bench->book, id, &first, &code), 1);
  DONE(bt_book_finish(bench->book, id, NULL, &error));
  assert_int_equal(submit(bench->book, id, &second, &code), 2);
  assert_int_equal(events_of(bench->book, id), 2);
  assert_sound(bench->book);
}

static void an_id_with_another_content_contradicts(void **state) {
  Bench *bench = *state;
  int code = 0;
  gint64 id = begin(bench->book);
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = ID(1), .event = &start}, &code),
                   1);
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = ID(1), .event = &reduce}, &code),
                   -1);
  assert_int_equal(code, BT_ERROR_CONFLICT);
  assert_int_equal(submit(bench->book, id, &(BtSubmission){.id = "one", .event = &start}, &code),
                   -1);
  assert_int_equal(code, BT_ERROR_LOG);
}

static void corrections_are_entries_that_may_be_sent_again(void **state) {
  Bench *bench = *state;
  int code = 0;
  gint64 id = begin(bench->book);
  submit(bench->book, id, &(BtSubmission){.id = ID(1), .event = &start}, &code);
  submit(bench->book, id, &(BtSubmission){.id = ID(2), .event = &reduce}, &code);
  const BtRawEvent later = {.time = "1:30", .action = "reduce", .site = "shaft"};
  const BtSubmission amend = {.id = ID(3), .event = &later, .of_id = ID(2), .reason = "late tap"};
  const BtSubmission strike = {.id = ID(4), .of_id = ID(2), .reason = "not this one"};
  assert_int_equal(submit(bench->book, id, &amend, &code), 2);
  assert_int_equal(submit(bench->book, id, &amend, &code), 2);
  assert_int_equal(submit(bench->book, id, &strike, &code), 2);
  assert_int_equal(submit(bench->book, id, &strike, &code), 2);
  assert_int_equal(submit(bench->book, id, &amend, &code), 2);
  const BtSubmission again = {.id = ID(5), .seq = 2, .reason = "not this one"};
  assert_int_equal(submit(bench->book, id, &again, &code), -1);
  assert_int_equal(code, BT_ERROR_CONFLICT);
  const BtSubmission unreasoned = {.id = ID(6), .seq = 1};
  assert_int_equal(submit(bench->book, id, &unreasoned, &code), -1);
  assert_int_equal(code, BT_ERROR_OPTION);
  g_autoptr(GPtrArray) records = bt_book_history(bench->book, id, NULL);
  assert_int_equal(records->len, 5); // the opening, two events, two corrections
  assert_int_equal(events_of(bench->book, id), 1);
  assert_sound(bench->book);
}

// Accounts --------------------------------------------------------------------

#define KEY "0f1e2d3c4b5a69788796a5b4c3d2e1f00f1e2d3c4b5a69788796a5b4c3d2e1f0"

static void an_account_opens_with_its_secret_alone(void **state) {
  Bench *bench = *state;
  g_autofree char *hash = bt_secret_hash("a quiet corner", NULL);
  DONE(bt_book_set_account(bench->book, "A-01", hash, NULL, &error));
  g_autofree char *kept = bt_book_account(bench->book, "A-01", NULL);
  assert_true(bt_secret_matches(kept, "a quiet corner"));
  assert_false(bt_secret_matches(kept, "a quiet cornet"));
  assert_false(bt_secret_matches(NULL, "a quiet corner"));
  assert_null(strstr(kept, "quiet"));
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_set_account(bench->book, "A-99", hash, NULL, &error));
  assert_int_equal(error->code, BT_ERROR_UNKNOWN);
  assert_sound(bench->book);
}

static void secrets_are_long_enough_for_the_role(void **state) {
  (void)state;
  assert_true(bt_secret_fits(BT_ROLE_DIRECTOR, "ten letters", NULL));
  assert_false(bt_secret_fits(BT_ROLE_DIRECTOR, "nine lett", NULL));
  assert_false(bt_secret_fits(BT_ROLE_DIRECTOR, "123456", NULL));
  assert_false(bt_secret_fits(BT_ROLE_DIRECTOR, "12345678901234", NULL));
  assert_true(bt_secret_fits(BT_ROLE_ASSESSOR, "123456", NULL));
  assert_false(bt_secret_fits(BT_ROLE_TRAINEE, "12345", NULL));
  assert_false(bt_secret_fits(BT_ROLE_TRAINEE, "12345a", NULL));
  assert_false(bt_secret_fits(BT_ROLE_TRAINEE, "", NULL));
}

static BtLogin *find(BtBook *book, const char *key) {
  g_autoptr(GError) error = NULL;
  BtLogin *login = bt_book_login_find(book, key, &error);
  assert_null(error);
  return login;
}

static void a_login_ends_idle_old_dropped_or_with_its_account(void **state) {
  Bench *bench = *state;
  g_autofree char *hash = bt_secret_hash("a quiet corner", NULL);
  DONE(bt_book_set_account(bench->book, "A-01", hash, NULL, &error));
  DONE(bt_book_login_add(bench->book, KEY, "A-01", &error));
  g_autoptr(BtLogin) login = find(bench->book, KEY);
  assert_string_equal(login->code, "A-01");
  assert_int_equal(login->role, BT_ROLE_ASSESSOR);
  gint64 begun_ms = bench->now_ms;
  bench->now_ms = begun_ms + BT_LOGIN_IDLE_MS + 10000;
  assert_null(find(bench->book, KEY));
  bench->now_ms = begun_ms + BT_LOGIN_IDLE_MS - 10000;
  DONE(bt_book_login_seen(bench->book, KEY, &error));
  bench->now_ms = begun_ms + BT_LOGIN_IDLE_MS + 10000;
  g_autoptr(BtLogin) seen = find(bench->book, KEY);
  assert_non_null(seen);
  bench->now_ms = begun_ms + BT_LOGIN_MS;
  DONE(bt_book_login_seen(bench->book, KEY, &error));
  assert_null(find(bench->book, KEY));
  DONE(bt_book_login_add(bench->book, KEY "x", "A-01", &error)); // drops the old one
  DONE(bt_book_set_account(bench->book, "A-01", hash, KEY "x", &error));
  g_autoptr(BtLogin) kept = find(bench->book, KEY "x");
  assert_non_null(kept);
  DONE(bt_book_set_account(bench->book, "A-01", hash, NULL, &error));
  assert_null(find(bench->book, KEY "x"));
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_login_add(bench->book, KEY, "A-02", &error));
  assert_int_equal(error->code, BT_ERROR_CONFLICT);
}

static void accounts_go_and_the_chain_keeps_that_they_were(void **state) {
  Bench *bench = *state;
  bool removed = false;
  g_autofree char *hash = bt_secret_hash("a quiet corner", NULL);
  DONE(bt_book_set_account(bench->book, "A-01", hash, NULL, &error));
  DONE(bt_book_login_add(bench->book, KEY, "A-01", &error));
  g_autoptr(GHashTable) before = bt_book_accounts(bench->book, BT_ROLE_ASSESSOR, NULL);
  assert_int_equal(g_hash_table_size(before), 1);
  DONE(bt_book_remove_account(bench->book, "A-01", &removed, &error));
  assert_true(removed);
  assert_null(find(bench->book, KEY));
  DONE(bt_book_remove_account(bench->book, "A-01", &removed, &error));
  assert_false(removed);
  assert_sound(bench->book);
}

// Tampering -------------------------------------------------------------------

static void run_sql(const char *path, const char *sql) {
  sqlite3 *db = NULL;
  assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
  assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
  sqlite3_close(db);
}

static void assert_finding(Bench *bench, const char *sql, const char *words) {
  BtVerifyReport report = {0};
  run_sql(bench->fixture.path, sql);
  DONE(bt_book_verify(bench->book, &report, &error));
  bool found = false;
  for (guint i = 0; i < report.findings->len; i++)
    found |= strstr(report.findings->pdata[i], words) != NULL;
  bt_verify_report_clear(&report);
  if (!found)
    fail_msg("after %s no finding says \"%s\"", sql, words);
}

static void verify_sees_a_secret_that_was_put_in_from_outside(void **state) {
  Bench *bench = *state;
  g_autofree char *hash = bt_secret_hash("a quiet corner", NULL);
  DONE(bt_book_set_account(bench->book, "A-01", hash, NULL, &error));
  assert_sound(bench->book);
  assert_finding(bench, "UPDATE account SET secret = 'mine'", "the account of A-01");
  assert_finding(bench, "INSERT INTO account VALUES ('A-02', 'mine', 1)",
                 "the account of A-02 was put in from outside");
  assert_finding(bench, "DELETE FROM account WHERE code = 'A-01'",
                 "the account of A-01 is missing");
}

static void a_look_is_kept_once_and_only_of_ones_own_session(void **state) {
  Bench *bench = *state;
  begin(bench->book);
  assert_int_equal(bt_book_looked(bench->book, "S-1", NULL), 0);
  DONE(bt_book_set_looked(bench->book, "S-1", "T-01", &error));
  DONE(bt_book_set_looked(bench->book, "S-1", "T-01", &error));
  assert_int_equal(bt_book_looked(bench->book, "S-1", NULL), 1);
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_set_looked(bench->book, "S-1", "T-02", &error));
  assert_int_equal(error->code, BT_ERROR_UNKNOWN);
  assert_sound(bench->book);
}

static void a_look_at_a_record_changes_no_document(void **state) {
  Bench *bench = *state;
  char before[BT_SHA256_HEX + 1], after[BT_SHA256_HEX + 1];
  gint64 records = 0;
  DONE(bt_book_head(bench->book, before, &records, &error));
  DONE(bt_book_note_access(bench->book, "result", "T-01", NULL, &error));
  DONE(bt_book_head(bench->book, after, &records, &error));
  assert_string_equal(before, after);
  assert_sound(bench->book);
}

int main(void) {
#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)
  const struct CMUnitTest tests[] = {
      TEST(a_group_shows_and_lasts_only_once_it_is_committed),
      TEST(what_fails_in_a_group_leaves_the_rest_of_it_standing),
      TEST(a_group_that_was_not_committed_is_gone),
      TEST(a_reading_handle_has_no_groups),
      TEST(the_same_entry_again_gives_its_number_again),
      TEST(an_id_with_another_content_contradicts),
      TEST(corrections_are_entries_that_may_be_sent_again),
      TEST(an_account_opens_with_its_secret_alone),
      TEST(secrets_are_long_enough_for_the_role),
      TEST(a_login_ends_idle_old_dropped_or_with_its_account),
      TEST(accounts_go_and_the_chain_keeps_that_they_were),
      TEST(verify_sees_a_secret_that_was_put_in_from_outside),
      TEST(a_look_is_kept_once_and_only_of_ones_own_session),
      TEST(a_look_at_a_record_changes_no_document),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
