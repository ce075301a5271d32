// SPDX-License-Identifier: GPL-3.0-or-later
#include <locale.h>
#include <malloc.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <benchtally/version.h>

#include "cli/cli.h"

static const char cautions[] =
    "Benchtally keeps training records. They are no certificate of clinical competence. Saws, "
    "drills, wires and dust\n"
    "hurt people: eye protection, gloves, suction and supervision as the lab's own rules say.\n";

static void append_overview(GString *out) {
  g_string_append(
      out, "Records what trainees do in a bench lab, scores it against a rubric, and reports "
           "progress.\n\n"
           "Usage: benchtally [--book FILE] COMMAND [OPTION...] [ARGUMENT...]\n\nCommands:\n");
  int width = 0;
  for (const Command *command = cli_commands; command->name; command++)
    width = MAX(width, (int)strlen(command->name));
  for (const Command *command = cli_commands; command->name; command++)
    g_string_append_printf(out, "  %-*s %s\n", width, command->name, command->summary);
  g_string_append(out, "\nEach command tells more with --help: `benchtally score --help`.\n"
                       "The book is the file named by --book, else by $BENCHTALLY_BOOK, else "
                       "benchtally/book.db in the "
                       "user's data folder.\n"
                       "Exit status: 0 done; 1 the answer is no; 2 the request was wrong; 3 the "
                       "machine failed.\n\n");
  g_string_append(out, cautions);
}

// How many words of the command's name stand at the front of `words`: 0 when it is another command.
static int name_length(const Command *command, char **words) {
  g_auto(GStrv) name = g_strsplit(command->name, " ", -1);
  int n = 0;
  for (; name[n]; n++) {
    if (!words[n] || strcmp(words[n], name[n]) != 0)
      return 0;
  }
  return n;
}

// "`benchtally person add`, `benchtally person list`": the commands that begin with the word; NULL:
// none. Caller frees.
static char *commands_of(const char *word) {
  g_autofree char *start = g_strconcat(word, " ", NULL);
  GString *list = g_string_new(NULL);
  for (const Command *command = cli_commands; command->name; command++) {
    if (g_str_has_prefix(command->name, start))
      g_string_append_printf(list, "%s`benchtally %s`", list->len ? ", " : "", command->name);
  }
  return g_string_free(list, list->len == 0);
}

static int unknown_command(char **words) {
  const char *names[64];
  gsize n = 0;
  for (const Command *command = cli_commands; command->name && n < G_N_ELEMENTS(names); command++)
    names[n++] = command->name;
  bool two_words = false;
  for (gsize i = 0; i < n; i++)
    two_words |= strchr(names[i], ' ') && strncmp(names[i], words[0], strlen(words[0])) == 0;
  g_autofree char *said =
      two_words && words[1] ? g_strjoin(" ", words[0], words[1], NULL) : g_strdup(words[0]);
  g_autofree char *group = !words[1] ? commands_of(words[0]) : NULL;
  if (group)
    return cli_usage_error("\"%s\" is half a command; there are %s", words[0], group);
  const char *meant = bt_closest_word(said, names, n);
  if (meant)
    return cli_usage_error("no command \"%s\"; did you mean `benchtally %s`?", said, meant);
  return cli_usage_error("no command \"%s\"; `benchtally --help` lists them", said);
}

// Takes the options that stand before the command. Returns how many words they were, -1 when one is
// wrong or it was answered (*status).
static int take_global_options(Cli *cli, char **words, int *status) {
  int n = 0;
  for (; words[n] && words[n][0] == '-'; n++) {
    const char *word = words[n];
    if (strcmp(word, "--version") == 0) {
      g_string_append_printf(cli->out, "benchtally %s\n", bt_version());
      return -1;
    }
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0) {
      append_overview(cli->out);
      return -1;
    }
    const char *value = g_str_has_prefix(word, "--book=") ? word + strlen("--book=")
                        : strcmp(word, "--book") == 0     ? words[++n]
                                                          : NULL;
    if (!value) {
      *status = strncmp(word, "--book", 6) == 0
                    ? cli_usage_error("--book needs a file name")
                    : cli_usage_error("no option \"%s\" before the command; "
                                      "`benchtally --help` tells more",
                                      word);
      return -1;
    }
    if (!cli_set_book(cli, value, status))
      return -1;
  }
  return n;
}

static int run_command(Cli *cli, int argc, char **argv, int first) {
  int longest = 0;
  for (const Command *command = cli_commands; command->name; command++) {
    int n = name_length(command, argv + first);
    if (n > longest) {
      longest = n;
      cli->command = command;
    }
  }
  if (longest == 0)
    return unknown_command(argv + first);
  if (!cli->command->run)
    return cli_hand_on(cli, argv);
  // The command sees argv[0] and what follows its own name.
  int skip = first + longest - 1;
  argv[skip] = argv[0];
  return cli->command->run(cli, argc - skip, argv + skip);
}

static char *default_book_path(void) {
  const char *named = g_getenv("BENCHTALLY_BOOK");
  if (named && *named)
    return g_strdup(named);
  return g_build_filename(g_get_user_data_dir(), "benchtally", "book.db", NULL);
}

// Memory that was given back is soon wanted again: asking the kernel for it each time costs more
// than keeping it.
static void keep_memory(void) {
  mallopt(M_TRIM_THRESHOLD, 64 * 1024 * 1024);
  mallopt(M_MMAP_THRESHOLD, 32 * 1024 * 1024);
  mallopt(M_TOP_PAD, 1024 * 1024);
}

// Texts of the system in the user's language; numbers stay as the formats demand. The C locale, as
// over ssh or from a timer, knows only ASCII, and names are UTF-8.
static void set_locale(void) {
  const char *characters = setlocale(LC_CTYPE, "");
  if (!characters || strcmp(characters, "C") == 0 || strcmp(characters, "POSIX") == 0)
    setlocale(LC_CTYPE, "C.UTF-8");
  setlocale(LC_MESSAGES, "");
}

int main(int argc, char **argv) {
  keep_memory();
  set_locale();
  // A file that may grow no further, or a reader that has gone, is an error of writing, not the end
  // of the program.
  signal(SIGXFSZ, SIG_IGN);
  signal(SIGPIPE, SIG_IGN);
  Cli cli = {.book_path = default_book_path(), .out = g_string_new(NULL)};
  int status = 0;
  int options = take_global_options(&cli, argv + 1, &status);
  if (options >= 0 && !argv[1 + options]) {
    append_overview(cli.out);
    fputs(cli.out->str, stderr);
    g_string_truncate(cli.out, 0);
    status = 2;
  } else if (options >= 0) {
    status = run_command(&cli, argc, argv, 1 + options);
  }
  if (!cli_flush(&cli))
    status = 3;
  g_string_free(cli.out, TRUE);
  g_free(cli.book_path);
  return status;
}
