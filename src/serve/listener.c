// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/listener.h"

#include <arpa/inet.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <string.h>
#include <sys/socket.h>

#include "serve/exchange.h"

#define CONNECTIONS_MOST   256
#define CONNECTIONS_OF_ONE 224 // of one address, so that one tablet gone mad leaves room
#define IDLE_S             20
#define CONNECTION_BYTES   (32 * 1024)
#define THREAD_STACK_BYTES (2 * 1024 * 1024)
#define FINISH_MS          10000
#define PEM_BYTES_MAX      (256 * 1024)

struct BtListener {
  struct MHD_Daemon *daemon;
  char *cert, *key;  // NULL: no TLS
  MHD_socket socket; // after quiescing: still to be closed
  bool quiet;
  BtExchanges exchanges;
};

// Where to listen -------------------------------------------------------------

static bool read_address(const char *address, guint16 port, struct sockaddr_storage *out,
                         GError **error) {
  struct sockaddr_in *v4 = (struct sockaddr_in *)out;
  struct sockaddr_in6 *v6 = (struct sockaddr_in6 *)out;
  memset(out, 0, sizeof *out);
  if (inet_pton(AF_INET, address, &v4->sin_addr) == 1) {
    v4->sin_family = AF_INET;
    v4->sin_port = htons(port);
    return true;
  }
  if (inet_pton(AF_INET6, address, &v6->sin6_addr) == 1) {
    v6->sin6_family = AF_INET6;
    v6->sin6_port = htons(port);
    return true;
  }
  g_set_error(error, BT_ERROR, BT_ERROR_OPTION,
              "\"%s\" is no address to listen at; give one such as 127.0.0.1, 0.0.0.0 or ::1",
              address);
  return false;
}

static bool read_pem(const BtServeOptions *options, BtListener *listener, GError **error) {
  gsize length = 0;
  return !options->cert_path ||
         (bt_file_read(options->cert_path, PEM_BYTES_MAX, &listener->cert, &length, error) &&
          bt_file_read(options->key_path, PEM_BYTES_MAX, &listener->key, &length, error));
}

// Starting --------------------------------------------------------------------

static void keep_quiet(void *data, const char *format, va_list arguments) {
  (void)data;
  (void)format;
  (void)arguments;
}

static struct MHD_Daemon *start(BtListener *listener, const struct sockaddr *address) {
  unsigned flags = MHD_USE_THREAD_PER_CONNECTION | MHD_USE_INTERNAL_POLLING_THREAD | MHD_USE_POLL |
                   MHD_USE_ITC | MHD_USE_ERROR_LOG;
  if (address->sa_family == AF_INET6)
    flags |= MHD_USE_IPv6;
  if (listener->cert)
    flags |= MHD_USE_TLS;
  const struct MHD_OptionItem tls[] = {{MHD_OPTION_HTTPS_MEM_CERT, 0, listener->cert},
                                       {MHD_OPTION_HTTPS_MEM_KEY, 0, listener->key},
                                       {MHD_OPTION_END, 0, NULL}};
  const struct MHD_OptionItem none[] = {{MHD_OPTION_END, 0, NULL}};
  return MHD_start_daemon(
      flags, 0, NULL, NULL, bt__exchange_handle, &listener->exchanges, MHD_OPTION_EXTERNAL_LOGGER,
      keep_quiet, NULL, MHD_OPTION_SOCK_ADDR, address, MHD_OPTION_CONNECTION_LIMIT,
      CONNECTIONS_MOST, MHD_OPTION_PER_IP_CONNECTION_LIMIT, CONNECTIONS_OF_ONE,
      MHD_OPTION_CONNECTION_TIMEOUT, IDLE_S, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
      (size_t)CONNECTION_BYTES, MHD_OPTION_THREAD_STACK_SIZE, (size_t)THREAD_STACK_BYTES,
      MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_LISTENING_ADDRESS_REUSE, 1,
      MHD_OPTION_URI_LOG_CALLBACK, bt__exchange_begin, &listener->exchanges,
      MHD_OPTION_NOTIFY_COMPLETED, bt__exchange_end, &listener->exchanges, MHD_OPTION_ARRAY,
      listener->cert ? tls : none, MHD_OPTION_END);
}

BtListener *bt__listener_new(BtServer *server, const BtServeOptions *options, GError **error) {
  struct sockaddr_storage address;
  BtListener *listener = g_new0(BtListener, 1);
  listener->exchanges.server = server;
  if (read_address(options->address, options->port, &address, error) &&
      read_pem(options, listener, error)) {
    listener->daemon = start(listener, (const struct sockaddr *)&address);
    if (!listener->daemon)
      g_set_error(error, BT_ERROR, BT_ERROR_OPTION,
                  "cannot listen at %s, port %u%s; is another program there? Try another --port",
                  options->address, options->port,
                  options->cert_path ? ", with this certificate and key" : "");
  }
  if (listener->daemon)
    return listener;
  bt__listener_free(listener);
  return NULL;
}

guint16 bt__listener_port(const BtListener *listener) {
  const union MHD_DaemonInfo *info =
      MHD_get_daemon_info(listener->daemon, MHD_DAEMON_INFO_BIND_PORT);
  return info ? info->port : 0;
}

// Ending ----------------------------------------------------------------------

void bt__listener_quiesce(BtListener *listener) {
  listener->socket = MHD_quiesce_daemon(listener->daemon);
  listener->quiet = true;
  g_atomic_int_set(&listener->exchanges.ending, 1);
  for (int waited_ms = 0; waited_ms < FINISH_MS && g_atomic_int_get(&listener->exchanges.open) > 0;
       waited_ms += 5)
    g_usleep(5000);
}

void bt__listener_free(BtListener *listener) {
  if (!listener)
    return;
  if (listener->daemon)
    MHD_stop_daemon(listener->daemon);
  if (listener->quiet && listener->socket != MHD_INVALID_SOCKET)
    close(listener->socket);
  g_free(listener->cert);
  g_free(listener->key);
  g_free(listener);
}
