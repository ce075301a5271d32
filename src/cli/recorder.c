// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/recorder.h"

#include <stdarg.h>

#include <benchtally/workbook.h>

// Making and ending -----------------------------------------------------------

static bool key_taken(const Recorder *recorder, gunichar key) {
  for (int i = 0; i < recorder->rubric->n_actions; i++) {
    if (recorder->action_keys[i] == key)
      return true;
  }
  return false;
}

// The rubric's keys, and one for each action that it gives none while any are left.
static void give_action_keys(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  for (int i = 0; i < rubric->n_actions; i++)
    recorder->action_keys[i] = rubric->actions[i].key;
  const char *next = "123456789abcdefghijklmnopqrstuvwxyz0";
  for (int i = 0; i < rubric->n_actions; i++) {
    while (*next && key_taken(recorder, (gunichar)*next))
      next++;
    if (!recorder->action_keys[i])
      recorder->action_keys[i] = (gunichar)*next;
  }
}

static void prepare(Recorder *recorder) {
  int n = recorder->rubric->n_actions;
  recorder->ledger = bt_score(recorder->rubric, recorder->observation);
  recorder->last_site = g_new(int, (gsize)n);
  for (int i = 0; i < n; i++)
    recorder->last_site[i] = -1;
  recorder->action_keys = g_new0(gunichar, (gsize)n);
  give_action_keys(recorder);
}

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
  prepare(recorder);
  return recorder;
}

void recorder_free(Recorder *recorder) {
  if (!recorder)
    return;
  recorder_drop_pending(recorder);
  bt_observation_free(recorder->observation);
  bt_ledger_free(recorder->ledger);
  recorder_question_free(recorder->question);
  g_free(recorder->action_keys);
  g_free(recorder->last_site);
  g_free(recorder->message);
  g_free(recorder->remark);
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

gint64 recorder_entry_ms(const Recorder *recorder) {
  ClockState clock = clock_state(recorder);
  gint64 least_ms = clock.started ? clock.start_ms : 0;
  return CLAMP(recorder_at_ms(recorder) - recorder->ago_ms, least_ms, (gint64)BT_DURATION_MS_MAX);
}

// The log ---------------------------------------------------------------------

void recorder_say(Recorder *recorder, bool warns, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  char *message = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  g_free(recorder->message);
  recorder->message = message;
  recorder->message_warns = warns;
}

const BtEvent *recorder_event(const Recorder *recorder, int seq) {
  for (guint i = 0; i < recorder->observation->events->len; i++) {
    const BtEvent *event = &g_array_index(recorder->observation->events, BtEvent, i);
    if (event->seq == seq)
      return event;
  }
  return NULL;
}

char *recorder_event_line(const Recorder *recorder, const BtEvent *event) {
  g_autofree char *time = bt_clock_format(event->at_ms);
  g_autofree char *words = bt_event_words(recorder->rubric, event);
  return g_strdup_printf("#%d %s %s", event->seq, time, words);
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
  g_clear_pointer(&recorder->remark, g_free);
  return true;
}
