// SPDX-License-Identifier: GPL-3.0-or-later
//
// The observations of a file: rows of the same session, assessor and mode belong to one, wherever
// they stand.
#ifndef BT_LOG_GROUP_H
#define BT_LOG_GROUP_H

#include "log/intake.h"

typedef struct {
  char *text[BT__MODE + 1]; // as the first row has it, session ... mode
  gint64 line;              // of the first row
  BtHeader header;          // borrows from `text`; valid only if `sound`
  bool sound;               // its header has no fault
  const BtRubric *rubric;   // NULL: unknown, its events cannot be judged
  gpointer observation;     // what the sink gave for it
  int rows;                 // so far: the sequence number of the last
} BtGroup;

typedef struct {
  GHashTable *groups; // BtGroup by itself
  BtGroup *last;      // of the row before; rows mostly come in runs
} BtGroups;

void bt__log_groups_init(BtGroups *groups);
void bt__log_groups_clear(BtGroups *groups);

// The group that `record` belongs to; NULL: it is the first of a new one.
BtGroup *bt__log_groups_find(BtGroups *groups, const BtLogRow *record);
// A new group that begins with `record`; owned by `groups`.
BtGroup *bt__log_groups_add(BtGroups *groups, const BtLogRow *record);

#endif
