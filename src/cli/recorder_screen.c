// SPDX-License-Identifier: GPL-3.0-or-later
//
// The screen of the recorder: 80 x 24 is enough, more is used. From the top: the clock, the keys
// and what is expected (or the choices of a question), the log's end, the message, the question.
#include <ncurses.h>
#include <string.h>

#include "cli/recorder_terminal.h"

#define ROWS_LEAST    24
#define COLUMNS_LEAST 80
#define HEAD_ROWS     4
#define LOG_ROWS      5
#define FOOT_ROWS     4
#define KEYS_WIDTH    30
#define TITLE_ROWS    3 // a question takes no more
#define TYPED_WIDTH   40

static const attr_t accent = A_BOLD | COLOR_PAIR(COLOUR_ACCENT);
static const attr_t attention = A_BOLD | COLOR_PAIR(COLOUR_ATTENTION);

static void put_bold(int row, int column, int width, const char *text) {
  attron(A_BOLD);
  recorder_put(row, column, width, text);
  attroff(A_BOLD);
}

// Head ------------------------------------------------------------------------

static const char *clock_word(const Recorder *recorder) {
  return !recorder_started(recorder)   ? "not started"
         : recorder_finished(recorder) ? "finished"
         : recorder_paused(recorder)   ? "PAUSED"
                                       : "running";
}

static void append_target(GString *text, gint64 target_ms) {
  g_autofree char *target = bt_clock_format(target_ms);
  if (target_ms > 0)
    g_string_append_printf(text, " of %s", target);
}

// "running 12:41 of 40:00   Fix the radius 3:10 of 12:00": spent, of the target.
static char *status_text(const Recorder *recorder, const char *clock) {
  const BtRubric *rubric = recorder->rubric;
  GString *text = g_string_new(clock_word(recorder));
  g_string_append_printf(text, " %s", clock);
  append_target(text, rubric->clock.target_ms);
  int phase = recorder_phase(recorder);
  if (phase >= 0) {
    g_autofree char *spent = bt_clock_format(recorder->ledger->charged_ms[phase]);
    g_string_append_printf(text, "   %s %s", rubric->phases[phase].title, spent);
    append_target(text, rubric->phases[phase].target_ms);
  }
  return g_string_free(text, FALSE);
}

static void draw_head(const Recorder *recorder) {
  const BtHeader *header = &recorder->observation->header;
  g_autofree char *clock = bt_clock_format(recorder_active_ms(recorder));
  g_autofree char *status = status_text(recorder, clock);
  attr_t look = recorder_paused(recorder) ? attention : A_BOLD;
  attron(look);
  int width = COLS - recorder_put_clock(0, COLS, clock);
  recorder_put(2, 0, width, status);
  attroff(look);
  put_bold(0, 0, width, recorder->rubric->title);
  recorder_put_printf(1, 0, width, "%s   trainee %s, assessor %s, edition %d", header->session,
                      header->trainee, header->assessor, recorder->rubric->edition);
}

// Keys, what is expected ------------------------------------------------------

static void draw_key(int row, int column, int width, gunichar key, const char *label, bool marked) {
  char name[8] = {0};
  g_unichar_to_utf8(key ? key : ' ', name);
  attron(accent);
  recorder_put(row, column, 2, name);
  attroff(accent);
  if (marked)
    attron(A_REVERSE);
  recorder_put(row, column + 3, width - 3, label);
  attroff(A_REVERSE);
}

static void draw_keys(const Recorder *recorder, int first_row, int rows, int width) {
  int n = recorder->rubric->n_actions;
  int listed = n < rows ? n : rows - 2;
  put_bold(first_row, 0, width, "Keys");
  for (int i = 0; i < listed; i++)
    draw_key(first_row + 1 + i, 1, width - 2, recorder->action_keys[i],
             recorder->rubric->actions[i].title, false);
  if (listed < n)
    recorder_put_printf(first_row + rows - 1, 1, width - 2, "and %d more (W: all work)",
                        n - listed);
}

