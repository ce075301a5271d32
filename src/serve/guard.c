// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/guard.h"

#include <string.h>

static const BtRefused bad_header = {400, "headers",
                                     "a header of the request is no header; send plain HTTP/1.1"};
static const BtRefused long_headers = {431, "headers",
                                       "the headers are too long; send at most 16 KiB"};
static const BtRefused length_twice = {400, "length",
                                       "the length of the request is said twice; say it once"};
static const BtRefused length_no_number = {400, "length", "the length of the request is no number"};
static const BtRefused unknown_encoding = {
    400, "length", "the transfer encoding is not known here; use chunked, or none"};
static const BtRefused body_unasked = {400, "length", "a request that changes nothing has no body"};
static const BtRefused host_not_once = {400, "host",
                                        "the request must say once which host it is for"};
static const BtRefused other_host = {
    400, "host",
    "this server does not go by that name; use the address that it printed when it "
    "was started"};
static const BtRefused other_site = {403, "origin",
                                     "the request comes from a page of another site"};
static const BtRefused long_path = {400, "path", "the address asked for is too long"};
static const BtRefused no_path = {400, "path", "the address asked for is no plain path"};

// Headers ---------------------------------------------------------------------

static bool is_named(const BtHeaderLine *header, const char *name) {
  return header->name_length == strlen(name) &&
         g_ascii_strncasecmp(header->name, name, header->name_length) == 0;
}

const char *bt__header(const BtRawRequest *raw, const char *name) {
  for (gsize i = 0; i < raw->n_headers; i++) {
    if (is_named(&raw->headers[i], name))
      return raw->headers[i].value ? raw->headers[i].value : "";
  }
  return NULL;
}

static gsize count_of(const BtRawRequest *raw, const char *name) {
  gsize n = 0;
  for (gsize i = 0; i < raw->n_headers; i++)
    n += is_named(&raw->headers[i], name);
  return n;
}

// A token of RFC 9110, section 5.6.2.
static bool is_token(const char *text, gsize length) {
  for (gsize i = 0; i < length; i++) {
    if (!g_ascii_isalnum(text[i]) && !strchr("!#$%&'*+-.^_`|~", text[i]))
      return false;
  }
  return length > 0 && memchr(text, '\0', length) == NULL;
}

static bool is_field_value(const char *text, gsize length) {
  for (gsize i = 0; i < length; i++) {
    if ((guchar)text[i] < 0x20 && text[i] != '\t')
      return false;
  }
  return length == 0 || g_utf8_validate_len(text, length, NULL);
}

static const BtRefused *check_headers(const BtRawRequest *raw) {
  gsize bytes = strlen(raw->uri);
  for (gsize i = 0; i < raw->n_headers; i++) {
    const BtHeaderLine *header = &raw->headers[i];
    bytes += header->name_length + header->value_length + 4;
    if (!is_token(header->name, header->name_length) ||
        (header->value && !is_field_value(header->value, header->value_length)))
      return &bad_header;
  }
  return bytes <= BT_HEADER_BYTES_MAX ? NULL : &long_headers;
}

// Length ----------------------------------------------------------------------

#define LENGTH_DIGITS_MAX 15

static bool is_length(const char *text) {
  gsize length = strlen(text);
  return length > 0 && length <= LENGTH_DIGITS_MAX && strspn(text, "0123456789") == length;
}

gint64 bt__content_length(const BtRawRequest *raw) {
  const char *text = bt__header(raw, "Content-Length");
  return text ? g_ascii_strtoll(text, NULL, 10) : -1;
}

// Two readers that disagree on where a request ends can be made to read different requests.
static const BtRefused *check_length(const BtRawRequest *raw) {
  gsize lengths = count_of(raw, "Content-Length");
  gsize encodings = count_of(raw, "Transfer-Encoding");
  if (lengths > 1 || encodings > 1 || (lengths && encodings))
    return &length_twice;
  const char *length = bt__header(raw, "Content-Length");
  if (length && !is_length(length))
    return &length_no_number;
  const char *encoding = bt__header(raw, "Transfer-Encoding");
  if (encoding && g_ascii_strcasecmp(encoding, "chunked") != 0)
    return &unknown_encoding;
  bool reading = strcmp(raw->method, "POST") != 0;
  if (reading && (encoding || (length && bt__content_length(raw) > 0)))
    return &body_unasked;
  return NULL;
}

// Host ------------------------------------------------------------------------

