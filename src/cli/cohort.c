// SPDX-License-Identifier: GPL-3.0-or-later
#include <stdio.h>
#include <unistd.h>

#include <benchtally/workbook.h>

#include "cli/cli.h"

typedef struct {
  char **rubrics;
  char *cohort, *from, *before, *out, *by;
  int suppress;
  gboolean without_names;
} Options;

static void options_clear(Options *options) {
  g_strfreev(options->rubrics);
  g_free(options->cohort);
  g_free(options->from);
  g_free(options->before);
  g_free(options->out);
  g_free(options->by);
}

// A day ("2026-03-04", from its first moment in UTC) or a date with a time; NULL is 0. False: told.
static bool read_date(const char *option, const char *text, gint64 *ms, int *status) {
  *ms = 0;
  if (!text)
    return true;
  g_autofree char *whole = g_strconcat(text, "T00:00:00Z", NULL);
  if ((bt_rfc3339_parse(whole, ms) || bt_rfc3339_parse(text, ms)) && *ms > 0)
    return true;
  g_autofree char *quoted = bt_quoted(text);
  *status = cli_usage_error("--%s: %s is no date; write it as 2026-03-04", option, quoted);
  return false;
}

static bool read_scope(const Options *options, BtCohortScope *scope, int *status) {
  *scope = (BtCohortScope){.rubrics = (const char *const *)options->rubrics,
                           .cohort = options->cohort,
                           .suppress_below = options->suppress,
                           .without_names = options->without_names};
  if (!read_date("from", options->from, &scope->from_ms, status) ||
      !read_date("before", options->before, &scope->before_ms, status))
    return false;
  if (scope->before_ms > 0 && scope->before_ms <= scope->from_ms) {
    *status = cli_usage_error("--before must be later than --from");
    return false;
  }
  if (options->suppress == 0 ||
      (options->suppress >= BT_SUPPRESS_LEAST && options->suppress <= BT_SUPPRESS_MOST))
    return true;
  *status = cli_usage_error("--suppress takes a number from %d to %d; counts below it are hidden",
                            BT_SUPPRESS_LEAST, BT_SUPPRESS_MOST);
  return false;
}

static void show_progress(gint64 done, gint64 all, gpointer user_data) {
  gint64 *told = user_data;
  if (done < *told + 500 && done < all)
    return;
  *told = done;
  fprintf(stderr, "\r%" G_GINT64_FORMAT " of %" G_GINT64_FORMAT " ", done, all);
}

// An export is on the book's chain. A book that cannot be written still gives its workbook; that it
// was not noted is said.
static int note_export(const Cli *cli, const char *by, const char *path) {
  g_autoptr(GError) error = NULL;
  char sha256[BT_SHA256_HEX + 1];
  if (!cli_hash_file(path, sha256, &error))
    return cli_error(g_steal_pointer(&error));
  g_autoptr(BtBook) book = bt_book_open(cli->book_path, BT_BOOK_WRITE, &error);
  if (book && by)
    bt_book_set_actor(book, by);
  if (book && bt_book_note_export(book, "cohort", NULL, sha256, &error))
    return 0;
  return cli_not_noted("workbook is", error);
}

static int write_cohort(Cli *cli, BtBook *book, BtCohortScope *scope, const Options *options) {
  const char *path = options->out ? options->out : "cohort.xlsx";
  g_autoptr(GError) error = NULL;
  gint64 told = 0;
  bool waited_for = isatty(STDERR_FILENO);
  if (waited_for) {
    scope->progress = show_progress;
    scope->user_data = &told;
  }
  bool made = bt_book_hold(book, &error) && bt_cohort_workbook_write(book, scope, path, &error);
  if (waited_for && told > 0)
    fprintf(stderr, "\r                        \r");
  if (!made)
    return cli_error(g_steal_pointer(&error));
  bt_book_release(book);
  g_string_append_printf(cli->out, "%s\n", path);
  return note_export(cli, options->by, path);
}

static int run(Cli *cli, const Options *options) {
  int status = 0;
  BtCohortScope scope;
  if (!read_scope(options, &scope, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  return write_cohort(cli, book, &scope, options);
}

int cli_cohort(Cli *cli, int argc, char **argv) {
  int status = 0;
  Options options = {0};
  const GOptionEntry entries[] = {
      {"rubric", 0, 0, G_OPTION_ARG_STRING_ARRAY, &options.rubrics,
       "Only this exercise; may be given several times", "ID"},
      {"cohort", 0, 0, G_OPTION_ARG_STRING, &options.cohort, "Only trainees of this cohort",
       "NAME"},
      {"from", 0, 0, G_OPTION_ARG_STRING, &options.from, "Only sessions from this day on (UTC)",
       "DATE"},
      {"before", 0, 0, G_OPTION_ARG_STRING, &options.before, "Only sessions before this day (UTC)",
       "DATE"},
      {"out", 0, 0, G_OPTION_ARG_FILENAME, &options.out,
       "The workbook (default: cohort.xlsx in the current folder)", "FILE"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &options.by, "Who takes it away (default: login name)",
       "CODE"},
      {"suppress", 0, 0, G_OPTION_ARG_INT, &options.suppress,
       "For sharing: nobody alone, no count below this nor what gives it away", "N"},
      {"without-names", 0, 0, G_OPTION_ARG_NONE, &options.without_names, "Codes alone", NULL},
      G_OPTION_ENTRY_NULL};
  if (cli_parse(cli, &argc, &argv, entries, 0, 0, &status))
    status = run(cli, &options);
  options_clear(&options);
  return status;
}
