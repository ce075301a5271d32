// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the five ways to a pass mark have in common: options, the first sentence, the end, keeping.
#include "cli/standard.h"

#include <stdlib.h>
#include <string.h>

#include "cli/figure.h"

#define CAUTION "A training record, no certificate of clinical competence."

void standard_request_clear(StandardRequest *request) {
  char *owned[] = {request->rubric, request->table,    request->scores, request->take,
                   request->on,     request->note,     request->by,     request->group_by,
                   request->rating, request->competent};
  for (gsize i = 0; i < G_N_ELEMENTS(owned); i++)
    g_free(owned[i]);
}

// Options ---------------------------------------------------------------------

static void add_options(GArray *all, const GOptionEntry *entries) {
  for (const GOptionEntry *entry = entries; entry->long_name; entry++)
    g_array_append_val(all, *entry);
}

static void add_common(GArray *all, StandardRequest *request) {
  const GOptionEntry entries[] = {
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &request->rubric,
       "The rubric; needed where the book has several", "ID"},
      {"edition", 0, 0, G_OPTION_ARG_INT, &request->edition,
       "Its edition; the latest when not given", "N"},
      {"table", 0, 0, G_OPTION_ARG_FILENAME, &request->table, "What was said, from a CSV file",
       "FILE"},
      {"sem", 0, 0, G_OPTION_ARG_DOUBLE, &request->sem,
       "How near to the mark is doubtful; the standard error of measurement when not given",
       "PERCENT"},
      {"draws", 0, 0, G_OPTION_ARG_INT, &request->draws, "How often to resample", "N"},
      {"seed", 0, 0, G_OPTION_ARG_INT, &request->seed,
       "Where resampling starts; the same gives the same", "N"},
      {"json", 0, 0, G_OPTION_ARG_NONE, &request->json, "As JSON, with every digit", NULL},
      {"keep", 0, 0, G_OPTION_ARG_NONE, &request->keep, "Put the mark on record in the book", NULL},
      {"judges", 0, 0, G_OPTION_ARG_INT, &request->judges, "How many judges sat, to keep", "N"},
      {"on", 0, 0, G_OPTION_ARG_STRING, &request->on, "The day it was set, to keep; else today",
       "DATE"},
      {"note", 0, 0, G_OPTION_ARG_STRING, &request->note, "Who sat, in one line, to keep", "TEXT"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &request->by, "Who puts it on record", "CODE"},
      G_OPTION_ENTRY_NULL};
  add_options(all, entries);
}

static void add_own(GArray *all, StandardRequest *request, int ways) {
  const GOptionEntry scores[] = {
      {"scores", 0, 0, G_OPTION_ARG_FILENAME, &request->scores,
       "Scores to hold the mark against, from a CSV file, instead of the book", "FILE"},
      G_OPTION_ENTRY_NULL};
  const GOptionEntry groups[] = {{"group-by", 0, 0, G_OPTION_ARG_STRING, &request->group_by,
                                  "Group the book's trainees by level or cohort", "level"},
                                 {"competent", 0, 0, G_OPTION_ARG_STRING, &request->competent,
                                  "The groups that are competent, with commas between", "LIST"},
                                 {"competent-from", 0, 0, G_OPTION_ARG_DOUBLE,
                                  &request->competent_from,
                                  "With --rating: competent from this rating on", "N"},
                                 G_OPTION_ENTRY_NULL};
  const GOptionEntry rating[] = {
      {"rating", 0, 0, G_OPTION_ARG_STRING, &request->rating, "The rubric's rating to go by", "ID"},
      {"take", 0, 0, G_OPTION_ARG_STRING, &request->take,
       ways & STANDARD_BY_GROUPS ? "Which mark to take: crossing, midpoint or logistic"
                                 : "Which mark to take: regression, mean or median",
       "WHICH"},
      G_OPTION_ENTRY_NULL};
  const GOptionEntry borderline[] = {{"borderline", 0, 0, G_OPTION_ARG_DOUBLE, &request->borderline,
                                      "The rating that is borderline", "N"},
                                     G_OPTION_ENTRY_NULL};
  if (ways & STANDARD_BY_JUDGES)
    add_options(all, scores);
  if (ways & STANDARD_BY_GROUPS)
    add_options(all, groups);
  if (ways & (STANDARD_BY_GROUPS | STANDARD_BY_RATING))
    add_options(all, rating);
  if (ways & STANDARD_BY_RATING)
    add_options(all, borderline);
}

