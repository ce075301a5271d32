// SPDX-License-Identifier: GPL-3.0-or-later
//
// What a session tells of the competencies that a rubric names.
#ifndef BENCHTALLY_REPORT_COMPETENCY_H
#define BENCHTALLY_REPORT_COMPETENCY_H

#include <benchtally/study.h>

typedef struct BtCompetencyPlan BtCompetencyPlan;

// What each competency of `rubric` (borrowed) rests on, looked up once. Caller frees.
BtCompetencyPlan *bt__competency_plan_new(const BtRubric *rubric);
void bt__competency_plan_free(BtCompetencyPlan *plan); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtCompetencyPlan, bt__competency_plan_free)

// Fills `scores`, one a competency, from a ledger of the plan's rubric.
void bt__competency_scores(const BtCompetencyPlan *plan, const BtLedger *ledger,
                           BtCompetencyScore *scores);

#endif
