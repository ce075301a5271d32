// SPDX-License-Identifier: GPL-3.0-or-later
//
// strike and amend: corrections after (or during) a session, each with its reason.
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"
#include "cli/raw_event.h"

// Reads the number of an event; 0 when it is none (told).
static int read_event_number(const char *text) {
  gint64 number = 0;
  if (g_ascii_string_to_signed(text, 10, 1, G_MAXINT, &number, NULL))
    return (int)number;
  cli_usage_error("\"%s\" is no event number; `benchtally log SESSION` shows the numbers", text);
  return 0;
}

static void append_new_outcome(Cli *cli, BtBook *book, const BtSessionRow *before) {
  g_autoptr(BtSessionRow) row = cli_reread(book, before);
  g_autofree char *result = row && row->closed ? cli_result_words(row) : NULL;
  if (result)
    g_string_append_printf(cli->out, "The result is now: %s.\n", result);
}

int cli_strike(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_autofree char *assessor = NULL, *mode = NULL, *reason = NULL, *by = NULL;
  const GOptionEntry entries[] = {
      {"reason", 0, 0, G_OPTION_ARG_STRING, &reason, "Why", "TEXT"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &by, "Who corrects (default: login name)", "CODE"},
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &assessor, "Whose observation", "CODE"},
      {"mode", 0, 0, G_OPTION_ARG_STRING, &mode, "live, video or self", "MODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 2, 2, &status) ||
      !cli_reason_given(reason, "a correction", &status))
    return status;
  int seq = read_event_number(argv[2]);
  if (seq == 0)
    return 2;
  g_autoptr(BtBook) book = cli_open_book_as(cli, by, &status);
  g_autoptr(BtSessionRow) row =
      book ? cli_find_observation(book, argv[1], assessor, mode, &status) : NULL;
  if (!row)
    return status;
  g_autoptr(GError) error = NULL;
  if (!bt_book_strike(book, row->id, seq, reason, &error))
    return cli_error(g_steal_pointer(&error));
  g_string_append_printf(cli->out,
                         "Event %d of session %s is struck; the log keeps it with the reason.\n",
                         seq, row->session);
  append_new_outcome(cli, book, row);
  return 0;
}

static void tell_fault(BtField field, int detail, bool warning, char *wrong, char *expected,
                       gpointer user_data) {
  (void)field;
  (void)detail;
  (void)user_data;
  fprintf(stderr, "benchtally: %s%s%s%s\n", warning ? "warning: " : "", wrong, expected ? "; " : "",
          expected ? expected : "");
  g_free(wrong);
  g_free(expected);
}

typedef struct {
  char *time, *action, *site, *item, *value, *redo, *note;
  char **details;
} Changes;

static void changes_clear(Changes *changes) {
  g_free(changes->time);
  g_free(changes->action);
  g_free(changes->site);
  g_free(changes->item);
  g_free(changes->value);
  g_free(changes->redo);
  g_free(changes->note);
  g_strfreev(changes->details);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Changes, changes_clear)

static bool any_change(const Changes *changes) {
  return changes->time || changes->action || changes->site || changes->item || changes->value ||
         changes->redo || changes->note || changes->details;
}

// Lays the changes over the event as it stands.
static bool apply_changes(RawEvent *raw, const Changes *changes) {
  const struct {
    RawField field;
    const char *value;
  } fields[] = {{RAW_TIME, changes->time}, {RAW_ACTION, changes->action}, {RAW_SITE, changes->site},
                {RAW_ITEM, changes->item}, {RAW_VALUE, changes->value},   {RAW_REDO, changes->redo},
                {RAW_NOTE, changes->note}};
  for (gsize i = 0; i < G_N_ELEMENTS(fields); i++) {
    if (fields[i].value)
      raw_event_set(raw, fields[i].field, fields[i].value);
  }
  for (char **detail = changes->details; detail && *detail; detail++) {
    char *equals = strchr(*detail, '=');
    if (!equals) {
      cli_usage_error("--detail \"%s\"; expected NAME=VALUE", *detail);
      return false;
    }
    *equals = '\0';
    raw_event_set_detail(raw, *detail, equals + 1);
  }
  return true;
}

