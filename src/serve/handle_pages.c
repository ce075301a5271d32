// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/route.h"
#include "serve/server.h"

static BtAnswer *file_answer(BtRequest *request, const char *name) {
  BtAnswer *answer = bt__pages_answer(request->server->pages, name, request->if_none_match);
  return answer ? answer : bt__answer_no_such("page");
}

// "/capture" is the file capture.html, "/" is home.html.
BtAnswer *bt__handle_page(BtRequest *request) {
  const char *page = request->segments[0];
  g_autofree char *name = g_strconcat(*page ? page : "home", ".html", NULL);
  return file_answer(request, name);
}

BtAnswer *bt__handle_page_file(BtRequest *request) {
  return file_answer(request, request->place[0]);
}
