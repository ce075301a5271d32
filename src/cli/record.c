// SPDX-License-Identifier: GPL-3.0-or-later
//
// record: a session live at the keyboard.
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <benchtally/workbook.h>

#include "cli/cli.h"
#include "cli/recorder_terminal.h"

// Never steps when the wall clock is set, and goes on while a closed lid suspends the machine.
static gint64 monotonic_ms(void) {
  struct timespec now;
  if (clock_gettime(CLOCK_BOOTTIME, &now) != 0)
    return g_get_monotonic_time() / 1000;
  return (gint64)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

// Opening ---------------------------------------------------------------------

typedef struct {
  char *trainee, *assessor, *rubric, *mode;
  int edition;
} RecordOptions;

static bool read_header(const RecordOptions *options, BtBook *book, const char *session,
                        BtHeader *header, int *status) {
  const char *missing = !options->trainee    ? "--trainee CODE"
                        : !options->assessor ? "--assessor CODE"
                        : !options->rubric   ? "--rubric ID"
                                             : NULL;
  if (missing) {
    *status = cli_usage_error(
        "session \"%s\" is new, so %s is needed; `benchtally record --help` has an example",
        session, missing);
    return false;
  }
  if (!bt_code_valid(session)) {
    *status = cli_usage_error(
        "\"%s\" is no session code; expected letters, digits, '-', '_' or '.'", session);
    return false;
  }
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = bt_book_rubric(book, options->rubric, options->edition, &error);
  if (!rubric) {
    *status =
        error
            ? cli_error(g_steal_pointer(&error))
            : cli_usage_error("no rubric \"%s\"%s in the book; `benchtally rubric list` lists them",
                              options->rubric, options->edition ? " of that edition" : "");
    return false;
  }
  *header =
      (BtHeader){.session = session,
                 .trainee = options->trainee,
                 .assessor = options->assessor,
                 .rubric = rubric->id,
                 .edition = rubric->edition,
                 .started_ms = g_get_real_time() / 1000,
                 .mode = options->mode ? (BtMode)bt_mode_from_name(options->mode) : BT_MODE_LIVE};
  return true;
}

// The session's clock goes on while the recorder is away, as the lab does; it never falls behind
// what was logged.
static gint64 clock_now(gint64 started_ms, const BtObservation *observation) {
  gint64 at_ms = g_get_real_time() / 1000 - started_ms;
  for (guint i = 0; i < observation->events->len; i++)
    at_ms = MAX(at_ms, g_array_index(observation->events, BtEvent, i).at_ms);
  return CLAMP(at_ms, 0, (gint64)BT_DURATION_MS_MAX);
}

static bool ask_to_go_on(const BtSessionRow *row, const BtObservation *observation) {
  const GArray *events = observation->events;
  gint64 last_ms = events->len ? g_array_index(events, BtEvent, events->len - 1).at_ms : 0;
  g_autofree char *count = bt_count_of(events->len, "event", NULL);
  g_autofree char *last = bt_clock_format(last_ms);
  g_autofree char *now = bt_clock_format(clock_now(row->started_ms, observation));
  printf("Session %s (trainee %s, assessor %s, rubric %s) was begun and not closed.\n"
         "%s logged, the last at %s; its clock stands at %s. Go on with it? [y/n] ",
         row->session, row->trainee, row->assessor, row->rubric, count, last, now);
  fflush(stdout);
  char answer[16];
  return fgets(answer, sizeof answer, stdin) && (answer[0] == 'y' || answer[0] == 'Y');
}

static Recorder *go_on(BtBook *book, const BtSessionRow *row, int *status) {
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, row->id, &rubric, &error);
  Recorder *recorder = NULL;
  if (observation && !ask_to_go_on(row, observation)) {
    printf("Left as it is.\n");
    return NULL;
  }
  if (observation && recorder_lock(bt_book_path(book), row->id, row->session, &error) >= 0)
    recorder =
        recorder_new(book, row->id, monotonic_ms, clock_now(row->started_ms, observation), &error);
  if (!recorder)
    *status = cli_error(g_steal_pointer(&error));
  return recorder;
}

static Recorder *begin(BtBook *book, const BtHeader *header, GError **error) {
  gint64 id = 0;
  return bt_book_begin(book, header, &id, error) &&
                 recorder_lock(bt_book_path(book), id, header->session, error) >= 0
             ? recorder_new(book, id, monotonic_ms, 0, error)
             : NULL;
}

// Running ---------------------------------------------------------------------

static void run(Recorder *recorder) {
  while (recorder->state == RECORDER_RUNS) {
    recorder_screen_draw(recorder);
    gunichar key = recorder_screen_key();
    if (key)
      recorder_key(recorder, key);
  }
}

// New sessions show the cautions first; nothing is in the book until they are heeded. Leaves the
// screen open when there is a recorder.
static Recorder *begin_new(const RecordOptions *options, BtBook *book, const char *session,
                           int *status) {
  BtHeader header;
  if (!read_header(options, book, session, &header, status))
    return NULL;
  const BtRubric *rubric = bt_book_rubric(book, header.rubric, header.edition, NULL);
  recorder_screen_open();
  if (!recorder_screen_cautions(rubric, &header)) {
    recorder_screen_close();
    return NULL;
  }
  g_autoptr(GError) error = NULL;
  header.started_ms = g_get_real_time() / 1000;
  Recorder *recorder = begin(book, &header, &error);
  if (!recorder) {
    recorder_screen_close();
    *status = cli_error(g_steal_pointer(&error));
  }
  return recorder;
}

