// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/base.h>

#include <openssl/evp.h>
#include <sodium.h>

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
