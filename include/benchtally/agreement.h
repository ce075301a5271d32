// SPDX-License-Identifier: GPL-3.0-or-later
//
// Agreement between assessors. Pure functions over plain arrays, which are borrowed; what a result
// owns is said at it. Tables are BtRatings: subjects (sessions, say) by raters, BT_MISSING where
// one did not rate. What cannot be estimated says why.
//
// Standard errors are large-sample ones. Limits of a coefficient are cut at 1 and -1; a coefficient
// without any disagreement stands bare, because such data hold no word on its error.
#ifndef BENCHTALLY_AGREEMENT_H
#define BENCHTALLY_AGREEMENT_H

#include <benchtally/estimate.h>

G_BEGIN_DECLS

// Two raters, categories ------------------------------------------------------

// How often the first rater gave category i while the second gave j: categories x categories
// counts, row by row. Shares will do instead of counts, but then have no standard error of use.
typedef struct {
  gsize categories;
  double *value; // of the categories, ascending
  double *count;
} BtCrossTable;

// Crosses two raters (columns) of a table over the subjects that both rated. Its categories are
// those of the whole table. Caller frees with bt_cross_table_free.
BT_API BtCrossTable *bt_cross_table(const BtRatings *ratings, gsize first, gsize second);
BT_API void bt_cross_table_free(BtCrossTable *table); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtCrossTable, bt_cross_table_free)

typedef enum { BT_WEIGHTS_NONE, BT_WEIGHTS_LINEAR, BT_WEIGHTS_QUADRATIC } BtWeights;

// Agreement weights from the values of the categories: 1 on the diagonal, falling to 0 between the
// least and the greatest, with the distance or with its square (Cicchetti and Allison 1971; Fleiss
// and Cohen 1973). NONE: 1 and 0. `weight` is the caller's, categories x categories.
BT_API void bt_weights(BtWeights kind, const double *value, gsize categories, double *weight);
// The same from weights of disagreement, 0 on the diagonal (Cohen 1968); they need not be
// symmetric.
BT_API void bt_weights_of_disagreement(const double *disagreement, gsize categories,
                                       double *weight);

typedef struct {
  BtEstimate estimate;        // kappa; its error after Fleiss, Cohen and Everitt (1969)
  double observed, by_chance; // agreement, weighted
  double null_se;             // standard error were there only chance; 0: not estimable
  double greatest;            // what kappa could be at most with these margins (unweighted)
} BtKappa;

// Cohen's kappa (1960; weighted 1968) from counts, categories x categories. `weight` NULL: exact
// agreement counts. Not estimable where chance alone gives full agreement.
BT_API BtKappa bt_kappa(const double *count, gsize categories, const double *weight);

// What stands beside a kappa of two categories (Byrt, Bishop and Carlin 1993).
typedef struct {
  double prevalence; // both said the second less both said the first, over n: -1..1
  double bias;       // first rater's share of the second category less the second rater's
  double pabak;      // kappa were both 0: twice the agreement less 1
} BtTwoByTwo;
// From four counts, row by row, that are not all 0.
BT_API BtTwoByTwo bt_two_by_two(const double count[4]);

// Any number of raters, holes in the table ------------------------------------

// The conventions for holes are Gwet's (2014, Handbook of Inter-Rater Reliability, 4th ed., ch. 2
// and 5): a subject with two ratings or more enters the agreement, one with a single rating still
// enters how common each category is. Errors are linearised over subjects, or over clusters of
// them.
typedef struct {
  gsize subjects;              // rated at all
  gsize paired;                // by two or more
  gsize categories;            // as told, or seen if more
  BtEstimate agreed;           // of two ratings of one subject, how often they are the same
  BtEstimate fleiss;           // Fleiss' kappa (1971); with two raters Scott's pi (1955)
  BtEstimate ac1;              // Gwet's first coefficient (2008)
  BtEstimate brennan_prediger; // (1981); with two categories the PABAK
} BtManyRaters;

// `categories`: how many there are, were some never used; 0: those seen. `cluster` gives each
// subject a number below the number of subjects, such as the session an item belongs to; NULL: each
// subject stands alone.
BT_API BtManyRaters bt_many_raters(const BtRatings *ratings, gsize categories,
                                   const gsize *cluster);

// Fleiss' kappa for one category against all others (1971).
BT_API BtEstimate bt_fleiss_category(const BtRatings *ratings, double category);

// The test of Fleiss' kappa against chance (Fleiss, Nee and Landis 1979), which needs as many
// ratings of each subject.
typedef struct {
  const char *why_not; // NULL: the test could be made
  double null_se, z;
  double by_chance;        // two-sided p
  double null_se_category; // the same for each category on its own
} BtFleissTest;
BT_API BtFleissTest bt_fleiss_test(const BtRatings *ratings);

typedef enum { BT_NOMINAL, BT_ORDINAL, BT_INTERVAL, BT_RATIO } BtScale;
BT_API const char *bt_scale_name(BtScale scale); // "nominal" ...; static
BT_API int bt_scale_from_name(const char *name); // -1 if it is none

// With the ratio scale and more different values than this, an alpha has no interval (it would take
// the square of their number at every draw).
#define BT_ALPHA_RATIO_MOST 200

// Krippendorff's alpha (2011, Computing Krippendorff's alpha-reliability). `n` is the number of
// ratings that can be paired. Limits: percentiles of alpha over `draws` draws of subjects with
// replacement (Zapf and others 2016, BMC Med Res Methodol 16:93), repeatable by `seed`; `draws` 0:
// no limits. Negative values on the ratio scale have no alpha.
BT_API BtEstimate bt_alpha(const BtRatings *ratings, BtScale scale, guint draws, guint32 seed);

