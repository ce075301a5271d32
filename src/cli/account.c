// SPDX-License-Identifier: GPL-3.0-or-later
//
// Accounts of the web service, from the terminal: how the first director gets in.
#include <benchtally/account.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "cli/cli.h"

// Asking ----------------------------------------------------------------------

// A line of standard input without its end; false at the end of input.
static bool read_line(char *line, size_t size) {
  if (!fgets(line, (int)size, stdin))
    return false;
  line[strcspn(line, "\r\n")] = '\0';
  return true;
}

// The same from a terminal that does not show what is typed.
static bool read_hidden(const char *prompt, char *line, size_t size) {
  struct termios shown;
  fputs(prompt, stderr);
  bool terminal = tcgetattr(STDIN_FILENO, &shown) == 0;
  if (terminal) {
    struct termios hidden = shown;
    hidden.c_lflag &= ~(tcflag_t)ECHO;
    tcsetattr(STDIN_FILENO, TCSAFLUSH, &hidden);
  }
  bool read = read_line(line, size);
  if (terminal)
    tcsetattr(STDIN_FILENO, TCSAFLUSH, &shown);
  fputc('\n', stderr);
  return read;
}

static bool ask(char *secret, size_t size, int *status) {
  char again[BT_SECRET_BYTES_MAX + 2] = "";
  bool terminal = isatty(STDIN_FILENO);
  bool read = terminal ? read_hidden("Passphrase: ", secret, size) : read_line(secret, size);
  if (!read)
    *status = cli_usage_error("no passphrase was given; type one, or give it on standard input");
  else if (terminal &&
           (!read_hidden("Once more: ", again, sizeof again) || strcmp(secret, again) != 0))
    *status = cli_usage_error("the two were not the same; nothing was changed");
  return *status == 0;
}

// Setting and removing --------------------------------------------------------

static int set_account(Cli *cli, BtBook *book, const BtPerson *person) {
  int status = 0;
  char secret[BT_SECRET_BYTES_MAX + 2] = "";
  g_autoptr(GError) error = NULL;
  if (!ask(secret, sizeof secret, &status))
    return status;
  g_autofree char *hash =
      bt_secret_fits(person->role, secret, &error) ? bt_secret_hash(secret, &error) : NULL;
  if (!hash || !bt_book_set_account(book, person->code, hash, NULL, &error))
    return cli_error(g_steal_pointer(&error));
  g_string_append_printf(cli->out, "%s: may log in\n", person->code);
  return 0;
}

static int remove_account(Cli *cli, BtBook *book, const char *code) {
  bool removed = false;
  g_autoptr(GError) error = NULL;
  if (!bt_book_remove_account(book, code, &removed, &error))
    return cli_error(g_steal_pointer(&error));
  g_string_append_printf(cli->out, "%s: %s\n", code,
                         removed ? "may no longer log in" : "had no account");
  return 0;
}

int cli_person_account(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean remove = FALSE;
  g_autofree char *by = NULL;
  const GOptionEntry entries[] = {
      {"remove", 0, 0, G_OPTION_ARG_NONE, &remove, "Take the account away", NULL},
      {"by", 0, 0, G_OPTION_ARG_STRING, &by, "Who changes it (default: login name)", "CODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book_as(cli, by, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  g_autoptr(BtPerson) person = bt_book_person(book, argv[1], &error);
  if (error)
    return cli_error(g_steal_pointer(&error));
  if (!person)
    return cli_usage_error("no person \"%s\" in the book; `benchtally person list` shows the codes",
                           argv[1]);
  return remove ? remove_account(cli, book, person->code) : set_account(cli, book, person);
}
