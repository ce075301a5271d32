// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static const char exit_statuses[] =
    "Exit status: 0 done; 1 the answer is no; 2 the request was wrong; 3 the machine "
    "failed.";

static GOptionContext *new_context(const Command *command, const GOptionEntry *entries) {
  g_autofree char *parameters = g_strdup_printf("%s", command->arguments);
  GOptionContext *context = g_option_context_new(parameters);
  g_autofree char *description = g_strdup_printf("%s\n\n%s\n", command->details, exit_statuses);
  g_option_context_set_summary(context, command->summary);
  g_option_context_set_description(context, description);
  if (entries)
    g_option_context_add_main_entries(context, entries, NULL);
  return context;
}

bool cli_set_book(Cli *cli, const char *path, int *status) {
  if (!*path) {
    *status = cli_usage_error("--book needs a file name");
    return false;
  }
  g_free(cli->book_path);
  cli->book_path = g_strdup(path);
  return true;
}

bool cli_parse(Cli *cli, int *argc, char ***argv, const GOptionEntry *entries, int least, int most,
               int *status) {
  g_autofree char *name = g_strconcat("benchtally ", cli->command->name, NULL);
  g_set_prgname(name);
  g_autoptr(GOptionContext) context = new_context(cli->command, entries);
  g_autofree char *book = NULL; // which may also stand before the command
  const GOptionEntry everywhere[] = {
      {"book", 0, 0, G_OPTION_ARG_FILENAME, &book, "The book, instead of the default one", "FILE"},
      G_OPTION_ENTRY_NULL};
  g_option_context_add_main_entries(context, everywhere, NULL);
  g_autoptr(GError) error = NULL;
  if (!g_option_context_parse(context, argc, argv, &error)) {
    *status = cli_usage_error("%s; see `%s --help`", error->message, name);
    return false;
  }
  if (book && !cli_set_book(cli, book, status))
    return false;
  // GOption leaves a "--" in place.
  if (*argc > 1 && strcmp((*argv)[1], "--") == 0) {
    memmove(*argv + 1, *argv + 2, sizeof **argv * (gsize)(*argc - 1));
    (*argc)--;
  }
  int given = *argc - 1;
  if (given >= least && (most < 0 || given <= most))
    return true;
  *status = given < least
                ? cli_usage_error(
                      "%s: %s missing; see `%s --help`", cli->command->name,
                      *cli->command->arguments ? cli->command->arguments : "an argument", name)
                : cli_usage_error("%s: \"%s\" is one argument too many; see `%s --help`",
                                  cli->command->name, (*argv)[most + 1], name);
  return false;
}

bool cli_take_edition(int *edition, int *status) {
  if (*edition == CLI_LATEST_EDITION)
    *edition = 0;
  else if (*edition < 1)
    *status = cli_usage_error("--edition %d: expected a number from 1 up", *edition);
  return *status == 0;
}

int cli_error(GError *error) {
  int status = bt_error_exit_status(error);
  fprintf(stderr, "benchtally: %s\n", error->message);
  g_error_free(error);
  return status;
}

int cli_usage_error(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *message = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  fprintf(stderr, "benchtally: %s\n", message);
  return 2;
}

bool cli_reason_given(const char *reason, const char *what, int *status) {
  g_autofree char *text = g_strstrip(g_strdup(reason ? reason : ""));
  if (*text)
    return true;
  *status = cli_usage_error("%s needs its reason: --reason \"...\"", what);
  return false;
}

#define SAME_FAULTS_TOLD 2 // one that stands more often is told once, with its other lines
#define LINES_NAMED      5

static bool same_fault(const BtFault *a, const BtFault *b) {
  return a->warning == b->warning && g_strcmp0(a->file, b->file) == 0 &&
         g_strcmp0(a->wrong, b->wrong) == 0 && g_strcmp0(a->expected, b->expected) == 0;
}

// Faults like number `at`, before it and from it on.
static void count_same(const GPtrArray *faults, guint at, guint *before, guint *from) {
  *before = *from = 0;
  for (guint i = 0; i < faults->len; i++) {
    if (same_fault(faults->pdata[at], faults->pdata[i]))
      *(i < at ? before : from) += 1;
  }
}

// " (also on lines 29, 59, 93, 122, 156 and 94 more)": where the fault stands after number `at`.
static char *other_lines(const GPtrArray *faults, guint at) {
  GString *text = g_string_new(" (also on lines");
  guint n = 0;
  for (guint i = at + 1; i < faults->len; i++) {
    const BtFault *fault = faults->pdata[i];
    if (same_fault(faults->pdata[at], fault) && ++n <= LINES_NAMED)
      g_string_append_printf(text, "%s %d", n > 1 ? "," : "", fault->line);
  }
  if (n > LINES_NAMED)
    g_string_append_printf(text, " and %u more", n - LINES_NAMED);
  g_string_append_c(text, ')');
  return g_string_free(text, FALSE);
}

