// SPDX-License-Identifier: GPL-3.0-or-later
//
// An event as text that can be changed field by field and resolved again.
#ifndef BENCHTALLY_CLI_RAW_EVENT_H
#define BENCHTALLY_CLI_RAW_EVENT_H

#include <benchtally/log.h>

typedef enum {
  RAW_TIME,
  RAW_ACTION,
  RAW_SITE,
  RAW_ITEM,
  RAW_VALUE,
  RAW_REDO,
  RAW_NOTE,
  RAW_FIELDS
} RawField;

typedef struct {
  char *field[RAW_FIELDS];   // NULL: empty
  GPtrArray *names, *values; // of the details, side by side
} RawEvent;

// A copy of `event`; NULL event: all fields empty. Caller frees.
RawEvent *raw_event_new(const BtRubric *rubric, const BtEvent *event);
void raw_event_free(RawEvent *raw); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(RawEvent, raw_event_free)

// Sets a field; "" and NULL empty it.
void raw_event_set(RawEvent *raw, RawField field, const char *value);
// Sets a detail; "" and NULL take it away.
void raw_event_set_detail(RawEvent *raw, const char *name, const char *value);
// The event as the log layer takes it; borrowed from `raw` until the next change.
BtRawEvent raw_event_view(const RawEvent *raw);

#endif
