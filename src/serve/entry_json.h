// SPDX-License-Identifier: GPL-3.0-or-later
//
// Entries of an observation as JSON, in and out.
#ifndef SERVE_ENTRY_JSON_H
#define SERVE_ENTRY_JSON_H

#include <benchtally/book.h>
#include <jansson.h>

// An entry as a page sent it. Texts are borrowed from the JSON or owned by the entry.
typedef struct {
  BtSubmission submission;
  BtRawEvent event;
  const char *detail_names[BT_DETAILS_MAX], *detail_values[BT_DETAILS_MAX];
  GStringChunk *texts;
  char *refused; // why it cannot be an entry; NULL: it can
} BtSentEntry;

// Reads `json`, which must outlive the entry. Clear with bt__sent_entry_clear.
void bt__sent_entry_read(const json_t *json, BtSentEntry *entry);
void bt__sent_entry_clear(BtSentEntry *entry);

// An entry as it was sent, an event or a correction; NULL for the records that are none. The
// caller's own.
json_t *bt__record_json(const BtRecord *record);

// An event of the effective log. The caller's own.
json_t *bt__event_json(const BtRubric *rubric, const BtEvent *event);

#endif
