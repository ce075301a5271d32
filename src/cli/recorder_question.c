// SPDX-License-Identifier: GPL-3.0-or-later
//
// Questions: one of several choices, or a text; and the keys that answer them.
#include <stdarg.h>
#include <string.h>

#include "cli/recorder.h"

#define TEXT_CHARACTERS_MAX   500
#define NUMBER_CHARACTERS_MAX 12
#define PAGE                  10

// Asking ----------------------------------------------------------------------

void recorder_question_free(Question *question) {
  if (!question)
    return;
  recorder_question_free(question->behind);
  g_free(question->title);
  if (question->choices)
    g_array_unref(question->choices);
  g_string_free(question->text, TRUE);
  g_free(question);
}

static Question *ask(Recorder *recorder, Answer answer, const char *format, va_list arguments) {
  Question *question = g_new0(Question, 1);
  question->title = g_strdup_vprintf(format, arguments);
  question->text = g_string_new(NULL);
  question->answer = answer;
  question->marked = -1;
  recorder_question_free(recorder->question);
  recorder->question = question;
  return question;
}

static void clear_choice(gpointer choice) {
  g_free(((Choice *)choice)->label);
}

Question *recorder_ask_choice(Recorder *recorder, Answer answer, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  Question *question = ask(recorder, answer, format, arguments);
  va_end(arguments);
  question->choices = g_array_new(FALSE, FALSE, sizeof(Choice));
  g_array_set_clear_func(question->choices, clear_choice);
  return question;
}

Question *recorder_ask_text(Recorder *recorder, Answer answer, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  Question *question = ask(recorder, answer, format, arguments);
  va_end(arguments);
  return question;
}

void recorder_ask_nothing(Recorder *recorder) {
  recorder_question_free(recorder->question);
  recorder->question = NULL;
}

static Choice *choice_at(const Question *question, int index) {
  return &g_array_index(question->choices, Choice, (guint)index);
}

// The index of the choice with this key; -1: none.
static int find_key(const Question *question, gunichar key) {
  for (guint i = 0; key && i < question->choices->len; i++) {
    if (choice_at(question, (int)i)->key == key)
      return (int)i;
  }
  return -1;
}

static gunichar free_key(const Question *question) {
  static const char keys[] = "123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
  for (const char *p = keys; *p; p++) {
    if (find_key(question, (gunichar)*p) < 0)
      return (gunichar)*p;
  }
  return 0;
}

void recorder_choice(Question *question, gunichar key, int value, const char *label) {
  int holder = find_key(question, key); // a key by turn gives way to a key by name
  Choice choice = {key ? key : free_key(question), value, g_strdup(label)};
  g_array_append_val(question->choices, choice);
  if (holder >= 0) {
    gunichar other = free_key(question);
    choice_at(question, holder)->key = other;
  }
}

// Leaving ---------------------------------------------------------------------

static void come_back(Recorder *recorder) {
  Question *behind = g_steal_pointer(&recorder->question->behind);
  recorder_question_free(recorder->question);
  recorder->question = behind;
  recorder_say(recorder, false, "Recording goes on.");
}

static void answer_leave(Recorder *recorder, int value, const char *text) {
  (void)text;
  if (value == 1)
    recorder->state = RECORDER_LEFT;
  else
    come_back(recorder);
}

static void leave_question(Recorder *recorder) {
  if (recorder->question->must_answer) {
    recorder_say(recorder, true, "The entry is still to be logged: T tries again, X drops it.");
  } else if (recorder->question->answer == answer_leave) {
    come_back(recorder);
  } else {
    recorder_ask_nothing(recorder);
    recorder_drop_pending(recorder);
    recorder_say(recorder, false, "Left; nothing was logged.");
  }
}

