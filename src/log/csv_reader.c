// SPDX-License-Identifier: GPL-3.0-or-later
//
// Events as tidy CSV: a header row, then one row an event.
#include "log/csv_header.h"
#include "log/csv_records.h"
#include "log/readers.h"

typedef struct {
  BtCsvRecords records;
  BtIntake *intake;
  BtCsvHeader header;
  bool has_header;
  BtLogRow row;
  const char **detail_values;
} CsvReader;

static void place_of_field(const BtLogRow *row, int field, gint64 *line, int *column) {
  const CsvReader *reader = row->reader;
  const BtCsvHeader *header = &reader->header;
  int index =
      field < BT__COLUMNS ? header->column_of[field] : header->detail_column[field - BT__COLUMNS];
  if (index < 0)
    return;
  BtCsvPlace place = bt__csv_records_place(&reader->records, (guint)index);
  *line = place.line;
  *column = place.column;
}

// False: the header has faults, so that no row can be understood.
static bool read_header(CsvReader *reader) {
  BtCsvRecords *records = &reader->records;
  g_autofree const char **fields = bt__csv_fields_list(&records->fields);
  reader->has_header = bt__csv_header_read(&reader->header, fields, (int)records->fields.n,
                                           records->first_line, records->faults);
  if (!reader->has_header)
    return false;
  reader->detail_values = g_new0(const char *, (gsize)reader->header.n_details + 1);
  reader->row = (BtLogRow){.detail_names = reader->header.detail_names,
                           .detail_values = reader->detail_values,
                           .n_details = reader->header.n_details,
                           .place = place_of_field,
                           .reader = reader};
  return true;
}

// False with `error`: the sink stopped.
static bool read_row(CsvReader *reader, GError **error) {
  BtCsvRecords *records = &reader->records;
  const char *const *names = (const char *const *)reader->header.names;
  if (!bt__csv_records_check(records, names, (guint)reader->header.n_columns))
    return true;
  reader->row.line = records->first_line;
  for (guint i = 0; i < records->fields.n; i++) {
    const char *text = bt__csv_field(&records->fields, i);
    int field = reader->header.field[i];
    if (field < BT__COLUMNS)
      reader->row.field[field] = text;
    else
      reader->detail_values[field - BT__COLUMNS] = text;
  }
  return bt__intake_add(reader->intake, &reader->row, error);
}

static void refuse_empty(CsvReader *reader) {
  BtFaultList *faults = reader->records.faults;
  if (faults->errors > 0 || bt__intake_records(reader->intake) > 0)
    return;
  bt_fault_list_add(
      faults, 0, 0, false,
      g_strdup(reader->has_header ? "there is a header but no event" : "the file is empty"),
      g_strdup(reader->has_header ? "expected one row an event"
                                  : "expected a header row, then one row an event"));
}

// False with `error`: the file could not be read, or the sink stopped.
static bool read_records(CsvReader *reader, BtLineReader *lines, GError **error) {
  BtCsvResult result;
  while ((result = bt__csv_records_next(&reader->records, error)) == BT__CSV_RECORD) {
    if (!reader->has_header) {
      if (!read_header(reader))
        return true;
    } else if (!read_row(reader, error)) {
      return false;
    }
    bt__intake_progress(reader->intake, lines->done_bytes, lines->all_bytes);
  }
  if (result == BT__CSV_END)
    refuse_empty(reader);
  return result != BT__CSV_FAILED;
}

bool bt__csv_read(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error) {
  CsvReader reader = {.intake = intake};
  bt__csv_records_init(&reader.records, lines, faults);
  bool read = read_records(&reader, lines, error);
  bt__csv_records_clear(&reader.records);
  bt__csv_header_clear(&reader.header);
  g_free(reader.detail_values);
  return read;
}
