// SPDX-License-Identifier: GPL-3.0-or-later
//
// Pass marks and what the book holds: the scores to set one by, and what one would have done to the
// decisions of the last year. For the standard command and for the director's workbook. A mark
// belongs to one edition, and so does a study.
#ifndef BENCHTALLY_STUDY_STANDARD_H
#define BENCHTALLY_STUDY_STANDARD_H

#include <benchtally/standard.h>
#include <benchtally/study.h>

G_BEGIN_DECLS

#define BT_LAST_YEAR_DAYS 365

// Observations of record that have a total, in the study's order.
typedef struct {
  gsize n;
  const BtStudyRow **row; // borrowed from the study
  double *score;          // total, percent
  gsize *trainee;         // from 0, by first appearance
  gsize trainees;
  BtFormer *was;       // under the edition's own pass mark
  gsize without_total; // of record, left out
} BtStudyScores;

// The scores of a study, which must outlive them, of sessions started in [from, before) (before 0:
// no end). Caller frees with bt_study_scores_free.
BT_API BT_MUST_USE BtStudyScores *bt_study_scores(const BtStudy *study, gint64 from_ms,
                                                  gint64 before_ms);
BT_API void bt_study_scores_free(BtStudyScores *scores); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtStudyScores, bt_study_scores_free)

// What a mark would have done to the decisions of the year that ends with the study's latest
// session.
typedef struct {
  gint64 from_ms, to_ms; // start of the year, of the latest session; both 0 for no session
  BtStudyScores *scores; // of that year
  BtPastEffect effect;   // its places are those of `scores`
  BtEstimate pass_rate;  // of its totals, whatever else decided
  double zone;           // how near to the mark is doubtful, percent; below 0: not known
} BtStudyEffect;

// `zone_percent` below 0: one standard error of measurement, as bt_study_reliability finds it.
// Never NULL. Caller frees with bt_study_effect_free.
BT_API BT_MUST_USE BtStudyEffect *bt_study_effect(const BtStudy *study, double cut_percent,
                                                  double zone_percent);
BT_API void bt_study_effect_free(BtStudyEffect *effect); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtStudyEffect, bt_study_effect_free)

G_END_DECLS
#endif
