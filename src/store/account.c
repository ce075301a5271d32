// SPDX-License-Identifier: GPL-3.0-or-later
//
// Accounts and logins.
#include <benchtally/account.h>

#include <sodium.h>
#include <string.h>

#include "store/store.h"

// Secrets ---------------------------------------------------------------------

static bool is_pin(const char *secret) {
  return strspn(secret, "0123456789") == strlen(secret);
}

bool bt_secret_fits(BtRole role, const char *secret, GError **error) {
  bool text = strlen(secret) <= BT_SECRET_BYTES_MAX && g_utf8_validate(secret, -1, NULL);
  bool pin =
      text && role != BT_ROLE_DIRECTOR && is_pin(secret) && strlen(secret) >= BT_SECRET_PIN_LEAST;
  if (pin || (text && !is_pin(secret) && g_utf8_strlen(secret, -1) >= BT_SECRET_CHARACTERS_LEAST))
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_OPTION,
              "this secret will not do; use a passphrase of %d %s", BT_SECRET_CHARACTERS_LEAST,
              role == BT_ROLE_DIRECTOR ? "characters or more, not digits alone"
                                       : "characters or more, or a lab PIN of 6 digits or more");
  return false;
}

char *bt_secret_hash(const char *secret, GError **error) {
  char hash[crypto_pwhash_STRBYTES];
  if (crypto_pwhash_str(hash, secret, strlen(secret), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                        crypto_pwhash_MEMLIMIT_INTERACTIVE) == 0)
    return g_strdup(hash);
  g_set_error(error, BT_ERROR, BT_ERROR_DATABASE,
              "memory ran out while a secret was hashed; try again");
  return NULL;
}

// Of a secret that nobody has, with the same cost as those that bt_secret_hash makes.
static const char nobodys_hash[] = "$argon2id$v=19$m=65536,t=2,p=1$QmVuY2h0YWxseU5vYm9keQ$"
                                   "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

bool bt_secret_matches(const char *hash, const char *secret) {
  bool same = crypto_pwhash_str_verify(hash ? hash : nobodys_hash, secret, strlen(secret)) == 0;
  return hash && same;
}

// Accounts --------------------------------------------------------------------

static const BtSql put_account = {"set the account",
                                  "INSERT INTO account(code, secret, set_ms) VALUES (?1, ?2, ?3) "
                                  "ON CONFLICT(code) DO UPDATE SET secret = ?2, set_ms = ?3"};
static const BtSql drop_account = {"remove the account", "DELETE FROM account WHERE code = ?1"};
static const BtSql drop_logins = {
    "end the logins", "DELETE FROM login WHERE code = ?1 AND (?2 IS NULL OR key_sha256 <> ?2)"};
static const BtSql one_account = {"look the account up",
                                  "SELECT secret FROM account WHERE code = ?1"};
static const BtSql list_accounts = {
    "list the accounts", "SELECT a.code FROM account AS a JOIN person AS p ON p.code = a.code "
                         "WHERE ?1 IS NULL OR p.role = ?1"};

static bool check_person(BtBook *book, const char *code, GError **error) {
  g_autoptr(GError) cause = NULL;
  g_autoptr(BtPerson) person = bt_book_person(book, code, &cause);
  if (cause)
    g_propagate_error(error, g_steal_pointer(&cause));
  else if (!person)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "no person \"%s\" in the book; `benchtally person add` puts people in", code);
  return person != NULL;
}

static bool set_account(BtBook *book, const char *code, const char *hash, const char *keep,
                        GError **error) {
  gint64 now_ms = bt__now_ms(book);
  char secret_sha256[BT_SHA256_HEX + 1];
  bt__text_sha256(hash, secret_sha256);
  const BtMember body[] = {MEMBER_TEXT("code", code), MEMBER_TEXT("secret_sha256", secret_sha256),
                           MEMBER_INT("set_ms", now_ms)};
  return check_person(book, code, error) &&
         bt__run(book->db, &put_account, error, ARGS(TEXT(code), TEXT(hash), INT(now_ms))) &&
         bt__run(book->db, &drop_logins, error, ARGS(TEXT(code), TEXT(keep))) &&
         bt__book_note(book, "account_set", body, G_N_ELEMENTS(body), error);
}

bool bt_book_set_account(BtBook *book, const char *code, const char *hash,
                         const char *keep_key_sha256, GError **error) {
  return bt__begin(book, error) &&
         bt__end(book, set_account(book, code, hash, keep_key_sha256, error), error);
}

