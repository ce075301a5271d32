// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rows of the steps in words.
#include "words/ledger_parts.h"
#include "words/words.h"

char *bt__wrong_details(const BtAction *action, const BtCheckpoint *checkpoint,
                        const BtEvent *event) {
  GString *wrong = g_string_new(NULL);
  for (int i = 0; i < checkpoint->n_expect; i++) {
    const BtAllowed *expect = &checkpoint->expect[i];
    const BtDetailValue *value = bt__event_detail(event, expect->detail);
    if (!value || bt__allowed_holds(expect, value))
      continue;
    g_autofree char *detail = bt__detail_text(action, value);
    bt__join(wrong, ", ", detail);
  }
  return g_string_free(wrong, wrong->len == 0);
}

// "length" or "length and use": the expected details that the event does not log.
static char *missing_details(const BtAction *action, const BtCheckpoint *checkpoint,
                             const BtEvent *event) {
  GString *missing = g_string_new(NULL);
  for (int i = 0; i < checkpoint->n_expect; i++) {
    int detail = checkpoint->expect[i].detail;
    if (!bt__event_detail(event, detail))
      bt__join(missing, " and ", action->details[detail].title);
  }
  return g_string_free(missing, FALSE);
}

// Expected --------------------------------------------------------------------

static char *times_wanted(const BtCheckpoint *checkpoint) {
  if (checkpoint->least == checkpoint->most)
    return checkpoint->least == 1 ? g_strdup("once")
                                  : g_strdup_printf("%d times", checkpoint->least);
  return g_strdup_printf("%d to %d times", checkpoint->least, checkpoint->most);
}

static char *expected_text(const BtAction *action, const BtCheckpoint *checkpoint) {
  GString *text = g_string_new(NULL);
  g_autofree char *times = times_wanted(checkpoint);
  bt__join(text, "; ", times);
  for (int i = 0; i < checkpoint->n_expect; i++) {
    g_autofree char *allowed = bt__allowed_text(action, &checkpoint->expect[i]);
    bt__join(text, "; ", allowed);
  }
  if (checkpoint->verify_required)
    bt__join(text, " ", "(must be logged)");
  return g_string_free(text, FALSE);
}

// Happened --------------------------------------------------------------------

static void say_wrong_values(const BtScored *scored, const BtCheckpoint *checkpoint,
                             const GArray *seqs, GString *text) {
  const BtAction *action = &scored->rubric->actions[checkpoint->match.action];
  for (guint i = 0; i < seqs->len; i++) {
    const BtEvent *event = bt__event_of(scored->observation, g_array_index(seqs, int, i));
    g_autofree char *wrong = event ? bt__wrong_details(action, checkpoint, event) : NULL;
    if (!wrong)
      continue;
    g_autofree char *at = bt_clock_format(event->at_ms);
    bt__join_printf(text, "; ", "%s at %s", wrong, at);
  }
}

static void say_times(const BtScored *scored, const char *lead, const GArray *seqs, GString *text) {
  if (seqs->len == 0)
    return;
  g_autofree char *times = bt__times_text(scored->observation, seqs);
  bt__join_printf(text, "; ", "%s%s", lead, times);
}

static char *happened_text(const BtScored *scored, const BtCheckpoint *checkpoint,
                           const BtStepRow *row) {
  GString *text = g_string_new(NULL);
  say_times(scored, "", row->bound, text);
  say_wrong_values(scored, checkpoint, row->bound, text);
  say_times(scored, "redone at ", row->redone, text);
  say_wrong_values(scored, checkpoint, row->redone, text);
  say_times(scored, "beyond the number at ", row->extra, text);
  if (text->len == 0)
    g_string_append(text, row->why_out == BT_OUT_UNSEEN ? "not seen" : "not done");
  return g_string_free(text, FALSE);
}

// Why -------------------------------------------------------------------------

// The inject that dropped the checkpoint, as far as the ledger tells; NULL.
static const BtInjectRow *dropped_by(const BtScored *scored, int checkpoint) {
  const GArray *injects = scored->ledger->injects;
  for (guint i = 0; i < injects->len; i++) {
    const BtInjectRow *row = &g_array_index(injects, BtInjectRow, i);
    const BtInject *inject = &scored->rubric->injects[row->inject];
    for (int j = 0; j < inject->n_drops; j++) {
      if (inject->drops[j] == checkpoint)
        return row;
    }
  }
  return NULL;
}

static char *why_dropped(const BtScored *scored, int checkpoint) {
  const BtInjectRow *row = dropped_by(scored, checkpoint);
  if (!row)
    return g_strdup("A complication took it out of the score.");
  g_autofree char *at = bt__time_text(scored->observation, row->event);
  return g_strdup_printf("Left the score at %s: \"%s\".", at,
                         scored->rubric->injects[row->inject].title);
}

