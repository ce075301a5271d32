// SPDX-License-Identifier: GPL-3.0-or-later
//
// The ledger in words, in parts: rows by component, why a component is not assessed, what else was
// noted.
#ifndef BENCHTALLY_WORDS_LEDGER_PARTS_H
#define BENCHTALLY_WORDS_LEDGER_PARTS_H

#include <benchtally/words.h>

// What every part of the ledger's words looks at. All borrowed.
typedef struct {
  const BtRubric *rubric;
  const BtObservation *observation;
  const BtLedger *ledger;
} BtScored;

// A new row of `component`; `id` and `what` are copied, the rest is for the caller to fill.
BtLedgerLine *bt__ledger_line_new(BtComponent component, const char *id, const char *what);

// Append the rows of a component to `lines`.
void bt__step_lines(const BtScored *scored, GPtrArray *lines);
void bt__order_lines(const BtScored *scored, GPtrArray *lines);
void bt__time_lines(const BtScored *scored, GPtrArray *lines);
void bt__technique_lines(const BtScored *scored, GPtrArray *lines);
void bt__product_lines(const BtScored *scored, GPtrArray *lines);
void bt__rating_lines(const BtScored *scored, GPtrArray *lines);

// Why `component` was not assessed: "the session was not finished", "no value for Flow". NULL when
// it was assessed. Caller frees.
char *bt__why_not_assessed(const BtScored *scored, BtComponent component);

// What the log shows beside the points, a sentence each: complications, ways taken, order figures,
// unplanned and ignored events, quiet stretches, notes. Caller frees.
GPtrArray *bt__ledger_notes(const BtScored *scored);

// The title of the checkpoint of the rule's `then` that the event was bound to; the rule's own
// words when it left the score since. Borrowed.
const char *bt__then_title(const BtScored *scored, const BtRule *rule, int then_event);

// The value or values of an event that `expect` does not allow: "length 12 mm"; NULL when it is as
// expected or logs none of them. Caller frees.
char *bt__wrong_details(const BtAction *action, const BtCheckpoint *checkpoint,
                        const BtEvent *event);

// The last event in log order (time, sequence) that gives measure or rating `item` its value; NULL.
const BtEvent *bt__value_event(const BtObservation *observation, BtEventKind kind, int item);

#endif
