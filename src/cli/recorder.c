// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/recorder.h"

#include <stdarg.h>
#include <string.h>

// Making and ending -----------------------------------------------------------

Recorder *recorder_new(BtBook *book, gint64 observation_id, gint64 (*now_ms)(void), gint64 at_ms,
                       GError **error) {
  Recorder *recorder = g_new0(Recorder, 1);
  recorder->book = book;
  recorder->observation_id = observation_id;
  recorder->now_ms = now_ms;
  recorder->clock_zero_ms = now_ms() - at_ms;
  recorder->observation = bt_book_load(book, observation_id, &recorder->rubric, error);
  if (!recorder->observation) {
    recorder_free(recorder);
    return NULL;
  }
  for (gsize i = 0; i < G_N_ELEMENTS(recorder->last_site); i++)
    recorder->last_site[i] = -1;
  recorder->ledger = bt_score(recorder->rubric, recorder->observation);
  return recorder;
}

static void question_free(Question *question) {
  if (!question)
    return;
  g_free(question->title);
  if (question->choices)
    g_array_unref(question->choices);
  g_string_free(question->text, TRUE);
  g_free(question);
}

void recorder_free(Recorder *recorder) {
  if (!recorder)
    return;
  bt_observation_free(recorder->observation);
  bt_ledger_free(recorder->ledger);
  question_free(recorder->question);
  raw_event_free(recorder->pending);
  g_free(recorder->message);
  g_free(recorder->receipt);
  g_free(recorder);
}

// The clock -------------------------------------------------------------------

gint64 recorder_at_ms(const Recorder *recorder) {
  return recorder->now_ms() - recorder->clock_zero_ms;
}

typedef struct {
  bool started, finished, paused;
  gint64 start_ms, paused_ms, pause_began_ms, end_ms;
} ClockState;

// The clock's story told by the log; the engine judges it, this only drives the display.
static ClockState clock_state(const Recorder *recorder) {
  ClockState clock = {0};
  for (guint i = 0; i < recorder->observation->events->len; i++) {
    const BtEvent *event = &g_array_index(recorder->observation->events, BtEvent, i);
    if (event->kind == BT_EVENT_START && !clock.started) {
      clock.started = true;
      clock.start_ms = event->at_ms;
    } else if (!clock.started || clock.finished) {
      continue;
    } else if (event->kind == BT_EVENT_PAUSE && !clock.paused) {
      clock.paused = true;
      clock.pause_began_ms = event->at_ms;
    } else if (event->kind == BT_EVENT_RESUME && clock.paused) {
      clock.paused = false;
      clock.paused_ms += event->at_ms - clock.pause_began_ms;
    } else if (event->kind == BT_EVENT_FINISH) {
      clock.finished = true;
      clock.end_ms = event->at_ms;
    }
  }
  return clock;
}

bool recorder_started(const Recorder *recorder) {
  return clock_state(recorder).started;
}

bool recorder_finished(const Recorder *recorder) {
  return clock_state(recorder).finished;
}

bool recorder_paused(const Recorder *recorder) {
  return clock_state(recorder).paused;
}

gint64 recorder_active_ms(const Recorder *recorder) {
  ClockState clock = clock_state(recorder);
  if (!clock.started)
    return 0;
  gint64 until = clock.finished ? clock.end_ms : recorder_at_ms(recorder);
  if (clock.paused)
    until = MIN(until, clock.pause_began_ms);
  return MAX(until - clock.start_ms - clock.paused_ms, 0);
}

// Messages and questions ------------------------------------------------------

void recorder_say(Recorder *recorder, bool warns, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_free(recorder->message);
  recorder->message = g_strdup_vprintf(format, arguments);
  recorder->message_warns = warns;
  va_end(arguments);
}

static void clear_choice(gpointer choice) {
  g_free(((Choice *)choice)->label);
}

static Question *ask(Recorder *recorder, void (*answer)(Recorder *, int, const char *),
                     const char *format, va_list arguments) {
  Question *question = g_new0(Question, 1);
  question->title = g_strdup_vprintf(format, arguments);
  question->text = g_string_new(NULL);
  question->answer = answer;
  question_free(recorder->question);
  recorder->question = question;
  return question;
}

