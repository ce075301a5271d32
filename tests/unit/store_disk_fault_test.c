// SPDX-License-Identifier: GPL-3.0-or-later
//
// The disk fails at every single write of an import, of a recorded event, of a correction: the
// error is clean, what was acknowledged is there, and the book verifies.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include "fault/book_asserts.h"
#include "fault/book_fixture.h"
#include "fault/fault_vfs.h"

static int setup(void **state) {
  Fixture *fixture = g_new0(Fixture, 1);
  fixture_setup(fixture);
  BtBook *book = fixture_open(fixture, BT_BOOK_CREATE);
  fixture_fill(book);
  bt_book_close(book);
  *state = fixture;
  return 0;
}

static int teardown(void **state) {
  fault_disarm();
  fixture_teardown(*state);
  g_free(*state);
  return 0;
}

static int count_sessions(BtBook *book) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, &error);
  if (!rows)
    fail_msg("%s", error->message);
  return (int)rows->len;
}

// What a run at a failing disk came to.
typedef struct {
  bool done;
  bool hit; // the fault came
} Outcome;

// One run with the fault at operation `at`; the book's handle is opened before and closed after.
typedef bool (*Work)(const Fixture *fixture, BtBook *book, GError **error);

static Outcome run_at(const Fixture *fixture, Work work, int at, bool sticky, int status) {
  g_autoptr(GError) error = NULL;
  BtBook *book = fixture_open(fixture, BT_BOOK_WRITE);
  fault_arm(at, sticky, status);
  bool done = work(fixture, book, &error);
  Outcome outcome = {done, fault_plan.hit};
  bt_book_close(book);
  fault_disarm();
  if (!done) {
    assert_non_null(error);
    if (!g_error_matches(error, BT_ERROR, BT_ERROR_DISK))
      fail_msg("at operation %d: %s", at, error->message);
    assert_non_null(strstr(error->message, "nothing was kept"));
  }
  return outcome;
}

static bool import_two(const Fixture *fixture, BtBook *book, GError **error) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  return fixture_import(fixture, book,
                        FIXTURE_EVENTS(FIXTURE_ROW("S-001", "T-01", "A-01", "live"))
                            FIXTURE_EVENTS(FIXTURE_ROW("S-002", "T-02", "A-01", "live")),
                        NULL, faults, error);
}

// So many rows that SQLite writes pages before the end: the disk then fails while one batch of
// records is sealed and another is written.
static bool import_many(const Fixture *fixture, BtBook *book, GError **error) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GString) text = g_string_new(NULL);
  for (int i = 0; i < 80000; i++)
    g_string_append_printf(text,
                           "S-%03d,T-01,A-01,splint,1,2026-03-04T09:05:00Z,live,%d,screw,shaft,,,,"
                           "a note of some length so that pages fill: number %d,16,lag\n",
                           i / 500, i % 500, i);
  return fixture_import(fixture, book, text->str, NULL, faults, error);
}

static void a_disk_that_fails_between_batches(void **state) {
  for (int i = 0; i < 2; i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_WRITE);
    fault_arm(3, i == 1, i == 1 ? SQLITE_FULL : SQLITE_IOERR_WRITE);
    bool done = import_many(*state, book, &error);
    fault_disarm();
    assert_false(done);
    assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_DISK));
    assert_non_null(strstr(error->message, "could not write the record"));
    assert_int_equal(count_sessions(book), 0);
    assert_sound(book);
  }
}

static const BtHeader live = {.session = "S-100",
                              .trainee = "T-01",
                              .assessor = "A-01",
                              .rubric = "splint",
                              .edition = 1,
                              .started_ms = FIXTURE_STARTED_MS,
                              .mode = BT_MODE_LIVE};

static bool record_and_correct(const Fixture *fixture, BtBook *book, GError **error) {
  (void)fixture;
  const BtEvent start = {.kind = BT_EVENT_START, .action = -1, .site = -1, .item = -1};
  gint64 id = 0;
  int seq = 0;
  return bt_book_begin(book, &live, &id, error) &&
         bt_book_append(book, id, &start, NULL, &seq, error) &&
         bt_book_append(book, id, &start, NULL, &seq, error) &&
         bt_book_strike(book, id, 2, "twice", error) && bt_book_finish(book, id, NULL, error);
}

// Restores the book as it was before the first run.
static void restore(const Fixture *fixture, const char *bytes, gsize length) {
  g_autofree char *wal = g_strconcat(fixture->path, "-wal", NULL);
  g_autofree char *shm = g_strconcat(fixture->path, "-shm", NULL);
  (void)g_remove(wal);
  (void)g_remove(shm);
  assert_true(g_file_set_contents(fixture->path, bytes, (gssize)length, NULL));
}

