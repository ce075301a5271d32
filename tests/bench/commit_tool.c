// SPDX-License-Identifier: GPL-3.0-or-later
//
// commit_tool FOLDER RUBRIC N: times N events logged one by one, each durable, beside N bare
// commits of a row of the same size to a WAL/FULL database; the two take turns, so that the disk's
// mood is the same. Prints the percentiles as JSON.
#include <stdio.h>
#include <stdlib.h>

#include <sqlite3.h>

#include <benchtally/book.h>
#include <benchtally/rubric.h>

static int compare_times(const void *a, const void *b) {
  gint64 x = *(const gint64 *)a, y = *(const gint64 *)b;
  return (x > y) - (x < y);
}

static void print_times(const char *name, gint64 *times_us, int n, const char *end) {
  qsort(times_us, (gsize)n, sizeof *times_us, compare_times);
  printf("\"%s\": {\"p50_us\": %d, \"p99_us\": %d}%s", name, (int)times_us[n / 2],
         (int)times_us[n * 99 / 100], end);
}

static void stop_on(bool wrong, const char *what) {
  if (!wrong)
    return;
  fprintf(stderr, "commit_tool: %s\n", what);
  exit(1);
}

static sqlite3_stmt *open_bare(const char *folder, sqlite3 **db) {
  g_autofree char *path = g_build_filename(folder, "bare.db", NULL);
  stop_on(sqlite3_open(path, db) != SQLITE_OK, "the bare database does not open");
  stop_on(sqlite3_exec(*db,
                       "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
                       "CREATE TABLE t(n INTEGER PRIMARY KEY, body TEXT)",
                       NULL, NULL, NULL) != SQLITE_OK,
          "the bare table cannot be made");
  sqlite3_stmt *insert = NULL;
  stop_on(sqlite3_prepare_v2(*db, "INSERT INTO t(body) VALUES(?1)", -1, &insert, NULL) != SQLITE_OK,
          "no statement");
  return insert;
}

static gint64 begin_session(BtBook *book, const BtRubric *rubric) {
  g_autoptr(GError) error = NULL;
  bool added = false;
  BtPerson trainee = {.code = "T", .role = BT_ROLE_TRAINEE},
           assessor = {.code = "A", .role = BT_ROLE_ASSESSOR};
  BtHeader header = {"S", "T", "A", rubric->id, rubric->edition, 0, BT_MODE_LIVE};
  gint64 id = 0;
  stop_on(!bt_book_add_person(book, &trainee, &added, &error) ||
              !bt_book_add_person(book, &assessor, &added, &error) ||
              !bt_book_add_rubric(book, rubric, &added, &error) ||
              !bt_book_begin(book, &header, &id, &error),
          error ? error->message : "the session does not begin");
  return id;
}

int main(int argc, char **argv) {
  stop_on(argc != 4, "usage: commit_tool FOLDER RUBRIC N");
  int n = atoi(argv[3]);
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtRubric) rubric = bt_rubric_read_file(argv[2], faults, &error);
  stop_on(!rubric, "the rubric cannot be read");
  g_autofree char *path = g_build_filename(argv[1], "logged.db", NULL);
  g_autoptr(BtBook) book = bt_book_open(path, BT_BOOK_CREATE, &error);
  stop_on(!book, error ? error->message : "the book does not open");
  gint64 observation = begin_session(book, rubric);
  sqlite3 *db = NULL;
  sqlite3_stmt *insert = open_bare(argv[1], &db);
  char body[257] = {0};
  for (int i = 0; i < 256; i++)
    body[i] = 'x';
  g_autofree gint64 *logged_us = g_new(gint64, (gsize)n), *bare_us = g_new(gint64, (gsize)n);
  for (int i = 0; i < n; i++) {
    gint64 t0 = g_get_monotonic_time();
    BtEvent event = {
        .at_ms = i, .kind = BT_EVENT_WORK, .action = 0, .site = -1, .item = -1, .component = -1};
    int seq = 0;
    stop_on(!bt_book_append(book, observation, &event, NULL, &seq, &error),
            error ? error->message : "not logged");
    gint64 t1 = g_get_monotonic_time();
    sqlite3_bind_text(insert, 1, body, -1, SQLITE_STATIC);
    stop_on(sqlite3_step(insert) != SQLITE_DONE, "the bare commit did not work");
    sqlite3_reset(insert);
    gint64 t2 = g_get_monotonic_time();
    logged_us[i] = t1 - t0;
    bare_us[i] = t2 - t1;
  }
  sqlite3_finalize(insert);
  sqlite3_close(db);
  printf("{");
  print_times("logged", logged_us, n, ", ");
  print_times("bare", bare_us, n, "}\n");
  return 0;
}
