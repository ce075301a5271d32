// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/raw_event.h"

#include <string.h>

static void copy_details(RawEvent *raw, const BtAction *action, const BtEvent *event) {
  for (int i = 0; i < event->n_details; i++) {
    const BtDetailValue *value = &event->details[i];
    g_autofree char *number = value->text ? NULL : bt_decimal_format(value->milli);
    raw_event_set_detail(raw, action->details[value->detail].name,
                         value->text ? value->text : number);
  }
}

RawEvent *raw_event_new(const BtRubric *rubric, const BtEvent *event) {
  RawEvent *raw = g_new0(RawEvent, 1);
  raw->names = g_ptr_array_new_with_free_func(g_free);
  raw->values = g_ptr_array_new_with_free_func(g_free);
  if (!event)
    return raw;
  const BtAction *action = event->kind == BT_EVENT_WORK ? &rubric->actions[event->action] : NULL;
  raw->field[RAW_TIME] = bt_clock_format_exact(event->at_ms);
  raw->field[RAW_ACTION] = g_strdup(action ? action->id : bt_event_kind_name(event->kind));
  raw->field[RAW_SITE] = event->site >= 0 ? g_strdup(rubric->sites[event->site].id) : NULL;
  raw->field[RAW_ITEM] = g_strdup(bt_event_item_id(rubric, event));
  if (event->kind == BT_EVENT_MEASURE || event->kind == BT_EVENT_RATE)
    raw->field[RAW_VALUE] = bt_decimal_format(event->value_milli);
  raw->field[RAW_REDO] = event->redo == BT_REDO_YES ? g_strdup("yes")
                         : event->redo > 0          ? g_strdup_printf("%d", event->redo)
                                                    : NULL;
  raw->field[RAW_NOTE] = g_strdup(event->note);
  if (action)
    copy_details(raw, action, event);
  return raw;
}

void raw_event_free(RawEvent *raw) {
  if (!raw)
    return;
  for (int i = 0; i < RAW_FIELDS; i++)
    g_free(raw->field[i]);
  g_ptr_array_unref(raw->names);
  g_ptr_array_unref(raw->values);
  g_free(raw);
}

void raw_event_set(RawEvent *raw, RawField field, const char *value) {
  g_free(raw->field[field]);
  raw->field[field] = value && *value ? g_strdup(value) : NULL;
}

void raw_event_set_detail(RawEvent *raw, const char *name, const char *value) {
  guint i = 0;
  while (i < raw->names->len && strcmp(raw->names->pdata[i], name) != 0)
    i++;
  if (i < raw->names->len) {
    g_ptr_array_remove_index(raw->names, i);
    g_ptr_array_remove_index(raw->values, i);
  }
  if (value && *value) {
    g_ptr_array_insert(raw->names, (gint)i, g_strdup(name));
    g_ptr_array_insert(raw->values, (gint)i, g_strdup(value));
  }
}

BtRawEvent raw_event_view(const RawEvent *raw) {
  return (BtRawEvent){.time = raw->field[RAW_TIME],
                      .action = raw->field[RAW_ACTION],
                      .site = raw->field[RAW_SITE],
                      .item = raw->field[RAW_ITEM],
                      .value = raw->field[RAW_VALUE],
                      .redo = raw->field[RAW_REDO],
                      .note = raw->field[RAW_NOTE],
                      .detail_names = (const char *const *)raw->names->pdata,
                      .detail_values = (const char *const *)raw->values->pdata,
                      .n_details = (int)raw->names->len};
}
