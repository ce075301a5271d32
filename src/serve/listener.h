// SPDX-License-Identifier: GPL-3.0-or-later
//
// The door to the network: connections, limits and times, and from the wire to a request and back.
#ifndef SERVE_LISTENER_H
#define SERVE_LISTENER_H

#include "serve/server.h"

// Begins to answer. NULL with `error` (OPTION) when it cannot listen there.
BtListener *bt__listener_new(BtServer *server, const BtServeOptions *options, GError **error);
guint16 bt__listener_port(const BtListener *listener);
// Takes no new connections and lets what is open finish, for a while.
void bt__listener_quiesce(BtListener *listener);
// NULL is allowed.
void bt__listener_free(BtListener *listener);

#endif
