// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rows of the order rules and of time in words.
#include "words/ledger_parts.h"
#include "words/words.h"

// Order -----------------------------------------------------------------------

// A side may be a whole phase or a list, so what happened names the very checkpoint.
const char *bt__then_title(const BtScored *scored, const BtRule *rule, int then_event) {
  for (int i = 0; i < rule->n_then; i++) {
    const BtStepRow *row = &g_array_index(scored->ledger->steps, BtStepRow, (guint)rule->then[i]);
    if (bt__ints_hold(row->bound, then_event))
      return scored->rubric->checkpoints[rule->then[i]].title;
  }
  return rule->then_text;
}

// "the first 0 of 1 by then, next at 14:02" for a checkpoint that was short; a side of several says
// which.
static void say_short(const BtScored *scored, const BtRule *rule, const BtShort *row,
                      GString *text) {
  if (rule->n_first == 1)
    bt__join_printf(text, "; ", "the first %d of %d by then", row->done, row->least);
  else
    bt__join_printf(text, "; ", "\"%s\" %d of %d by then",
                    scored->rubric->checkpoints[row->checkpoint].title, row->done, row->least);
  if (row->late_event == 0)
    return;
  g_autofree char *at = bt__time_text(scored->observation, row->late_event);
  g_string_append_printf(text, ", next at %s", at);
}

// The row's title names both sides; what happened names only what that leaves open.
static char *rule_happened(const BtScored *scored, const BtRule *rule, const BtOrderRow *row) {
  if (!row->applies)
    return g_strdup("not judged");
  g_autofree char *at = bt__time_text(scored->observation, row->then_event);
  GString *text = g_string_new(NULL);
  if (rule->n_then == 1)
    g_string_printf(text, "the second at %s", at);
  else
    g_string_printf(text, "\"%s\" at %s", bt__then_title(scored, rule, row->then_event), at);
  for (guint i = 0; i < row->shorts->len; i++)
    say_short(scored, rule, &g_array_index(row->shorts, BtShort, i), text);
  return g_string_free(text, FALSE);
}

static char *rule_why(const BtRule *rule, const BtOrderRow *row) {
  if (!row->applies)
    return g_strdup("Nothing to compare: what should come later was not done, or what should come "
                    "first was not asked for.");
  if (!row->broken)
    return g_strdup("Kept.");
  return g_strconcat("Out of order. ", rule->why ? rule->why : "",
                     rule->critical ? " This rule is critical." : "", NULL);
}

#define SIDE_LETTERS 60 // a longer list of checkpoints is told by its first

// A side of a rule as a title. Caller frees.
static char *side_title(const BtRubric *rubric, const char *text, const int *checkpoints, int n) {
  if (n < 2 || g_utf8_strlen(text, -1) <= SIDE_LETTERS)
    return g_strdup(text);
  return g_strdup_printf("%s and %d more", rubric->checkpoints[checkpoints[0]].title, n - 1);
}

static BtLedgerLine *order_line(const BtScored *scored, const BtOrderRow *row) {
  const BtRule *rule = &scored->rubric->rules[row->rule];
  const BtRubric *rubric = scored->rubric;
  g_autofree char *first = side_title(rubric, rule->first_text, rule->first, rule->n_first);
  g_autofree char *then = side_title(rubric, rule->then_text, rule->then, rule->n_then);
  g_autofree char *what = g_strdup_printf("%s before %s", first, then);
  BtLedgerLine *line = bt__ledger_line_new(BT_ORDER, rule->id, what);
  line->expected = g_strdup(rule->by_start ? "the first begun before the second begins"
                                           : "the first done before the second begins");
  line->happened = rule_happened(scored, rule, row);
  line->why = rule_why(rule, row);
  line->counts = row->applies && scored->ledger->component[BT_ORDER].assessed;
  line->given_mp = row->given_mp;
  line->possible_mp = row->applies ? rule->lose_mp : 0;
  line->critical = row->broken && rule->critical;
  line->lost = row->broken;
  line->first_event = row->then_event;
  line->at_ms = row->then_event ? bt__event_at_ms(scored->observation, row->then_event) : -1;
  return line;
}

