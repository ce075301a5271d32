// SPDX-License-Identifier: GPL-3.0-or-later
//
// The order of one session: what was to come before what, and what came when.
#ifndef BENCHTALLY_REPORT_REVIEW_ORDER_H
#define BENCHTALLY_REPORT_REVIEW_ORDER_H

#include "report/review.h"

// A checkpoint that a rule speaks of, as it was first done.
typedef struct {
  int checkpoint;
  int seq; // of the first counted event; 0: not done
  gint64 at_ms;
} BtOrderStep;

// A rule that applied: from a step that belonged first to one that belonged after it.
typedef struct {
  const BtOrderRow *row; // borrowed from the ledger
  int first, then;       // indices into the steps
} BtOrderArc;

struct BtOrderPicture {
  GArray *steps; // of BtOrderStep, in the order done; what was not done last
  GArray *arcs;  // of BtOrderArc, in rubric order
};

// Where an event out of order belonged on the session's clock: after the last of those that were to
// come before it, or before the first of those that were to follow; -1 when the rules do not say.
gint64 bt__belongs_at_ms(const BtReview *review, int seq);

#endif