static bool is_port(const char *text) {
  return !*text || (text[0] == ':' && strspn(text + 1, "0123456789") == strlen(text + 1));
}

// The name in "name", "name:port", "[v6]" or "[v6]:port", in lower case; NULL when it is neither.
// Caller frees.
static char *host_name(const char *host) {
  bool v6 = host[0] == '[';
  const char *begin = v6 ? host + 1 : host;
  gsize length = strcspn(begin, v6 ? "]" : ":");
  const char *rest = begin + length;
  if ((v6 && *rest++ != ']') || !is_port(rest))
    return NULL;
  return g_ascii_strdown(begin, (gssize)length);
}

// A page of another site that got its name to lead here is told apart by the name it asks for.
static const BtRefused *check_host(const BtRawRequest *raw, GHashTable *hosts) {
  if (count_of(raw, "Host") != 1)
    return &host_not_once;
  g_autofree char *name = host_name(bt__header(raw, "Host"));
  if (!name || !g_hash_table_contains(hosts, name))
    return &other_host;
  const char *origin = bt__header(raw, "Origin");
  const char *after = origin ? strstr(origin, "://") : NULL;
  if (origin && (!after || g_ascii_strcasecmp(after + 3, bt__header(raw, "Host")) != 0))
    return &other_site;
  return NULL;
}

// Target ----------------------------------------------------------------------

// The length of the path, up to the query.
static gsize path_length(const char *uri) {
  return strcspn(uri, "?");
}

static bool has_hidden(const char *path) {
  static const char *const hidden[] = {"//", "\\", "%2f", "%2F", "%5c", "%5C", "%00"};
  for (gsize i = 0; i < G_N_ELEMENTS(hidden); i++) {
    if (strstr(path, hidden[i]))
      return true;
  }
  return false;
}

static bool is_plain(const char *text) {
  for (const char *c = text; *c; c++) {
    if ((guchar)*c < 0x20 || *c == 0x7f)
      return false;
  }
  return true;
}

static bool is_path(const char *path) {
  if (path[0] != '/' || has_hidden(path))
    return false;
  g_autofree char *decoded = g_uri_unescape_string(path, NULL);
  return decoded && is_plain(decoded) && g_utf8_validate(decoded, -1, NULL) &&
         !strstr(decoded, "..") && !strchr(decoded, '\\');
}

static GHashTable *read_query(const char *uri) {
  const char *query = strchr(uri, '?');
  if (!query)
    return g_hash_table_new(g_str_hash, g_str_equal);
  return g_uri_parse_params(query + 1, -1, "&", G_URI_PARAMS_WWW_FORM, NULL);
}

static bool is_query(const char *uri) {
  g_autoptr(GHashTable) query = strstr(uri, "%00") ? NULL : read_query(uri);
  GHashTableIter iter;
  gpointer name = NULL, value = NULL;
  if (!query)
    return false;
  g_hash_table_iter_init(&iter, query);
  while (g_hash_table_iter_next(&iter, &name, &value)) {
    if (!g_utf8_validate(name, -1, NULL) || !g_utf8_validate(value, -1, NULL) || !is_plain(value))
      return false;
  }
  return true;
}

static const BtRefused *check_target(const BtRawRequest *raw) {
  if (strlen(raw->uri) > BT_URI_BYTES_MAX)
    return &long_path;
  g_autofree char *path = g_strndup(raw->uri, path_length(raw->uri));
  if (!is_path(path) || !is_query(raw->uri))
    return &no_path;
  return NULL;
}

char **bt__path_segments(const char *uri) {
  g_autofree char *path = g_strndup(uri + 1, path_length(uri) - 1);
  char **segments = *path ? g_strsplit(path, "/", -1) : g_strdupv((char *[]){(char *)"", NULL});
  for (char **segment = segments; *segment; segment++) {
    char *decoded = g_uri_unescape_string(*segment, NULL);
    g_free(*segment);
    *segment = decoded ? decoded : g_strdup("");
  }
  return segments;
}

GHashTable *bt__query_of(const char *uri) {
  GHashTable *query = read_query(uri);
  return query ? query : g_hash_table_new(g_str_hash, g_str_equal);
}

// All -------------------------------------------------------------------------

const BtRefused *bt__guard(const BtRawRequest *raw, GHashTable *hosts) {
  const BtRefused *refused = check_headers(raw);
  if (!refused)
    refused = check_length(raw);
  if (!refused)
    refused = check_host(raw, hosts);
  return refused ? refused : check_target(raw);
}
