// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/exchange.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>

#include "serve/guard.h"
#include "serve/route.h"
#include "serve/session.h"

#define HEADERS_MOST 128
#define DROPPED_MOST (4 * 1024 * 1024) // of a body that is too large; then the connection is cut
#define STREAM_BLOCK 4096

typedef struct {
  char *uri;
  bool begun; // the headers were looked at
  bool counted;
  gsize body_max, dropped;
  BtRequest *request;
  gint64 begun_us;
} Exchange;

// Begin and end ---------------------------------------------------------------

void *bt__exchange_begin(void *data, const char *uri, struct MHD_Connection *connection) {
  (void)data;
  (void)connection;
  Exchange *exchange = g_new0(Exchange, 1);
  exchange->uri = g_strdup(uri);
  exchange->begun_us = g_get_monotonic_time();
  return exchange;
}

void bt__exchange_end(void *data, struct MHD_Connection *connection, void **at,
                      enum MHD_RequestTerminationCode why) {
  (void)connection;
  (void)why;
  BtExchanges *exchanges = data;
  Exchange *exchange = *at;
  if (!exchange)
    return;
  if (exchange->counted)
    g_atomic_int_add(&exchanges->open, -1);
  bt__request_free(exchange->request);
  g_free(exchange->uri);
  g_free(exchange);
  *at = NULL;
}

// Answering -------------------------------------------------------------------

static const char policy_format[] =
    "default-src 'none'; script-src 'self'; style-src 'self'%s%s%s; img-src 'self' data:; "
    "media-src blob:; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'";

// Caller frees.
static char *policy_of(const BtAnswer *answer) {
  bool style = answer->style_sha256 != NULL;
  return g_strdup_printf(policy_format, style ? " 'sha256-" : "", style ? answer->style_sha256 : "",
                         style ? "'" : "");
}

static void add_header(struct MHD_Response *response, const char *name, const char *value) {
  if (value && MHD_add_response_header(response, name, value) != MHD_YES)
    g_warning("the header %s could not be added", name);
}

static void add_headers(struct MHD_Response *response, const BtAnswer *answer, bool last) {
  g_autofree char *policy = policy_of(answer);
  add_header(response, "Content-Type", answer->type);
  add_header(response, "Content-Security-Policy", policy);
  add_header(response, "X-Content-Type-Options", "nosniff");
  add_header(response, "Referrer-Policy", "no-referrer");
  add_header(response, "Cross-Origin-Opener-Policy", "same-origin");
  add_header(response, "Cache-Control", answer->etag ? "no-cache" : "no-store");
  add_header(response, "ETag", answer->etag);
  add_header(response, "Set-Cookie", answer->cookie);
  if (answer->file_name) {
    g_autofree char *disposition =
        g_strdup_printf("attachment; filename=\"%s\"", answer->file_name);
    add_header(response, "Content-Disposition", disposition);
  }
  if (answer->retry_after_s > 0) {
    g_autofree char *seconds = g_strdup_printf("%d", answer->retry_after_s);
    add_header(response, "Retry-After", seconds);
  }
  if (last)
    add_header(response, "Connection", "close");
}

static ssize_t read_stream(void *data, uint64_t at, char *buffer, size_t most) {
  (void)at;
  BtAnswer *answer = data;
  gssize n = answer->stream.read(answer->stream.source, buffer, most);
  return n < 0 ? MHD_CONTENT_READER_END_OF_STREAM : n;
}

static void free_answer(void *answer) {
  bt__answer_free(answer);
}

// Takes the answer over.
static struct MHD_Response *response_of(BtAnswer *answer) {
  if (answer->stream.read)
    return MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, STREAM_BLOCK, read_stream, answer,
                                             free_answer);
  gsize length = 0;
  const void *body = g_bytes_get_data(answer->body, &length);
  return MHD_create_response_from_buffer_with_free_callback_cls(length, (void *)body, free_answer,
                                                                answer);
}

static void log_line(const BtExchanges *exchanges, const Exchange *exchange, const char *method,
                     int status) {
  if (!exchanges->server->verbose)
    return;
  const BtRequest *request = exchange->request;
  g_autofree char *path = g_strndup(exchange->uri, strcspn(exchange->uri, "?"));
  g_autofree char *plain = g_strescape(path, NULL);
  fprintf(stderr, "%s %s %s %d %.1f ms\n", request && request->login ? request->login->code : "-",
          method, plain, status, (double)(g_get_monotonic_time() - exchange->begun_us) / 1000);
}

// Takes `answer` over.
static enum MHD_Result send_answer(BtExchanges *exchanges, const Exchange *exchange,
                                   struct MHD_Connection *connection, const char *method,
                                   BtAnswer *answer) {
  unsigned status = (unsigned)answer->status;
  bool stream = answer->stream.read != NULL;
  struct MHD_Response *response = response_of(answer);
  if (!response) {
    bt__answer_free(answer);
    return MHD_NO;
  }
  log_line(exchanges, exchange, method, (int)status);
  add_headers(response, answer, stream || g_atomic_int_get(&exchanges->ending));
  if (stream) // as long as it lasts, something is sent now and then
    MHD_set_connection_option(connection, MHD_CONNECTION_OPTION_TIMEOUT, 0u);
  enum MHD_Result result = MHD_queue_response(connection, status, response);
  MHD_destroy_response(response);
  return result;
}

