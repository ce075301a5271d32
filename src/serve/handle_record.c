// SPDX-License-Identifier: GPL-3.0-or-later
//
// Recording: an observation is opened, its entries come, it is closed.
#include <string.h>

#include "serve/access.h"
#include "serve/entry_json.h"
#include "serve/result_json.h"
#include "serve/route.h"
#include "serve/server.h"
#include "serve/session_code.h"

#define ENTRIES_MOST 200

// Opening ---------------------------------------------------------------------

typedef struct {
  BtHeader header; // session NULL: one is to be made
  char *code;      // of the session; owned
  gint64 id;
  bool begun_already;
} Beginning;

// The observation of the header, which an answer that was lost may have left.
static const BtSessionRow *same_begun(const GPtrArray *rows, const BtHeader *header) {
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    if (row->mode == header->mode && row->started_ms == header->started_ms &&
        row->edition == header->edition)
      return row;
  }
  return NULL;
}

static bool find_begun(BtBook *book, Beginning *beginning, GError **error) {
  const BtHeader *header = &beginning->header;
  const BtSessionFilter filter = {.trainee = header->trainee,
                                  .assessor = header->assessor,
                                  .rubric = header->rubric,
                                  .session = header->session};
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &filter, error);
  const BtSessionRow *row = rows ? same_begun(rows, header) : NULL;
  if (row) {
    beginning->begun_already = true;
    beginning->id = row->id;
    beginning->code = g_strdup(row->session);
  }
  return rows != NULL;
}

static bool begin(BtBook *book, gpointer data, GError **error) {
  Beginning *beginning = data;
  BtHeader header = beginning->header;
  if (!find_begun(book, beginning, error) || beginning->begun_already)
    return beginning->begun_already;
  beginning->code = header.session
                        ? g_strdup(header.session)
                        : bt__session_code(book, header.trainee, header.started_ms, error);
  header.session = beginning->code;
  return header.session && bt_book_begin(book, &header, &beginning->id, error);
}

// What of the body cannot be a header; NULL: all is there.
static const char *read_header(const BtRequest *request, BtHeader *header) {
  const json_t *edition = json_object_get(request->json, "edition");
  const json_t *started = json_object_get(request->json, "started_ms");
  int mode = bt_mode_from_name(bt__member(request, "mode"));
  *header = (BtHeader){.session = bt__member(request, "session"),
                       .trainee = bt__member(request, "trainee"),
                       .assessor = request->login->code,
                       .rubric = bt__member(request, "rubric"),
                       .edition = (int)json_integer_value(edition),
                       .started_ms = json_integer_value(started),
                       .mode = (BtMode)mode};
  if (!header->trainee || !header->rubric || !json_is_integer(edition))
    return "name the trainee, the rubric and its edition";
  if (mode < 0)
    return "the mode is live, video or self";
  if (!json_is_integer(started) || header->started_ms <= 0)
    return "say when the session began, in started_ms";
  if (!json_is_true(json_object_get(request->json, "cautions_read")))
    return "read the cautions first, and say so in cautions_read";
  return NULL;
}

// A trainee observes oneself, in a session that is there.
static BtAnswer *check_who(BtRequest *request, const BtHeader *header) {
  bool self = header->mode == BT_MODE_SELF;
  if (!bt__is_trainee(request))
    return self ? bt__answer_refusal(403, "role", "only a trainee records oneself") : NULL;
  if (!self)
    return bt__answer_refusal(403, "role", "a trainee records in mode self only");
  if (strcmp(header->trainee, request->login->code) != 0)
    return bt__answer_no_such("session");
  if (!header->session)
    return bt__answer_refusal(422, "wrong", "name the session that you look back at");
  BtAnswer *refusal = NULL;
  BtSight sight;
  GPtrArray *rows = bt__visible_session(request, header->session, &sight, &refusal);
  g_clear_pointer(&rows, g_ptr_array_unref);
  return refusal;
}

static void keep_station(BtRequest *request, gint64 observation_id) {
  const char *station = bt__member(request, "station");
  if (station && *station && g_utf8_strlen(station, -1) <= BT_STATION_CHARACTERS_MAX)
    bt__stations_set(request->server->stations, observation_id, station);
}

