// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rubric editions: the list, the form, and putting one in.
#include <benchtally/rubric.h>
#include <string.h>

#include "serve/form_json.h"
#include "serve/route.h"

// The list --------------------------------------------------------------------

static json_t *edition_json(const GPtrArray *editions, guint i) {
  const BtEdition *edition = editions->pdata[i];
  const BtEdition *next = i + 1 < editions->len ? editions->pdata[i + 1] : NULL;
  bool latest = !next || strcmp(next->rubric, edition->rubric) != 0;
  return json_pack("{sssisssisb}", "rubric", edition->rubric, "edition", edition->edition, "title",
                   edition->title, "sessions", edition->sessions, "latest", latest);
}

BtAnswer *bt__handle_rubrics(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtBook *book = bt__request_book(request, &error);
  g_autoptr(GPtrArray) editions = book ? bt_book_editions(book, &error) : NULL;
  if (!editions)
    return bt__answer_error(g_steal_pointer(&error));
  json_t *list = json_array();
  for (guint i = 0; i < editions->len; i++)
    json_array_append_new(list, edition_json(editions, i));
  return bt__answer_json(200, json_pack("{so}", "rubrics", list));
}

// The form --------------------------------------------------------------------

BtAnswer *bt__handle_form(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  gint64 edition = 0;
  if (!g_ascii_string_to_signed(request->place[1], 10, 1, G_MAXINT, &edition, NULL))
    return bt__answer_no_such("rubric");
  BtBook *book = bt__request_book(request, &error);
  const BtRubric *rubric =
      book ? bt_book_rubric(book, request->place[0], (int)edition, &error) : NULL;
  if (error)
    return bt__answer_error(g_steal_pointer(&error));
  return rubric ? bt__answer_json(200, bt__form_json(rubric)) : bt__answer_no_such("rubric");
}

// Putting one in --------------------------------------------------------------

typedef struct {
  const BtRubric *rubric;
  bool added;
} Adding;

static bool add_rubric(BtBook *book, gpointer data, GError **error) {
  Adding *adding = data;
  return bt_book_add_rubric(book, adding->rubric, &adding->added, error);
}

static json_t *warnings_json(const GPtrArray *faults) {
  json_t *list = json_array();
  for (guint i = 0; i < faults->len; i++) {
    const BtFault *fault = faults->pdata[i];
    if (fault->warning)
      json_array_append_new(list,
                            json_pack("{sisissss?}", "line", fault->line, "column", fault->column,
                                      "wrong", fault->wrong, "expected", fault->expected));
  }
  return list;
}

BtAnswer *bt__handle_add_rubric(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  const char *name = bt__member(request, "name");
  const char *text = bt__member(request, "text");
  if (!text)
    return bt__answer_refusal(422, "wrong", "send the rubric's text in `text`");
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtRubric) rubric = bt_rubric_read(text, strlen(text), name, faults);
  if (!rubric)
    return bt__answer_faults("the rubric has faults; nothing was put in the book", faults);
  Adding adding = {rubric, false};
  bool check_only = json_is_true(json_object_get(request->json, "check_only"));
  if (!check_only && !bt__request_write(request, add_rubric, &adding, &error))
    return bt__answer_error(g_steal_pointer(&error));
  return bt__answer_json(adding.added ? 201 : 200,
                         json_pack("{sssisbso}", "rubric", rubric->id, "edition", rubric->edition,
                                   "added", adding.added, "warnings", warnings_json(faults)));
}
