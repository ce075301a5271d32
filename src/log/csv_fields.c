// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/csv_fields.h"

#define FIRST_STARTS 64

void bt__csv_fields_clear(BtCsvFields *fields) {
  g_free(fields->text);
  g_free(fields->starts);
  *fields = (BtCsvFields){0};
}

void bt__csv_fields_expect(BtCsvFields *fields, gsize record_bytes) {
  gsize wanted = record_bytes + 1; // the last field of a file has nothing that ends it
  if (wanted <= fields->room)
    return;
  fields->room = MAX(fields->room * 2, wanted);
  fields->text = g_realloc(fields->text, fields->room);
}

void bt__csv_fields_widen(BtCsvFields *fields) {
  fields->starts_room = fields->starts_room ? fields->starts_room * 2 : FIRST_STARTS;
  fields->starts = g_renew(gsize, fields->starts, fields->starts_room);
}

const char **bt__csv_fields_list(const BtCsvFields *fields) {
  const char **list = g_new(const char *, fields->n + 1);
  for (guint i = 0; i < fields->n; i++)
    list[i] = bt__csv_field(fields, i);
  list[fields->n] = NULL;
  return list;
}
