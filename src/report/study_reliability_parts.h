// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the files of a rubric's reliability share.
#ifndef BENCHTALLY_REPORT_STUDY_RELIABILITY_PARTS_H
#define BENCHTALLY_REPORT_STUDY_RELIABILITY_PARTS_H

#include <benchtally/study_reliability.h>

// Fills severity, assessor and fair from all observations (BtStudyRow) and each trainee's latest
// one of record.
void bt__study_severity(BtStudyReliability *found, const GPtrArray *observations,
                        const GPtrArray *latest);

#endif
