// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/access.h"

#include <string.h>

static bool is_own(const BtLogin *login, const BtSessionRow *row) {
  return strcmp(row->assessor, login->code) == 0;
}

BtSight bt__sight_of(const BtLogin *login, const GPtrArray *rows, bool looked) {
  bool trainee = login->role == BT_ROLE_TRAINEE;
  bool own_closed = false;
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    if (trainee && strcmp(row->trainee, login->code) != 0)
      return BT_SIGHT_NONE;
    if (is_own(login, row) && !row->closed)
      return BT_SIGHT_OWN_OPEN;
    own_closed |= is_own(login, row);
  }
  return trainee && !own_closed && !looked ? BT_SIGHT_OWN_FIRST : BT_SIGHT_CLEAR;
}

bool bt__may_see(const BtLogin *login, const BtSessionRow *row, BtSight sight) {
  if (sight == BT_SIGHT_NONE)
    return false;
  if (is_own(login, row))
    return true;
  return sight == BT_SIGHT_CLEAR && (login->role != BT_ROLE_TRAINEE || row->closed);
}

static BtAnswer *refuse_sight(BtSight sight, const char *what) {
  switch (sight) {
  case BT_SIGHT_NONE:
    return bt__answer_no_such(what);
  case BT_SIGHT_OWN_OPEN:
    return bt__answer_refusal(403, "blind",
                              "your own observation of this session is open; close it first, then "
                              "others can be seen");
  case BT_SIGHT_OWN_FIRST:
    return bt__answer_refusal(403, "blind",
                              "observe your own session first, or say that you will not; then the "
                              "assessor's record can be seen");
  default:
    return bt__answer_refusal(403, "open", "this observation is not closed yet");
  }
}

// Looking up ------------------------------------------------------------------

static GPtrArray *session_rows(BtRequest *request, const char *code, bool *looked, GError **error) {
  BtBook *book = bt__request_book(request, error);
  g_autoptr(GPtrArray) rows =
      book ? bt_book_sessions(book, &(BtSessionFilter){.session = code}, error) : NULL;
  int said = rows && bt__is_trainee(request) ? bt_book_looked(book, code, error) : 0;
  *looked = said == 1;
  return rows && said >= 0 ? g_steal_pointer(&rows) : NULL;
}

GPtrArray *bt__visible_session(BtRequest *request, const char *code, BtSight *sight,
                               BtAnswer **refusal) {
  g_autoptr(GError) error = NULL;
  bool looked = false;
  g_autoptr(GPtrArray) rows = session_rows(request, code, &looked, &error);
  *refusal = NULL;
  if (!rows)
    *refusal = bt__answer_error(g_steal_pointer(&error));
  else if (rows->len == 0)
    *refusal = bt__answer_no_such("session");
  else if ((*sight = bt__sight_of(request->login, rows, looked)) == BT_SIGHT_NONE)
    *refusal = refuse_sight(*sight, "session");
  return *refusal ? NULL : g_steal_pointer(&rows);
}

static BtSessionRow *find_observation(BtRequest *request, gint64 id, BtAnswer **refusal) {
  g_autoptr(GError) error = NULL;
  BtBook *book = bt__request_book(request, &error);
  BtSessionRow *row = book ? bt_book_observation(book, id, &error) : NULL;
  *refusal = NULL;
  if (error)
    *refusal = bt__answer_error(g_steal_pointer(&error));
  else if (!row)
    *refusal = bt__answer_no_such("observation");
  return row;
}

BtSessionRow *bt__visible_observation(BtRequest *request, gint64 id, BtAnswer **refusal) {
  g_autoptr(BtSessionRow) row = find_observation(request, id, refusal);
  if (!row || is_own(request->login, row))
    return g_steal_pointer(&row);
  g_autoptr(GError) error = NULL;
  bool looked = false;
  g_autoptr(GPtrArray) rows = session_rows(request, row->session, &looked, &error);
  if (!rows) {
    *refusal = bt__answer_error(g_steal_pointer(&error));
    return NULL;
  }
  BtSight sight = bt__sight_of(request->login, rows, looked);
  if (bt__may_see(request->login, row, sight))
    return g_steal_pointer(&row);
  *refusal = refuse_sight(sight, "observation");
  return NULL;
}

gint64 bt__own_observation(BtRequest *request, BtAnswer **refusal) {
  g_autoptr(GError) error = NULL;
  g_autofree char *trainee = NULL;
  const char *code = request->login->code;
  gint64 id = bt__place_id(request);
  BtBook *book = bt__request_book(request, &error);
  g_autofree char *recorder = book ? bt_book_recorder(book, id, &trainee, &error) : NULL;
  if (error) {
    *refusal = bt__answer_error(g_steal_pointer(&error));
    return 0;
  }
  if (recorder && strcmp(recorder, code) == 0)
    return id;
  bool known = recorder && (!bt__is_trainee(request) || strcmp(trainee, code) == 0);
  *refusal = known ? bt__answer_refusal(403, "owner", "only who records an observation adds to it")
                   : bt__answer_no_such("observation");
  return 0;
}

// Whether anything may be hidden: always from a trainee, from others by an open observation alone.
static bool may_hide(BtRequest *request, BtBook *book, GError **error) {
  const BtSessionFilter filter = {.assessor = request->login->code, .open_only = true};
  g_autoptr(GPtrArray) own = bt_book_sessions(book, &filter, error);
  return own && (own->len > 0 || bt__is_trainee(request));
}

// NULL: the observation of record may be seen.
static BtAnswer *refusal_of(BtRequest *request, const BtSessionRow *row) {
  BtAnswer *refusal = NULL;
  bt_session_row_free(bt__visible_observation(request, row->id, &refusal));
  if (!refusal || refusal->status != 403)
    return refusal;
  bt__answer_free(refusal);
  return bt__answer_refusal(403, "blind",
                            "this tells of session %s too, which you may not see yet: close your "
                            "own observation of it, or say that you will make none",
                            row->session);
}

BtAnswer *bt__check_sights(BtRequest *request, const char *trainee, const char *rubric,
                           gint64 until_ms) {
  g_autoptr(GError) error = NULL;
  const BtSessionFilter filter = {.trainee = trainee, .rubric = rubric, .of_record_only = true};
  BtBook *book = bt__request_book(request, &error);
  bool look = book && may_hide(request, book, &error);
  g_autoptr(GPtrArray) rows = look ? bt_book_sessions(book, &filter, &error) : NULL;
  if (error)
    return bt__answer_error(g_steal_pointer(&error));
  for (guint i = 0; rows && i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    BtAnswer *refusal = row->started_ms <= until_ms ? refusal_of(request, row) : NULL;
    if (refusal)
      return refusal;
  }
  return NULL;
}