Question *recorder_ask_choice(Recorder *recorder, void (*answer)(Recorder *, int, const char *),
                              const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  Question *question = ask(recorder, answer, format, arguments);
  va_end(arguments);
  question->choices = g_array_new(FALSE, FALSE, sizeof(Choice));
  g_array_set_clear_func(question->choices, clear_choice);
  return question;
}

Question *recorder_ask_text(Recorder *recorder, void (*answer)(Recorder *, int, const char *),
                            const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  Question *question = ask(recorder, answer, format, arguments);
  va_end(arguments);
  return question;
}

void recorder_ask_nothing(Recorder *recorder) {
  question_free(recorder->question);
  recorder->question = NULL;
}

static bool key_taken(const Question *question, gunichar key) {
  for (guint i = 0; i < question->choices->len; i++) {
    if (g_array_index(question->choices, Choice, i).key == key)
      return true;
  }
  return false;
}

void recorder_choice(Question *question, gunichar key, const char *label) {
  static const char free_keys[] = "123456789abcdefghijklmnopqrstuvwxyz"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
  for (const char *p = free_keys; key == 0 && *p; p++) {
    if (!key_taken(question, (gunichar)*p))
      key = (gunichar)*p;
  }
  Choice choice = {key, g_strdup(label)};
  g_array_append_val(question->choices, choice);
}

// Events ----------------------------------------------------------------------

const BtEvent *recorder_event(const Recorder *recorder, int seq) {
  for (guint i = 0; i < recorder->observation->events->len; i++) {
    const BtEvent *event = &g_array_index(recorder->observation->events, BtEvent, i);
    if (event->seq == seq)
      return event;
  }
  return NULL;
}

static void append_thing(GString *line, const char *text) {
  if (text && *text)
    g_string_append_printf(line, ", %s", text);
}

static const char *item_title(const BtRubric *rubric, const BtEvent *event) {
  switch (event->kind) {
  case BT_EVENT_INJECT:
    return rubric->injects[event->item].title;
  case BT_EVENT_ERROR:
    return rubric->errors[event->item].title;
  case BT_EVENT_MEASURE:
    return rubric->measures[event->item].title;
  case BT_EVENT_RATE:
    return rubric->ratings[event->item].title;
  case BT_EVENT_UNSEEN:
    return event->item >= 0 ? rubric->checkpoints[event->item].title
                            : bt_component_name((BtComponent)event->component);
  default:
    return NULL;
  }
}

static void append_value(GString *line, const BtRubric *rubric, const BtEvent *event) {
  if (event->kind != BT_EVENT_MEASURE && event->kind != BT_EVENT_RATE)
    return;
  g_autofree char *value = bt_decimal_format(event->value_milli);
  g_string_append_printf(line, ": %s%s%s", value, event->kind == BT_EVENT_MEASURE ? " " : "",
                         event->kind == BT_EVENT_MEASURE ? rubric->measures[event->item].unit : "");
}

static void append_details(GString *line, const BtAction *action, const BtEvent *event) {
  for (int i = 0; i < event->n_details; i++) {
    const BtDetailValue *value = &event->details[i];
    const BtDetail *detail = &action->details[value->detail];
    g_autofree char *number = value->text ? NULL : bt_decimal_format(value->milli);
    g_string_append_printf(line, ", %s %s%s%s", detail->title, value->text ? value->text : number,
                           detail->unit ? " " : "", detail->unit ? detail->unit : "");
  }
}