void bt__order_lines(const BtScored *scored, GPtrArray *lines) {
  const GArray *order = scored->ledger->order;
  for (guint i = 0; i < order->len; i++)
    g_ptr_array_add(lines, order_line(scored, &g_array_index(order, BtOrderRow, i)));
}

// Time ------------------------------------------------------------------------

typedef struct {
  const char *id, *title;
  gint64 target_ms, limit_ms;
} Allowance;

static Allowance allowance_of(const BtRubric *rubric, int phase) {
  if (phase < 0)
    return (Allowance){"clock", "The whole exercise", rubric->clock.target_ms,
                       rubric->clock.limit_ms};
  const BtPhase *p = &rubric->phases[phase];
  return (Allowance){p->id, p->title, p->target_ms, p->limit_ms};
}

// The points of the steps that a time row goes by: those of its phase, or all for the clock.
static void work_done(const BtScored *scored, int phase, gint64 *given_mp, gint64 *possible_mp) {
  *given_mp = *possible_mp = 0;
  const GArray *steps = scored->ledger->steps;
  for (guint i = 0; i < steps->len; i++) {
    const BtStepRow *row = &g_array_index(steps, BtStepRow, i);
    const BtCheckpoint *checkpoint = &scored->rubric->checkpoints[row->checkpoint];
    if (row->why_out != BT_IN_SCORE || (phase >= 0 && checkpoint->phase != phase))
      continue;
    *given_mp += row->given_mp;
    *possible_mp += checkpoint->points_mp;
  }
}

static char *time_why(const BtScored *scored, const BtTimeRow *row, const Allowance *allowance) {
  GString *text = g_string_new(NULL);
  if (row->spent_ms <= allowance->target_ms) {
    g_string_append(text, "Within the target.");
  } else if (row->spent_ms >= allowance->limit_ms) {
    g_string_append(text, "At or beyond the limit, so no points.");
  } else {
    g_autofree char *over = bt_clock_format(row->spent_ms - allowance->target_ms);
    g_string_append_printf(text, "%s over the target.", over);
  }
  gint64 given_mp = 0, possible_mp = 0;
  work_done(scored, row->phase, &given_mp, &possible_mp);
  if (given_mp < possible_mp && row->spent_ms < allowance->limit_ms) {
    g_autofree char *given = bt_decimal_format(given_mp);
    g_autofree char *possible = bt_decimal_format(possible_mp);
    bt__join_printf(text, " ", "Time earns in proportion to work done: %s of %s step points.",
                    given, possible);
  }
  return g_string_free(text, FALSE);
}

static BtLedgerLine *time_line(const BtScored *scored, const BtTimeRow *row) {
  Allowance allowance = allowance_of(scored->rubric, row->phase);
  BtLedgerLine *line = bt__ledger_line_new(BT_TIME, allowance.id, allowance.title);
  g_autofree char *target = bt_clock_format(allowance.target_ms);
  g_autofree char *limit = bt_clock_format(allowance.limit_ms);
  line->expected = g_strdup_printf("%s or less; no points from %s", target, limit);
  g_autofree char *spent = bt_clock_format(row->spent_ms);
  line->happened = g_strdup_printf("took %s", spent);
  g_autofree char *unassessed = bt__why_not_assessed(scored, BT_TIME);
  line->why = unassessed ? g_strdup_printf("Time is not assessed: %s.", unassessed)
                         : time_why(scored, row, &allowance);
  line->counts = unassessed == NULL;
  line->given_mp = row->given_mp;
  line->possible_mp = row->points_mp;
  line->lost = line->counts && row->given_mp < row->points_mp;
  line->at_ms = -1;
  return line;
}

void bt__time_lines(const BtScored *scored, GPtrArray *lines) {
  const GArray *time = scored->ledger->time;
  for (guint i = 0; i < time->len; i++)
    g_ptr_array_add(lines, time_line(scored, &g_array_index(time, BtTimeRow, i)));
}
