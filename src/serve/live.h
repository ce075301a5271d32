// SPDX-License-Identifier: GPL-3.0-or-later
//
// The live board: benches that change are told to everybody who listens, each what one may see.
#ifndef SERVE_LIVE_H
#define SERVE_LIVE_H

#include "serve/answer.h"
#include "serve/stations.h"

typedef struct BtLive BtLive;

// NULL with `error` when the book cannot be opened. The stations are borrowed.
BtLive *bt__live_new(const char *book_path, BtStations *stations, GError **error);
// Ends every stream. NULL is allowed.
void bt__live_end(BtLive *live);
// Ended, and nobody listens any more. NULL is allowed.
void bt__live_free(BtLive *live);

// The observation has something new.
void bt__live_changed(BtLive *live, gint64 observation_id);

// A stream of server-sent events for this person.
BtAnswer *bt__live_answer(BtLive *live, const char *viewer);

#endif
