// SPDX-License-Identifier: GPL-3.0-or-later
//
// Every record of an observation's chain, in words.
#include <string.h>

#include "store/names.h"
#include "store/observation.h"

void bt_record_free(BtRecord *record) {
  if (!record)
    return;
  char *const owned[] = {record->by,          record->source, record->reason,  record->time,
                         record->action,      record->site,   record->item,    record->value,
                         record->redo,        record->note,   record->details, record->id,
                         record->details_json};
  for (gsize i = 0; i < G_N_ELEMENTS(owned); i++)
    g_free(owned[i]);
  g_free(record);
}

static const BtSql read_history = {"read the history",
                                   "SELECT " BT_ENTRY_COLUMNS
                                   " FROM entry WHERE observation_id = ?1 ORDER BY number"};

// Words -----------------------------------------------------------------------

static void append_detail(GString *out, const BtDetail *detail, const BtDetailValue *value) {
  g_string_append_printf(out, "%s%s ", out->len ? ", " : "", detail->name);
  if (detail->kind == BT_DETAIL_WORD) {
    g_string_append(out, value->text);
    return;
  }
  g_autofree char *number = bt_decimal_format(value->milli);
  g_string_append(out, number);
  if (detail->unit)
    g_string_append_printf(out, " %s", detail->unit);
}

// "length 16 mm, use lag"; NULL when there are none.
static char *details_in_words(const BtEntry *entry, const BtRubric *rubric) {
  int action = entry->action ? bt_rubric_find_action(rubric, entry->action) : -1;
  if (action < 0 || !entry->details)
    return g_strdup(entry->details);
  const BtAction *its_action = &rubric->actions[action];
  g_autoptr(GString) text = g_string_new(NULL);
  BtEventRoom room = {.text = text};
  int n = bt__details_read(entry->details, its_action, &room);
  if (n < 0)
    return g_strdup(entry->details);
  GString *out = g_string_new(NULL);
  for (int i = 0; i < n; i++)
    append_detail(out, &its_action->details[room.details[i].detail], &room.details[i]);
  return g_string_free(out, FALSE);
}

static char *redo_in_words(const BtEntry *entry) {
  if (!entry->has_redo)
    return NULL;
  return entry->redo < 0 ? g_strdup("yes") : g_strdup_printf("%d", (int)entry->redo);
}

static BtRecord *new_record(const BtEntry *entry, const BtRubric *rubric) {
  BtRecord *record = g_new(BtRecord, 1);
  *record = (BtRecord){.number = (int)entry->number,
                       .kind = entry->kind,
                       .seq = (int)entry->seq,
                       .wall_ms = entry->wall_ms,
                       .by = g_strdup(entry->by),
                       .source = g_strdup(entry->source),
                       .reason = g_strdup(entry->reason),
                       .id = g_strdup(entry->id),
                       .time = entry->has_at ? bt_clock_format_exact(entry->at_ms) : NULL,
                       .action = g_strdup(entry->action),
                       .site = g_strdup(entry->site),
                       .item = g_strdup(entry->item),
                       .value = g_strdup(entry->value),
                       .redo = redo_in_words(entry),
                       .note = g_strdup(entry->note),
                       .details = details_in_words(entry, rubric),
                       .details_json = g_strdup(entry->details)};
  bt_hex(entry->link_sha256, BT_SHA256_BYTES, record->link_sha256);
  return record;
}

// What counts -----------------------------------------------------------------

// The record that counts for each sequence number; later records take the place of earlier ones.
static void follow(GHashTable *counts, BtRecord *record) {
  gpointer seq = GINT_TO_POINTER(record->seq);
  BtRecord *before = g_hash_table_lookup(counts, seq);
  if (record->kind == BT_RECORD_OPEN || record->kind == BT_RECORD_CLOSE)
    return;
  if (before)
    before->effective = false;
  record->effective = record->kind != BT_RECORD_STRIKE;
  g_hash_table_insert(counts, seq, record);
}

static void free_record(gpointer record) {
  bt_record_free(record);
}

static bool read_records(BtBook *book, gint64 observation_id, const BtRubric *rubric,
                         GPtrArray *records, GError **error) {
  g_autoptr(GHashTable) counts = g_hash_table_new(NULL, NULL);
  g_autoptr(BtQuery) query = bt__query(book->db, &read_history, error, ARGS(INT(observation_id)));
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error)) {
    BtEntry entry;
    (void)bt__entry_read(query, &entry); // whatever its shape: verify is the judge
    BtRecord *record = new_record(&entry, rubric);
    follow(counts, record);
    g_ptr_array_add(records, record);
  }
  return row == 0;
}

GPtrArray *bt_book_history(BtBook *book, gint64 observation_id, GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  const BtRubric *rubric = row ? bt__observation_rubric(book, &row->header, error) : NULL;
  if (!rubric)
    return NULL;
  g_autoptr(GPtrArray) records = g_ptr_array_new_with_free_func(free_record);
  return read_records(book, observation_id, rubric, records, error) ? g_steal_pointer(&records)
                                                                    : NULL;
}
