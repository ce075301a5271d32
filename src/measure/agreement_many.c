// SPDX-License-Identifier: GPL-3.0-or-later
//
// Any number of raters and holes: Fleiss' kappa, Gwet's AC1, Brennan and Prediger's coefficient.
//
// Errors are linearised: each subject has a value whose mean is the coefficient (Gwet 2014, section
// 5.3: kappa star), and the spread of these values over subjects, or over clusters of subjects, is
// its error.
#include "measure/agreement_parts.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

// What the coefficients are made from.
typedef struct {
  const BtRatings *ratings;
  const gsize *cluster;
  BtLevels levels;
  gsize subjects, paired;
  gsize *rated;     // ratings of each subject
  double *agrees;   // share of its pairs of ratings that are the same; 0 without a pair
  double *share;    // how common each category is
  double agreement; // mean of `agrees` over the paired subjects
} Votes;

static void votes_clear(Votes *votes) {
  bt__levels_clear(&votes->levels);
  g_free(votes->rated);
  g_free(votes->agrees);
  g_free(votes->share);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Votes, votes_clear)

// Enters one subject; `seen` counts its ratings of each category and is left at 0.
static void count_subject(Votes *votes, gsize subject, gsize *seen) {
  const int *place = votes->levels.place + subject * votes->ratings->raters;
  gsize raters = votes->ratings->raters, rated = bt__rated(votes->ratings, subject), same = 0;
  votes->rated[subject] = rated;
  for (gsize r = 0; r < raters; r++) {
    if (place[r] < 0)
      continue;
    same += 2 * seen[place[r]]++; // pairs, either way round
    votes->share[place[r]] += 1 / (double)rated;
  }
  for (gsize r = 0; r < raters; r++) {
    if (place[r] >= 0)
      seen[place[r]] = 0;
  }
  votes->subjects += rated > 0;
  votes->paired += rated > 1;
  votes->agrees[subject] = rated > 1 ? (double)same / (double)(rated * (rated - 1)) : 0;
  votes->agreement += votes->agrees[subject];
}

static Votes count_votes(const BtRatings *ratings, const gsize *cluster) {
  Votes votes = {.ratings = ratings, .cluster = cluster, .levels = bt__levels(ratings)};
  votes.rated = g_new0(gsize, ratings->subjects + 1);
  votes.agrees = g_new0(double, ratings->subjects + 1);
  votes.share = g_new0(double, votes.levels.n + 1);
  g_autofree gsize *seen = g_new0(gsize, votes.levels.n + 1);
  for (gsize i = 0; i < ratings->subjects; i++)
    count_subject(&votes, i, seen);
  for (gsize c = 0; c < votes.levels.n; c++)
    votes.share[c] /= (double)votes.subjects;
  votes.agreement /= (double)votes.paired;
  return votes;
}

// The mean of value[i] over the subjects that `counts` (rated at least so often), with its error
// over clusters.
static BtEstimate mean_over(const Votes *votes, const double *value, gsize least_rated,
                            double least, const char *why_not) {
  gsize subjects = votes->ratings->subjects, n = 0, clusters = 0;
  double sum = 0, squares = 0;
  for (gsize i = 0; i < subjects; i++) {
    if (votes->rated[i] >= least_rated) {
      sum += value[i];
      n++;
    }
  }
  double mean = sum / (double)n;
  g_autofree double *off = g_new0(double, subjects + 1);
  g_autofree bool *held = g_new0(bool, subjects + 1);
  for (gsize i = 0; i < subjects; i++) {
    if (votes->rated[i] >= least_rated) {
      gsize c = votes->cluster ? votes->cluster[i] : i;
      off[c] += value[i] - mean;
      held[c] = true;
    }
  }
  for (gsize c = 0; c < subjects; c++) {
    squares += off[c] * off[c];
    clusters += held[c];
  }
  double df = (double)clusters - 1;
  double se = sqrt(squares * (double)clusters / df) / (double)n;
  return bt__estimate_cut(mean, se, df, least, 1, votes->paired, why_not);
}

