// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the parts of the standard commands share.
#ifndef BENCHTALLY_CLI_STANDARD_H
#define BENCHTALLY_CLI_STANDARD_H

#include <benchtally/study_standard.h>
#include <benchtally/table.h>

#include "cli/cli.h"

#define STANDARD_DECIMALS 1  // of percentages
#define STANDARD_WIDTH    17 // of the names of figures: a row fits 80 columns

// Asked, of all five ways. Strings are owned; a number that was not given is BT_MISSING, a count
// -1.
typedef struct {
  char *rubric, *table, *scores, *take, *on, *note, *by;
  int edition, judges, seed, draws;
  double sem;
  gboolean json, keep;
  // Of the ways by trainees.
  char *group_by, *competent, *rating;
  double competent_from, borderline;
} StandardRequest;

#define STANDARD_REQUEST                                                                           \
  {                                                                                                \
    .judges = -1, .seed = 1, .draws = BT_STANDARD_DRAWS, .sem = BT_MISSING,                        \
    .competent_from = BT_MISSING, .borderline = BT_MISSING                                         \
  }
void standard_request_clear(StandardRequest *request);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(StandardRequest, standard_request_clear)

// Which options a way takes beside those of all.
enum {
  STANDARD_BY_JUDGES = 1, // --scores
  STANDARD_BY_GROUPS = 2, // --group-by, --competent, --rating, --competent-from, --take
  STANDARD_BY_RATING = 4  // --rating, --borderline, --take
};
// The day of "2026-03-04" as the reports have it, "4 Mar 2026"; caller frees.
char *standard_day_words(const char *day);
// Reads the options. False: *status is set and the error was printed.
bool standard_parse(Cli *cli, StandardRequest *request, int ways, int argc, char **argv,
                    int *status);
// The place of --take among `names` (n of them; the first where it is not given), -1: told.
int standard_take(const StandardRequest *request, const char *const *names, int n, int *status);
BtResampling standard_resampling(const StandardRequest *request);

// Scores ----------------------------------------------------------------------

// What a mark is held against, from the book or from a file.
typedef struct {
  gsize n;
  double *score;
  gsize *trainee;
  char **name; // "LK-02 in larkfield-03", or "T-001"
  BtFormer *was;
  bool decided;   // `was` is known
  gsize left_out; // without a score
  gsize trainees;
  gsize *row; // of the table, or of `of_book`
  // From the book; else NULL.
  BtBook *book;
  BtStudy *study;
  BtStudyScores *of_book;
} StandardScores;
void standard_scores_clear(StandardScores *scores);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(StandardScores, standard_scores_clear)

// All of these give the exit status; other than 0, the error was printed.
int standard_scores_of_book(Cli *cli, const StandardRequest *request, StandardScores *scores);
// Of a table with the columns trainee, score and, it may be, outcome. Faults go to `faults`; false
// when there are some.
bool standard_scores_of_table(const BtTable *table, StandardScores *scores, GPtrArray *faults);
// For a mark by judges: from --scores, else from the book when it is meant (`needed`, or a rubric
// is named, or the mark is to be kept); else none.
int standard_scores_beside(Cli *cli, const StandardRequest *request, bool needed,
                           StandardScores *scores);
// Takes out the scores for which `keep` is false, moving `value` (may be NULL) along.
void standard_scores_keep(StandardScores *scores, const bool *keep, double *value);
BtCohortScores standard_cohort(const StandardScores *scores);

// Reads a table and prints its faults; NULL: *status is set.
BtTable *standard_table(const char *path, const char *const *columns, GPtrArray *faults,
                        int *status);
// Prints faults and errors met after that; gives the exit status.
int standard_told(const GPtrArray *faults);
// A column of percentages, 0 to 100, BT_MISSING where empty; unless all may be small, none above 1
// is a fault: those are shares. NULL with faults. Caller frees.
double *standard_percents(const BtTable *table, const char *name, bool may_be_small,
                          GPtrArray *faults);

// Effect ----------------------------------------------------------------------

// What a mark does to scores, from the book or a file.
typedef struct {
  double cut, zone;
  const char *zone_is; // "one standard error of measurement"; static
  BtEstimate pass_rate;
  BtPastEffect past;
  bool decided;
  gint64 from_ms, to_ms; // 0: of a file
  gsize n;
  char **name; // one a place of `past`
  double *score;
} StandardEffect;
void standard_effect_clear(StandardEffect *effect);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(StandardEffect, standard_effect_clear)

StandardEffect standard_effect_of_study(const BtStudy *study, double cut, double sem);
StandardEffect standard_effect_of_scores(const StandardScores *scores, const BtEstimate *cut,
                                         double sem);
void standard_put_effect(GString *out, const StandardEffect *effect);
json_t *standard_json_effect(const StandardEffect *effect); // caller decrefs

// The end of all five ---------------------------------------------------------

typedef struct {
  const char *method;   // "angoff"
  const char *title;    // "Angoff"
  const char *form;     // of the mark, with its source
  BtEstimate cut;       // the mark that is taken
  gsize judges;         // 0: none
  GString *text;        // the way's own figures, as text; owned
  json_t *figures;      // and as JSON; owned
  const char *rests_on; // source and limits, for the last paragraph; static
} StandardResult;
void standard_result_clear(StandardResult *result);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(StandardResult, standard_result_clear)

// Prints the result and what it would do to the scores (n 0: none); keeps it when asked. Gives the
// exit status.
int standard_finish(Cli *cli, const StandardRequest *request, const StandardResult *result,
                    const StandardScores *scores);

// "pass: 71.5", and why it is for the next edition.
void standard_put_next_edition(GString *out, const char *rubric, int edition, gint64 cut_milli);

#endif