void recorder_ask_leave(Recorder *recorder) {
  Question *behind = recorder->question;
  if (behind && (behind->must_answer || behind->answer == answer_leave)) {
    leave_question(recorder);
    return;
  }
  recorder->question = NULL;
  Question *question = recorder_ask_choice(
      recorder, answer_leave, "Leave? The session stays open, and what is logged is kept.%s",
      behind ? " The entry begun here is not logged." : "");
  question->behind = behind;
  recorder_choice(question, 'y', 1, "yes, leave");
  recorder_choice(question, 'n', 0, "no, go on recording");
}

// Choices ---------------------------------------------------------------------

static void mark(Question *question, int by) {
  int last = (int)question->choices->len - 1;
  int from = question->marked < 0 && by < 0 ? last + 1 : question->marked;
  question->marked = CLAMP(from + by, 0, last);
}

static void take_choice(Recorder *recorder, const Question *question, gunichar key) {
  int index = key == KEY_OF_ENTER ? question->marked : find_key(question, key);
  if (index >= 0)
    question->answer(recorder, choice_at(question, index)->value, NULL);
  else if (key == KEY_OF_ENTER && question->may_skip)
    question->answer(recorder, -1, "");
  else
    recorder_say(recorder, true, "Not one of the choices.");
}

static void choice_key(Recorder *recorder, Question *question, gunichar key) {
  switch (key) {
  case KEY_OF_DOWN:
    mark(question, 1);
    break;
  case KEY_OF_UP:
    mark(question, -1);
    break;
  case KEY_OF_PAGE_DOWN:
    mark(question, PAGE);
    break;
  case KEY_OF_PAGE_UP:
    mark(question, -PAGE);
    break;
  default:
    take_choice(recorder, question, key);
  }
}

// Text ------------------------------------------------------------------------

static bool may_type(const Question *question, gunichar key) {
  if (question->numeric)
    return key < 128 && (g_ascii_isdigit((char)key) || key == '.' || key == '-');
  return g_unichar_isprint(key) && g_unichar_type(key) != G_UNICODE_PRIVATE_USE;
}

static void answer_text(Recorder *recorder, Question *question) {
  g_autofree char *text = g_strstrip(g_strdup(question->text->str));
  gint64 milli = 0;
  if (!*text && !question->may_skip)
    recorder_say(recorder, true, "Type an answer (Esc leaves).");
  else if (*text && question->numeric && !bt_decimal_parse(text, &milli))
    recorder_say(recorder, true,
                 "\"%s\" is no number of at most three decimals; Backspace mends it.", text);
  else
    question->answer(recorder, -1, text);
}

// A number that no further digit could lengthen within its range needs no Enter.
static bool number_is_whole(const Question *question) {
  return question->short_answer_max > 0 &&
         g_ascii_strtoll(question->text->str, NULL, 10) * 10 > question->short_answer_max;
}

static void type_character(Recorder *recorder, Question *question, gunichar key) {
  int most = question->numeric ? NUMBER_CHARACTERS_MAX : TEXT_CHARACTERS_MAX;
  if (!may_type(question, key)) {
    if (question->numeric)
      recorder_say(recorder, true, "A number is asked (Esc leaves).");
    return;
  }
  if (g_utf8_strlen(question->text->str, -1) >= most) {
    recorder_say(recorder, true, "There is room for %d characters; the rest is not taken.", most);
    return;
  }
  g_string_append_unichar(question->text, key);
  if (question->numeric && number_is_whole(question))
    answer_text(recorder, question);
}

static void erase_character(GString *text) {
  if (text->len > 0)
    g_string_truncate(text, (gsize)(g_utf8_prev_char(text->str + text->len) - text->str));
}

static void text_key(Recorder *recorder, Question *question, gunichar key) {
  if (key == KEY_OF_ENTER)
    answer_text(recorder, question);
  else if (key == KEY_OF_BACKSPACE)
    erase_character(question->text);
  else
    type_character(recorder, question, key);
}

void recorder_question_key(Recorder *recorder, gunichar key) {
  Question *question = recorder->question;
  if (key == KEY_OF_ESCAPE)
    leave_question(recorder);
  else if (question->choices)
    choice_key(recorder, question, key);
  else
    text_key(recorder, question, key);
}
