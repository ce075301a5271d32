// SPDX-License-Identifier: GPL-3.0-or-later
//
// Sealing in batches when something goes wrong: the write fails at any place of any batch, an id is
// taken in the middle of a long file, the machine gives no thread.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <dlfcn.h>
#include <errno.h>
#include <pthread.h>

#include "fault/book_asserts.h"
#include "fault/book_fixture.h"
#include "store/sealer.h"

// GLib's threads come from here; the machine may be told to give none.
static bool no_threads = false;

__attribute__((visibility("default"))) int pthread_create(pthread_t *thread,
                                                          const pthread_attr_t *attributes,
                                                          void *(*work)(void *), void *data) {
  int (*create)(pthread_t *, const pthread_attr_t *, void *(*)(void *), void *) = NULL;
  *(void **)(void *)&create = dlsym(RTLD_NEXT, "pthread_create");
  return no_threads ? EAGAIN : create(thread, attributes, work, data);
}

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
  no_threads = false;
  fixture_teardown(*state);
  g_free(*state);
  return 0;
}

// Writing that fails ----------------------------------------------------------

#define RECORDS 1300 // two batches and a part

// A chain as it is written: each record must be the next, and fit the one before.
typedef struct {
  int written, fails_at;
  guint8 head[BT_SHA256_BYTES];
  GString *scratch;
} Written;

static bool write_next(const BtEntry *entry, gint64 line, gpointer user_data, GError **error) {
  Written *written = user_data;
  guint8 body[BT_SHA256_BYTES];
  guint8 link[BT_SHA256_BYTES];
  if (written->written == written->fails_at) {
    g_set_error(error, BT_ERROR, BT_ERROR_DISK, "the disk is full");
    return false;
  }
  assert_int_equal(entry->number, written->written + 1);
  assert_int_equal(line, written->written + 2);
  bt__entry_seal(written->scratch, entry, NULL, written->head, body, link);
  assert_memory_equal(entry->link_sha256, link, sizeof link);
  memcpy(written->head, link, sizeof link);
  written->written++;
  return true;
}

// Adds records until one is refused, as an import does; whether all were taken.
static bool add_records(BtSealer *sealer, BtChain *chain, GError **error) {
  for (int i = 0; i < RECORDS; i++) {
    g_autofree char *note = g_strdup_printf("note %d", i);
    const BtEntry entry = {
        .kind = BT_RECORD_EVENT, .seq = i + 1, .source = "import", .action = "note", .note = note};
    if (!bt__sealer_add(sealer, chain, &entry, i + 2, error))
      return false;
  }
  return bt__sealer_finish(sealer, error);
}

static void seal_until(BtBook *book, int fails_at) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GString) scratch = g_string_new(NULL);
  Written written = {.fails_at = fails_at, .scratch = scratch};
  BtChain chain = {.id = 1};
  BtSealer *sealer = bt__sealer_new(book, write_next, &written, &error);
  assert_non_null(sealer);
  bool done = add_records(sealer, &chain, &error);
  bt__sealer_free(sealer);
  assert_int_equal(done, fails_at >= RECORDS);
  assert_int_equal(written.written, MIN(fails_at, RECORDS));
  if (!done)
    assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_DISK));
  else
    assert_memory_equal(chain.head, written.head, BT_SHA256_BYTES);
}

static void a_write_that_fails_ends_the_work_at_once(void **state) {
  static const int places[] = {0, 1, 511, 512, 513, 767, 1023, 1024, 1100, RECORDS - 1, RECORDS};
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_WRITE);
  for (int round = 0; round < 20; round++) {
    for (gsize i = 0; i < G_N_ELEMENTS(places); i++)
      seal_until(book, places[i]);
  }
}

// Given up before it is finished, with batches at every stage of their way.
static void work_that_is_dropped_ends(void **state) {
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_WRITE);
  g_autoptr(GString) scratch = g_string_new(NULL);
  for (int records = 0; records < 1100; records += 37) {
    Written written = {.fails_at = RECORDS, .scratch = scratch};
    BtChain chain = {.id = 1};
    BtSealer *sealer = bt__sealer_new(book, write_next, &written, NULL);
    const BtEntry entry = {.kind = BT_RECORD_EVENT, .source = "import", .action = "note"};
    for (int i = 0; i < records; i++)
      assert_true(bt__sealer_add(sealer, &chain, &entry, i + 2, NULL));
    bt__sealer_free(sealer);
  }
}

