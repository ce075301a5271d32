// SPDX-License-Identifier: GPL-3.0-or-later
//
// A book that is not as it should be, or not alone: no database, truncated, older, newer, locked,
// read-only; readers and writers side by side; backups.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <sqlite3.h>
#include <sys/wait.h>

#include "fault/book_asserts.h"
#include "fault/book_fixture.h"

static int setup(void **state) {
  Fixture *fixture = g_new0(Fixture, 1);
  fixture_setup(fixture);
  *state = fixture;
  return 0;
}

static int teardown(void **state) {
  Fixture *fixture = *state;
  (void)g_chmod(fixture->folder, 0700);
  fixture_teardown(fixture);
  g_free(fixture);
  return 0;
}

static void make_book(const Fixture *fixture) {
  BtBook *book = fixture_open(fixture, BT_BOOK_CREATE);
  fixture_fill(book);
  bt_book_close(book);
}

static void run_raw(const Fixture *fixture, const char *sql) {
  sqlite3 *raw = NULL;
  char *why = NULL;
  assert_int_equal(sqlite3_open(fixture->path, &raw), SQLITE_OK);
  if (sqlite3_exec(raw, sql, NULL, NULL, &why) != SQLITE_OK)
    fail_msg("%s", why);
  sqlite3_close(raw);
}

static void assert_refused(const Fixture *fixture, BtBookMode mode, int code, const char *part) {
  g_autoptr(GError) error = NULL;
  BtBook *book = bt_book_open(fixture->path, mode, &error);
  assert_null(book);
  if (!g_error_matches(error, BT_ERROR, code) || !strstr(error->message, part))
    fail_msg("%d: %s", error->code, error->message);
}

// What is no book -------------------------------------------------------------

static void a_missing_book_is_only_made_on_request(void **state) {
  assert_refused(*state, BT_BOOK_READ, BT_ERROR_FILE, "no such book");
  assert_refused(*state, BT_BOOK_WRITE, BT_ERROR_FILE, "no such book");
  make_book(*state);
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_READ);
  assert_sound(book);
}

static void a_file_that_is_no_database_is_refused(void **state) {
  g_free(fixture_file(*state, "book.db", "session,trainee\nthis is a log, no book\n"));
  assert_refused(*state, BT_BOOK_READ, BT_ERROR_NOT_A_BOOK, "no book");
  assert_refused(*state, BT_BOOK_CREATE, BT_ERROR_NOT_A_BOOK, "no book");
}

static void another_programs_database_is_left_alone(void **state) {
  run_raw(*state, "CREATE TABLE stock(item TEXT)");
  assert_refused(*state, BT_BOOK_READ, BT_ERROR_NOT_A_BOOK, "no book");
  assert_refused(*state, BT_BOOK_CREATE, BT_ERROR_NOT_A_BOOK, "no book");
  run_raw(*state, "INSERT INTO stock VALUES ('plate')");
}

static void a_folder_is_no_book(void **state) {
  const Fixture *fixture = *state;
  const Fixture folder = {.folder = fixture->folder, .path = fixture->folder};
  assert_refused(&folder, BT_BOOK_READ, BT_ERROR_NOT_A_BOOK, "no file");
}

// Names that mean something else to SQLite: whatever was written must be there for the next
// program.
static void a_books_path_is_a_files_name(void **state) {
  static const char *const names[] = {":memory:", "file:book.db?mode=memory", "file:book.db"};
  const Fixture *fixture = *state;
  g_autofree char *before = g_get_current_dir();
  assert_int_equal(g_chdir(fixture->folder), 0);
  for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
    const Fixture odd = {.folder = fixture->folder, .path = (char *)names[i]};
    make_book(&odd);
    BtBook *book = fixture_open(&odd, BT_BOOK_READ);
    g_autoptr(GPtrArray) people = bt_book_people(book, -1, NULL);
    assert_int_equal(people->len, 4);
    g_autofree char *copy = g_strdup_printf("file:copy-%d.db?mode=memory", (int)i);
    assert_true(bt_book_backup(book, copy, NULL));
    bt_book_close(book);
    const Fixture copied = {.folder = fixture->folder, .path = copy};
    book = fixture_open(&copied, BT_BOOK_READ);
    assert_sound(book);
    bt_book_close(book);
  }
  assert_int_equal(g_chdir(before), 0);
  const Fixture nameless = {.folder = fixture->folder, .path = (char *)""};
  assert_refused(&nameless, BT_BOOK_CREATE, BT_ERROR_FILE, "");
}

