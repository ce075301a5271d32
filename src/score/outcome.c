// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 11: the total, an exact fraction, and the outcome with its reasons.
#include "score/score_parts.h"

#define PERCENT_MILLI 100000 // 100 % in thousandths

static bool is_counted(const BtScoreRules *rules, const BtTally *tally, int c) {
  return rules->weight[c] > 0 && tally->component[c].assessed &&
         tally->component[c].possible_mp > 0;
}

static bool is_needed(const BtScoreRules *rules, int c) {
  return (rules->weight[c] > 0 || rules->floor_milli[c] >= 0) && !rules->optional[c];
}

// sum(weight x given / possible) / sum(weight) over what counts, in lowest terms.
static void add_up(const BtScoreRules *rules, BtTally *tally) {
  mpz_ptr num = mpq_numref(tally->total), den = mpq_denref(tally->total);
  long weights = 0;
  mpz_set_si(num, 0);
  mpz_set_si(den, 1);
  for (int c = 0; c < BT_COMPONENTS; c++) {
    if (!is_counted(rules, tally, c))
      continue;
    const BtComponentScore *score = &tally->component[c];
    mpz_mul_si(num, num, score->possible_mp);
    mpz_addmul_ui(num, den, (unsigned long)(rules->weight[c] * score->given_mp));
    mpz_mul_si(den, den, score->possible_mp);
    weights += rules->weight[c];
  }
  tally->has_total = weights > 0;
  if (!tally->has_total)
    return;
  mpz_mul_si(den, den, weights);
  mpq_canonicalize(tally->total);
}

static gint64 percent_milli(const BtTally *tally) {
  if (!tally->has_total)
    return -1;
  mpz_t percent;
  mpz_init(percent);
  mpz_mul_si(percent, mpq_numref(tally->total), PERCENT_MILLI);
  mpz_fdiv_q(percent, percent, mpq_denref(tally->total));
  gint64 milli = mpz_get_si(percent);
  mpz_clear(percent);
  return milli;
}

// A component without possible points meets any floor (that is order, when no rule applies).
static bool meets_floor(const BtScoreRules *rules, const BtTally *tally, int c) {
  const BtComponentScore *score = &tally->component[c];
  return rules->floor_milli[c] < 0 || score->possible_mp == 0 ||
         score->given_mp * PERCENT_MILLI >= rules->floor_milli[c] * score->possible_mp;
}

static bool all_needed_assessed(const BtScoreRules *rules, const BtTally *tally) {
  for (int c = 0; c < BT_COMPONENTS; c++) {
    if (is_needed(rules, c) && !tally->component[c].assessed)
      return false;
  }
  return true;
}

// The pass mark is in whole thousandths of a percent, so the cut percentage reaches it exactly when
// the total does.
static bool reaches_all_marks(const BtScoreRules *rules, const BtTally *tally) {
  bool reached = tally->percent_milli >= rules->pass_milli;
  for (int c = 0; c < BT_COMPONENTS; c++)
    reached = reached && meets_floor(rules, tally, c);
  return reached;
}

static int deciding_line(const BtScoring *s, const BtTally *tally) {
  const BtScoreRules *rules = &s->rubric->score;
  if (tally->critical_error || tally->critical_rule || s->measure_failed)
    return 1;
  if (!s->finished || !all_needed_assessed(rules, tally) || tally->critical_unseen ||
      tally->rule_unseen || !tally->has_total)
    return 2;
  if (tally->critical_short > 0)
    return 3;
  if (tally->critical_unverified)
    return 4;
  return reaches_all_marks(rules, tally) ? 5 : 6;
}

void bt__score_outcome(const BtScoring *s, BtTally *tally) {
  static const BtOutcome of_line[] = {[1] = BT_NOT_YET,   [2] = BT_UNDECIDED, [3] = BT_NOT_YET,
                                      [4] = BT_UNDECIDED, [5] = BT_PASS,      [6] = BT_NOT_YET};
  tally->component[BT_PRODUCT] = s->product;
  tally->component[BT_RATING] = s->rating;
  tally->sound[BT_PRODUCT] = s->has_all_measures && !s->component_unseen[BT_PRODUCT];
  tally->sound[BT_RATING] = s->has_all_ratings && !s->component_unseen[BT_RATING];
  add_up(&s->rubric->score, tally);
  tally->percent_milli = percent_milli(tally);
  tally->line = deciding_line(s, tally);
  tally->outcome = of_line[tally->line];
}

// Reasons ---------------------------------------------------------------------

static GArray *add_reason(BtScoring *s, BtReasonCode code, const char *id) {
  BtReason reason = {code, id, g_array_new(FALSE, FALSE, sizeof(int))};
  g_array_append_val(s->ledger->reasons, reason);
  return reason.events;
}

static void append_all(GArray *to, const GArray *from) {
  if (from->len > 0)
    g_array_append_vals(to, from->data, from->len);
}

static void critical_errors(BtScoring *s) {
  for (guint i = 0; i < s->ledger->technique->len; i++) {
    const BtTechniqueRow *row = &g_array_index(s->ledger->technique, BtTechniqueRow, i);
    const BtErrorKind *kind = &s->rubric->errors[row->error];
    if (kind->severity == BT_SEVERE_CRITICAL && row->count > 0)
      append_all(add_reason(s, BT_REASON_CRITICAL_ERROR, kind->id), row->events);
  }
}

