// SPDX-License-Identifier: GPL-3.0-or-later
//
// The block of one exercise on the sheet Progress: its charts above, their figures below.
#ifndef BENCHTALLY_REPORT_PROGRESS_H
#define BENCHTALLY_REPORT_PROGRESS_H

#include "report/record.h"
#include "report/xlsx.h"

// Columns of the first table of figures.
enum {
  BT_P_ATTEMPT,
  BT_P_DATE,
  BT_P_OUTCOME,
  BT_P_TOTAL,
  BT_P_NEEDED,
  BT_P_STEPS, // the components follow in their order
  BT_P_LOW = BT_P_STEPS + BT_COMPONENTS,
  BT_P_HIGH,
  BT_P_OTHERS,
  BT_P_COLUMNS
};

// Columns that only the charts use, to the right of what is printed.
enum {
  BT_P_BAND_X = BT_P_COLUMNS + 2,
  BT_P_BAND_Y,
  BT_P_LINE_X,
  BT_P_LINE_Y,
  BT_P_PASS,
  BT_P_UNDECIDED,
  BT_P_NOT_YET,
  BT_P_DRAWN_END
};

#define BT_P_CHART_ROWS  22 // of a chart, at the usual 20 pixels a row
#define BT_P_PIXELS      80 // of a column: "syndesmosis" in a header stays whole
#define BT_P_PHASES_MOST 12 // columns that the page holds
#define BT_P_KINDS_MOST  7

// A kind of error that was found at least once; `kind` is its index in the latest edition, or -1
// for all others together.
typedef struct {
  int kind;
  int found;
} BtFoundKind;

typedef struct {
  BtXlsxSheet *sheet;
  const BtExercise *exercise;
  int n;         // attempts
  int top;       // row of the heading
  int figures;   // header row of the first table; its rows follow
  int phases;    // of minutes in each phase
  int errors;    // of errors found
  int end;       // the first row after the block
  int n_phases;  // phases shown
  GArray *kinds; // of BtFoundKind, the most frequent first
} BtProgressBlock;

// How often the kind was found in an attempt, whose edition may be another; for -1: all kinds that
// have no column of their own.
int bt__found_in(const BtProgressBlock *block, const BtAttempt *attempt, const BtFoundKind *kind);
const char *bt__kind_title(const BtProgressBlock *block, const BtFoundKind *kind);
// Time charged to a phase of the latest edition in an attempt; -1 when its edition has no such
// phase.
gint64 bt__phase_ms(const BtProgressBlock *block, const BtAttempt *attempt, int phase);

// Writes the cells that only the charts use, and the charts.
void bt__progress_charts(const BtProgressBlock *block);

#endif
