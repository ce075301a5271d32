// SPDX-License-Identifier: GPL-3.0-or-later
//
// Logging in and out, and one's own secret.
#include "serve/route.h"
#include "serve/server.h"
#include "serve/session.h"

static gint64 monotonic_ms(void) {
  return g_get_monotonic_time() / 1000;
}

static json_t *who_json(const BtLogin *login, const char *key) {
  char token[BT_SHA256_HEX + 1];
  bt__session_token(key, token);
  return json_pack("{ssss?ssss}", "code", login->code, "name", login->name, "role",
                   bt_role_name(login->role), "token", token);
}

// Secrets ---------------------------------------------------------------------

typedef enum { SECRET_RIGHT, SECRET_WRONG, SECRET_BUSY } SecretAnswer;

// Whether it is the secret of the code, within the limits of the door.
static SecretAnswer try_secret(BtRequest *request, const char *code, const char *hash,
                               const char *secret) {
  BtDoor *door = request->server->door;
  if (!bt__door_enter(door))
    return SECRET_BUSY;
  bool right = bt_secret_matches(hash, secret);
  bt__door_leave(door);
  bt__door_tried(door, request->address, code, right, monotonic_ms());
  return right ? SECRET_RIGHT : SECRET_WRONG;
}

static BtAnswer *wait_answer(int wait_s) {
  BtAnswer *answer = bt__answer_refusal(
      429, "wait", "too many wrong tries with this code from here; try again in %d s", wait_s);
  answer->retry_after_s = wait_s;
  return answer;
}

// NULL: right. `wrong` is what is said otherwise.
static BtAnswer *check_secret(BtRequest *request, const char *code, const char *secret, int status,
                              const char *wrong) {
  g_autoptr(GError) error = NULL;
  int wait_s = bt__door_wait_s(request->server->door, request->address, code, monotonic_ms());
  if (wait_s > 0)
    return wait_answer(wait_s);
  BtBook *book = bt__request_book(request, &error);
  g_autofree char *hash = book ? bt_book_account(book, code, &error) : NULL;
  bt__request_rest(request);
  if (error)
    return bt__answer_error(g_steal_pointer(&error));
  switch (try_secret(request, code, hash, secret)) {
  case SECRET_RIGHT:
    return NULL;
  case SECRET_BUSY:
    return wait_answer(1);
  default:
    return bt__answer_refusal(status, "secret", "%s", wrong);
  }
}

// Logging in ------------------------------------------------------------------

typedef struct {
  const char *code;
  char key_sha256[BT_SHA256_HEX + 1];
} NewLogin;

static bool add_login(BtBook *book, gpointer data, GError **error) {
  const NewLogin *login = data;
  return bt_book_login_add(book, login->key_sha256, login->code, error);
}

static BtAnswer *log_in(BtRequest *request, const char *code) {
  g_autoptr(GError) error = NULL;
  char key[BT_KEY_HEX + 1];
  NewLogin login = {.code = code};
  bt__session_new_key(key);
  bt__session_key_sha256(key, login.key_sha256);
  if (!bt__writer_do(request->server->writer, code, add_login, &login, &error))
    return bt__answer_error(g_steal_pointer(&error));
  BtBook *book = bt__request_book(request, &error);
  g_autoptr(BtLogin) found = book ? bt_book_login_find(book, login.key_sha256, &error) : NULL;
  if (!found)
    return bt__answer_error(g_steal_pointer(&error));
  BtAnswer *answer = bt__answer_json(200, who_json(found, key));
  answer->cookie = bt__session_cookie(key, request->server->tls);
  return answer;
}

BtAnswer *bt__handle_login(BtRequest *request) {
  const char *code = bt__member(request, "code");
  const char *secret = bt__member(request, "secret");
  if (!code || !secret || strlen(secret) > BT_SECRET_BYTES_MAX || !bt_code_valid(code))
    return bt__answer_refusal(401, "secret", "the code or the secret is wrong; try again");
  BtAnswer *refusal =
      check_secret(request, code, secret, 401, "the code or the secret is wrong; try again");
  return refusal ? refusal : log_in(request, code);
}

static bool drop_login(BtBook *book, gpointer key_sha256, GError **error) {
  return bt_book_login_drop(book, key_sha256, error);
}

BtAnswer *bt__handle_logout(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  if (!bt__request_write(request, drop_login, request->key_sha256, &error))
    return bt__answer_error(g_steal_pointer(&error));
  BtAnswer *answer = bt__answer_done();
  answer->cookie = bt__session_cookie("", request->server->tls);
  return answer;
}

BtAnswer *bt__handle_me(BtRequest *request) {
  json_t *who = who_json(request->login, request->key);
  json_object_set_new(who, "now_ms", json_integer(g_get_real_time() / 1000));
  return bt__answer_json(200, who);
}

// One's own secret ------------------------------------------------------------

typedef struct {
  const char *code, *hash, *keep;
} NewSecret;

static bool set_secret(BtBook *book, gpointer data, GError **error) {
  const NewSecret *secret = data;
  return bt_book_set_account(book, secret->code, secret->hash, secret->keep, error);
}

BtAnswer *bt__set_secret(BtRequest *request, const char *code, BtRole role, const char *secret,
                         const char *keep_key_sha256) {
  g_autoptr(GError) error = NULL;
  if (!bt_secret_fits(role, secret, &error))
    return bt__answer_error(g_steal_pointer(&error));
  if (!bt__door_enter(request->server->door))
    return wait_answer(1);
  g_autofree char *hash = bt_secret_hash(secret, &error);
  bt__door_leave(request->server->door);
  NewSecret change = {code, hash, keep_key_sha256};
  if (!hash || !bt__request_write(request, set_secret, &change, &error))
    return bt__answer_error(g_steal_pointer(&error));
  return bt__answer_done();
}

BtAnswer *bt__handle_secret(BtRequest *request) {
  const char *old = bt__member(request, "old");
  const char *new = bt__member(request, "new");
  const BtLogin *login = request->login;
  if (!old || !new || strlen(old) > BT_SECRET_BYTES_MAX)
    return bt__answer_refusal(422, "wrong", "give the present secret and the new one");
  BtAnswer *refusal = check_secret(request, login->code, old, 403, "the present secret is wrong");
  return refusal ? refusal
                 : bt__set_secret(request, login->code, login->role, new, request->key_sha256);
}
