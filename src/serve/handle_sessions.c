// SPDX-License-Identifier: GPL-3.0-or-later
//
// The list of sessions, newest first, and a trainee's word that no own observation will be made.
#include <string.h>

#include "serve/access.h"
#include "serve/result_json.h"
#include "serve/route.h"

#define PAGE_SESSIONS 100

// What the list needs from the book, read once.
typedef struct {
  BtBook *book;
  const BtLogin *login;
  GPtrArray *rows;        // of BtSessionRow, as filtered
  GPtrArray *own;         // of BtSessionRow: those that who asks made
  GHashTable *own_open;   // sessions, borrowed from `own`
  GHashTable *own_closed; // likewise
  GPtrArray *people, *editions;
  GHashTable *names, *titles; // code -> name; "rubric edition" -> title
} Listing;

static void listing_clear(Listing *listing) {
  g_clear_pointer(&listing->own_open, g_hash_table_unref);
  g_clear_pointer(&listing->own_closed, g_hash_table_unref);
  g_clear_pointer(&listing->names, g_hash_table_unref);
  g_clear_pointer(&listing->titles, g_hash_table_unref);
  g_clear_pointer(&listing->rows, g_ptr_array_unref);
  g_clear_pointer(&listing->own, g_ptr_array_unref);
  g_clear_pointer(&listing->people, g_ptr_array_unref);
  g_clear_pointer(&listing->editions, g_ptr_array_unref);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Listing, listing_clear)

static void index_own(Listing *listing) {
  listing->own_open = g_hash_table_new(g_str_hash, g_str_equal);
  listing->own_closed = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < listing->own->len; i++) {
    const BtSessionRow *row = listing->own->pdata[i];
    g_hash_table_add(row->closed ? listing->own_closed : listing->own_open, row->session);
  }
}

static char *edition_key(const char *rubric, int edition) {
  return g_strdup_printf("%s %d", rubric, edition);
}

static void index_words(Listing *listing) {
  listing->names = g_hash_table_new(g_str_hash, g_str_equal);
  listing->titles = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  for (guint i = 0; i < listing->people->len; i++) {
    const BtPerson *person = listing->people->pdata[i];
    g_hash_table_insert(listing->names, person->code, person->name);
  }
  for (guint i = 0; i < listing->editions->len; i++) {
    const BtEdition *edition = listing->editions->pdata[i];
    g_hash_table_insert(listing->titles, edition_key(edition->rubric, edition->edition),
                        edition->title);
  }
}

static bool read_listing(BtRequest *request, Listing *listing, GError **error) {
  const char *code = request->login->code;
  const BtSessionFilter filter = {
      .session = bt__param(request, "session"),
      .trainee = bt__is_trainee(request) ? code : bt__param(request, "trainee"),
      .rubric = bt__param(request, "rubric"),
      .assessor = bt__param(request, "assessor"),
      .open_only = bt__param(request, "open") != NULL};
  listing->login = request->login;
  if (!(listing->book = bt__request_book(request, error)) ||
      !(listing->rows = bt_book_sessions(listing->book, &filter, error)) ||
      !(listing->own =
            bt_book_sessions(listing->book, &(BtSessionFilter){.assessor = code}, error)) ||
      !(listing->people = bt_book_people(listing->book, -1, error)) ||
      !(listing->editions = bt_book_editions(listing->book, error)))
    return false;
  index_own(listing);
  index_words(listing);
  return true;
}

// -1 with `error`.
static int sight_in_list(const Listing *listing, const char *session, GError **error) {
  if (g_hash_table_contains(listing->own_open, session))
    return BT_SIGHT_OWN_OPEN;
  if (listing->login->role != BT_ROLE_TRAINEE ||
      g_hash_table_contains(listing->own_closed, session))
    return BT_SIGHT_CLEAR;
  int looked = bt_book_looked(listing->book, session, error);
  return looked < 0 ? -1 : looked ? BT_SIGHT_CLEAR : BT_SIGHT_OWN_FIRST;
}

// Sessions --------------------------------------------------------------------

// A session's rows stand together: the first of them, and how many.
typedef struct {
  guint first, n;
  const BtSessionRow *row;
} Group;

static int newest_first(const void *a, const void *b) {
  const BtSessionRow *x = ((const Group *)a)->row, *y = ((const Group *)b)->row;
  if (x->started_ms != y->started_ms)
    return x->started_ms < y->started_ms ? 1 : -1;
  return strcmp(x->session, y->session);
}

