// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 8: time, earned in proportion to work done.
#include "score/score_parts.h"

#include <string.h>

static void charge(const BtScoring *s, const BtBinding *binding, BtTally *tally) {
  memset(tally->charged_ms, 0, sizeof(gint64) * (gsize)s->rubric->n_phases);
  tally->unassigned_ms = 0;
  gint64 before_ms = 0;
  for (int w = 0; w < s->n_work; w++) {
    gint64 stretch_ms = s->work[w].active_ms - before_ms;
    before_ms = s->work[w].active_ms;
    int c = binding->placed[w].checkpoint;
    gint64 *account =
        c < 0 ? &tally->unassigned_ms : &tally->charged_ms[s->rubric->checkpoints[c].phase];
    *account += stretch_ms;
  }
  tally->unassigned_ms += s->total_ms - before_ms;
}

// points x f x given / possible, where f falls from 1 at `target` to 0 at `limit`.
static gint64 given_mp(const BtTimeRow *row, gint64 target_ms, gint64 limit_ms,
                       gint64 steps_given_mp, gint64 steps_possible_mp) {
  gint64 span_ms = MAX(limit_ms - target_ms, 1);
  gint64 left_ms = CLAMP(limit_ms - row->spent_ms, 0, span_ms);
  return bt__round_product(row->points_mp, left_ms, steps_given_mp, span_ms, steps_possible_mp);
}

// The row of `phase` (-1: the clock). False: there is none.
static bool time_row(const BtScoring *s, const BtTally *tally, int phase, BtTimeRow *row) {
  const BtRubric *rubric = s->rubric;
  const BtPhase *its = phase < 0 ? NULL : &rubric->phases[phase];
  gint64 given = its ? tally->phase_given_mp[phase] : tally->component[BT_STEPS].given_mp;
  gint64 possible = its ? tally->phase_possible_mp[phase] : tally->component[BT_STEPS].possible_mp;
  *row = (BtTimeRow){.phase = phase,
                     .spent_ms = its ? tally->charged_ms[phase] : s->total_ms,
                     .points_mp = its ? its->points_mp : rubric->clock.points_mp};
  if (row->points_mp == 0 || possible == 0)
    return false;
  gint64 target_ms = its ? its->target_ms : rubric->clock.target_ms;
  gint64 limit_ms = its ? its->limit_ms : rubric->clock.limit_ms;
  row->given_mp = given_mp(row, target_ms, limit_ms, given, possible);
  return true;
}

static bool clock_is_sound(const BtScoring *s) {
  return s->started && s->finished && s->ledger->list[BT_LIST_BEFORE_START]->len == 0 &&
         s->ledger->list[BT_LIST_WHILE_PAUSED]->len == 0;
}

void bt__score_time(const BtScoring *s, const BtBinding *binding, BtTally *tally) {
  BtComponentScore *time = &tally->component[BT_TIME];
  *time = (BtComponentScore){0};
  charge(s, binding, tally);
  for (int phase = -1; phase < s->rubric->n_phases; phase++) {
    BtTimeRow row;
    if (!time_row(s, tally, phase, &row))
      continue;
    time->given_mp += row.given_mp;
    time->possible_mp += row.points_mp;
  }
  tally->sound[BT_TIME] = clock_is_sound(s) && !s->component_unseen[BT_TIME];
  time->assessed = tally->sound[BT_TIME] && time->possible_mp > 0;
}

void bt__time_rows(BtScoring *s, const BtTally *tally) {
  BtLedger *ledger = s->ledger;
  for (int phase = -1; phase < s->rubric->n_phases; phase++) {
    BtTimeRow row;
    if (time_row(s, tally, phase, &row))
      g_array_append_val(ledger->time, row);
  }
  for (int phase = 0; phase < s->rubric->n_phases; phase++)
    ledger->charged_ms[phase] = tally->charged_ms[phase];
  ledger->unassigned_ms = tally->unassigned_ms;
}
