// SPDX-License-Identifier: GPL-3.0-or-later
//
// verify and backup.
#include "cli/cli.h"

int cli_verify(Cli *cli, int argc, char **argv) {
  int status = 0;
  if (!cli_parse(cli, &argc, &argv, NULL, 0, 1, &status) ||
      (argc > 1 && !cli_set_book(cli, argv[1], &status)))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  BtVerifyReport report = {0};
  g_autoptr(GError) error = NULL;
  if (!bt_book_verify(book, &report, &error))
    return cli_error(g_steal_pointer(&error));
  for (guint i = 0; i < report.findings->len; i++)
    g_string_append_printf(cli->out, "%s\n", (const char *)report.findings->pdata[i]);
  g_autofree char *records = bt_count_of(report.records_checked, "record", NULL);
  g_autofree char *observations = bt_count_of(report.observations_checked, "observation", NULL);
  status = report.findings->len > 0;
  if (status) {
    g_autofree char *findings = bt_count_of(report.findings->len, "finding", NULL);
    g_string_append_printf(cli->out,
                           "%s: %s; keep the file as it is and compare it with a backup\n",
                           bt_book_path(book), findings);
  } else {
    char head[BT_SHA256_HEX + 1];
    gint64 n = 0;
    g_string_append_printf(cli->out, "%s: every record holds (%s in %s)\n", bt_book_path(book),
                           records, observations);
    if (bt_book_head(book, head, &n, NULL))
      g_string_append_printf(cli->out, "Head of the book: %s (record %" G_GINT64_FORMAT ")\n", head,
                             n);
  }
  bt_verify_report_clear(&report);
  return status;
}

int cli_backup(Cli *cli, int argc, char **argv) {
  int status = 0;
  if (!cli_parse(cli, &argc, &argv, NULL, 1, 1, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  if (!bt_book_backup(book, argv[1], &error))
    return cli_error(g_steal_pointer(&error));
  g_string_append_printf(cli->out, "%s: copied and checked\n", argv[1]);
  return 0;
}
