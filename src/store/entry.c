// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/entry.h"

#include <string.h>

#include "store/names.h"

static const char *const kind_names[] = {"open", "event", "strike", "amend", "close"};

const char *bt__record_kind_name(BtRecordKind kind) {
  return kind_names[kind];
}

int bt__record_kind_from_name(const char *name) {
  return bt_word_index(name, kind_names, G_N_ELEMENTS(kind_names));
}

// Sealing ---------------------------------------------------------------------

// Every column that is not in the link stands in the body, so that none can change unseen.
static void append_body(GString *out, const BtEntry *entry) {
  const BtMember members[] = {
      MEMBER_TEXT("action", entry->action),
      MEMBER_INT_IF("at_ms", entry->has_at, entry->at_ms),
      MEMBER_TEXT("by", entry->by),
      MEMBER_RAW("details", entry->details),
      MEMBER_TEXT("id", entry->id),
      MEMBER_TEXT("item", entry->item),
      MEMBER_TEXT("note", entry->note),
      MEMBER_TEXT("reason", entry->reason),
      MEMBER_INT_IF("redo", entry->has_redo, entry->redo),
      MEMBER_HEX("salt", entry->salt, BT_SALT_BYTES),
      MEMBER_INT("seq", entry->seq),
      MEMBER_TEXT("site", entry->site),
      MEMBER_TEXT("source", entry->source),
      MEMBER_TEXT("value", entry->value),
  };
  bt__json_object(out, members, G_N_ELEMENTS(members));
}

// The first record binds what the observation is to all that follow. A column that should be empty
// in it, and is not, shows as well.
static void append_opening_body(GString *out, const BtEntry *entry, const BtOpening *opening) {
  const BtHeader *header = &opening->header;
  const BtMember members[] = {
      MEMBER_TEXT("action", entry->action),
      MEMBER_TEXT("assessor", header->assessor),
      MEMBER_INT_IF("at_ms", entry->has_at, entry->at_ms),
      MEMBER_TEXT("by", entry->by),
      MEMBER_RAW("details", entry->details),
      MEMBER_INT("edition", header->edition),
      MEMBER_TEXT("id", entry->id),
      MEMBER_TEXT("item", entry->item),
      MEMBER_TEXT("mode", bt_mode_name(header->mode)),
      MEMBER_TEXT("note", entry->note),
      MEMBER_TEXT("reason", entry->reason),
      MEMBER_INT_IF("redo", entry->has_redo, entry->redo),
      MEMBER_TEXT("rubric", header->rubric),
      MEMBER_TEXT("rubric_sha256", opening->rubric_sha256),
      MEMBER_HEX("salt", entry->salt, BT_SALT_BYTES),
      MEMBER_INT("seq", entry->seq),
      MEMBER_TEXT("session", header->session),
      MEMBER_TEXT("site", entry->site),
      MEMBER_TEXT("source", entry->source),
      MEMBER_INT("started_ms", header->started_ms),
      MEMBER_TEXT("trainee", header->trainee),
      MEMBER_TEXT("value", entry->value),
  };
  bt__json_object(out, members, G_N_ELEMENTS(members));
}

void bt__entry_seal(GString *scratch, const BtEntry *entry, const BtOpening *opening,
                    const guint8 previous[BT_SHA256_BYTES], guint8 body_sha256[BT_SHA256_BYTES],
                    guint8 link_sha256[BT_SHA256_BYTES]) {
  g_string_truncate(scratch, 0);
  if (opening)
    append_opening_body(scratch, entry, opening);
  else
    append_body(scratch, entry);
  bt_sha256(scratch->str, scratch->len, body_sha256);
  const BtLink link = {body_sha256, previous, kind_names[entry->kind], entry->number,
                       entry->wall_ms};
  bt__link_sha256(scratch, &link, link_sha256);
}

// Rows ------------------------------------------------------------------------

static const BtSql insert_entry = {"write the record",
                                   "INSERT INTO entry(" BT_ENTRY_COLUMNS
                                   ") VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, "
                                   "?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20)"};

bool bt__entry_insert(BtBook *book, const BtEntry *entry, GError **error) {
  const BtArg args[] = {INT(entry->observation_id),
                        INT(entry->number),
                        TEXT(kind_names[entry->kind]),
                        INT(entry->seq),
                        INT_IF(entry->has_at, entry->at_ms),
                        TEXT(entry->action),
                        TEXT(entry->site),
                        TEXT(entry->item),
                        TEXT(entry->value),
                        INT_IF(entry->has_redo, entry->redo),
                        TEXT(entry->note),
                        TEXT(entry->details),
                        TEXT(entry->reason),
                        INT(entry->wall_ms),
                        TEXT(entry->by),
                        TEXT(entry->source),
                        TEXT(entry->id),
                        BLOB(entry->salt, BT_SALT_BYTES),
                        BLOB(entry->body_sha256, BT_SHA256_BYTES),
                        BLOB(entry->link_sha256, BT_SHA256_BYTES)};
  return bt__run(book->db, &insert_entry, error, args, G_N_ELEMENTS(args));
}

static bool read_blob(BtQuery *query, int column, guint8 *bytes, int length) {
  const guint8 *blob = bt__blob(query, column, length);
  if (blob)
    memcpy(bytes, blob, (gsize)length);
  return blob != NULL;
}