// What is out of range. NULL: nothing.
static const char *fault_of(const StandardRequest *request) {
  if (!bt_is_missing(request->sem) && !(request->sem >= 0 && request->sem <= 100))
    return "--sem: a percentage from 0 to 100 is expected, such as 3.5";
  if (request->draws < 0 || request->draws > 1000000)
    return "--draws: a number from 0 to 1,000,000 is expected";
  if (request->seed < 0)
    return "--seed: a number from 0 on is expected";
  if (request->judges < -1)
    return "--judges: a number from 0 on is expected";
  if (!request->keep && (request->judges >= 0 || request->on || request->note || request->by))
    return "--judges, --on, --note and --by go with --keep";
  return NULL;
}

bool standard_parse(Cli *cli, StandardRequest *request, int ways, int argc, char **argv,
                    int *status) {
  request->edition = CLI_LATEST_EDITION;
  g_autoptr(GArray) entries = g_array_new(TRUE, TRUE, sizeof(GOptionEntry)); // ends with zeros
  add_common(entries, request);
  add_own(entries, request, ways);
  if (!cli_parse(cli, &argc, &argv, (const GOptionEntry *)(void *)entries->data, 0, 0, status) ||
      !cli_take_edition(&request->edition, status))
    return false;
  const char *fault = fault_of(request);
  if (!fault && (ways & STANDARD_BY_JUDGES) && !request->table)
    fault = "--table is needed: what the judges said, as a CSV file";
  if (fault)
    *status = cli_usage_error("%s", fault);
  return !fault;
}

int standard_take(const StandardRequest *request, const char *const *names, int n, int *status) {
  if (!request->take)
    return 0;
  int place = bt_word_index(request->take, names, (gsize)n);
  if (place < 0)
    *status = cli_usage_error("--take %s: expected %s, %s or %s", request->take, names[0], names[1],
                              names[2]);
  return place;
}

BtResampling standard_resampling(const StandardRequest *request) {
  return (BtResampling){(guint)request->draws, (guint32)request->seed};
}

// Keeping ---------------------------------------------------------------------

static gint64 milli(double percent) {
  return (gint64)llround(percent * 1000);
}

static char *today(void) {
  g_autoptr(GDateTime) now = g_date_time_new_now_utc();
  return g_date_time_format(now, "%Y-%m-%d");
}

// The edition that the mark is kept for, from the scores' study or by name. NULL: told.
static const BtRubric *rubric_of(const StandardRequest *request, const StandardScores *scores,
                                 BtBook *book, int *status) {
  if (scores->study)
    return scores->study->rubric;
  if (!request->rubric) {
    *status = cli_usage_error("--keep: name the rubric that the mark is for, with --rubric");
    return NULL;
  }
  g_autoptr(GError) error = NULL;
  const BtRubric *rubric = bt_book_rubric(book, request->rubric, request->edition, &error);
  if (error)
    *status = cli_error(g_steal_pointer(&error));
  else if (!rubric)
    *status = cli_usage_error("--keep: the book has no such edition of \"%s\"; `benchtally rubric "
                              "list` shows what it has",
                              request->rubric);
  return rubric;
}

typedef struct {
  gint64 id; // 0: not kept
  gint64 cut_milli;
  char *rubric;
  int edition;
} Kept;

static int keep(Cli *cli, const StandardRequest *request, const StandardResult *result,
                const StandardScores *scores, Kept *kept) {
  int status = 0;
  if (result->cut.why_not)
    return cli_usage_error("--keep: there is no mark to keep: %s", result->cut.why_not);
  g_autoptr(BtBook) book = cli_open_book_as(cli, request->by, &status);
  const BtRubric *rubric = book ? rubric_of(request, scores, book, &status) : NULL;
  if (!rubric)
    return status;
  char *figures = json_dumps(result->figures, JSON_COMPACT | JSON_SORT_KEYS);
  g_autofree char *day = request->on ? g_strdup(request->on) : today();
  BtStandard standard = {.rubric = rubric->id,
                         .edition = rubric->edition,
                         .method = (char *)result->method,
                         .cut_milli = milli(result->cut.value),
                         .se_milli = result->cut.has_se ? milli(result->cut.se) : -1,
                         .judges = request->judges >= 0 ? request->judges : (int)result->judges,
                         .judges_note = request->note,
                         .set_on = day,
                         .figures_json = figures};
  g_autoptr(GError) error = NULL;
  if (!bt_book_add_standard(book, &standard, &kept->id, &error))
    status = cli_error(g_steal_pointer(&error));
  kept->cut_milli = standard.cut_milli;
  kept->rubric = g_strdup(rubric->id);
  kept->edition = rubric->edition;
  free(figures);
  return status;
}

