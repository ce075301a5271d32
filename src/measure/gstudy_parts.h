// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the files of the generalizability study share.
#ifndef BENCHTALLY_MEASURE_GSTUDY_PARTS_H
#define BENCHTALLY_MEASURE_GSTUDY_PARTS_H

#include <benchtally/reliability.h>

// The scores sorted into the groups of one set of facets: those that agree in all its levels.
typedef struct {
  gsize groups;
  gsize *of;    // the group of each score, from 0 in order of appearance
  gsize *size;  // how many scores each group holds
  gsize *first; // a score of each group
} BtGroups;

BtGroups bt__groups(const BtDesign *design, const BtScores *scores, guint set);
void bt__groups_clear(BtGroups *groups);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BtGroups, bt__groups_clear)

// Fills `component` of every effect from complete scores: expected mean squares turned round, with
// standard errors; and the study's error_df. False: some effect has no degrees of freedom.
bool bt__gstudy_complete(BtGStudy *study);
// The same from incomplete scores by Henderson's method 1, without standard errors. `groups` are
// those of every effect. False: the equations have no solution.
bool bt__gstudy_henderson(BtGStudy *study, const BtGroups *groups);

// The same by restricted likelihood: every effect but the last a random start of its groups, the
// last one what is left. NULL: estimated; else why not, static.
const char *bt__gstudy_reml(BtGStudy *study, const BtScores *scores, const BtGroups *groups);

// The number of scores in each group of an effect of complete scores.
double bt__scores_each(const BtGStudy *study, int effect);
// The place of an effect in the design's list.
int bt__effect_index(const BtDesign *design, guint effect);

#endif
