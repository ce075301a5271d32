// SPDX-License-Identifier: GPL-3.0-or-later
//
// A certificate of the lab's own. The key of the authority that signs it is thrown away: tablets
// that trust it trust this one server, and nobody can make another in its name.
#include <arpa/inet.h>
#include <glib/gstdio.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <netinet/in.h>
#include <sodium.h>
#include <string.h>
#include <time.h>

#include "serve/hosts.h"
#include "serve/serve.h"

#define DAYS          825 // as long as browsers accept at most, of one that people install
#define SERIAL_BYTES  16
#define SECONDS_A_DAY (24 * 60 * 60)

typedef struct {
  gnutls_x509_privkey_t key;
  gnutls_x509_crt_t crt;
} Signed;

static void signed_clear(Signed *it) {
  if (it->crt)
    gnutls_x509_crt_deinit(it->crt);
  if (it->key)
    gnutls_x509_privkey_deinit(it->key);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Signed, signed_clear)

// Making ----------------------------------------------------------------------

static bool make_key(Signed *it) {
  return gnutls_x509_privkey_init(&it->key) == 0 && gnutls_x509_crt_init(&it->crt) == 0 &&
         gnutls_x509_privkey_generate(it->key, GNUTLS_PK_ECDSA,
                                      GNUTLS_CURVE_TO_BITS(GNUTLS_ECC_CURVE_SECP256R1), 0) == 0;
}

static bool set_common(Signed *it, const char *name) {
  guint8 serial[SERIAL_BYTES];
  randombytes_buf(serial, sizeof serial);
  serial[0] &= 0x7f; // no sign
  time_t now = time(NULL);
  return gnutls_x509_crt_set_version(it->crt, 3) == 0 &&
         gnutls_x509_crt_set_key(it->crt, it->key) == 0 &&
         gnutls_x509_crt_set_serial(it->crt, serial, sizeof serial) == 0 &&
         gnutls_x509_crt_set_activation_time(it->crt, now - SECONDS_A_DAY) == 0 &&
         gnutls_x509_crt_set_expiration_time(it->crt, now + (time_t)DAYS * SECONDS_A_DAY) == 0 &&
         gnutls_x509_crt_set_dn_by_oid(it->crt, GNUTLS_OID_X520_COMMON_NAME, 0, name,
                                       (unsigned)strlen(name)) == 0;
}

static bool make_authority(Signed *ca) {
  g_autofree char *name = g_strdup_printf("Benchtally lab %s", g_get_host_name());
  return make_key(ca) && set_common(ca, name) && gnutls_x509_crt_set_ca_status(ca->crt, 1) == 0 &&
         gnutls_x509_crt_set_key_usage(ca->crt, GNUTLS_KEY_KEY_CERT_SIGN) == 0 &&
         gnutls_x509_crt_sign2(ca->crt, ca->crt, ca->key, GNUTLS_DIG_SHA256, 0) == 0;
}

// A name, or an address in its bytes.
static bool add_host(gnutls_x509_crt_t crt, const char *host) {
  guint8 bytes[sizeof(struct in6_addr)];
  unsigned length = inet_pton(AF_INET, host, bytes) == 1    ? 4
                    : inet_pton(AF_INET6, host, bytes) == 1 ? 16
                                                            : 0;
  if (length > 0)
    return gnutls_x509_crt_set_subject_alt_name(crt, GNUTLS_SAN_IPADDRESS, bytes, length,
                                                GNUTLS_FSAN_APPEND) == 0;
  return gnutls_x509_crt_set_subject_alt_name(crt, GNUTLS_SAN_DNSNAME, host, (unsigned)strlen(host),
                                              GNUTLS_FSAN_APPEND) == 0;
}

static bool add_hosts(gnutls_x509_crt_t crt) {
  g_autoptr(GHashTable) hosts = bt__hosts_of("0.0.0.0");
  GHashTableIter iter;
  gpointer host = NULL;
  bool added = true;
  g_hash_table_iter_init(&iter, hosts);
  while (added && g_hash_table_iter_next(&iter, &host, NULL))
    added = add_host(crt, host);
  return added;
}

static bool make_server(Signed *server, const Signed *ca) {
  return make_key(server) && set_common(server, g_get_host_name()) && add_hosts(server->crt) &&
         gnutls_x509_crt_set_ca_status(server->crt, 0) == 0 &&
         gnutls_x509_crt_set_key_usage(server->crt, GNUTLS_KEY_DIGITAL_SIGNATURE) == 0 &&
         gnutls_x509_crt_set_key_purpose_oid(server->crt, GNUTLS_KP_TLS_WWW_SERVER, 0) == 0 &&
         gnutls_x509_crt_sign2(server->crt, ca->crt, ca->key, GNUTLS_DIG_SHA256, 0) == 0;
}

// Writing ---------------------------------------------------------------------

// Takes `pem` over. False with `error`: CONFLICT when the file is there, DISK.
static bool write_pem(const char *folder, const char *name, gnutls_datum_t *pem, GError **error) {
  g_autofree char *path = g_build_filename(folder, name, NULL);
  bool there = g_file_test(path, G_FILE_TEST_EXISTS);
  if (there)
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "%s: this file exists and is not overwritten; name another folder", path);
  bool done = !there && pem->data && bt_file_write(path, pem->data, pem->size, error);
  gnutls_free(pem->data);
  pem->data = NULL;
  return done;
}

static bool write_certificate(const char *folder, const char *name, const Signed *it,
                              GError **error) {
  gnutls_datum_t pem = {0};
  (void)gnutls_x509_crt_export2(it->crt, GNUTLS_X509_FMT_PEM, &pem);
  return write_pem(folder, name, &pem, error);
}

static bool write_key(const char *folder, const char *name, const Signed *it, GError **error) {
  gnutls_datum_t pem = {0};
  g_autofree char *path = g_build_filename(folder, name, NULL);
  (void)gnutls_x509_privkey_export2_pkcs8(it->key, GNUTLS_X509_FMT_PEM, NULL, GNUTLS_PKCS_PLAIN,
                                          &pem);
  return write_pem(folder, name, &pem, error) && g_chmod(path, 0600) == 0;
}

bool bt_serve_make_certificate(const char *folder, GError **error) {
  g_auto(Signed) ca = {0};
  g_auto(Signed) server = {0};
  if (g_mkdir_with_parents(folder, 0700) != 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_DISK, "%s: the folder cannot be made", folder);
    return false;
  }
  if (!make_authority(&ca) || !make_server(&server, &ca)) {
    g_set_error(error, BT_ERROR, BT_ERROR_EXPORT, "the certificate could not be made");
    return false;
  }
  return write_key(folder, "server.key", &server, error) &&
         write_certificate(folder, "server.pem", &server, error) &&
         write_certificate(folder, "lab-ca.pem", &ca, error);
}