void standard_put_next_edition(GString *out, const char *rubric, int edition, gint64 cut_milli) {
  g_autofree char *mark = bt_decimal_format(cut_milli);
  cli_put_paragraph(out, 0,
                    "Scoring keeps following the rubric's own `pass`: nothing is scored by a rule "
                    "that a trainee could not have read beforehand. To score by this mark, write "
                    "the next edition of %s (%d or later) with this line under `score`:",
                    rubric, edition + 1);
  g_string_append_printf(out, "  pass: %s\n", mark);
}

// The end ---------------------------------------------------------------------

void standard_result_clear(StandardResult *result) {
  if (result->text)
    g_string_free(result->text, TRUE);
  g_clear_pointer(&result->figures, json_decref);
}

static void put_text(GString *out, const StandardResult *result, const StandardEffect *effect,
                     const Kept *kept) {
  const BtEstimate *cut = &result->cut;
  g_autofree char *limits = cut->has_limits
                                ? g_strdup_printf("95 %% limits %.1f to %.1f", cut->low, cut->high)
                                : g_strdup("how surely cannot be told");
  if (cut->why_not)
    cli_put_paragraph(out, 0, "No pass mark by %s: %s.", result->title, cut->why_not);
  else
    cli_put_paragraph(out, 0, "The pass mark by %s would stand at %.1f %% of the points (%s).",
                      result->title, cut->value, limits);
  g_string_append_c(out, '\n');
  g_string_append(out, result->text->str);
  if (effect)
    standard_put_effect(out, effect);
  g_string_append_c(out, '\n');
  if (kept->id) {
    cli_put_paragraph(out, 0,
                      "Kept as standard %" G_GINT64_FORMAT
                      " of %s, edition %d; `benchtally standard adopt %" G_GINT64_FORMAT
                      " --reason ...` adopts it.",
                      kept->id, kept->rubric, kept->edition, kept->id);
    standard_put_next_edition(out, kept->rubric, kept->edition, kept->cut_milli);
    g_string_append_c(out, '\n');
  }
  cli_put_paragraph(out, 0, "%s", result->rests_on);
  cli_put_paragraph(out, 0, CAUTION);
}

static void put_json(GString *out, const StandardRequest *request, const StandardResult *result,
                     const StandardEffect *effect, const StandardScores *scores, const Kept *kept) {
  json_t *document =
      json_pack("{s:s, s:i, s:i, s:I}", "method", result->method, "draws", request->draws, "seed",
                request->seed, "judges", (json_int_t)result->judges);
  json_object_set_new(document, "cut", cli_json_figure(result->form, &result->cut));
  json_object_set(document, "figures", result->figures);
  json_object_set_new(document, "effect", effect ? standard_json_effect(effect) : json_null());
  json_object_set_new(document, "kept", kept->id ? json_integer(kept->id) : json_null());
  if (scores->study) {
    json_object_set_new(document, "rubric", json_string(scores->study->rubric->id));
    json_object_set_new(document, "edition", json_integer(scores->study->rubric->edition));
  }
  cli_put_json(out, document);
}

int standard_finish(Cli *cli, const StandardRequest *request, const StandardResult *result,
                    const StandardScores *scores) {
  Kept kept = {0};
  int status = request->keep ? keep(cli, request, result, scores, &kept) : 0;
  bool shown = !result->cut.why_not && scores->n > 0;
  g_auto(StandardEffect) effect = {0};
  if (shown && scores->study)
    effect = standard_effect_of_study(scores->study, result->cut.value, request->sem);
  else if (shown)
    effect = standard_effect_of_scores(scores, &result->cut, request->sem);
  if (status == 0 && request->json)
    put_json(cli->out, request, result, shown ? &effect : NULL, scores, &kept);
  else if (status == 0)
    put_text(cli->out, result, shown ? &effect : NULL, &kept);
  g_free(kept.rubric);
  return status;
}
