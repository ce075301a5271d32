// SPDX-License-Identifier: GPL-3.0-or-later
//
// The screen of the recorder: 80 x 24 is enough, more is used.

#include <ncurses.h>

#include <stdlib.h>
#include <string.h>

#include "cli/recorder.h"

enum { COLOUR_ACCENT = 1, COLOUR_ATTENTION, COLOUR_CRITICAL };

#define ROWS_LEAST    24
#define COLUMNS_LEAST 80
#define LOG_ROWS      5
#define KEYS_WIDTH    30

void recorder_screen_open(void) {
  initscr();
  cbreak();
  noecho();
  nonl();
  keypad(stdscr, TRUE);
  set_escdelay(25);
  curs_set(0);
  timeout(200);
  if (has_colors() && !g_getenv("NO_COLOR")) {
    start_color();
    use_default_colors();
    init_pair(COLOUR_ACCENT, COLOR_CYAN, -1);
    init_pair(COLOUR_ATTENTION, COLOR_YELLOW, -1);
    init_pair(COLOUR_CRITICAL, COLOR_MAGENTA, -1);
  }
}

void recorder_screen_close(void) {
  endwin();
}

gunichar recorder_screen_key(void) {
  wint_t key = 0;
  int kind = get_wch(&key);
  if (kind == ERR)
    return 0;
  if (kind == KEY_CODE_YES)
    return key == KEY_BACKSPACE || key == KEY_DC ? KEY_OF_BACKSPACE
           : key == KEY_ENTER                    ? KEY_OF_ENTER
           : key == KEY_DOWN || key == KEY_NPAGE ? KEY_OF_DOWN
           : key == KEY_UP || key == KEY_PPAGE   ? KEY_OF_UP
                                                 : 0;
  return key == '\r' ? KEY_OF_ENTER : key == 8 ? KEY_OF_BACKSPACE : (gunichar)key;
}

// Text at a place, cut to `width` columns with an ellipsis.
static void put(int row, int column, int width, const char *text) {
  int used = 0;
  const char *p = text;
  const char *cut = text; // where it is cut if it does not fit
  for (; *p; p = g_utf8_next_char(p)) {
    gunichar c = g_utf8_get_char(p);
    int w = g_unichar_iszerowidth(c) ? 0 : g_unichar_iswide(c) ? 2 : 1;
    if (used + w > width)
      break;
    used += w;
    if (used <= width - 1)
      cut = g_utf8_next_char(p);
  }
  if (*p) {
    mvaddnstr(row, column, text, (int)(cut - text));
    addstr("\xe2\x80\xa6");
  } else {
    mvaddstr(row, column, text);
  }
}

G_GNUC_PRINTF(4, 5)
static void put_printf(int row, int column, int width, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  put(row, column, width, text);
}

static const char *clock_word(const Recorder *recorder) {
  return !recorder_started(recorder)   ? "not started"
         : recorder_finished(recorder) ? "finished"
         : recorder_paused(recorder)   ? "PAUSED"
                                       : "running";
}

static void draw_head(const Recorder *recorder) {
  const BtHeader *header = &recorder->observation->header;
  g_autofree char *clock = bt_clock_format(recorder_active_ms(recorder));
  attron(A_BOLD);
  put(0, 0, COLS - 28, recorder->rubric->title);
  if (recorder_paused(recorder))
    attron(COLOR_PAIR(COLOUR_ATTENTION));
  mvprintw(0, COLS - 26, "%8s  %s", clock, clock_word(recorder));
  attroff(COLOR_PAIR(COLOUR_ATTENTION));
  attroff(A_BOLD);
  put_printf(1, 0, COLS - 28, "%s   trainee %s, assessor %s, edition %d", header->session,
             header->trainee, header->assessor, recorder->rubric->edition);
  const BtClock *target = &recorder->rubric->clock;
  if (target->target_ms > 0) {
    g_autofree char *text = bt_clock_format(target->target_ms);
    mvprintw(1, COLS - 26, "%8s  target", text);
  }
}

