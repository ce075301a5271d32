// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/server.h"

#include "serve/hosts.h"
#include "serve/listener.h"

#define READERS_MOST   16
#define SAME_ACCESS_MS (10 * 60 * 1000)
#define SEEN_MS        60000

static void server_free(BtServer *server) {
  if (!server)
    return;
  bt__listener_free(server->listener);
  bt__live_free(server->live);
  bt__stations_free(server->stations);
  bt__readers_free(server->readers);
  bt__writer_free(server->writer); // last: who writes and leaves last leaves the book in one file
  bt__door_free(server->door);
  bt__lately_free(server->looks);
  bt__lately_free(server->seen);
  bt__pages_free(server->pages);
  g_clear_pointer(&server->hosts, g_hash_table_unref);
  g_free(server->book_path);
  g_free(server->reports_program);
  g_free(server);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtServer, server_free)

BtServer *bt_serve_start(const BtServeOptions *options, GError **error) {
  g_autoptr(BtServer) server = g_new0(BtServer, 1);
  server->book_path = g_strdup(options->book_path);
  server->reports_program = g_strdup(options->reports_program);
  server->tls = options->cert_path != NULL;
  server->verbose = options->verbose;
  server->hosts = bt__hosts_of(options->address);
  server->door = bt__door_new();
  server->stations = bt__stations_new();
  server->looks = bt__lately_new(SAME_ACCESS_MS);
  server->seen = bt__lately_new(SEEN_MS);
  server->pages = bt__pages_new();
  if (!(server->writer = bt__writer_new(options->book_path, error)) ||
      !(server->readers = bt__readers_new(options->book_path, READERS_MOST, error)) ||
      !(server->live = bt__live_new(options->book_path, server->stations, error)) ||
      !(server->listener = bt__listener_new(server, options, error)))
    return NULL;
  return g_steal_pointer(&server);
}

guint16 bt_serve_port(const BtServer *server) {
  return bt__listener_port(server->listener);
}

void bt_serve_stop(BtServer *server) {
  if (!server)
    return;
  bt__live_end(server->live);
  bt__listener_quiesce(server->listener);
  server_free(server);
}
