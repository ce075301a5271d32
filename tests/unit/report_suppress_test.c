// SPDX-License-Identifier: GPL-3.0-or-later
//
// Small counts stay hidden from a reader who knows the total and the rule. Every line of counts up
// to a size is hidden, and lines that read the same are held against each other: what all of them
// have in common is what the reader can work out.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include "report/suppress.h"

#define PARTS_MOST 4

// What can still be behind a line as it reads.
typedef struct {
  gint64 low[PARTS_MOST], high[PARTS_MOST]; // of each part
  int lines;
} Behind;

// "total | 12 s w": the line as it reads; caller frees.
static char *as_it_reads(const gint64 *count, const BtHiding *hiding, gsize n, BtHiding all) {
  gint64 total = 0;
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < n; i++) {
    total += count[i];
    if (hiding[i] == BT_SHOWN)
      g_string_append_printf(text, " %" G_GINT64_FORMAT, count[i]);
    else
      g_string_append(text, hiding[i] == BT_SMALL ? " s" : " w");
  }
  if (all == BT_SHOWN)
    g_string_append_printf(text, " of %" G_GINT64_FORMAT, total);
  return g_string_free(text, FALSE);
}

static void note(GHashTable *behind, const gint64 *count, gsize n, gint64 least) {
  BtHiding hiding[PARTS_MOST];
  BtHiding all = bt__suppress_line(count, n, least, hiding);
  char *text = as_it_reads(count, hiding, n, all);
  Behind *known = g_hash_table_lookup(behind, text);
  if (!known) {
    known = g_new0(Behind, 1);
    g_hash_table_insert(behind, g_strdup(text), known);
  }
  for (gsize i = 0; i < n; i++) {
    known->low[i] = known->lines ? MIN(known->low[i], count[i]) : count[i];
    known->high[i] = known->lines ? MAX(known->high[i], count[i]) : count[i];
  }
  known->lines++;
  g_free(text);
}

// Calls note() for every line of `n` parts that add up to `total`.
static void note_all(GHashTable *behind, gint64 *count, gsize at, gsize n, gint64 total,
                     gint64 least) {
  if (at + 1 == n) {
    count[at] = total;
    note(behind, count, n, least);
    return;
  }
  for (count[at] = 0; count[at] <= total; count[at]++) {
    gint64 kept = count[at];
    note_all(behind, count, at + 1, n, total - kept, least);
    count[at] = kept;
  }
}

static void check_line(GHashTable *behind, const gint64 *count, gsize n, gint64 least) {
  BtHiding hiding[PARTS_MOST];
  BtHiding all = bt__suppress_line(count, n, least, hiding);
  g_autofree char *text = as_it_reads(count, hiding, n, all);
  const Behind *known = g_hash_table_lookup(behind, text);
  gint64 hidden_sum = 0;
  int hidden = 0;
  for (gsize i = 0; i < n; i++) {
    if (hiding[i] == BT_SHOWN) {
      if (count[i] > 0 && count[i] < least)
        fail_msg("a small count stands: %s", text);
      continue;
    }
    if (hiding[i] == BT_SMALL && count[i] >= least)
      fail_msg("a count that is not small is called so: %s", text);
    if (known->low[i] == known->high[i])
      fail_msg("part %zu can be worked out: %s", i, text);
    hidden_sum += count[i];
    hidden++;
  }
  if (hidden > 0 && all == BT_SHOWN && hidden_sum < least)
    fail_msg("the hidden ones together are a small count: %s", text);
}

static void check_all(GHashTable *behind, gint64 *count, gsize at, gsize n, gint64 total,
                      gint64 least) {
  if (at + 1 == n) {
    count[at] = total;
    check_line(behind, count, n, least);
    return;
  }
  for (count[at] = 0; count[at] <= total; count[at]++) {
    gint64 kept = count[at];
    check_all(behind, count, at + 1, n, total - kept, least);
    count[at] = kept;
  }
}

static void no_hidden_count_can_be_worked_out(void **state) {
  (void)state;
  static const gint64 totals[PARTS_MOST + 1] = {0, 0, 60, 40, 24};
  for (gsize n = 2; n <= PARTS_MOST; n++) {
    for (gint64 least = 3; least <= 10; least++) {
      g_autoptr(GHashTable) behind = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
      gint64 count[PARTS_MOST];
      for (gint64 total = 0; total <= totals[n]; total++)
        note_all(behind, count, 0, n, total, least);
      for (gint64 total = 0; total <= totals[n]; total++)
        check_all(behind, count, 0, n, total, least);
    }
  }
}

static void expect_line(const gint64 *count, gsize n, const char *reads) {
  BtHiding hiding[PARTS_MOST];
  BtHiding all = bt__suppress_line(count, n, 5, hiding);
  g_autofree char *text = as_it_reads(count, hiding, n, all);
  assert_string_equal(text, reads);
}

// Worked by hand.
static void lines_read_as_they_should(void **state) {
  (void)state;
  expect_line((gint64[]){12, 9, 0}, 3, " 12 9 0 of 21");
  expect_line((gint64[]){12, 3, 9}, 3, " 12 w w of 24"); // 9 is withheld with 3, not 12
  expect_line((gint64[]){12, 3, 4}, 3, " 12 s s of 19"); // 7 together: 3 and 4, or 4 and 3
  expect_line((gint64[]){12, 2, 2}, 3, " w w w of 16");  // 4 together are a small count
  expect_line((gint64[]){20, 4, 4}, 3, " w w w of 28");  // of two below 5, 8 must be 4 and 4
  expect_line((gint64[]){20, 3, 0}, 3, " w w 0 of 23");
  expect_line((gint64[]){2, 2, 0}, 3, " s s s");
  expect_line((gint64[]){0, 0, 0}, 3, " 0 0 0 of 0");
  expect_line((gint64[]){0, 30, 0}, 3, " 0 30 0 of 30");
}

static void nothing_is_hidden_unless_asked_for(void **state) {
  (void)state;
  const gint64 count[] = {1, 0, 2};
  BtHiding hiding[3];
  assert_int_equal(bt__suppress_line(count, 3, 0, hiding), BT_SHOWN);
  for (int i = 0; i < 3; i++)
    assert_int_equal(hiding[i], BT_SHOWN);
  assert_true(bt__part_may_show(1, 3, 0));
}

static void a_part_is_hidden_for_its_rest(void **state) {
  (void)state;
  assert_true(bt__part_may_show(10, 20, 5));
  assert_false(bt__part_may_show(4, 20, 5));
  assert_false(bt__part_may_show(17, 20, 5));
  assert_true(bt__part_may_show(0, 20, 5));
  assert_true(bt__part_may_show(20, 20, 5));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(no_hidden_count_can_be_worked_out),
                                     cmocka_unit_test(lines_read_as_they_should),
                                     cmocka_unit_test(nothing_is_hidden_unless_asked_for),
                                     cmocka_unit_test(a_part_is_hidden_for_its_rest)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
