// SPDX-License-Identifier: GPL-3.0-or-later
//
// The fields of one CSV record as texts that end in NUL, copied out of the parser. A file brings
// millions of them, so nothing is allocated for one.
#ifndef BT_LOG_CSV_FIELDS_H
#define BT_LOG_CSV_FIELDS_H

#include <string.h>

#include <glib.h>

typedef struct {
  char *text; // the fields one behind the other
  gsize used, room;
  gsize *starts; // where each begins in `text`
  guint n, starts_room;
} BtCsvFields;

void bt__csv_fields_clear(BtCsvFields *fields);
// Makes room for the fields of a record of `record_bytes` of CSV, those that are there included: no
// field is longer than what it was read from, and its NUL takes the place of what ended it.
void bt__csv_fields_expect(BtCsvFields *fields, gsize record_bytes);
// The fields side by side, valid until the next record. The caller frees the array, not its
// strings.
const char **bt__csv_fields_list(const BtCsvFields *fields);
// Makes room for more fields.
void bt__csv_fields_widen(BtCsvFields *fields);

static inline void bt__csv_fields_add(BtCsvFields *fields, const void *text, gsize length) {
  if (fields->n == fields->starts_room)
    bt__csv_fields_widen(fields);
  fields->starts[fields->n++] = fields->used;
  memcpy(fields->text + fields->used, text, length);
  fields->used += length;
  fields->text[fields->used++] = '\0';
}

static inline const char *bt__csv_field(const BtCsvFields *fields, guint i) {
  return fields->text + fields->starts[i];
}

static inline gsize bt__csv_field_length(const BtCsvFields *fields, guint i) {
  gsize end = i + 1 < fields->n ? fields->starts[i + 1] : fields->used;
  return end - fields->starts[i] - 1;
}

// Begins a new record.
static inline void bt__csv_fields_reset(BtCsvFields *fields) {
  fields->n = 0;
  fields->used = 0;
}

#endif
