// SPDX-License-Identifier: GPL-3.0-or-later
//
// Agreement between the assessors of a study: its sessions that two or more of them observed, as
// tables for bt_agreement, bt_icc and the rest. No argument may be NULL unless it says so.
#ifndef BENCHTALLY_STUDY_AGREEMENT_H
#define BENCHTALLY_STUDY_AGREEMENT_H

#include <benchtally/agreement.h>
#include <benchtally/study.h>

G_BEGIN_DECLS

// The name that all trainees' own records bear together, where they are let in.
#define BT_OWN_RECORD "own record"

// Sessions with two assessors or more, each assessor once: of one who observed a session both live
// and from video the live view counts.
typedef struct {
  const BtStudy *study; // borrowed
  gsize sessions, assessors;
  gsize alone;             // sessions that one assessor alone observed
  gsize own_left_out;      // trainees' own records
  gsize again_left_out;    // further views of a session by the same assessor
  const char **session;    // their codes, in the study's order; borrowed from the study
  const char **assessor;   // their codes, ascending; borrowed from the study
  const BtStudyRow **view; // sessions x assessors; NULL where one did not observe; borrowed
} BtViews;

// The views of a study, which must outlive them. `with_own`: trainees' own records count too, as
// those of one assessor more. Caller frees with bt_views_free.
BT_API BtViews *bt_views_new(const BtStudy *study, bool with_own);
BT_API void bt_views_free(BtViews *views); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtViews, bt_views_free)

// What the assessors are compared on; most have an item, an index into the rubric's list.
typedef enum {
  BT_VIEW_STEP,          // a checkpoint: 1 done, 0 not done
  BT_VIEW_ERROR,         // a kind of error: 1 seen, 0 not seen to happen
  BT_VIEW_RATING,        // its number
  BT_VIEW_MEASURE,       // in its unit
  BT_VIEW_TOTAL_PERCENT, // no item
  BT_VIEW_TOTAL_S        // no item
} BtViewOf;

// Fills `cell` (the caller's, sessions x assessors) with what each assessor has for it; BT_MISSING
// where one did not observe, could not see it, or where it did not count in that view.
BT_API void bt_views_fill(const BtViews *views, BtViewOf what, int item, double *cell);

// Agreement on one checkpoint or kind of error; `item` -1: on all of them together, with the
// sessions as clusters.
BT_API BtAgreement bt_views_agreement(const BtViews *views, BtViewOf what, int item);

// Intraclass correlations of a score.
typedef struct {
  // Each session was scored by the same assessors. Otherwise the two first of each session are
  // taken as any two, and only BT_ICC_1 and BT_ICC_1K have a meaning.
  bool same_raters;
  BtIcc icc;
} BtScoreAgreement;
BT_API BtScoreAgreement bt_views_icc(const BtViews *views, BtViewOf what, int item);

// One thing that assessors of a session saw otherwise.
typedef struct {
  gsize session;
  BtViewOf what; // STEP or ERROR
  int item;
  // One of them has it done and another not done. Otherwise they took different options or injects,
  // so that it counted for one and not for the other.
  bool counted;
} BtDisagreement;
// All of them (of BtDisagreement), by session, checkpoints first. Caller frees with g_array_unref.
BT_API GArray *bt_views_disagreements(const BtViews *views);

// Timed entries ---------------------------------------------------------------

// The entries of an observation that are compared (of BtTimedEvent), in the order logged: actions
// by action and site, errors by kind, injects; times from its `start` entry, where there is one.
// `seq`, which may be NULL, gets their sequence numbers (of int). Caller frees both with
// g_array_unref.
BT_API GArray *bt_timed_events(const BtRubric *rubric, const BtObservation *observation,
                               GArray **seq);

typedef struct {
  gsize session, first, second; // places in the views
  gsize n_first, n_second, matched;
} BtEventsCompared;

typedef struct {
  GArray *compared;        // of BtEventsCompared: each two views of each session
  gsize entries, matched;  // sums: of both lists, of pairs
  BtEstimate share;        // 2 x matched / entries, with sessions as clusters
  BtEstimate median_off_s; // median distance of two matched times, either way
  BtBlandAltman off_s;     // first less second assessor (by code) of a pair
} BtViewEvents;

// Compares the entries of the views, read from the book again. Two entries match at most
// `tolerance_ms` apart. NULL with `error` as bt_book_load. Caller frees with bt_view_events_free.
BT_API BT_MUST_USE BtViewEvents *bt_views_events(BtBook *book, const BtViews *views,
                                                 gint64 tolerance_ms, GError **error);
BT_API void bt_view_events_free(BtViewEvents *events); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtViewEvents, bt_view_events_free)

G_END_DECLS
#endif
