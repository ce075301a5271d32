// SPDX-License-Identifier: GPL-3.0-or-later
//
// Verification finds what is made to be overlooked: numbers beyond 32 bits, text behind a NUL, a
// number for no number, columns emptied against the layout, and changes of the layout itself.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include "fault/tampering.h"

// Changing --------------------------------------------------------------------

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

// Tests -----------------------------------------------------------------------

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

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_number_beyond_32_bits_is_found),
      cmocka_unit_test(text_behind_a_nul_is_found),
      cmocka_unit_test(an_absent_number_that_is_given_is_found),
      cmocka_unit_test(a_column_emptied_against_the_layout_is_found),
      cmocka_unit_test(a_guard_that_was_taken_away_is_found),
      cmocka_unit_test(a_table_that_was_put_in_is_found),
  };
  return cmocka_run_group_tests(tests, setup, teardown);
}
