// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/entry_json.h"

#include <string.h>

// In --------------------------------------------------------------------------

static void refuse(BtSentEntry *entry, const char *member, const char *expected) {
  if (!entry->refused)
    entry->refused = g_strdup_printf("%s: expected %s", member, expected);
}

static const char *keep(BtSentEntry *entry, char *text) {
  const char *kept = g_string_chunk_insert(entry->texts, text);
  g_free(text);
  return kept;
}

// A text, or a whole number as one; NULL for nothing.
static const char *text_of(BtSentEntry *entry, const char *name, const json_t *value) {
  if (json_is_integer(value))
    return keep(entry, g_strdup_printf("%" JSON_INTEGER_FORMAT, json_integer_value(value)));
  if (!json_is_string(value) && !json_is_null(value))
    refuse(entry, name, "a text");
  return json_string_value(value);
}

static void read_id(BtSentEntry *entry, const char *name, const json_t *value) {
  (void)name;
  entry->submission.id = json_string_value(value);
}

static void read_at(BtSentEntry *entry, const char *name, const json_t *value) {
  if (json_is_integer(value) && json_integer_value(value) >= 0 &&
      json_integer_value(value) <= BT_DURATION_MS_MAX)
    entry->event.time = keep(entry, bt_clock_format_exact(json_integer_value(value)));
  else
    refuse(entry, name, "whole milliseconds from 0 to 24 hours");
}

static void read_action(BtSentEntry *entry, const char *name, const json_t *value) {
  entry->event.action = text_of(entry, name, value);
}

static void read_site(BtSentEntry *entry, const char *name, const json_t *value) {
  entry->event.site = text_of(entry, name, value);
}

static void read_item(BtSentEntry *entry, const char *name, const json_t *value) {
  entry->event.item = text_of(entry, name, value);
}

static void read_value(BtSentEntry *entry, const char *name, const json_t *value) {
  entry->event.value = text_of(entry, name, value);
}

static void read_note(BtSentEntry *entry, const char *name, const json_t *value) {
  entry->event.note = text_of(entry, name, value);
}

static void read_redo(BtSentEntry *entry, const char *name, const json_t *value) {
  if (json_is_boolean(value))
    entry->event.redo = json_is_true(value) ? "yes" : NULL;
  else
    entry->event.redo = text_of(entry, name, value);
}

static void read_details(BtSentEntry *entry, const char *name, const json_t *value) {
  const char *detail = NULL;
  json_t *text = NULL;
  if (!json_is_object(value) && !json_is_null(value))
    refuse(entry, name, "an object of texts");
  if (json_object_size(value) > BT_DETAILS_MAX) {
    refuse(entry, name, "64 details at most");
    return;
  }
  json_object_foreach((json_t *)value, detail, text) {
    int n = entry->event.n_details++;
    entry->detail_names[n] = detail;
    entry->detail_values[n] = text_of(entry, detail, text);
  }
}

static void read_meant(BtSentEntry *entry, const char *name, const json_t *value) {
  json_int_t seq = json_integer_value(value);
  if (json_is_string(value))
    entry->submission.of_id = json_string_value(value);
  else if (json_is_integer(value) && seq > 0 && seq <= G_MAXINT)
    entry->submission.seq = (int)seq;
  else
    refuse(entry, name, "the id or the number of an entry");
}

static void read_reason(BtSentEntry *entry, const char *name, const json_t *value) {
  entry->submission.reason = text_of(entry, name, value);
}

static void read_seq(BtSentEntry *entry, const char *name, const json_t *value) {
  (void)entry; // what the server gave; it comes back with an entry and says nothing new
  (void)name;
  (void)value;
}

static const struct {
  const char *name;
  void (*read)(BtSentEntry *entry, const char *name, const json_t *value);
} members[] = {{"id", read_id},        {"at_ms", read_at},    {"action", read_action},
               {"site", read_site},    {"item", read_item},   {"value", read_value},
               {"redo", read_redo},    {"note", read_note},   {"details", read_details},
               {"strike", read_meant}, {"amend", read_meant}, {"reason", read_reason},
               {"seq", read_seq}};

static void read_member(BtSentEntry *entry, const char *name, const json_t *value) {
  for (gsize i = 0; i < G_N_ELEMENTS(members); i++) {
    if (strcmp(members[i].name, name) == 0) {
      members[i].read(entry, name, value);
      return;
    }
  }
  if (!entry->refused) {
    g_autofree char *quoted = bt_quoted(name);
    entry->refused =
        g_strdup_printf("an entry has no member %s; details stand in `details`", quoted);
  }
}