// The request -----------------------------------------------------------------

typedef struct {
  BtHeaderLine lines[HEADERS_MOST];
  gsize n;
  bool too_many;
} Headers;

static enum MHD_Result take_header(void *data, enum MHD_ValueKind kind, const char *name,
                                   size_t name_length, const char *value, size_t value_length) {
  (void)kind;
  Headers *headers = data;
  headers->too_many = headers->n == HEADERS_MOST;
  if (headers->too_many)
    return MHD_NO;
  headers->lines[headers->n++] = (BtHeaderLine){name, value, name_length, value_length};
  return MHD_YES;
}

static char *address_of(struct MHD_Connection *connection) {
  const union MHD_ConnectionInfo *info =
      MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
  char text[INET6_ADDRSTRLEN] = "";
  if (info && info->client_addr->sa_family == AF_INET6)
    inet_ntop(AF_INET6, &((const struct sockaddr_in6 *)info->client_addr)->sin6_addr, text,
              sizeof text);
  else if (info)
    inet_ntop(AF_INET, &((const struct sockaddr_in *)info->client_addr)->sin_addr, text,
              sizeof text);
  return g_strdup(text);
}

static BtRequest *read_request(BtServer *server, struct MHD_Connection *connection,
                               const BtRawRequest *raw) {
  BtRequest *request = bt__request_new(server);
  const char *cookie = bt__header(raw, "Cookie");
  request->method = g_strdup(raw->method);
  request->segments = bt__path_segments(raw->uri);
  request->query = bt__query_of(raw->uri);
  request->address = address_of(connection);
  request->key = cookie ? bt__session_key_of(cookie) : NULL;
  request->token = g_strdup(bt__header(raw, "X-Benchtally-Token"));
  request->content_type = g_strdup(bt__header(raw, "Content-Type"));
  request->if_none_match = g_strdup(bt__header(raw, "If-None-Match"));
  return request;
}

static gsize body_max_of(const BtRequest *request) {
  const char *place[BT_PLACES];
  bool other_method = false;
  const BtRoute *route = bt__route_find(request->method, request->segments, place, &other_method);
  return route && route->flags & BT_IS_LARGE ? BT_RUBRIC_BODY_BYTES_MAX : BT_BODY_BYTES_MAX;
}

static BtAnswer *too_large(gsize most) {
  return bt__answer_refusal(413, "size", "the body is too large; send at most %d KiB",
                            (int)(most / 1024));
}

// Looks at the headers. NULL: the body may come.
static BtAnswer *look_at_headers(BtExchanges *exchanges, Exchange *exchange,
                                 struct MHD_Connection *connection, const char *method) {
  Headers headers = {.n = 0};
  MHD_get_connection_values_n(connection, MHD_HEADER_KIND, take_header, &headers);
  const BtRawRequest raw = {method, exchange->uri, headers.lines, headers.n};
  if (headers.too_many)
    return bt__answer_refusal(431, "headers", "there are too many headers; send at most %d",
                              HEADERS_MOST);
  const BtRefused *refused = bt__guard(&raw, exchanges->server->hosts);
  if (refused)
    return bt__answer_refusal(refused->status, refused->code, "%s", refused->message);
  exchange->request = read_request(exchanges->server, connection, &raw);
  exchange->body_max = body_max_of(exchange->request);
  return bt__content_length(&raw) > (gint64)exchange->body_max ? too_large(exchange->body_max)
                                                               : NULL;
}

static enum MHD_Result begin(BtExchanges *exchanges, Exchange *exchange,
                             struct MHD_Connection *connection, const char *method) {
  exchange->begun = exchange->counted = true;
  g_atomic_int_add(&exchanges->open, 1);
  BtAnswer *refusal = look_at_headers(exchanges, exchange, connection, method);
  return refusal ? send_answer(exchanges, exchange, connection, method, refusal) : MHD_YES;
}

// A body whose length nobody said may turn out too large.
static enum MHD_Result take_body(Exchange *exchange, const char *upload, size_t *size) {
  GString *body = exchange->request->body;
  if (exchange->dropped == 0 && body->len + *size <= exchange->body_max)
    g_string_append_len(body, upload, (gssize)*size);
  else
    exchange->dropped += *size;
  *size = 0;
  return exchange->dropped <= DROPPED_MOST ? MHD_YES : MHD_NO;
}

enum MHD_Result bt__exchange_handle(void *data, struct MHD_Connection *connection, const char *url,
                                    const char *method, const char *version, const char *upload,
                                    size_t *upload_size, void **at) {
  (void)url;
  (void)version;
  BtExchanges *exchanges = data;
  Exchange *exchange = *at;
  if (!exchange->begun)
    return begin(exchanges, exchange, connection, method);
  if (*upload_size > 0)
    return take_body(exchange, upload, upload_size);
  BtAnswer *answer =
      exchange->dropped > 0 ? too_large(exchange->body_max) : bt__serve(exchange->request);
  if (answer->stream.read && exchange->counted) { // it does not end by itself
    exchange->counted = false;
    g_atomic_int_add(&exchanges->open, -1);
  }
  return send_answer(exchanges, exchange, connection, method, answer);
}