static void critical_rules(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  for (guint i = 0; i < s->ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(s->ledger->order, BtOrderRow, i);
    const BtRule *rule = &s->rubric->rules[row->rule];
    if (!rule->critical || !row->broken || bt__hangs_on_unseen(s, binding, tally, row->rule))
      continue;
    GArray *events = add_reason(s, BT_REASON_CRITICAL_RULE, rule->id);
    g_array_append_val(events, row->then_event);
    for (guint j = 0; j < row->shorts->len; j++) {
      int late_event = g_array_index(row->shorts, BtShort, j).late_event;
      if (late_event > 0)
        g_array_append_val(events, late_event);
    }
  }
}

static void failed_measures(BtScoring *s) {
  for (guint i = 0; i < s->ledger->product->len; i++) {
    const BtValueRow *row = &g_array_index(s->ledger->product, BtValueRow, i);
    const BtMeasure *measure = &s->rubric->measures[row->item];
    if (!bt__measure_failed(measure, row))
      continue;
    GArray *events = add_reason(s, BT_REASON_MEASURE_FAIL, measure->id);
    g_array_append_val(events, s->measured[row->item]->seq);
  }
}

// The needed components that are not assessed: for want of possible points alone, or not.
static void not_assessed(BtScoring *s, const BtTally *tally, bool only_points) {
  for (int c = 0; c < BT_COMPONENTS; c++) {
    if (!is_needed(&s->rubric->score, c) || tally->component[c].assessed ||
        tally->sound[c] != only_points)
      continue;
    add_reason(s, only_points ? BT_REASON_NOTHING_POSSIBLE : BT_REASON_NOT_ASSESSED,
               bt_component_name((BtComponent)c));
  }
}

static bool in_list(const int *list, int n, int wanted) {
  for (int i = 0; i < n; i++) {
    if (list[i] == wanted)
      return true;
  }
  return false;
}

// Appends the `unseen` events that name one of the `n` checkpoints of either list.
static void append_unseen(const BtScoring *s, GArray *events, const int *one, int n_one,
                          const int *other, int n_other) {
  for (int i = 0; i < s->n_log; i++) {
    const BtEvent *event = s->log[i];
    if (event->kind == BT_EVENT_UNSEEN && event->item >= 0 &&
        (in_list(one, n_one, event->item) || in_list(other, n_other, event->item)))
      g_array_append_val(events, event->seq);
  }
}

static void critical_unseen(BtScoring *s, const BtBinding *binding) {
  for (int c = 0; c < s->rubric->n_checkpoints; c++) {
    const BtCheckpoint *checkpoint = &s->rubric->checkpoints[c];
    if (checkpoint->critical == BT_CRITICAL_NO || bt__why_out(s, binding, c) != BT_OUT_UNSEEN)
      continue;
    append_unseen(s, add_reason(s, BT_REASON_CRITICAL_UNSEEN, checkpoint->id), &c, 1, NULL, 0);
  }
}

static void rules_unseen(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  for (int r = 0; r < s->rubric->n_rules; r++) {
    const BtRule *rule = &s->rubric->rules[r];
    if (bt__hangs_on_unseen(s, binding, tally, r))
      append_unseen(s, add_reason(s, BT_REASON_RULE_UNSEEN, rule->id), rule->first, rule->n_first,
                    rule->then, rule->n_then);
  }
}

static void undecided(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  if (!s->finished)
    add_reason(s, BT_REASON_NOT_FINISHED, NULL);
  not_assessed(s, tally, false);
  not_assessed(s, tally, true);
  critical_unseen(s, binding);
  rules_unseen(s, binding, tally);
  if (!tally->has_total)
    add_reason(s, BT_REASON_NOTHING_COUNTS, NULL);
}

static void critical_steps(BtScoring *s, const BtBinding *binding, BtReasonCode code) {
  for (guint i = 0; i < s->ledger->steps->len; i++) {
    const BtStepRow *row = &g_array_index(s->ledger->steps, BtStepRow, i);
    const BtCheckpoint *checkpoint = &s->rubric->checkpoints[row->checkpoint];
    const BtHeld *held = &binding->held[row->checkpoint];
    if (row->why_out != BT_IN_SCORE)
      continue;
    if (code == BT_REASON_CRITICAL_SHORT && row->critical_failure)
      append_all(add_reason(s, code, checkpoint->id), row->bound);
    if (code == BT_REASON_CRITICAL_NOT_VERIFIED && bt__critical_unverified(checkpoint, held))
      append_all(add_reason(s, code, checkpoint->id), row->not_verified);
  }
}

static void missed_marks(BtScoring *s, const BtTally *tally) {
  const BtScoreRules *rules = &s->rubric->score;
  if (tally->percent_milli < rules->pass_milli)
    add_reason(s, BT_REASON_BELOW_PASS, NULL);
  for (int c = 0; c < BT_COMPONENTS; c++) {
    if (!meets_floor(rules, tally, c))
      add_reason(s, BT_REASON_BELOW_FLOOR, bt_component_name((BtComponent)c));
  }
}

void bt__outcome_reasons(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  switch (tally->line) {
  case 1:
    critical_errors(s);
    critical_rules(s, binding, tally);
    failed_measures(s);
    break;
  case 2:
    undecided(s, binding, tally);
    break;
  case 3:
    critical_steps(s, binding, BT_REASON_CRITICAL_SHORT);
    break;
  case 4:
    critical_steps(s, binding, BT_REASON_CRITICAL_NOT_VERIFIED);
    break;
  case 6:
    missed_marks(s, tally);
    break;
  default:
    break;
  }
}
