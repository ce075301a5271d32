// SPDX-License-Identifier: GPL-3.0-or-later
//
// Documents for people: the progress workbook.
#ifndef BENCHTALLY_WORKBOOK_H
#define BENCHTALLY_WORKBOOK_H

#include <benchtally/book.h>
#include <benchtally/words.h>

G_BEGIN_DECLS

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

// The director's workbook -----------------------------------------------------

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
// errors, assessors, standards, curves, methods. A book without any closed session gives one that
// says so. Same book and scope, same bytes; a former file is replaced only by a whole new one.
// Errors: UNKNOWN (no such rubric or cohort in the book, or nothing left of it in scope), DISK,
// EXPORT, DATABASE.
BT_API BT_MUST_USE bool bt_cohort_workbook_write(BtBook *book, const BtCohortScope *scope,
                                                 const char *path, GError **error);

G_END_DECLS
#endif
