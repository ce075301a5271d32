// SPDX-License-Identifier: GPL-3.0-or-later
//
// A study: what the book holds of one rubric, as the plain tables that statistics are made from.
// Read in one pass; every closed observation is scored again by this engine, its events are dropped
// unless they are asked for.
#ifndef BENCHTALLY_STUDY_H
#define BENCHTALLY_STUDY_H

#include <benchtally/book.h>

G_BEGIN_DECLS

// Done is what earned all its points: conforming as often as the rubric asks at the least.
typedef enum { BT_STEP_NOT_DONE, BT_STEP_DONE, BT_STEP_NOT_SEEN, BT_STEP_OUT } BtStepState;

// What a session shows of a competency: points of the checkpoints (its phases' too), order rules,
// measures and ratings that it names and that counted, less what its errors cost.
typedef struct {
  bool assessed;                // any of its parts was
  gint64 given_mp, possible_mp; // given is not below 0
  int errors;                   // found, of the kinds it names
} BtCompetencyScore;

// One closed observation. Arrays are as long as the rubric's lists, in their order.
typedef struct {
  const BtSessionRow *row; // whose, when, which attempt, the totals as issued; borrowed
  const BtPerson *trainee; // NULL: not in the book's list of people; borrowed
  guint8 *step;       // of BtStepState, one a checkpoint; OUT: it did not count here (an option
                      // not taken, dropped, not added)
  double *step_share; // how much of it was done, 0..1; BT_MISSING when not seen or out
  int *errors;        // how many of each kind; -1: technique was not seen
  double *rating;     // BT_MISSING when not given
  double *measure;    // in the measure's unit; BT_MISSING
  double *phase_s;    // seconds charged to each phase
  BtCompetencyScore *competency;
  double total_percent; // BT_MISSING when nothing counts
  double total_s;
  double concordance; // 0..1; BT_MISSING without pairs
  int displaced;
  BtOutcome outcome;
  bool total_decides;         // pass, or not yet for nothing but a total below the mark
  BtObservation *observation; // with its events, when they were asked for; else NULL
} BtStudyRow;

typedef struct {
  const char *rubric;            // NULL: only one is in the book
  int edition;                   // 0: the latest
  const char *session, *trainee; // NULL: any
  const char *cohort;            // of the trainee; NULL: any
  gint64 from_ms, before_ms;     // started in [from, before); before 0: no end
  bool of_record_only;           // only the observation that decides its session
  bool with_events;
} BtStudyScope;

typedef struct {
  const BtRubric *rubric; // borrowed from the book
  GPtrArray *rows;        // of BtStudyRow, by trainee, start, session, assessor, mode
} BtStudy;

// Reads a study. UNKNOWN: no such rubric or edition, or none named where the book has several (the
// message lists them). A study without rows is no error. `progress` may be NULL. Caller frees.
BT_API BT_MUST_USE BtStudy *bt_study_read(BtBook *book, const BtStudyScope *scope,
                                          void (*progress)(gint64 done, gint64 all,
                                                           gpointer user_data),
                                          gpointer user_data, GError **error);
BT_API void bt_study_free(BtStudy *study); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtStudy, bt_study_free)

G_END_DECLS
#endif
