// SPDX-License-Identifier: GPL-3.0-or-later
//
// Cumulative sums over attempts in order: when a trainee has shown the standard (LC-CUSUM), when
// one who had is leaving it (CUSUM), the sequential test between the two, and the drift of a
// measured value. Limits follow from error rates that are stated, exactly; nothing is drawn.
#ifndef BENCHTALLY_CUSUM_H
#define BENCHTALLY_CUSUM_H

#include <benchtally/estimate.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

// Pass or not yet -------------------------------------------------------------

typedef enum {
  BT_TO_STANDARD,  // not at standard until shown: LC-CUSUM (Biau and Porcher 2010)
  BT_FROM_STANDARD // at standard until shown otherwise: CUSUM (Page 1954)
} BtWatch;

// A chart. Each attempt adds its score, the sum never falls below 0, and at `limit` the chart
// signals. Scores are log likelihood ratios of the two rates, towards what is watched for.
typedef struct {
  const char *why_not; // NULL: usable; else static, completes "no chart: ..."
  BtWatch watch;
  double adequate;   // share of "not yet" of a trainee at standard
  double inadequate; // and of one who is not: above `adequate`, both between 0 and 1
  double on_pass, on_not_yet;
  double limit;
} BtCusum;

// The chart with a limit of your own (above 0).
BT_API BtCusum bt_cusum(BtWatch watch, double adequate, double inadequate, double limit);
// The chart whose chance of a false signal within so many attempts (1 to BT_CUSUM_ATTEMPTS_MOST)
// is `error` at most: the least such limit, in hundredths.
#define BT_CUSUM_ATTEMPTS_MOST 200
BT_API BtCusum bt_cusum_for(BtWatch watch, double adequate, double inadequate, gsize attempts,
                            double error);

// What the chart does to a trainee whose true share of "not yet" is `rate`: the chance of a signal
// within so many attempts (n), and how many attempts pass until one, on average (average run
// length). Exact: the sum is followed through every value that it can have, as long as those are
// 4096 at most; more are put on a lattice of 2048 steps, which leaves three digits.
BT_API BtEstimate bt_cusum_signals(const BtCusum *chart, double rate, gsize attempts);
BT_API BtEstimate bt_cusum_run(const BtCusum *chart, double rate);

// How many passes in a row take the sum from `sum` to the limit of a chart TO_STANDARD.
BT_API gsize bt_cusum_passes_needed(const BtCusum *chart, double sum);

// A trainee's way: the chart TO_STANDARD until it signals, then the one FROM_STANDARD until that
// does, and so on, each from 0. Attempts are counted from 1 here; 0 is none.
typedef struct {
  gsize n;
  double *sum;         // n, after each attempt
  BtWatch *watch;      // n, by which chart
  gsize reached;       // the latest attempt at which the standard was shown
  gsize left;          // the latest at which leaving it was signalled
  gsize left_from;     // the first attempt of the run that made that signal
  bool at_standard;    // reached, and not left since
  gsize passes_needed; // in a row, to show it (again); 0 when at standard
} BtWay;

// Follows `passed` (n attempts in order). Caller clears with bt_way_clear.
BT_API BtWay bt_way(const BtCusum *to, const BtCusum *from, const bool *passed, gsize n);
BT_API void bt_way_clear(BtWay *way);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BtWay, bt_way_clear)

// The sequential test (Wald 1945) as it is drawn for trainees (Williams, Parry and Schlup 1992;
// Bolsin and Colson 2000): a pass takes `s` off, a "not yet" adds 1 - s; at or below `accept` the
// rate is taken as acceptable, at or above `reject` as unacceptable.
typedef struct {
  const char *why_not; // NULL: usable; else static
  double p, q;         // ln(p1 / p0), ln((1 - p0) / (1 - p1))
  double s, accept, reject;
} BtSequentialTest;

typedef enum { BT_TEST_OPEN, BT_TEST_ACCEPTABLE, BT_TEST_UNACCEPTABLE } BtTestVerdict;

// `alpha`: chance of calling an acceptable rate unacceptable; `beta`: of the reverse. Both below
// one half.
BT_API BtSequentialTest bt_sequential_test(double acceptable, double unacceptable, double alpha,
                                           double beta);
// The first verdict on the attempts and the one (from 1; 0: none) that gave it. `at` may be NULL.
BT_API BtTestVerdict bt_sequential_verdict(const BtSequentialTest *test, const bool *passed,
                                           gsize n, gsize *at);

// Measured values -------------------------------------------------------------

// The tabular CUSUM: `high` and `low` (n each, may be NULL) get the sums of what lies more than
// `slack` above and below the target. Returns the first value (from 1) after which one is above
// `limit`; 0 for none. (NIST/SEMATECH e-Handbook, section 6.3.2.3.)
BT_API gsize bt_cusum_tabular(const double *value, gsize n, double target, double slack,
                              double limit, double *high, double *low);
// How many values pass until a signal, on average, when values are normal and their mean lies
// `shift` standard deviations off the target, towards the side that is watched; slack and limit in
// standard deviations. One-sided; both sides together: 1/(1/up + 1/down). By the integral equation
// of Page (1954), as Lucas and Crosier (1982) tabulate it.
BT_API BtEstimate bt_cusum_normal_run(double slack, double limit, double shift);

G_END_DECLS
#endif
