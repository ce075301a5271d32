// SPDX-License-Identifier: GPL-3.0-or-later
//
// Who may use the web service, and who is logged in. A secret is a passphrase or, for assessors and
// trainees, a lab PIN; the book keeps only its argon2id string. Setting and removing an account is
// on the book's chain; logins come and go and are not.
//
// No argument may be NULL unless it says so, save `error`; errors as in book.h.
#ifndef BENCHTALLY_ACCOUNT_H
#define BENCHTALLY_ACCOUNT_H

#include <benchtally/book.h>

G_BEGIN_DECLS

// Secrets ---------------------------------------------------------------------

#define BT_SECRET_CHARACTERS_LEAST 10 // of a passphrase
#define BT_SECRET_PIN_LEAST        6  // digits of a lab PIN
#define BT_SECRET_BYTES_MAX        256

// Whether `secret` may be that of a person of this role. OPTION says what is asked for.
BT_API BT_MUST_USE bool bt_secret_fits(BtRole role, const char *secret, GError **error);
// The argon2id string of a secret; takes 64 MiB and some 50 ms, on purpose. NULL with `error`
// (DATABASE) when memory ran out. Caller frees.
BT_API BT_MUST_USE char *bt_secret_hash(const char *secret, GError **error);
// Whether the string was made of this secret. A NULL string takes as long and matches nothing, so
// that the time does not tell whether there is an account.
BT_API BT_MUST_USE bool bt_secret_matches(const char *hash, const char *secret);

// Accounts --------------------------------------------------------------------

// Gives the person an account, or a new secret, by its argon2id string; every login but that of
// `keep_key_sha256` (NULL: every one) ends. UNKNOWN: no such person.
BT_API BT_MUST_USE bool bt_book_set_account(BtBook *book, const char *code, const char *hash,
                                            const char *keep_key_sha256, GError **error);
// Takes the account away and ends its logins; *removed (may be NULL) is false when there was none.
BT_API BT_MUST_USE bool bt_book_remove_account(BtBook *book, const char *code, bool *removed,
                                               GError **error);
// The argon2id string of the account; NULL without `error`: none. Caller frees.
BT_API BT_MUST_USE char *bt_book_account(BtBook *book, const char *code, GError **error);
// The codes that have an account, of any role or (not -1) of `role`, as the keys. Caller frees.
BT_API BT_MUST_USE GHashTable *bt_book_accounts(BtBook *book, int role, GError **error);

// Logins ----------------------------------------------------------------------

#define BT_LOGIN_MS      (12 * 60 * 60 * 1000) // how long one lasts
#define BT_LOGIN_IDLE_MS (2 * 60 * 60 * 1000)  // and how long without being seen

typedef struct {
  char *code, *name; // name NULL: none was given
  BtRole role;
  gint64 seen_ms;
} BtLogin;
BT_API void bt_login_free(BtLogin *login); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtLogin, bt_login_free)

// Notes a login by the SHA-256 (hex) of its key, which the book never sees. CONFLICT: no account.
BT_API BT_MUST_USE bool bt_book_login_add(BtBook *book, const char *key_sha256, const char *code,
                                          GError **error);
// The login of the key; NULL without `error` when there is none, or no longer. Caller frees.
BT_API BT_MUST_USE BtLogin *bt_book_login_find(BtBook *book, const char *key_sha256,
                                               GError **error);
// Notes that it is in use.
BT_API BT_MUST_USE bool bt_book_login_seen(BtBook *book, const char *key_sha256, GError **error);
// Ends it; it may be gone already.
BT_API BT_MUST_USE bool bt_book_login_drop(BtBook *book, const char *key_sha256, GError **error);

G_END_DECLS
#endif
