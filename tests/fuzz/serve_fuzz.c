// SPDX-License-Identifier: GPL-3.0-or-later
//
// What comes over the wire: the request guard, and an entry as a page sends it. The first byte
// chooses. A request is its method, its address and its headers, one a line.
#include <stdint.h>
#include <string.h>

#include "serve/entry_json.h"
#include "serve/guard.h"
#include "serve/hosts.h"
#include "serve/route.h"
#include "serve/session.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define HEADERS_MOST 32

// What the guard let in is safe to use: no way out of a folder, no bytes that are no text.
static void check_let_in(const char *method, const char *uri) {
  g_auto(GStrv) segments = bt__path_segments(uri);
  for (char **segment = segments; *segment; segment++) {
    g_assert(g_utf8_validate(*segment, -1, NULL));
    g_assert(!strstr(*segment, "..") && !strpbrk(*segment, "/\\\r\n"));
  }
  GHashTableIter iter;
  gpointer name = NULL, value = NULL;
  g_autoptr(GHashTable) query = bt__query_of(uri);
  g_hash_table_iter_init(&iter, query);
  while (g_hash_table_iter_next(&iter, &name, &value))
    g_assert(g_utf8_validate(name, -1, NULL) && g_utf8_validate(value, -1, NULL));
  const char *place[BT_PLACES] = {NULL, NULL};
  bool other_method = false;
  (void)bt__route_find(method, segments, place, &other_method);
}

static void try_request(const char *text, gsize length) {
  static GHashTable *hosts = NULL;
  BtHeaderLine headers[HEADERS_MOST];
  gsize n = 0;
  g_autofree char *copy = g_strndup(text, length);
  g_auto(GStrv) lines = g_strsplit(copy, "\n", HEADERS_MOST + 2);
  guint n_lines = g_strv_length(lines);
  if (!hosts)
    hosts = bt__hosts_of("127.0.0.1");
  for (guint i = 2; i < n_lines && n < HEADERS_MOST; i++) {
    char *colon = strchr(lines[i], ':');
    gsize name_length = colon ? (gsize)(colon - lines[i]) : strlen(lines[i]);
    const char *value = colon ? colon + 1 : NULL;
    headers[n++] = (BtHeaderLine){lines[i], value, name_length, value ? strlen(value) : 0};
  }
  const BtRawRequest raw = {n_lines > 0 ? lines[0] : "", n_lines > 1 ? lines[1] : "", headers, n};
  if (bt__guard(&raw, hosts))
    return;
  check_let_in(raw.method, raw.uri);
  g_assert(bt__content_length(&raw) >= -1);
  const char *cookie = bt__header(&raw, "Cookie");
  g_autofree char *key = cookie ? bt__session_key_of(cookie) : NULL;
  g_assert(!key || strlen(key) == BT_KEY_HEX);
}

static void try_entry(const char *text, gsize length) {
  json_t *json = json_loadb(text, length, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY, NULL);
  if (!json)
    return;
  BtSentEntry entry;
  bt__sent_entry_read(json, &entry);
  g_assert(entry.refused || entry.submission.id);
  g_assert(entry.event.n_details <= BT_DETAILS_MAX);
  gint64 ms = 0;
  g_assert(!entry.event.time || bt_clock_parse(entry.event.time, &ms));
  bt__sent_entry_clear(&entry);
  json_decref(json);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size == 0)
    return 0;
  if (data[0] == '{')
    try_entry((const char *)data, size);
  else
    try_request((const char *)data, size);
  return 0;
}
