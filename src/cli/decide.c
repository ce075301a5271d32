// SPDX-License-Identifier: GPL-3.0-or-later
//
// decide: a director names the observation that decides a session's result.
#include "cli/cli.h"

static void append_decided(GString *out, const BtSessionRow *row) {
  g_string_append_printf(out, "Session %s: the observation by %s (%s) decides", row->session,
                         row->assessor, bt_mode_name(row->mode));
  g_autofree char *result = cli_result_words(row);
  if (result)
    g_string_append_printf(out, ": %s", result);
  g_string_append(out, ".\n");
}

int cli_decide(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_autofree char *assessor = NULL, *mode = NULL, *reason = NULL, *by = NULL;
  const GOptionEntry entries[] = {
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &assessor, "Whose observation", "CODE"},
      {"mode", 0, 0, G_OPTION_ARG_STRING, &mode, "live or video", "MODE"},
      {"reason", 0, 0, G_OPTION_ARG_STRING, &reason, "Why", "TEXT"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &by, "Who decides (default: login name)", "CODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status) ||
      !cli_reason_given(reason, "a decision", &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book_as(cli, by, &status);
  g_autoptr(BtSessionRow) row =
      book ? cli_find_observation(book, argv[1], assessor, mode, &status) : NULL;
  if (!row)
    return status;
  g_autoptr(GError) error = NULL;
  if (!bt_book_name_record(book, row->id, reason, &error))
    return cli_error(g_steal_pointer(&error));
  append_decided(cli->out, row);
  return 0;
}
