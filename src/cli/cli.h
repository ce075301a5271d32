// SPDX-License-Identifier: GPL-3.0-or-later
//
// What every command of the program shares: the table of commands, options, errors, output.
#ifndef BENCHTALLY_CLI_H
#define BENCHTALLY_CLI_H

#include <stdbool.h>

#include <glib.h>

#include <benchtally/book.h>
#include <jansson.h>

typedef struct Command Command;

// What a command is given. Output goes to `out` and is written, checked, when the command is done;
// cli_flush writes earlier, for long output.
typedef struct {
  const Command *command;
  char *book_path; // from --book, the environment or the default; owned
  GString *out;
} Cli;

struct Command {
  const char *name;      // "rubric check"
  const char *arguments; // "FILE..."; "" for none
  const char *summary;   // one line
  const char *details;   // more, with an example that works
  // argv[0] is the program; returns the exit status. NULL: another program has it.
  int (*run)(Cli *cli, int argc, char **argv);
  const char *program; // the file beside this program's; NULL: this one
};

// Ends with a row whose name is NULL.
extern const Command cli_commands[];

// Parses options in place, leaving argv[1..] as the arguments; --help is answered here and exits.
// False: *status is set and the error was printed. `least`..`most` is how many arguments there must
// be (most -1: any number).
bool cli_parse(Cli *cli, int *argc, char ***argv, const GOptionEntry *entries, int least, int most,
               int *status);

// Takes `path` (copied) as the book. False: it is empty; *status is set and the error was printed.
bool cli_set_book(Cli *cli, const char *path, int *status);

// Becomes the program that has cli->command, with the same arguments. Returns only when it cannot
// be found (told; the exit status).
int cli_hand_on(const Cli *cli, char **argv);

// Prints "benchtally: message" to standard error and gives the exit status of the error. Takes
// `error` over.
int cli_error(GError *error);
// The same for a request that was wrong (status 2).
int cli_usage_error(const char *format, ...) G_GNUC_PRINTF(1, 2);
// Whether a reason was given; what is only blanks is none (told: "`what` needs its reason", and
// *status is 2).
bool cli_reason_given(const char *reason, const char *what, int *status);
// Prints every fault to standard error; one that stands on three lines or more once, with those
// lines.
void cli_print_faults(const GPtrArray *faults);

// Writes what stands in cli->out. False when standard output cannot take it (told on standard
// error).
bool cli_flush(Cli *cli);

// Says that a document ("review is", "workbooks are") is made but not on the book's chain, and
// gives the exit status: a book that cannot be written still gives its documents.
int cli_not_noted(const char *document, const GError *error);

// The SHA-256 in hex of a file that was written, for the book's chain. False with `error`.
bool cli_hash_file(const char *path, char sha256[BT_SHA256_HEX + 1], GError **error);

// Opens the book; NULL: the error was printed and *status set.
BtBook *cli_open_book(const Cli *cli, BtBookMode mode, int *status);
// Opens the book to write in the name of `by` (NULL: the login name); NULL as above.
BtBook *cli_open_book_as(const Cli *cli, const char *by, int *status);

// The one observation of `session` that is meant; assessor and mode may be NULL when that is clear.
// NULL: the error was printed and *status set. Caller frees.
BtSessionRow *cli_find_observation(BtBook *book, const char *session, const char *assessor,
                                   const char *mode, int *status);

// The same observation as the book has it now; NULL when it cannot be read. Caller frees.
BtSessionRow *cli_reread(BtBook *book, const BtSessionRow *row);

// "Pass, 90.2 % of the points", or "Undecided, no points" for a result without a total; NULL while
// none is issued. Caller frees.
char *cli_result_words(const BtSessionRow *row);

// Appends a list of objects, one a line with sorted keys; takes `list` over. Build the objects with
// json_pack: "s?" gives null for NULL.
void cli_append_json(GString *out, json_t *list);

// What a number for --edition holds until the option is given.
#define CLI_LATEST_EDITION G_MININT
// Turns what --edition left in `edition` into the edition asked for, 0 for the latest. False: it is
// no edition, which is told, *status set.
bool cli_take_edition(int *edition, int *status);

// How wide the terminal is; 80 when standard output is none.
int cli_columns(void);
// Bold may be used: standard output is a terminal and NO_COLOR is not set.
bool cli_bold(void);

// A table of text: each row has as many cells as `heads`; columns are as wide as they must be,
// numbers (heads beginning with '>') stand right. Appends to `out`.
void cli_table(GString *out, const char *const *heads, const GPtrArray *rows, bool bold);
// The same within `columns`: as long as it is wider, the columns of `least_needed` (numbers from 0,
// ended by -1; NULL: none) are left out one by one, which is told below the table.
void cli_table_fit(GString *out, const char *const *heads, const GPtrArray *rows, bool bold,
                   int columns, const int *least_needed);
// A row for cli_table of `n` strings, NULL as "". Caller frees with g_strfreev (the array can do
// it).
char **cli_row(int n, ...);

int cli_rubric_check(Cli *cli, int argc, char **argv);
int cli_rubric_add(Cli *cli, int argc, char **argv);
int cli_rubric_list(Cli *cli, int argc, char **argv);
int cli_person_add(Cli *cli, int argc, char **argv);
int cli_person_amend(Cli *cli, int argc, char **argv);
int cli_person_list(Cli *cli, int argc, char **argv);
int cli_person_account(Cli *cli, int argc, char **argv);
int cli_record(Cli *cli, int argc, char **argv);
int cli_import(Cli *cli, int argc, char **argv);
int cli_sessions(Cli *cli, int argc, char **argv);
int cli_log(Cli *cli, int argc, char **argv);
int cli_strike(Cli *cli, int argc, char **argv);
int cli_amend(Cli *cli, int argc, char **argv);
int cli_decide(Cli *cli, int argc, char **argv);
int cli_score(Cli *cli, int argc, char **argv);
int cli_reliability(Cli *cli, int argc, char **argv);
int cli_standard_angoff(Cli *cli, int argc, char **argv);
int cli_standard_ebel(Cli *cli, int argc, char **argv);
int cli_standard_contrasting(Cli *cli, int argc, char **argv);
int cli_standard_borderline(Cli *cli, int argc, char **argv);
int cli_standard_hofstee(Cli *cli, int argc, char **argv);
int cli_standard_list(Cli *cli, int argc, char **argv);
int cli_standard_adopt(Cli *cli, int argc, char **argv);
int cli_workbook(Cli *cli, int argc, char **argv);
int cli_review(Cli *cli, int argc, char **argv);
int cli_cohort(Cli *cli, int argc, char **argv);
int cli_agreement(Cli *cli, int argc, char **argv);
int cli_curve(Cli *cli, int argc, char **argv);
int cli_serve(Cli *cli, int argc, char **argv);
int cli_verify(Cli *cli, int argc, char **argv);
int cli_backup(Cli *cli, int argc, char **argv);

#endif
