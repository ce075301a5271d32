// SPDX-License-Identifier: GPL-3.0-or-later
//
// The records of a CSV file (RFC 4180), one by one. libcsv takes the text apart, line by line, so
// that the line of everything is known. Blanks around an unquoted field are no part of it.
#ifndef BT_LOG_CSV_RECORDS_H
#define BT_LOG_CSV_RECORDS_H

#include <csv.h>

#include <benchtally/model.h>

#include "log/csv_fields.h"
#include "log/csv_place.h"
#include "log/line_reader.h"

// One record may not be larger, so that an unclosed quote does not swallow a file into memory.
#define BT__RECORD_BYTES_MAX BT__LINE_BYTES_MAX

typedef struct {
  BtLineReader *lines; // borrowed
  BtFaultList *faults; // borrowed; gets what is wrong with the form
  struct csv_parser parser;

  // The record.
  gint64 first_line;
  BtCsvFields fields;
  GString *earlier; // its lines before the current one
  const char *line; // the current one
  gsize length;
  bool not_utf8;

  bool complete; // it was given out, or is about to be
  bool broken;   // nothing more can be read
  bool at_end;
} BtCsvRecords;

typedef enum {
  BT__CSV_RECORD, // `fields` and `first_line` hold a record, until the next call
  BT__CSV_END,    // no more records
  BT__CSV_BROKEN, // nothing more can be read, as a fault says that was added
  BT__CSV_FAILED  // `error` is set: FILE
} BtCsvResult;

void bt__csv_records_init(BtCsvRecords *records, BtLineReader *lines, BtFaultList *faults);
void bt__csv_records_clear(BtCsvRecords *records);

// The next record. Empty lines and rows of nothing but commas, as a sheet leaves them below and
// between what was typed, are passed over.
BtCsvResult bt__csv_records_next(BtCsvRecords *records, GError **error);

// Whether the record has `n` fields, as many as the header, and is UTF-8. False: it was refused;
// `names` are those of the columns.
bool bt__csv_records_check(BtCsvRecords *records, const char *const *names, guint n);

// Where a field of the record stands.
BtCsvPlace bt__csv_records_place(const BtCsvRecords *records, guint field);

#endif