// In rubric order; how many do not fit is said.
static void draw_expected(const Recorder *recorder, int first_row, int rows, int column,
                          int width) {
  const BtRubric *rubric = recorder->rubric;
  int listed = 0, shown = 0, done = 0;
  for (int i = 0; i < rubric->n_checkpoints; i++) {
    if (!recorder_still_expected(recorder, i, &done) || listed++ < recorder->first_expected)
      continue;
    if (shown++ >= rows - 2)
      continue;
    const BtCheckpoint *checkpoint = &rubric->checkpoints[i];
    const char *mark = checkpoint->critical != BT_CRITICAL_NO ? "!" : " ";
    recorder_put_printf(first_row + shown, column, width, "%s %d of %d  %s", mark, done,
                        checkpoint->least, checkpoint->title);
  }
  attron(A_BOLD);
  recorder_put_printf(
      first_row, column, width,
      listed ? "Still expected: %d   (! critical)" : "Everything expected is logged", listed);
  attroff(A_BOLD);
  if (shown > rows - 2)
    recorder_put_printf(first_row + rows - 1, column, width, "  and %d more (Down, Up)",
                        shown - (rows - 2));
}

// Questions -------------------------------------------------------------------

// In two columns when one is too short; in pages when two are.
static void draw_choices(const Question *question, int first_row, int rows) {
  int n = (int)question->choices->len;
  int columns = n > rows ? 2 : 1;
  int width = COLS / columns;
  int lines = n > rows * columns ? rows - 1 : rows;
  int page = MAX(question->marked, 0) / (lines * columns);
  int first = page * lines * columns;
  for (int i = first; i < n && i < first + lines * columns; i++) {
    const Choice *choice = &g_array_index(question->choices, Choice, (guint)i);
    int place = i - first;
    draw_key(first_row + place % lines, place / lines * width + 1, width - 2, choice->key,
             choice->label, i == question->marked);
  }
  if (lines < rows)
    recorder_put_printf(first_row + lines, 1, COLS - 1, "%d to %d of %d: Page Down, Page Up",
                        first + 1, MIN(first + lines * columns, n), n);
}

static void draw_choice_question(const Question *question, int first_row, int rows) {
  attron(accent);
  int title_rows = recorder_put_wrapped(first_row, TITLE_ROWS, 0, COLS, question->title);
  attroff(accent);
  draw_choices(question, first_row + title_rows, rows - title_rows);
}

// The end of what was typed stays in sight.
static void draw_text_question(const Question *question, int row) {
  const char *tail = question->text->str;
  while (recorder_text_width(tail) > TYPED_WIDTH - 2)
    tail = g_utf8_next_char(tail);
  int typed = recorder_text_width(tail) + 1;
  int title = MIN(recorder_text_width(question->title), COLS - 2 - typed);
  attron(accent);
  recorder_put(row, 0, title, question->title);
  recorder_put_printf(row, title, COLS - title, ": %s_", tail);
  attroff(accent);
}

// Log and foot ----------------------------------------------------------------

static void draw_modes(const Recorder *recorder, int row) {
  g_autoptr(GString) modes = g_string_new(NULL);
  if (recorder->next_is_redo)
    g_string_append(modes, "  REDO");
  if (recorder->ago_ms)
    g_string_append_printf(modes, "  %d s EARLIER", (int)(recorder->ago_ms / 1000));
  if (recorder->every_detail)
    g_string_append(modes, "  EVERY DETAIL");
  attron(attention);
  recorder_put(row, COLS - (int)modes->len, (int)modes->len, modes->str);
  attroff(attention);
}

static void draw_log(const Recorder *recorder, int first_row) {
  const GArray *events = recorder->observation->events;
  attron(A_BOLD);
  recorder_put_printf(first_row, 0, COLS, "Logged: %u", events->len);
  attroff(A_BOLD);
  draw_modes(recorder, first_row);
  for (guint i = 0; i < LOG_ROWS - 1 && i < events->len; i++) {
    const BtEvent *event = &g_array_index(events, BtEvent, events->len - 1 - i);
    g_autofree char *line = recorder_event_line(recorder, event);
    recorder_put(first_row + 1 + (int)i, 1, COLS - 1, line);
  }
}