static bool remove_account(BtBook *book, const char *code, bool *removed, GError **error) {
  g_autoptr(GError) cause = NULL;
  g_autofree char *known = bt_book_account(book, code, &cause);
  *removed = known != NULL;
  if (cause)
    g_propagate_error(error, g_steal_pointer(&cause));
  if (!known)
    return !cause;
  const BtMember body[] = {MEMBER_TEXT("code", code)};
  return bt__run(book->db, &drop_logins, error, ARGS(TEXT(code), TEXT(NULL))) &&
         bt__run(book->db, &drop_account, error, ARGS(TEXT(code))) &&
         bt__book_note(book, "account_removed", body, G_N_ELEMENTS(body), error);
}

bool bt_book_remove_account(BtBook *book, const char *code, bool *removed, GError **error) {
  bool did = false;
  bool done =
      bt__begin(book, error) && bt__end(book, remove_account(book, code, &did, error), error);
  if (removed)
    *removed = done && did;
  return done;
}

char *bt_book_account(BtBook *book, const char *code, GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &one_account, error, ARGS(TEXT(code)));
  return query && bt__step(query, error) == 1 ? bt__text_dup(query, 0) : NULL;
}

GHashTable *bt_book_accounts(BtBook *book, int role, GError **error) {
  g_autoptr(GHashTable) codes = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  g_autoptr(BtQuery) query = bt__query(book->db, &list_accounts, error,
                                       ARGS(TEXT(role < 0 ? NULL : bt_role_name((BtRole)role))));
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    g_hash_table_add(codes, bt__text_dup(query, 0));
  return row == 0 ? g_steal_pointer(&codes) : NULL;
}

// Logins ----------------------------------------------------------------------

static const BtSql add_login = {"note the login",
                                "INSERT INTO login(key_sha256, code, made_ms, seen_ms, expires_ms) "
                                "VALUES (?1, ?2, ?3, ?3, ?4)"};
static const BtSql drop_old_logins = {"end old logins",
                                      "DELETE FROM login WHERE expires_ms <= ?1 OR seen_ms <= ?2"};
static const BtSql one_login = {"look the login up",
                                "SELECT l.code, n.name, p.role, l.seen_ms FROM login AS l "
                                "JOIN person AS p ON p.code = l.code "
                                "LEFT JOIN person_name AS n ON n.code = l.code "
                                "WHERE l.key_sha256 = ?1 AND l.expires_ms > ?2 AND l.seen_ms > ?3"};
static const BtSql see_login = {"note the login's use",
                                "UPDATE login SET seen_ms = ?2 WHERE key_sha256 = ?1"};
static const BtSql drop_login = {"end the login", "DELETE FROM login WHERE key_sha256 = ?1"};

void bt_login_free(BtLogin *login) {
  if (!login)
    return;
  g_free(login->code);
  g_free(login->name);
  g_free(login);
}

static bool login_add(BtBook *book, const char *key_sha256, const char *code, GError **error) {
  gint64 now_ms = bt__now_ms(book);
  return bt__run(book->db, &drop_old_logins, error,
                 ARGS(INT(now_ms), INT(now_ms - BT_LOGIN_IDLE_MS))) &&
         bt__run(book->db, &add_login, error,
                 ARGS(TEXT(key_sha256), TEXT(code), INT(now_ms), INT(now_ms + BT_LOGIN_MS)));
}

bool bt_book_login_add(BtBook *book, const char *key_sha256, const char *code, GError **error) {
  return bt__begin(book, error) && bt__end(book, login_add(book, key_sha256, code, error), error);
}

BtLogin *bt_book_login_find(BtBook *book, const char *key_sha256, GError **error) {
  gint64 now_ms = bt__now_ms(book);
  g_autoptr(BtQuery) query =
      bt__query(book->db, &one_login, error,
                ARGS(TEXT(key_sha256), INT(now_ms), INT(now_ms - BT_LOGIN_IDLE_MS)));
  if (!query || bt__step(query, error) != 1)
    return NULL;
  BtLogin *login = g_new(BtLogin, 1);
  int role = bt_role_from_name(bt__text(query, 2));
  *login = (BtLogin){.code = bt__text_dup(query, 0),
                     .name = bt__text_dup(query, 1),
                     .role = role < 0 ? BT_ROLE_TRAINEE : (BtRole)role,
                     .seen_ms = bt__int(query, 3)};
  return login;
}

bool bt_book_login_seen(BtBook *book, const char *key_sha256, GError **error) {
  return bt__begin(book, error) && bt__end(book,
                                           bt__run(book->db, &see_login, error,
                                                   ARGS(TEXT(key_sha256), INT(bt__now_ms(book)))),
                                           error);
}

bool bt_book_login_drop(BtBook *book, const char *key_sha256, GError **error) {
  return bt__begin(book, error) &&
         bt__end(book, bt__run(book->db, &drop_login, error, ARGS(TEXT(key_sha256))), error);
}
