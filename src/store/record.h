// SPDX-License-Identifier: GPL-3.0-or-later
//
// Entries of an observation one by one, within the caller's transaction.
#ifndef STORE_RECORD_H
#define STORE_RECORD_H

#include "store/observation.h"

// LOG when `id` is no UUID in lower case.
bool bt__check_event_id(const char *id, GError **error);

// A tablet that heard no answer sends the entry again: 1 when it is there, the same (*seq is its
// event's number); 0 when the id is new; -1 with `error`.
int bt__sent_before(BtBook *book, const BtEntry *entry, gint64 observation_id, int *seq,
                    GError **error);

// Adds the event whose columns stand in the entry, with its id. CONFLICT: closed.
bool bt__append_event(BtBook *book, BtObservationRow *row, BtEntry *entry, int *seq,
                      GError **error);

// Adds the correction: its kind, the number of the event meant, the reason and, of an amendment,
// the event's columns are the caller's. UNKNOWN, CONFLICT (struck already).
bool bt__append_correction(BtBook *book, BtObservationRow *row, BtEntry *entry, GError **error);

#endif
