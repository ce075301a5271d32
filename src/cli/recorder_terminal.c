// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/recorder_terminal.h"

#include <errno.h>
#include <ncurses.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#define KEY_WAIT_MS     200
#define ESCAPE_DELAY_MS 50

// Beyond ncurses' own codes: what a terminal sends around pasted text once it is asked to.
enum { CODE_PASTE = KEY_MAX + 1, CODE_PASTE_END };

// Opening and closing ---------------------------------------------------------

// Ctrl-C comes as a key: leaving is asked, never done by a slip. Ctrl-Z still suspends.
static void take_interrupts_as_keys(void) {
  struct termios settings;
  if (tcgetattr(STDIN_FILENO, &settings) != 0)
    return;
  settings.c_cc[VINTR] = _POSIX_VDISABLE;
  settings.c_cc[VQUIT] = _POSIX_VDISABLE;
  if (tcsetattr(STDIN_FILENO, TCSANOW, &settings) == 0)
    def_prog_mode();
}

// Pasted text must not be taken for commands, so the terminal is asked to mark it.
static void mark_pastes(bool on) {
  fputs(on ? "\033[?2004h" : "\033[?2004l", stdout);
  fflush(stdout);
}

static bool colours_wanted(void) {
  const char *no_colour = g_getenv("NO_COLOR");
  return has_colors() && !(no_colour && *no_colour);
}

void recorder_screen_open(void) {
  initscr();
  cbreak();
  noecho();
  nonl();
  keypad(stdscr, TRUE);
  set_escdelay(ESCAPE_DELAY_MS);
  curs_set(0);
  timeout(0);
  take_interrupts_as_keys();
  define_key("\033[200~", CODE_PASTE);
  define_key("\033[201~", CODE_PASTE_END);
  mark_pastes(true);
  if (colours_wanted()) {
    start_color();
    use_default_colors();
    init_pair(COLOUR_ACCENT, COLOR_CYAN, -1);
    init_pair(COLOUR_ATTENTION, COLOR_YELLOW, -1);
  }
}

void recorder_screen_close(void) {
  mark_pastes(false);
  endwin();
}

// Keys ------------------------------------------------------------------------

static gunichar key_of_code(wint_t code) {
  switch (code) {
  case KEY_BACKSPACE:
  case KEY_DC:
    return KEY_OF_BACKSPACE;
  case KEY_ENTER:
    return KEY_OF_ENTER;
  case KEY_DOWN:
    return KEY_OF_DOWN;
  case KEY_UP:
    return KEY_OF_UP;
  case KEY_NPAGE:
    return KEY_OF_PAGE_DOWN;
  case KEY_PPAGE:
    return KEY_OF_PAGE_UP;
  case CODE_PASTE:
    return KEY_OF_PASTE;
  case CODE_PASTE_END:
    return KEY_OF_PASTE_END;
  case KEY_RESIZE:
    return 0; // the next drawing has the new size
  default:
    return KEY_OF_NOTHING;
  }
}

static gunichar key_of_character(wint_t character) {
  if (character == '\r')
    return KEY_OF_ENTER;
  if (character == '\b')
    return KEY_OF_BACKSPACE;
  // Without UTF-8 there is no telling what letter a byte was.
  return character > 127 && !g_get_charset(NULL) ? KEY_OF_NOTHING : (gunichar)character;
}

// Waits for something to read. A terminal that went away would else be asked again without end.
static bool terminal_is_there(void) {
  struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
  int ready = poll(&input, 1, KEY_WAIT_MS);
  return ready >= 0 ? !(input.revents & (POLLHUP | POLLERR | POLLNVAL)) : errno == EINTR;
}

gunichar recorder_screen_key(void) {
  wint_t key = 0;
  int kind = get_wch(&key);
  if (kind == ERR) {
    if (!terminal_is_there())
      return KEY_OF_HANGUP;
    kind = get_wch(&key);
  }
  return kind == ERR ? 0 : kind == KEY_CODE_YES ? key_of_code(key) : key_of_character(key);
}

