// SPDX-License-Identifier: GPL-3.0-or-later
//
// The scores that pass marks are set by or held against.
#include <string.h>

#include "cli/standard.h"

void standard_scores_clear(StandardScores *scores) {
  for (gsize i = 0; i < scores->n; i++)
    g_free(scores->name[i]);
  g_free(scores->name);
  g_free(scores->score);
  g_free(scores->trainee);
  g_free(scores->was);
  g_free(scores->row);
  bt_study_scores_free(scores->of_book);
  bt_study_free(scores->study);
  bt_book_close(scores->book);
}

static void make_room(StandardScores *scores, gsize n) {
  scores->score = g_new(double, n + 1);
  scores->trainee = g_new(gsize, n + 1);
  scores->name = g_new0(char *, n + 1);
  scores->was = g_new0(BtFormer, n + 1);
  scores->row = g_new(gsize, n + 1);
}

BtCohortScores standard_cohort(const StandardScores *scores) {
  return (BtCohortScores){.n = scores->n, .score = scores->score, .trainee = scores->trainee};
}

static gsize count_trainees(const StandardScores *scores) {
  g_autoptr(GHashTable) seen = g_hash_table_new(NULL, NULL);
  for (gsize i = 0; i < scores->n; i++)
    g_hash_table_add(seen, GSIZE_TO_POINTER(scores->trainee[i]));
  return g_hash_table_size(seen);
}

void standard_scores_keep(StandardScores *scores, const bool *keep, double *value) {
  gsize n = 0;
  for (gsize i = 0; i < scores->n; i++) {
    if (!keep[i]) {
      g_free(scores->name[i]);
      scores->left_out++;
      continue;
    }
    scores->score[n] = scores->score[i];
    scores->trainee[n] = scores->trainee[i];
    scores->name[n] = scores->name[i];
    scores->was[n] = scores->was[i];
    scores->row[n] = scores->row[i];
    if (value)
      value[n] = value[i];
    n++;
  }
  scores->n = n;
  scores->trainees = count_trainees(scores);
}

// The book --------------------------------------------------------------------

int standard_scores_of_book(Cli *cli, const StandardRequest *request, StandardScores *scores) {
  int status = 0;
  g_autoptr(GError) error = NULL;
  BtStudyScope scope = {.rubric = request->rubric, .edition = request->edition};
  if (!(scores->book = cli_open_book(cli, BT_BOOK_READ, &status)))
    return status;
  if (!(scores->study = bt_study_read(scores->book, &scope, NULL, NULL, &error)))
    return cli_error(g_steal_pointer(&error));
  scores->of_book = bt_study_scores(scores->study, 0, 0);
  const BtStudyScores *found = scores->of_book;
  make_room(scores, found->n);
  for (gsize i = 0; i < found->n; i++) {
    const BtSessionRow *row = found->row[i]->row;
    scores->score[i] = found->score[i];
    scores->trainee[i] = found->trainee[i];
    scores->was[i] = found->was[i];
    scores->row[i] = i;
    scores->name[i] = g_strdup_printf("%s in %s", row->trainee, row->session);
  }
  scores->n = found->n;
  scores->trainees = found->trainees;
  scores->left_out = found->without_total;
  scores->decided = true;
  return 0;
}

// Tables ----------------------------------------------------------------------

BtTable *standard_table(const char *path, const char *const *columns, GPtrArray *faults,
                        int *status) {
  g_autoptr(GError) error = NULL;
  BtTable *table = bt_table_read(path, columns, faults, &error);
  if (error)
    *status = cli_error(g_steal_pointer(&error));
  else if (!table)
    *status = standard_told(faults);
  return table;
}

int standard_told(const GPtrArray *faults) {
  cli_print_faults(faults);
  return bt_faults_count_errors((GPtrArray *)faults) ? 2 : 0;
}

double *standard_percents(const BtTable *table, const char *name, bool may_be_small,
                          GPtrArray *faults) {
  int column = bt_table_column(table, name);
  double *percent = bt_table_numbers(table, column, faults);
  bool shares = percent && !may_be_small, any = false;
  for (gsize row = 0; percent && row < bt_table_rows(table); row++) {
    if (bt_is_missing(percent[row]))
      continue;
    if (percent[row] < 0 || percent[row] > 100)
      bt_table_fault(table, row, column, faults, "a percentage from 0 to 100 is expected");
    shares &= percent[row] <= 1;
    any |= percent[row] > 0;
  }
  if (shares && any)
    bt_table_fault(table, 0, column, faults,
                   "none is above 1: these look like shares; write percentages, 70 for 0.7");
  if (bt_faults_count_errors(faults))
    g_clear_pointer(&percent, g_free);
  return percent;
}

// What the column "outcome" of a row says; the column may be missing.
static bool read_outcome(const BtTable *table, gsize row, BtFormer *was, GPtrArray *faults) {
  static const char *const words[] = {"pass", "not yet", "not yet, held", "undecided", "not_yet"};
  static const BtFormer means[] = {BT_WAS_PASS, BT_WAS_NOT_YET, BT_WAS_HELD, BT_WAS_UNDECIDED,
                                   BT_WAS_NOT_YET};
  int column = bt_table_column(table, "outcome");
  const char *text = bt_table_text(table, row, column);
  *was = BT_WAS_UNDECIDED;
  if (!text)
    return true;
  int word = bt_word_index(text, words, G_N_ELEMENTS(words));
  if (word >= 0)
    *was = means[word];
  else
    bt_table_fault(table, row, column, faults,
                   "%s is no outcome; expected pass, not yet, \"not yet, held\" (whatever the "
                   "total) or undecided",
                   text);
  return word >= 0;
}

bool standard_scores_of_table(const BtTable *table, StandardScores *scores, GPtrArray *faults) {
  gsize rows = bt_table_rows(table);
  g_autoptr(GPtrArray) names = NULL;
  g_autofree gsize *trainee =
      bt_table_levels(table, bt_table_column(table, "trainee"), &names, faults);
  g_autofree double *score = standard_percents(table, "score", false, faults);
  if (!trainee || !score)
    return false;
  make_room(scores, rows);
  bool sound = true;
  for (gsize row = 0; row < rows; row++) {
    if (bt_is_missing(score[row])) {
      scores->left_out++;
      continue;
    }
    sound &= read_outcome(table, row, &scores->was[scores->n], faults);
    scores->score[scores->n] = score[row];
    scores->trainee[scores->n] = trainee[row];
    scores->row[scores->n] = row;
    scores->name[scores->n++] = g_strdup(g_ptr_array_index(names, trainee[row]));
  }
  scores->trainees = count_trainees(scores);
  scores->decided = bt_table_column(table, "outcome") >= 0;
  return sound;
}

int standard_scores_beside(Cli *cli, const StandardRequest *request, bool needed,
                           StandardScores *scores) {
  static const char *const columns[] = {"trainee", "score", NULL};
  if (!request->scores)
    return needed || request->rubric || request->keep
               ? standard_scores_of_book(cli, request, scores)
               : 0;
  int status = 0;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtTable) table = standard_table(request->scores, columns, faults, &status);
  if (!table)
    return status;
  standard_scores_of_table(table, scores, faults);
  return standard_told(faults);
}