static void draw_message(const Recorder *recorder, int row, int rows) {
  if (!recorder->message)
    return;
  attr_t look = recorder->message_warns ? attention : A_NORMAL;
  attron(look);
  recorder_put_wrapped(row, rows, 0, COLS, recorder->message);
  attroff(look);
}

static void draw_foot(const Recorder *recorder, int row) {
  const Question *question = recorder->question;
  draw_message(recorder, row, question || recorder->remark ? 1 : 2);
  if (question && question->choices)
    recorder_put(row + 1, 0, COLS,
                 question->must_answer ? "Also: Down, Up and Enter"
                                       : "Esc: leave it.  Also: Down, Up and Enter");
  else if (question)
    draw_text_question(question, row + 1);
  else if (recorder->remark)
    recorder_put(row + 1, 0, COLS, recorder->remark);
  recorder_put(row + 2, 0, COLS,
               "Space start/pause  E error  R redo  I inject  N not seen  T note  B 20 s ago");
  recorder_put(row + 3, 0, COLS,
               "U undo A amend X strike D details F finish M measures C close Q leave ? keys");
}

// In a window that is too small, what matters most: that keys still count, and what they led to.
static void draw_small(const Recorder *recorder) {
  g_autofree char *clock = bt_clock_format(recorder_active_ms(recorder));
  int row = recorder_put_wrapped(0, 3, 0, COLS,
                                 "This window is too small: recording needs 80 x 24. "
                                 "Nothing is lost; keys still count.");
  recorder_put_printf(row, 0, COLS, "%s %s   Logged: %u", clock_word(recorder), clock,
                      recorder->observation->events->len);
  draw_message(recorder, row + 1, 2);
  if (recorder->question && recorder->question->choices)
    draw_choice_question(recorder->question, row + 3, MAX(LINES - row - 3, TITLE_ROWS + 2));
  else if (recorder->question)
    draw_text_question(recorder->question, row + 3);
}

void recorder_screen_draw(const Recorder *recorder) {
  erase();
  int foot_row = LINES - FOOT_ROWS, log_row = foot_row - LOG_ROWS;
  int rows = log_row - HEAD_ROWS;
  if (LINES < ROWS_LEAST || COLS < COLUMNS_LEAST) {
    draw_small(recorder);
    refresh();
    return;
  }
  draw_head(recorder);
  if (recorder->question && recorder->question->choices) {
    draw_choice_question(recorder->question, HEAD_ROWS, rows);
  } else {
    draw_keys(recorder, HEAD_ROWS, rows, KEYS_WIDTH);
    draw_expected(recorder, HEAD_ROWS, rows, KEYS_WIDTH + 1, COLS - KEYS_WIDTH - 1);
  }
  draw_log(recorder, log_row);
  draw_foot(recorder, foot_row);
  refresh();
}

// Cautions --------------------------------------------------------------------

static void draw_cautions(const BtRubric *rubric, const BtHeader *header) {
  erase();
  put_bold(0, 0, COLS, rubric->title);
  recorder_put_printf(1, 0, COLS, "Session %s, trainee %s, assessor %s", header->session,
                      header->trainee, header->assessor);
  attron(attention);
  recorder_put(3, 0, COLS, "Before the start");
  attroff(attention);
  int row = 5;
  for (char **caution = rubric->cautions; *caution && row < LINES - 2; caution++) {
    recorder_put(row, 1, 1, "-");
    row += recorder_put_wrapped(row, LINES - 2 - row, 3, COLS - 4, *caution);
  }
  put_bold(LINES - 1, 0, COLS, "Enter: read and heeded    Q: leave");
  refresh();
}

bool recorder_screen_cautions(const BtRubric *rubric, const BtHeader *header) {
  for (;;) {
    draw_cautions(rubric, header);
    switch (recorder_screen_key()) {
    case KEY_OF_ENTER:
      return true;
    case 'Q':
    case 'q':
    case KEY_OF_ESCAPE:
    case KEY_OF_INTERRUPT:
    case KEY_OF_HANGUP:
      return false;
    default:
      break;
    }
  }
}
