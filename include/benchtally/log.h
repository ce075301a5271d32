// SPDX-License-Identifier: GPL-3.0-or-later
//
// Events in: one entry resolved against a rubric; tidy CSV and JSON Lines as streams.
#ifndef BENCHTALLY_LOG_H
#define BENCHTALLY_LOG_H

#include <benchtally/model.h>

G_BEGIN_DECLS

// An entry as it was written down: text everywhere, NULL or "" for an empty field.
typedef struct {
  const char *time, *action, *site, *item, *value, *redo, *note;
  const char *const *detail_names; // names and values side by side; empty values are not logged
  const char *const *detail_values;
  int n_details;
} BtRawEvent;

// Which field of a raw event is at fault; `detail` is the index of a detail's value.
typedef enum {
  BT_FIELD_TIME,
  BT_FIELD_ACTION,
  BT_FIELD_SITE,
  BT_FIELD_ITEM,
  BT_FIELD_VALUE,
  BT_FIELD_REDO,
  BT_FIELD_NOTE,
  BT_FIELD_DETAIL
} BtField;

// Resolves `raw` against `rubric` as SCORING.md section 10 ("On entry") says. `seq` is the event's
// sequence number. True: *event is filled; its details stand in `details` (room for at least
// raw->n_details) and its strings are borrowed from `raw` and `rubric`. False: refused. `on_fault`
// is called for each fault (one or more when refused) and warning, and takes over the two texts
// (g_free; `expected` may be NULL); it may be NULL itself. `seq` is also what a redo must be
// earlier than. An error or a note may have a site, which is kept; no other built-in action takes
// one.
typedef void (*BtFieldFault)(BtField field, int detail, bool warning, char *wrong, char *expected,
                             gpointer user_data);
BT_API BT_MUST_USE bool bt_event_resolve(const BtRubric *rubric, const BtRawEvent *raw, int seq,
                                         BtEvent *event, BtDetailValue *details,
                                         BtFieldFault on_fault, gpointer user_data);

// What a reader needs from outside, and where it puts what it reads. Every function may set `error`
// and return NULL/false to stop the reading.
typedef struct {
  // The rubric edition, borrowed until the reading ends; NULL with no `error`: there is none (the
  // reader makes the fault).
  const BtRubric *(*rubric)(const char *id, int edition, gpointer user_data, GError **error);
  // A new observation; the answer is handed to `event` (NULL with `error` set: refused).
  gpointer (*observation)(const BtHeader *header, const BtRubric *rubric, gpointer user_data,
                          GError **error);
  // Its next event. `id` is the event's own id (a lower-case UUID) or NULL. `line` is the line of
  // the file.
  bool (*event)(gpointer observation, const BtEvent *event, const char *id, gint64 line,
                gpointer user_data, GError **error);
  // May be NULL: called now and then with the bytes read so far and in all (0: unknown).
  void (*progress)(gint64 done_bytes, gint64 all_bytes, gpointer user_data);
  gpointer user_data;
  // May be NULL. Nearest rubric ids for "did you mean": the ids known, NULL-terminated, caller
  // frees with g_strfreev.
  char **(*rubric_ids)(gpointer user_data);
} BtLogSink;

// Reads a file of tidy CSV or JSON Lines (known by its first character: '{' is JSON Lines),
// streaming; the memory used does not grow with the file beyond one record per observation and,
// where events bring ids, 48 bytes an id. Faults and warnings are appended to `faults` (as
// many as a BtFaultList keeps; then a last one says how many more there were). The sink is handed
// what is sound even after a fault, so what it got is to be kept only when the answer is true. True
// when the file has no fault that is no warning. A false without `error` set means faults; with it
// (FILE, or what a sink function set) the reading stopped.
BT_API BT_MUST_USE bool bt_log_read_file(const char *path, const BtLogSink *sink, GPtrArray *faults,
                                         GError **error);

// Reads a whole file into observations (in order of first appearance) against one rubric: for
// scoring without a book. NULL when there are faults, or `error` is set. Caller frees the array
// (elements with it).
BT_API BT_MUST_USE GPtrArray *bt_log_read_observations(const char *path, const BtRubric *rubric,
                                                       GPtrArray *faults, GError **error);

G_END_DECLS
#endif
