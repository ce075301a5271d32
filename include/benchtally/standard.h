// SPDX-License-Identifier: GPL-3.0-or-later
//
// Where the pass mark should stand: five ways to set it, each with its uncertainty, and what a mark
// does to scores. Pure functions over plain arrays, which are borrowed. Marks and scores are
// percentages of the points, 0 to 100; a score at the mark passes. What cannot be estimated says
// why.
//
// Where limits come from resampling they are percentiles of the figure over draws with replacement
// (Efron and Tibshirani 1993, An Introduction to the Bootstrap, ch. 13), repeatable by their seed.
// Whole trainees are drawn, with all their scores.
#ifndef BENCHTALLY_STANDARD_H
#define BENCHTALLY_STANDARD_H

#include <benchtally/estimate.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

#define BT_STANDARD_DRAWS 1000 // enough for limits to a twentieth of a standard error or so

// How often and from which seed to draw. `draws` 0: no limits by resampling.
typedef struct {
  guint draws;
  guint32 seed;
} BtResampling;

// The proper name of a way by its id, as inside a sentence: "Hofstee" for "hofstee", "borderline
// regression" for "borderline". Static; an id that is none of the five is its own name.
BT_API const char *bt_standard_method_name(const char *id);

// What a mark does ------------------------------------------------------------

// The share (0..1) of the scores that pass, with Wilson's limits; BT_MISSING is left out.
BT_API BtEstimate bt_pass_rate(const double *score, gsize n, double cut);

// How a session stands under the mark it was scored by.
typedef enum {
  BT_WAS_PASS,
  BT_WAS_NOT_YET, // for its total alone: another mark may change it
  BT_WAS_HELD,    // not yet for a critical failure or a floor: no mark changes it
  BT_WAS_UNDECIDED
} BtFormer;

typedef struct {
  gsize decided; // pass or not yet, with a total
  gsize stays_pass, stays_not_yet;
  gsize to_not_yet, to_pass; // whom the mark would have turned
  gsize held;                // of stays_not_yet: at or above the mark, and held all the same
  gsize left_out;            // undecided, or without a total
  GArray *doubtful;          // of gsize, the places of decided scores at most `zone` from the mark
} BtPastEffect;

// What the mark would have done to `n` decided scores. `zone` is a standard error of measurement,
// say; below 0: none is listed as doubtful. Caller frees with bt_past_effect_clear.
BT_API BtPastEffect bt_past_effect(const double *score, const BtFormer *was, gsize n, double cut,
                                   double zone);
BT_API void bt_past_effect_clear(BtPastEffect *effect);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BtPastEffect, bt_past_effect_clear)

// Judges ----------------------------------------------------------------------

// The marks that judges set each for themselves.
typedef struct {
  gsize judges;      // who set one
  double *cut;       // one a judge of the input; BT_MISSING: set none
  double *from_rest; // each judge's mark less the mean of all others; BT_MISSING likewise
  // Farther from the rest than the rest's own spread explains: Student's test of one left-out
  // value, at 5 in 100 for the whole panel (Bonferroni). Never with fewer than three judges.
  bool *far;
  BtEstimate mean; // standard error sd / sqrt(judges), limits by Student's t; n: judges
  double median;   // BT_MISSING without judges
  double variance; // between the judges' marks; 0 for one judge
} BtPanel;

// The panel of `judges` marks, BT_MISSING where a judge set none. Caller frees with
// bt_panel_clear.
BT_API BtPanel bt_panel(const double *cut, gsize judges);
BT_API void bt_panel_clear(BtPanel *panel);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BtPanel, bt_panel_clear)

// How judges moved from one round to the next: those with a mark in both.
typedef struct {
  gsize judges, moved;
  BtEstimate change; // mean of later less earlier; limits by Student's t on the differences
  double sd_before, sd_after;
} BtPanelChange;
BT_API BtPanelChange bt_panel_change(const double *before, const double *after, gsize judges);

// Angoff (1971): each judge says of each item what share of just adequate trainees would do it.
typedef struct {
  gsize items, judges; // rated, rating
  gsize holes;         // ratings that were not given, and were filled
  // Each judge's mark is the mean over the items, weighted by their points. The panel's standard
  // error is that over judges, the items taken as they are (Jaeger 1991).
  BtPanel panel;
  // The same mark; its error when the items, too, are a sample of those that might have been set
  // (Brennan and Lockwood 1980, Appl Psychol Meas 4:219-240). Normal limits.
  BtEstimate both;
  BtEstimate judge_variance, item_variance, residual_variance; // components, in squared percent
  BtEstimate agreement; // ICC(2,1) of the judges over the items that all of them rated
} BtAngoff;

// `ratings`: items (subjects) by judges (raters), percent. `points`: the weight of each item; NULL:
// all alike. A missing rating is filled with the sum of its item's and its judge's effects by least
// squares (Yates 1933), so that who left out the hard items is not taken for severe; its judge's
// spread is then a little too small. Caller frees with bt_angoff_clear.
BT_API BtAngoff bt_angoff(const BtRatings *ratings, const double *points);
BT_API void bt_angoff_clear(BtAngoff *angoff);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BtAngoff, bt_angoff_clear)

// Ebel (1972): items in cells by relevance and difficulty, each cell with the percentage of its
// items that a just adequate trainee would do.
typedef struct {
  gsize judge;    // from 0
  double items;   // how many the judge put there (or their points); not below 0
  double percent; // BT_MISSING: the judge said nothing of this cell
} BtEbelCell;