// A part of a book must never be read as a whole one: it is refused, or the check finds it. (Within
// its last page a book may have bytes that hold nothing; so that page goes as a whole.)
static void a_truncated_book_is_found_out(void **state) {
  const Fixture *fixture = *state;
  make_book(fixture);
  g_autofree char *bytes = NULL;
  gsize length = 0;
  assert_true(g_file_get_contents(fixture->path, &bytes, &length, NULL));
  for (gsize kept = 512; kept + 8192 < length; kept += 4096) {
    assert_int_equal(truncate(fixture->path, (off_t)kept), 0);
    g_autoptr(GError) error = NULL;
    g_autoptr(BtBook) book = bt_book_open(fixture->path, BT_BOOK_READ, &error);
    BtVerifyReport report = {0};
    if (book && bt_book_verify(book, &report, &error))
      assert_true(report.findings->len > 0);
    else
      assert_non_null(error);
    bt_verify_report_clear(&report);
    g_clear_pointer(&book, bt_book_close);
    assert_true(g_file_set_contents(fixture->path, bytes, (gssize)length, NULL));
  }
}

// Versions --------------------------------------------------------------------

static void a_newer_book_is_refused(void **state) {
  make_book(*state);
  run_raw(*state, "PRAGMA user_version = 99");
  assert_refused(*state, BT_BOOK_READ, BT_ERROR_NOT_A_BOOK, "newer Benchtally");
  assert_refused(*state, BT_BOOK_WRITE, BT_ERROR_NOT_A_BOOK, "newer Benchtally");
}

static void make_version_1(const Fixture *fixture) {
  g_autofree char *script = NULL;
  assert_true(g_file_get_contents(BENCHTALLY_SOURCE_DIR "/tests/fault/book_version_1.sql", &script,
                                  NULL, NULL));
  run_raw(fixture, script);
}

static void an_older_book_is_brought_forward_by_a_writer(void **state) {
  make_version_1(*state);
  assert_refused(*state, BT_BOOK_READ, BT_ERROR_NOT_A_BOOK, "of version 1");
  assert_refused(*state, BT_BOOK_READ, BT_ERROR_NOT_A_BOOK, "a command that writes");
  BtBook *book = fixture_open(*state, BT_BOOK_WRITE);
  assert_sound(book);
  fixture_fill(book);
  bt_book_close(book);
  book = fixture_open(*state, BT_BOOK_READ);
  char head[BT_SHA256_HEX + 1];
  gint64 records = 0;
  assert_true(bt_book_head(book, head, &records, NULL));
  assert_int_equal(records, 17 + 1 + 5); // as it was, migrated, an edition and four people
  assert_sound(book);
  bt_book_close(book);
}

// What was recorded before says the same after: results as issued, the observation that was named,
// the person as amended, the standard that was adopted.
static void an_older_book_keeps_what_it_said(void **state) {
  make_version_1(*state);
  bt_book_close(fixture_open(*state, BT_BOOK_WRITE));
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_READ);
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, NULL);
  assert_int_equal(rows->len, 2);
  const BtSessionRow *live = rows->pdata[0];
  const BtSessionRow *video = rows->pdata[1];
  assert_false(live->of_record); // it would be, by the rule, had not the other been named
  assert_true(video->of_record);
  assert_int_equal(live->corrections, 2);
  assert_int_equal(live->given_mp[BT_STEPS], 7000);  // the line 1, two holes 2, two screws 4
  assert_int_equal(video->given_mp[BT_STEPS], 3000); // the line 1, one screw of two: 2 of 4
  g_autoptr(BtPerson) person = bt_book_person(book, "T-1", NULL);
  assert_string_equal(person->name, "Ana Elm");
  g_autoptr(GPtrArray) standards = bt_book_standards(book, "small-bench", NULL);
  assert_int_equal(standards->len, 1);
  assert_true(((const BtStandard *)standards->pdata[0])->in_force);
}

// Locks -----------------------------------------------------------------------

static void a_book_that_another_program_holds_is_busy(void **state) {
  make_book(*state);
  const Fixture *fixture = *state;
  sqlite3 *other = NULL;
  assert_int_equal(sqlite3_open(fixture->path, &other), SQLITE_OK);
  assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
  g_autoptr(BtBook) book = fixture_open(fixture, BT_BOOK_WRITE);
  g_autoptr(GError) error = NULL;
  const BtPerson person = {.code = (char *)"T-77"};
  assert_false(bt_book_add_person(book, &person, NULL, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_BOOK_BUSY));
  assert_sound(book); // reading goes on
  sqlite3_exec(other, "ROLLBACK", NULL, NULL, NULL);
  sqlite3_close(other);
  g_clear_error(&error);
  assert_true(bt_book_add_person(book, &person, NULL, &error));
}

