// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 7: order rules, each judged once, at T, the time of the first event of its `then`.
#include "score/score_parts.h"

static gint64 at_ms(const BtScoring *s, int w) {
  return s->work[w].event->at_ms;
}

// A checkpoint whose events count for order, dropped later or not.
static bool counts(const BtScoring *s, const BtBinding *binding, int c, bool all_seen) {
  return binding->held[c].taken && (all_seen || !s->unseen[c]);
}

// The first event of `then`, of those later than `after_ms`, as a work index; -1: none.
static int first_then(const BtScoring *s, const BtBinding *binding, const BtRule *rule,
                      gint64 after_ms, bool all_seen) {
  int first = -1;
  for (int i = 0; i < rule->n_then; i++) {
    int c = rule->then[i];
    if (!counts(s, binding, c, all_seen))
      continue;
    int w = binding->held[c].first_bound;
    int left = s->rubric->checkpoints[c].least;
    while (w >= 0 && left > 0 && at_ms(s, w) <= after_ms) {
      w = binding->placed[w].next_bound;
      left--;
    }
    if (w >= 0 && left > 0 && (first < 0 || w < first))
      first = w;
  }
  return first;
}

// Of a checkpoint of `first`: how many events (at most `least`) it had at `then_ms`, and the first
// that came later.
typedef struct {
  int done, late_work; // late_work -1: none came
} Progress;

static Progress progress_at(const BtScoring *s, const BtBinding *binding, int c, gint64 then_ms) {
  int least = s->rubric->checkpoints[c].least;
  Progress progress = {0, binding->held[c].first_bound};
  while (progress.late_work >= 0 && progress.done < least &&
         at_ms(s, progress.late_work) <= then_ms) {
    progress.done++;
    progress.late_work = binding->placed[progress.late_work].next_bound;
  }
  return progress;
}

// Was the checkpoint of `first` in force at T, and does it count?
static bool asked_at(const BtScoring *s, const BtBinding *binding, int c, gint64 then_ms,
                     bool all_seen) {
  const BtHeld *held = &binding->held[c];
  return counts(s, binding, c, all_seen) && held->added_ms < then_ms && held->dropped_ms >= then_ms;
}

static void judge_at(const BtScoring *s, const BtBinding *binding, const BtRule *rule,
                     bool all_seen, BtJudgement *judgement) {
  gint64 then_ms = at_ms(s, judgement->then_work);
  int asked = 0, finished = 0, started = 0;
  for (int i = 0; i < rule->n_first; i++) {
    int c = rule->first[i];
    if (!asked_at(s, binding, c, then_ms, all_seen))
      continue;
    int done = progress_at(s, binding, c, then_ms).done;
    asked++;
    finished += done >= s->rubric->checkpoints[c].least;
    started += done > 0;
  }
  judgement->applies = asked > 0;
  judgement->broken = asked > 0 && (rule->by_start ? started == 0 : finished < asked);
}

BtJudgement bt__judge(const BtScoring *s, const BtBinding *binding, const BtRule *rule,
                      bool all_seen) {
  BtJudgement judgement = {.then_work = -1};
  gint64 after_ms = rule->inject < 0 ? BT__BEGINNING_MS : s->inject_ms[rule->inject];
  if (after_ms == BT__NEVER_MS)
    return judgement;
  int then_work = first_then(s, binding, rule, after_ms, all_seen);
  gint64 suspended_ms = s->suspended_ms[rule - s->rubric->rules];
  judgement.listed =
      suspended_ms == BT__NEVER_MS || (then_work >= 0 && at_ms(s, then_work) <= suspended_ms);
  if (!judgement.listed || then_work < 0)
    return judgement;
  judgement.then_work = then_work;
  judge_at(s, binding, rule, all_seen, &judgement);
  return judgement;
}

bool bt__hangs_on_unseen(const BtScoring *s, const BtBinding *binding, const BtTally *tally,
                         int rule) {
  const BtRule *its = &s->rubric->rules[rule];
  return its->critical && s->any_unseen &&
         bt__judge(s, binding, its, true).broken != tally->judgements[rule].broken;
}

void bt__score_order(const BtScoring *s, const BtBinding *binding, BtTally *tally) {
  BtComponentScore *order = &tally->component[BT_ORDER];
  tally->sound[BT_ORDER] = !s->component_unseen[BT_ORDER];
  *order = (BtComponentScore){.assessed = tally->sound[BT_ORDER]};
  tally->critical_rule = tally->rule_unseen = false;
  for (int r = 0; r < s->rubric->n_rules; r++) {
    const BtRule *rule = &s->rubric->rules[r];
    BtJudgement judgement = bt__judge(s, binding, rule, false);
    tally->judgements[r] = judgement;
    order->possible_mp += judgement.applies ? rule->lose_mp : 0;
    order->given_mp += judgement.applies && !judgement.broken ? rule->lose_mp : 0;
    bool hangs = bt__hangs_on_unseen(s, binding, tally, r);
    tally->rule_unseen |= hangs;
    tally->critical_rule |= rule->critical && judgement.broken && !hangs;
  }
}

// Was checkpoint `c` of `first` asked for at T and unfinished? Then `row` says how far it was.
static bool is_short(const BtScoring *s, const BtBinding *binding, int c, gint64 then_ms,
                     BtShort *row) {
  if (!asked_at(s, binding, c, then_ms, false))
    return false;
  Progress progress = progress_at(s, binding, c, then_ms);
  int late = progress.late_work < 0 ? 0 : s->work[progress.late_work].event->seq;
  *row = (BtShort){c, progress.done, s->rubric->checkpoints[c].least, late};
  return row->done < row->least;
}

static GArray *list_shorts(BtScoring *s, const BtBinding *binding, const BtRule *rule,
                           const BtJudgement *judgement) {
  GArray *shorts = NULL;
  for (int i = 0; judgement->applies && i < rule->n_first; i++) {
    BtShort row;
    if (!is_short(s, binding, rule->first[i], at_ms(s, judgement->then_work), &row))
      continue;
    if (!shorts)
      shorts = g_array_new(FALSE, FALSE, sizeof(BtShort));
    g_array_append_val(shorts, row);
  }
  return shorts ? shorts : g_array_ref(s->no_shorts);
}

void bt__order_rows(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  for (int r = 0; r < s->rubric->n_rules; r++) {
    const BtRule *rule = &s->rubric->rules[r];
    const BtJudgement *judgement = &tally->judgements[r];
    if (!judgement->listed)
      continue;
    BtOrderRow row = {.rule = r, .applies = judgement->applies, .broken = judgement->broken};
    row.shorts = list_shorts(s, binding, rule, judgement);
    if (judgement->applies) {
      row.then_event = s->work[judgement->then_work].event->seq;
      row.given_mp = judgement->broken ? 0 : rule->lose_mp;
    }
    g_array_append_val(s->ledger->order, row);
  }
}
