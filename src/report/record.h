// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the workbook of one trainee shows, gathered: plain data, so that the sheets know no book.
#ifndef BENCHTALLY_REPORT_RECORD_H
#define BENCHTALLY_REPORT_RECORD_H

#include <benchtally/measure.h>
#include <benchtally/workbook.h>

// The other trainees' totals at one attempt, in thousandths of a percent.
typedef struct {
  int n;                        // how many others
  gint64 low_milli, high_milli; // their quartiles; only when n is enough
} BtMiddleHalf;

#define BT_COHORT_LEAST 4 // fewer others would be no context, and would show single people
bool bt__middle_half_shown(const BtMiddleHalf *half);

// A closed observation of record, scored.
typedef struct {
  const BtSessionRow *row;    // borrowed
  const BtRubric *rubric;     // borrowed
  BtObservation *observation; // owned
  BtLedger *ledger;           // owned
  BtMiddleHalf others;
} BtAttempt;

// All attempts of the trainee at one exercise, by attempt; at least one.
typedef struct {
  const BtRubric *rubric; // the edition of the latest attempt
  GPtrArray *attempts;    // of BtAttempt, owned
  GPtrArray *lines;       // of BtLedgerLine, owned: the latest attempt's ledger in words
} BtExercise;

const BtAttempt *bt__attempt(const BtExercise *exercise, guint index);
const BtAttempt *bt__latest_attempt(const BtExercise *exercise);

typedef struct {
  const BtSessionRow *row; // borrowed
  bool amended;            // else struck
  int seq;
  gint64 wall_ms;
  char *by, *reason, *before, *after; // after: NULL when struck
} BtCorrection;

typedef struct {
  const BtPerson *person; // borrowed
  GPtrArray *exercises;   // of BtExercise, that of the latest session first; at least one
  GPtrArray *others;   // of BtSessionRow, borrowed: second observers, the trainee's own, still open
  GPtrArray *sessions; // of BtSessionRow, borrowed: closed, of record, by start
  GPtrArray *corrections; // of BtCorrection, owned, in the order written
  GPtrArray *editions;    // of BtEdition, borrowed: those used here
  GHashTable *names;      // of people by code, borrowed; a code without a name is missing
  char head[BT_SHA256_HEX + 1];
  gint64 head_records;
  gint64 as_of_ms; // when the newest record shown was closed
} BtTraineeRecord;

void bt__trainee_record_free(BtTraineeRecord *record); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtTraineeRecord, bt__trainee_record_free)

// The trainee's name, else the code. Borrowed.
const char *bt__trainee_name(const BtTraineeRecord *record);
// "Dr Ada Beispiel (a1)", or "a1" without a name. Caller frees.
char *bt__person_text(const BtTraineeRecord *record, const char *code);
// The exercise's latest attempt among all: that of the latest session.
const BtExercise *bt__latest_exercise(const BtTraineeRecord *record);

// Gathers the record of `trainee`. NULL with `error` as bt_workbook_write says.
BtTraineeRecord *bt__gather(BtWorkbookContext *context, const char *trainee, GError **error);

// The others' totals ----------------------------------------------------------

typedef struct BtCohort BtCohort;

// Of the rows (BtSessionRow) that are of record, closed and have a total. Caller frees.
BtCohort *bt__cohort_new(const GPtrArray *rows);
void bt__cohort_free(BtCohort *cohort); // NULL is allowed
// Those of everyone at this attempt of this rubric but for `row` itself.
BtMiddleHalf bt__cohort_at(const BtCohort *cohort, const BtSessionRow *row);

#endif
