// SPDX-License-Identifier: GPL-3.0-or-later
//
// The faults of one file of events: the first hundred faults and the first twenty warnings are
// kept, the rest only counted, so that a file that is wrong throughout costs no more than one that
// is wrong once.
#ifndef BT_LOG_FAULT_LIST_H
#define BT_LOG_FAULT_LIST_H

#include <benchtally/model.h>

#define BT__FAULTS_KEPT   100
#define BT__WARNINGS_KEPT 20 // what is right need not be read to the end

typedef struct {
  const char *file;  // borrowed
  GPtrArray *faults; // borrowed; of BtFault
  gint64 errors, warnings;
} BtFaultList;

// Adds a fault; `wrong` and `expected` (may be NULL) are taken over. A line beyond what a fault can
// hold is given as the greatest it can.
void bt__fault_list_add(BtFaultList *list, gint64 line, int column, bool warning, char *wrong,
                        char *expected);

// Whether one more would be kept: if not, its place need not be sought.
bool bt__fault_list_keeps(const BtFaultList *list, bool warning);

// Says how many more there were, if there were more than are kept.
void bt__fault_list_finish(BtFaultList *list);

#endif
