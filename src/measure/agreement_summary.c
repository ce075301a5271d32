// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/agreement_parts.h"

#include <benchtally/proportion.h>

// Counts one subject that two or more rated.
static void count_pairs(BtAgreement *agreement, const double *row, gsize raters, bool *rates) {
  for (gsize a = 0; a < raters; a++) {
    for (gsize b = a + 1; b < raters; b++) {
      if (bt_is_missing(row[a]) || bt_is_missing(row[b]))
        continue;
      agreement->pairs++;
      agreement->same += row[a] == row[b];
      rates[a] = rates[b] = true;
    }
  }
}

// Cohen's kappa of the two who rate, from the subjects that both rated.
static BtEstimate cohen(const BtRatings *ratings, const bool *rates) {
  gsize first = 0, second;
  while (!rates[first])
    first++;
  for (second = first + 1; !rates[second];)
    second++;
  g_autoptr(BtCrossTable) table = bt_cross_table(ratings, first, second);
  return bt_kappa(table->count, table->categories, NULL).estimate;
}

BtAgreement bt_agreement(const BtRatings *ratings, gsize categories, double prevalent,
                         const gsize *cluster) {
  BtAgreement agreement = {0};
  gsize width = ratings->raters, given = 0, prevalent_given = 0;
  g_autofree bool *rates = g_new0(bool, width + 1);
  for (gsize i = 0; i < ratings->subjects; i++) {
    const double *row = ratings->cell + i * width;
    gsize rated = bt__rated(ratings, i);
    if (rated < 2)
      continue;
    agreement.paired++;
    given += rated;
    for (gsize r = 0; r < width; r++)
      prevalent_given += row[r] == prevalent;
    count_pairs(&agreement, row, width, rates);
  }
  for (gsize r = 0; r < width; r++)
    agreement.raters += rates[r];
  agreement.prevalence = given > 0 ? (double)prevalent_given / (double)given : 0;
  BtManyRaters many = bt_many_raters(ratings, categories, cluster);
  bool one_pair_each = agreement.pairs == agreement.paired && !cluster;
  agreement.agreed = one_pair_each && agreement.pairs > 0
                         ? bt_proportion_wilson(agreement.same, agreement.pairs)
                         : many.agreed;
  agreement.is_cohen = agreement.raters == 2 && !cluster;
  if (agreement.paired == 1) { // one subject holds no word on chance
    agreement.kappa = agreement.ac1 = bt_not_estimable("two assessors rated one subject only", 1);
    return agreement;
  }
  agreement.kappa = agreement.is_cohen ? cohen(ratings, rates) : many.fleiss;
  agreement.ac1 = many.ac1;
  return agreement;
}
