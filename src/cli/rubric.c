// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/rubric.h>

#include "cli/cli.h"

// Reads one file and tells its faults. NULL: *status is 1 for faults, else that of the error.
static BtRubric *read_rubric(const char *path, int *status) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  BtRubric *rubric = bt_rubric_read_file(path, faults, &error);
  cli_print_faults(faults);
  if (error)
    *status = cli_error(g_steal_pointer(&error));
  else if (!rubric)
    *status = 1;
  return rubric;
}

int cli_rubric_check(Cli *cli, int argc, char **argv) {
  int status = 0;
  if (!cli_parse(cli, &argc, &argv, NULL, 1, -1, &status))
    return status;
  for (int i = 1; i < argc; i++) {
    int its_status = 0;
    g_autoptr(BtRubric) rubric = read_rubric(argv[i], &its_status);
    status = MAX(status, its_status);
    if (!rubric)
      continue;
    g_autofree char *checkpoints = bt_count_of(rubric->n_checkpoints, "checkpoint", NULL);
    g_autofree char *rules = bt_count_of(rubric->n_rules, "order rule", NULL);
    g_string_append_printf(cli->out, "%s: good: %s, edition %d (%s, %s)\n", argv[i], rubric->id,
                           rubric->edition, checkpoints, rules);
  }
  return status;
}

int cli_rubric_add(Cli *cli, int argc, char **argv) {
  int status = 0;
  if (!cli_parse(cli, &argc, &argv, NULL, 1, -1, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_CREATE, &status);
  for (int i = 1; book && i < argc && status == 0; i++) {
    g_autoptr(BtRubric) rubric = read_rubric(argv[i], &status);
    if (!rubric)
      return status == 1 ? 2 : status; // here a faulty rubric is a wrong request
    bool added = false;
    g_autoptr(GError) error = NULL;
    if (!bt_book_add_rubric(book, rubric, &added, &error))
      return cli_error(g_steal_pointer(&error));
    g_string_append_printf(cli->out, "%s, edition %d: %s\n", rubric->id, rubric->edition,
                           added ? "added" : "already in the book, the same text");
  }
  return status;
}

static void append_editions_json(GString *out, const GPtrArray *editions) {
  json_t *list = json_array();
  for (guint i = 0; i < editions->len; i++) {
    const BtEdition *edition = editions->pdata[i];
    g_autofree char *added = bt_rfc3339_format(edition->added_ms);
    json_array_append_new(list, json_pack("{ss si ss si ss ss}", "added", added, "edition",
                                          edition->edition, "rubric", edition->rubric, "sessions",
                                          edition->sessions, "sha256", edition->sha256, "title",
                                          edition->title));
  }
  cli_append_json(out, list);
}

static void append_editions(GString *out, const GPtrArray *editions) {
  static const char *const heads[] = {"rubric", ">edition", ">sessions", "added", "title", NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint i = 0; i < editions->len; i++) {
    const BtEdition *edition = editions->pdata[i];
    g_autofree char *number = g_strdup_printf("%d", edition->edition);
    g_autofree char *sessions = g_strdup_printf("%d", edition->sessions);
    g_autofree char *added = bt_date_format(edition->added_ms);
    g_ptr_array_add(rows, cli_row(5, edition->rubric, number, sessions, added, edition->title));
  }
  cli_table(out, heads, rows, cli_bold());
}

int cli_rubric_list(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean json = FALSE;
  const GOptionEntry entries[] = {{"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON", NULL},
                                  G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, 0, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) editions = bt_book_editions(book, &error);
  if (!editions)
    return cli_error(g_steal_pointer(&error));
  if (json)
    append_editions_json(cli->out, editions);
  else if (editions->len == 0)
    g_string_append(cli->out,
                    "No rubric in the book yet; `benchtally rubric add FILE` puts one in.\n");
  else
    append_editions(cli->out, editions);
  return 0;
}
