// SPDX-License-Identifier: GPL-3.0-or-later
//
// The effective log: the records of a chain with strikes and amendments applied.
#include <string.h>

#include "store/names.h"
#include "store/observation.h"

static const BtSql read_log = {
    "read the log",
    "SELECT number, kind, seq, at_ms, action, site, item, value, redo, note, details "
    "FROM entry WHERE observation_id = ?1 ORDER BY number"};

typedef struct {
  BtBook *book;
  const BtRubric *rubric;
  const BtNames *names;
  BtObservation *observation; // events[seq - 1]; those struck have seq 0 until the end
  bool any_struck;
  BtEventRoom room;
} Loader;

static bool refuse(const Loader *loader, gint64 number, const char *what, GError **error) {
  const BtHeader *header = &loader->observation->header;
  g_set_error(error, BT_ERROR, BT_ERROR_DATABASE,
              "%s: session %s, assessor %s: record %" G_GINT64_FORMAT
              " %s; the book was changed: restore the latest "
              "backup; `benchtally verify` tells more",
              loader->book->path, header->session, header->assessor, number, what);
  return false;
}

static BtEvent *event_of(const Loader *loader, gint64 seq) {
  GArray *events = loader->observation->events;
  BtEvent *event = seq >= 1 && seq <= events->len ? &g_array_index(events, BtEvent, seq - 1) : NULL;
  return event && event->seq == seq ? event : NULL;
}

// A replacement keeps the place of what it replaces. It is added at the end, which copies its
// strings, and moved.
static void replace(const Loader *loader, BtEvent *place, const BtEvent *event) {
  GArray *events = loader->observation->events;
  guint at = (guint)(place - &g_array_index(events, BtEvent, 0));
  bt_observation_add(loader->observation, event);
  g_array_index(events, BtEvent, at) = g_array_index(events, BtEvent, events->len - 1);
  g_array_set_size(events, events->len - 1);
}

static bool take_event(Loader *loader, const BtEntry *entry, BtRecordKind kind, GError **error) {
  BtEvent event;
  if (!bt__entry_to_event(entry, loader->rubric, loader->names, &event, &loader->room))
    return refuse(loader, entry->number, "does not fit the rubric", error);
  if (kind == BT_RECORD_EVENT) {
    if (entry->seq != (gint64)loader->observation->events->len + 1)
      return refuse(loader, entry->number, "is out of sequence", error);
    bt_observation_add(loader->observation, &event);
    return true;
  }
  BtEvent *place = event_of(loader, entry->seq);
  if (!place)
    return refuse(loader, entry->number, "amends an event that is not there", error);
  replace(loader, place, &event);
  return true;
}

static bool take_strike(Loader *loader, const BtEntry *entry, GError **error) {
  BtEvent *place = event_of(loader, entry->seq);
  if (!place)
    return refuse(loader, entry->number, "strikes an event that is not there", error);
  place->seq = 0;
  loader->any_struck = true;
  return true;
}

static bool take_row(Loader *loader, BtQuery *query, GError **error) {
  const BtEntry entry = {.number = bt__int(query, 0),
                         .seq = bt__int(query, 2),
                         .at_ms = bt__int(query, 3),
                         .action = bt__text(query, 4),
                         .site = bt__text(query, 5),
                         .item = bt__text(query, 6),
                         .value = bt__text(query, 7),
                         .redo = bt__int(query, 8),
                         .note = bt__text(query, 9),
                         .details = bt__text(query, 10)};
  int kind = bt__record_kind_from_name(bt__text(query, 1));
  if (kind == BT_RECORD_EVENT || kind == BT_RECORD_AMEND)
    return take_event(loader, &entry, (BtRecordKind)kind, error);
  return kind != BT_RECORD_STRIKE || take_strike(loader, &entry, error);
}

static void drop_struck(GArray *events) {
  guint kept = 0;
  for (guint i = 0; i < events->len; i++) {
    if (g_array_index(events, BtEvent, i).seq > 0)
      g_array_index(events, BtEvent, kept++) = g_array_index(events, BtEvent, i);
  }
  g_array_set_size(events, kept);
}

static bool take_rows(Loader *loader, gint64 observation_id, GError **error) {
  g_autoptr(BtQuery) query =
      bt__query(loader->book->db, &read_log, error, ARGS(INT(observation_id)));
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error)) {
    if (!take_row(loader, query, error))
      return false;
  }
  if (loader->any_struck)
    drop_struck(loader->observation->events);
  return row == 0;
}

BtObservation *bt_book_load(BtBook *book, gint64 observation_id, const BtRubric **rubric,
                            GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  const BtRubric *edition = row ? bt__observation_rubric(book, &row->header, error) : NULL;
  if (!edition)
    return NULL;
  Loader loader = {.book = book,
                   .rubric = edition,
                   .names = bt__names(book, edition),
                   .observation = bt_observation_new(&row->header),
                   .room.text = g_string_sized_new(128)};
  bool done = take_rows(&loader, observation_id, error);
  g_string_free(loader.room.text, TRUE);
  if (rubric)
    *rubric = edition;
  if (done)
    return loader.observation;
  bt_observation_free(loader.observation);
  return NULL;
}
