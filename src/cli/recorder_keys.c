// SPDX-License-Identifier: GPL-3.0-or-later
//
// What each key does. Small letters and digits are the rubric's, for work; capitals are the
// recorder's own.
#include "cli/recorder.h"

#define AGO_STEP_MS 20000
#define AGO_MAX_MS  600000
#define PAGE        8

static void log_plain(Recorder *recorder, const char *action) {
  recorder_begin_entry(recorder, action);
  (void)recorder_log_pending(recorder);
}

static void clock_key(Recorder *recorder) {
  if (recorder_finished(recorder))
    recorder_say(recorder, true, "The session is finished. M: ratings and measures, C: close.");
  else
    log_plain(recorder, !recorder_started(recorder) ? "start"
                        : recorder_paused(recorder) ? "resume"
                                                    : "pause");
}

static void earlier_key(Recorder *recorder) {
  recorder->ago_ms =
      recorder->ago_ms + AGO_STEP_MS > AGO_MAX_MS ? 0 : recorder->ago_ms + AGO_STEP_MS;
  recorder_say(recorder, false, "The next entry happened %d seconds ago (B: 20 more, Esc: now).",
               (int)(recorder->ago_ms / 1000));
}

static void redo_key(Recorder *recorder) {
  recorder->next_is_redo = !recorder->next_is_redo;
  recorder_say(recorder, false,
               recorder->next_is_redo ? "The next work is a redo (R again: not)." : "No redo.");
}

static void details_key(Recorder *recorder) {
  recorder->every_detail = !recorder->every_detail;
  recorder_say(recorder, false,
               recorder->every_detail ? "Every detail is asked for." : "Only the usual details.");
}

static void leave_key(Recorder *recorder) {
  recorder->state = RECORDER_LEFT;
}

static void ask_help(Recorder *recorder);

static const struct {
  gunichar key;
  const char *what;
  void (*run)(Recorder *);
} commands[] = {
    {' ', "(Space) start, pause, resume", clock_key},
    {'E', "log an error", recorder_ask_error},
    {'R', "next work: a redo (R again: not)", redo_key},
    {'I', "log an inject; before: a variant", recorder_ask_inject},
    {'N', "say what could not be seen", recorder_ask_unseen},
    {'T', "take a note", recorder_ask_note},
    {'B', "next entry: 20 s ago, 40 s ago ...", earlier_key},
    {'W', "all work, as a list", recorder_ask_work},
    {'U', "undo the last entry", recorder_undo},
    {'A', "amend (also: a redo of which entry)", recorder_ask_amend},
    {'X', "strike an entry", recorder_ask_strike},
    {'D', "ask every detail (D again: not)", details_key},
    {'F', "finish: stop the clock", recorder_ask_finish},
    {'M', "measures and ratings", recorder_ask_judgements},
    {'C', "close the record, show its receipt", recorder_ask_close},
    {'Q', "leave; the session stays open", leave_key},
    {'?', "this list", ask_help},
};

static void answer_help(Recorder *recorder, int value, const char *text) {
  (void)text;
  recorder_ask_nothing(recorder);
  commands[value].run(recorder);
}

static void ask_help(Recorder *recorder) {
  Question *question = recorder_ask_choice(recorder, answer_help, "What the keys do");
  for (int i = 0; i < (int)G_N_ELEMENTS(commands); i++)
    recorder_choice(question, commands[i].key, i, commands[i].what);
}

static void command_key(Recorder *recorder, gunichar key) {
  for (gsize i = 0; i < G_N_ELEMENTS(commands); i++) {
    if (commands[i].key == key) {
      commands[i].run(recorder);
      return;
    }
  }
  recorder_say(recorder, true, "That key does nothing here; ? shows what keys do.");
}

static void forget_modes(Recorder *recorder) {
  recorder->ago_ms = 0;
  recorder->next_is_redo = false;
  recorder_say(recorder, false, "The next entry is now, and no redo.");
}

static void scroll_expected(Recorder *recorder, int by) {
  int n = 0, done = 0;
  for (int i = 0; i < recorder->rubric->n_checkpoints; i++)
    n += recorder_still_expected(recorder, i, &done);
  recorder->first_expected = CLAMP(recorder->first_expected + by, 0, MAX(n - 1, 0));
}

static void main_key(Recorder *recorder, gunichar key) {
  if (key != 'U')
    recorder->just_undone = false;
  g_clear_pointer(&recorder->remark, g_free);
  for (int i = 0; i < recorder->rubric->n_actions; i++) {
    if (recorder->action_keys[i] == key) {
      recorder_work_key(recorder, i);
      return;
    }
  }
  if (key == KEY_OF_DOWN || key == KEY_OF_UP)
    scroll_expected(recorder, key == KEY_OF_DOWN ? 1 : -1);
  else if (key == KEY_OF_PAGE_DOWN || key == KEY_OF_PAGE_UP)
    scroll_expected(recorder, key == KEY_OF_PAGE_DOWN ? PAGE : -PAGE);
  else if (key == KEY_OF_ESCAPE)
    forget_modes(recorder);
  else
    command_key(recorder, key);
}

// Pasted text goes where a text is asked, and nowhere else: its letters are no commands.
static void pasted_key(Recorder *recorder, gunichar key) {
  recorder->pasting = key != KEY_OF_PASTE_END && key != KEY_OF_ESCAPE;
  bool taken = recorder->question && !recorder->question->choices;
  if (!taken)
    recorder_say(recorder, true,
                 "Pasted text is taken only where a text is asked: T takes a note.");
  else if (key == KEY_OF_ENTER || key == '\t')
    recorder_question_key(recorder, ' ');
  else if (recorder->pasting && key != KEY_OF_PASTE)
    recorder_question_key(recorder, key);
}

void recorder_key(Recorder *recorder, gunichar key) {
  if (key == KEY_OF_HANGUP)
    leave_key(recorder);
  else if (recorder->pasting || key == KEY_OF_PASTE)
    pasted_key(recorder, key);
  else if (key == KEY_OF_INTERRUPT)
    recorder_ask_leave(recorder);
  else if (recorder->question)
    recorder_question_key(recorder, key);
  else
    main_key(recorder, key);
}
