// SPDX-License-Identifier: GPL-3.0-or-later
#include <unistd.h>

#include "cli/cli.h"

static const char *outcome_text(const BtSessionRow *row) {
  return !row->closed ? "open" : row->outcome < 0 ? "" : bt_outcome_words((BtOutcome)row->outcome);
}

static char *percent_text(const BtSessionRow *row) {
  return row->total_percent_milli < 0 ? g_strdup("")
                                      : bt_decimal_format_cut(row->total_percent_milli, 1);
}

// A closed observation that does not decide its session's result.
static bool beside_the_record(const BtSessionRow *row) {
  return row->closed && !row->of_record;
}

static void append_sessions(GString *out, const GPtrArray *sessions, bool wide) {
  enum {
    SESSION,
    TRAINEE,
    RUBRIC,
    ATTEMPT,
    DATE,
    ASSESSOR,
    MODE,
    EVENTS,
    OUTCOME,
    PERCENT,
    REMARK
  };
  static const char *const heads[] = {
      [SESSION] = "session", [TRAINEE] = "trainee",   [RUBRIC] = "rubric", [ATTEMPT] = ">attempt",
      [DATE] = "date",       [ASSESSOR] = "assessor", [MODE] = "mode",     [EVENTS] = ">events",
      [OUTCOME] = "outcome", [PERCENT] = ">%",        [REMARK] = "",       NULL};
  static const int least_needed[] = {EVENTS, ATTEMPT, MODE, ASSESSOR, DATE, RUBRIC, -1};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  bool any_beside = false;
  for (guint i = 0; i < sessions->len; i++) {
    const BtSessionRow *row = sessions->pdata[i];
    any_beside |= beside_the_record(row);
    g_autofree char *rubric = g_strdup_printf("%s %d", row->rubric, row->edition);
    g_autofree char *attempt = g_strdup_printf("%d", row->attempt);
    g_autofree char *events = g_strdup_printf("%d", row->events);
    g_autofree char *date = bt_date_format(row->started_ms);
    g_autofree char *percent = percent_text(row);
    g_ptr_array_add(rows, cli_row(11, row->session, row->trainee, rubric, attempt, date,
                                  row->assessor, bt_mode_name(row->mode), events, outcome_text(row),
                                  percent, beside_the_record(row) ? "*" : ""));
  }
  cli_table_fit(out, heads, rows, cli_bold(), cli_columns(), wide ? NULL : least_needed);
  if (any_beside)
    g_string_append(out, "* does not decide: the session has another observation of record, or "
                         "none yet.\n");
}

static json_t *session_json(const BtSessionRow *row) {
  g_autofree char *started = bt_rfc3339_format(row->started_ms);
  const char *outcome = row->outcome < 0 ? NULL : bt_outcome_name((BtOutcome)row->outcome);
  json_t *percent =
      row->total_percent_milli < 0 ? json_null() : json_integer(row->total_percent_milli);
  return json_pack("{ss si sb si si si ss sb ss? ss? ss ss ss so ss}", //
                   "assessor", row->assessor, "attempt", row->attempt, "closed", row->closed,
                   "corrections", row->corrections, "edition", row->edition, "events", row->events,
                   "mode", bt_mode_name(row->mode), "of_record", row->of_record, "outcome", outcome,
                   "receipt", row->receipt, "rubric", row->rubric, "session", row->session,
                   "started", started, "total_percent_milli", percent, "trainee", row->trainee);
}

static void append_sessions_json(GString *out, const GPtrArray *sessions) {
  json_t *list = json_array();
  for (guint i = 0; i < sessions->len; i++)
    json_array_append_new(list, session_json(sessions->pdata[i]));
  cli_append_json(out, list);
}

int cli_sessions(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean json = FALSE, open_only = FALSE, of_record = FALSE, wide = FALSE;
  g_autofree char *trainee = NULL, *assessor = NULL, *rubric = NULL, *session = NULL;
  const GOptionEntry entries[] = {
      {"trainee", 0, 0, G_OPTION_ARG_STRING, &trainee, "Only this trainee's", "CODE"},
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &assessor, "Only those this assessor observed",
       "CODE"},
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &rubric, "Only those of this rubric", "ID"},
      {"session", 0, 0, G_OPTION_ARG_STRING, &session, "Only this session", "CODE"},
      {"of-record", 0, 0, G_OPTION_ARG_NONE, &of_record,
       "Only the observations that decide the result", NULL},
      {"open", 0, 0, G_OPTION_ARG_NONE, &open_only, "Only those not closed yet", NULL},
      {"wide", 0, 0, G_OPTION_ARG_NONE, &wide,
       "Every column, also where the terminal is too narrow for them", NULL},
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, 0, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  BtSessionFilter filter = {.trainee = trainee,
                            .assessor = assessor,
                            .rubric = rubric,
                            .session = session,
                            .of_record_only = of_record,
                            .open_only = open_only};
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) sessions = bt_book_sessions(book, &filter, &error);
  if (!sessions)
    return cli_error(g_steal_pointer(&error));
  if (json)
    append_sessions_json(cli->out, sessions);
  else if (sessions->len == 0)
    g_string_append(cli->out, trainee || assessor || rubric || session || of_record || open_only
                                  ? "No such sessions; `benchtally sessions` alone lists all.\n"
                                  : "No sessions. `benchtally import FILE` or `benchtally record "
                                    "SESSION` brings some in.\n");
  else
    append_sessions(cli->out, sessions, wide || !isatty(STDOUT_FILENO));
  return 0;
}
