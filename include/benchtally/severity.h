// SPDX-License-Identifier: GPL-3.0-or-later
//
// Severity of assessors (hawks and doves), and means of trainees with it taken out.
#ifndef BENCHTALLY_SEVERITY_H
#define BENCHTALLY_SEVERITY_H

#include <benchtally/estimate.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

// Fewer assessors than this are judged each by what they alone show (fixed effects): the variance
// between so few is hardly known, and with it how far to draw them together (Gelman and Hill 2007,
// chapter 12). As many or more are drawn towards their mean (random effects), the more so the fewer
// scores they gave.
#define BT_SEVERITY_FEW 5

// One score a place. A subject is what several assessors may have scored: a trainee, or one
// performance of a trainee (then only assessors of the same performance are compared). Plain data:
// whoever made it owns it.
typedef struct {
  gsize n;
  const double *score; // finite; more is better
  const gsize *subject, *assessor;
  gsize subjects, assessors; // the numbers above are below these
} BtJudged;

// In points of the score. Severity above 0: harsher than the mean of the assessors (a hawk).
typedef struct {
  gsize n;              // scores given
  gsize shared;         // ... to subjects whom another assessor scored too
  gsize group;          // of assessors linked by subjects they share, from 0; 0 without scores
  bool left_out;        // of the comparison: not of the group that was compared
  BtEstimate raw_mean;  // of the scores given. n: scores
  BtEstimate severity;  // the one of the two below that this number of assessors asks for
  BtEstimate as_fixed;  // what this assessor alone shows. n: scores
  BtEstimate as_random; // drawn towards 0; bare when assessors do not differ. n: scores
} BtAssessorSeverity;

typedef struct {
  gsize n;              // scores received
  BtEstimate raw_mean;  // n: scores
  BtEstimate fair_mean; // raw mean with the mean severity of its assessors put back: what the mean
                        // assessor would have given. n: scores
} BtFairMean;

typedef struct {
  const char *why_not; // NULL: estimated; static. Else groups and raw means alone are told
  gsize n;
  gsize subjects, assessors; // as given
  gsize groups;              // of assessors that share subjects, directly or through others
  gsize left_out;            // assessors with scores who are not of the group compared
  bool random;               // which of the two severities was taken
  double assessor_variance;  // as random effects; 0: they do not differ beyond chance
  double residual_variance;  // of one score, trainee and assessor taken out
  BtAssessorSeverity *assessor;
  BtFairMean *subject;
} BtSeverityStudy;

// Severity by score = subject + assessor + error, where any subject may have been met by any
// assessors. Subjects are fixed effects: assessors are compared within the subjects they share,
// so it does no harm when the better trainees meet the harsher assessors (with subjects random it
// would). As fixed: least squares (intra-block analysis; Searle 1971, chapter 7); as random: the
// mixed model, by REML. Limits by Student's t on n - subjects - assessors + 1 degrees of freedom.
// Assessors who never share a subject, directly or through others, cannot be compared: of several
// groups of two or more the one with the most scores is (of equals, the one that comes first in the
// scores), as if it were alone and about its own mean; the others and their subjects say why not.
// Not estimable: one assessor; none who shares a subject; too little shared to tell severity from
// chance; no spread. Never NULL. Caller frees with bt_severity_free.
BT_API BT_MUST_USE BtSeverityStudy *bt_severity(const BtJudged *judged);
BT_API void bt_severity_free(BtSeverityStudy *severity); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtSeverityStudy, bt_severity_free)

G_END_DECLS
#endif