// Each judge's mark is the sum of items x percent over the sum of items of the cells with both. A
// panel that agreed on one grid is one judge. Caller frees with bt_panel_clear.
BT_API BtPanel bt_ebel(const BtEbelCell *cells, gsize n, gsize judges);

// Trainees --------------------------------------------------------------------

// Scores of trainees. `trainee` tells whose each is, by any number; NULL: each is another's.
typedef struct {
  gsize n;
  const double *score; // none missing
  const gsize *trainee;
} BtCohortScores;

// The marks between two groups.
typedef enum {
  BT_CUT_MIDPOINT, // halfway between the two means
  BT_CUT_CROSSING, // where the two normal curves cross, between the means (equal weight)
  BT_CUT_LOGISTIC, // where the chance of being competent is a half (logistic regression)
  BT_CONTRASTING_CUTS
} BtContrastingCut;
BT_API const char *bt_contrasting_cut_name(BtContrastingCut cut); // static

typedef struct {
  gsize n;
  double mean, sd; // BT_MISSING where there are too few
} BtGroupScores;

// Whom a mark tells wrongly.
typedef struct {
  gsize false_pass;    // not competent, at or above it
  gsize false_not_yet; // competent, below it
  // The same as shares of their groups, were the scores normal. n: of the group.
  BtEstimate false_pass_share, false_not_yet_share;
} BtWronglyTold;

typedef struct {
  BtGroupScores not_competent, competent;
  // By formula: Welch's (midpoint) and the delta method (logistic); the crossing stands bare. n:
  // scores.
  BtEstimate cut[BT_CONTRASTING_CUTS];
  // Midpoint and crossing by draws within each group, the even chance by draws from the whole
  // cohort (it moves with the share of the competent).
  BtEstimate resampled[BT_CONTRASTING_CUTS];
  BtWronglyTold wrong[BT_CONTRASTING_CUTS]; // at each mark that could be estimated
  double other_crossing; // where the curves cross a second time; BT_MISSING: they do not
  // No score of one group lies among those of the other: plain logistic regression has no answer,
  // and Firth's (1993, Biometrika 80:27-38), which always has one, stands in. Any mark above
  // gap_low, up to gap_high, tells both groups apart without a fault.
  bool separated;
  double gap_low, gap_high;
  double intercept, slope; // of the log odds; 0 without a logistic mark
  // The fewest wrongly told by any mark, and the least of the scores that does it as a mark.
  gsize fewest_wrong;
  double fewest_wrong_at;
} BtContrasting;

// Contrasting groups (Livingston and Zieky 1982, Passing Scores). `competent` says of each score
// which group it is of. Nothing is owned.
BT_API BtContrasting bt_contrasting(const BtCohortScores *scores, const bool *competent,
                                    BtResampling resampling);

// Borderline regression and the borderline group (Wood, Humphrey-Murto and Norman 2006, Adv Health
// Sci Educ 11:115-122).
typedef struct {
  BtEstimate slope; // score per grade: inter-grade discrimination; Student's limits
  double intercept; // this and the next two are 0 where there is no line
  double r_squared; // share of the scores' variance that the line explains
  double rmse;      // spread of the scores around the line, n - 2
  BtEstimate cut;   // the line at the borderline rating; error of the fitted mean, Student's limits
  BtEstimate resampled;
  bool beyond;             // no rating on one side of the borderline: the line is drawn out to it
  BtEstimate group_mean;   // of those rated borderline; Student's limits
  BtEstimate group_median; // limits from order statistics (Conover 1999, section 3.2): 6 or more
} BtBorderline;

// `rating` is as long as the scores, none missing. Nothing is owned.
BT_API BtBorderline bt_borderline(const BtCohortScores *scores, const double *rating,
                                  double borderline, BtResampling resampling);

// Hofstee (1983): each judge says between which marks, and between which shares of "not yet", the
// outcome may lie; the scores decide where.
typedef struct {
  double least_cut, most_cut;         // percent
  double least_not_yet, most_not_yet; // shares, 0..1
} BtHofsteeJudge;

typedef enum {
  BT_HOFSTEE_MEETS,
  BT_HOFSTEE_TOO_MANY, // even the least mark leaves more short of it than judges would accept
  BT_HOFSTEE_TOO_FEW   // even the greatest mark leaves fewer
} BtHofsteeMeeting;

typedef struct {
  const char *why_not;   // NULL: the curve could be drawn
  BtHofsteeJudge limits; // means over the judges
  BtHofsteeMeeting meeting;
  // Where the line from (least mark, most "not yet") to (greatest mark, least "not yet") meets the
  // curve of scores below a mark, which joins the shares at the scores. Judges and trainees are
  // both resampled; a draw that does not meet counts with `instead`. n: scores.
  BtEstimate cut;
  double not_yet; // the line's share there
  double instead; // without a meeting: the limit that the curve passes by (common practice)
  // Without joining: the least whole percentage within the limits at which as many as the line says
  // are below the mark; BT_MISSING: none.
  double whole_cut, whole_not_yet;
} BtHofstee;

// De Gruijter (1985, J Educ Meas 22:263-269). Nothing is owned.
BT_API BtHofstee bt_hofstee(const BtHofsteeJudge *judge, gsize judges, const BtCohortScores *scores,
                            BtResampling resampling);

G_END_DECLS
#endif