void cli_print_faults(const GPtrArray *faults) {
  for (guint i = 0; i < faults->len; i++) {
    guint before = 0, from = 0;
    count_same(faults, i, &before, &from);
    bool together = before + from > SAME_FAULTS_TOLD;
    if (together && before > 0)
      continue;
    g_autofree char *line = bt_fault_format(faults->pdata[i]);
    g_autofree char *others = together ? other_lines(faults, i) : g_strdup("");
    fprintf(stderr, "%s%s\n", line, others);
  }
}

#define EXPORT_BYTES_MAX (1024 * 1024 * 1024)

int cli_not_noted(const char *document, const GError *error) {
  fprintf(stderr, "benchtally: the %s made, but the book does not note it: %s\n", document,
          error->message);
  return g_error_matches(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY) ? 0
                                                                   : bt_error_exit_status(error);
}

bool cli_hash_file(const char *path, char sha256[BT_SHA256_HEX + 1], GError **error) {
  g_autofree char *bytes = NULL;
  gsize length = 0;
  if (!bt_file_read(path, EXPORT_BYTES_MAX, &bytes, &length, error))
    return false;
  guint8 digest[BT_SHA256_BYTES];
  bt_sha256(bytes, length, digest);
  bt_hex(digest, sizeof digest, sha256);
  return true;
}

bool cli_flush(Cli *cli) {
  bool written =
      fwrite(cli->out->str, 1, cli->out->len, stdout) == cli->out->len && fflush(stdout) == 0;
  bool reader_gone = !written && errno == EPIPE; // as `| head` goes: nothing to complain of
  g_string_truncate(cli->out, 0);
  if (!written && !reader_gone)
    fprintf(stderr, "benchtally: standard output could not be written; is the disk full?\n");
  return written;
}

BtBook *cli_open_book(const Cli *cli, BtBookMode mode, int *status) {
  g_autoptr(GError) error = NULL;
  BtBook *book = bt_book_open(cli->book_path, mode, &error);
  if (!book)
    *status = cli_error(g_steal_pointer(&error));
  return book;
}

BtBook *cli_open_book_as(const Cli *cli, const char *by, int *status) {
  BtBook *book = cli_open_book(cli, BT_BOOK_WRITE, status);
  if (book && by)
    bt_book_set_actor(book, by);
  return book;
}

static bool is_meant(const BtSessionRow *row, const char *assessor, const char *mode) {
  return (!assessor || strcmp(row->assessor, assessor) == 0) &&
         (!mode || strcmp(bt_mode_name(row->mode), mode) == 0);
}

// Drops the rows that are not meant.
static void keep_meant(GPtrArray *rows, const char *assessor, const char *mode) {
  for (guint i = rows->len; i-- > 0;) {
    if (!is_meant(rows->pdata[i], assessor, mode))
      g_ptr_array_remove_index(rows, i);
  }
}

static int ambiguous(const GPtrArray *rows, const char *session) {
  GString *list = g_string_new(NULL);
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    g_string_append_printf(list, "%s--assessor %s --mode %s", i ? ", or " : "", row->assessor,
                           bt_mode_name(row->mode));
  }
  int status = cli_usage_error("session \"%s\" has %u observations; say which: %s", session,
                               rows->len, list->str);
  g_string_free(list, TRUE);
  return status;
}

BtSessionRow *cli_find_observation(BtBook *book, const char *session, const char *assessor,
                                   const char *mode, int *status) {
  if (mode && bt_mode_from_name(mode) < 0) {
    *status = cli_usage_error("--mode %s; expected live, video or self", mode);
    return NULL;
  }
  g_autoptr(GError) error = NULL;
  BtSessionFilter filter = {.session = session};
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &filter, &error);
  if (!rows) {
    *status = cli_error(g_steal_pointer(&error));
    return NULL;
  }
  bool known = rows->len > 0;
  keep_meant(rows, assessor, mode);
  if (rows->len == 1)
    return g_ptr_array_steal_index(rows, 0);
  *status =
      rows->len > 1 ? ambiguous(rows, session)
      : known ? cli_usage_error("session \"%s\" has no observation by that assessor in that mode; "
                                "`benchtally sessions --session %s` lists them",
                                session, session)
              : cli_usage_error("no session \"%s\" in the book; `benchtally sessions` lists them",
                                session);
  return NULL;
}

BtSessionRow *cli_reread(BtBook *book, const BtSessionRow *row) {
  BtSessionFilter filter = {.session = row->session};
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &filter, NULL);
  for (guint i = 0; rows && i < rows->len; i++) {
    if (((BtSessionRow *)rows->pdata[i])->id == row->id)
      return g_ptr_array_steal_index(rows, i);
  }
  return NULL;
}

char *cli_result_words(const BtSessionRow *row) {
  if (row->outcome < 0)
    return NULL;
  const char *outcome = bt_outcome_words((BtOutcome)row->outcome);
  if (row->total_percent_milli < 0)
    return g_strdup_printf("%s, no points", outcome);
  g_autofree char *percent = bt_decimal_format_cut(row->total_percent_milli, 1);
  return g_strdup_printf("%s, %s %% of the points", outcome, percent);
}

