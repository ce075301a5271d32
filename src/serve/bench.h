// SPDX-License-Identifier: GPL-3.0-or-later
//
// A bench of the board: an open observation as it stands now.
#ifndef SERVE_BENCH_H
#define SERVE_BENCH_H

#include <benchtally/book.h>
#include <jansson.h>

#include "serve/stations.h"

typedef struct {
  gint64 id;
  json_t *json;         // of its own; NULL when the observation is closed
  GPtrArray *recorders; // codes of those with an open observation of the session, this one's too
} BtBench;

// NULL with `error`. Caller frees.
BtBench *bt__bench_new(BtBook *book, BtStations *stations, gint64 observation_id, GError **error);
void bt__bench_free(BtBench *bench); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtBench, bt__bench_free)

// Whether the viewer may see it: not while an own observation of the same session is open.
bool bt__bench_is_for(const BtBench *bench, const char *viewer);

#endif
