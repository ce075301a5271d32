// SPDX-License-Identifier: GPL-3.0-or-later
//
// A book with everything in it, and ways to change it behind its back: with the guards down and put
// up again, so that only verification can tell. Include it after cmocka.h.
#ifndef FAULT_TAMPERING_H
#define FAULT_TAMPERING_H

#include <sqlite3.h>

#include "fault/book_fixture.h"

// The tables, how their rows are told apart, and how a row is named to people.
typedef struct {
  const char *name;
  const char *key;     // the last column of the primary key
  const char *peers;   // SQL: rows are swapped only with those of the same
  const char *label;   // SQL: what a finding about this row must say
  const char *new_key; // SQL: the key of a copy of the row
} Table;

static const Table tables[] = {
    {"book", "one", "1", "'head of the book'", "2"},
    {"book_entry", "number", "1", "'own chain: record ' || number", "number + 1000"},
    {"person", "code", "1", "'person ' || code", "code || 'x'"},
    {"person_name", "code", "1", "'person ' || code", "code || 'x'"},
    {"edition", "edition", "rubric", "'rubric edition ' || rubric || ' ' || edition",
     "edition + 100"},
    {"standard", "id", "1", "'standard ' || id", "id + 100"},
    {"adoption", "number", "1", "'adoption ' || number", "number + 100"},
    {"session", "code", "1", "'session ' || code", "code || 'x'"},
    {"observation", "id", "1", "'session ' || session || ', assessor ' || assessor", "id + 100"},
    {"entry", "number", "observation_id", "'record ' || number || ' '", "number + 1000"},
    {"result", "number", "observation_id", "'result ' || number", "number + 1000"},
};

typedef struct {
  Fixture fixture;
  char *original; // the sound book
  GPtrArray *triggers;
} Bench;

// SQL -------------------------------------------------------------------------

static inline void run(sqlite3 *raw, const char *sql) {
  char *why = NULL;
  if (sqlite3_exec(raw, sql, NULL, NULL, &why) != SQLITE_OK)
    fail_msg("%s: %s", sql, why);
}

static inline void run_format(sqlite3 *raw, const char *format, ...) {
  va_list args;
  va_start(args, format);
  char *sql = sqlite3_vmprintf(format, args);
  va_end(args);
  run(raw, sql);
  sqlite3_free(sql);
}

// All values of the first column, as text. Caller frees.
static inline GPtrArray *column_of(sqlite3 *raw, const char *format, ...) {
  GPtrArray *values = g_ptr_array_new_with_free_func(g_free);
  va_list args;
  va_start(args, format);
  char *sql = sqlite3_vmprintf(format, args);
  va_end(args);
  sqlite3_stmt *statement = NULL;
  if (sqlite3_prepare_v2(raw, sql, -1, &statement, NULL) != SQLITE_OK)
    fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
  while (sqlite3_step(statement) == SQLITE_ROW)
    g_ptr_array_add(values, g_strdup((const char *)sqlite3_column_text(statement, 0)));
  sqlite3_finalize(statement);
  sqlite3_free(sql);
  return values;
}

static inline sqlite3 *open_raw(const char *path) {
  sqlite3 *raw = NULL;
  assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
  run(raw, "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON;"
           "PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY");
  return raw;
}

// A book with everything in it ------------------------------------------------

#define OPEN_ROW(session, trainee, assessor, mode)                                                 \
  FIXTURE_ROW(session, trainee, assessor, mode)                                                    \
  "0:00,start,,,,,,,\n" FIXTURE_ROW(                                                               \
      session, trainee, assessor,                                                                  \
      mode) "1:00,screw,shaft,,,,,16,lag\n" FIXTURE_ROW(session, trainee, assessor,                \
                                                        mode) "2:00,finish,,,,,,,\n"

