// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reliability: how well checkpoints hang together, how much of what a score shows is the trainee,
// what a plan of assessors and sessions would reach, and how firm a pass decision is.
#ifndef BENCHTALLY_RELIABILITY_H
#define BENCHTALLY_RELIABILITY_H

#include <benchtally/error.h>
#include <benchtally/estimate.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

// Items -----------------------------------------------------------------------

typedef struct {
  // The mean of what was given: for shares of a checkpoint done (0..1) how easy it is. Limits are
  // Wilson's (1927) where all values are 0 or 1, else normal. n: values.
  BtEstimate difficulty;
  // Corrected item-total correlation: with the mean over the person's other items. n: persons.
  BtEstimate discrimination;
  BtEstimate alpha_without; // alpha when this item is left out. n: persons
} BtItem;

typedef struct {
  gsize persons, items; // of the table; a person without any value is in none of the figures
  gsize complete;       // persons with a value for every item
  double items_each;    // harmonic mean number of values of a person; `items` without holes
  BtEstimate alpha;     // Cronbach's; limits of Feldt. With holes: see bt_items. n: persons
  BtEstimate kr20;      // Kuder and Richardson's formula 20: alpha, where all values are 0 or 1
  BtEstimate kr21;      // formula 21 (items taken as equally difficult), from complete persons
  BtItem item[];        // `items` of them, in the table's order
} BtItems;

// Item statistics of a table of persons (its subjects) by items (its raters). Without holes alpha
// is k/(k-1) (1 - sum of item variances / variance of totals) (Cronbach 1951). With holes nobody is
// left out: alpha is the coefficient of a persons x items study by the analogous ANOVA (Brennan
// 2001, section 7.1) for the harmonic mean number of items a person, which is the same figure where
// there are none. Caller frees with g_free.
BT_API BT_MUST_USE BtItems *bt_items(const BtRatings *table);

// Cronbach's alpha from summary figures: the number of items, the sum of their variances and the
// variance of the totals. Without limits when `persons` is below 2.
BT_API BtEstimate bt_alpha_of_variances(gsize items, double item_variances, double total_variance,
                                        gsize persons);

// Reliability of something `factor` times as long (Spearman 1910; Brown 1910), and how many times
// as long it must be to have reliability `target`; not estimable outside 0 < reliability < 1.
BT_API BtEstimate bt_spearman_brown(double reliability, double factor);
BT_API BtEstimate bt_spearman_brown_factor(double reliability, double target);

// Designs ---------------------------------------------------------------------

#define BT_FACETS_MOST  6
#define BT_EFFECTS_MOST ((1 << BT_FACETS_MOST) - 1)

// How scores were collected: "trainee x assessor" (every assessor saw every trainee), "p x (r:t)"
// (raters of their own in each task), "i:p". A set of facets is a word of bits, facet i being bit
// i. An effect is a set that with each facet holds those it is nested in.
typedef struct {
  int facets;
  char *name[BT_FACETS_MOST];   // in order of appearance
  guint within[BT_FACETS_MOST]; // the facets that this one is nested in, all the way up
  int object;                   // what is measured: the first facet that is nested in none
  int effects;
  guint effect[BT_EFFECTS_MOST]; // small sets first; the last one holds every facet
} BtDesign;

// Reads a design. Names are letters, digits, "-" and "_"; "x" is crossing, ":" nesting (binding
// closer), "( )" grouping. NULL with `error` (OPTION: what is wrong, at which character). Caller
// frees with bt_design_free.
BT_API BT_MUST_USE BtDesign *bt_design_parse(const char *text, GError **error);
BT_API void bt_design_free(BtDesign *design); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtDesign, bt_design_free)

// What an effect is called: "trainee", "assessor:task", "trainee x (assessor:task)". Caller frees.
BT_API char *bt_design_name(const BtDesign *design, guint effect);
// The least effect that holds these facets.
BT_API guint bt_design_closure(const BtDesign *design, guint facets);

// Generalizability study ------------------------------------------------------

// One score a place, with its level of each facet (numbers from 0, the order of the design's
// facets). Levels of a nested facet may be numbered anew in each nest. Plain data: whoever made it
// owns it.
typedef struct {
  gsize n;
  const double *score;        // finite
  const gsize *const *levels; // levels[facet][score]
} BtScores;

typedef enum {
  BT_BY_ANOVA, // Henderson's method 1 (1953); for complete tables the usual ANOVA
  BT_BY_REML   // restricted likelihood: never negative, takes much longer
} BtComponentMethod;

typedef struct {
  gsize groups;       // how many of it the scores have
  double df;          // with holes a count by the same rule, which many holes take below 0
  double uncorrected; // T: sum over groups of n times the mean squared
  double sum_of_squares;
  BtEstimate mean_square; // n: groups
  // Its variance component as it was estimated, below zero too. With a standard error where the
  // table is complete (Brennan 2001, section 6.1: normal scores). n: groups.
  BtEstimate component;
  double used; // what decision studies take: the component, 0 where it is negative
  // How much of it is left in an object's mean over its own scores: the sum of squares of their
  // shares in its groups, a mean over the objects. 1 over the conditions where nothing is missing.
  double left;
} BtEffect;

