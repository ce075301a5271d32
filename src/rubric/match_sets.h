// SPDX-License-Identifier: GPL-3.0-or-later
//
// Matches as sets of events: which lies inside which, which have events in common.
#ifndef BENCHTALLY_RUBRIC_MATCH_SETS_H
#define BENCHTALLY_RUBRIC_MATCH_SETS_H

#include <benchtally/model.h>

// True when `index` is one of the n `indices`.
bool bt__among(int index, const int *indices, int n);

// True when every event that `a` takes is taken by `b` too. A match without a site takes more than
// one that lists all sites, one without a detail more than one that lists all its values.
bool bt__match_inside(const BtRubric *rubric, const BtMatch *a, const BtMatch *b);
// True when some event is taken by both.
bool bt__match_overlaps(const BtRubric *rubric, const BtMatch *a, const BtMatch *b);
// True when some value of `detail` is allowed by both.
bool bt__allowed_overlaps(const BtDetail *detail, const BtAllowed *a, const BtAllowed *b);
// True when the detail's own range and `range` have a value in common.
bool bt__range_possible(const BtDetail *detail, const BtRange *range);

#endif
