// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/bench.h"
#include "serve/route.h"
#include "serve/server.h"

// NULL with `error`.
static json_t *benches_json(BtRequest *request, GError **error) {
  BtBook *book = bt__request_book(request, error);
  g_autoptr(GPtrArray) rows =
      book ? bt_book_sessions(book, &(BtSessionFilter){.open_only = true}, error) : NULL;
  json_t *benches = rows ? json_array() : NULL;
  for (guint i = 0; rows && i < rows->len; i++) {
    g_autoptr(GError) cause = NULL;
    g_autoptr(BtBench) bench = bt__bench_new(book, request->server->stations,
                                             ((const BtSessionRow *)rows->pdata[i])->id, &cause);
    if (cause) {
      json_decref(benches);
      g_propagate_error(error, g_steal_pointer(&cause));
      return NULL;
    }
    if (bench && bench->json && bt__bench_is_for(bench, request->login->code))
      json_array_append(benches, bench->json);
  }
  return benches;
}

BtAnswer *bt__handle_board(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  json_t *benches =
      bt__request_note(request, "board", NULL, NULL, &error) ? benches_json(request, &error) : NULL;
  return benches ? bt__answer_json(200, json_pack("{so}", "benches", benches))
                 : bt__answer_error(g_steal_pointer(&error));
}

BtAnswer *bt__handle_live(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  if (!bt__request_note(request, "board", NULL, NULL, &error))
    return bt__answer_error(g_steal_pointer(&error));
  return bt__live_answer(request->server->live, request->login->code);
}
