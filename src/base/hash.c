// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/base.h>

#include <openssl/evp.h>
#include <sodium.h>
#include <string.h>

G_STATIC_ASSERT(BT_SHA256_BYTES == crypto_hash_sha256_BYTES);

static void free_hasher(gpointer hasher) {
  EVP_MD_CTX_free(hasher);
}

// One a thread, set up once: a book makes two hashes an event.
static EVP_MD_CTX *get_hasher(void) {
  static GPrivate key = G_PRIVATE_INIT(free_hasher);
  EVP_MD_CTX *hasher = g_private_get(&key);
  if (hasher)
    return hasher;
  hasher = EVP_MD_CTX_new();
  if (!hasher || !EVP_DigestInit_ex(hasher, EVP_sha256(), NULL)) {
    EVP_MD_CTX_free(hasher);
    return NULL;
  }
  g_private_set(&key, hasher);
  return hasher;
}

// libcrypto uses the processor's own SHA instructions, which is three times as fast; libsodium
// stands in where a policy of the machine takes the hash away from it.
void bt_sha256(const void *data, gsize length, guint8 digest[BT_SHA256_BYTES]) {
  EVP_MD_CTX *hasher = get_hasher();
  if (!hasher || !EVP_DigestInit_ex(hasher, NULL, NULL) ||
      !EVP_DigestUpdate(hasher, data, length) || !EVP_DigestFinal_ex(hasher, digest, NULL))
    crypto_hash_sha256(digest, data, length);
}

void bt_hex(const guint8 *bytes, gsize n, char *hex) {
  sodium_bin2hex(hex, n * 2 + 1, bytes, n);
}

bool bt_hex_parse(const char *hex, guint8 *bytes, gsize n) {
  for (gsize i = 0; i < n; i++) {
    int high = g_ascii_xdigit_value(hex[2 * i]);
    int low = high < 0 ? -1 : g_ascii_xdigit_value(hex[2 * i + 1]);
    if (low < 0 || g_ascii_isupper(hex[2 * i]) || g_ascii_isupper(hex[2 * i + 1]))
      return false;
    bytes[i] = (guint8)(high * 16 + low);
  }
  return !hex[2 * n];
}

static bool needs_escape(unsigned char c) {
  return c < 0x20 || c == '"' || c == '\\';
}

// Most strings are plain; they are copied in one piece.
static bool append_plain(GString *out, const char *text) {
  gsize n = 0;
  while (!needs_escape((unsigned char)text[n]))
    n++;
  if (text[n])
    return false;
  gsize at = out->len;
  g_string_set_size(out, at + n + 2);
  out->str[at] = '"';
  memcpy(out->str + at + 1, text, n);
  out->str[at + n + 1] = '"';
  return true;
}

// RFC 8785 section 3.2.2.2.
void bt_json_append_string(GString *out, const char *text) {
  if (append_plain(out, text))
    return;
  g_string_append_c(out, '"');
  const char *plain = text;
  const char *p = text;
  for (; *p; p++) {
    unsigned char c = (unsigned char)*p;
    if (!needs_escape(c))
      continue;
    g_string_append_len(out, plain, p - plain);
    plain = p + 1;
    switch (c) {
    case '"':
      g_string_append(out, "\\\"");
      break;
    case '\\':
      g_string_append(out, "\\\\");
      break;
    case '\b':
      g_string_append(out, "\\b");
      break;
    case '\t':
      g_string_append(out, "\\t");
      break;
    case '\n':
      g_string_append(out, "\\n");
      break;
    case '\f':
      g_string_append(out, "\\f");
      break;
    case '\r':
      g_string_append(out, "\\r");
      break;
    default:
      g_string_append_printf(out, "\\u%04x", c);
    }
  }
  g_string_append_len(out, plain, p - plain);
  g_string_append_c(out, '"');
}
