// SPDX-License-Identifier: GPL-3.0-or-later
//
// The ids of a file's events, with the line each stands on. Takes 24 to 48 bytes an id.
#ifndef BT_LOG_ID_SET_H
#define BT_LOG_ID_SET_H

#include <stdbool.h>

#include <glib.h>

typedef struct {
  guint64 high, low;
  gint64 line; // 0: an empty place
} BtIdPlace;

typedef struct {
  BtIdPlace *places; // their number is a power of two; NULL while the set is empty
  gsize n_places, n_ids;
} BtIdSet;

void bt__id_set_clear(BtIdSet *set);

// Adds an id, as the halves of its UUID, that stands on `line` (from 1). The answer is 0, or the
// line where it stood before.
gint64 bt__id_set_add(BtIdSet *set, guint64 high, guint64 low, gint64 line);

#endif
