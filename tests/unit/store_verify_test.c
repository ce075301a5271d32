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

#include "fault/tampering.h"

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
      cmocka_unit_test(a_row_deleted_is_found),
      cmocka_unit_test(a_row_put_in_is_found),
      cmocka_unit_test(two_rows_swapped_are_found),
      cmocka_unit_test(a_finding_names_the_event),
      cmocka_unit_test(a_cut_that_was_covered_up_is_found),
      cmocka_unit_test(the_guards_refuse),
  };
  return cmocka_run_group_tests(tests, setup, teardown);
}
