// SPDX-License-Identifier: GPL-3.0-or-later
//
// Where faults of one rubric file are gathered.
#ifndef BENCHTALLY_RUBRIC_REPORT_H
#define BENCHTALLY_RUBRIC_REPORT_H

#include <benchtally/model.h>

typedef struct {
  int line, column; // from 1, in characters; 0 when the whole file is meant
} BtPlace;

typedef struct {
  BtFaultList list;
  guint begin; // where the faults of this file begin in the list's array
} BtReport;

// A report that appends to `faults`; both are borrowed.
BtReport bt__report(const char *file, GPtrArray *faults);

// Adds a fault at a place: what is wrong as `format` says, and what was expected (NULL: nothing to
// add). Copied.
void bt__fault(BtReport *report, BtPlace at, const char *expected, const char *format, ...)
    G_GNUC_PRINTF(4, 5);
// The same for what is worth knowing but not refused.
void bt__warn(BtReport *report, BtPlace at, const char *expected, const char *format, ...)
    G_GNUC_PRINTF(4, 5);
// Puts the faults of this file in order of place and says how many were not listed.
void bt__report_end(BtReport *report);

// `a, b or c`. Caller frees.
char *bt__any_of(const char *const *words, gsize n);

#endif