void bt__sent_entry_read(const json_t *json, BtSentEntry *entry) {
  *entry = (BtSentEntry){.texts = g_string_chunk_new(128)};
  entry->event.detail_names = entry->detail_names;
  entry->event.detail_values = entry->detail_values;
  const char *name = NULL;
  json_t *value = NULL;
  if (!json_is_object(json))
    refuse(entry, "entry", "an object");
  json_object_foreach((json_t *)json, name, value) read_member(entry, name, value);
  if (!entry->submission.id)
    refuse(entry, "id", "a UUID in lower case");
  if (json_object_get(json, "strike") && json_object_get(json, "amend"))
    refuse(entry, "strike", "either a strike or an amendment");
  if (!json_object_get(json, "strike"))
    entry->submission.event = &entry->event;
}

void bt__sent_entry_clear(BtSentEntry *entry) {
  g_string_chunk_free(entry->texts);
  g_free(entry->refused);
}

// Out -------------------------------------------------------------------------

static json_t *detail_json(const BtDetail *detail, const BtDetailValue *value) {
  if (detail->kind == BT_DETAIL_WORD)
    return json_string(value->text);
  g_autofree char *number = bt_decimal_format(value->milli);
  return json_string(number);
}

static json_t *details_json(const BtRubric *rubric, const BtEvent *event) {
  json_t *details = json_object();
  for (int i = 0; i < event->n_details; i++) {
    const BtDetail *detail = &rubric->actions[event->action].details[event->details[i].detail];
    json_object_set_new(details, detail->name, detail_json(detail, &event->details[i]));
  }
  return details;
}

static json_t *value_json(const BtEvent *event) {
  if (event->kind != BT_EVENT_MEASURE && event->kind != BT_EVENT_RATE)
    return json_null();
  g_autofree char *value = bt_decimal_format(event->value_milli);
  return json_string(value);
}

static json_t *redo_json(const BtEvent *event) {
  if (event->redo == BT_REDO_NO)
    return json_null();
  return event->redo == BT_REDO_YES ? json_string("yes") : json_integer(event->redo);
}

json_t *bt__event_json(const BtRubric *rubric, const BtEvent *event) {
  bool work = event->kind == BT_EVENT_WORK;
  return json_pack("{sisIssss?ss?sososs?so}", "seq", event->seq, "at_ms", (json_int_t)event->at_ms,
                   "action",
                   work ? rubric->actions[event->action].id : bt_event_kind_name(event->kind),
                   "site", event->site >= 0 ? rubric->sites[event->site].id : NULL, "item",
                   bt_event_item_id(rubric, event), "value", value_json(event), "redo",
                   redo_json(event), "note", event->note, "details", details_json(rubric, event));
}

// As they were sent -----------------------------------------------------------

// From the book's form, numbers in thousandths, to the texts of the log.
static json_t *sent_details(const char *details_json) {
  json_t *details = json_object();
  json_t *kept = details_json ? json_loads(details_json, 0, NULL) : NULL;
  const char *name = NULL;
  json_t *value = NULL;
  json_object_foreach(kept, name, value) {
    g_autofree char *number = bt_decimal_format(json_integer_value(value));
    json_object_set_new(details, name,
                        json_is_integer(value) ? json_string(number) : json_incref(value));
  }
  json_decref(kept);
  return details;
}

static void add_event(json_t *entry, const BtRecord *record) {
  gint64 at_ms = 0;
  if (!record->time || !bt_clock_parse(record->time, &at_ms))
    return;
  json_object_update_new(entry,
                         json_pack("{sIss?ss?ss?ss?ss?ss?so}", "at_ms", (json_int_t)at_ms, "action",
                                   record->action, "site", record->site, "item", record->item,
                                   "value", record->value, "redo", record->redo, "note",
                                   record->note, "details", sent_details(record->details_json)));
}

json_t *bt__record_json(const BtRecord *record) {
  json_t *entry = json_pack("{ss?si}", "id", record->id, "seq", record->seq);
  switch (record->kind) {
  case BT_RECORD_EVENT:
    break;
  case BT_RECORD_STRIKE:
  case BT_RECORD_AMEND:
    json_object_set_new(entry, record->kind == BT_RECORD_STRIKE ? "strike" : "amend",
                        json_integer(record->seq));
    json_object_set_new(entry, "reason", json_string(record->reason));
    break;
  default:
    json_decref(entry);
    return NULL;
  }
  add_event(entry, record);
  return entry;
}
