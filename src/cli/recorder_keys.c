// SPDX-License-Identifier: GPL-3.0-or-later
//
// From keys to entries: work, errors, injects, what was not seen, notes.
#include <string.h>

#include "cli/recorder.h"

#define AGO_STEP_MS 20000
#define AGO_MAX_MS  600000

// Work: the site, then the details --------------------------------------------

static void ask_next_detail(Recorder *recorder);

static void answer_detail(Recorder *recorder, int choice, const char *text) {
  const BtDetail *detail =
      &recorder->rubric->actions[recorder->pending_action].details[recorder->pending_detail];
  const char *value = choice >= 0 ? detail->words[choice] : text;
  raw_event_set_detail(recorder->pending, detail->name, value);
  recorder->pending_detail++;
  ask_next_detail(recorder);
}

static void ask_detail(Recorder *recorder, const BtDetail *detail) {
  g_autofree char *range = detail->kind == BT_DETAIL_WORD ? NULL : bt_range_format(&detail->range);
  if (detail->kind == BT_DETAIL_WORD) {
    Question *question =
        recorder_ask_choice(recorder, answer_detail, "%s (Enter: not noted)", detail->title);
    for (int i = 0; i < detail->n_words; i++)
      recorder_choice(question, 0, detail->words[i]);
    question->may_skip = true;
    return;
  }
  Question *question = recorder_ask_text(recorder, answer_detail,
                                         "%s %s%s%s (Enter alone: not noted)", detail->title, range,
                                         detail->unit ? " " : "", detail->unit ? detail->unit : "");
  question->numeric = true;
  question->may_skip = true;
  if (detail->kind == BT_DETAIL_WHOLE && detail->range.has_hi)
    question->short_answer_max = (int)(detail->range.hi_milli / 1000);
}

static void ask_next_detail(Recorder *recorder) {
  const BtAction *action = &recorder->rubric->actions[recorder->pending_action];
  for (; recorder->pending_detail < action->n_details; recorder->pending_detail++) {
    const BtDetail *detail = &action->details[recorder->pending_detail];
    if (detail->always || recorder->every_detail) {
      ask_detail(recorder, detail);
      return;
    }
  }
  recorder_log_pending(recorder);
}

static void set_site(Recorder *recorder, int site) {
  raw_event_set(recorder->pending, RAW_SITE, recorder->rubric->sites[site].id);
  ask_next_detail(recorder);
}

static void answer_site(Recorder *recorder, int choice, const char *text) {
  (void)text;
  const BtAction *action = &recorder->rubric->actions[recorder->pending_action];
  int last = recorder->last_site[recorder->pending_action];
  set_site(recorder, choice >= 0 ? action->sites[choice] : last);
}

static void ask_site(Recorder *recorder, const BtAction *action) {
  int last = recorder->pending_action < (int)G_N_ELEMENTS(recorder->last_site)
                 ? recorder->last_site[recorder->pending_action]
                 : -1;
  Question *question =
      last >= 0 ? recorder_ask_choice(recorder, answer_site, "%s: where? (Enter: %s)",
                                      action->title, recorder->rubric->sites[last].title)
                : recorder_ask_choice(recorder, answer_site, "%s: where?", action->title);
  for (int i = 0; i < action->n_sites; i++)
    recorder_choice(question, 0, recorder->rubric->sites[action->sites[i]].title);
  question->may_skip = last >= 0;
}