static GArray *group_rows(BtRequest *request, const GPtrArray *rows) {
  gint64 from_ms = bt__param_int(request, "from_ms", 0);
  gint64 before_ms = bt__param_int(request, "before_ms", G_MAXINT64);
  GArray *groups = g_array_new(FALSE, FALSE, sizeof(Group));
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    Group *last = groups->len ? &g_array_index(groups, Group, groups->len - 1) : NULL;
    Group group = {i, 1, row};
    if (last && strcmp(last->row->session, row->session) == 0)
      last->n++;
    else if (row->started_ms >= from_ms && row->started_ms < before_ms)
      g_array_append_val(groups, group);
  }
  g_array_sort(groups, newest_first);
  return groups;
}

static json_t *observation_json(const Listing *listing, const BtSessionRow *row, BtSight sight) {
  bool shown = row->closed && bt__may_see(listing->login, row, sight);
  const char *outcome =
      shown && row->outcome >= 0 ? bt_outcome_name((BtOutcome)row->outcome) : NULL;
  return json_pack("{sIsssssbsbss?so}", "id", (json_int_t)row->id, "assessor", row->assessor,
                   "mode", bt_mode_name(row->mode), "closed", row->closed, "of_record",
                   row->of_record, "outcome", outcome, "total",
                   bt__total_json(shown ? row->total_percent_milli : -1));
}

// NULL with `error`.
static json_t *session_json(const Listing *listing, const Group *group, GError **error) {
  const BtSessionRow *row = group->row;
  int sight = sight_in_list(listing, row->session, error);
  if (sight < 0)
    return NULL;
  json_t *observations = json_array();
  for (guint i = group->first; i < group->first + group->n; i++)
    json_array_append_new(observations,
                          observation_json(listing, listing->rows->pdata[i], (BtSight)sight));
  g_autofree char *key = edition_key(row->rubric, row->edition);
  return json_pack("{ssssss?ssss?sisIsiso}", "session", row->session, "trainee", row->trainee,
                   "name", g_hash_table_lookup(listing->names, row->trainee), "rubric", row->rubric,
                   "title", g_hash_table_lookup(listing->titles, key), "edition", row->edition,
                   "started_ms", (json_int_t)row->started_ms, "attempt", row->attempt,
                   "observations", observations);
}

// The place behind the session that the last page ended with.
static guint first_of_page(const GArray *groups, const char *after) {
  for (guint i = 0; after && i < groups->len; i++) {
    if (strcmp(g_array_index(groups, Group, i).row->session, after) == 0)
      return i + 1;
  }
  return 0;
}

BtAnswer *bt__handle_sessions(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  g_auto(Listing) listing = {0};
  if (!read_listing(request, &listing, &error))
    return bt__answer_error(g_steal_pointer(&error));
  g_autoptr(GArray) groups = group_rows(request, listing.rows);
  guint first = first_of_page(groups, bt__param(request, "after"));
  guint end = MIN(first + PAGE_SESSIONS, groups->len);
  json_t *sessions = json_array();
  for (guint i = first; i < end && !error; i++) {
    json_t *session = session_json(&listing, &g_array_index(groups, Group, i), &error);
    if (session)
      json_array_append_new(sessions, session);
  }
  const char *next = end < groups->len ? g_array_index(groups, Group, end - 1).row->session : NULL;
  json_t *answer = json_pack("{soss?}", "sessions", sessions, "next", next);
  if (!error)
    return bt__answer_json(200, answer);
  json_decref(answer);
  return bt__answer_error(g_steal_pointer(&error));
}

// Looking without an own observation ------------------------------------------

typedef struct {
  const char *session, *trainee;
} Look;

static bool set_looked(BtBook *book, gpointer data, GError **error) {
  const Look *look = data;
  return bt_book_set_looked(book, look->session, look->trainee, error);
}

BtAnswer *bt__handle_look(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtAnswer *refusal = NULL;
  BtSight sight;
  g_autoptr(GPtrArray) rows = bt__visible_session(request, request->place[0], &sight, &refusal);
  if (!rows)
    return refusal;
  if (sight == BT_SIGHT_OWN_OPEN)
    return bt__answer_refusal(409, "conflict",
                              "your own observation of this session is open; close it instead");
  Look look = {request->place[0], request->login->code};
  if (!bt__request_write(request, set_looked, &look, &error))
    return bt__answer_error(g_steal_pointer(&error));
  return bt__answer_done();
}