// Text ------------------------------------------------------------------------

static int character_width(gunichar c) {
  return g_unichar_iszerowidth(c) ? 0 : g_unichar_iswide(c) ? 2 : 1;
}

int recorder_text_width(const char *text) {
  int width = 0;
  for (const char *p = text; *p; p = g_utf8_next_char(p))
    width += character_width(g_utf8_get_char(p));
  return width;
}

// Where `text` must end to take at most `width` columns.
static const char *end_within(const char *text, int width) {
  const char *p = text;
  for (; *p; p = g_utf8_next_char(p)) {
    width -= character_width(g_utf8_get_char(p));
    if (width < 0)
      break;
  }
  return p;
}

// A terminal that shows no UTF-8 gets question marks for what it cannot show.
static void put_bytes(int row, int column, const char *text, gsize length) {
  if (g_get_charset(NULL)) {
    mvaddnstr(row, column, text, (int)length);
    return;
  }
  move(row, column);
  for (const char *p = text; p < text + length; p = g_utf8_next_char(p))
    addch((guchar)*p < 128 ? (chtype)(guchar)*p : '?');
}

void recorder_put(int row, int column, int width, const char *text) {
  if (width < 1)
    return;
  const char *end = end_within(text, width);
  if (!*end) {
    put_bytes(row, column, text, strlen(text));
    return;
  }
  end = end_within(text, width - 1);
  put_bytes(row, column, text, (gsize)(end - text));
  addstr(g_get_charset(NULL) ? "\xe2\x80\xa6" : "~");
}

void recorder_put_printf(int row, int column, int width, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  recorder_put(row, column, width, text);
}

// Where the line that begins at `text` ends: at a space where there is one.
static const char *line_end(const char *text, int width) {
  const char *end = end_within(text, width);
  if (!*end)
    return end;
  for (const char *p = end; p > text; p--) {
    if (*p == ' ')
      return p;
  }
  return end > text ? end : g_utf8_next_char(text);
}

int recorder_put_wrapped(int row, int rows, int column, int width, const char *text) {
  int used = 0;
  for (const char *p = text; *p && used < rows; used++) {
    const char *end = used == rows - 1 ? p + strlen(p) : line_end(p, width);
    g_autofree char *line = g_strndup(p, (gsize)(end - p));
    recorder_put(row + used, column, width, line);
    p = *end == ' ' ? end + 1 : end;
  }
  return used;
}

// Large figures ---------------------------------------------------------------

// Each figure is 3 wide and 5 high, drawn two to a row: bit 2 is the left column.
static const guint8 figures[10][6] = {{7, 5, 5, 5, 7, 0}, {2, 6, 2, 2, 7, 0}, {7, 1, 7, 4, 7, 0},
                                      {7, 1, 7, 1, 7, 0}, {5, 5, 7, 1, 1, 0}, {7, 4, 7, 1, 7, 0},
                                      {7, 4, 7, 5, 7, 0}, {7, 1, 1, 1, 1, 0}, {7, 5, 7, 5, 7, 0},
                                      {7, 5, 7, 1, 7, 0}};
static const guint8 colon[6] = {0, 2, 0, 2, 0, 0};

static void put_figure(int row, int column, const guint8 *bits) {
  static const char *const blocks[] = {" ", "\xe2\x96\x84", "\xe2\x96\x80", "\xe2\x96\x88"};
  for (int line = 0; line < 3; line++, bits += 2) {
    move(row + line, column);
    for (int bit = 4; bit; bit >>= 1)
      addstr(blocks[(bits[0] & bit ? 2 : 0) + (bits[1] & bit ? 1 : 0)]);
  }
}

int recorder_put_clock(int row, int right, const char *clock) {
  if (!g_get_charset(NULL))
    return 0;
  int width = 4 * (int)strlen(clock) + 1;
  int column = right - width + 1;
  for (const char *p = clock; *p; p++, column += 4)
    put_figure(row, column, *p == ':' ? colon : figures[g_ascii_digit_value(*p)]);
  return width;
}
