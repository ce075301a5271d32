// SPDX-License-Identifier: GPL-3.0-or-later
//
// A session laid out for drawing: a lane for each phase, and what stands where.
#ifndef BENCHTALLY_REPORT_TIMELINE_H
#define BENCHTALLY_REPORT_TIMELINE_H

#include "report/record.h"

typedef enum {
  BT_ROLE_AS_EXPECTED,
  BT_ROLE_NOT_AS_EXPECTED,
  BT_ROLE_REDO,
  BT_ROLE_OTHER_WORK, // extra, unplanned, overtaken, after the end
  BT_ROLE_FOUND_ERROR,
  BT_ROLE_COMPLICATION,
  BT_ROLE_CLOCK, // start, finish, pause, resume
  BT_ROLE_REMARK // rating, measure, not seen, note: in the table only
} BtMarkRole;

typedef struct {
  const BtEvent *event; // borrowed from the observation
  int lane;             // from 0 at the top; -1: not drawn
  BtMarkRole role;
  const char *result; // words for the table; static
  const char *order;  // "too early", "too late", "before its time"; NULL: in order
  char letter;        // of the kind of error found here; 0: none
  gint64 from_ms;     // where the stretch that this event closes began; -1: closes none
} BtPlaced;

typedef struct {
  const char *title;          // borrowed from the rubric, or static
  gint64 begin_ms, target_ms; // of a phase that was worked on and has a target; else -1
} BtLane;

typedef struct {
  const BtAttempt *attempt; // borrowed
  GArray *lanes;            // of BtLane
  GArray *marks;            // of BtPlaced, in log order
  GArray *pauses;           // of gint64 pairs: from, to
  int clock_lane;
  gint64 end_ms; // the latest time drawn
} BtTimeline;

// Lays out an attempt. Caller frees.
BtTimeline *bt__timeline_new(const BtAttempt *attempt);
void bt__timeline_free(BtTimeline *timeline); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtTimeline, bt__timeline_free)

#endif