typedef struct {
  char *why_not; // NULL: estimated; else in words, with the design's names
  gsize n;
  double mean, uncorrected_mean; // of all scores; T of the mean
  bool complete;                 // every cell of the design has its score
  bool any_negative;
  // Conditions of each facet within its nest, a harmonic mean over the objects measured; of the
  // object: how many there are.
  double conditions[BT_FACETS_MOST];
  // Degrees of freedom of relative error (Satterthwaite 1946) at `conditions`; 0: table incomplete.
  double error_df;
  BtDesign *design; // a copy of its own
  BtEffect *effect; // one an effect of the design, in its order
} BtGStudy;

// Variance components of the scores under a design (Brennan 2001, chapters 3 to 5 and 7). Each cell
// of the design may hold one score. Never NULL. Caller frees with bt_gstudy_free.
BT_API BT_MUST_USE BtGStudy *bt_gstudy(const BtDesign *design, const BtScores *scores,
                                       BtComponentMethod method);
BT_API void bt_gstudy_free(BtGStudy *study); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtGStudy, bt_gstudy_free)

// Decision study --------------------------------------------------------------

// A way to measure. `design`, NULL for the study's own, may nest what the study crossed.
typedef struct {
  const BtDesign *design;
  // Of each facet, within its nest; the object's is how many are measured, for the error of the
  // mean.
  double conditions[BT_FACETS_MOST];
  guint fixed; // facets whose very conditions are all that is meant
  guint same;  // facets at whose same conditions all objects are compared, as first sessions with
               // first ones: what such a condition adds for all is no error
} BtPlan;

// The plan that the scores themselves came from (with holes: near it, by the harmonic means),
// everything random.
BT_API BtPlan bt_plan_of_study(const BtGStudy *study);

typedef struct {
  double universe, relative, absolute; // variances: of universe scores, of either error
  double mean_error;                   // variance of the grand mean
  // For ranking and for pass decisions. As scored, and everything random, `ranking` has limits
  // where the table is complete (F; exact for one random facet, else Satterthwaite's).
  BtEstimate ranking;      // E rho^2
  BtEstimate decision;     // Phi
  BtEstimate sem_relative; // standard errors of measurement, in the score's unit
  BtEstimate sem_absolute;
} BtDStudy;

// What a plan reaches (Brennan 2001, chapters 4 and 5), negative components taken as 0.
BT_API BtDStudy bt_dstudy(const BtGStudy *study, const BtPlan *plan);

// What the objects' means over the very scores of the study reach, holes as they are; `fixed` and
// `same` as in a plan.
BT_API BtDStudy bt_dstudy_as_scored(const BtGStudy *study, guint fixed, guint same);

// Phi(lambda), how dependably objects are told to be above or below the cut, in the score's unit
// (Brennan and Kane 1977, with the mean's own error taken off, for which it may come out a little
// below Phi when the cut is near the mean). `reached` is one of the two above of this study.
BT_API BtEstimate bt_dstudy_at_cut(const BtGStudy *study, const BtDStudy *reached, double cut);

typedef struct {
  gsize least;  // conditions of the facet that reach the target; 0: no number does
  double limit; // what the coefficient comes near to as they grow without end
} BtReach;

// How many conditions of `facet` the plan needs, all else as it stands, for Phi (or, `ranking`, E
// rho^2) of `target` (within 0..1).
BT_API BtReach bt_dstudy_reach(const BtGStudy *study, const BtPlan *plan, int facet, bool ranking,
                               double target);

// Pass decisions --------------------------------------------------------------

typedef struct {
  BtEstimate consistency;   // share of persons decided alike by two such assessments
  BtEstimate kappa;         // the same, chance taken out
  BtEstimate accuracy;      // share decided as their true score would be
  BtEstimate false_pass;    // share that passes with a true score below the cut
  BtEstimate false_not_yet; // share that does not pass with a true score at or above it
  // Livingston and Lewis only, 0 elsewhere.
  double effective_length;                 // number of whole items that would be as reliable
  double true_low, true_high, alpha, beta; // the true scores' beta distribution, on 0..1
  const char *why_two; // why two parameters had to do instead of four; NULL: four; static
} BtDecision;

// From one assessment with true and observed scores taken as normal (Peng and Subkoviak 1980;
// Subkoviak 1988). `z` is (cut - mean) / standard deviation; for whole-number scores the cut is
// taken half a point lower; one that is not finite, for want of spread, is not estimable.
// 0 <= reliability <= 1. n: persons.
BT_API BtDecision bt_decision_normal(double z, double reliability, gsize n);

// From one assessment with scores between `least` and `most` (Livingston and Lewis 1995, with
// Hanson's 1991 form of the consistency table): true scores follow a beta distribution fitted by
// moments, errors are binomial over the effective length, rounded to whole items; a score at the
// cut passes. n: scores.
BT_API BtDecision bt_decision_beta(const double *scores, gsize n, double least, double most,
                                   double cut, double reliability);

// The number of whole, equally hard, independent items that would be as reliable:
// ((mean - least)(most - mean) - r s^2) / (s^2 (1 - r)).
BT_API BtEstimate bt_effective_length(double mean, double variance, double least, double most,
                                      double reliability);

G_END_DECLS
#endif
