// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/model.h>

static const char *const columns[] = {
    "session", "trainee", "assessor", "rubric", "edition", "started", "mode", "time",
    "action",  "site",    "item",     "value",  "redo",    "note",    "id",   NULL};

const char *const *bt_log_columns(void) {
  return columns;
}

static const char *const kind_names[] = {NULL,    "start", "finish",  "pause",  "resume", "inject",
                                         "error", "rate",  "measure", "unseen", "note"};

const char *bt_event_kind_name(BtEventKind kind) {
  return kind_names[kind];
}

BtEventKind bt_event_kind_from_name(const char *name) {
  int i = bt_word_index(name, kind_names + BT_EVENT_START, BT_EVENT_NOTE - BT_EVENT_START + 1);
  return i < 0 ? BT_EVENT_WORK : (BtEventKind)(i + BT_EVENT_START);
}

const char *bt_event_item_id(const BtRubric *rubric, const BtEvent *event) {
  switch (event->kind) {
  case BT_EVENT_INJECT:
    return rubric->injects[event->item].id;
  case BT_EVENT_ERROR:
    return rubric->errors[event->item].id;
  case BT_EVENT_MEASURE:
    return rubric->measures[event->item].id;
  case BT_EVENT_RATE:
    return rubric->ratings[event->item].id;
  case BT_EVENT_UNSEEN:
    return event->item >= 0 ? rubric->checkpoints[event->item].id
                            : bt_component_name((BtComponent)event->component);
  default:
    return NULL;
  }
}

static const char *const mode_names[] = {"live", "video", "self"};

const char *bt_mode_name(BtMode mode) {
  return mode_names[mode];
}

int bt_mode_from_name(const char *name) {
  return bt_word_index(name, mode_names, G_N_ELEMENTS(mode_names));
}

BtObservation *bt_observation_new(const BtHeader *header) {
  BtObservation *observation = g_new(BtObservation, 1);
  GStringChunk *text = g_string_chunk_new(512);
  *observation = (BtObservation){.header = *header,
                                 .events = g_array_sized_new(FALSE, FALSE, sizeof(BtEvent), 64),
                                 .text = text,
                                 .blocks = g_ptr_array_new_with_free_func(g_free)};
  BtHeader *copy = &observation->header;
  copy->session = g_string_chunk_insert(text, header->session);
  copy->trainee = g_string_chunk_insert(text, header->trainee);
  copy->assessor = g_string_chunk_insert(text, header->assessor);
  copy->rubric = g_string_chunk_insert(text, header->rubric);
  return observation;
}

void bt_observation_free(BtObservation *observation) {
  if (!observation)
    return;
  g_array_unref(observation->events);
  g_string_chunk_free(observation->text);
  g_ptr_array_unref(observation->blocks);
  g_free(observation);
}

void bt_observation_add(BtObservation *observation, const BtEvent *event) {
  BtEvent copy = *event;
  if (event->n_details > 0) {
    BtDetailValue *details = g_memdup2(event->details, sizeof *details * (gsize)event->n_details);
    for (int i = 0; i < event->n_details; i++) {
      if (details[i].text)
        details[i].text = g_string_chunk_insert_const(observation->text, details[i].text);
    }
    g_ptr_array_add(observation->blocks, details);
    copy.details = details;
  }
  if (event->note)
    copy.note = g_string_chunk_insert(observation->text, event->note);
  g_array_append_val(observation->events, copy);
}