void cli_append_json(GString *out, json_t *list) {
  size_t i = 0;
  json_t *object = NULL;
  g_string_append_c(out, '[');
  json_array_foreach(list, i, object) {
    char *text = json_dumps(object, JSON_SORT_KEYS | JSON_COMPACT);
    g_string_append(out, i ? ",\n " : "");
    g_string_append(out, text);
    free(text);
  }
  g_string_append(out, "]\n");
  json_decref(list);
}

int cli_columns(void) {
  struct winsize size;
  if (isatty(STDOUT_FILENO) && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col >= 40)
    return size.ws_col;
  return 80;
}

bool cli_bold(void) {
  return isatty(STDOUT_FILENO) && !g_getenv("NO_COLOR");
}

char **cli_row(int n, ...) {
  char **row = g_new0(char *, (gsize)n + 1);
  va_list cells;
  va_start(cells, n);
  for (int i = 0; i < n; i++) {
    const char *cell = va_arg(cells, const char *);
    row[i] = g_strdup(cell ? cell : "");
    g_strdelimit(row[i], "\r\n\t\v\f\033", ' '); // a reason may hold lines; a table must not
  }
  va_end(cells);
  return row;
}

static int display_width(const char *text) {
  int width = 0;
  for (const char *p = text; *p; p = g_utf8_next_char(p)) {
    gunichar c = g_utf8_get_char(p);
    width += g_unichar_iszerowidth(c) ? 0 : g_unichar_iswide(c) ? 2 : 1;
  }
  return width;
}

static void append_cell(GString *out, const char *text, int width, bool right, bool last) {
  int blanks = width - display_width(text);
  if (right)
    g_string_append_printf(out, "%*s%s", blanks, "", text);
  else
    g_string_append_printf(out, "%s%*s", text, last ? 0 : blanks, "");
  g_string_append(out, last ? "\n" : "  ");
}

// The widest cell of column `c`, its head included.
static int column_width(const char *const *heads, const GPtrArray *rows, int c) {
  int width = display_width(heads[c] + (*heads[c] == '>'));
  for (guint r = 0; r < rows->len; r++)
    width = MAX(width, display_width(((char **)rows->pdata[r])[c]));
  return width;
}

static bool column_empty(const GPtrArray *rows, int c) {
  for (guint r = 0; r < rows->len; r++) {
    if (*((char **)rows->pdata[r])[c])
      return false;
  }
  return true;
}

static int table_width(const int *width, int n) {
  int all = 0;
  for (int c = 0; c < n; c++)
    all += width[c] < 0 ? 0 : width[c] + (all > 0 ? 2 : 0);
  return all;
}

// Those that stand before the last line's end.
static void drop_blanks(GString *out) {
  gsize length = out->len - 1;
  while (length > 0 && out->str[length - 1] == ' ')
    length--;
  g_string_truncate(out, length);
  g_string_append_c(out, '\n');
}

// Appends a row of the columns that are shown (width 0 or more).
static void append_row(GString *out, const char *const *heads, char *const *cells, const int *width,
                       int n) {
  int last = n - 1;
  while (last > 0 && width[last] < 0)
    last--;
  for (int c = 0; c <= last; c++) {
    if (width[c] >= 0)
      append_cell(out, cells[c], width[c], *heads[c] == '>', c == last);
  }
  drop_blanks(out);
}

void cli_table_fit(GString *out, const char *const *heads, const GPtrArray *rows, bool bold,
                   int columns, const int *least_needed) {
  int n = (int)g_strv_length((char **)heads);
  g_autofree int *width = g_new(int, (gsize)n);
  g_autofree char **titles = g_new(char *, (gsize)n);
  for (int c = 0; c < n; c++) {
    titles[c] = (char *)heads[c] + (*heads[c] == '>');
    width[c] = !*titles[c] && column_empty(rows, c) ? -1 : column_width(heads, rows, c);
  }
  g_autoptr(GString) left_out = g_string_new(NULL);
  for (int i = 0; least_needed && least_needed[i] >= 0 && table_width(width, n) > columns; i++) {
    width[least_needed[i]] = -1;
    g_string_append_printf(left_out, "%s%s", left_out->len ? ", " : "", titles[least_needed[i]]);
  }
  g_string_append(out, bold ? "\033[1m" : "");
  append_row(out, heads, titles, width, n);
  g_string_append(out, bold ? "\033[0m" : "");
  for (guint r = 0; r < rows->len; r++)
    append_row(out, heads, rows->pdata[r], width, n);
  if (left_out->len)
    g_string_append_printf(out, "Left out to fit: %s; --wide shows them.\n", left_out->str);
}

void cli_table(GString *out, const char *const *heads, const GPtrArray *rows, bool bold) {
  cli_table_fit(out, heads, rows, bold, 0, NULL);
}
