// SPDX-License-Identifier: GPL-3.0-or-later
//
// From request to answer: the route, who asks, whether they may, and then the handler.
#include <string.h>

#include "serve/route.h"
#include "serve/server.h"
#include "serve/session.h"

static BtAnswer *find_route(BtRequest *request) {
  bool other_method = false;
  request->route =
      bt__route_find(request->method, request->segments, request->place, &other_method);
  if (request->route)
    return NULL;
  if (other_method)
    return bt__answer_refusal(405, "method", "this address does not take %s", request->method);
  return bt__answer_no_such("page");
}

static BtAnswer *refuse_stranger(BtRequest *request) {
  if (request->route->flags & BT_IS_PAGE) {
    BtAnswer *form = bt__pages_answer(request->server->pages, "login.html", NULL);
    g_clear_pointer(&form->etag, g_free); // the address will show something else
    return form;
  }
  return bt__answer_refusal(401, "login", "nobody is logged in here; log in first");
}

// NULL: who asks may ask.
static BtAnswer *check_role(BtRequest *request) {
  if (request->route->flags & BT_FOR_ALL)
    return NULL;
  if (!request->login)
    return refuse_stranger(request);
  if (bt__route_is_for(request->route, request->login->role))
    return NULL;
  return bt__answer_refusal(403, "role", "this is not for %ss", bt_role_name(request->login->role));
}

static bool is_json_type(const char *type) {
  static const char json[] = "application/json";
  gsize length = sizeof json - 1;
  return type && g_ascii_strncasecmp(type, json, length) == 0 &&
         (type[length] == '\0' || type[length] == ';' || type[length] == ' ');
}

// A POST carries an object, and the token where somebody is logged in by a cookie.
static BtAnswer *check_post(BtRequest *request) {
  if (strcmp(request->method, "POST") != 0)
    return NULL;
  if (!(request->route->flags & BT_FOR_ALL) && !bt__session_has_token(request))
    return bt__answer_refusal(403, "token", "the request lacks its token; reload the page");
  if (!is_json_type(request->content_type))
    return bt__answer_refusal(415, "type", "send application/json");
  json_error_t fault;
  request->json =
      json_loadb(request->body->str, request->body->len, JSON_REJECT_DUPLICATES, &fault);
  if (json_is_object(request->json))
    return NULL;
  return bt__answer_refusal(400, "json", "the body is no JSON object: line %d, column %d: %s",
                            fault.line, fault.column,
                            request->json ? "an object was expected" : fault.text);
}

BtAnswer *bt__serve(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtAnswer *answer = find_route(request);
  if (!answer && !bt__session_find(request, &error))
    answer = bt__answer_error(g_steal_pointer(&error));
  if (!answer)
    answer = check_role(request);
  if (!answer)
    answer = check_post(request);
  if (!answer)
    answer = request->route->handle(request);
  bt__request_rest(request);
  return answer;
}