// A standard that was superseded, and the one in force; a person who moved on a year.
static inline bool add_what_directors_add(BtBook *book, GError **error) {
  const BtStandard angoff = {.rubric = (char *)"splint",
                             .edition = 1,
                             .method = (char *)"angoff",
                             .cut_milli = 64250,
                             .se_milli = 1875,
                             .judges = 3,
                             .judges_note = (char *)"Drs Rowan, Alder and Hazel",
                             .set_on = (char *)"2026-03-01",
                             .figures_json = (char *)"{\"rounds\":2}"};
  const BtStandard borderline = {.rubric = (char *)"splint",
                                 .edition = 1,
                                 .method = (char *)"borderline",
                                 .cut_milli = 61000,
                                 .se_milli = -1,
                                 .set_on = (char *)"2026-03-02",
                                 .figures_json = (char *)"{\"n\":31}"};
  const BtPerson older = {.code = (char *)"T-02", .name = (char *)"Ivo Ash", .level = (char *)"3"};
  return bt_book_add_standard(book, &angoff, NULL, error) &&
         bt_book_add_standard(book, &borderline, NULL, error) &&
         bt_book_adopt_standard(book, 1, "the panel agreed", error) &&
         bt_book_adopt_standard(book, 2, "more were seen", error) &&
         bt_book_amend_person(book, &older, NULL, error);
}

static inline void make_original(Bench *bench) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  gint64 now_ms = FIXTURE_STARTED_MS;
  g_autoptr(BtBook) book = fixture_open(&bench->fixture, BT_BOOK_CREATE);
  bt_book_set_clock(book, fixture_clock, &now_ms);
  fixture_fill(book);
  assert_true(fixture_import(&bench->fixture, book,
                             FIXTURE_EVENTS(FIXTURE_ROW("S-001", "T-01", "A-01", "live"))
                                 OPEN_ROW("S-002", "T-02", "A-02", "video"),
                             NULL, faults, &error));
  const BtEvent note = {.at_ms = 90000,
                        .kind = BT_EVENT_NOTE,
                        .action = -1,
                        .site = -1,
                        .item = -1,
                        .component = -1,
                        .note = "hands steady"};
  const BtHeader open = {"S-003",     "T-01", "T-01", "splint", 1, FIXTURE_STARTED_MS + 1,
                         BT_MODE_SELF};
  gint64 id = 0;
  assert_true(bt_book_begin(book, &open, &id, &error));
  assert_true(bt_book_append(book, id, &note, NULL, NULL, &error));
  assert_true(bt_book_append(book, id, &note, NULL, NULL, &error));
  assert_true(bt_book_strike(book, id, 2, "twice", &error));
  assert_true(bt_book_amend(book, 1, 4, &note, "no screw", &error));
  assert_true(bt_book_name_record(book, 1, "the only one", &error));
  assert_true(add_what_directors_add(book, &error));
  assert_true(bt_book_note_export(book, "workbook", "T-01", NULL, &error));
}

static inline int setup(void **state) {
  Bench *bench = g_new0(Bench, 1);
  fixture_setup(&bench->fixture);
  make_original(bench);
  sqlite3 *raw = open_raw(bench->fixture.path);
  run(raw, "PRAGMA wal_checkpoint(TRUNCATE); PRAGMA journal_mode = DELETE");
  bench->triggers = column_of(raw, "SELECT sql FROM sqlite_schema WHERE type = 'trigger'");
  sqlite3_close(raw);
  bench->original = g_build_filename(bench->fixture.folder, "original.db", NULL);
  assert_int_equal(g_rename(bench->fixture.path, bench->original), 0);
  *state = bench;
  return 0;
}

static inline int teardown(void **state) {
  Bench *bench = *state;
  g_ptr_array_unref(bench->triggers);
  g_free(bench->original);
  fixture_teardown(&bench->fixture);
  g_free(bench);
  return 0;
}

// Breaking in -----------------------------------------------------------------

// A fresh copy of the sound book with its guards down.
static inline sqlite3 *break_in(const Bench *bench) {
  g_autofree char *bytes = NULL;
  gsize length = 0;
  assert_true(g_file_get_contents(bench->original, &bytes, &length, NULL));
  FILE *copy = fopen(bench->fixture.path, "wb");
  assert_int_equal(fwrite(bytes, 1, length, copy), length);
  fclose(copy);
  sqlite3 *raw = open_raw(bench->fixture.path);
  g_autoptr(GPtrArray) names =
      column_of(raw, "SELECT name FROM sqlite_schema WHERE type = 'trigger'");
  for (guint i = 0; i < names->len; i++)
    run_format(raw, "%sDROP TRIGGER %s", i ? "" : "BEGIN;", names->pdata[i]);
  run(raw, "COMMIT");
  return raw;
}

