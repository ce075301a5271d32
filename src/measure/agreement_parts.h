// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the files of agreement share.
#ifndef BENCHTALLY_MEASURE_AGREEMENT_PARTS_H
#define BENCHTALLY_MEASURE_AGREEMENT_PARTS_H

#include <benchtally/agreement.h>

#define BT__ALL_THE_SAME "all ratings are the same"
#define BT__NO_TWO       "no subject was rated by two assessors"

// An estimate with its standard error and limits by Student's t (`df` INFINITY: by the normal),
// cut to [least, most]. A standard error of 0 or none leaves the figure bare: where every subject
// gave the same, the data hold no word on the error.
BtEstimate bt__estimate_cut(double value, double se, double df, double least, double most, gsize n,
                            const char *why_not);

// The different values of a table in ascending order, and which of them each cell holds.
typedef struct {
  gsize n;
  double *value;
  int *place; // subjects x raters; -1 where there is no rating
} BtLevels;
BtLevels bt__levels(const BtRatings *ratings);
void bt__levels_clear(BtLevels *levels);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BtLevels, bt__levels_clear)

// How many raters rated subject `subject`.
gsize bt__rated(const BtRatings *ratings, gsize subject);

// The subjects whom every rater rated: their rows, one after another. Caller frees with g_free;
// *complete is how many there are.
double *bt__complete_rows(const BtRatings *ratings, gsize *complete);

int bt__by_value(const void *a, const void *b); // for qsort of doubles

#endif
