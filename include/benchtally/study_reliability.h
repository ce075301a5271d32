// SPDX-License-Identifier: GPL-3.0-or-later
//
// How reliable the scores of one rubric are, from what the book holds of it: for the reliability
// command and for the director's workbook.
#ifndef BENCHTALLY_STUDY_RELIABILITY_H
#define BENCHTALLY_STUDY_RELIABILITY_H

#include <benchtally/reliability.h>
#include <benchtally/severity.h>
#include <benchtally/study.h>

G_BEGIN_DECLS

// A trainee whose latest session lies so near the pass mark that another one like it might have
// decided otherwise.
typedef struct {
  const BtStudyRow *row; // the latest session of record; borrowed from the study
  double away_percent;   // its total less the pass mark
  bool within_one;       // within one standard error of measurement; else within 1.96 of them
} BtDoubtful;

// A trainee's latest session as its assessors gave it and as the mean assessor would have.
typedef struct {
  const BtStudyRow *row; // its observation of record; borrowed from the study
  BtFairMean percent;    // over all assessors of the session
} BtFairTotal;

typedef struct {
  const BtRubric *rubric; // borrowed from the study
  double cut_percent;     // the pass mark used
  // What it rests on: assessors' own observations with a total, one a session and assessor.
  gsize observations, sessions, trainees, assessors;
  gsize double_seen; // sessions that two assessors or more observed
  gsize self_rated;  // observations by the trainee, in none of the figures
  // One item a checkpoint, its values the share done (0..1) in each trainee's latest session of
  // record; missing where it was not seen or did not count.
  BtItems *items;
  // The first of these designs that the scores allow: "trainee x session x assessor",
  // "assessor:(trainee x session)", "trainee x session", "trainee x assessor". Sessions meet by
  // attempt number. NULL: none, and `about_design` says why.
  BtGStudy *gstudy;
  const char *about_design;          // static
  const char *confounded;            // what it cannot separate; static; NULL without a design
  int session_facet, assessor_facet; // of the design; -1: it has none
  BtDStudy one;                      // what one session seen by one assessor reaches
  // What the figures below use: Phi and the absolute error of one session seen by one assessor, or
  // (from_items) alpha and what it leaves of the standard deviation.
  bool from_items;
  BtEstimate reliability, sem_percent;
  GArray *latest_percent; // of double: each trainee's latest total of record
  double mean_percent, sd_percent;
  BtDecision decision;        // Livingston and Lewis
  BtDecision decision_normal; // Subkoviak
  GArray *doubtful;           // of BtDoubtful, nearest to the pass mark first
  // Severity in points of the total, from what assessors gave the very same sessions.
  BtSeverityStudy *severity;
  GPtrArray *assessor; // the code of each of its assessors; borrowed from the study
  GArray *fair;        // of BtFairTotal, by trainee; beside the raw totals, never instead of them
} BtStudyReliability;

// Reads it off a study. `cut_percent` below 0: the rubric's own pass mark. The study must live as
// long. Never NULL. Caller frees with bt_study_reliability_free.
BT_API BT_MUST_USE BtStudyReliability *bt_study_reliability(const BtStudy *study,
                                                            double cut_percent,
                                                            BtComponentMethod method);
BT_API void bt_study_reliability_free(BtStudyReliability *reliability); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtStudyReliability, bt_study_reliability_free)

// The plan of so many sessions, each seen by so many assessors, under the study's design; a number
// whose facet the design has not is not looked at. What all trainees gain from one attempt to the
// next counts as progress, not as error (BtPlan.same). Needs a gstudy.
BT_API BtPlan bt_study_plan(const BtStudyReliability *reliability, double sessions,
                            double assessors);

G_END_DECLS
#endif
