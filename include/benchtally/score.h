// SPDX-License-Identifier: GPL-3.0-or-later
//
// The engine: (rubric edition, one observation's effective log) -> ledger. Pure, exact,
// deterministic.
#ifndef BENCHTALLY_SCORE_H
#define BENCHTALLY_SCORE_H

#include <benchtally/model.h>

G_BEGIN_DECLS

// Stands in every result that is issued; raised whenever a ledger could change for the same input.
#define BT_ENGINE_VERSION 1

// The ledger of `observation`, whose events were resolved against `rubric`. Never fails; caller
// frees.
BT_API BT_MUST_USE BtLedger *bt_score(const BtRubric *rubric, const BtObservation *observation);

// One observation's object of SCORING.md section 12, keys sorted, compact (no spaces), without a
// newline. Caller frees.
BT_API BT_MUST_USE char *bt_ledger_to_json(const BtRubric *rubric, const BtObservation *observation,
                                           const BtLedger *ledger);

G_END_DECLS
#endif