BtAnswer *bt__handle_begin(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  Beginning beginning = {.id = 0};
  const char *wrong = read_header(request, &beginning.header);
  if (wrong)
    return bt__answer_refusal(422, "wrong", "%s", wrong);
  BtAnswer *refusal = check_who(request, &beginning.header);
  if (refusal)
    return refusal;
  bool done = bt__request_write(request, begin, &beginning, &error);
  g_autofree char *code = beginning.code;
  if (!done)
    return bt__answer_error(g_steal_pointer(&error));
  keep_station(request, beginning.id);
  bt__live_changed(request->server->live, beginning.id);
  return bt__answer_json(beginning.begun_already ? 200 : 201,
                         json_pack("{sIssss}", "id", (json_int_t)beginning.id, "session", code,
                                   "assessor", request->login->code));
}

// Entries ---------------------------------------------------------------------

typedef struct {
  gint64 observation_id;
  const json_t *entries;
  json_t *acks;
} Sending;

static json_t *refusal_ack(const BtSentEntry *entry, const char *words) {
  g_autofree char *valid = g_utf8_make_valid(words, -1);
  return json_pack("{ss?ss}", "id", entry->submission.id, "refused", valid);
}

// "wrong; expected" of the first fault, or of the first warning.
static char *fault_words(const GPtrArray *faults, bool warning) {
  for (guint i = 0; i < faults->len; i++) {
    const BtFault *fault = faults->pdata[i];
    if (fault->warning == warning)
      return fault->expected ? g_strdup_printf("%s; %s", fault->wrong, fault->expected)
                             : g_strdup(fault->wrong);
  }
  return NULL;
}

// Whether it is the entry that is at fault, not the book.
static bool is_refusal(const GError *error) {
  return g_error_matches(error, BT_ERROR, BT_ERROR_LOG) ||
         g_error_matches(error, BT_ERROR, BT_ERROR_UNKNOWN) ||
         g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT) ||
         g_error_matches(error, BT_ERROR, BT_ERROR_OPTION);
}

// The entry's ack; NULL with `error` when the book failed.
static json_t *submit(BtBook *book, gint64 observation_id, const BtSentEntry *entry,
                      GError **error) {
  if (entry->refused)
    return refusal_ack(entry, entry->refused);
  int seq = 0;
  g_autoptr(GError) cause = NULL;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  bool kept = bt_book_submit(book, observation_id, &entry->submission, &seq, faults, &cause);
  if (cause && !is_refusal(cause)) {
    g_propagate_error(error, g_steal_pointer(&cause));
    return NULL;
  }
  g_autofree char *words = cause ? g_strdup(cause->message) : fault_words(faults, kept);
  if (!kept)
    return refusal_ack(entry, words);
  return json_pack("{sssiss*}", "id", entry->submission.id, "seq", seq, "warning", words);
}

static bool send_entries(BtBook *book, gpointer data, GError **error) {
  Sending *sending = data;
  for (gsize i = 0; i < json_array_size(sending->entries); i++) {
    BtSentEntry entry;
    bt__sent_entry_read(json_array_get(sending->entries, i), &entry);
    json_t *ack = submit(book, sending->observation_id, &entry, error);
    bt__sent_entry_clear(&entry);
    if (!ack)
      return false;
    json_array_append_new(sending->acks, ack);
  }
  return true;
}

BtAnswer *bt__handle_entries(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtAnswer *refusal = NULL;
  const json_t *entries = json_object_get(request->json, "entries");
  gint64 id = bt__own_observation(request, &refusal);
  if (id == 0)
    return refusal;
  if (!json_is_array(entries) || json_array_size(entries) > ENTRIES_MOST)
    return bt__answer_refusal(422, "wrong", "`entries` is a list of at most %d", ENTRIES_MOST);
  Sending sending = {id, entries, json_array()};
  if (!bt__request_write(request, send_entries, &sending, &error)) {
    json_decref(sending.acks);
    return bt__answer_error(g_steal_pointer(&error));
  }
  bt__live_changed(request->server->live, id);
  return bt__answer_json(200, json_pack("{so}", "acks", sending.acks));
}

// Closing ---------------------------------------------------------------------

typedef struct {
  gint64 observation_id;
  json_int_t entries; // how many there should be; -1: not said
  char *receipt;
} Closing;

// How many records of the chain are entries: all but its opening and its closing.
static json_int_t entries_of(const GPtrArray *records) {
  json_int_t n = 0;
  for (guint i = 0; i < records->len; i++) {
    const BtRecord *record = records->pdata[i];
    n += record->kind != BT_RECORD_OPEN && record->kind != BT_RECORD_CLOSE;
  }
  return n;
}