static char *why_out(const BtScored *scored, const BtCheckpoint *checkpoint, const BtStepRow *row) {
  switch (row->why_out) {
  case BT_OUT_NOT_TAKEN:
    return g_strdup_printf("Another way was taken: \"%s\".",
                           scored->rubric->choices[checkpoint->choice].title);
  case BT_OUT_NOT_ADDED:
    return g_strdup("Asked for only with a complication that was not brought in.");
  case BT_OUT_DROPPED:
    return why_dropped(scored, row->checkpoint);
  case BT_OUT_UNSEEN:
    return g_strdup("The assessor could not see it, so it has no points.");
  case BT_IN_SCORE:
    break;
  }
  return NULL;
}

// "length not logged at 3:40" for each event of the row's not_verified.
static void say_unverified(const BtScored *scored, const BtCheckpoint *checkpoint,
                           const BtStepRow *row, GString *text) {
  const BtAction *action = &scored->rubric->actions[checkpoint->match.action];
  g_autoptr(GString) list = g_string_new(NULL);
  for (guint i = 0; i < row->not_verified->len; i++) {
    int seq = g_array_index(row->not_verified, int, i);
    const BtEvent *event = bt__event_of(scored->observation, seq);
    if (!event)
      continue;
    g_autofree char *missing = missing_details(action, checkpoint, event);
    g_autofree char *at = bt_clock_format(event->at_ms);
    bt__join_printf(list, ", ", "%s at %s", missing, at);
  }
  if (list->len > 0)
    bt__join_printf(text, " ", "Not verified: %s not logged.", list->str);
}

static void say_count(const BtCheckpoint *checkpoint, const BtStepRow *row, GString *text) {
  int bound = (int)row->bound->len, right = (int)row->conforming->len;
  if (bound == 0) {
    g_string_append(text, "Not done.");
    return;
  }
  if (right >= checkpoint->least) {
    g_string_append(text, right < bound ? "Enough were as expected." : "Done as expected.");
    return;
  }
  if (bound < checkpoint->least)
    bt__join_printf(text, " ", "%d of %d done.", bound, checkpoint->least);
  if (right < bound)
    bt__join_printf(text, " ",
                    checkpoint->least == 1 ? "Not as expected." : "%d of %d as expected.", right,
                    checkpoint->least);
}

static char *why_text(const BtScored *scored, const BtCheckpoint *checkpoint,
                      const BtStepRow *row) {
  if (row->why_out != BT_IN_SCORE)
    return why_out(scored, checkpoint, row);
  GString *text = g_string_new(NULL);
  say_count(checkpoint, row, text);
  if (checkpoint->verify_required && row->conforming->len < row->bound->len)
    bt__join(text, " ", "A value that is not logged does not count here.");
  say_unverified(scored, checkpoint, row, text);
  if (row->critical_failure)
    bt__join(text, " ", "This step is critical.");
  return g_string_free(text, FALSE);
}

// Rows ------------------------------------------------------------------------

// The moment to look at: the first event that is not as expected, else the first of all; -1.
static int telling_event(const BtStepRow *row) {
  for (guint i = 0; i < row->bound->len; i++) {
    int seq = g_array_index(row->bound, int, i);
    if (!bt__ints_hold(row->conforming, seq))
      return seq;
  }
  return row->bound->len > 0 ? g_array_index(row->bound, int, 0) : 0;
}

static BtLedgerLine *step_line(const BtScored *scored, const BtStepRow *row) {
  const BtCheckpoint *checkpoint = &scored->rubric->checkpoints[row->checkpoint];
  BtLedgerLine *line = bt__ledger_line_new(BT_STEPS, checkpoint->id, checkpoint->title);
  bool in_score = row->why_out == BT_IN_SCORE;
  line->expected = expected_text(&scored->rubric->actions[checkpoint->match.action], checkpoint);
  line->happened = happened_text(scored, checkpoint, row);
  line->why = why_text(scored, checkpoint, row);
  line->counts = in_score && scored->ledger->component[BT_STEPS].assessed;
  line->given_mp = row->given_mp;
  line->possible_mp = in_score ? checkpoint->points_mp : 0;
  line->remarked =
      in_score && (row->conforming->len < row->bound->len || row->not_verified->len > 0);
  line->critical = row->critical_failure;
  line->lost = row->critical_failure || row->given_mp < line->possible_mp;
  line->first_event = telling_event(row);
  line->at_ms = bt__event_at_ms(scored->observation, line->first_event);
  return line;
}

void bt__step_lines(const BtScored *scored, GPtrArray *lines) {
  const GArray *steps = scored->ledger->steps;
  for (guint i = 0; i < steps->len; i++)
    g_ptr_array_add(lines, step_line(scored, &g_array_index(steps, BtStepRow, i)));
}
