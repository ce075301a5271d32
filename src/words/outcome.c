// SPDX-License-Identifier: GPL-3.0-or-later
//
// The outcome in one sentence: the answer, the reasons, the number.
#include "words/ledger_parts.h"
#include "words/words.h"

#define REASONS_TOLD 3 // more would bury the answer; the rest is counted

static char *times_of(const BtScored *scored, const BtReason *reason) {
  return bt__times_text(scored->observation, reason->events);
}

static char *critical_error(const BtScored *scored, const BtReason *reason) {
  int kind = bt_rubric_find_error(scored->rubric, reason->id);
  g_autofree char *times = times_of(scored, reason);
  return g_strdup_printf("\"%s\" is a critical error (%s)",
                         kind < 0 ? reason->id : scored->rubric->errors[kind].title, times);
}

// What was missing when the rule was broken: `"A" was done`, `"A" and "B" were done`.
static char *missing_then(const BtScored *scored, int rule, const char *verb) {
  GString *titles = g_string_new(NULL);
  int n = 0;
  for (guint i = 0; i < scored->ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(scored->ledger->order, BtOrderRow, i);
    for (guint j = 0; row->rule == rule && j < row->shorts->len; j++) {
      const BtShort *missing = &g_array_index(row->shorts, BtShort, j);
      if (missing->done >= missing->least)
        continue;
      bt__join_printf(titles, " and ", "\"%s\"",
                      scored->rubric->checkpoints[missing->checkpoint].title);
      n++;
    }
  }
  g_string_append_printf(titles, " %s %s", n > 1 ? "were" : "was", verb);
  return g_string_free(titles, FALSE);
}

static char *critical_rule(const BtScored *scored, const BtReason *reason) {
  int index = bt_rubric_find_rule(scored->rubric, reason->id);
  if (index < 0 || reason->events->len == 0)
    return g_strdup_printf("the critical order rule %s was broken", reason->id);
  const BtRule *rule = &scored->rubric->rules[index];
  int then_event = g_array_index(reason->events, int, 0);
  g_autofree char *at = bt__time_text(scored->observation, then_event);
  g_autofree char *missing = missing_then(scored, index, rule->by_start ? "begun" : "done");
  return g_strdup_printf("\"%s\" came before %s (%s)", bt__then_title(scored, rule, then_event),
                         missing, at);
}

static char *measure_fail(const BtScored *scored, const BtReason *reason) {
  int index = bt_rubric_find_measure(scored->rubric, reason->id);
  const BtMeasure *measure = &scored->rubric->measures[index];
  const BtEvent *event = bt__value_event(scored->observation, BT_EVENT_MEASURE, index);
  g_autofree char *value =
      event ? bt__value_text(event->value_milli, measure->unit) : g_strdup("?");
  g_autofree char *line = bt__value_text(measure->fail_milli, measure->unit);
  return g_strdup_printf("\"%s\" is %s, beyond the critical %s", measure->title, value, line);
}

static char *not_assessed(const BtScored *scored, const BtReason *reason) {
  int component = bt_component_from_name(reason->id);
  g_autofree char *why =
      component < 0 ? NULL : bt__why_not_assessed(scored, (BtComponent)component);
  return g_strdup_printf("%s must be assessed (%s)", reason->id,
                         why ? why : "it has no assessment yet");
}

static const char *checkpoint_title(const BtScored *scored, const BtReason *reason) {
  int index = bt_rubric_find_checkpoint(scored->rubric, reason->id);
  return index < 0 ? reason->id : scored->rubric->checkpoints[index].title;
}

static char *rule_unseen(const BtScored *scored, const BtReason *reason) {
  int index = bt_rubric_find_rule(scored->rubric, reason->id);
  if (index < 0)
    return g_strdup_printf("the order rule %s must be judged; a step was not seen", reason->id);
  const BtRule *rule = &scored->rubric->rules[index];
  return g_strdup_printf("whether \"%s\" came before \"%s\" must be judged; a step was not seen",
                         rule->first_text, rule->then_text);
}

static char *critical_short(const BtScored *scored, const BtReason *reason) {
  int index = bt_rubric_find_checkpoint(scored->rubric, reason->id);
  const BtCheckpoint *checkpoint = &scored->rubric->checkpoints[index];
  const BtStepRow *row = &g_array_index(scored->ledger->steps, BtStepRow, (guint)index);
  int done = (int)row->bound->len, right = (int)row->conforming->len;
  if (done < checkpoint->least)
    return g_strdup_printf("the critical step \"%s\" was done %d of %d times", checkpoint->title,
                           done, checkpoint->least);
  return g_strdup_printf("the critical step \"%s\" was right %d of %d times", checkpoint->title,
                         right, checkpoint->least);
}