static const BtEvent *find_event(const BtObservation *observation, int seq) {
  for (guint i = 0; i < observation->events->len; i++) {
    const BtEvent *event = &g_array_index(observation->events, BtEvent, i);
    if (event->seq == seq)
      return event;
  }
  return NULL;
}

static int amend(Cli *cli, BtBook *book, const BtSessionRow *row, int seq, const Changes *changes,
                 const char *reason) {
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, row->id, &rubric, &error);
  if (!observation)
    return cli_error(g_steal_pointer(&error));
  const BtEvent *old = find_event(observation, seq);
  if (!old)
    return cli_usage_error(
        "session %s has no event %d in its effective log; `benchtally log %s --all` shows all",
        row->session, seq, row->session);
  g_autoptr(RawEvent) raw = raw_event_new(rubric, old);
  if (!apply_changes(raw, changes))
    return 2;
  BtEvent event;
  BtRawEvent view = raw_event_view(raw);
  g_autofree BtDetailValue *details = g_new(BtDetailValue, (gsize)view.n_details + 1);
  if (!bt_event_resolve(rubric, &view, seq, &event, details, tell_fault, NULL))
    return cli_usage_error("event %d stays as it was", seq);
  if (!bt_book_amend(book, row->id, seq, &event, reason, &error))
    return cli_error(g_steal_pointer(&error));
  g_string_append_printf(cli->out,
                         "Event %d of session %s is amended; the log keeps both with the reason.\n",
                         seq, row->session);
  append_new_outcome(cli, book, row);
  return 0;
}

int cli_amend(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_auto(Changes) changes = {0};
  g_autofree char *assessor = NULL, *mode = NULL, *reason = NULL, *by = NULL;
  const GOptionEntry entries[] = {
      {"time", 0, 0, G_OPTION_ARG_STRING, &changes.time, "When, as m:ss", "TIME"},
      {"action", 0, 0, G_OPTION_ARG_STRING, &changes.action, "What was done", "ACTION"},
      {"site", 0, 0, G_OPTION_ARG_STRING, &changes.site, "Where", "SITE"},
      {"item", 0, 0, G_OPTION_ARG_STRING, &changes.item, "The inject, error, measure or rating",
       "ID"},
      {"value", 0, 0, G_OPTION_ARG_STRING, &changes.value, "The value measured or rated", "VALUE"},
      {"redo", 0, 0, G_OPTION_ARG_STRING, &changes.redo, "yes, the number of an event, or nothing",
       "REDO"},
      {"note", 0, 0, G_OPTION_ARG_STRING, &changes.note, "Note", "TEXT"},
      {"detail", 0, 0, G_OPTION_ARG_STRING_ARRAY, &changes.details, "A detail; may be repeated",
       "NAME=VALUE"},
      {"reason", 0, 0, G_OPTION_ARG_STRING, &reason, "Why", "TEXT"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &by, "Who corrects (default: login name)", "CODE"},
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &assessor, "Whose observation", "CODE"},
      {"mode", 0, 0, G_OPTION_ARG_STRING, &mode, "live, video or self", "MODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 2, 2, &status) ||
      !cli_reason_given(reason, "a correction", &status))
    return status;
  if (!any_change(&changes))
    return cli_usage_error("amend: nothing to change; give --time, --site, --detail or another of "
                           "`benchtally amend --help`");
  int seq = read_event_number(argv[2]);
  if (seq == 0)
    return 2;
  g_autoptr(BtBook) book = cli_open_book_as(cli, by, &status);
  g_autoptr(BtSessionRow) row =
      book ? cli_find_observation(book, argv[1], assessor, mode, &status) : NULL;
  if (!row)
    return status;
  return amend(cli, book, row, seq, &changes, reason);
}
