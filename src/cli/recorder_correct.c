// SPDX-License-Identifier: GPL-3.0-or-later
//
// Corrections while recording: undo, strike, amend. Nothing is deleted; each is a record with its
// reason.
#include <stdlib.h>
#include <string.h>

#include "cli/recorder.h"

static const char *const usual_reasons[] = {"logged twice", "wrong key", "seen wrongly"};

// Strike ----------------------------------------------------------------------

static void strike(Recorder *recorder, int seq, const char *reason) {
  const BtEvent *event = recorder_event(recorder, seq);
  g_autofree char *line = event ? recorder_event_line(recorder, event) : g_strdup("");
  g_autoptr(GError) error = NULL;
  recorder_ask_nothing(recorder);
  if (!bt_book_strike(recorder->book, recorder->observation_id, seq, reason, &error)) {
    recorder_say(recorder, true, "NOT STRUCK: %s", error->message);
    return;
  }
  if (recorder_reread(recorder))
    recorder_say(recorder, false, "Struck %s", line);
}

static int last_seq(const Recorder *recorder) {
  const GArray *events = recorder->observation->events;
  int last = 0;
  for (guint i = 0; i < events->len; i++)
    last = MAX(last, g_array_index(events, BtEvent, i).seq);
  return last;
}

void recorder_undo(Recorder *recorder) {
  int seq = last_seq(recorder);
  if (seq == 0)
    recorder_say(recorder, true, "There is nothing to undo.");
  else
    strike(recorder, seq, "undone while recording");
}

static void answer_why_text(Recorder *recorder, int choice, const char *text) {
  (void)choice;
  strike(recorder, recorder->amended_seq, text);
}

static void answer_strike_why(Recorder *recorder, int choice, const char *text) {
  (void)text;
  if (choice < (int)G_N_ELEMENTS(usual_reasons))
    strike(recorder, recorder->amended_seq, usual_reasons[choice]);
  else
    recorder_ask_text(recorder, answer_why_text, "Why is it struck?");
}

static void ask_reason(Recorder *recorder, void (*answer)(Recorder *, int, const char *)) {
  const BtEvent *event = recorder_event(recorder, recorder->amended_seq);
  g_autofree char *line = recorder_event_line(recorder, event);
  Question *question = recorder_ask_choice(recorder, answer, "Why? %s", line);
  for (gsize i = 0; i < G_N_ELEMENTS(usual_reasons); i++)
    recorder_choice(question, 0, usual_reasons[i]);
  recorder_choice(question, 0, "another reason ...");
}

// The event whose number was typed; Enter alone means the last. False: told.
static bool choose_event(Recorder *recorder, const char *text) {
  int seq = *text ? atoi(text) : last_seq(recorder);
  recorder_ask_nothing(recorder);
  if (!recorder_event(recorder, seq)) {
    recorder_say(recorder, true, "There is no event #%d in the log.", seq);
    return false;
  }
  recorder->amended_seq = seq;
  return true;
}

static void ask_which(Recorder *recorder, void (*answer)(Recorder *, int, const char *),
                      const char *what) {
  if (recorder->observation->events->len == 0) {
    recorder_say(recorder, true, "Nothing is logged yet.");
    return;
  }
  Question *question =
      recorder_ask_text(recorder, answer, "%s which event? (number; Enter: the last)", what);
  question->numeric = true;
  question->may_skip = true;
}

static void answer_strike_which(Recorder *recorder, int choice, const char *text) {
  (void)choice;
  if (choose_event(recorder, text))
    ask_reason(recorder, answer_strike_why);
}

void recorder_ask_strike(Recorder *recorder) {
  ask_which(recorder, answer_strike_which, "Strike");
}

// Amend -----------------------------------------------------------------------

static void amend(Recorder *recorder, const char *reason) {
  BtEvent event;
  g_autofree BtDetailValue *details = g_new(BtDetailValue, recorder->pending->names->len + 1);
  int seq = recorder->amended_seq;
  recorder_ask_nothing(recorder);
  g_autoptr(GError) error = NULL;
  if (recorder_resolve_pending(recorder, seq, &event, details)) {
    if (!bt_book_amend(recorder->book, recorder->observation_id, seq, &event, reason, &error))
      recorder_say(recorder, true, "NOT AMENDED: %s", error->message);
    else if (recorder_reread(recorder))
      recorder_say(recorder, false, "Event #%d is amended.", seq);
  }
  recorder_drop_pending(recorder);
}