static void a_reading_handle_cannot_write(void **state) {
  make_book(*state);
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_READ);
  g_autoptr(GError) error = NULL;
  const BtPerson person = {.code = (char *)"T-77"};
  assert_false(bt_book_add_person(book, &person, NULL, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY));
}

static const BtEvent note = {.kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1};

// Opens the session of one child and appends to it; 0 when every event was taken.
static int write_many(const Fixture *fixture, const char *session, int events) {
  BtBook *book = fixture_open(fixture, BT_BOOK_WRITE);
  const BtHeader header = {session, "T-01", "A-01", "splint", 1, FIXTURE_STARTED_MS, BT_MODE_LIVE};
  gint64 id = 0;
  bool done = bt_book_begin(book, &header, &id, NULL);
  for (int i = 0; done && i < events; i++)
    done = bt_book_append(book, id, &note, NULL, NULL, NULL);
  bt_book_close(book);
  return done ? 0 : 1;
}

static pid_t start_writer(const Fixture *fixture, const char *session, int events) {
  pid_t child = fork();
  if (child == 0)
    _exit(write_many(fixture, session, events));
  return child;
}

static void assert_child_done(pid_t child) {
  int status = 0;
  assert_int_equal(waitpid(child, &status, 0), child);
  assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
}

static void two_writers_and_a_reader_get_on(void **state) {
  make_book(*state);
  pid_t first = start_writer(*state, "S-001", 150);
  pid_t second = start_writer(*state, "S-002", 150);
  BtBook *reader = fixture_open(*state, BT_BOOK_READ);
  for (int i = 0; i < 20; i++)
    assert_sound(reader);
  assert_child_done(first);
  assert_child_done(second);
  g_autoptr(GPtrArray) rows = bt_book_sessions(reader, NULL, NULL);
  assert_int_equal(rows->len, 2);
  assert_int_equal(((const BtSessionRow *)rows->pdata[0])->events, 150);
  assert_int_equal(((const BtSessionRow *)rows->pdata[1])->events, 150);
  assert_sound(reader);
  bt_book_close(reader);
}

// Read-only -------------------------------------------------------------------

// Runs `work` as one who owns nothing; root may write anywhere, so it steps down first.
static void as_a_stranger(const Fixture *fixture, int (*work)(const Fixture *)) {
  pid_t child = fork();
  if (child == 0) {
    if (geteuid() == 0 && setuid(65534) != 0)
      _exit(99);
    _exit(work(fixture));
  }
  assert_child_done(child);
}

static bool refuses_to_write(const Fixture *fixture) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = bt_book_open(fixture->path, BT_BOOK_WRITE, &error);
  if (book || !g_error_matches(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY))
    g_printerr("%s\n", error ? error->message : "opened");
  return !book && g_error_matches(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY);
}

static int reads_but_cannot_write(const Fixture *fixture) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = bt_book_open(fixture->path, BT_BOOK_READ, &error);
  g_autoptr(GPtrArray) people = book ? bt_book_people(book, -1, &error) : NULL;
  if (!people)
    g_printerr("%s\n", error->message);
  return !(people && people->len == 4 && refuses_to_write(fixture));
}

static void a_read_only_folder_can_be_read(void **state) {
  const Fixture *fixture = *state;
  make_book(fixture);
  assert_int_equal(g_chmod(fixture->path, 0444), 0);
  assert_int_equal(g_chmod(fixture->folder, 0555), 0);
  as_a_stranger(fixture, reads_but_cannot_write);
}

static int is_told_of_the_wal(const Fixture *fixture) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = bt_book_open(fixture->path, BT_BOOK_READ, &error);
  if (book)
    return 1;
  return !(g_error_matches(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY) &&
           strstr(error->message, "copy both files"));
}