// A closing whose answer was lost comes again.
static bool close_observation(BtBook *book, gpointer data, GError **error) {
  Closing *closing = data;
  g_autoptr(GPtrArray) records = bt_book_history(book, closing->observation_id, error);
  if (!records)
    return false;
  json_int_t kept = entries_of(records);
  if (kept != closing->entries) {
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "the book has %d entries of this observation, the page %d; send those that are "
                "missing, then close it",
                (int)kept, (int)closing->entries);
    return false;
  }
  g_autoptr(BtSessionRow) row = bt_book_observation(book, closing->observation_id, error);
  if (row && row->closed)
    closing->receipt = g_strdup(row->receipt);
  return row &&
         (row->closed || bt_book_finish(book, closing->observation_id, &closing->receipt, error));
}

BtAnswer *bt__handle_close(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtAnswer *refusal = NULL;
  const json_t *entries = json_object_get(request->json, "entries");
  gint64 id = bt__own_observation(request, &refusal);
  if (id == 0)
    return refusal;
  if (!json_is_integer(entries))
    return bt__answer_refusal(422, "wrong", "say in `entries` how many entries it should have");
  Closing closing = {.observation_id = id, .entries = json_integer_value(entries)};
  bool done = bt__request_write(request, close_observation, &closing, &error);
  g_autofree char *receipt = closing.receipt;
  if (!done)
    return bt__answer_error(g_steal_pointer(&error));
  bt__live_changed(request->server->live, id);
  return bt__answer_json(200, json_pack("{ss}", "receipt", receipt));
}

// Reading ---------------------------------------------------------------------

// Its entries as they were sent, corrections among them; NULL with `error`.
static json_t *entries_json(BtRequest *request, gint64 id, GError **error) {
  const BtRubric *rubric = NULL;
  BtBook *book = bt__request_book(request, error);
  g_autoptr(BtObservation) observation = book ? bt_book_load(book, id, &rubric, error) : NULL;
  g_autoptr(GPtrArray) records = observation ? bt_book_history(book, id, error) : NULL;
  if (!records)
    return NULL;
  json_t *entries = json_array();
  for (guint i = 0; i < records->len; i++) {
    json_t *entry = bt__record_json(records->pdata[i]);
    if (entry)
      json_array_append_new(entries, entry);
  }
  g_autofree char *station = bt__stations_get(request->server->stations, id, observation);
  return json_pack("{ss?so}", "station", station, "entries", entries);
}

BtAnswer *bt__handle_observation(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtAnswer *refusal = NULL;
  g_autoptr(BtSessionRow) row = bt__visible_observation(request, bt__place_id(request), &refusal);
  if (!row)
    return refusal;
  bool own = strcmp(row->assessor, request->login->code) == 0;
  if (!own && !bt__request_note(request, "observation", row->trainee, row->session, &error))
    return bt__answer_error(g_steal_pointer(&error));
  json_t *answer = entries_json(request, row->id, &error);
  if (!answer)
    return bt__answer_error(g_steal_pointer(&error));
  json_t *about =
      json_pack("{sIsssssssssisssIsbss?}", "id", (json_int_t)row->id, "session", row->session,
                "trainee", row->trainee, "assessor", row->assessor, "rubric", row->rubric,
                "edition", row->edition, "mode", bt_mode_name(row->mode), "started_ms",
                (json_int_t)row->started_ms, "closed", row->closed, "receipt", row->receipt);
  json_object_update_new(answer, about);
  return bt__answer_json(200, answer);
}

BtAnswer *bt__handle_result(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtAnswer *refusal = NULL;
  g_autoptr(BtSessionRow) row = bt__visible_observation(request, bt__place_id(request), &refusal);
  if (!row)
    return refusal;
  if (!row->closed)
    return bt__answer_refusal(409, "open", "the observation is open; close it for its result");
  if (!bt__request_note(request, "result", row->trainee, row->session, &error))
    return bt__answer_error(g_steal_pointer(&error));
  BtBook *book = bt__request_book(request, &error);
  json_t *result = book ? bt__result_json(book, row->id, &error) : NULL;
  return result ? bt__answer_json(200, result) : bt__answer_error(g_steal_pointer(&error));
}
