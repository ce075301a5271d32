// SPDX-License-Identifier: GPL-3.0-or-later
//
// record: a session live at the keyboard.
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <benchtally/workbook.h>

#include "cli/cli.h"
#include "cli/recorder.h"

static gint64 monotonic_ms(void) {
  return g_get_monotonic_time() / 1000;
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
  *header = (BtHeader){.session = session,
                       .trainee = options->trainee,
                       .assessor = options->assessor,
                       .rubric = rubric->id,
                       .edition = rubric->edition,
                       .started_ms = g_get_real_time() / 1000,
                       .mode = (BtMode)bt_mode_from_name(options->mode)};
  return true;
}

// The session's clock goes on while the recorder is away, as the lab does; it never falls behind
// what was logged.
static gint64 clock_now(gint64 started_ms, const BtObservation *observation) {
  gint64 at_ms = g_get_real_time() / 1000 - started_ms;
  for (guint i = 0; i < observation->events->len; i++)
    at_ms = MAX(at_ms, g_array_index(observation->events, BtEvent, i).at_ms);
  return CLAMP(at_ms, 0, BT_DURATION_MS_MAX);
}

static bool ask_to_go_on(const BtSessionRow *row, const BtObservation *observation) {
  const GArray *events = observation->events;
  gint64 last_ms = events->len ? g_array_index(events, BtEvent, events->len - 1).at_ms : 0;
  g_autofree char *count = bt_count_of(events->len, "event", NULL);
  g_autofree char *last = bt_clock_format(last_ms);
  printf("Session %s was begun and not closed: %s logged, the last at %s. Go on with it? [y/n] ",
         row->session, count, last);
  fflush(stdout);
  char answer[16];
  return fgets(answer, sizeof answer, stdin) && (answer[0] == 'y' || answer[0] == 'Y');
}

// The open observation of the session that this assessor began; NULL when there is none.
static BtSessionRow *find_open(BtBook *book, const char *session, const char *assessor,
                               GError **error) {
  BtSessionFilter filter = {.session = session, .assessor = assessor, .open_only = true};
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &filter, error);
  return rows && rows->len == 1 ? g_ptr_array_steal_index(rows, 0) : NULL;
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
  if (observation)
    recorder =
        recorder_new(book, row->id, monotonic_ms, clock_now(row->started_ms, observation), &error);
  if (!recorder)
    *status = cli_error(g_steal_pointer(&error));
  return recorder;
}

static Recorder *begin(BtBook *book, const BtHeader *header, GError **error) {
  gint64 id = 0;
  return bt_book_begin(book, header, &id, error) ? recorder_new(book, id, monotonic_ms, 0, error)
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

static Recorder *open_recorder(const RecordOptions *options, BtBook *book, const char *session,
                               int *status) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtSessionRow) row = find_open(book, session, options->assessor, &error);
  if (error) {
    *status = cli_error(g_steal_pointer(&error));
    return NULL;
  }
  if (!row)
    return begin_new(options, book, session, status);
  Recorder *recorder = go_on(book, row, status);
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
  int edition = 0;
  const GOptionEntry entries[] = {
      {"trainee", 0, 0, G_OPTION_ARG_STRING, &trainee, "Who performs", "CODE"},
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &assessor, "Who observes", "CODE"},
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &rubric, "The rubric", "ID"},
      {"edition", 0, 0, G_OPTION_ARG_INT, &edition, "Its edition (default: the latest)", "N"},
      {"mode", 0, 0, G_OPTION_ARG_STRING, &mode, "live (default), video or self", "MODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status))
    return status;
  RecordOptions options = {trainee, assessor, rubric, mode ? mode : "live", edition};
  if (bt_mode_from_name(options.mode) < 0)
    return cli_usage_error("--mode %s; expected live, video or self", options.mode);
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