// A coefficient whose chance agreement is the mean over subjects of `weight` of their categories
// (constant: `weight` NULL, `chance` given).
static BtEstimate coefficient(const Votes *votes, double chance, const double *weight) {
  gsize raters = votes->ratings->raters;
  if (votes->paired == 0)
    return bt_not_estimable(BT__NO_TWO, 0);
  double left = 1 - chance, value = (votes->agreement - chance) / left;
  if (!isfinite(value))
    return bt_not_estimable(BT__ALL_THE_SAME, votes->paired);
  double grow = (double)votes->subjects / (double)votes->paired;
  g_autofree double *star = g_new0(double, votes->ratings->subjects + 1);
  for (gsize i = 0; i < votes->ratings->subjects; i++) {
    double own = votes->rated[i] > 1 ? grow * (votes->agrees[i] - chance) / left : 0;
    double expected = weight ? 0 : chance;
    for (gsize r = 0; weight && r < raters; r++) {
      int place = votes->levels.place[i * raters + r];
      expected += place < 0 ? 0 : weight[place] / (double)votes->rated[i];
    }
    star[i] = own - 2 * (1 - value) * (expected - chance) / left;
  }
  BtEstimate estimate = mean_over(votes, star, 1, -1, BT__ALL_THE_SAME);
  estimate.value = value; // the same but for rounding
  return estimate;
}

// Fleiss (1971): the chance that two ratings drawn from all are the same. With two raters it is
// that of Scott (1955).
static BtEstimate fleiss(const Votes *votes) {
  double chance = 0;
  for (gsize c = 0; c < votes->levels.n; c++)
    chance += votes->share[c] * votes->share[c];
  return coefficient(votes, chance, votes->share);
}

// Gwet (2008), Br J Math Stat Psychol 61:29-48, equation 5.
static BtEstimate ac1(const Votes *votes, gsize categories) {
  g_autofree double *weight = g_new(double, votes->levels.n + 1);
  double chance = 0, others = (double)categories - 1;
  for (gsize c = 0; c < votes->levels.n; c++) {
    weight[c] = (1 - votes->share[c]) / others;
    chance += votes->share[c] * weight[c];
  }
  return coefficient(votes, chance, weight);
}

BtManyRaters bt_many_raters(const BtRatings *ratings, gsize categories, const gsize *cluster) {
  g_auto(Votes) votes = count_votes(ratings, cluster);
  categories = MAX(categories, votes.levels.n);
  return (BtManyRaters){.subjects = votes.subjects,
                        .paired = votes.paired,
                        .categories = categories,
                        .agreed = votes.paired == 0
                                      ? bt_not_estimable(BT__NO_TWO, 0)
                                      : mean_over(&votes, votes.agrees, 2, 0, BT__NO_TWO),
                        .fleiss = fleiss(&votes),
                        .ac1 = ac1(&votes, categories),
                        // Brennan and Prediger (1981), Educ Psychol Meas 41:687-699.
                        .brennan_prediger = coefficient(&votes, 1 / (double)categories, NULL)};
}

BtEstimate bt_fleiss_category(const BtRatings *ratings, double category) {
  gsize cells = ratings->subjects * ratings->raters;
  g_autofree double *cell = g_new(double, cells + 1);
  for (gsize i = 0; i < cells; i++)
    cell[i] = bt_is_missing(ratings->cell[i]) ? BT_MISSING : ratings->cell[i] == category;
  BtRatings apart = {ratings->subjects, ratings->raters, cell};
  g_auto(Votes) votes = count_votes(&apart, NULL);
  return fleiss(&votes);
}

// Fleiss, Nee and Landis (1979), Psychol Bull 86:974-977: equations 12 and 13.
BtFleissTest bt_fleiss_test(const BtRatings *ratings) {
  g_auto(Votes) votes = count_votes(ratings, NULL);
  if (votes.paired == 0)
    return (BtFleissTest){.why_not = BT__NO_TWO, .by_chance = 1};
  double n = (double)votes.subjects, pairs = 0, spread = 0, skew = 0;
  for (gsize i = 0; i < ratings->subjects; i++) {
    double m = (double)votes.rated[i];
    if (m > 0 && pairs > 0 && m * (m - 1) != pairs)
      return (BtFleissTest){.why_not = "not every subject has as many ratings", .by_chance = 1};
    if (m > 0)
      pairs = m * (m - 1);
  }
  for (gsize c = 0; c < votes.levels.n; c++) {
    double p = votes.share[c], q = 1 - p;
    spread += p * q;
    skew += p * q * (q - p);
  }
  BtEstimate kappa = fleiss(&votes);
  if (kappa.why_not || !(spread > 0))
    return (BtFleissTest){.why_not = BT__ALL_THE_SAME, .by_chance = 1};
  double each = sqrt(2 / (n * pairs));
  BtFleissTest test = {.null_se = each * sqrt(spread * spread - skew) / spread,
                       .null_se_category = each};
  test.z = kappa.value / test.null_se;
  test.by_chance = 2 * pnorm(-fabs(test.z), 0, 1, TRUE, FALSE);
  return test;
}
