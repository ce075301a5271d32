// SPDX-License-Identifier: GPL-3.0-or-later
//
// Learning curves: of one trainee at one exercise, and of a whole cohort at once, in which each
// trainee's few attempts borrow strength from all. Values are scores or times, an attempt is the
// how-manieth it was.
#ifndef BENCHTALLY_CURVE_H
#define BENCHTALLY_CURVE_H

#include <benchtally/estimate.h>
#include <benchtally/export.h>
#include <benchtally/measure.h>

G_BEGIN_DECLS

// One trainee -----------------------------------------------------------------

#define BT_CURVE_LEAST 5 // attempts, for the three figures of a curve

typedef enum {
  BT_CURVE_FLAT,        // start
  BT_CURVE_LINE,        // start + rate (k - 1)
  BT_CURVE_EXPONENTIAL, // plateau - (plateau - start) exp(-rate (k - 1))
  BT_CURVE_POWER,       // plateau - (plateau - start) k^-rate
  BT_CURVE_FORMS
} BtCurveForm;

// "exponential", "power", "straight line", "no change"; static.
BT_API const char *bt_curve_form_name(BtCurveForm form);
// The value at attempt `k` (1 or later, also between attempts); figures the form has not are not
// looked at.
BT_API double bt_curve_value(BtCurveForm form, double start, double rate, double plateau, double k);

// What must be said beside a fitted curve.
typedef enum {
  BT_CURVE_BEYOND = 1,       // the plateau is a value that cannot be reached
  BT_CURVE_PLATEAU_OPEN = 2, // the attempts do not tell where it levels off
  BT_CURVE_RATE_OPEN = 4,    // they do not tell how fast it might be
  BT_CURVE_AT_ONCE = 8,      // the change is over by the second attempt: no rate
  BT_CURVE_PERFECT = 16      // it goes through every point: nothing to judge its error by
} BtCurveCaution;
#define BT_CURVE_CAUTIONS 5
// A sentence for one of them; static.
BT_API const char *bt_curve_caution(BtCurveCaution caution);

// Figures the form has not are not estimable. n: attempts. Standard errors are those of the tangent
// plane (asymptotic). Limits of the line and of no change are Student's; those of the curves are
// the ends of the profile of the sum of squares (Bates and Watts 1988, section 6.1.2), which lie
// askew where they should; a figure that has none on a side has none at all.
typedef struct {
  const char *why_not; // NULL: fitted; else static, completes "not estimable: ..."
  BtEstimate start, rate, plateau;
  double df, residual_ss, residual_sd;
  BtEstimate aicc;   // Akaike's criterion for small samples (Hurvich and Tsai 1989)
  unsigned cautions; // of BtCurveCaution
} BtCurveFit;

typedef struct {
  gsize n; // attempts with a value
  BtCurveFit fit[BT_CURVE_FORMS];
  const char *why_no_choice; // NULL: one form is preferred; else static
  BtCurveForm preferred;     // the least AICc
  bool tie;                  // `rival` lies within 2 of it: the attempts cannot tell them apart
  BtCurveForm rival;
  // What is shown of few attempts: median slope and Kendall's test, of values in thousandths. n 0
  // where there are none.
  BtTrend trend;
} BtCurve;

// Fits all forms to `n` values in order of attempt; missing ones are left out. `attempt` is 1 or
// more and rises. A value lies within `least` and `most` (may be -INFINITY, INFINITY) if it can be
// reached.
BT_API BtCurve bt_curve(const double *attempt, const double *value, gsize n, double least,
                        double most);

// A cohort --------------------------------------------------------------------

// value = start + gain log2(attempt) + residual, start and gain of each trainee normal around the
// cohort's (REML). Logarithms, as gains grow smaller from attempt to attempt, and an average of
// many single curves looks like one of powers (Heathcote, Brown and Mewhort 2000); base 2, as
// "gain with each doubling" can be said to people.

typedef struct {
  gsize n;
  const double *attempt; // n, 1 or more
  const double *value;   // n, finite
  const gsize *trainee;  // n, below `trainees`; each has a value at least
  gsize trainees;
} BtCohortAttempts;

#define BT_ATTEMPTS_MOST 30 // further on, a curve foretells nothing

// The first attempt at which the expected value is at the mark; the interval holds every attempt at
// which it may first be, at BT_LEVEL. 0: not within BT_ATTEMPTS_MOST attempts.
typedef struct {
  gsize at;
  gsize low, high; // low 0: no attempt is likely to be; high 0: no attempt is sure to be
} BtToMark;

typedef struct {
  gsize n; // attempts
  BtEstimate start, gain;
  BtToMark to_mark;
} BtTraineeCurve;

typedef struct {
  const char *why_not; // NULL: fitted; else static, completes "not estimable: ...", rest is 0
  gsize n, trainees;
  bool common_gain;       // too few attempts a trainee for a gain of each one's own
  BtEstimate start, gain; // of the cohort; n: trainees
  double start_sd, gain_sd, correlation, residual_sd; // between trainees; within
  bool at_boundary; // a spread came out as 0, or start and gain as one thing
  BtToMark to_mark; // of the cohort's own curve
  BtTraineeCurve *trainee;
} BtCohortCurve;

// Fits the cohort. `falling`: less is better (times), and the mark is reached from above. No mark
// (BT_MISSING) is not reached. Never
// NULL; caller frees with bt_cohort_curve_free.
BT_API BT_MUST_USE BtCohortCurve *bt_cohort_curve(const BtCohortAttempts *attempts, double mark,
                                                  bool falling);
BT_API void bt_cohort_curve_free(BtCohortCurve *curve); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtCohortCurve, bt_cohort_curve_free)

G_END_DECLS
#endif