bool bt__entry_read(BtQuery *query, BtEntry *entry) {
  int kind = bt__record_kind_from_name(bt__text(query, 2));
  *entry = (BtEntry){.observation_id = bt__int(query, 0),
                     .number = bt__int(query, 1),
                     .kind = kind < 0 ? BT_RECORD_OPEN : (BtRecordKind)kind,
                     .seq = bt__int(query, 3),
                     .has_at = !bt__is_null(query, 4),
                     .at_ms = bt__int(query, 4),
                     .action = bt__text(query, 5),
                     .site = bt__text(query, 6),
                     .item = bt__text(query, 7),
                     .value = bt__text(query, 8),
                     .has_redo = !bt__is_null(query, 9),
                     .redo = bt__int(query, 9),
                     .note = bt__text(query, 10),
                     .details = bt__text(query, 11),
                     .reason = bt__text(query, 12),
                     .wall_ms = bt__int(query, 13),
                     .by = bt__text(query, 14),
                     .source = bt__text(query, 15),
                     .id = bt__text(query, 16)};
  bool salt = read_blob(query, 17, entry->salt, BT_SALT_BYTES);
  bool body = read_blob(query, 18, entry->body_sha256, BT_SHA256_BYTES);
  bool link = read_blob(query, 19, entry->link_sha256, BT_SHA256_BYTES);
  return kind >= 0 && salt && body && link && bt__row_whole(query);
}

bool bt__entry_same_event(const BtEntry *a, const BtEntry *b) {
  return a->at_ms == b->at_ms && a->redo == b->redo && g_strcmp0(a->action, b->action) == 0 &&
         g_strcmp0(a->site, b->site) == 0 && g_strcmp0(a->item, b->item) == 0 &&
         g_strcmp0(a->value, b->value) == 0 && g_strcmp0(a->note, b->note) == 0 &&
         g_strcmp0(a->details, b->details) == 0 && (!a->id || !b->id || strcmp(a->id, b->id) == 0);
}

// From events -----------------------------------------------------------------

static const char *value_of(const BtEvent *event, BtEntryText *text) {
  if (event->kind != BT_EVENT_MEASURE && event->kind != BT_EVENT_RATE)
    return NULL;
  g_autofree char *value = bt_decimal_format(event->value_milli);
  g_strlcpy(text->value, value, sizeof text->value);
  return text->value;
}

void bt__entry_from_event(BtEntry *entry, const BtRubric *rubric, const BtEvent *event,
                          BtEntryText *text) {
  bool work = event->kind == BT_EVENT_WORK;
  g_string_truncate(text->details, 0);
  if (work && event->n_details > 0)
    bt__details_write(text->details, &rubric->actions[event->action], event);
  entry->has_at = true;
  entry->at_ms = event->at_ms;
  entry->action = work ? rubric->actions[event->action].id : bt_event_kind_name(event->kind);
  entry->site = event->site >= 0 ? rubric->sites[event->site].id : NULL;
  entry->item = bt_event_item_id(rubric, event);
  entry->value = value_of(event, text);
  entry->has_redo = event->redo != BT_REDO_NO;
  entry->redo = event->redo;
  entry->note = event->note && *event->note ? event->note : NULL;
  entry->details = text->details->len > 0 ? text->details->str : NULL;
}

// To events -------------------------------------------------------------------

static bool resolve_item(const BtEntry *entry, const BtRubric *rubric, BtEvent *event) {
  if (!entry->item)
    return false;
  switch (event->kind) {
  case BT_EVENT_INJECT:
    event->item = bt_rubric_find_inject(rubric, entry->item);
    break;
  case BT_EVENT_ERROR:
    event->item = bt_rubric_find_error(rubric, entry->item);
    break;
  case BT_EVENT_MEASURE:
    event->item = bt_rubric_find_measure(rubric, entry->item);
    break;
  case BT_EVENT_RATE:
    event->item = bt_rubric_find_rating(rubric, entry->item);
    break;
  default:
    event->item = bt_rubric_find_checkpoint(rubric, entry->item);
    event->component = event->item < 0 ? bt_component_from_name(entry->item) : -1;
    return event->item >= 0 || event->component >= 0;
  }
  return event->item >= 0;
}

static bool takes_item(BtEventKind kind) {
  return kind == BT_EVENT_INJECT || kind == BT_EVENT_ERROR || kind == BT_EVENT_MEASURE ||
         kind == BT_EVENT_RATE || kind == BT_EVENT_UNSEEN;
}

static bool takes_value(BtEventKind kind) {
  return kind == BT_EVENT_MEASURE || kind == BT_EVENT_RATE;
}

// An error or a note may have a site, too.
static bool resolve_site(const BtEntry *entry, const BtNames *names, BtEvent *event) {
  if (entry->site)
    event->site = bt__names_site(names, entry->site);
  return !entry->site || event->site >= 0;
}

static bool resolve_details(const BtEntry *entry, const BtRubric *rubric, BtEvent *event,
                            BtEventRoom *room) {
  if (!entry->details)
    return true;
  event->n_details = bt__details_read(entry->details, &rubric->actions[event->action], room);
  event->details = room->details;
  return event->n_details >= 0;
}

bool bt__entry_to_event(const BtEntry *entry, const BtRubric *rubric, const BtNames *names,
                        BtEvent *event, BtEventRoom *room) {
  *event = (BtEvent){.seq = (int)entry->seq,
                     .at_ms = entry->at_ms,
                     .site = -1,
                     .item = -1,
                     .component = -1,
                     .redo = (int)entry->redo,
                     .note = entry->note};
  if (!entry->action || !bt__names_action(names, entry->action, &event->kind, &event->action))
    return false;
  if (!resolve_site(entry, names, event))
    return false;
  if (event->kind == BT_EVENT_WORK)
    return resolve_details(entry, rubric, event, room);
  if (takes_item(event->kind) && !resolve_item(entry, rubric, event))
    return false;
  return !takes_value(event->kind) ||
         (entry->value && bt_decimal_parse(entry->value, &event->value_milli));
}