static inline GPtrArray *findings_after(const Bench *bench, sqlite3 *raw) {
  run(raw, "BEGIN");
  for (guint i = 0; i < bench->triggers->len; i++)
    run(raw, bench->triggers->pdata[i]);
  run(raw, "COMMIT");
  sqlite3_close(raw);
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = fixture_open(&bench->fixture, BT_BOOK_READ);
  BtVerifyReport report = {0};
  if (!bt_book_verify(book, &report, &error))
    fail_msg("verification itself failed: %s", error->message);
  return report.findings;
}

static inline bool says(const GPtrArray *findings, const char *part) {
  for (guint i = 0; i < findings->len; i++) {
    if (strstr(findings->pdata[i], part))
      return true;
  }
  return false;
}

// The change must be found, and one finding must name the row (by either of two labels).
static inline void assert_found(const Bench *bench, sqlite3 *raw, const char *what,
                                const char *label, const char *or_label) {
  g_autoptr(GPtrArray) findings = findings_after(bench, raw);
  if (findings->len == 0)
    fail_msg("%s: not found", what);
  if (!says(findings, label) && !(or_label && says(findings, or_label)))
    fail_msg("%s: \"%s\" does not name \"%s\"", what, (char *)findings->pdata[0], label);
}

// Rows ------------------------------------------------------------------------

// A condition that finds each row, and its key, as SQL; side by side.
typedef struct {
  GPtrArray *where, *key, *peers;
} Rows;

static inline void rows_clear(Rows *rows) {
  g_ptr_array_unref(rows->where);
  g_ptr_array_unref(rows->key);
  g_ptr_array_unref(rows->peers);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Rows, rows_clear)

static inline Rows rows_of(const Bench *bench, const Table *table) {
  sqlite3 *raw = open_raw(bench->original);
  const char *peers = table->peers;
  const char *key = table->key;
  const Rows rows = {
      column_of(raw,
                "SELECT '%s = ' || quote(%s) || ' AND %s = ' || quote(%s) FROM %s ORDER BY %s, %s",
                peers, peers, key, key, table->name, peers, key),
      column_of(raw, "SELECT quote(%s) FROM %s ORDER BY %s, %s", key, table->name, peers, key),
      column_of(raw, "SELECT %s FROM %s ORDER BY %s, %s", peers, table->name, peers, key)};
  sqlite3_close(raw);
  return rows;
}

static inline GPtrArray *columns_of(const Bench *bench, const Table *table) {
  sqlite3 *raw = open_raw(bench->original);
  GPtrArray *columns =
      column_of(raw, "SELECT '\"' || name || '\"' FROM pragma_table_info('%s')", table->name);
  sqlite3_close(raw);
  return columns;
}

static inline char *label_of(sqlite3 *raw, const Table *table, const char *where) {
  g_autoptr(GPtrArray) label =
      column_of(raw, "SELECT %s FROM %s WHERE %s", table->label, table->name, where);
  return g_strdup(label->pdata[0]);
}

// Changing --------------------------------------------------------------------

// Does `change` to every column of every row; how often there was something to change.
static inline int on_every_column(const Bench *bench, int (*change)(const Bench *, const Table *,
                                                                    const char *, const char *)) {
  int changes = 0;
  for (gsize t = 0; t < G_N_ELEMENTS(tables); t++) {
    g_auto(Rows) rows = rows_of(bench, &tables[t]);
    g_autoptr(GPtrArray) columns = columns_of(bench, &tables[t]);
    assert_true(rows.where->len > 0);
    for (guint i = 0; i < rows.where->len; i++) {
      for (guint c = 0; c < columns->len; c++)
        changes += change(bench, &tables[t], rows.where->pdata[i], columns->pdata[c]);
    }
  }
  return changes;
}

#endif