// Imports that fail -----------------------------------------------------------

static const char taken[] = "01890a5d-ac96-774b-bcce-b302099a8057";

// RECORDS rows, of which that of `line` has an id which an event of the book has.
static char *rows_with_a_taken_id(int line) {
  GString *text =
      g_string_new("session,trainee,assessor,rubric,edition,started,mode,time,action,id\n");
  for (int i = 2; i < RECORDS + 2; i++)
    g_string_append_printf(text, FIXTURE_ROW("S-001", "T-01", "A-01", "live") "%d,note,%s\n", i,
                           i == line ? taken : "");
  return g_string_free(text, FALSE);
}

static void record_the_taken_id(BtBook *book) {
  static const BtHeader header = {"S-100",     "T-01", "A-01", "splint", 1, FIXTURE_STARTED_MS,
                                  BT_MODE_LIVE};
  const BtEvent note = {.kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1};
  gint64 id = 0;
  assert_true(bt_book_begin(book, &header, &id, NULL));
  assert_true(bt_book_append(book, id, &note, taken, NULL, NULL));
}

static void a_taken_id_in_any_batch_is_a_fault_with_its_line(void **state) {
  static const int lines[] = {2, 513, 514, 1025, 1026, RECORDS + 1};
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_WRITE);
  record_the_taken_id(book);
  for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
    g_autofree char *text = rows_with_a_taken_id(lines[i]);
    g_autofree char *path = fixture_file(*state, "ids.csv", text);
    g_autoptr(GPtrArray) faults = bt_faults_new();
    g_autoptr(GError) error = NULL;
    assert_false(bt_book_import(book, path, NULL, faults, NULL, NULL, &error));
    assert_null(error);
    assert_int_equal(faults->len, 1);
    assert_int_equal(((const BtFault *)faults->pdata[0])->line, lines[i]);
    g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, NULL);
    assert_int_equal(rows->len, 1); // the one that was recorded
  }
  assert_sound(book);
}

// What is wrong is told a hundred times, then counted.
static void faults_beyond_a_hundred_are_counted(void **state) {
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_WRITE);
  g_autoptr(GString) text = g_string_new(NULL);
  for (int i = 0; i < 103; i++)
    g_string_append_printf(
        text, "S-%03d,T-X%d,A-01,splint,1,2026-03-04T09:05:00Z,live,0:00,start,,,,,,,\n", i, i);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  assert_false(fixture_import(*state, book, text->str, NULL, faults, NULL));
  assert_int_equal(faults->len, 101);
  assert_string_equal(((const BtFault *)faults->pdata[100])->wrong, "3 more faults not shown");
}

static void people_beyond_a_hundred_faults_are_counted(void **state) {
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_WRITE);
  g_autoptr(GString) text = g_string_new("code,name,role\n");
  for (int i = 0; i < 104; i++)
    g_string_append_printf(text, "T-X%d,Ash,pupil\n", i);
  g_autofree char *path = fixture_file(*state, "people.csv", text->str);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  assert_false(bt_book_add_people_file(book, path, NULL, NULL, faults, NULL));
  assert_int_equal(faults->len, 101);
  assert_string_equal(((const BtFault *)faults->pdata[100])->wrong, "4 more faults not shown");
}

static void a_machine_without_threads_says_so(void **state) {
  g_autoptr(BtBook) book = fixture_open(*state, BT_BOOK_WRITE);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  static const char text[] = FIXTURE_EVENTS(FIXTURE_ROW("S-001", "T-01", "A-01", "live"));
  no_threads = true;
  assert_false(fixture_import(*state, book, text, NULL, faults, &error));
  no_threads = false;
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_DATABASE));
  assert_non_null(strstr(error->message, "close other programs"));
  assert_true(fixture_import(*state, book, text, NULL, faults, NULL));
  assert_sound(book);
}

#define SEALER_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void) {
  const struct CMUnitTest tests[] = {
      SEALER_TEST(a_write_that_fails_ends_the_work_at_once),
      SEALER_TEST(work_that_is_dropped_ends),
      SEALER_TEST(a_taken_id_in_any_batch_is_a_fault_with_its_line),
      SEALER_TEST(faults_beyond_a_hundred_are_counted),
      SEALER_TEST(people_beyond_a_hundred_faults_are_counted),
      SEALER_TEST(a_machine_without_threads_says_so),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
