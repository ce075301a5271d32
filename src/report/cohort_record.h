// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the director's workbook shows, gathered: every closed session in scope by exercise and by
// trainee. Plain data, so that the sheets know no book.
#ifndef BENCHTALLY_REPORT_COHORT_RECORD_H
#define BENCHTALLY_REPORT_COHORT_RECORD_H

#include <benchtally/estimate.h>
#include <benchtally/study_agreement.h>
#include <benchtally/study_curve.h>
#include <benchtally/study_reliability.h>
#include <benchtally/workbook.h>

// What the cohort did at one attempt, in thousandths of a percent.
typedef struct {
  int attempt, n; // n: trainees with a total
  gint64 low_milli, median_milli, high_milli;
} BtCohortAttempt;

// An edition of a rubric that a session used, with what is told of it.
typedef struct {
  BtStudy *study;                  // owned, as all below
  BtStudyReliability *reliability; // at the edition's own pass mark; severity of assessors, too
  BtViews *views;                  // sessions that several assessors observed
  BtAgreement steps, errors;       // on all checkpoints, on all kinds of error
  BtScoreAgreement total;
  BtPractices *practices; // curves of totals, to the edition's own pass mark
  GArray *attempts;       // of BtCohortAttempt, by attempt
} BtCohortEdition;

// One rubric, all its editions that a session used.
typedef struct {
  const BtRubric *rubric; // the latest of these editions; borrowed from the book
  GPtrArray *editions;    // of BtCohortEdition, owned, by number; at least one
} BtCohortExercise;

// A session by its observation of record.
typedef struct {
  const BtStudyRow *row;  // borrowed from its study
  const BtRubric *rubric; // its edition; borrowed
  int exercise;
} BtCohortSession;

// Where a trainee stands at an exercise.
typedef struct {
  int sessions;                  // of record; 0: the rest is 0
  const BtCohortSession *latest; // borrowed from the trainee
  gint64 best_milli;             // the best total, thousandths of a percent; -1: none
} BtStanding;

typedef struct {
  const char *code;       // borrowed
  const BtPerson *person; // borrowed; NULL: not in the book's list of people
  GArray *sessions;       // of BtCohortSession, by start; owned; at least one
  BtStanding *standing;   // one an exercise; owned
  const BtCohortSession *latest;
  gint64 best_milli;  // over all exercises
  int with[3];        // exercises whose latest session came out so, by BtOutcome
  int held;           // of those not yet: for more than a total below the mark
  gint64 short_milli; // how far totals lie below their marks, summed over those not yet
  BtEstimate trend;   // percent an attempt, one slope for all exercises; n: sessions
} BtCohortTrainee;

typedef struct {
  const BtCohortScope *scope; // borrowed
  GPtrArray *exercises;       // of BtCohortExercise, owned, by rubric
  GPtrArray *trainees;        // of BtCohortTrainee, owned, those most in need first
  GPtrArray *people;          // of BtPerson, owned
  GPtrArray *editions;        // of BtEdition, owned
  GPtrArray *standards;       // of BtStandard, owned
  GHashTable *names;          // code -> name, borrowed from people; empty without names
  int sessions;               // of record, closed, in scope
  int observations;           // all closed ones
  gint64 from_ms, to_ms;      // start of the first and of the latest session; 0 without any
  gint64 as_of_ms;            // when the newest record shown was closed
  char head[BT_SHA256_HEX + 1];
  gint64 head_records;
} BtCohortRecord;

// Gathers the record. `scope` is borrowed. NULL with `error` as bt_cohort_workbook_write says.
BtCohortRecord *bt__cohort_gather(BtBook *book, const BtCohortScope *scope, GError **error);
void bt__cohort_record_free(BtCohortRecord *record); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtCohortRecord, bt__cohort_record_free)

const BtCohortExercise *bt__cohort_exercise(const BtCohortRecord *record, guint index);
const BtCohortTrainee *bt__cohort_trainee(const BtCohortRecord *record, guint index);
const BtCohortSession *bt__cohort_session(const BtCohortTrainee *trainee, guint index);

const BtCohortEdition *bt__cohort_edition(const BtCohortExercise *exercise, guint index);

// The total in thousandths of a percent, as it was scored; -1: nothing counted.
gint64 bt__total_milli(const BtStudyRow *row);
// Not yet, and not for its total alone.
bool bt__is_held(const BtStudyRow *row);
// Whole days by date (UTC) from the session to the latest of the record.
gint64 bt__days_since(const BtCohortRecord *record, const BtCohortSession *session);
// The name of a person of the book; NULL without one, or when names are left out. Borrowed.
const char *bt__cohort_name(const BtCohortRecord *record, const char *code);

// Fills what a trainee needs from the sessions (which are there, by start), and sorts trainees by
// it.
void bt__cohort_stand(BtCohortRecord *record);
// What an edition's study tells; takes `study` over. Caller frees.
BtCohortEdition *bt__cohort_edition_new(BtStudy *study);
void bt__cohort_edition_free(BtCohortEdition *edition);

#endif
