// SPDX-License-Identifier: GPL-3.0-or-later
//
// Entries of work: the site, then the details.
#include "cli/recorder.h"

static const BtAction *pending_action(const Recorder *recorder) {
  return &recorder->rubric->actions[recorder->pending_action];
}

// Details ---------------------------------------------------------------------

static void ask_next_detail(Recorder *recorder);

static void answer_detail(Recorder *recorder, int value, const char *text) {
  const BtDetail *detail = &pending_action(recorder)->details[recorder->pending_detail];
  raw_event_set_detail(recorder->pending, detail->name, value >= 0 ? detail->words[value] : text);
  recorder->pending_detail++;
  ask_next_detail(recorder);
}

static void ask_word(Recorder *recorder, const BtDetail *detail) {
  Question *question =
      recorder_ask_choice(recorder, answer_detail, "%s (Enter: not noted)", detail->title);
  for (int i = 0; i < detail->n_words; i++)
    recorder_choice(question, 0, i, detail->words[i]);
  question->may_skip = true;
}

static void ask_number(Recorder *recorder, const BtDetail *detail) {
  g_autofree char *range = bt_range_format(&detail->range);
  Question *question = recorder_ask_text(recorder, answer_detail,
                                         "%s %s%s%s (Enter alone: not noted)", detail->title, range,
                                         detail->unit ? " " : "", detail->unit ? detail->unit : "");
  question->numeric = true;
  question->may_skip = true;
  if (detail->kind == BT_DETAIL_WHOLE && detail->range.has_hi)
    question->short_answer_max = (int)(detail->range.hi_milli / 1000);
}

static void ask_next_detail(Recorder *recorder) {
  const BtAction *action = pending_action(recorder);
  for (; recorder->pending_detail < action->n_details; recorder->pending_detail++) {
    const BtDetail *detail = &action->details[recorder->pending_detail];
    if (!detail->always && !recorder->every_detail)
      continue;
    if (detail->kind == BT_DETAIL_WORD)
      ask_word(recorder, detail);
    else
      ask_number(recorder, detail);
    return;
  }
  (void)recorder_log_pending(recorder);
}

// Site ------------------------------------------------------------------------

static void set_site(Recorder *recorder, int site) {
  raw_event_set(recorder->pending, RAW_SITE, recorder->rubric->sites[site].id);
  ask_next_detail(recorder);
}

static void answer_site(Recorder *recorder, int value, const char *text) {
  (void)text;
  set_site(recorder, value >= 0 ? value : recorder->last_site[recorder->pending_action]);
}

static void ask_site(Recorder *recorder, const BtAction *action) {
  const BtSite *sites = recorder->rubric->sites;
  int last = recorder->last_site[recorder->pending_action];
  Question *question =
      last >= 0 ? recorder_ask_choice(recorder, answer_site, "%s: where? (Enter: %s)",
                                      action->title, sites[last].title)
                : recorder_ask_choice(recorder, answer_site, "%s: where?", action->title);
  for (int i = 0; i < action->n_sites; i++)
    recorder_choice(question, 0, action->sites[i], sites[action->sites[i]].title);
  question->may_skip = last >= 0;
}

static void begin_work(Recorder *recorder) {
  const BtAction *action = pending_action(recorder);
  if (recorder->next_is_redo)
    raw_event_set(recorder->pending, RAW_REDO, "yes");
  recorder->pending_detail = 0;
  if (action->n_sites > 1)
    ask_site(recorder, action);
  else if (action->n_sites == 1)
    set_site(recorder, action->sites[0]);
  else
    ask_next_detail(recorder);
}

// The moment of the work is that of its key, not of the answer; so is that of the resume.
static void answer_paused(Recorder *recorder, int value, const char *text) {
  (void)text;
  if (value == 0) {
    begin_work(recorder);
    return;
  }
  RawEvent *work = g_steal_pointer(&recorder->pending);
  recorder_begin_entry(recorder, "resume");
  raw_event_set(recorder->pending, RAW_TIME, work->field[RAW_TIME]);
  recorder->waiting = work;
  recorder->then = begin_work;
  (void)recorder_log_pending(recorder);
}

void recorder_work_key(Recorder *recorder, int action) {
  recorder_ask_nothing(recorder);
  if (!recorder_started(recorder)) {
    recorder_say(recorder, true, "The clock has not started: Space starts it.");
    return;
  }
  if (recorder_finished(recorder)) {
    recorder_say(
        recorder, true,
        "The session is finished: work no longer counts. M: ratings and measures, C: close.");
    return;
  }
  recorder_begin_entry(recorder, recorder->rubric->actions[action].id);
  recorder->pending_action = action;
  if (!recorder_paused(recorder)) {
    begin_work(recorder);
    return;
  }
  Question *question = recorder_ask_choice(recorder, answer_paused, "The clock is paused.");
  recorder_choice(question, 'r', 1, "resume now and log it");
  recorder_choice(question, 'l', 0, "log it while paused (time will not be assessed)");
}

static void answer_work(Recorder *recorder, int value, const char *text) {
  (void)text;
  recorder_work_key(recorder, value);
}

void recorder_ask_work(Recorder *recorder) {
  Question *question = recorder_ask_choice(recorder, answer_work, "Which work?");
  for (int i = 0; i < recorder->rubric->n_actions; i++)
    recorder_choice(question, recorder->action_keys[i], i, recorder->rubric->actions[i].title);
}
