// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the rubric says of the place of an entry, as a plain fact: the assessor sees it at once, and
// it never stands in the way.
#include "cli/recorder.h"

static const BtOrderRow *order_row(const BtLedger *ledger, int rule) {
  for (guint i = 0; i < ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(ledger->order, BtOrderRow, i);
    if (row->rule == rule)
      return row;
  }
  return NULL;
}

// The rule that was whole and is broken now; NULL: none.
static const BtRule *newly_broken(const BtRubric *rubric, const BtLedger *before,
                                  const BtLedger *ledger) {
  for (guint i = 0; i < ledger->order->len; i++) {
    const BtOrderRow *now = &g_array_index(ledger->order, BtOrderRow, i);
    const BtOrderRow *then = order_row(before, now->rule);
    if (now->applies && now->broken && !(then && then->applies && then->broken))
      return &rubric->rules[now->rule];
  }
  return NULL;
}

static bool holds(const GArray *events, int seq) {
  for (guint i = 0; i < events->len; i++) {
    if (g_array_index(events, int, i) == seq)
      return true;
  }
  return false;
}

char *recorder_remark(const BtRubric *rubric, const BtLedger *before, const BtLedger *ledger,
                      int seq) {
  const BtRule *rule = newly_broken(rubric, before, ledger);
  if (rule)
    return g_strdup_printf("%s comes first in the rubric.", rule->first_text);
  if (holds(ledger->list[BT_LIST_UNPLANNED], seq))
    return g_strdup("The rubric asks for nothing like it.");
  if (holds(ledger->list[BT_LIST_EXTRA], seq))
    return g_strdup("More than the rubric asks for.");
  if (holds(ledger->list[BT_LIST_REDO_OF_NOTHING], seq))
    return g_strdup("There is nothing that it could be a redo of.");
  return NULL;
}

bool recorder_still_expected(const Recorder *recorder, int checkpoint, int *done) {
  const BtStepRow *row = &g_array_index(recorder->ledger->steps, BtStepRow, (guint)checkpoint);
  *done = (int)row->bound->len;
  return row->why_out == BT_IN_SCORE && *done < recorder->rubric->checkpoints[checkpoint].least;
}

static bool worked_on(const BtStepRow *row, int seq) {
  return holds(row->bound, seq) || holds(row->redone, seq) || holds(row->extra, seq);
}

int recorder_phase(const Recorder *recorder) {
  const GArray *events = recorder->observation->events;
  for (guint i = events->len; i-- > 0;) {
    const BtEvent *event = &g_array_index(events, BtEvent, i);
    for (guint step = 0; event->kind == BT_EVENT_WORK && step < recorder->ledger->steps->len;
         step++) {
      const BtStepRow *row = &g_array_index(recorder->ledger->steps, BtStepRow, step);
      if (worked_on(row, event->seq))
        return recorder->rubric->checkpoints[row->checkpoint].phase;
    }
  }
  return -1;
}
