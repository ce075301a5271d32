// SPDX-License-Identifier: GPL-3.0-or-later
//
// A request that the guard let in, on its way through the server.
#ifndef SERVE_REQUEST_H
#define SERVE_REQUEST_H

#include <benchtally/account.h>
#include <jansson.h>

#include "serve/answer.h"
#include "serve/writer.h"

typedef struct BtServer BtServer;
typedef struct BtRoute BtRoute;

#define BT_PLACES 2 // wildcards in a route's pattern, at most

typedef struct {
  BtServer *server;
  // As it came.
  char *method;
  char **segments;   // of the path, decoded
  GHashTable *query; // parameters, decoded
  GString *body;
  char *address;       // of the client
  char *key;           // the cookie's value, 64 hex digits; NULL: none
  char *token;         // X-Benchtally-Token; NULL
  char *content_type;  // NULL
  char *if_none_match; // NULL
  // As it is understood.
  const BtRoute *route;
  const char *place[BT_PLACES]; // what the pattern's wildcards stand for; borrowed from segments
  char key_sha256[BT_SHA256_HEX + 1];
  BtLogin *login; // NULL: nobody is logged in
  json_t *json;   // the body of a POST, an object
  BtBook *book;   // lent; NULL: not yet, or not any more
} BtRequest;

BtRequest *bt__request_new(BtServer *server);
void bt__request_free(BtRequest *request); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtRequest, bt__request_free)

// A handle to read with, the request's until it writes or ends. NULL with `error`.
BtBook *bt__request_book(BtRequest *request, GError **error);
// Gives the handle back, so that others can read while this request waits.
void bt__request_rest(BtRequest *request);

// Has the work done by the writer in the name of who asks; what was read from the request's handle
// stays, the handle goes back.
bool bt__request_write(BtRequest *request, BtWork work, gpointer data, GError **error);

// Notes on the book's chain that who asks looked at a record, unless the same login did so in the
// last ten minutes. `trainee` and `session` may be NULL. False with `error`: then it is not to be
// shown.
bool bt__request_note(BtRequest *request, const char *what, const char *trainee,
                      const char *session, GError **error);

// Parameters and members ------------------------------------------------------

// A parameter of the query; NULL: not given, or empty.
const char *bt__param(const BtRequest *request, const char *name);
// A whole number of it, or `otherwise`.
gint64 bt__param_int(const BtRequest *request, const char *name, gint64 otherwise);
// A text of the body; NULL: absent, null or no text.
const char *bt__member(const BtRequest *request, const char *name);
// What the route's first place says as an observation's number; 0: it is none.
gint64 bt__place_id(const BtRequest *request);

bool bt__is_trainee(const BtRequest *request);
bool bt__is_director(const BtRequest *request);

#endif
