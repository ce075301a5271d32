// SPDX-License-Identifier: GPL-3.0-or-later
//
// Severity is read off sessions that several assessors observed: only what they gave the very same
// performance tells a harsh assessor from a weak day.
#include "report/study_reliability_parts.h"

static int by_text(gconstpointer a, gconstpointer b) {
  return g_strcmp0(*(const char *const *)a, *(const char *const *)b);
}

typedef char *CodeOf(const BtStudyRow *row);

static char *session_of(const BtStudyRow *row) {
  return row->row->session;
}
static char *assessor_of(const BtStudyRow *row) {
  return row->row->assessor;
}

// Numbers the different codes of the rows in their order and puts each row's number in `number`.
// `list` gets the codes (borrowed). Caller unrefs the map from code to number.
static GHashTable *number_codes(const GPtrArray *rows, CodeOf *code_of, gsize *number,
                                GPtrArray *list) {
  GHashTable *numbers = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < rows->len; i++) {
    char *code = code_of(g_ptr_array_index(rows, i));
    if (g_hash_table_add(numbers, code))
      g_ptr_array_add(list, code);
  }
  g_ptr_array_sort(list, by_text);
  for (guint i = 0; i < list->len; i++)
    g_hash_table_insert(numbers, g_ptr_array_index(list, i), GUINT_TO_POINTER(i));
  for (guint i = 0; i < rows->len; i++) {
    char *code = code_of(g_ptr_array_index(rows, i));
    number[i] = GPOINTER_TO_SIZE(g_hash_table_lookup(numbers, code));
  }
  return numbers;
}

// Each trainee's latest session, its raw mean and its fair one. `session` numbers the subjects.
static void pair_totals(BtStudyReliability *found, const GPtrArray *latest, GHashTable *session) {
  for (guint i = 0; i < latest->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(latest, i);
    gsize subject = GPOINTER_TO_SIZE(g_hash_table_lookup(session, row->row->session));
    BtFairTotal total = {row, found->severity->subject[subject]};
    g_array_append_val(found->fair, total);
  }
}

void bt__study_severity(BtStudyReliability *found, const GPtrArray *observations,
                        const GPtrArray *latest) {
  gsize n = observations->len;
  g_autofree double *score = g_new(double, n + 1);
  g_autofree gsize *subject = g_new(gsize, n + 1), *assessor = g_new(gsize, n + 1);
  g_autoptr(GPtrArray) session_list = g_ptr_array_new();
  found->assessor = g_ptr_array_new();
  found->fair = g_array_new(FALSE, FALSE, sizeof(BtFairTotal));
  g_autoptr(GHashTable) sessions = number_codes(observations, session_of, subject, session_list);
  g_hash_table_unref(number_codes(observations, assessor_of, assessor, found->assessor));
  for (gsize i = 0; i < n; i++)
    score[i] = ((BtStudyRow *)g_ptr_array_index(observations, i))->total_percent;
  BtJudged judged = {n, score, subject, assessor, session_list->len, found->assessor->len};
  found->severity = bt_severity(&judged);
  pair_totals(found, latest, sessions);
}