static void begin_work(Recorder *recorder) {
  const BtAction *action = &recorder->rubric->actions[recorder->pending_action];
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

// The moment of the work is that of its key, not of the answer.
static void answer_paused(Recorder *recorder, int choice, const char *text) {
  (void)text;
  if (choice == 0) {
    RawEvent *work = g_steal_pointer(&recorder->pending);
    int action = recorder->pending_action;
    recorder_begin_entry(recorder, "resume");
    raw_event_set(recorder->pending, RAW_TIME, work->field[RAW_TIME]);
    recorder_log_pending(recorder);
    recorder->pending = work;
    recorder->pending_action = action;
  }
  begin_work(recorder);
}

void recorder_work_key(Recorder *recorder, int action) {
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
  recorder_choice(question, 'r', "resume now and log it");
  recorder_choice(question, 'l', "log it while paused (time will not be assessed)");
}

// Errors, injects, not seen, notes --------------------------------------------

static void log_item(Recorder *recorder, const char *action, const char *id) {
  recorder_begin_entry(recorder, action);
  raw_event_set(recorder->pending, RAW_ITEM, id);
  recorder_log_pending(recorder);
}

// The kinds that are logged by hand, in rubric order.
static int nth_manual_error(const BtRubric *rubric, int n) {
  for (int i = 0; i < rubric->n_errors; i++) {
    if (!rubric->errors[i].has_match && n-- == 0)
      return i;
  }
  return -1;
}

static void answer_error(Recorder *recorder, int choice, const char *text) {
  (void)text;
  int kind = nth_manual_error(recorder->rubric, choice);
  log_item(recorder, "error", recorder->rubric->errors[kind].id);
}

void recorder_ask_error(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  if (nth_manual_error(rubric, 0) < 0) {
    recorder_say(recorder, true, "This rubric has no error to log by hand.");
    return;
  }
  Question *question = recorder_ask_choice(recorder, answer_error, "Which error?");
  for (int i = 0; i < rubric->n_errors; i++) {
    const BtErrorKind *kind = &rubric->errors[i];
    if (kind->has_match)
      continue;
    g_autofree char *label =
        g_strdup_printf("%s (%s)", kind->title, bt_severity_name(kind->severity));
    recorder_choice(question, kind->key, label);
  }
}

static void answer_inject(Recorder *recorder, int choice, const char *text) {
  (void)text;
  log_item(recorder, "inject", recorder->rubric->injects[choice].id);
}

void recorder_ask_inject(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  if (rubric->n_injects == 0) {
    recorder_say(recorder, true, "This rubric has no inject.");
    return;
  }
  Question *question =
      recorder_ask_choice(recorder, answer_inject, "Which inject?%s",
                          recorder_started(recorder) ? "" : " (before the start: a variant)");
  for (int i = 0; i < rubric->n_injects; i++)
    recorder_choice(question, 0, rubric->injects[i].title);
}

static void answer_unseen_component(Recorder *recorder, int choice, const char *text) {
  (void)text;
  log_item(recorder, "unseen", bt_component_name((BtComponent)choice));
}

static void answer_unseen(Recorder *recorder, int choice, const char *text) {
  (void)text;
  const BtRubric *rubric = recorder->rubric;
  if (choice < rubric->n_checkpoints) {
    log_item(recorder, "unseen", rubric->checkpoints[choice].id);
    return;
  }
  Question *question = recorder_ask_choice(recorder, answer_unseen_component,
                                           "Which part of the score was not seen?");
  for (int i = 0; i < BT_COMPONENTS; i++)
    recorder_choice(question, 0, bt_component_name((BtComponent)i));
}

void recorder_ask_unseen(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  Question *question = recorder_ask_choice(recorder, answer_unseen,
                                           "What could not be seen? (not the same as not done)");
  for (int i = 0; i < rubric->n_checkpoints; i++)
    recorder_choice(question, 0, rubric->checkpoints[i].title);
  recorder_choice(question, '0', "a whole part of the score");
}

static void answer_note(Recorder *recorder, int choice, const char *text) {
  (void)choice;
  if (*text) {
    raw_event_set(recorder->pending, RAW_NOTE, text);
    recorder_log_pending(recorder);
  } else {
    recorder_ask_nothing(recorder);
    recorder_drop_pending(recorder);
  }
}

void recorder_ask_note(Recorder *recorder) {
  recorder_begin_entry(recorder, "note");
  recorder_ask_text(recorder, answer_note, "Note")->may_skip = true;
}

// Keys ------------------------------------------------------------------------

static void log_plain(Recorder *recorder, const char *action) {
  recorder_begin_entry(recorder, action);
  recorder_log_pending(recorder);
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

static void command_key(Recorder *recorder, gunichar key) {
  switch (key) {
  case ' ':
    clock_key(recorder);
    break;
  case 'B':
    earlier_key(recorder);
    break;
  case 'R':
    recorder->next_is_redo = !recorder->next_is_redo;
    recorder_say(recorder, false,
                 recorder->next_is_redo ? "The next work is a redo (R again: not)." : "No redo.");
    break;
  case 'D':
    recorder->every_detail = !recorder->every_detail;
    recorder_say(recorder, false,
                 recorder->every_detail ? "Every detail is asked for." : "Only the usual details.");
    break;
  case 'E':
    recorder_ask_error(recorder);
    break;
  case 'I':
    recorder_ask_inject(recorder);
    break;
  case 'N':
    recorder_ask_unseen(recorder);
    break;
  case 'T':
    recorder_ask_note(recorder);
    break;
  case 'U':
    recorder_undo(recorder);
    break;
  case 'X':
    recorder_ask_strike(recorder);
    break;
  case 'A':
    recorder_ask_amend(recorder);
    break;
  case 'F':
    recorder_ask_finish(recorder);
    break;
  case 'M':
    recorder_ask_judgements(recorder);
    break;
  case 'C':
    recorder_ask_close(recorder);
    break;
  case 'Q':
    recorder->state = RECORDER_LEFT;
    break;
  case KEY_OF_DOWN:
    recorder->first_expected++;
    break;
  case KEY_OF_UP:
    recorder->first_expected = MAX(recorder->first_expected - 1, 0);
    break;
  case KEY_OF_ESCAPE:
    recorder->ago_ms = 0;
    recorder->next_is_redo = false;
    recorder_say(recorder, false, "The next entry is now, and no redo.");
    break;
  default:
    recorder_say(recorder, true, "That key does nothing here.");
  }
}

static void main_key(Recorder *recorder, gunichar key) {
  for (int i = 0; i < recorder->rubric->n_actions; i++) {
    if (recorder->rubric->actions[i].key == key && key) {
      recorder_work_key(recorder, i);
      return;
    }
  }
  command_key(recorder, key);
}

static void answer_choice_key(Recorder *recorder, const Question *question, gunichar key) {
  for (guint i = 0; i < question->choices->len; i++) {
    if (g_array_index(question->choices, Choice, i).key == key) {
      question->answer(recorder, (int)i, NULL);
      return;
    }
  }
  if (key == KEY_OF_ENTER && question->may_skip)
    question->answer(recorder, -1, "");
  else
    recorder_say(recorder, true, "Not one of the choices (Esc: leave it).");
}

static bool may_type(const Question *question, gunichar key) {
  if (question->numeric)
    return key < 128 && (g_ascii_isdigit((char)key) || key == '.' || key == '-');
  return g_unichar_isprint(key);
}

static void answer_text(Recorder *recorder, Question *question) {
  g_autofree char *text = g_strstrip(g_strdup(question->text->str));
  if (*text || question->may_skip)
    question->answer(recorder, -1, text);
}

// A number that no further digit could lengthen within its range needs no Enter.
static bool number_is_whole(const Question *question) {
  if (question->short_answer_max == 0)
    return false;
  gint64 number = g_ascii_strtoll(question->text->str, NULL, 10);
  return number * 10 > question->short_answer_max;
}

static void text_key(Recorder *recorder, Question *question, gunichar key) {
  if (key == KEY_OF_ENTER) {
    answer_text(recorder, question);
  } else if (key == KEY_OF_BACKSPACE) {
    if (question->text->len > 0) {
      const char *end = question->text->str + question->text->len;
      g_string_truncate(question->text, (gsize)(g_utf8_prev_char(end) - question->text->str));
    }
  } else if (may_type(question, key) && question->text->len < 400) {
    g_string_append_unichar(question->text, key);
    if (question->numeric && number_is_whole(question))
      answer_text(recorder, question);
  }
}

void recorder_key(Recorder *recorder, gunichar key) {
  Question *question = recorder->question;
  if (!question) {
    main_key(recorder, key);
  } else if (key == KEY_OF_ESCAPE) {
    recorder_ask_nothing(recorder);
    recorder_drop_pending(recorder);
    recorder_say(recorder, false, "Left; nothing was logged.");
  } else if (question->choices) {
    answer_choice_key(recorder, question, key);
  } else {
    text_key(recorder, question, key);
  }
}
