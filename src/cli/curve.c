// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/curve.h"

#include <math.h>
#include <string.h>

#include "cli/figure.h"

// What is printed -------------------------------------------------------------

bool curve_asked(const CurveRequest *request, const char *trainee) {
  return !request->trainees || !*request->trainees ||
         g_strv_contains((const char *const *)request->trainees, trainee);
}

static bool has_trainee(const CurveSet *set, const char *trainee) {
  for (guint i = 0; i < set->practices->practice->len; i++) {
    const BtPractice *practice = g_ptr_array_index(set->practices->practice, i);
    if (g_str_equal(practice->trainee, trainee))
      return true;
  }
  return false;
}

bool curve_all_there(const CurveSet *sets, gsize n, const CurveRequest *request, int *status) {
  for (char **trainee = request->trainees; trainee && *trainee; trainee++) {
    bool there = false;
    for (gsize i = 0; i < n; i++)
      there |= has_trainee(&sets[i], *trainee);
    if (there)
      continue;
    *status = cli_usage_error("%s: no attempt by a trainee of this code is among these", *trainee);
    return false;
  }
  return true;
}

int curve_print(Cli *cli, const CurveSet *sets, gsize n, const CurveRequest *request) {
  int status = 0;
  if (!curve_all_there(sets, n, request, &status))
    return status;
  if (request->json) {
    json_t *list = json_array();
    for (gsize i = 0; i < n; i++)
      json_array_append_new(list, curve_json(&sets[i], request));
    cli_put_json(cli->out, list);
    return 0;
  }
  for (gsize i = 0; i < n; i++) {
    if (i > 0)
      g_string_append_c(cli->out, '\n');
    curve_put_text(cli->out, &sets[i], request);
  }
  g_string_append_c(cli->out, '\n');
  cli_put_paragraph(cli->out, 0, "A training record, no certificate of clinical competence.");
  return 0;
}

// On the book -----------------------------------------------------------------

// The checkpoint of this id. False: told, *status set.
static bool find_checkpoint(const BtRubric *rubric, const char *id, BtCurveTerms *terms,
                            int *status) {
  terms->of = BT_CURVE_OF_CHECKPOINT;
  terms->checkpoint = bt_rubric_find_checkpoint(rubric, id);
  if (terms->checkpoint >= 0)
    return true;
  g_autofree const char **ids = g_new(const char *, (gsize)rubric->n_checkpoints + 1);
  for (int i = 0; i < rubric->n_checkpoints; i++)
    ids[i] = rubric->checkpoints[i].id;
  const char *closest = bt_closest_word(id, ids, (gsize)rubric->n_checkpoints);
  *status = cli_usage_error("--checkpoint %s: %s edition %d has no such checkpoint%s%s%s", id,
                            rubric->id, rubric->edition, closest ? "; did you mean " : "",
                            closest ? closest : "", closest ? "?" : "");
  return false;
}

static int of_book(Cli *cli, const CurveRequest *request, const BtStudyScope *scope,
                   const char *checkpoint) {
  int status = 0;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  g_autoptr(BtStudy) study = bt_study_read(book, scope, NULL, NULL, &error);
  if (!study)
    return cli_error(g_steal_pointer(&error));
  BtCurveTerms terms = request->terms;
  if (checkpoint && !find_checkpoint(study->rubric, checkpoint, &terms, &status))
    return status;
  g_autoptr(BtPractices) practices = bt_study_practices(study, &terms);
  CurveSet set = {.exercise = study->rubric->id,
                  .title = study->rubric->title,
                  .edition = study->rubric->edition,
                  .checkpoint = checkpoint,
                  .decided = true,
                  .practices = practices};
  return curve_print(cli, &set, 1, request);
}

// Options ---------------------------------------------------------------------

typedef struct {
  char *rubric, *table, *value, *checkpoint, *standard, *p0, *p1, *error;
  int edition, within;
  gboolean json, wide;
} Options;

static void options_clear(Options *options) {
  g_free(options->rubric);
  g_free(options->table);
  g_free(options->value);
  g_free(options->checkpoint);
  g_free(options->standard);
  g_free(options->p0);
  g_free(options->p1);
  g_free(options->error);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Options, options_clear)

// A share in an option, left alone when it was not given. False: told, *status set.
static bool take_share(const char *option, const char *text, double *share, int *status) {
  char *end = NULL;
  double value = text ? g_ascii_strtod(text, &end) : 0;
  if (!text)
    return true;
  if (end != text && *end == '\0' && value > 0 && value < 1) {
    *share = value;
    return true;
  }
  *status =
      cli_usage_error("%s %s: a share above 0 and below 1 is expected, such as 0.10", option, text);
  return false;
}