static void draw_keys(const Recorder *recorder, int first_row, int rows, int width) {
  attron(A_BOLD);
  put(first_row, 0, width, "Keys");
  attroff(A_BOLD);
  for (int i = 0; i < recorder->rubric->n_actions && i < rows - 1; i++) {
    const BtAction *action = &recorder->rubric->actions[i];
    attron(A_BOLD | COLOR_PAIR(COLOUR_ACCENT));
    put_printf(first_row + 1 + i, 1, 2, "%c", action->key ? (char)action->key : ' ');
    attroff(A_BOLD | COLOR_PAIR(COLOUR_ACCENT));
    put(first_row + 1 + i, 4, width - 5, action->title);
  }
}

static bool still_expected(const Recorder *recorder, int checkpoint, int *done) {
  const BtStepRow *row = &g_array_index(recorder->ledger->steps, BtStepRow, (guint)checkpoint);
  *done = (int)row->bound->len;
  return row->why_out == BT_IN_SCORE && *done < recorder->rubric->checkpoints[checkpoint].least;
}

// What is still expected, in rubric order; how many do not fit is said.
static void draw_expected(const Recorder *recorder, int first_row, int rows, int column,
                          int width) {
  const BtRubric *rubric = recorder->rubric;
  int listed = 0, shown = 0, done = 0;
  for (int i = 0; i < rubric->n_checkpoints; i++) {
    if (!still_expected(recorder, i, &done) || listed++ < recorder->first_expected)
      continue;
    if (shown++ >= rows - 2)
      continue;
    const BtCheckpoint *checkpoint = &rubric->checkpoints[i];
    const char *mark = checkpoint->critical != BT_CRITICAL_NO ? "!" : " ";
    put_printf(first_row + shown, column, width, "%s %d of %d  %s", mark, done, checkpoint->least,
               checkpoint->title);
  }
  attron(A_BOLD);
  put_printf(first_row, column, width,
             listed ? "Still expected: %d   (! critical)" : "Everything expected is logged",
             listed);
  attroff(A_BOLD);
  if (shown > rows - 2)
    put_printf(first_row + rows - 1, column, width, "  and %d more (Down, Up)", shown - (rows - 2));
}

static void draw_log(const Recorder *recorder, int first_row) {
  const GArray *events = recorder->observation->events;
  attron(A_BOLD);
  put_printf(first_row, 0, COLS, "Logged: %u", events->len);
  attroff(A_BOLD);
  for (guint i = 0; i < LOG_ROWS - 1 && i < events->len; i++) {
    const BtEvent *event = &g_array_index(events, BtEvent, events->len - 1 - i);
    g_autofree char *line = recorder_event_line(recorder, event);
    put(first_row + 1 + (int)i, 1, COLS - 1, line);
  }
}

static void draw_choices(const Question *question, int first_row, int rows) {
  int n = (int)question->choices->len;
  int columns = n > rows ? 2 : 1;
  int width = COLS / columns;
  for (int i = 0; i < n && i < rows * columns; i++) {
    const Choice *choice = &g_array_index(question->choices, Choice, (guint)i);
    int row = first_row + i % rows;
    int column = i / rows * width;
    char key[8] = {0};
    g_unichar_to_utf8(choice->key, key);
    attron(A_BOLD | COLOR_PAIR(COLOUR_ACCENT));
    put(row, column + 1, 2, key);
    attroff(A_BOLD | COLOR_PAIR(COLOUR_ACCENT));
    put(row, column + 4, width - 5, choice->label);
  }
}

static void draw_question(const Recorder *recorder, int row) {
  const Question *question = recorder->question;
  attron(A_BOLD | COLOR_PAIR(COLOUR_ACCENT));
  if (question->choices)
    put_printf(row, 0, COLS, "%s   (Esc: leave)", question->title);
  else
    put_printf(row, 0, COLS, "%s: %s_", question->title, question->text->str);
  attroff(A_BOLD | COLOR_PAIR(COLOUR_ACCENT));
}

