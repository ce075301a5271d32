// SPDX-License-Identifier: GPL-3.0-or-later
//
// Verification finds every single change: each row of each table is changed in each column,
// deleted, doubled and swapped with its neighbour, with the guards out of the way, and is named
// each time.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

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

static void run(sqlite3 *raw, const char *sql) {
  char *why = NULL;
  if (sqlite3_exec(raw, sql, NULL, NULL, &why) != SQLITE_OK)
    fail_msg("%s: %s", sql, why);
}

static void run_format(sqlite3 *raw, const char *format, ...) {
  va_list args;
  va_start(args, format);
  char *sql = sqlite3_vmprintf(format, args);
  va_end(args);
  run(raw, sql);
  sqlite3_free(sql);
}

// All values of the first column, as text. Caller frees.
static GPtrArray *column_of(sqlite3 *raw, const char *format, ...) {
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

static sqlite3 *open_raw(const char *path) {
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
static bool add_what_directors_add(BtBook *book, GError **error) {
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

static void make_original(Bench *bench) {
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

static int setup(void **state) {
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

static int teardown(void **state) {
  Bench *bench = *state;
  g_ptr_array_unref(bench->triggers);
  g_free(bench->original);
  fixture_teardown(&bench->fixture);
  g_free(bench);
  return 0;
}

// Breaking in -----------------------------------------------------------------

// A fresh copy of the sound book with its guards down.
static sqlite3 *break_in(const Bench *bench) {
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

static GPtrArray *findings_after(const Bench *bench, sqlite3 *raw) {
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

static bool says(const GPtrArray *findings, const char *part) {
  for (guint i = 0; i < findings->len; i++) {
    if (strstr(findings->pdata[i], part))
      return true;
  }
  return false;
}

// The change must be found, and one finding must name the row (by either of two labels).
static void assert_found(const Bench *bench, sqlite3 *raw, const char *what, const char *label,
                         const char *or_label) {
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

static void rows_clear(Rows *rows) {
  g_ptr_array_unref(rows->where);
  g_ptr_array_unref(rows->key);
  g_ptr_array_unref(rows->peers);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Rows, rows_clear)

static Rows rows_of(const Bench *bench, const Table *table) {
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

static GPtrArray *columns_of(const Bench *bench, const Table *table) {
  sqlite3 *raw = open_raw(bench->original);
  GPtrArray *columns =
      column_of(raw, "SELECT '\"' || name || '\"' FROM pragma_table_info('%s')", table->name);
  sqlite3_close(raw);
  return columns;
}

static char *label_of(sqlite3 *raw, const Table *table, const char *where) {
  g_autoptr(GPtrArray) label =
      column_of(raw, "SELECT %s FROM %s WHERE %s", table->label, table->name, where);
  return g_strdup(label->pdata[0]);
}

// Changing --------------------------------------------------------------------

// Another value of the column's own kind; what is NULL becomes a value.
static const char another[] = "CASE typeof(%s) WHEN 'integer' THEN %s + 1000 "
                              "WHEN 'text' THEN %s || 'x' WHEN 'blob' THEN randomblob(length(%s)) "
                              "ELSE (SELECT CASE type WHEN 'INTEGER' THEN 7 WHEN 'BLOB' THEN x'07' "
                              "ELSE 'x' END FROM pragma_table_info('%s') "
                              "WHERE '\"' || name || '\"' = '%s') END";

static int change_column(const Bench *bench, const Table *table, const char *where,
                         const char *column) {
  sqlite3 *raw = break_in(bench);
  g_autofree char *label = label_of(raw, table, where);
  g_autofree char *what = g_strdup_printf("%s changed in %s, %s", column, table->name, where);
  char *value = sqlite3_mprintf(another, column, column, column, column, table->name, column);
  run_format(raw, "UPDATE %s SET %s = %s WHERE %s", table->name, column, value, where);
  sqlite3_free(value);
  assert_int_equal(sqlite3_changes(raw), 1);
  assert_found(bench, raw, what, label, NULL);
  return 1;
}

// Sets the column where it holds a value of `type`; 0 where it does not.
static int set_column(const Bench *bench, const Table *table, const char *where, const char *column,
                      const char *type, const char *how) {
  sqlite3 *raw = break_in(bench);
  g_autofree char *label = label_of(raw, table, where);
  g_autofree char *what =
      g_strdup_printf("%s set to %s in %s, %s", column, how, table->name, where);
  run_format(raw, "UPDATE %s SET %s = %s WHERE %s AND typeof(%s) = '%s'", table->name, column, how,
             where, column, type);
  if (sqlite3_changes(raw) == 0) {
    sqlite3_close(raw);
    return 0;
  }
  assert_found(bench, raw, what, label, NULL);
  return 1;
}

// What is beyond 32 bits is not cut off before it is hashed.
static int lift_column(const Bench *bench, const Table *table, const char *where,
                       const char *column) {
  g_autofree char *lifted = g_strdup_printf("%s + 4294967296", column);
  return set_column(bench, table, where, column, "integer", lifted);
}

// Text that goes on behind a NUL, where C sees its end.
static int lengthen_column(const Bench *bench, const Table *table, const char *where,
                           const char *column) {
  g_autofree char *longer = g_strdup_printf("%s || char(0) || 'x'", column);
  return set_column(bench, table, where, column, "text", longer);
}

// An absent number is not -1.
static int deny_column(const Bench *bench, const Table *table, const char *where,
                       const char *column) {
  g_autoptr(GPtrArray) numbers = NULL;
  sqlite3 *raw = open_raw(bench->original);
  numbers = column_of(raw,
                      "SELECT 1 FROM pragma_table_info('%s') WHERE '\"' || name || '\"' = '%s' "
                      "AND type = 'INTEGER'",
                      table->name, column);
  sqlite3_close(raw);
  return numbers->len == 0 ? 0 : set_column(bench, table, where, column, "null", "-1");
}

// Only where there is something, and the table allows nothing.
static int empty_column(const Bench *bench, const Table *table, const char *where,
                        const char *column) {
  sqlite3 *raw = break_in(bench);
  g_autofree char *label = label_of(raw, table, where);
  g_autofree char *what = g_strdup_printf("%s emptied in %s, %s", column, table->name, where);
  g_autoptr(GPtrArray) allowed =
      column_of(raw,
                "SELECT 1 FROM pragma_table_info('%s') WHERE '\"' || name || '\"' = '%s' AND "
                "\"notnull\" = 0 AND pk = 0",
                table->name, column);
  if (allowed->len > 0)
    run_format(raw, "UPDATE %s SET %s = NULL WHERE %s AND %s IS NOT NULL", table->name, column,
               where, column);
  if (allowed->len == 0 || sqlite3_changes(raw) == 0) {
    sqlite3_close(raw);
    return 0;
  }
  assert_found(bench, raw, what, label, NULL);
  return 1;
}

// The layout, with the rule that the column is never empty lifted for as long as it takes.
static void empty_against_the_layout(sqlite3 *raw, const Table *table, const char *where,
                                     const char *column) {
  static const char rewrite[] = "PRAGMA writable_schema = ON;"
                                "UPDATE sqlite_schema SET sql = %s WHERE type = 'table' AND name = "
                                "'%s'; PRAGMA writable_schema = RESET";
  g_autoptr(GPtrArray) layout =
      column_of(raw, "SELECT quote(sql) FROM sqlite_schema WHERE type = 'table' AND name = '%s'",
                table->name);
  run_format(raw, rewrite, "replace(sql, ' NOT NULL', '')", table->name);
  run_format(raw, "UPDATE %s SET %s = NULL WHERE %s", table->name, column, where);
  run_format(raw, rewrite, layout->pdata[0], table->name);
}

// A column that is never empty, emptied: found, and named by the row or by SQLite's own check.
static int hollow_column(const Bench *bench, const Table *table, const char *where,
                         const char *column) {
  sqlite3 *raw = break_in(bench);
  g_autoptr(GPtrArray) needed =
      column_of(raw,
                "SELECT 1 FROM pragma_table_info('%s') WHERE '\"' || name || '\"' = '%s' AND "
                "\"notnull\" = 1 AND pk = 0",
                table->name, column);
  if (needed->len == 0) {
    sqlite3_close(raw);
    return 0;
  }
  g_autofree char *label = label_of(raw, table, where);
  g_autofree char *what = g_strdup_printf("%s hollowed in %s, %s", column, table->name, where);
  empty_against_the_layout(raw, table, where, column);
  assert_found(bench, raw, what, label ? label : "NULL value in", "NULL value in");
  return 1;
}

static int delete_row(const Bench *bench, const Table *table, const char *where) {
  sqlite3 *raw = break_in(bench);
  g_autofree char *label = label_of(raw, table, where);
  g_autofree char *what = g_strdup_printf("deleted from %s, %s", table->name, where);
  run_format(raw, "DELETE FROM %s WHERE %s", table->name, where);
  assert_int_equal(sqlite3_changes(raw), 1);
  assert_found(bench, raw, what, label, NULL);
  return 1;
}

// What a copy of the row has in this column, so that no two rows have one key.
static char *in_a_copy(const Table *table, const char *column) {
  g_autofree char *key = g_strdup_printf("\"%s\"", table->key);
  if (strcmp(column, key) == 0)
    return g_strdup_printf("%s AS %s", table->new_key, column);
  if (strcmp(table->name, "observation") == 0 && strcmp(column, "\"assessor\"") == 0)
    return g_strdup("\"assessor\" || 'x' AS \"assessor\"");
  if (strcmp(table->name, "entry") == 0 && strcmp(column, "\"id\"") == 0)
    return g_strdup("NULL AS \"id\"");
  return g_strdup(column);
}

static int double_row(const Bench *bench, const Table *table, const char *where) {
  g_autoptr(GPtrArray) columns = columns_of(bench, table);
  g_autoptr(GString) copy = g_string_new("SELECT ");
  for (guint i = 0; i < columns->len; i++) {
    g_autofree char *value = in_a_copy(table, columns->pdata[i]);
    g_string_append_printf(copy, "%s%s", i ? ", " : "", value);
  }
  g_string_append_printf(copy, " FROM %s WHERE %s", table->name, where);
  sqlite3 *raw = break_in(bench);
  g_autoptr(GPtrArray) label = column_of(raw, "SELECT %s FROM (%s)", table->label, copy->str);
  g_autofree char *what = g_strdup_printf("doubled in %s, %s", table->name, where);
  run_format(raw, "INSERT INTO %s %s", table->name, copy->str);
  assert_found(bench, raw, what, label->pdata[0], NULL);
  return 1;
}

static bool are_alike(sqlite3 *raw, const Table *table, const GPtrArray *columns, const char *one,
                      const char *other) {
  g_autoptr(GString) list = g_string_new("1");
  g_autofree char *key = g_strdup_printf("\"%s\"", table->key);
  for (guint i = 0; i < columns->len; i++) {
    if (strcmp(columns->pdata[i], key) != 0)
      g_string_append_printf(list, ", %s", (char *)columns->pdata[i]);
  }
  g_autoptr(GPtrArray) different =
      column_of(raw,
                "SELECT count(*) FROM (SELECT %s FROM %s WHERE %s UNION SELECT %s FROM %s "
                "WHERE %s)",
                list->str, table->name, one, list->str, table->name, other);
  return strcmp(different->pdata[0], "1") == 0;
}

// Each row gets the key of the other.
static int swap_rows(const Bench *bench, const Table *table, const Rows *rows, guint i) {
  const char *one = rows->where->pdata[i];
  const char *other = rows->where->pdata[i + 1];
  if (strcmp(rows->peers->pdata[i], rows->peers->pdata[i + 1]) != 0)
    return 0;
  sqlite3 *raw = break_in(bench);
  g_autoptr(GPtrArray) columns = columns_of(bench, table);
  if (are_alike(raw, table, columns, one, other)) {
    sqlite3_close(raw);
    return 0;
  }
  g_autofree char *label = label_of(raw, table, one);
  g_autofree char *or_label = label_of(raw, table, other);
  g_autofree char *what = g_strdup_printf("swapped in %s, %s and %s", table->name, one, other);
  run_format(raw, "UPDATE %s SET %s = -7 WHERE %s", table->name, table->key, one);
  run_format(raw, "UPDATE %s SET %s = %s WHERE %s", table->name, table->key, rows->key->pdata[i],
             other);
  run_format(raw, "UPDATE %s SET %s = %s WHERE %s = -7 OR %s = '-7'", table->name, table->key,
             rows->key->pdata[i + 1], table->key, table->key);
  assert_found(bench, raw, what, label, or_label);
  return 1;
}

// Tests -----------------------------------------------------------------------

static void a_sound_book_has_no_findings(void **state) {
  g_autoptr(GPtrArray) findings = findings_after(*state, break_in(*state));
  assert_int_equal(findings->len, 0);
}

static int on_every_column(const Bench *bench, int (*change)(const Bench *, const Table *,
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

static int on_every_row(const Bench *bench,
                        int (*change)(const Bench *, const Table *, const char *)) {
  int changes = 0;
  for (gsize t = 0; t < G_N_ELEMENTS(tables); t++) {
    g_auto(Rows) rows = rows_of(bench, &tables[t]);
    for (guint i = 0; i < rows.where->len; i++)
      changes += change(bench, &tables[t], rows.where->pdata[i]);
  }
  return changes;
}

static void a_change_in_any_column_is_found(void **state) {
  assert_true(on_every_column(*state, change_column) > 500);
  assert_true(on_every_column(*state, empty_column) > 40);
}

static void a_number_beyond_32_bits_is_found(void **state) {
  assert_true(on_every_column(*state, lift_column) > 200);
}

static void text_behind_a_nul_is_found(void **state) {
  assert_true(on_every_column(*state, lengthen_column) > 150);
}

static void an_absent_number_that_is_given_is_found(void **state) {
  assert_true(on_every_column(*state, deny_column) > 20);
}

static void a_column_emptied_against_the_layout_is_found(void **state) {
  assert_true(on_every_column(*state, hollow_column) > 300);
}

static void a_row_deleted_is_found(void **state) {
  assert_true(on_every_row(*state, delete_row) > 40);
}

static void a_row_put_in_is_found(void **state) {
  assert_true(on_every_row(*state, double_row) > 40);
}

static void two_rows_swapped_are_found(void **state) {
  int swaps = 0;
  for (gsize t = 0; t < G_N_ELEMENTS(tables); t++) {
    g_auto(Rows) rows = rows_of(*state, &tables[t]);
    for (guint i = 0; i + 1 < rows.where->len; i++)
      swaps += swap_rows(*state, &tables[t], &rows, i);
  }
  assert_true(swaps > 30);
}

// One change, told in a person's words and told once.
static void a_finding_names_the_event(void **state) {
  sqlite3 *raw = break_in(*state);
  run(raw, "UPDATE entry SET details = '{\"length\":16000,\"use\":\"lag\"}' "
           "WHERE observation_id = 1 AND seq = 4 AND kind = 'event'");
  g_autoptr(GPtrArray) findings = findings_after(*state, raw);
  assert_true(findings->len >= 1);
  assert_string_equal(findings->pdata[0], "session S-001, assessor A-01 (live): record 5 (screw at "
                                          "3:05) was changed");
}

// Who cuts the chain of a closed observation and mends its row has still the book's chain against
// them.
static void a_cut_that_was_covered_up_is_found(void **state) {
  sqlite3 *raw = break_in(*state);
  run(raw, "DELETE FROM entry WHERE observation_id = 1 AND kind = 'amend';"
           "DELETE FROM result WHERE observation_id = 1 AND number = 2;"
           "UPDATE observation SET amends = 0, records = records - 1, head_link = (SELECT "
           "link_sha256 FROM entry WHERE observation_id = 1 ORDER BY number DESC LIMIT 1) "
           "WHERE id = 1");
  g_autoptr(GPtrArray) findings = findings_after(*state, raw);
  assert_true(says(findings, "session S-001, assessor A-01 (live): it is not as it was"));
}

static void a_guard_that_was_taken_away_is_found(void **state) {
  Bench *bench = *state;
  sqlite3 *raw = break_in(bench);
  run(raw, bench->triggers->pdata[0]);
  sqlite3_close(raw);
  g_autoptr(BtBook) book = fixture_open(&bench->fixture, BT_BOOK_READ);
  BtVerifyReport report = {0};
  assert_true(bt_book_verify(book, &report, NULL));
  assert_true(says(report.findings, "the trigger entry_no_update is missing"));
  bt_verify_report_clear(&report);
}

// SQLite's own statistics may stand in a book; what is only named like them may not.
static void a_table_that_was_put_in_is_found(void **state) {
  sqlite3 *raw = break_in(*state);
  run(raw, "ANALYZE; CREATE TABLE sqliteXstat1(notes TEXT)");
  g_autoptr(GPtrArray) findings = findings_after(*state, raw);
  assert_int_equal(findings->len, 1);
  assert_string_equal(findings->pdata[0],
                      "the book's layout: the table sqliteXstat1 does not belong to a book");
}

// The guards themselves: SQL that changes or removes a record is refused.
static void the_guards_refuse(void **state) {
  Bench *bench = *state;
  sqlite3 *raw = break_in(bench);
  for (guint i = 0; i < bench->triggers->len; i++)
    run(raw, bench->triggers->pdata[i]);
  static const char *const guarded[] = {"book_entry", "edition", "standard",
                                        "adoption",   "entry",   "result"};
  for (gsize i = 0; i < G_N_ELEMENTS(guarded); i++) {
    g_autofree char *deletion = g_strdup_printf("DELETE FROM %s", guarded[i]);
    g_autofree char *update = g_strdup_printf("UPDATE %s SET rowid = rowid", guarded[i]);
    if (strcmp(guarded[i], "entry") == 0) {
      g_free(update);
      update = g_strdup("UPDATE entry SET seq = seq");
    }
    assert_int_equal(sqlite3_exec(raw, deletion, NULL, NULL, NULL), SQLITE_CONSTRAINT);
    assert_int_equal(sqlite3_exec(raw, update, NULL, NULL, NULL), SQLITE_CONSTRAINT);
  }
  sqlite3_close(raw);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_sound_book_has_no_findings),
      cmocka_unit_test(a_change_in_any_column_is_found),
      cmocka_unit_test(a_number_beyond_32_bits_is_found),
      cmocka_unit_test(text_behind_a_nul_is_found),
      cmocka_unit_test(an_absent_number_that_is_given_is_found),
      cmocka_unit_test(a_column_emptied_against_the_layout_is_found),
      cmocka_unit_test(a_row_deleted_is_found),
      cmocka_unit_test(a_row_put_in_is_found),
      cmocka_unit_test(two_rows_swapped_are_found),
      cmocka_unit_test(a_finding_names_the_event),
      cmocka_unit_test(a_cut_that_was_covered_up_is_found),
      cmocka_unit_test(a_guard_that_was_taken_away_is_found),
      cmocka_unit_test(a_table_that_was_put_in_is_found),
      cmocka_unit_test(the_guards_refuse),
  };
  return cmocka_run_group_tests(tests, setup, teardown);
}
