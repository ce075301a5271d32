// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the log shows beside the points, in sentences.
#include "words/ledger_parts.h"
#include "words/words.h"

static void note(GPtrArray *notes, char *text) {
  g_ptr_array_add(notes, text);
}

static void note_injects(const BtScored *scored, GPtrArray *notes) {
  const GArray *injects = scored->ledger->injects;
  for (guint i = 0; i < injects->len; i++) {
    const BtInjectRow *row = &g_array_index(injects, BtInjectRow, i);
    g_autofree char *at = bt__time_text(scored->observation, row->event);
    note(notes, g_strdup_printf("Complication brought in at %s: \"%s\".", at,
                                scored->rubric->injects[row->inject].title));
  }
}

static void note_choices(const BtScored *scored, GPtrArray *notes) {
  const BtRubric *rubric = scored->rubric;
  for (int i = 0; i < rubric->n_choices; i++) {
    const BtChoice *choice = &rubric->choices[i];
    const BtOption *option = &choice->options[scored->ledger->option_taken[i]];
    g_autoptr(GString) steps = g_string_new(NULL);
    for (int j = 0; j < option->n_checkpoints; j++)
      bt__join_printf(steps, ", ", "\"%s\"", rubric->checkpoints[option->checkpoints[j]].title);
    note(notes, g_strdup_printf("%s: scored by the way with %s.", choice->title, steps->str));
  }
}

// Order figures ---------------------------------------------------------------

static void note_concordance(const BtScored *scored, GPtrArray *notes) {
  gint64 num = scored->ledger->concordance_num, den = scored->ledger->concordance_den;
  if (den == 0)
    return;
  if (num == den) {
    note(notes, g_strdup("Every pair of events that the rubric puts in order came in order."));
    return;
  }
  g_autofree char *percent = bt__percent_text(num, den);
  note(notes, g_strdup_printf("Of the pairs of events that the rubric puts in order, %s %% came "
                              "in order.",
                              percent));
}

static void note_displaced(const BtScored *scored, GPtrArray *notes) {
  const GArray *displaced = scored->ledger->displaced;
  if (displaced->len == 0)
    return;
  g_autoptr(GString) list = g_string_new(NULL);
  for (guint i = 0; i < displaced->len; i++) {
    const BtDisplaced *row = &g_array_index(displaced, BtDisplaced, i);
    const BtEvent *event = bt__event_of(scored->observation, row->event);
    if (!event)
      continue;
    g_autofree char *what = bt__event_text(scored->rubric, event);
    g_autofree char *at = bt_clock_format(event->at_ms);
    bt__join_printf(list, "; ", "%s at %s (too %s)", what, at, row->too_late ? "late" : "early");
  }
  g_autofree char *count = bt_count_of((gint64)displaced->len, "event", NULL);
  note(notes, g_strdup_printf("Moving %s would put everything in order: %s.", count, list->str));
}

// Lists of events -------------------------------------------------------------

// "Screw placed, Radius at 3:05; ..." of the events in `seqs`.
static char *event_list(const BtScored *scored, const GArray *seqs) {
  GString *list = g_string_new(NULL);
  for (guint i = 0; i < seqs->len; i++) {
    const BtEvent *event = bt__event_of(scored->observation, g_array_index(seqs, int, i));
    if (!event)
      continue;
    g_autofree char *what = bt__event_text(scored->rubric, event);
    g_autofree char *at = bt_clock_format(event->at_ms);
    bt__join_printf(list, "; ", "%s at %s", what, at);
  }
  return g_string_free(list, FALSE);
}

static void note_lists(const BtScored *scored, GPtrArray *notes) {
  static const char *const leads[BT_LISTS] = {
      [BT_LIST_UNPLANNED] = "Not asked for by the rubric",
      [BT_LIST_EXTRA] = "Beyond the number asked for",
      [BT_LIST_OVERTAKEN] = "Overtaken by a complication",
      [BT_LIST_IGNORED] = "Ignored, as the clock or the complication stood so already",
      [BT_LIST_AFTER_END] = "After the end, so without effect",
      [BT_LIST_BEFORE_START] = "Before the start",
      [BT_LIST_WHILE_PAUSED] = "While the clock was paused",
      [BT_LIST_TAKEN_AS_REDO] = "Taken as a redo of an earlier one",
      [BT_LIST_REDO_OF_NOTHING] = "Logged as a redo, but of nothing that was there",
      [BT_LIST_UNSEEN] = "Not seen by the assessor"};
  for (int i = 0; i < BT_LISTS; i++) {
    const GArray *seqs = scored->ledger->list[i];
    if (seqs->len == 0)
      continue;
    g_autofree char *events = event_list(scored, seqs);
    note(notes, g_strdup_printf("%s: %s.", leads[i], events));
  }
}

// Time and remarks ------------------------------------------------------------

static void note_quiet(const BtScored *scored, GPtrArray *notes) {
  const GArray *quiet = scored->ledger->quiet;
  gint64 sum_ms = 0;
  g_autoptr(GString) list = g_string_new(NULL);
  for (guint i = 0; i < quiet->len; i++) {
    const BtQuiet *row = &g_array_index(quiet, BtQuiet, i);
    g_autofree char *from = bt__time_text(scored->observation, row->from);
    g_autofree char *to = bt__time_text(scored->observation, row->to);
    bt__join_printf(list, ", ", "%s to %s", from, to);
    sum_ms += row->ms;
  }
  if (quiet->len == 0)
    return;
  g_autofree char *sum = bt_clock_format(sum_ms);
  g_autofree char *stretches = bt_count_of((gint64)quiet->len, "quiet stretch", "quiet stretches");
  note(notes, g_strdup_printf("%s, %s in all: %s.", stretches, sum, list->str));
}

static void note_time(const BtScored *scored, GPtrArray *notes) {
  const BtLedger *ledger = scored->ledger;
  g_autoptr(GString) text = g_string_new(NULL);
  g_autofree char *total = bt_clock_format(ledger->total_ms);
  g_string_printf(text, "Time on the clock %s", total);
  for (int i = 0; i < scored->rubric->n_phases; i++) {
    g_autofree char *spent = bt_clock_format(ledger->charged_ms[i]);
    g_string_append_printf(text, "; %s %s", scored->rubric->phases[i].title, spent);
  }
  g_autofree char *rest = bt_clock_format(ledger->unassigned_ms);
  g_string_append_printf(text, "; in no phase %s.", rest);
  note(notes, g_string_free(g_steal_pointer(&text), FALSE));
}

static void note_remarks(const BtScored *scored, GPtrArray *notes) {
  const GArray *events = scored->observation->events;
  for (guint i = 0; i < events->len; i++) {
    const BtEvent *event = &g_array_index(events, BtEvent, i);
    if (!event->note || !*event->note)
      continue;
    g_autofree char *at = bt_clock_format(event->at_ms);
    note(notes, g_strdup_printf("Remark at %s: %s", at, event->note));
  }
}

GPtrArray *bt__ledger_notes(const BtScored *scored) {
  GPtrArray *notes = g_ptr_array_new_with_free_func(g_free);
  note_injects(scored, notes);
  note_choices(scored, notes);
  note_concordance(scored, notes);
  note_displaced(scored, notes);
  note_lists(scored, notes);
  note_time(scored, notes);
  note_quiet(scored, notes);
  note_remarks(scored, notes);
  return notes;
}
