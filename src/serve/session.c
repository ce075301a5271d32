// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/session.h"

#include <sodium.h>
#include <string.h>

#include "serve/server.h"

#define SEEN_EVERY_MS 60000
static const char cookie_name[] = "benchtally";

void bt__session_new_key(char key[BT_KEY_HEX + 1]) {
  guint8 bytes[BT_KEY_HEX / 2];
  randombytes_buf(bytes, sizeof bytes);
  bt_hex(bytes, sizeof bytes, key);
}

static void sha256_of(const char *purpose, const char *key, char sha256[BT_SHA256_HEX + 1]) {
  g_autofree char *text = g_strconcat(purpose, key, NULL);
  guint8 digest[BT_SHA256_BYTES];
  bt_sha256(text, strlen(text), digest);
  bt_hex(digest, sizeof digest, sha256);
}

void bt__session_key_sha256(const char *key, char sha256[BT_SHA256_HEX + 1]) {
  sha256_of("", key, sha256);
}

void bt__session_token(const char *key, char token[BT_SHA256_HEX + 1]) {
  sha256_of("token of ", key, token);
}

bool bt__session_has_token(const BtRequest *request) {
  char token[BT_SHA256_HEX + 1];
  if (!request->key || !request->token || strlen(request->token) != BT_SHA256_HEX)
    return false;
  bt__session_token(request->key, token);
  return sodium_memcmp(token, request->token, BT_SHA256_HEX) == 0;
}

char *bt__session_cookie(const char *key, bool tls) {
  return g_strdup_printf("%s=%s; Path=/; HttpOnly; SameSite=Strict%s; Max-Age=%d", cookie_name, key,
                         tls ? "; Secure" : "", *key ? BT_LOGIN_MS / 1000 : 0);
}

char *bt__session_key_of(const char *cookie_header) {
  g_auto(GStrv) cookies = g_strsplit(cookie_header, ";", -1);
  guint8 bytes[BT_KEY_HEX / 2];
  for (char **cookie = cookies; *cookie; cookie++) {
    const char *pair = g_strstrip(*cookie);
    if (!g_str_has_prefix(pair, cookie_name) || pair[sizeof cookie_name - 1] != '=')
      continue;
    const char *key = pair + sizeof cookie_name;
    if (bt_hex_parse(key, bytes, sizeof bytes))
      return g_strdup(key);
  }
  return NULL;
}

// Finding ---------------------------------------------------------------------

static bool note_seen(BtBook *book, gpointer key_sha256, GError **error) {
  return bt_book_login_seen(book, key_sha256, error);
}

static bool note_use(BtRequest *request, GError **error) {
  gint64 now_ms = g_get_real_time() / 1000;
  if (now_ms - request->login->seen_ms < SEEN_EVERY_MS ||
      bt__lately(request->server->seen, request->key_sha256))
    return true;
  bt__lately_add(request->server->seen, request->key_sha256);
  return bt__request_write(request, note_seen, request->key_sha256, error);
}

bool bt__session_find(BtRequest *request, GError **error) {
  if (!request->key)
    return true;
  bt__session_key_sha256(request->key, request->key_sha256);
  g_autoptr(GError) cause = NULL;
  BtBook *book = bt__request_book(request, error);
  if (!book)
    return false;
  request->login = bt_book_login_find(book, request->key_sha256, &cause);
  if (cause) {
    g_propagate_error(error, g_steal_pointer(&cause));
    return false;
  }
  return !request->login || note_use(request, error);
}
