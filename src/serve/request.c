// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/request.h"

#include <string.h>

#include "serve/server.h"

BtRequest *bt__request_new(BtServer *server) {
  BtRequest *request = g_new0(BtRequest, 1);
  request->server = server;
  request->body = g_string_new(NULL);
  return request;
}

void bt__request_free(BtRequest *request) {
  if (!request)
    return;
  bt__request_rest(request);
  g_free(request->method);
  g_strfreev(request->segments);
  g_clear_pointer(&request->query, g_hash_table_unref);
  g_string_free(request->body, TRUE);
  g_free(request->address);
  g_free(request->key);
  g_free(request->token);
  g_free(request->content_type);
  g_free(request->if_none_match);
  bt_login_free(request->login);
  json_decref(request->json);
  g_free(request);
}

// The book --------------------------------------------------------------------

BtBook *bt__request_book(BtRequest *request, GError **error) {
  if (!request->book)
    request->book = bt__readers_lend(request->server->readers, error);
  return request->book;
}

void bt__request_rest(BtRequest *request) {
  if (request->book)
    bt__readers_take_back(request->server->readers, g_steal_pointer(&request->book));
}

bool bt__request_write(BtRequest *request, BtWork work, gpointer data, GError **error) {
  bt__request_rest(request);
  const char *actor = request->login ? request->login->code : "serve";
  return bt__writer_do(request->server->writer, actor, work, data, error);
}

typedef struct {
  const char *what, *trainee, *session;
} Look;

static bool note_look(BtBook *book, gpointer data, GError **error) {
  const Look *look = data;
  return bt_book_note_access(book, look->what, look->trainee, look->session, error);
}

bool bt__request_note(BtRequest *request, const char *what, const char *trainee,
                      const char *session, GError **error) {
  g_autofree char *key = g_strjoin(" ", request->key_sha256, what, trainee ? trainee : "-",
                                   session ? session : "-", NULL);
  if (bt__lately(request->server->looks, key))
    return true;
  Look look = {what, trainee, session};
  if (!bt__request_write(request, note_look, &look, error))
    return false;
  bt__lately_add(request->server->looks, key);
  return true;
}

// Parameters and members ------------------------------------------------------

const char *bt__param(const BtRequest *request, const char *name) {
  const char *value = g_hash_table_lookup(request->query, name);
  return value && *value ? value : NULL;
}

gint64 bt__param_int(const BtRequest *request, const char *name, gint64 otherwise) {
  const char *text = bt__param(request, name);
  gint64 number = 0;
  return text && g_ascii_string_to_signed(text, 10, 0, G_MAXINT64, &number, NULL) ? number
                                                                                  : otherwise;
}

const char *bt__member(const BtRequest *request, const char *name) {
  return json_string_value(json_object_get(request->json, name));
}

gint64 bt__place_id(const BtRequest *request) {
  gint64 id = 0;
  return g_ascii_string_to_signed(request->place[0], 10, 1, G_MAXINT64, &id, NULL) ? id : 0;
}

bool bt__is_trainee(const BtRequest *request) {
  return request->login && request->login->role == BT_ROLE_TRAINEE;
}

bool bt__is_director(const BtRequest *request) {
  return request->login && request->login->role == BT_ROLE_DIRECTOR;
}
