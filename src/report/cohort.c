// SPDX-License-Identifier: GPL-3.0-or-later
//
// The totals of all trainees by exercise and attempt, sorted once, so that each workbook of a
// residency finds its context in a few steps.
#include "report/record.h"

struct BtCohort {
  GHashTable *totals; // "rubric\nattempt" -> sorted GArray of gint64
};

bool bt__middle_half_shown(const BtMiddleHalf *half) {
  return half->n >= BT_COHORT_LEAST;
}

static char *key_of(const BtSessionRow *row) {
  return g_strdup_printf("%s\n%d", row->rubric, row->attempt);
}

static bool counts(const BtSessionRow *row) {
  return row->of_record && row->closed && row->total_percent_milli >= 0;
}

static void unref_array(gpointer array) {
  g_array_unref(array);
}

static int by_value(const void *a, const void *b) {
  gint64 x = *(const gint64 *)a, y = *(const gint64 *)b;
  return (x > y) - (x < y);
}

BtCohort *bt__cohort_new(const GPtrArray *rows) {
  BtCohort *cohort = g_new(BtCohort, 1);
  cohort->totals = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, unref_array);
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = g_ptr_array_index(rows, i);
    if (!counts(row))
      continue;
    g_autofree char *key = key_of(row);
    GArray *totals = g_hash_table_lookup(cohort->totals, key);
    if (!totals) {
      totals = g_array_new(FALSE, FALSE, sizeof(gint64));
      g_hash_table_insert(cohort->totals, g_steal_pointer(&key), totals);
    }
    g_array_append_val(totals, row->total_percent_milli);
  }
  GHashTableIter iter;
  gpointer totals;
  g_hash_table_iter_init(&iter, cohort->totals);
  while (g_hash_table_iter_next(&iter, NULL, &totals))
    g_array_sort(totals, by_value);
  return cohort;
}

void bt__cohort_free(BtCohort *cohort) {
  if (!cohort)
    return;
  g_hash_table_unref(cohort->totals);
  g_free(cohort);
}

BtMiddleHalf bt__cohort_at(const BtCohort *cohort, const BtSessionRow *row) {
  BtMiddleHalf half = {0, -1, -1};
  g_autofree char *key = key_of(row);
  const GArray *totals = g_hash_table_lookup(cohort->totals, key);
  if (!totals)
    return half;
  gsize own = totals->len; // none to leave out
  guint found = 0;
  if (counts(row) &&
      g_array_binary_search((GArray *)totals, &row->total_percent_milli, by_value, &found))
    own = found;
  half.n = (int)(totals->len - (own < totals->len));
  if (!bt__middle_half_shown(&half))
    return half;
  const gint64 *sorted = (const gint64 *)(const void *)totals->data;
  half.low_milli = bt_quantile_without(sorted, totals->len, own, 1, 4);
  half.high_milli = bt_quantile_without(sorted, totals->len, own, 3, 4);
  return half;
}
