// SPDX-License-Identifier: GPL-3.0-or-later
//
// The two figures of section 7, on bare numbers: groups of events (one group a checkpoint), each
// event with a time, and which groups belong before which.
#ifndef BENCHTALLY_SCORE_DISPLACED_H
#define BENCHTALLY_SCORE_DISPLACED_H

#include "score/score_parts.h"

typedef struct {
  int n_groups, n_events;
  const int *start;        // n_groups + 1: the events of group g are start[g] .. start[g + 1] - 1
  const gint64 *at_ms;     // per event, never falling within a group
  const int *before_start; // n_groups + 1, into `before`
  const int *before;       // the groups that belong before group g; a strict order, closed
} BtSequence;

typedef enum { BT__IN_PLACE, BT__TOO_EARLY, BT__TOO_LATE } BtWhere;

// Where each event stands once the fewest events have been moved: n minus the size of the largest
// antichain of "e belongs before f, but f came first"; of all largest antichains the highest. Fills
// where[n_events].
void bt__find_displaced(BtArena *arena, const BtSequence *sequence, BtWhere *where);

// Of the pairs of events that a rule orders and that stand at different times: how many there are,
// and how many stand the right way round.
void bt__count_pairs(const BtSequence *sequence, gint64 *right, gint64 *all);

#endif