char *recorder_event_line(const Recorder *recorder, const BtEvent *event) {
  const BtRubric *rubric = recorder->rubric;
  const BtAction *action = event->kind == BT_EVENT_WORK ? &rubric->actions[event->action] : NULL;
  g_autofree char *time = bt_clock_format(event->at_ms);
  GString *line = g_string_new(NULL);
  g_string_append_printf(line, "#%d %s %s", event->seq, time,
                         action ? action->title : bt_event_kind_name(event->kind));
  append_thing(line, item_title(rubric, event));
  append_value(line, rubric, event);
  append_thing(line, event->site >= 0 ? rubric->sites[event->site].title : NULL);
  if (action)
    append_details(line, action, event);
  append_thing(line, event->redo != BT_REDO_NO ? "redo" : NULL);
  append_thing(line, event->note);
  return g_string_free(line, FALSE);
}

// Putting an entry together ---------------------------------------------------

void recorder_drop_pending(Recorder *recorder) {
  raw_event_free(recorder->pending);
  recorder->pending = NULL;
  recorder->amended_seq = 0;
}

void recorder_begin_entry(Recorder *recorder, const char *action) {
  recorder_drop_pending(recorder);
  recorder->pending = raw_event_new(recorder->rubric, NULL);
  g_autofree char *time =
      bt_clock_format_exact(MAX(recorder_at_ms(recorder) - recorder->ago_ms, 0));
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

static int next_seq(const Recorder *recorder) {
  // Only an estimate for messages: struck events may stand behind the last one.
  const GArray *events = recorder->observation->events;
  return events->len ? g_array_index(events, BtEvent, events->len - 1).seq + 1 : 1;
}

static void answer_retry(Recorder *recorder, int choice, const char *text) {
  (void)text;
  recorder_ask_nothing(recorder);
  if (choice == 0) {
    recorder_log_pending(recorder);
  } else {
    recorder_drop_pending(recorder);
    recorder_say(recorder, true, "Dropped; it was not logged.");
  }
}

static void ask_retry(Recorder *recorder, const GError *error) {
  Question *question =
      recorder_ask_choice(recorder, answer_retry, "NOT LOGGED: %s", error->message);
  recorder_choice(question, 't', "try again");
  recorder_choice(question, 'd', "drop it");
}

// What follows an entry that reached the disk.
static void entry_logged(Recorder *recorder, const BtEvent *event) {
  bool had_warning = recorder->message && recorder->message_warns;
  bt_observation_add(recorder->observation, event);
  bt_ledger_free(recorder->ledger);
  recorder->ledger = bt_score(recorder->rubric, recorder->observation);
  if (event->kind == BT_EVENT_WORK && event->action < (int)G_N_ELEMENTS(recorder->last_site))
    recorder->last_site[event->action] = event->site;
  recorder->next_is_redo = false;
  recorder->ago_ms = 0;
  // The log on the screen shows the event; a warning is what deserves the line.
  g_autofree char *line = recorder_event_line(recorder, event);
  g_autofree char *warning = had_warning ? g_strdup(recorder->message) : NULL;
  if (warning)
    recorder_say(recorder, true, "Logged #%d, with a warning: %s", event->seq, warning);
  else
    recorder_say(recorder, false, "Logged %s", line);
  recorder_drop_pending(recorder);
}

void recorder_log_pending(Recorder *recorder) {
  recorder_ask_nothing(recorder);
  g_clear_pointer(&recorder->message, g_free);
  BtEvent event;
  g_autofree BtDetailValue *details = g_new(BtDetailValue, recorder->pending->names->len + 1);
  if (!recorder_resolve_pending(recorder, next_seq(recorder), &event, details)) {
    recorder_drop_pending(recorder);
    return;
  }
  g_autoptr(GError) error = NULL;
  if (bt_book_append(recorder->book, recorder->observation_id, &event, NULL, &event.seq, &error))
    entry_logged(recorder, &event);
  else
    ask_retry(recorder, error);
}

bool recorder_reread(Recorder *recorder) {
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = NULL;
  BtObservation *observation =
      bt_book_load(recorder->book, recorder->observation_id, &rubric, &error);
  if (!observation) {
    recorder_say(recorder, true, "The log could not be read again: %s", error->message);
    return false;
  }
  bt_observation_free(recorder->observation);
  bt_ledger_free(recorder->ledger);
  recorder->observation = observation;
  recorder->ledger = bt_score(recorder->rubric, observation);
  return true;
}
