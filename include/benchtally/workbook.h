// SPDX-License-Identifier: GPL-3.0-or-later
//
// Documents for people: the ledger in words, the progress workbook.
#ifndef BENCHTALLY_WORKBOOK_H
#define BENCHTALLY_WORKBOOK_H

#include <benchtally/book.h>

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

// What all workbooks of a book share: people, editions, the cohort's results, read once. Borrows
// the book, which must stay open and should not be written to meanwhile.
typedef struct BtWorkbookContext BtWorkbookContext;
// NULL with `error`: DATABASE. Caller frees.
BT_API BT_MUST_USE BtWorkbookContext *bt_workbook_context_new(BtBook *book, GError **error);
BT_API void bt_workbook_context_free(BtWorkbookContext *context); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtWorkbookContext, bt_workbook_context_free)

// Writes the progress workbook of `trainee` to `path` (".xlsx"). Same book, same bytes; a former
// file is replaced only by a whole new one. Errors: UNKNOWN (no such trainee, or no closed
// session), DISK, EXPORT, DATABASE.
BT_API BT_MUST_USE bool bt_workbook_write(BtWorkbookContext *context, const char *trainee,
                                          const char *path, GError **error);

// The director's workbook ------------------------------------------------------

#define BT_SUPPRESS_LEAST 3 // "fewer than 2" would tell it is 1
#define BT_SUPPRESS_MOST  100

// What goes into it. Strings are borrowed.
typedef struct {
  const char *const *rubrics; // ids, NULL-terminated; NULL: every one that has a session
  const char *cohort;         // of the trainees; NULL: any
  gint64 from_ms, before_ms;  // sessions started in [from, before); before 0: no end
  // Above 0: for sharing. No row of a single person stands in it, and no count below this, nor what
  // would let one be worked out.
  int suppress_below;
  bool without_names;                                            // codes alone
  void (*progress)(gint64 done, gint64 all, gpointer user_data); // NULL is allowed
  gpointer user_data;
} BtCohortScope;

// Writes one workbook on the cohort to `path` (".xlsx"): who needs what, competencies, checkpoints,
// errors, assessors, standards, curves, methods. A scope without any closed session gives one that
// says so. Same book and scope, same bytes; a former file is replaced only by a whole new one.
// Errors: UNKNOWN (no such rubric or cohort in the book), DISK, EXPORT, DATABASE.
BT_API BT_MUST_USE bool bt_cohort_workbook_write(BtBook *book, const BtCohortScope *scope,
                                                 const char *path, GError **error);

G_END_DECLS
#endif
