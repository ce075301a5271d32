// SPDX-License-Identifier: GPL-3.0-or-later
//
// How trainees get on at one exercise, attempt by attempt: for the curve command and for the
// director's workbook. A curve belongs to one edition: another edition is another measure.
#ifndef BENCHTALLY_STUDY_CURVE_H
#define BENCHTALLY_STUDY_CURVE_H

#include <benchtally/curve.h>
#include <benchtally/cusum.h>
#include <benchtally/study.h>

G_BEGIN_DECLS

typedef enum {
  BT_CURVE_OF_PERCENT,   // the total
  BT_CURVE_OF_SECONDS,   // the time; less is better
  BT_CURVE_OF_CHECKPOINT // how much of one checkpoint was done, in percent; passed is done
} BtCurveOf;

// What is asked. The defaults (BT_CURVE_TERMS) are ours: at standard, one attempt in ten is a "not
// yet"; not at standard, every second one; a trainee of the second kind is taken for one of the
// first, or the reverse, in 1 of 20 within 20 attempts.
typedef struct {
  BtCurveOf of;
  int checkpoint;              // its index, for that
  double mark;                 // in percent, or seconds; BT_MISSING: none
  bool by_mark;                // a value at the mark is a pass, whatever else decided
  double adequate, inadequate; // shares of "not yet"
  gsize within;                // attempts
  double error;                // chance of a false signal within them
} BtCurveTerms;
#define BT_CURVE_TERMS                                                                             \
  { .mark = BT_MISSING, .adequate = 0.10, .inadequate = 0.50, .within = 20, .error = 0.05 }

// One attempt. Plain data; strings are borrowed.
typedef struct {
  const char *trainee;
  int attempt;          // 1 or more
  double value;         // BT_MISSING: none
  bool decided, passed; // undecided attempts are in no cumulative sum
  const char *session;  // NULL: of a table
} BtCurvePoint;

// What the attempts of one trainee show.
typedef struct {
  const char *trainee;       // borrowed
  gsize n;                   // attempts
  const BtCurvePoint *point; // n, in order; borrowed from the practices
  gsize not_here;            // earlier attempts that are missing, by their numbers
  gsize values;              // attempts with a value
  BtCurve curve;
  const BtTraineeCurve *in_cohort; // borrowed; NULL: no cohort was fitted, or there is no value
  gsize decided;
  BtWay way;             // of the decided attempts; its places are those of `decided_at`
  int *decided_at;       // numbers of attempts
  BtTestVerdict verdict; // of the sequential test, which takes one rate throughout: of attempts
                         // since the standard was shown
  int verdict_at;        // number of the attempt; 0: none
  int drifted_at;        // the attempt at which values since the standard was shown had drifted
                         // for the worse, by the sums of `drift`; 0: none
} BtPractice;

// What values are once the standard is shown, over the whole cohort: what drift is measured from.
typedef struct {
  const char *why_not; // NULL: known; else static, completes "no drift is looked for: ..."
  gsize n;             // attempts after the standard was shown
  double mean, sd;
  BtEstimate run; // attempts until a false signal, on average
} BtDrift;
#define BT_DRIFT_SLACK 0.5 // standard deviations: half the shift of one that is looked for
#define BT_DRIFT_LIMIT 4.0
#define BT_DRIFT_LEAST 20 // values

typedef struct {
  BtCurveTerms terms;
  bool falling;
  BtCusum to, from;
  BtSequentialTest test;
  BtCohortCurve *cohort;
  BtDrift drift;
  GArray *points;      // of BtCurvePoint
  GPtrArray *practice; // of BtPractice, in the order of the points
} BtPractices;

// Works out `points`, which come by trainee (each trainee's together, attempts rising) and are
// copied, strings apart. Never NULL. Caller frees with bt_practices_free.
BT_API BT_MUST_USE BtPractices *bt_practices(const BtCurvePoint *points, gsize n,
                                             const BtCurveTerms *terms);
// The same of a study's observations of record; the study must outlive it. A mark that is missing
// is the rubric's own: its pass mark, its target time. Never NULL. Caller frees with
// bt_practices_free.
BT_API BT_MUST_USE BtPractices *bt_study_practices(const BtStudy *study, const BtCurveTerms *terms);
BT_API void bt_practices_free(BtPractices *practices); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtPractices, bt_practices_free)

// Where a trainee stands, in words: "standard reached at attempt 9", "signal: look at the last
// four", "not yet shown: 3 more passes in a row would show it". Caller frees.
BT_API char *bt_practice_words(const BtPractice *practice, const BtPractices *practices);
// "at attempt 7", "not within 30 attempts", and the interval: "at attempt 7 (5 to 12)". Caller
// frees.
BT_API char *bt_to_mark_words(const BtToMark *to_mark);

G_END_DECLS
#endif
