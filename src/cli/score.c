// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/rubric.h>
#include <benchtally/workbook.h>

#include "cli/cli.h"

// Output is written in pieces of this size, so that scoring a whole book stays small.
#define PIECE_BYTES 65536

typedef struct {
  Cli *cli;
  bool json, full;
  guint scored;
} Scoring;

// The ledger in full, as JSON or as text.
static bool append_ledger(Scoring *scoring, const BtRubric *rubric,
                          const BtObservation *observation) {
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  GString *out = scoring->cli->out;
  if (scoring->json) {
    g_autofree char *text = bt_ledger_to_json(rubric, observation, ledger);
    g_string_append(out, scoring->scored ? ",\n" : "[");
    g_string_append(out, text);
  } else {
    g_autofree char *text =
        bt_ledger_text(rubric, observation, ledger, cli_columns(), scoring->full);
    g_string_append(out, scoring->scored ? "\n\n" : "");
    g_string_append(out, text);
  }
  scoring->scored++;
  return out->len < PIECE_BYTES || cli_flush(scoring->cli);
}

static void append_end(Scoring *scoring) {
  if (scoring->json)
    g_string_append(scoring->cli->out, scoring->scored ? "]\n" : "[]\n");
}

// Without a book --------------------------------------------------------------

static int score_file(Scoring *scoring, const char *rubric_path, const char *events_path) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  g_autoptr(BtRubric) rubric = bt_rubric_read_file(rubric_path, faults, &error);
  g_autoptr(GPtrArray) observations =
      rubric ? bt_log_read_observations(events_path, rubric, faults, &error) : NULL;
  cli_print_faults(faults);
  if (error)
    return cli_error(g_steal_pointer(&error));
  if (!observations)
    return 2;
  for (guint i = 0; i < observations->len; i++) {
    if (!append_ledger(scoring, rubric, observations->pdata[i]))
      return 3;
  }
  append_end(scoring);
  return 0;
}

// From the book ---------------------------------------------------------------

static int score_row(Scoring *scoring, BtBook *book, const BtSessionRow *row) {
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, row->id, &rubric, &error);
  if (!observation)
    return cli_error(g_steal_pointer(&error));
  return append_ledger(scoring, rubric, observation) ? 0 : 3;
}

static int score_session(Scoring *scoring, BtBook *book, const char *session) {
  g_autoptr(GError) error = NULL;
  BtSessionFilter filter = {.session = session};
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &filter, &error);
  if (!rows)
    return cli_error(g_steal_pointer(&error));
  if (rows->len == 0)
    return cli_usage_error("no session \"%s\" in the book; `benchtally sessions` lists them",
                           session);
  int status = 0;
  for (guint i = 0; i < rows->len && status == 0; i++)
    status = score_row(scoring, book, rows->pdata[i]);
  return status;
}

// Adds to `table` the observation as it scores now.
static int add_outcome(GPtrArray *table, BtBook *book, const BtSessionRow *row) {
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, row->id, &rubric, &error);
  if (!observation)
    return cli_error(g_steal_pointer(&error));
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  g_autofree char *percent = ledger->total_percent_milli < 0
                                 ? g_strdup("-")
                                 : bt_decimal_format_cut(ledger->total_percent_milli, 1);
  g_ptr_array_add(table,
                  cli_row(7, row->session, row->trainee, row->rubric, row->assessor,
                          bt_mode_name(row->mode), bt_outcome_words(ledger->outcome), percent));
  return 0;
}

static int score_all(Scoring *scoring, BtBook *book, const GPtrArray *rows) {
  static const char *const heads[] = {"session", "trainee", "rubric", "assessor",
                                      "mode",    "outcome", ">%",     NULL};
  if (rows->len == 0) {
    g_string_append(scoring->cli->out, "No sessions in the book yet.\n");
    return 0;
  }
  g_autoptr(GPtrArray) table = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  int status = 0;
  for (guint i = 0; i < rows->len && status == 0; i++)
    status = add_outcome(table, book, rows->pdata[i]);
  if (status == 0)
    cli_table(scoring->cli->out, heads, table, cli_bold());
  return status;
}

static int score_book(Scoring *scoring, BtBook *book) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, &error);
  if (!rows)
    return cli_error(g_steal_pointer(&error));
  if (!scoring->json)
    return score_all(scoring, book, rows);
  int status = 0;
  for (guint i = 0; i < rows->len && status == 0; i++)
    status = score_row(scoring, book, rows->pdata[i]);
  return status;
}

static int score_from_book(Scoring *scoring, char **sessions, int n) {
  int status = 0;
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = cli_open_book(scoring->cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  if (!bt_book_hold(book, &error))
    return cli_error(g_steal_pointer(&error));
  for (int i = 0; i < n && status == 0; i++)
    status = score_session(scoring, book, sessions[i]);
  if (n == 0)
    status = score_book(scoring, book);
  bt_book_release(book);
  if (status == 0)
    append_end(scoring);
  return status;
}

int cli_score(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean json = FALSE, full = FALSE;
  g_autofree char *rubric = NULL, *events = NULL;
  const GOptionEntry entries[] = {
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON, one object an observation", NULL},
      {"full", 0, 0, G_OPTION_ARG_NONE, &full, "Say everything of every row, also of the good ones",
       NULL},
      {"rubric", 0, 0, G_OPTION_ARG_FILENAME, &rubric, "Score without a book: the rubric file",
       "FILE"},
      {"events", 0, 0, G_OPTION_ARG_FILENAME, &events, "Score without a book: the event file",
       "FILE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, -1, &status))
    return status;
  if (!rubric != !events)
    return cli_usage_error("--rubric and --events go together");
  if (rubric && argc > 1)
    return cli_usage_error("--rubric and --events score a file; \"%s\" names a session of the book",
                           argv[1]);
  Scoring scoring = {.cli = cli, .json = json, .full = full};
  return rubric ? score_file(&scoring, rubric, events)
                : score_from_book(&scoring, argv + 1, argc - 1);
}
