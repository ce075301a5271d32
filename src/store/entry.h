// SPDX-License-Identifier: GPL-3.0-or-later
//
// A record of an observation's chain: its columns, its body and its link, and the event it holds.
#ifndef STORE_ENTRY_H
#define STORE_ENTRY_H

#include "store/store.h"

// As the columns have it. Strings are borrowed.
typedef struct {
  gint64 observation_id;
  gint64 number;
  BtRecordKind kind;
  gint64 seq;
  bool has_at, has_redo;
  gint64 at_ms, redo;
  const char *action, *site, *item, *value, *note, *details, *reason;
  gint64 wall_ms;
  const char *by, *source, *id;
  guint8 salt[BT_SALT_BYTES], body_sha256[BT_SHA256_BYTES], link_sha256[BT_SHA256_BYTES];
} BtEntry;

// What an observation's first record vouches for besides its own columns. Strings are borrowed.
typedef struct {
  BtHeader header;
  const char *rubric_sha256; // hex
} BtOpening;

const char *bt__record_kind_name(BtRecordKind kind); // "open", "event" ...
int bt__record_kind_from_name(const char *name);     // -1: none

// Computes the body's and the link's SHA-256. `opening` is given for the first record, else NULL.
void bt__entry_seal(GString *scratch, const BtEntry *entry, const BtOpening *opening,
                    const guint8 previous[BT_SHA256_BYTES], guint8 body_sha256[BT_SHA256_BYTES],
                    guint8 link_sha256[BT_SHA256_BYTES]);

// Writes the entry as a row. CONFLICT when its id is taken.
bool bt__entry_insert(BtBook *book, const BtEntry *entry, GError **error);

// The columns of every SELECT that bt__entry_read reads.
#define BT_ENTRY_COLUMNS                                                                           \
  "observation_id, number, kind, seq, at_ms, action, site, item, value, redo, note, details, "     \
  "reason, wall_ms, \"by\", source, id, salt, body_sha256, link_sha256"
// Reads the row that stands ready; strings live until the next step. False when its shape is wrong
// (a hash or a salt of another length, an unknown kind, text behind a NUL).
bool bt__entry_read(BtQuery *query, BtEntry *entry);

// Whether both say the same of the same event; ids are compared when both have one.
bool bt__entry_same_event(const BtEntry *a, const BtEntry *b);

// Events ----------------------------------------------------------------------

// Room for the strings that an entry of an event borrows.
typedef struct {
  GString *details;
  char value[32];
} BtEntryText;

// Fills the columns of the event (at_ms to details) from an event resolved against `rubric`.
void bt__entry_from_event(BtEntry *entry, const BtRubric *rubric, const BtEvent *event,
                          BtEntryText *text);

// Where an event's details and their texts go while it is read.
typedef struct {
  BtDetailValue details[BT_DETAILS_MAX];
  GString *text;
} BtEventRoom;

// Fills the columns of an event that a SELECT has read, resolved against `rubric`. Strings are
// borrowed from the entry, the rubric and the room. False when the columns do not fit the rubric.
bool bt__entry_to_event(const BtEntry *entry, const BtRubric *rubric, const BtNames *names,
                        BtEvent *event, BtEventRoom *room);

// Details ---------------------------------------------------------------------

// Appends the details as a canonical JSON object: {"length":16000,"use":"lag"}.
void bt__details_write(GString *out, const BtAction *action, const BtEvent *event);

// Reads such an object. Returns how many, -1 when `json` is not canonical or names a detail that
// the action has not.
int bt__details_read(const char *json, const BtAction *action, BtEventRoom *room);

// Whether `json` is a canonical JSON object of whole numbers and strings.
bool bt__details_canonical(const char *json);

#endif
