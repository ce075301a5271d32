// SPDX-License-Identifier: GPL-3.0-or-later
#include <stdio.h>
#include <string.h>

#include <benchtally/review.h>

#include "cli/cli.h"

typedef struct {
  gboolean html, pdf, letter;
  char *out, *assessor, *mode;
} Options;

static void options_clear(Options *options) {
  g_free(options->out);
  g_free(options->assessor);
  g_free(options->mode);
}

// The observation that the options mean; 0: that of record. -1: told, *status set.
static gint64 observation_of(BtBook *book, const char *session, const Options *options,
                             int *status) {
  if (!options->assessor && !options->mode)
    return 0;
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) rows =
      bt_book_sessions(book, &(BtSessionFilter){.session = session}, &error);
  if (!rows) {
    *status = cli_error(g_steal_pointer(&error));
    return -1;
  }
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = g_ptr_array_index(rows, i);
    if ((!options->assessor || g_str_equal(row->assessor, options->assessor)) &&
        (!options->mode || g_str_equal(bt_mode_name(row->mode), options->mode)))
      return row->id;
  }
  *status = cli_usage_error("session \"%s\" has no observation by %s%s%s; `benchtally sessions "
                            "--session %s` lists them",
                            session, options->assessor ? options->assessor : "anybody",
                            options->mode ? ", " : "", options->mode ? options->mode : "", session);
  return -1;
}

static bool write_file(Cli *cli, const char *folder, const char *session, const char *ending,
                       const void *bytes, gsize length, char sha256[BT_SHA256_HEX + 1],
                       GError **error) {
  g_autofree char *name = g_strconcat(session, ending, NULL);
  g_autofree char *path = g_build_filename(folder, name, NULL);
  guint8 digest[BT_SHA256_BYTES];
  if (!bt_file_write(path, bytes, length, error))
    return false;
  bt_sha256(bytes, length, digest);
  bt_hex(digest, sizeof digest, sha256);
  g_string_append_printf(cli->out, "%s\n", path);
  return true;
}

// Writes what was asked for; both when nothing was. The hashes of what was not written stay empty.
static bool write_review(Cli *cli, const BtReview *review, const char *session,
                         const Options *options, char html_sha256[BT_SHA256_HEX + 1],
                         char pdf_sha256[BT_SHA256_HEX + 1], GError **error) {
  const char *folder = options->out ? options->out : ".";
  bool both = options->html == options->pdf;
  g_autoptr(GByteArray) pdf = NULL;
  if (both || options->pdf) {
    pdf = bt_review_pdf(review, options->letter ? BT_REVIEW_LETTER : BT_REVIEW_A4, error);
    if (!pdf)
      return false;
  }
  if (both || options->html) {
    g_autofree char *html = bt_review_html(review);
    if (!write_file(cli, folder, session, ".html", html, strlen(html), html_sha256, error))
      return false;
  }
  return !pdf || write_file(cli, folder, session, ".pdf", pdf->data, pdf->len, pdf_sha256, error);
}

// Every export is on the book's chain. A book that cannot be written still gives its review; that
// it was not noted is said.
static int note_exports(const Cli *cli, const char *trainee, const char *html_sha256,
                        const char *pdf_sha256) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = bt_book_open(cli->book_path, BT_BOOK_WRITE, &error);
  if (book &&
      (!*html_sha256 || bt_book_note_export(book, "review.html", trainee, html_sha256, &error)) &&
      (!*pdf_sha256 || bt_book_note_export(book, "review.pdf", trainee, pdf_sha256, &error)))
    return 0;
  return cli_not_noted("review is", error);
}

static int review_session(Cli *cli, BtBook *book, const char *session, const Options *options) {
  int status = 0;
  gint64 observation = observation_of(book, session, options, &status);
  if (observation < 0)
    return status;
  g_autoptr(GError) error = NULL;
  if (!bt_book_hold(book, &error))
    return cli_error(g_steal_pointer(&error));
  g_autoptr(BtReview) review = bt_review_new(book, session, observation, &error);
  bt_book_release(book);
  char html_sha256[BT_SHA256_HEX + 1] = "", pdf_sha256[BT_SHA256_HEX + 1] = "";
  if (!review || !write_review(cli, review, session, options, html_sha256, pdf_sha256, &error))
    return cli_error(g_steal_pointer(&error));
  return note_exports(cli, bt_review_trainee(review), html_sha256, pdf_sha256);
}

int cli_review(Cli *cli, int argc, char **argv) {
  int status = 0;
  Options options = {0};
  const GOptionEntry entries[] = {
      {"html", 0, 0, G_OPTION_ARG_NONE, &options.html, "Only the page for a browser", NULL},
      {"pdf", 0, 0, G_OPTION_ARG_NONE, &options.pdf, "Only the page for print", NULL},
      {"letter", 0, 0, G_OPTION_ARG_NONE, &options.letter, "Letter paper (default: A4)", NULL},
      {"out", 0, 0, G_OPTION_ARG_FILENAME, &options.out, "The folder (default: the current one)",
       "DIR"},
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &options.assessor,
       "This assessor's observation (default: that of record)", "CODE"},
      {"mode", 0, 0, G_OPTION_ARG_STRING, &options.mode, "live, video or self", "MODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status)) {
    options_clear(&options);
    return status;
  }
  g_autoptr(BtBook) book = NULL;
  if (options.out && !g_file_test(options.out, G_FILE_TEST_IS_DIR))
    status = cli_usage_error("%s: no such folder; make it first", options.out);
  else if (options.mode && bt_mode_from_name(options.mode) < 0)
    status = cli_usage_error("--mode %s: it is live, video or self", options.mode);
  else if ((book = cli_open_book(cli, BT_BOOK_READ, &status)) != NULL)
    status = review_session(cli, book, argv[1], &options);
  options_clear(&options);
  return status;
}
