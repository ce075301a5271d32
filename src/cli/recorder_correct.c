// SPDX-License-Identifier: GPL-3.0-or-later
//
// Corrections while recording: undo, strike, amend. Nothing is deleted; each is a record with its
// reason.
#include "cli/recorder.h"

static const char *const usual_reasons[] = {"logged twice", "wrong key", "seen wrongly"};
#define ANOTHER_REASON (-2)

// Which event, and why --------------------------------------------------------

static int last_seq(const Recorder *recorder) {
  const GArray *events = recorder->observation->events;
  return events->len ? g_array_index(events, BtEvent, events->len - 1).seq : 0;
}

static void ask_which(Recorder *recorder, Answer answer, const char *what) {
  if (recorder->observation->events->len == 0) {
    recorder_say(recorder, true, "Nothing is logged yet.");
    return;
  }
  Question *question =
      recorder_ask_text(recorder, answer, "%s which event? (number; Enter: the last)", what);
  question->numeric = true;
  question->may_skip = true;
}

// The event whose number was typed; Enter alone means the last. False: told, and asked again.
static bool choose_event(Recorder *recorder, const char *text) {
  int seq = *text ? (int)CLAMP(g_ascii_strtoll(text, NULL, 10), 0, G_MAXINT) : last_seq(recorder);
  if (!recorder_event(recorder, seq)) {
    recorder_say(recorder, true, "There is no event #%s in the log; Backspace mends it.", text);
    return false;
  }
  recorder_drop_pending(recorder);
  recorder->amended_seq = seq;
  return true;
}

static void ask_reason(Recorder *recorder, Answer answer) {
  const BtEvent *event = recorder_event(recorder, recorder->amended_seq);
  g_autofree char *line = recorder_event_line(recorder, event);
  Question *question = recorder_ask_choice(recorder, answer, "Why? %s", line);
  for (int i = 0; i < (int)G_N_ELEMENTS(usual_reasons); i++)
    recorder_choice(question, 0, i, usual_reasons[i]);
  recorder_choice(question, 0, ANOTHER_REASON, "another reason ...");
}

// The reason that was chosen or typed; NULL: it is to be typed, which is asked now.
static const char *reason_of(Recorder *recorder, Answer answer, int value, const char *text) {
  if (value != ANOTHER_REASON)
    return value >= 0 ? usual_reasons[value] : text;
  recorder_ask_text(recorder, answer, "The reason");
  return NULL;
}

// Strike ----------------------------------------------------------------------

static void strike(Recorder *recorder, int seq, const char *reason) {
  g_autofree char *line = recorder_event_line(recorder, recorder_event(recorder, seq));
  g_autoptr(GError) error = NULL;
  recorder_ask_nothing(recorder);
  recorder_drop_pending(recorder);
  bool struck = bt_book_strike(recorder->book, recorder->observation_id, seq, reason, &error);
  if (recorder_reread(recorder) && struck)
    recorder_say(recorder, false, "Struck %s", line);
  else if (!struck)
    recorder_say(recorder, true, "NOT STRUCK: %s", error->message);
}

static void undo_last(Recorder *recorder) {
  strike(recorder, last_seq(recorder), "undone while recording");
  recorder->just_undone = true;
}

static void answer_undo_more(Recorder *recorder, int value, const char *text) {
  (void)text;
  recorder_ask_nothing(recorder);
  if (value == 1)
    undo_last(recorder);
}

// A key held down must not undo the whole log, so the second undo in a row asks.
void recorder_undo(Recorder *recorder) {
  if (last_seq(recorder) == 0) {
    recorder_say(recorder, true, "There is nothing to undo.");
  } else if (!recorder->just_undone) {
    undo_last(recorder);
  } else {
    const BtEvent *event = recorder_event(recorder, last_seq(recorder));
    g_autofree char *line = recorder_event_line(recorder, event);
    Question *question = recorder_ask_choice(recorder, answer_undo_more, "Undo this too? %s", line);
    recorder_choice(question, 'y', 1, "yes");
    recorder_choice(question, 'n', 0, "no");
  }
}

static void answer_strike_why(Recorder *recorder, int value, const char *text) {
  const char *reason = reason_of(recorder, answer_strike_why, value, text);
  if (reason)
    strike(recorder, recorder->amended_seq, reason);
}

static void answer_strike_which(Recorder *recorder, int value, const char *text) {
  (void)value;
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
    bool amended =
        bt_book_amend(recorder->book, recorder->observation_id, seq, &event, reason, &error);
    if (recorder_reread(recorder) && amended)
      recorder_say(recorder, false, "Event #%d is amended.", seq);
    else if (!amended)
      recorder_say(recorder, true, "NOT AMENDED: %s", error->message);
  }
  recorder_drop_pending(recorder);
}

static void answer_amend_why(Recorder *recorder, int value, const char *text) {
  const char *reason = reason_of(recorder, answer_amend_why, value, text);
  if (reason)
    amend(recorder, reason);
}

static const BtDetail *amended_detail(const Recorder *recorder) {
  return recorder->amended_what < RAW_FIELDS ? NULL
                                             : &recorder->rubric->actions[recorder->pending_action]
                                                    .details[recorder->amended_what - RAW_FIELDS];
}

