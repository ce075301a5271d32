// SPDX-License-Identifier: GPL-3.0-or-later
//
// The header row of a CSV file: which column is what.
#ifndef BT_LOG_CSV_HEADER_H
#define BT_LOG_CSV_HEADER_H

#include "log/csv_names.h"
#include "log/intake.h"

typedef struct {
  char **names; // n_columns of them, NULL-terminated
  int n_columns;
  int field[BT__CSV_COLUMNS_MAX]; // what each column holds: a BtColumn, or BT__COLUMNS + detail
  int column_of[BT__COLUMNS];     // where each column of the log stands; -1: not in this file
  const char **detail_names;      // n_details of them, borrowed from `names`
  int detail_column[BT__CSV_COLUMNS_MAX]; // where each detail stands
  int n_details;
} BtCsvHeader;

// Reads a header row of `n` fields that stands on `line`. False: it has faults, which were added.
bool bt__csv_header_read(BtCsvHeader *header, const char *const *fields, int n, gint64 line,
                         BtFaultList *faults);
void bt__csv_header_clear(BtCsvHeader *header);

#endif
