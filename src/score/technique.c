// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 9: technique, a budget earned by work done and lost by errors found.
#include "score/score_parts.h"

#include <string.h>

static bool holds(const int *kinds, int n, int kind) {
  for (int i = 0; i < n; i++) {
    if (kinds[i] == kind)
      return true;
  }
  return false;
}

// The kinds for which work index `w` counts, each once; returns how many.
static int kinds_of_work(const BtScoring *s, const BtBinding *binding, int w, int *kinds) {
  const BtWork *work = &s->work[w];
  const BtPlaced *placed = &binding->placed[w];
  int n = 0;
  for (int i = 0; i < work->n_kinds; i++) {
    if (!s->rubric->errors[work->kinds[i]].only_unplanned || placed->place == BT__UNPLANNED)
      kinds[n++] = work->kinds[i];
  }
  if (placed->place != BT__EXTRA || s->unseen[placed->checkpoint])
    return n;
  int sent = s->rubric->checkpoints[placed->checkpoint].extra_kind;
  if (sent >= 0 && !holds(kinds, n, sent))
    kinds[n++] = sent;
  return n;
}

// The kinds for which log index `i` counts. `w`, the next work index, moves on past work.
static int kinds_of_event(const BtScoring *s, const BtBinding *binding, int i, int *w, int *kinds) {
  const BtEvent *event = s->log[i];
  if (*w < s->n_work && s->work[*w].event == event)
    return kinds_of_work(s, binding, (*w)++, kinds);
  if (event->kind != BT_EVENT_ERROR || s->rubric->errors[event->item].has_match)
    return 0;
  kinds[0] = event->item;
  return 1;
}

static gint64 lost_mp(const BtErrorKind *kind, int count) {
  gint64 lost = count * kind->lose_mp;
  return kind->cap_mp >= 0 ? MIN(lost, kind->cap_mp) : lost;
}

static void count_found(const BtScoring *s, const BtBinding *binding, BtTally *tally) {
  memset(tally->found, 0, sizeof(int) * (gsize)s->rubric->n_errors);
  if (s->rubric->n_errors == 0)
    return;
  for (int i = 0, w = 0; i < s->n_log; i++) {
    int n = kinds_of_event(s, binding, i, &w, tally->kinds);
    for (int k = 0; k < n; k++)
      tally->found[tally->kinds[k]]++;
  }
}

void bt__score_technique(const BtScoring *s, const BtBinding *binding, BtTally *tally) {
  const BtComponentScore *steps = &tally->component[BT_STEPS];
  gint64 budget_mp = s->rubric->score.technique_points_mp, lost = 0;
  count_found(s, binding, tally);
  tally->critical_error = false;
  for (int k = 0; k < s->rubric->n_errors; k++) {
    const BtErrorKind *kind = &s->rubric->errors[k];
    lost += lost_mp(kind, tally->found[k]);
    tally->critical_error |= kind->severity == BT_SEVERE_CRITICAL && tally->found[k] > 0;
  }
  bool possible = steps->possible_mp > 0;
  tally->at_stake_mp =
      possible ? bt_round_ratio(budget_mp, steps->given_mp, steps->possible_mp) : 0;
  tally->sound[BT_TECHNIQUE] = !s->component_unseen[BT_TECHNIQUE];
  tally->component[BT_TECHNIQUE] =
      (BtComponentScore){.assessed = tally->sound[BT_TECHNIQUE] && possible && budget_mp > 0,
                         .given_mp = MAX(0, tally->at_stake_mp - lost),
                         .possible_mp = budget_mp};
}

void bt__technique_rows(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  GArray *rows = s->ledger->technique;
  for (int k = 0; k < s->rubric->n_errors; k++) {
    int count = tally->found[k];
    BtTechniqueRow row = {.error = k,
                          .count = count,
                          .lost_mp = lost_mp(&s->rubric->errors[k], count),
                          .events = bt__events_new(s, count)};
    g_array_append_val(rows, row);
  }
  for (int i = 0, w = 0; i < s->n_log && rows->len > 0; i++) {
    int n = kinds_of_event(s, binding, i, &w, tally->kinds);
    for (int k = 0; k < n; k++)
      g_array_append_val(g_array_index(rows, BtTechniqueRow, tally->kinds[k]).events,
                         s->log[i]->seq);
  }
  s->ledger->at_stake_mp = tally->at_stake_mp;
}