static void answer_amend_why_text(Recorder *recorder, int choice, const char *text) {
  (void)choice;
  amend(recorder, text);
}

static void answer_amend_why(Recorder *recorder, int choice, const char *text) {
  (void)text;
  if (choice < (int)G_N_ELEMENTS(usual_reasons))
    amend(recorder, usual_reasons[choice]);
  else
    recorder_ask_text(recorder, answer_amend_why_text, "Why is it amended?");
}

// What can be changed: the fields that the event has, then its action's details.
static const struct {
  RawField field;
  gunichar key;
  const char *label;
} amendable[] = {{RAW_TIME, 't', "time"},
                 {RAW_SITE, 's', "site"},
                 {RAW_VALUE, 'v', "value"},
                 {RAW_REDO, 'r', "redo"},
                 {RAW_NOTE, 'n', "note"}};

static void answer_new_value(Recorder *recorder, int choice, const char *text) {
  (void)choice;
  int what = recorder->asked_item;
  int fields = (int)G_N_ELEMENTS(amendable);
  if (what < fields) {
    raw_event_set(recorder->pending, amendable[what].field, text);
  } else {
    const BtAction *action = &recorder->rubric->actions[recorder->pending_action];
    raw_event_set_detail(recorder->pending, action->details[what - fields].name, text);
  }
  ask_reason(recorder, answer_amend_why);
}

static void answer_new_site(Recorder *recorder, int choice, const char *text) {
  (void)text;
  const BtAction *action = &recorder->rubric->actions[recorder->pending_action];
  raw_event_set(recorder->pending, RAW_SITE, recorder->rubric->sites[action->sites[choice]].id);
  ask_reason(recorder, answer_amend_why);
}

static void ask_new_site(Recorder *recorder, const BtAction *action) {
  Question *question = recorder_ask_choice(recorder, answer_new_site, "The site is");
  for (int i = 0; i < action->n_sites; i++)
    recorder_choice(question, 0, recorder->rubric->sites[action->sites[i]].title);
}

static void answer_amend_what(Recorder *recorder, int choice, const char *text) {
  (void)text;
  int fields = (int)G_N_ELEMENTS(amendable);
  const BtAction *action =
      recorder->pending_action >= 0 ? &recorder->rubric->actions[recorder->pending_action] : NULL;
  recorder->asked_item = choice;
  if (choice < fields && amendable[choice].field == RAW_SITE && action && action->n_sites > 0) {
    ask_new_site(recorder, action);
    return;
  }
  const char *what =
      choice < fields ? amendable[choice].label : action->details[choice - fields].title;
  Question *question =
      recorder_ask_text(recorder, answer_new_value, "The %s is (Enter alone: none)", what);
  question->may_skip = true;
}

static void ask_amend_what(Recorder *recorder, const BtEvent *event) {
  recorder->pending = raw_event_new(recorder->rubric, event);
  recorder->pending_action = event->action;
  g_autofree char *line = recorder_event_line(recorder, event);
  Question *question = recorder_ask_choice(recorder, answer_amend_what, "Amend what? %s", line);
  for (gsize i = 0; i < G_N_ELEMENTS(amendable); i++)
    recorder_choice(question, amendable[i].key, amendable[i].label);
  for (int i = 0; event->action >= 0 && i < recorder->rubric->actions[event->action].n_details; i++)
    recorder_choice(question, 0, recorder->rubric->actions[event->action].details[i].title);
}

static void answer_amend_which(Recorder *recorder, int choice, const char *text) {
  (void)choice;
  recorder_drop_pending(recorder);
  if (choose_event(recorder, text))
    ask_amend_what(recorder, recorder_event(recorder, recorder->amended_seq));
}

void recorder_ask_amend(Recorder *recorder) {
  ask_which(recorder, answer_amend_which, "Amend");
}
