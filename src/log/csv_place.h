// SPDX-License-Identifier: GPL-3.0-or-later
//
// Where the fields of a CSV record stand. The parser tells no positions, so the record's text is
// walked once more, but only when there is a fault to place.
#ifndef BT_LOG_CSV_PLACE_H
#define BT_LOG_CSV_PLACE_H

#include <stdbool.h>

#include <glib.h>

typedef struct {
  gint64 line;
  int column;
} BtCsvPlace;

typedef struct {
  int field;         // the field that is looked for, from 0
  int fields_passed; // delimiters so far
  bool quoted;       // inside quotes
  bool found;
  bool after_cr;
  BtCsvPlace here;   // of the byte ahead
  BtCsvPlace place;  // of the field looked for, once found
  BtCsvPlace opened; // of the quote that was opened last
} BtCsvWalk;

// A walk from the start of a record on `line` to its field `field`.
BtCsvWalk bt__csv_walk(gint64 line, int field);
// Walks on over a piece of the record's text.
void bt__csv_walk_on(BtCsvWalk *walk, const char *text, gsize length);

#endif