static void answer_new_value(Recorder *recorder, int value, const char *text) {
  const BtDetail *detail = amended_detail(recorder);
  if (detail)
    raw_event_set_detail(recorder->pending, detail->name, value >= 0 ? detail->words[value] : text);
  else
    raw_event_set(recorder->pending, (RawField)recorder->amended_what, text);
  ask_reason(recorder, answer_amend_why);
}

static void answer_new_site(Recorder *recorder, int value, const char *text) {
  (void)text;
  raw_event_set(recorder->pending, RAW_SITE, value < 0 ? NULL : recorder->rubric->sites[value].id);
  ask_reason(recorder, answer_amend_why);
}

// Work stands at one of its action's sites; an error or a note anywhere, or nowhere.
static void ask_new_site(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  const BtAction *action =
      recorder->pending_action >= 0 ? &rubric->actions[recorder->pending_action] : NULL;
  Question *question = recorder_ask_choice(recorder, answer_new_site, "The site is%s",
                                           action ? "" : " (Enter: none)");
  for (int i = 0; i < (action ? action->n_sites : rubric->n_sites); i++) {
    int site = action ? action->sites[i] : i;
    recorder_choice(question, 0, site, rubric->sites[site].title);
  }
  question->may_skip = !action;
}

static void ask_new_word(Recorder *recorder, const BtDetail *detail) {
  Question *question =
      recorder_ask_choice(recorder, answer_new_value, "The %s is (Enter: none)", detail->title);
  for (int i = 0; i < detail->n_words; i++)
    recorder_choice(question, 0, i, detail->words[i]);
  question->may_skip = true;
}

// What can be changed of an event, beside the details of its action.
static const struct {
  RawField field;
  gunichar key;
  const char *label, *hint;
} amendable[] = {{RAW_TIME, 't', "time", " (as 12:41)"},
                 {RAW_SITE, 's', "site", ""},
                 {RAW_VALUE, 'v', "value", ""},
                 {RAW_REDO, 'r', "redo", " (yes, or the number of the entry; Enter alone: none)"},
                 {RAW_NOTE, 'n', "note", " (Enter alone: none)"}};

static void ask_new_text(Recorder *recorder) {
  const BtDetail *detail = amended_detail(recorder);
  const char *label = detail ? detail->title : NULL, *hint = " (Enter alone: none)";
  for (gsize i = 0; i < G_N_ELEMENTS(amendable) && !detail; i++) {
    if ((int)amendable[i].field == recorder->amended_what) {
      label = amendable[i].label;
      hint = amendable[i].hint;
    }
  }
  Question *question = recorder_ask_text(recorder, answer_new_value, "The %s is%s", label, hint);
  question->numeric = detail || recorder->amended_what == RAW_VALUE;
  question->may_skip =
      detail || recorder->amended_what == RAW_REDO || recorder->amended_what == RAW_NOTE;
}

static void answer_amend_what(Recorder *recorder, int value, const char *text) {
  (void)text;
  recorder->amended_what = value;
  const BtDetail *detail = amended_detail(recorder);
  if (value == RAW_SITE)
    ask_new_site(recorder);
  else if (detail && detail->kind == BT_DETAIL_WORD)
    ask_new_word(recorder, detail);
  else
    ask_new_text(recorder);
}

static bool has_field(const BtRubric *rubric, const BtEvent *event, RawField field) {
  switch (field) {
  case RAW_SITE:
    return event->kind == BT_EVENT_WORK ? rubric->actions[event->action].n_sites > 0
                                        : rubric->n_sites > 0 && (event->kind == BT_EVENT_ERROR ||
                                                                  event->kind == BT_EVENT_NOTE);
  case RAW_VALUE:
    return event->kind == BT_EVENT_MEASURE || event->kind == BT_EVENT_RATE;
  case RAW_REDO:
    return event->kind == BT_EVENT_WORK;
  default:
    return true;
  }
}

static void ask_amend_what(Recorder *recorder, const BtEvent *event) {
  const BtRubric *rubric = recorder->rubric;
  recorder->pending = raw_event_new(rubric, event);
  recorder->pending_action = event->action;
  g_autofree char *line = recorder_event_line(recorder, event);
  Question *question = recorder_ask_choice(recorder, answer_amend_what, "Amend what? %s", line);
  for (gsize i = 0; i < G_N_ELEMENTS(amendable); i++) {
    if (has_field(rubric, event, amendable[i].field))
      recorder_choice(question, amendable[i].key, (int)amendable[i].field, amendable[i].label);
  }
  for (int i = 0; event->action >= 0 && i < rubric->actions[event->action].n_details; i++)
    recorder_choice(question, 0, RAW_FIELDS + i, rubric->actions[event->action].details[i].title);
}

static void answer_amend_which(Recorder *recorder, int value, const char *text) {
  (void)value;
  if (choose_event(recorder, text))
    ask_amend_what(recorder, recorder_event(recorder, recorder->amended_seq));
}

void recorder_ask_amend(Recorder *recorder) {
  ask_which(recorder, answer_amend_which, "Amend");
}
