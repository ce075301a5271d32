// SPDX-License-Identifier: GPL-3.0-or-later
//
// kill_tool FOLDER ROUNDS SEED: a writer is killed (SIGKILL) at a random moment of an import, or
// while it records; afterwards the book is as before or complete, every event that was acknowledged
// is there, and the book verifies. Prints what happened; exit status 1 at the first thing wrong.
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>

#include "fault/book_fixture.h"

#define IMPORT_SESSIONS 300

static void stop(const char *what) {
  fprintf(stderr, "kill_tool: %s\n", what);
  exit(1);
}

static char *make_log(const Fixture *fixture) {
  GString *text = g_string_new(FIXTURE_COLUMNS);
  for (int i = 0; i < IMPORT_SESSIONS; i++) {
    g_autoptr(GString) rows =
        g_string_new(FIXTURE_EVENTS(FIXTURE_ROW("S-000", "T-01", "A-01", "live")));
    g_autofree char *session = g_strdup_printf("S-%03d", i);
    g_string_replace(rows, "S-000", session, 0);
    g_string_append(text, rows->str);
  }
  char *path = fixture_file(fixture, "events.csv", text->str);
  g_string_free(text, TRUE);
  return path;
}

static void start_afresh(const Fixture *fixture, const char *sound) {
  static const char *const suffixes[] = {"-wal", "-shm"};
  for (gsize i = 0; i < G_N_ELEMENTS(suffixes); i++) {
    g_autofree char *path = g_strconcat(fixture->path, suffixes[i], NULL);
    (void)g_remove(path);
  }
  g_autofree char *bytes = NULL;
  gsize length = 0;
  if (!g_file_get_contents(sound, &bytes, &length, NULL) ||
      !g_file_set_contents(fixture->path, bytes, (gssize)length, NULL))
    stop("the book cannot be laid out");
}

// Waits, kills, and takes leave. Whether the child had finished by itself.
static bool kill_after(pid_t child, int us) {
  int status = 0;
  g_usleep((gulong)us);
  kill(child, SIGKILL);
  waitpid(child, &status, 0);
  return WIFEXITED(status);
}

// Opens the book as the next program would, verifies it, and returns its sessions.
static GPtrArray *check_book(const Fixture *fixture, BtBook **book) {
  *book = fixture_open(fixture, BT_BOOK_WRITE);
  g_autoptr(GError) error = NULL;
  BtVerifyReport report = {0};
  if (!bt_book_verify(*book, &report, &error))
    stop(error->message);
  if (report.findings->len > 0)
    stop(report.findings->pdata[0]);
  bt_verify_report_clear(&report);
  GPtrArray *rows = bt_book_sessions(*book, NULL, &error);
  if (!rows)
    stop(error->message);
  return rows;
}

// Import ----------------------------------------------------------------------

static void import_child(const Fixture *fixture, const char *log) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtBook *book = fixture_open(fixture, BT_BOOK_WRITE);
  bool done = bt_book_import(book, log, NULL, faults, NULL, NULL, NULL);
  bt_book_close(book);
  _exit(done ? 0 : 1);
}

// How long an import takes when nobody kills it.
static int import_us(const Fixture *fixture, const char *log, const char *sound) {
  start_afresh(fixture, sound);
  gint64 begin_us = g_get_monotonic_time();
  pid_t child = fork();
  if (child == 0)
    import_child(fixture, log);
  waitpid(child, NULL, 0);
  return (int)(g_get_monotonic_time() - begin_us);
}

// 1: complete; 0: as before.
static int import_round(const Fixture *fixture, const char *log, const char *sound, int us) {
  start_afresh(fixture, sound);
  pid_t child = fork();
  if (child == 0)
    import_child(fixture, log);
  bool finished = kill_after(child, us);
  BtBook *book = NULL;
  g_autoptr(GPtrArray) rows = check_book(fixture, &book);
  bt_book_close(book);
  if (rows->len != 0 && rows->len != IMPORT_SESSIONS)
    stop("an import was kept in part");
  if (finished && rows->len == 0)
    stop("an import that had finished is not there");
  return rows->len != 0;
}

// Recording -------------------------------------------------------------------

// Each event that is acknowledged is told to the parent by a byte.
static void record_child(const Fixture *fixture, int acknowledge) {
  BtBook *book = fixture_open(fixture, BT_BOOK_WRITE);
  const BtHeader header = {"S-001", "T-01", "A-01", "splint", 1, FIXTURE_STARTED_MS, BT_MODE_LIVE};
  const BtEvent note = {.kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1};
  gint64 id = 0;
  if (!bt_book_begin(book, &header, &id, NULL))
    _exit(1);
  while (bt_book_append(book, id, &note, NULL, NULL, NULL)) {
    if (write(acknowledge, "x", 1) != 1)
      _exit(1);
  }
  _exit(1);
}

static int count_bytes(int fd) {
  char bytes[512];
  int count = 0;
  for (ssize_t n; (n = read(fd, bytes, sizeof bytes)) > 0;)
    count += (int)n;
  return count;
}

// How many events were acknowledged.
static int record_round(const Fixture *fixture, const char *sound, int us) {
  int ends[2];
  start_afresh(fixture, sound);
  if (pipe(ends) != 0)
    stop("no pipe");
  pid_t child = fork();
  if (child == 0)
    record_child(fixture, ends[1]);
  close(ends[1]);
  (void)kill_after(child, us);
  int acknowledged = count_bytes(ends[0]);
  close(ends[0]);
  BtBook *book = NULL;
  g_autoptr(GPtrArray) rows = check_book(fixture, &book);
  int kept = rows->len ? ((const BtSessionRow *)rows->pdata[0])->events : 0;
  bt_book_close(book);
  // The one that was on its way when the writer died may have been kept, unacknowledged.
  if (kept < acknowledged || kept > acknowledged + 1)
    stop("an acknowledged event is lost");
  return acknowledged;
}

int main(int argc, char **argv) {
  if (argc != 4)
    stop("usage: kill_tool FOLDER ROUNDS SEED");
  Fixture fixture = {.folder = argv[1], .path = g_build_filename(argv[1], "book.db", NULL)};
  g_autofree char *sound = g_build_filename(argv[1], "sound.db", NULL);
  BtBook *book = fixture_open(&fixture, BT_BOOK_CREATE);
  fixture_fill(book);
  bt_book_close(book);
  if (g_rename(fixture.path, sound) != 0)
    stop("the book cannot be put aside");
  g_autofree char *log = make_log(&fixture);
  g_autoptr(GRand) random = g_rand_new_with_seed((guint32)atoi(argv[3]));
  int longest_us = import_us(&fixture, log, sound);
  int rounds = atoi(argv[2]);
  int complete = 0;
  int acknowledged = 0;
  for (int i = 0; i < rounds; i++) {
    complete +=
        import_round(&fixture, log, sound, g_rand_int_range(random, 0, longest_us * 11 / 10));
    acknowledged += record_round(&fixture, sound, g_rand_int_range(random, 0, longest_us));
  }
  printf("%d rounds: %d imports complete, %d as before; %d events acknowledged, none lost\n",
         rounds, complete, rounds - complete, acknowledged);
  g_free(fixture.path);
  return 0;
}