// The mark: a percentage, or a time. False: told, *status set.
static bool take_mark(const Options *options, BtCurveTerms *terms, int *status) {
  gint64 amount = 0;
  if (!options->standard)
    return true;
  terms->by_mark = true;
  if (terms->of == BT_CURVE_OF_SECONDS) {
    if (bt_clock_parse(options->standard, &amount) && amount > 0) {
      terms->mark = (double)amount / 1000;
      return true;
    }
    *status =
        cli_usage_error("--standard %s: a time is expected, such as 12:30", options->standard);
    return false;
  }
  if (bt_decimal_parse(options->standard, &amount) && amount >= 0 && amount <= 100000) {
    terms->mark = (double)amount / 1000;
    return true;
  }
  *status = cli_usage_error("--standard %s: a percentage from 0 to 100 is expected, such as 70",
                            options->standard);
  return false;
}

static bool take_value(const Options *options, BtCurveTerms *terms, int *status) {
  static const char *const names[] = {"percent", "time"};
  int which = options->value ? bt_word_index(options->value, names, G_N_ELEMENTS(names)) : 0;
  if (which < 0)
    *status = cli_usage_error("--value %s: percent or time is expected", options->value);
  else if (options->value && options->checkpoint)
    *status = cli_usage_error("--value and --checkpoint: one of them says what the curve is of");
  else if (options->table && (options->rubric || options->edition || options->checkpoint))
    *status = cli_usage_error("--table needs no book; --rubric, --edition and --checkpoint name "
                              "what the book holds");
  terms->of = which > 0 ? BT_CURVE_OF_SECONDS : BT_CURVE_OF_PERCENT;
  return *status == 0;
}

static bool take_errors(const Options *options, BtCurveTerms *terms, int *status) {
  if (!take_share("--p0", options->p0, &terms->adequate, status) ||
      !take_share("--p1", options->p1, &terms->inadequate, status) ||
      !take_share("--error", options->error, &terms->error, status))
    return false;
  if (options->within < 0 || options->within > BT_CUSUM_ATTEMPTS_MOST)
    *status = cli_usage_error("--within %d: 1 to %d attempts are expected", options->within,
                              BT_CUSUM_ATTEMPTS_MOST);
  else if (terms->adequate >= terms->inadequate)
    *status = cli_usage_error("--p0 %g is not below --p1 %g: at standard there are fewer \"not "
                              "yet\"",
                              terms->adequate, terms->inadequate);
  if (options->within > 0)
    terms->within = (gsize)options->within;
  return *status == 0;
}

int cli_curve(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_auto(Options) options = {.edition = CLI_LATEST_EDITION};
  const GOptionEntry entries[] = {
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &options.rubric,
       "The rubric; needed where the book has several", "ID"},
      {"edition", 0, 0, G_OPTION_ARG_INT, &options.edition,
       "Its edition; the latest when not given", "N"},
      {"table", 0, 0, G_OPTION_ARG_FILENAME, &options.table,
       "Attempts from a CSV file instead of the book", "FILE"},
      {"value", 0, 0, G_OPTION_ARG_STRING, &options.value,
       "What the curve is of: percent (the total) or time", "WHAT"},
      {"checkpoint", 0, 0, G_OPTION_ARG_STRING, &options.checkpoint,
       "A curve of this checkpoint alone", "ID"},
      {"standard", 0, 0, G_OPTION_ARG_STRING, &options.standard,
       "The mark: a percentage, or a time; a value at the mark is then a pass", "MARK"},
      {"p0", 0, 0, G_OPTION_ARG_STRING, &options.p0,
       "Share of \"not yet\" of a trainee at standard; 0.10 when not given", "SHARE"},
      {"p1", 0, 0, G_OPTION_ARG_STRING, &options.p1, "And of one who is not; 0.50 when not given",
       "SHARE"},
      {"within", 0, 0, G_OPTION_ARG_INT, &options.within,
       "Attempts within which the error holds; 20 when not given", "N"},
      {"error", 0, 0, G_OPTION_ARG_STRING, &options.error,
       "Chance of a false signal within them; 0.05 when not given", "SHARE"},
      {"wide", 0, 0, G_OPTION_ARG_NONE, &options.wide, "Every column, however wide", NULL},
      {"json", 0, 0, G_OPTION_ARG_NONE, &options.json, "As JSON, with every digit", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, -1, &status))
    return status;
  CurveRequest request = {
      .terms = BT_CURVE_TERMS, .trainees = argv + 1, .json = options.json, .wide = options.wide};
  if (!cli_take_edition(&options.edition, &status) ||
      !take_value(&options, &request.terms, &status) ||
      !take_mark(&options, &request.terms, &status) ||
      !take_errors(&options, &request.terms, &status))
    return status;
  BtStudyScope scope = {
      .rubric = options.rubric, .edition = options.edition, .of_record_only = true};
  return options.table ? curve_of_table(cli, &request, options.table)
                       : of_book(cli, &request, &scope, options.checkpoint);
}
