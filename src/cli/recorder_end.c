// SPDX-License-Identifier: GPL-3.0-or-later
//
// The end of a session: finish, measures and ratings, closing with the receipt.
#include "cli/recorder.h"

// Measures, taken from the model on the table, then ratings -------------------

static void ask_judgement(Recorder *recorder, int item);

static void ask_next_judgement(Recorder *recorder) {
  ask_judgement(recorder, recorder->asked_item + 1);
}

// What is refused is asked again; what the book could not take waits for the answer to that.
static void log_judgement(Recorder *recorder, const char *action, const char *id,
                          const char *value) {
  recorder_begin_entry(recorder, action);
  raw_event_set(recorder->pending, RAW_ITEM, id);
  raw_event_set(recorder->pending, RAW_VALUE, value);
  recorder->then = ask_next_judgement;
  if (!recorder_log_pending(recorder) && !recorder->question)
    ask_judgement(recorder, recorder->asked_item);
}

static void answer_measure(Recorder *recorder, int value, const char *text) {
  (void)value;
  if (*text)
    log_judgement(recorder, "measure", recorder->rubric->measures[recorder->asked_item].id, text);
  else
    ask_next_judgement(recorder);
}

static void answer_rating(Recorder *recorder, int value, const char *text) {
  (void)text;
  const BtRubric *rubric = recorder->rubric;
  g_autofree char *number = g_strdup_printf("%d", value);
  if (value > 0)
    log_judgement(recorder, "rate", rubric->ratings[recorder->asked_item - rubric->n_measures].id,
                  number);
  else
    ask_next_judgement(recorder);
}

// What Enter alone means: the value that stands, or none.
static char *skip_words(const GArray *rows, int item, const char *none) {
  const BtValueRow *row = &g_array_index(rows, BtValueRow, (guint)item);
  g_autofree char *value = bt_decimal_format(row->value_milli);
  return row->has_value ? g_strdup_printf("it stays %s", value) : g_strdup(none);
}

static void ask_measure(Recorder *recorder, int item) {
  const BtMeasure *measure = &recorder->rubric->measures[item];
  g_autofree char *good = bt_decimal_format(measure->good_milli);
  g_autofree char *skip = skip_words(recorder->ledger->product, item, "not taken");
  Question *question =
      recorder_ask_text(recorder, answer_measure, "%s in %s (good: %s; Enter alone: %s)",
                        measure->title, measure->unit, good, skip);
  question->numeric = true;
  question->may_skip = true;
}

static void ask_rating(Recorder *recorder, int item) {
  const BtRating *rating = &recorder->rubric->ratings[item];
  g_autofree char *skip = skip_words(recorder->ledger->rating, item, "not rated");
  Question *question = recorder_ask_choice(recorder, answer_rating, "%s, 1 to %d (Enter: %s)",
                                           rating->title, rating->n, skip);
  for (int i = 0; i < rating->n; i++)
    recorder_choice(question, 0, i + 1,
                    rating->anchors[i] ? rating->anchors[i] : "between the two beside it");
  question->may_skip = true;
}

static void ask_judgement(Recorder *recorder, int item) {
  const BtRubric *rubric = recorder->rubric;
  recorder->asked_item = item;
  if (item < rubric->n_measures)
    ask_measure(recorder, item);
  else if (item < rubric->n_measures + rubric->n_ratings)
    ask_rating(recorder, item - rubric->n_measures);
  else
    recorder_ask_close(recorder);
}

static void ask_judgements(Recorder *recorder) {
  ask_judgement(recorder, 0);
}

void recorder_ask_judgements(Recorder *recorder) {
  if (recorder_started(recorder))
    ask_judgements(recorder);
  else
    recorder_say(recorder, true, "The clock has not started: Space starts it.");
}

// Finish ----------------------------------------------------------------------

static void answer_finish(Recorder *recorder, int value, const char *text) {
  (void)text;
  if (value == 1) {
    recorder->then = ask_judgements;
    (void)recorder_log_pending(recorder);
    return;
  }
  recorder_ask_nothing(recorder);
  recorder_drop_pending(recorder);
}

// The clock stops at the key, not at the answer.
void recorder_ask_finish(Recorder *recorder) {
  if (!recorder_started(recorder) || recorder_finished(recorder)) {
    recorder_say(recorder, true,
                 recorder_finished(recorder) ? "The session is finished already."
                                             : "The clock has not started: Space starts it.");
    return;
  }
  recorder_begin_entry(recorder, "finish");
  Question *question =
      recorder_ask_choice(recorder, answer_finish, "Finish: the trainee has ended the exercise?");
  recorder_choice(question, 'y', 1, "yes, stop the clock");
  recorder_choice(question, 'n', 0, "no, go on");
}

// Close -----------------------------------------------------------------------

static void answer_close(Recorder *recorder, int value, const char *text) {
  (void)text;
  recorder_ask_nothing(recorder);
  if (value != 1)
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
  recorder_choice(question, 'y', 1, "close it and show the receipt");
  recorder_choice(question, 'n', 0, "leave it open (U undo, A amend, M measures, C close)");
}
