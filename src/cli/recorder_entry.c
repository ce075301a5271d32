// SPDX-License-Identifier: GPL-3.0-or-later
//
// Putting an entry together, and taking it to the book.
#include "cli/recorder.h"

void recorder_drop_pending(Recorder *recorder) {
  g_clear_pointer(&recorder->pending, raw_event_free);
  g_clear_pointer(&recorder->waiting, raw_event_free);
  recorder->then = NULL;
  recorder->amended_seq = 0;
}

void recorder_begin_entry(Recorder *recorder, const char *action) {
  recorder_drop_pending(recorder);
  recorder->pending = raw_event_new(recorder->rubric, NULL);
  g_autofree char *time = bt_clock_format_exact(recorder_entry_ms(recorder));
  raw_event_set(recorder->pending, RAW_TIME, time);
  raw_event_set(recorder->pending, RAW_ACTION, action);
}

static void say_fault(BtField field, int detail, bool warning, char *wrong, char *expected,
                      gpointer user_data) {
  (void)field;
  (void)detail;
  (void)warning;
  recorder_say(user_data, true, "%s%s%s", wrong, expected ? "; " : "", expected ? expected : "");
  g_free(wrong);
  g_free(expected);
}

bool recorder_resolve_pending(Recorder *recorder, int seq, BtEvent *event, BtDetailValue *details) {
  BtRawEvent view = raw_event_view(recorder->pending);
  return bt_event_resolve(recorder->rubric, &view, seq, event, details, say_fault, recorder);
}

// What a redo may name is earlier than this; the book gives the number itself.
static int next_seq(const Recorder *recorder) {
  const GArray *events = recorder->observation->events;
  return events->len ? g_array_index(events, BtEvent, events->len - 1).seq + 1 : 1;
}

// When the book cannot take it ------------------------------------------------

static void answer_retry(Recorder *recorder, int value, const char *text) {
  (void)text;
  if (value != 0) {
    (void)recorder_log_pending(recorder);
    return;
  }
  bool two = recorder->waiting;
  recorder_ask_nothing(recorder);
  recorder_drop_pending(recorder);
  recorder_say(recorder, true,
               two ? "Dropped; neither the resume nor the work was logged."
                   : "Dropped; it was not logged.");
}

// Asked in capitals: the keys of entries typed meanwhile must not answer this.
static void ask_retry(Recorder *recorder, const BtEvent *event, const GError *error) {
  g_autofree char *time = bt_clock_format(event->at_ms);
  Question *question =
      recorder_ask_choice(recorder, answer_retry, "NOT LOGGED: %s", error->message);
  question->must_answer = true;
  g_autofree char *again = g_strdup_printf("try again; the entry keeps its time, %s", time);
  recorder_choice(question, 'T', 1, again);
  recorder_choice(question, 'X', 0, "drop the entry");
}

// Once it is in the book ------------------------------------------------------

static void score_anew(Recorder *recorder, int seq) {
  BtLedger *ledger = bt_score(recorder->rubric, recorder->observation);
  g_free(recorder->remark);
  recorder->remark = recorder_remark(recorder->rubric, recorder->ledger, ledger, seq);
  bt_ledger_free(recorder->ledger);
  recorder->ledger = ledger;
}

// The log on the screen shows the event; a warning is what deserves the line.
static void say_logged(Recorder *recorder, const BtEvent *event) {
  if (recorder->message && recorder->message_warns) {
    g_autofree char *warning = g_strdup(recorder->message);
    recorder_say(recorder, true, "Logged #%d, with a warning: %s", event->seq, warning);
  } else {
    g_autofree char *line = recorder_event_line(recorder, event);
    recorder_say(recorder, false, "Logged %s", line);
  }
}

static void entry_logged(Recorder *recorder, const BtEvent *event) {
  bt_observation_add(recorder->observation, event);
  score_anew(recorder, event->seq);
  say_logged(recorder, event);
  if (event->kind == BT_EVENT_WORK) {
    recorder->last_site[event->action] = event->site;
    recorder->next_is_redo = false;
  }
  recorder->ago_ms = 0;
}

// The pending entry is done with; what waited for it comes next.
static void go_on(Recorder *recorder) {
  void (*then)(Recorder *) = recorder->then;
  RawEvent *waiting = g_steal_pointer(&recorder->waiting);
  recorder_drop_pending(recorder);
  recorder->pending = waiting;
  if (then)
    then(recorder);
}

bool recorder_log_pending(Recorder *recorder) {
  recorder_ask_nothing(recorder);
  g_clear_pointer(&recorder->message, g_free);
  BtEvent event;
  g_autofree BtDetailValue *details = g_new(BtDetailValue, recorder->pending->names->len + 1);
  if (!recorder_resolve_pending(recorder, next_seq(recorder), &event, details)) {
    recorder_drop_pending(recorder);
    return false;
  }
  g_autoptr(GError) error = NULL;
  if (!bt_book_append(recorder->book, recorder->observation_id, &event, NULL, &event.seq, &error)) {
    ask_retry(recorder, &event, error);
    return false;
  }
  entry_logged(recorder, &event);
  go_on(recorder);
  return true;
}
