// SPDX-License-Identifier: GPL-3.0-or-later
#include <stdio.h>
#include <unistd.h>

#include <benchtally/workbook.h>

#include "cli/cli.h"

typedef struct {
  char *trainee;
  char sha256[BT_SHA256_HEX + 1];
} Made;

static void made_free(gpointer data) {
  Made *made = data;
  g_free(made->trainee);
  g_free(made);
}

static int write_one(Cli *cli, BtWorkbookContext *context, const char *trainee, const char *folder,
                     GPtrArray *all_made) {
  g_autoptr(GError) error = NULL;
  g_autofree char *name = g_strconcat(trainee, ".xlsx", NULL);
  g_autofree char *path = g_build_filename(folder, name, NULL);
  Made *made = g_new0(Made, 1);
  made->trainee = g_strdup(trainee);
  g_ptr_array_add(all_made, made);
  if (!bt_workbook_write(context, trainee, path, &error) ||
      !cli_hash_file(path, made->sha256, &error)) {
    g_ptr_array_remove_index(all_made, all_made->len - 1);
    return cli_error(g_steal_pointer(&error));
  }
  g_string_append_printf(cli->out, "%s\n", path);
  return cli_flush(cli) ? 0 : 3;
}

// Every export is on the book's chain. A book that cannot be written still gives its workbooks;
// that they were not noted is said.
static int note_exports(const Cli *cli, const char *by, const GPtrArray *all_made) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = bt_book_open(cli->book_path, BT_BOOK_WRITE, &error);
  if (book && by)
    bt_book_set_actor(book, by);
  for (guint i = 0; book && i < all_made->len; i++) {
    const Made *made = all_made->pdata[i];
    if (!bt_book_note_export(book, "workbook", made->trainee, made->sha256, &error))
      break;
  }
  if (!error)
    return 0;
  return cli_not_noted("workbooks are", error);
}

// The trainees who have at least one closed session.
static GPtrArray *trainees_with_sessions(BtBook *book, GError **error) {
  g_autoptr(GPtrArray) sessions = bt_book_sessions(book, NULL, error);
  if (!sessions)
    return NULL;
  GPtrArray *codes = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < sessions->len; i++) {
    const BtSessionRow *row = sessions->pdata[i];
    if (row->closed && g_hash_table_add(seen, row->trainee))
      g_ptr_array_add(codes, g_strdup(row->trainee));
  }
  return codes;
}

static GPtrArray *named_trainees(char **names, int n) {
  GPtrArray *codes = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; i < n; i++)
    g_ptr_array_add(codes, g_strdup(names[i]));
  return codes;
}

static int write_all(Cli *cli, const GPtrArray *trainees, BtBook *book, const char *folder,
                     GPtrArray *all_made) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtWorkbookContext) context = bt_workbook_context_new(book, &error);
  if (!context)
    return cli_error(g_steal_pointer(&error));
  bool waited_for = isatty(STDERR_FILENO) && !isatty(STDOUT_FILENO);
  int status = 0;
  for (guint i = 0; i < trainees->len && status == 0; i++) {
    status = write_one(cli, context, trainees->pdata[i], folder, all_made);
    if (waited_for)
      fprintf(stderr, "\r%u of %u ", i + 1, trainees->len);
  }
  if (waited_for)
    fprintf(stderr, "\r                \r");
  return status;
}

int cli_workbook(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean all = FALSE;
  g_autofree char *out = NULL, *by = NULL;
  const GOptionEntry entries[] = {
      {"all", 0, 0, G_OPTION_ARG_NONE, &all, "For every trainee with a closed session", NULL},
      {"out", 0, 0, G_OPTION_ARG_FILENAME, &out, "The folder (default: the current one)", "DIR"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &by, "Who takes them away (default: login name)", "CODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, -1, &status))
    return status;
  if (all == (argc > 1))
    return cli_usage_error("workbook takes either trainees or --all");
  const char *folder = out ? out : ".";
  if (!g_file_test(folder, G_FILE_TEST_IS_DIR))
    return cli_usage_error("%s: no such folder; make it first", folder);
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  if (!bt_book_hold(book, &error))
    return cli_error(g_steal_pointer(&error));
  g_autoptr(GPtrArray) trainees =
      all ? trainees_with_sessions(book, &error) : named_trainees(argv + 1, argc - 1);
  if (!trainees)
    return cli_error(g_steal_pointer(&error));
  g_autoptr(GPtrArray) all_made = g_ptr_array_new_with_free_func(made_free);
  status = write_all(cli, trainees, book, folder, all_made);
  bt_book_release(book);
  int noted = all_made->len > 0 ? note_exports(cli, by, all_made) : 0;
  return MAX(status, noted);
}
