// SPDX-License-Identifier: GPL-3.0-or-later
#include <stdio.h>
#include <unistd.h>

#include "cli/cli.h"

// Progress is for a person who waits: on a terminal, and not for files that take no time.
static void show_progress(gint64 done, gint64 all, gpointer user_data) {
  (void)user_data;
  if (all > 8 * 1024 * 1024)
    fprintf(stderr, "\r%3d %%", (int)(done * 100 / all));
}

static void append_count(GString *out, const char *path, const BtImportCount *count) {
  g_autofree char *events = bt_count_of(count->events, "event", NULL);
  g_autofree char *sessions = bt_count_of(count->sessions, "new session", NULL);
  g_autofree char *observations = bt_count_of(count->observations, "observation", NULL);
  g_string_append_printf(out, "%s: %s added in %s (%s)", path, events, observations, sessions);
  if (count->events_already > 0) {
    g_autofree char *already = bt_count_of(count->events_already, "event", NULL);
    g_autofree char *there = bt_count_of(count->observations_already, "observation", NULL);
    g_string_append_printf(out, "; %s in %s already there", already, there);
  }
  g_string_append_c(out, '\n');
}

static int import_file(Cli *cli, BtBook *book, const char *path) {
  BtImportCount count = {0};
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  bool terminal = isatty(STDERR_FILENO);
  bool done =
      bt_book_import(book, path, &count, faults, terminal ? show_progress : NULL, NULL, &error);
  if (terminal)
    fprintf(stderr, "\r     \r");
  cli_print_faults(faults);
  if (error)
    return cli_error(g_steal_pointer(&error));
  if (!done)
    return cli_usage_error("%s: nothing of this file was taken in; the book is as it was", path);
  append_count(cli->out, path, &count);
  return cli_flush(cli) ? 0 : 3;
}

int cli_import(Cli *cli, int argc, char **argv) {
  int status = 0;
  if (!cli_parse(cli, &argc, &argv, NULL, 1, -1, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_WRITE, &status);
  for (int i = 1; book && i < argc && status == 0; i++)
    status = import_file(cli, book, argv[i]);
  return status;
}
