// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the parts of the running server share. Locks are POSIX ones, since a thread sanitizer sees
// them and not GLib's own.
#ifndef SERVE_SERVER_H
#define SERVE_SERVER_H

#include "serve/door.h"
#include "serve/lately.h"
#include "serve/live.h"
#include "serve/pages.h"
#include "serve/readers.h"
#include "serve/request.h"
#include "serve/serve.h"
#include "serve/stations.h"
#include "serve/writer.h"

typedef struct BtListener BtListener;

struct BtServer {
  char *book_path, *reports_program;
  bool tls, verbose;
  GHashTable *hosts; // the names it goes by, as keys
  BtReaders *readers;
  BtWriter *writer;
  BtStations *stations;
  BtLive *live;
  BtDoor *door;
  BtLately *looks; // accesses that are on the book's chain already
  BtLately *seen;  // logins whose use was noted
  BtPages *pages;
  BtListener *listener;
};

// Answers a request that the guard let in. Caller frees.
BtAnswer *bt__serve(BtRequest *request);

#endif