// The observations of the session that the options can mean; NULL with `error`.
static GPtrArray *find_rows(const RecordOptions *options, BtBook *book, const char *session,
                            GError **error) {
  BtSessionFilter filter = {.session = session, .assessor = options->assessor};
  GPtrArray *rows = bt_book_sessions(book, &filter, error);
  for (guint i = rows ? rows->len : 0; i-- > 0;) {
    const BtSessionRow *row = rows->pdata[i];
    if (options->mode && (int)row->mode != bt_mode_from_name(options->mode))
      g_ptr_array_remove_index(rows, i);
  }
  return rows;
}

// Options that say otherwise than the session does are a slip that would spoil a record.
static bool check_options(const RecordOptions *options, const BtSessionRow *row, int *status) {
  const char *what = NULL, *said = NULL, *is = NULL;
  if (options->rubric && strcmp(options->rubric, row->rubric) != 0)
    what = "--rubric", said = options->rubric, is = row->rubric;
  if (options->trainee && strcmp(options->trainee, row->trainee) != 0)
    what = "--trainee", said = options->trainee, is = row->trainee;
  if (what)
    *status = cli_usage_error("%s %s: session \"%s\" was begun with %s; another session needs "
                              "another code",
                              what, said, row->session, is);
  else if (options->edition && options->edition != row->edition)
    *status = cli_usage_error("--edition %d: session \"%s\" was begun with edition %d",
                              options->edition, row->session, row->edition);
  return *status == 0;
}

// Whether a new observation may begin beside closed ones: not a second one of the same assessor.
static bool check_closed(const RecordOptions *options, const GPtrArray *rows, int *status) {
  const BtMode mode = options->mode ? (BtMode)bt_mode_from_name(options->mode) : BT_MODE_LIVE;
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    if (options->assessor && options->trainee && row->mode != mode)
      continue;
    *status =
        cli_usage_error("session \"%s\" is closed by \"%s\"; `benchtally amend` and `benchtally "
                        "strike` correct it, "
                        "and another assessor records it with --assessor, --trainee and --rubric",
                        row->session, row->assessor);
    return false;
  }
  return true;
}

// The one that is open, NULL when none is; several are told in *status.
static const BtSessionRow *find_open(const GPtrArray *rows, const char *session, int *status) {
  const BtSessionRow *open = NULL;
  int n = 0;
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    if (row->closed)
      continue;
    open = row;
    n++;
  }
  if (n > 1)
    *status = cli_usage_error("several observations of session \"%s\" are open; say which with "
                              "--assessor CODE or --mode MODE",
                              session);
  return open;
}

static Recorder *open_recorder(const RecordOptions *options, BtBook *book, const char *session,
                               int *status) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) rows = find_rows(options, book, session, &error);
  if (!rows) {
    *status = cli_error(g_steal_pointer(&error));
    return NULL;
  }
  const BtSessionRow *open = find_open(rows, session, status);
  if (*status != 0)
    return NULL;
  if (!open)
    return check_closed(options, rows, status) ? begin_new(options, book, session, status) : NULL;
  Recorder *recorder = check_options(options, open, status) ? go_on(book, open, status) : NULL;
  if (recorder)
    recorder_screen_open();
  return recorder;
}

static void append_farewell(GString *out, const Recorder *recorder) {
  const char *session = recorder->observation->header.session;
  if (recorder->state == RECORDER_CLOSED) {
    g_autofree char *sentence =
        bt_outcome_sentence(recorder->rubric, recorder->observation, recorder->ledger);
    g_string_append_printf(out,
                           "%s\n\nReceipt of session %s, to be written on paper:\n\n    %s\n\n"
                           "`benchtally score %s` shows what won and lost points.\n",
                           sentence, session, recorder->receipt, session);
  } else {
    g_string_append_printf(out,
                           "\nSession %s is left open; everything logged is kept.\n"
                           "`benchtally record %s` goes on with it.\n",
                           session, session);
  }
}

int cli_record(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_autofree char *trainee = NULL, *assessor = NULL, *rubric = NULL, *mode = NULL;
  int edition = CLI_LATEST_EDITION;
  const GOptionEntry entries[] = {
      {"trainee", 0, 0, G_OPTION_ARG_STRING, &trainee, "Who performs", "CODE"},
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &assessor, "Who observes", "CODE"},
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &rubric, "The rubric", "ID"},
      {"edition", 0, 0, G_OPTION_ARG_INT, &edition, "Its edition (default: the latest)", "N"},
      {"mode", 0, 0, G_OPTION_ARG_STRING, &mode, "live (default), video or self", "MODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status) || !cli_take_edition(&edition, &status))
    return status;
  RecordOptions options = {trainee, assessor, rubric, mode, edition};
  if (mode && bt_mode_from_name(mode) < 0)
    return cli_usage_error("--mode %s; expected live, video or self", mode);
  if (!isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO))
    return cli_usage_error(
        "record needs a terminal; `benchtally import FILE` takes events from a file");
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_WRITE, &status);
  Recorder *recorder = book ? open_recorder(&options, book, argv[1], &status) : NULL;
  if (!recorder)
    return status;
  run(recorder);
  recorder_screen_close();
  append_farewell(cli->out, recorder);
  recorder_free(recorder);
  return 0;
}
