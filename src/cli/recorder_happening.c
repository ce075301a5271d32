// SPDX-License-Identifier: GPL-3.0-or-later
//
// Entries that are no work: errors, injects, what was not seen, notes. Their moment is that of the
// key that began them.
#include "cli/recorder.h"

// Errors ----------------------------------------------------------------------

static void answer_error_site(Recorder *recorder, int value, const char *text) {
  (void)text;
  if (value >= 0)
    raw_event_set(recorder->pending, RAW_SITE, recorder->rubric->sites[value].id);
  (void)recorder_log_pending(recorder);
}

// Asked only when every detail is wanted: an error is logged with two keys otherwise.
static void ask_error_site(Recorder *recorder) {
  Question *question =
      recorder_ask_choice(recorder, answer_error_site, "Where did it happen? (Enter: not noted)");
  for (int i = 0; i < recorder->rubric->n_sites; i++)
    recorder_choice(question, 0, i, recorder->rubric->sites[i].title);
  question->may_skip = true;
}

static void answer_error(Recorder *recorder, int value, const char *text) {
  (void)text;
  raw_event_set(recorder->pending, RAW_ITEM, recorder->rubric->errors[value].id);
  if (recorder->every_detail && recorder->rubric->n_sites > 0)
    ask_error_site(recorder);
  else
    (void)recorder_log_pending(recorder);
}

// The kinds that the engine finds by itself are not offered.
void recorder_ask_error(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  recorder_begin_entry(recorder, "error");
  Question *question = recorder_ask_choice(recorder, answer_error, "Which error?");
  for (int i = 0; i < rubric->n_errors; i++) {
    const BtErrorKind *kind = &rubric->errors[i];
    g_autofree char *label =
        g_strdup_printf("%s (%s)", kind->title, bt_severity_name(kind->severity));
    if (!kind->has_match)
      recorder_choice(question, kind->key, i, label);
  }
  if (question->choices->len > 0)
    return;
  recorder_ask_nothing(recorder);
  recorder_drop_pending(recorder);
  recorder_say(recorder, true, "This rubric has no error to log by hand; T takes a note.");
}

// Injects ---------------------------------------------------------------------

static void answer_inject(Recorder *recorder, int value, const char *text) {
  (void)text;
  raw_event_set(recorder->pending, RAW_ITEM, recorder->rubric->injects[value].id);
  (void)recorder_log_pending(recorder);
}

void recorder_ask_inject(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  if (rubric->n_injects == 0) {
    recorder_say(recorder, true, "This rubric has no inject.");
    return;
  }
  recorder_begin_entry(recorder, "inject");
  Question *question =
      recorder_ask_choice(recorder, answer_inject, "Which inject?%s",
                          recorder_started(recorder) ? "" : " (before the start: a variant)");
  for (int i = 0; i < rubric->n_injects; i++)
    recorder_choice(question, 0, i, rubric->injects[i].title);
}

// Not seen --------------------------------------------------------------------

static void answer_unseen_component(Recorder *recorder, int value, const char *text) {
  (void)text;
  raw_event_set(recorder->pending, RAW_ITEM, bt_component_name((BtComponent)value));
  (void)recorder_log_pending(recorder);
}

static void answer_unseen(Recorder *recorder, int value, const char *text) {
  (void)text;
  if (value < recorder->rubric->n_checkpoints) {
    raw_event_set(recorder->pending, RAW_ITEM, recorder->rubric->checkpoints[value].id);
    (void)recorder_log_pending(recorder);
    return;
  }
  Question *question = recorder_ask_choice(recorder, answer_unseen_component,
                                           "Which part of the score was not seen?");
  for (int i = 0; i < BT_COMPONENTS; i++)
    recorder_choice(question, 0, i, bt_component_name((BtComponent)i));
}

void recorder_ask_unseen(Recorder *recorder) {
  const BtRubric *rubric = recorder->rubric;
  recorder_begin_entry(recorder, "unseen");
  Question *question = recorder_ask_choice(recorder, answer_unseen,
                                           "What could not be seen? (not the same as not done)");
  for (int i = 0; i < rubric->n_checkpoints; i++)
    recorder_choice(question, 0, i, rubric->checkpoints[i].title);
  recorder_choice(question, '0', rubric->n_checkpoints, "a whole part of the score");
}

// Notes -----------------------------------------------------------------------

static void answer_note(Recorder *recorder, int value, const char *text) {
  (void)value;
  raw_event_set(recorder->pending, RAW_NOTE, text);
  (void)recorder_log_pending(recorder);
}

void recorder_ask_note(Recorder *recorder) {
  recorder_begin_entry(recorder, "note");
  recorder_ask_text(recorder, answer_note, "Note");
}
