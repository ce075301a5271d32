// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 5: what each checkpoint gives.
#include "score/score_parts.h"

#include <string.h>

gint64 bt__step_given_mp(const BtCheckpoint *checkpoint, int n_conforming) {
  int counted = MIN(n_conforming, checkpoint->least);
  if (counted == checkpoint->least)
    return checkpoint->points_mp;
  return bt_round_ratio(checkpoint->points_mp, counted, checkpoint->least);
}

bool bt__critical_short(const BtCheckpoint *checkpoint, const BtHeld *held) {
  if (checkpoint->critical == BT_CRITICAL_DONE)
    return held->n_bound < checkpoint->least;
  return checkpoint->critical == BT_CRITICAL_RIGHT && held->n_conforming < checkpoint->least;
}

bool bt__critical_unverified(const BtCheckpoint *checkpoint, const BtHeld *held) {
  return checkpoint->critical == BT_CRITICAL_RIGHT && held->n_conforming >= checkpoint->least &&
         held->n_verified < checkpoint->least;
}

void bt__score_steps(const BtScoring *s, const BtBinding *binding, BtTally *tally) {
  const BtRubric *rubric = s->rubric;
  BtComponentScore *steps = &tally->component[BT_STEPS];
  *steps = (BtComponentScore){0};
  memset(tally->phase_given_mp, 0, sizeof(gint64) * (gsize)rubric->n_phases);
  memset(tally->phase_possible_mp, 0, sizeof(gint64) * (gsize)rubric->n_phases);
  tally->critical_short = 0;
  tally->critical_unverified = tally->critical_unseen = false;
  for (int c = 0; c < rubric->n_checkpoints; c++) {
    const BtCheckpoint *checkpoint = &rubric->checkpoints[c];
    const BtHeld *held = &binding->held[c];
    if (!bt__in_force(held))
      continue;
    if (s->unseen[c]) {
      tally->critical_unseen |= checkpoint->critical != BT_CRITICAL_NO;
      continue;
    }
    tally->phase_given_mp[checkpoint->phase] += bt__step_given_mp(checkpoint, held->n_conforming);
    tally->phase_possible_mp[checkpoint->phase] += checkpoint->points_mp;
    tally->critical_short += bt__critical_short(checkpoint, held);
    tally->critical_unverified |= bt__critical_unverified(checkpoint, held);
  }
  for (int p = 0; p < rubric->n_phases; p++) {
    steps->given_mp += tally->phase_given_mp[p];
    steps->possible_mp += tally->phase_possible_mp[p];
  }
  tally->sound[BT_STEPS] = !s->component_unseen[BT_STEPS];
  steps->assessed = tally->sound[BT_STEPS] && steps->possible_mp > 0;
}

// Rows ------------------------------------------------------------------------

// How many entries each list of a row will have.
typedef struct {
  int bound, redone, conforming, not_verified, extra;
} Lengths;

static Lengths *count_lists(BtScoring *s, const BtBinding *binding) {
  Lengths *lengths = bt__arena_new(&s->arena, Lengths, s->rubric->n_checkpoints);
  for (int w = 0; w < s->n_work; w++) {
    const BtPlaced *placed = &binding->placed[w];
    if (placed->checkpoint < 0)
      continue;
    Lengths *its = &lengths[placed->checkpoint];
    its->bound += placed->place == BT__BOUND;
    its->conforming += placed->place == BT__BOUND && placed->state.conforms;
    its->not_verified += placed->place == BT__BOUND && placed->state.not_verified;
    its->redone += placed->place == BT__REDO;
    its->extra += placed->place == BT__EXTRA;
  }
  return lengths;
}

static void add_rows(BtScoring *s, const BtBinding *binding) {
  const Lengths *lengths = count_lists(s, binding);
  g_array_set_size(s->ledger->steps, (guint)s->rubric->n_checkpoints);
  for (int c = 0; c < s->rubric->n_checkpoints; c++) {
    const BtCheckpoint *checkpoint = &s->rubric->checkpoints[c];
    BtWhyOut why_out = bt__why_out(s, binding, c);
    bool in_score = why_out == BT_IN_SCORE;
    const BtHeld *held = &binding->held[c];
    GArray *bound = bt__events_new(s, lengths[c].bound);
    bool all_conform = lengths[c].conforming == lengths[c].bound; // then both lists are one
    g_array_index(s->ledger->steps, BtStepRow, c) = (BtStepRow){
        .checkpoint = c,
        .bound = bound,
        .redone = bt__events_new(s, lengths[c].redone),
        .conforming = all_conform ? g_array_ref(bound) : bt__events_new(s, lengths[c].conforming),
        .not_verified = bt__events_new(s, lengths[c].not_verified),
        .extra = bt__events_new(s, lengths[c].extra),
        .given_mp = in_score ? bt__step_given_mp(checkpoint, held->n_conforming) : 0,
        .critical_failure = in_score && bt__critical_short(checkpoint, held),
        .why_out = why_out};
  }
}

// Is work index `w` what an event is left as, with an expected detail missing?
static bool is_not_verified(const BtBinding *binding, int w) {
  const BtPlaced *placed = &binding->placed[w];
  if (placed->place != BT__BOUND && placed->place != BT__REDO)
    return false;
  const BtPlaced *plain = &binding->placed[placed->stands_for];
  return plain->last == w && plain->state.not_verified;
}

static void list_in_row(const BtScoring *s, const BtBinding *binding, int w) {
  const BtPlaced *placed = &binding->placed[w];
  BtStepRow *row = &g_array_index(s->ledger->steps, BtStepRow, placed->checkpoint);
  int seq = s->work[w].event->seq;
  if (placed->place == BT__BOUND) {
    g_array_append_val(row->bound, seq);
    if (placed->state.conforms && row->conforming != row->bound)
      g_array_append_val(row->conforming, seq);
  } else if (placed->place == BT__REDO) {
    g_array_append_val(row->redone, seq);
  } else if (placed->place == BT__EXTRA) {
    g_array_append_val(row->extra, seq);
  }
  if (is_not_verified(binding, w))
    g_array_append_val(row->not_verified, seq);
}

static void list_in_ledger(BtScoring *s, const BtPlaced *placed, const BtEvent *event) {
  if (placed->place == BT__UNPLANNED)
    bt__list(s, BT_LIST_UNPLANNED, event);
  if (placed->place == BT__EXTRA)
    bt__list(s, BT_LIST_EXTRA, event);
  if (placed->place == BT__OVERTAKEN)
    bt__list(s, BT_LIST_OVERTAKEN, event);
  if (placed->taken_as_redo)
    bt__list(s, BT_LIST_TAKEN_AS_REDO, event);
  if (placed->redo_of_nothing)
    bt__list(s, BT_LIST_REDO_OF_NOTHING, event);
}

void bt__steps_rows(BtScoring *s, const BtBinding *binding) {
  add_rows(s, binding);
  for (int w = 0; w < s->n_work; w++) {
    if (binding->placed[w].checkpoint >= 0)
      list_in_row(s, binding, w);
    list_in_ledger(s, &binding->placed[w], s->work[w].event);
  }
}
