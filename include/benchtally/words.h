// SPDX-License-Identifier: GPL-3.0-or-later
//
// What happened in words: events, the ledger, the outcome.
#ifndef BENCHTALLY_WORDS_H
#define BENCHTALLY_WORDS_H

#include <benchtally/score.h>

G_BEGIN_DECLS

// An event in words, all that it holds but its number and time: "Screw placed, Radius, length
// 16 mm, redo", "error: Drill plunges, Ulna", "note: ...". Neither argument is NULL. Caller frees.
BT_API BT_MUST_USE char *bt_event_words(const BtRubric *rubric, const BtEvent *event);

// A row of a ledger as a person reads it. All strings owned by the row.
typedef struct {
  BtComponent component;
  char *id;       // of the checkpoint, rule, kind, measure, rating or phase
  char *what;     // its title
  char *expected; // "6 to 8 times; length 14..18 mm"
  char *happened; // "3:05, 3:40, 4:10; 12 mm at 4:10"
  gint64 at_ms; // the moment to look at on the session's clock (active time is not used); -1: none
  bool counts;  // false: listed, but not in the score
  gint64 given_mp, possible_mp;
  char *why;       // one sentence
  bool lost;       // points were lost here, or a critical failure stands here
  bool critical;   // a critical failure
  bool remarked;   // `why` says more than that all was as expected, though nothing was lost
  int first_event; // sequence number of the first event it rests on; 0
} BtLedgerLine;
BT_API void bt_ledger_line_free(BtLedgerLine *line);

// Every row of the ledger in words, in the order steps, order, time, technique, product, rating.
// Caller frees.
BT_API BT_MUST_USE GPtrArray *bt_ledger_lines(const BtRubric *rubric,
                                              const BtObservation *observation,
                                              const BtLedger *ledger);
// The outcome in one sentence with its number ("Not yet: ..."). Caller frees.
BT_API BT_MUST_USE char *bt_outcome_sentence(const BtRubric *rubric,
                                             const BtObservation *observation,
                                             const BtLedger *ledger);
// Reason number `index` of the ledger in words, with the event's times; NULL when the total alone
// says it. Caller frees.
BT_API BT_MUST_USE char *bt_reason_words(const BtRubric *rubric, const BtObservation *observation,
                                         const BtLedger *ledger, guint index);
// The ledger as plain text for a terminal of `columns` (0: 80; at least 60). A row that lost
// nothing takes one line; with `full` every row says what was expected, what happened and why.
// Caller frees.
BT_API BT_MUST_USE char *bt_ledger_text(const BtRubric *rubric, const BtObservation *observation,
                                        const BtLedger *ledger, int columns, bool full);

G_END_DECLS
#endif