// With records still in the -wal, reading the file alone would be reading an old book.
static void a_read_only_folder_with_a_wal_is_not_read_in_part(void **state) {
  const Fixture *fixture = *state;
  make_book(fixture);
  pid_t child = start_writer(fixture, "S-001", 3);
  assert_child_done(child);
  g_autofree char *wal = g_strconcat(fixture->path, "-wal", NULL);
  BtBook *book = fixture_open(fixture, BT_BOOK_WRITE);
  const BtPerson person = {.code = (char *)"T-78"};
  assert_true(bt_book_add_person(book, &person, NULL, NULL));
  g_autofree char *bytes = NULL;
  gsize length = 0;
  assert_true(g_file_get_contents(wal, &bytes, &length, NULL));
  bt_book_close(book);
  assert_true(length > 0);
  assert_true(g_file_set_contents(wal, bytes, (gssize)length, NULL));
  assert_int_equal(g_chmod(fixture->path, 0444), 0);
  assert_int_equal(g_chmod(wal, 0444), 0);
  assert_int_equal(g_chmod(fixture->folder, 0555), 0);
  as_a_stranger(fixture, is_told_of_the_wal);
}

// Backups ---------------------------------------------------------------------

static void a_backup_is_made_while_recording_goes_on(void **state) {
  const Fixture *fixture = *state;
  make_book(fixture);
  pid_t writer = start_writer(fixture, "S-001", 300);
  for (int i = 0; i < 5; i++) {
    g_autofree char *name = g_strdup_printf("copy-%d.db", i);
    g_autofree char *path = g_build_filename(fixture->folder, name, NULL);
    g_autoptr(GError) error = NULL;
    BtBook *book = fixture_open(fixture, BT_BOOK_READ);
    if (!bt_book_backup(book, path, &error))
      fail_msg("%s", error->message);
    bt_book_close(book);
    const Fixture copy = {.folder = fixture->folder, .path = path};
    book = fixture_open(&copy, BT_BOOK_READ);
    assert_sound(book);
    bt_book_close(book);
  }
  assert_child_done(writer);
}

static void a_backup_overwrites_nothing(void **state) {
  const Fixture *fixture = *state;
  make_book(fixture);
  g_autofree char *path = fixture_file(fixture, "precious.txt", "precious");
  g_autoptr(BtBook) book = fixture_open(fixture, BT_BOOK_READ);
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_backup(book, path, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
  g_autofree char *text = NULL;
  assert_true(g_file_get_contents(path, &text, NULL, NULL));
  assert_string_equal(text, "precious");
}

static void a_backup_into_no_folder_says_so(void **state) {
  const Fixture *fixture = *state;
  make_book(fixture);
  g_autofree char *path = g_build_filename(fixture->folder, "nowhere", "copy.db", NULL);
  g_autoptr(BtBook) book = fixture_open(fixture, BT_BOOK_READ);
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_backup(book, path, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_DISK));
}

// A backup can be carried on as a book.
static void a_backup_can_be_written_to(void **state) {
  const Fixture *fixture = *state;
  make_book(fixture);
  g_autofree char *path = g_build_filename(fixture->folder, "copy.db", NULL);
  BtBook *book = fixture_open(fixture, BT_BOOK_READ);
  assert_true(bt_book_backup(book, path, NULL));
  bt_book_close(book);
  const Fixture copy = {.folder = fixture->folder, .path = path};
  assert_int_equal(write_many(&copy, "S-001", 3), 0);
  book = fixture_open(&copy, BT_BOOK_READ);
  assert_sound(book);
  bt_book_close(book);
}

#define CARE_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void) {
  const struct CMUnitTest tests[] = {
      CARE_TEST(a_missing_book_is_only_made_on_request),
      CARE_TEST(a_file_that_is_no_database_is_refused),
      CARE_TEST(another_programs_database_is_left_alone),
      CARE_TEST(a_folder_is_no_book),
      CARE_TEST(a_books_path_is_a_files_name),
      CARE_TEST(a_truncated_book_is_found_out),
      CARE_TEST(a_newer_book_is_refused),
      CARE_TEST(an_older_book_is_brought_forward_by_a_writer),
      CARE_TEST(an_older_book_keeps_what_it_said),
      CARE_TEST(a_book_that_another_program_holds_is_busy),
      CARE_TEST(a_reading_handle_cannot_write),
      CARE_TEST(two_writers_and_a_reader_get_on),
      CARE_TEST(a_read_only_folder_can_be_read),
      CARE_TEST(a_read_only_folder_with_a_wal_is_not_read_in_part),
      CARE_TEST(a_backup_is_made_while_recording_goes_on),
      CARE_TEST(a_backup_overwrites_nothing),
      CARE_TEST(a_backup_into_no_folder_says_so),
      CARE_TEST(a_backup_can_be_written_to),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