// Runs `work` with the fault at each operation in turn until it is not reached; how many there
// were. `check` judges the book after each.
static int at_every_operation(const Fixture *fixture, Work work, bool sticky, int status,
                              void (*check)(BtBook *book, bool done)) {
  g_autofree char *bytes = NULL;
  gsize length = 0;
  assert_true(g_file_get_contents(fixture->path, &bytes, &length, NULL));
  for (int at = 0;; at++) {
    Outcome outcome = run_at(fixture, work, at, sticky, status);
    g_autoptr(BtBook) book = fixture_open(fixture, BT_BOOK_WRITE);
    assert_sound(book);
    check(book, outcome.done);
    g_clear_pointer(&book, bt_book_close);
    restore(fixture, bytes, length);
    if (!outcome.hit)
      return at;
  }
}

static void all_or_nothing(BtBook *book, bool done) {
  assert_int_equal(count_sessions(book), done ? 2 : 0);
}

static void import_at_a_disk_that_fails_once(void **state) {
  assert_true(at_every_operation(*state, import_two, false, SQLITE_IOERR_WRITE, all_or_nothing) >
              10);
}

static void import_at_a_disk_that_fails_for_good(void **state) {
  assert_true(at_every_operation(*state, import_two, true, SQLITE_IOERR_WRITE, all_or_nothing) >
              10);
}

static void import_at_a_disk_that_is_full_once(void **state) {
  assert_true(at_every_operation(*state, import_two, false, SQLITE_FULL, all_or_nothing) > 10);
}

static void import_at_a_disk_that_stays_full(void **state) {
  assert_true(at_every_operation(*state, import_two, true, SQLITE_FULL, all_or_nothing) > 10);
}

static void whatever_was_done_is_whole(BtBook *book, bool done) {
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, NULL);
  if (done)
    assert_true(rows->len == 1 && ((const BtSessionRow *)rows->pdata[0])->closed);
}

static void recording_at_a_disk_that_fails(void **state) {
  assert_true(at_every_operation(*state, record_and_correct, false, SQLITE_IOERR_WRITE,
                                 whatever_was_done_is_whole) > 10);
  assert_true(at_every_operation(*state, record_and_correct, true, SQLITE_FULL,
                                 whatever_was_done_is_whole) > 10);
}

// A write that fails is not acknowledged; one that is acknowledged is there.
static void an_acknowledged_event_is_there(void **state) {
  const Fixture *fixture = *state;
  const BtEvent note = {.kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1};
  int acknowledged = 0;
  gint64 id = 0;
  g_autoptr(GError) begin_error = NULL;
  BtBook *book = fixture_open(fixture, BT_BOOK_WRITE);
  assert_true(bt_book_begin(book, &live, &id, &begin_error));
  for (int i = 0; i < 200; i++) {
    g_autoptr(GError) error = NULL;
    int seq = 0;
    fault_arm(i % 40, false, i % 2 ? SQLITE_FULL : SQLITE_IOERR_WRITE);
    bool done = bt_book_append(book, id, &note, NULL, &seq, &error);
    fault_disarm();
    acknowledged += done;
    if (done)
      assert_int_equal(seq, acknowledged);
  }
  assert_true(acknowledged > 20 && acknowledged < 180);
  bt_book_close(book);
  book = fixture_open(fixture, BT_BOOK_READ);
  g_autoptr(BtObservation) observation = bt_book_load(book, id, NULL, NULL);
  assert_int_equal(observation->events->len, acknowledged);
  assert_sound(book);
  bt_book_close(book);
}

// The copy is made, or nothing of it is left.
static void a_backup_to_a_disk_that_fails(void **state) {
  const Fixture *fixture = *state;
  g_autofree char *copy = g_build_filename(fixture->folder, "copy.db", NULL);
  g_autoptr(BtBook) book = fixture_open(fixture, BT_BOOK_READ);
  int failures = 0;
  for (int at = 0;; at++) {
    g_autoptr(GError) error = NULL;
    fault_arm(at, true, SQLITE_FULL);
    bool done = bt_book_backup(book, copy, &error);
    bool hit = fault_plan.hit;
    fault_disarm();
    assert_int_equal(done, g_access(copy, F_OK) == 0);
    (void)g_remove(copy);
    failures += !done;
    if (!done)
      assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_DISK));
    if (!hit)
      break;
  }
  assert_true(failures > 3);
  GDir *folder = g_dir_open(fixture->folder, 0, NULL);
  for (const char *name; (name = g_dir_read_name(folder));)
    if (strstr(name, "copy.db"))
      fail_msg("%s is left behind", name);
  g_dir_close(folder);
}

#define FAULT_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void) {
  fault_vfs_install();
  const struct CMUnitTest tests[] = {
      FAULT_TEST(import_at_a_disk_that_fails_once),
      FAULT_TEST(import_at_a_disk_that_fails_for_good),
      FAULT_TEST(import_at_a_disk_that_is_full_once),
      FAULT_TEST(import_at_a_disk_that_stays_full),
      FAULT_TEST(a_disk_that_fails_between_batches),
      FAULT_TEST(recording_at_a_disk_that_fails),
      FAULT_TEST(an_acknowledged_event_is_there),
      FAULT_TEST(a_backup_to_a_disk_that_fails),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
