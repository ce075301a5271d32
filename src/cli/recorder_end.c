// SPDX-License-Identifier: GPL-3.0-or-later
//
// The end of a session: finish, ratings and measures, closing with the receipt.
#include "cli/recorder.h"

// Asked in this order: the measures, taken from the model on the table, then the ratings.
static void ask_judgement(Recorder *recorder, int item);

static void answer_measure(Recorder *recorder, int choice, const char *text) {
  (void)choice;
  int item = recorder->asked_item;
  if (*text) {
    recorder_begin_entry(recorder, "measure");
    raw_event_set(recorder->pending, RAW_ITEM, recorder->rubric->measures[item].id);
    raw_event_set(recorder->pending, RAW_VALUE, text);
    recorder_log_pending(recorder);
  }
  if (!recorder->question || recorder->question->answer == answer_measure)
    ask_judgement(recorder, item + 1);
}

static void answer_rating(Recorder *recorder, int choice, const char *text) {
  (void)text;
  int item = recorder->asked_item;
  if (choice >= 0) {
    g_autofree char *value = g_strdup_printf("%d", choice + 1);
    recorder_begin_entry(recorder, "rate");
    raw_event_set(recorder->pending, RAW_ITEM,
                  recorder->rubric->ratings[item - recorder->rubric->n_measures].id);
    raw_event_set(recorder->pending, RAW_VALUE, value);
    recorder_log_pending(recorder);
  }
  if (!recorder->question || recorder->question->answer == answer_rating)
    ask_judgement(recorder, item + 1);
}

static void ask_measure(Recorder *recorder, const BtMeasure *measure) {
  g_autofree char *good = bt_decimal_format(measure->good_milli);
  Question *question =
      recorder_ask_text(recorder, answer_measure, "%s in %s (good: %s; Enter alone: not taken)",
                        measure->title, measure->unit, good);
  question->numeric = true;
  question->may_skip = true;
}

static void ask_rating(Recorder *recorder, const BtRating *rating) {
  Question *question = recorder_ask_choice(
      recorder, answer_rating, "%s, 1 to %d (Enter: not rated)", rating->title, rating->n);
  for (int i = 0; i < rating->n; i++)
    recorder_choice(question, 0,
                    rating->anchors[i] ? rating->anchors[i] : "between the two beside it");
  question->may_skip = true;
}

static void ask_judgement(Recorder *recorder, int item) {
  const BtRubric *rubric = recorder->rubric;
  recorder->asked_item = item;
  if (item < rubric->n_measures)
    ask_measure(recorder, &rubric->measures[item]);
  else if (item < rubric->n_measures + rubric->n_ratings)
    ask_rating(recorder, &rubric->ratings[item - rubric->n_measures]);
  else
    recorder_ask_close(recorder);
}

void recorder_ask_judgements(Recorder *recorder) {
  if (recorder_started(recorder))
    ask_judgement(recorder, 0);
  else
    recorder_say(recorder, true, "The clock has not started: Space starts it.");
}

static void answer_finish(Recorder *recorder, int choice, const char *text) {
  (void)text;
  recorder_ask_nothing(recorder);
  if (choice != 0)
    return;
  recorder_begin_entry(recorder, "finish");
  recorder_log_pending(recorder);
  if (!recorder->question)
    ask_judgement(recorder, 0);
}

void recorder_ask_finish(Recorder *recorder) {
  if (!recorder_started(recorder) || recorder_finished(recorder)) {
    recorder_say(recorder, true,
                 recorder_finished(recorder) ? "The session is finished already."
                                             : "The clock has not started: Space starts it.");
    return;
  }
  Question *question =
      recorder_ask_choice(recorder, answer_finish, "Finish: the trainee has ended the exercise?");
  recorder_choice(question, 'y', "yes, stop the clock");
  recorder_choice(question, 'n', "no, go on");
}

static void answer_close(Recorder *recorder, int choice, const char *text) {
  (void)text;
  recorder_ask_nothing(recorder);
  if (choice != 0)
    return;
  g_autoptr(GError) error = NULL;
  if (bt_book_finish(recorder->book, recorder->observation_id, &recorder->receipt, &error))
    recorder->state = RECORDER_CLOSED;
  else
    recorder_say(recorder, true, "NOT CLOSED: %s", error->message);
}

void recorder_ask_close(Recorder *recorder) {
  Question *question = recorder_ask_choice(
      recorder, answer_close, "Close the record? %s",
      recorder_finished(recorder) ? "Afterwards only corrections with a reason."
                                  : "The session is NOT finished; its outcome would be undecided.");
  recorder_choice(question, 'y', "close it and show the receipt");
  recorder_choice(question, 'n', "leave it open (U undo, A amend, M measures, C close)");
}