// Kendall's coefficient of concordance of raters (columns) that rank the subjects, ties allowed
// (Kendall 1970, ch. 6). Subjects that someone did not rate are left out.
typedef struct {
  BtEstimate w;       // 0 no, 1 full concordance; n: subjects ranked by all
  double sum_squares; // S: of the rank sums around their mean
  double mean_rho;    // mean of Spearman's rho over pairs of raters (without ties)
  double chi_square;  // raters x (n - 1) x W
  double by_chance;   // by chi square with n - 1: a rough figure for 7 subjects or fewer
  gsize left_out;
} BtConcordance;
BT_API BtConcordance bt_kendall_w(const BtRatings *ratings);

// Measured ratings ------------------------------------------------------------

// The forms of Shrout and Fleiss (1979), with the names of McGraw and Wong (1996) beside them.
typedef enum {
  BT_ICC_1,  // ICC(1,1), ICC(1): each subject its own raters; one rating
  BT_ICC_2,  // ICC(2,1), ICC(A,1): the same raters, absolute agreement; one rating
  BT_ICC_3,  // ICC(3,1), ICC(C,1): the same raters, consistency; one rating
  BT_ICC_1K, // the same of the mean over the raters: ICC(1,k), ICC(k)
  BT_ICC_2K, // ICC(2,k), ICC(A,k)
  BT_ICC_3K, // ICC(3,k), ICC(C,k)
  BT_ICC_FORMS
} BtIccForm;
BT_API const char *bt_icc_name(
    BtIccForm form); // "ICC(2,1), absolute agreement, one rating"; static

typedef struct {
  gsize subjects, raters;                   // used
  gsize left_out;                           // subjects that not every rater rated
  double between, within, raters_ms, error; // mean squares: BMS, WMS, JMS, EMS
  double subject_variance, rater_variance;  // components of the two-way model; may be negative
  // With limits from F (Shrout and Fleiss 1979; McGraw and Wong 1996 with the 1996 erratum's
  // degrees of freedom; those of the mean over raters by Spearman-Brown from those of one).
  BtEstimate form[BT_ICC_FORMS];
} BtIcc;

// From the subjects that every rater rated.
BT_API BtIcc bt_icc(const BtRatings *ratings);

// Limits of agreement between two raters or methods (Bland and Altman 1986, Lancet i:307-310;
// 1999, Stat Methods Med Res 8:135-160).
typedef struct {
  BtEstimate bias;         // mean of first less second, with limits by Student's t
  double sd;               // of the differences
  BtEstimate lower, upper; // bias -/+ multiplier x sd, each with its error and limits
} BtBlandAltman;

#define BT_LIMITS_MULTIPLIER 1.96 // for 95 of 100 differences, were they normal

// `first` and `second` are `n` long; subjects with only one value are left out. With one or
// two subjects, or where all differences are the same, there is a bias and no limits.
BT_API BtBlandAltman bt_bland_altman(const double *first, const double *second, gsize n,
                                     double multiplier);

// The repeatability coefficient of measurements repeated on each subject (columns): multiplier x
// the square root of twice the variance within subjects (Bland and Altman 1999, section 3.1). How
// far two measurements of one subject by one rater lie apart at most, 95 times of 100. `n`:
// subjects measured twice or more. `within_sd` may be NULL.
BT_API BtEstimate bt_repeatability(const BtRatings *ratings, double multiplier, double *within_sd);

// Timed events ----------------------------------------------------------------

// One entry of an observation. Entries can match only where `what` is the same.
typedef struct {
  gint64 at_ms;
  int what;
} BtTimedEvent;

typedef struct {
  gsize first, second; // places in the two lists
} BtEventPair;

typedef struct {
  gsize n_first, n_second;
  GArray *pairs; // of BtEventPair, in order of time
} BtEventMatch;

// Pairs the entries of two observations of one session: the same thing, at most `tolerance_ms`
// apart, in the same order in both. As many pairs as there can be; among those, the least sum of
// differences of time. The lists need not be sorted; entries at the same millisecond stand in the
// order of `what`. Time and memory grow with the pairs within the tolerance. Caller frees with
// bt_event_match_free.
BT_API BtEventMatch *bt_match_events(const BtTimedEvent *first, gsize n_first,
                                     const BtTimedEvent *second, gsize n_second,
                                     gint64 tolerance_ms);
BT_API void bt_event_match_free(BtEventMatch *match); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtEventMatch, bt_event_match_free)

// Everything at once ----------------------------------------------------------

// What is told of one checkpoint or kind of error over many subjects.
typedef struct {
  gsize raters;      // who rated something that another rated too
  gsize paired;      // subjects rated by two or more
  gsize pairs, same; // pairs of ratings of one subject; those that are the same
  double prevalence; // share of one category among the paired ratings; 0 without any
  BtEstimate agreed; // limits of Wilson where no subject has more than one pair, else clustered
  bool is_cohen;     // what kappa is: Cohen's, or Fleiss' for holes
  BtEstimate kappa;  // Cohen's where two raters stand alone and without clusters, else Fleiss'
  BtEstimate ac1;    // Gwet's
} BtAgreement;

// From one subject there is a share agreed and no more. `categories` and `cluster` as for
// bt_many_raters; `prevalent` is the category whose share is told
// as prevalence.
BT_API BtAgreement bt_agreement(const BtRatings *ratings, gsize categories, double prevalent,
                                const gsize *cluster);

G_END_DECLS
#endif