static void draw_foot(const Recorder *recorder) {
  int pair = recorder->message_warns ? COLOUR_ATTENTION : 0;
  if (recorder->message) {
    attron(COLOR_PAIR(pair) | (recorder->message_warns ? A_BOLD : 0));
    put(LINES - 4, 0, COLS, recorder->message);
    attroff(COLOR_PAIR(pair) | A_BOLD);
  }
  if (recorder->question)
    draw_question(recorder, LINES - 3);
  else
    put_printf(LINES - 3, 0, COLS, "%s%s%s", recorder->next_is_redo ? "REDO  " : "",
               recorder->ago_ms ? "EARLIER  " : "", recorder->every_detail ? "EVERY DETAIL" : "");
  put(LINES - 2, 0, COLS,
      "Space start/pause  E error  R redo  I inject  N not seen  T note  B 20 s ago");
  put(LINES - 1, 0, COLS,
      "U undo  A amend  X strike  D details  F finish  M measures  C close  Q leave");
}

void recorder_screen_draw(const Recorder *recorder) {
  erase();
  if (LINES < ROWS_LEAST || COLS < COLUMNS_LEAST) {
    put_printf(0, 0, COLS, "This window is %d x %d; recording needs %d x %d. Nothing is lost.",
               COLS, LINES, COLUMNS_LEAST, ROWS_LEAST);
    refresh();
    return;
  }
  draw_head(recorder);
  int log_row = LINES - 4 - LOG_ROWS;
  int rows = log_row - 4;
  if (recorder->question && recorder->question->choices) {
    draw_choices(recorder->question, 3, rows);
  } else {
    draw_keys(recorder, 3, rows, KEYS_WIDTH);
    draw_expected(recorder, 3, rows, KEYS_WIDTH + 1, COLS - KEYS_WIDTH - 1);
  }
  draw_log(recorder, log_row);
  draw_foot(recorder);
  refresh();
}

// Cautions --------------------------------------------------------------------

// Lays `text` out in lines of at most `width`, from `row`; returns the row after it.
static int put_wrapped(int row, int column, int width, const char *text) {
  g_auto(GStrv) words = g_strsplit(text, " ", -1);
  int used = 0;
  for (char **word = words; *word; word++) {
    int length = (int)g_utf8_strlen(*word, -1);
    if (used > 0 && used + 1 + length > width) {
      row++;
      used = 0;
    }
    mvaddstr(row, column + used + (used > 0), *word);
    used += length + (used > 0);
  }
  return row + 1;
}

bool recorder_screen_cautions(const BtRubric *rubric, const BtHeader *header) {
  for (;;) {
    erase();
    attron(A_BOLD);
    put(0, 0, COLS, rubric->title);
    attroff(A_BOLD);
    put_printf(1, 0, COLS, "Session %s, trainee %s, assessor %s", header->session, header->trainee,
               header->assessor);
    attron(A_BOLD | COLOR_PAIR(COLOUR_ATTENTION));
    put(3, 0, COLS, "Before the start");
    attroff(A_BOLD | COLOR_PAIR(COLOUR_ATTENTION));
    int row = 5;
    for (char **caution = rubric->cautions; *caution && row < LINES - 2; caution++) {
      mvaddstr(row, 1, "-");
      row = put_wrapped(row, 3, COLS - 4, *caution);
    }
    attron(A_BOLD);
    put(LINES - 1, 0, COLS, "Enter: read and heeded    Q: leave");
    attroff(A_BOLD);
    refresh();
    gunichar key = recorder_screen_key();
    if (key == KEY_OF_ENTER)
      return true;
    if (key == 'Q' || key == 'q')
      return false;
  }
}