static char *below_floor(const BtScored *scored, const BtReason *reason) {
  int component = bt_component_from_name(reason->id);
  if (component < 0)
    return g_strdup_printf("%s is below its floor", reason->id);
  const BtComponentScore *score = &scored->ledger->component[component];
  g_autofree char *percent = bt__percent_text(score->given_mp, score->possible_mp);
  g_autofree char *floor = bt_decimal_format(scored->rubric->score.floor_milli[component]);
  return g_strdup_printf("%s at %s %%, where %s is the least", reason->id, percent, floor);
}

// One reason as a clause; NULL when the number alone says it.
static char *reason_clause(const BtScored *scored, const BtReason *reason) {
  switch (reason->code) {
  case BT_REASON_CRITICAL_ERROR:
    return critical_error(scored, reason);
  case BT_REASON_CRITICAL_RULE:
    return critical_rule(scored, reason);
  case BT_REASON_MEASURE_FAIL:
    return measure_fail(scored, reason);
  case BT_REASON_NOT_FINISHED:
    return g_strdup("the session was not finished");
  case BT_REASON_NOT_ASSESSED:
    return not_assessed(scored, reason);
  case BT_REASON_NOTHING_POSSIBLE:
    return g_strdup_printf("%s is needed, but no points for it could be earned", reason->id);
  case BT_REASON_CRITICAL_UNSEEN:
    return g_strdup_printf("the critical step \"%s\" must be assessed; it was not seen",
                           checkpoint_title(scored, reason));
  case BT_REASON_RULE_UNSEEN:
    return rule_unseen(scored, reason);
  case BT_REASON_NOTHING_COUNTS:
    return g_strdup("no part that counts was assessed");
  case BT_REASON_CRITICAL_SHORT:
    return critical_short(scored, reason);
  case BT_REASON_CRITICAL_NOT_VERIFIED: {
    g_autofree char *times = times_of(scored, reason);
    return g_strdup_printf("the critical step \"%s\" must be verified; a value was not logged (%s)",
                           checkpoint_title(scored, reason), times);
  }
  case BT_REASON_BELOW_FLOOR:
    return below_floor(scored, reason);
  case BT_REASON_BELOW_PASS:
    break;
  }
  return NULL;
}

static char *reasons_text(const BtScored *scored) {
  GString *text = g_string_new(NULL);
  guint told = 0, left = 0;
  for (guint i = 0; i < scored->ledger->reasons->len; i++) {
    g_autofree char *clause =
        reason_clause(scored, &g_array_index(scored->ledger->reasons, BtReason, i));
    if (!clause)
      continue;
    if (told == REASONS_TOLD) {
      left++;
      continue;
    }
    bt__join(text, "; ", clause);
    told++;
  }
  if (left > 0)
    g_string_append_printf(text, "; and %u more", left);
  return g_string_free(text, FALSE);
}

// "71.3 % of the points; 70 needed."
static char *number_text(const BtScored *scored) {
  const BtLedger *ledger = scored->ledger;
  if (ledger->total_percent_milli < 0)
    return g_strdup("No points could be counted.");
  g_autofree char *percent = bt_decimal_format_cut(ledger->total_percent_milli, 1);
  g_autofree char *pass = bt_decimal_format(scored->rubric->score.pass_milli);
  return g_strdup_printf("%s %% of the points%s; %s needed.", percent,
                         ledger->outcome == BT_UNDECIDED ? " so far" : "", pass);
}

char *bt_outcome_sentence(const BtRubric *rubric, const BtObservation *observation,
                          const BtLedger *ledger) {
  const BtScored scored = {rubric, observation, ledger};
  g_autofree char *reasons = reasons_text(&scored);
  g_autofree char *number = number_text(&scored);
  const char *word = bt_outcome_words(ledger->outcome);
  if (*reasons)
    return g_strdup_printf("%s: %s. %s", word, reasons, number);
  return g_strdup_printf("%s: %s", word, number);
}

char *bt_reason_words(const BtRubric *rubric, const BtObservation *observation,
                      const BtLedger *ledger, guint index) {
  const BtScored scored = {rubric, observation, ledger};
  return reason_clause(&scored, &g_array_index(ledger->reasons, BtReason, index));
}
