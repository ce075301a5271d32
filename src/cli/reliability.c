// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/reliability.h"

#include <math.h>
#include <string.h>

#include "cli/figure.h"

#define DECIMALS      2
#define DOUBTFUL_MOST 20
#define TARGET        0.80

// On the book -----------------------------------------------------------------

static char **checkpoint_names(const BtRubric *rubric) {
  char **names = g_new0(char *, (gsize)rubric->n_checkpoints + 1);
  for (int i = 0; i < rubric->n_checkpoints; i++)
    names[i] = g_strdup(rubric->checkpoints[i].id);
  return names;
}

static void put_first_sentence(GString *out, const BtStudyReliability *found) {
  const BtEstimate *reliability = &found->reliability;
  if (found->from_items)
    cli_put_paragraph(out, 0,
                      "How reliable one session is cannot be told yet, only how its checkpoints "
                      "hang together. %s",
                      found->about_design);
  else if (reliability->why_not)
    cli_put_paragraph(out, 0, "Reliability is not estimable: %s.", reliability->why_not);
  else
    cli_put_paragraph(out, 0,
                      "One session seen by one assessor is reliable to %.2f for a pass decision "
                      "(Phi).",
                      reliability->value);
}

static void put_design(GString *out, const BtStudyReliability *found) {
  const BtDesign *design = found->gstudy->design;
  g_autofree char *name = bt_design_name(design, design->effect[design->effects - 1]);
  g_string_append_printf(out, "\nWhere scores differ (design %s)\n", name);
  reliability_put_components(out, found->gstudy);
  cli_put_paragraph(out, 2, "%s %s", found->about_design, found->confounded);
  if (found->session_facet >= 0)
    cli_put_paragraph(out, 2,
                      "Sessions meet by attempt number. What all trainees gain from one attempt to "
                      "the next stands in \"session\" and counts as progress, not as error.");
}

static void put_doubtful(GString *out, const BtStudyReliability *found) {
  double error = found->sem_percent.value, cut = found->cut_percent;
  guint narrow = 0;
  if (found->sem_percent.why_not)
    return;
  g_autoptr(GString) names = g_string_new(NULL);
  for (guint i = 0; i < found->doubtful->len; i++) {
    const BtDoubtful *doubtful = &g_array_index(found->doubtful, BtDoubtful, i);
    if (!doubtful->within_one || ++narrow > DOUBTFUL_MOST)
      continue;
    g_autofree char *total = cli_percent_text(doubtful->row->total_percent);
    g_string_append_printf(names, "%s%s (%s)", narrow > 1 ? ", " : "", doubtful->row->row->trainee,
                           total);
  }
  cli_put_paragraph(out, 2,
                    "The doubtful zone: %.1f to %.1f %% (one standard error either side) holds %u "
                    "of %u trainees by their latest session%s%s%s; %.1f to %.1f %% (1.96 of them) "
                    "holds %u.",
                    cut - error, cut + error, narrow, found->latest_percent->len,
                    names->len ? ", " : "", names->str, narrow > DOUBTFUL_MOST ? " and others" : "",
                    cut - 1.96 * error, cut + 1.96 * error, found->doubtful->len);
}

static void put_pass_mark(GString *out, const BtStudyReliability *found) {
  g_string_append_printf(out, "\nAt the pass mark %.1f %%\n", found->cut_percent);
  cli_put_figure_row(out, "standard error of one session, %", 32, &found->sem_percent, 1);
  put_doubtful(out, found);
  reliability_put_decision(out, &found->decision, &found->decision_normal);
  cli_put_paragraph(out, 2,
                    "These are of the total alone. A pass also asks for the rubric's floors and "
                    "critical steps.");
}

static void put_rests_on(GString *out, const BtStudyReliability *found,
                         const ReliabilityRequest *request) {
  g_autofree char *observations = bt_count_of((gint64)found->observations, "observation", NULL);
  g_autofree char *sessions = bt_count_of((gint64)found->sessions, "session", NULL);
  g_autofree char *trainees = bt_count_of((gint64)found->trainees, "trainee", NULL);
  g_autofree char *assessors = bt_count_of((gint64)found->assessors, "assessor", NULL);
  g_string_append_c(out, '\n');
  cli_put_paragraph(out, 0,
                    "%s edition %d: %s with a total, %s (%" G_GSIZE_FORMAT
                    " with two assessors or more), %s, %s. Trainees' own records are left out "
                    "(%" G_GSIZE_FORMAT "). Components by %s.",
                    found->rubric->title, found->rubric->edition, observations, sessions,
                    found->double_seen, trainees, assessors, found->self_rated,
                    request->method == BT_BY_REML
                        ? "restricted likelihood (REML)"
                        : "analysis of variance, Henderson's method 1 (Brennan 2001)");
  cli_put_paragraph(out, 0, "A training record, no certificate of clinical competence.");
}

static void put_text(GString *out, const BtStudyReliability *found,
                     const ReliabilityRequest *request) {
  g_auto(GStrv) names = checkpoint_names(found->rubric);
  put_first_sentence(out, found);
  if (found->gstudy) {
    BtPlan one = bt_study_plan(found, 1, 1);
    Planning planning = reliability_planning(found->gstudy, &one, request->target);
    reliability_put_answer(out, &planning);
    put_design(out, found);
    g_string_append_c(out, '\n');
    reliability_put_coefficients(out, "One session, one assessor", &found->one);
    g_string_append_c(out, '\n');
    reliability_put_plans(out, &planning);
  }
  put_pass_mark(out, found);
  reliability_put_assessors(out, found);
  g_string_append(out, "\nCheckpoints (share done, each trainee's latest session)\n");
  reliability_put_items(out, found->items, (const char *const *)names);
  put_rests_on(out, found, request);
}

static json_t *doubtful_json(const BtStudyReliability *found) {
  json_t *list = json_array();
  for (guint i = 0; i < found->doubtful->len; i++) {
    const BtDoubtful *doubtful = &g_array_index(found->doubtful, BtDoubtful, i);
    json_array_append_new(
        list,
        json_pack("{s:s, s:s, s:f, s:f, s:b}", "trainee", doubtful->row->row->trainee, "session",
                  doubtful->row->row->session, "total_percent", doubtful->row->total_percent,
                  "away_percent", doubtful->away_percent, "within_one", doubtful->within_one));
  }
  return list;
}

static json_t *design_json(const BtStudyReliability *found, const ReliabilityRequest *request) {
  const BtDesign *design = found->gstudy->design;
  g_autofree char *name = bt_design_name(design, design->effect[design->effects - 1]);
  BtPlan one = bt_study_plan(found, 1, 1);
  Planning planning = reliability_planning(found->gstudy, &one, request->target);
  json_t *object = json_pack("{s:s, s:s, s:s, s:b, s:I}", "design", name, "about",
                             found->about_design, "confounded", found->confounded, "complete",
                             found->gstudy->complete, "scores", (json_int_t)found->gstudy->n);
  json_object_set_new(object, "effects", reliability_json_components(found->gstudy));
  json_object_set_new(object, "one", reliability_json_coefficients(&found->one));
  json_object_set_new(object, "plans", reliability_json_plans(&planning));
  json_object_set_new(object, "reach", reliability_json_reach(&planning));
  return object;
}

static void put_json(GString *out, const BtStudyReliability *found,
                     const ReliabilityRequest *request) {
  g_auto(GStrv) names = checkpoint_names(found->rubric);
  json_t *document = json_pack(
      "{s:s, s:i, s:I, s:I, s:I, s:I, s:I, s:I, s:f, s:b, s:s}", "rubric", found->rubric->id,
      "edition", found->rubric->edition, "observations", (json_int_t)found->observations,
      "sessions", (json_int_t)found->sessions, "trainees", (json_int_t)found->trainees, "assessors",
      (json_int_t)found->assessors, "double_seen", (json_int_t)found->double_seen, "self_rated",
      (json_int_t)found->self_rated, "cut_percent", found->cut_percent, "from_items",
      found->from_items, "method", request->method == BT_BY_REML ? "REML" : "ANOVA");
  json_object_set_new(document, "study",
                      found->gstudy ? design_json(found, request)
                                    : json_pack("{s:s}", "why_not", found->about_design));
  json_object_set_new(document, "reliability",
                      cli_json_figure(found->from_items ? "alpha" : "Phi", &found->reliability));
  json_object_set_new(document, "sem_percent",
                      cli_json_figure("standard error of one session", &found->sem_percent));
  json_object_set_new(document, "doubtful", doubtful_json(found));
  json_object_set_new(document, "livingston_lewis",
                      reliability_json_decision(&found->decision, "Livingston and Lewis (1995)"));
  json_object_set_new(document, "normal",
                      reliability_json_decision(&found->decision_normal, "Subkoviak (1988)"));
  json_object_set_new(document, "severity", reliability_json_assessors(found));
  json_object_set_new(document, "items",
                      reliability_json_items(found->items, (const char *const *)names));
  cli_put_json(out, document);
}

static int of_book(Cli *cli, const ReliabilityRequest *request, const BtStudyScope *scope) {
  int status = 0;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  g_autoptr(BtStudy) study = bt_study_read(book, scope, NULL, NULL, &error);
  if (!study)
    return cli_error(g_steal_pointer(&error));
  g_autoptr(BtStudyReliability) found =
      bt_study_reliability(study, request->has_cut ? request->cut : -1, request->method);
  (request->json ? put_json : put_text)(cli->out, found, request);
  return 0;
}

// Options ---------------------------------------------------------------------

// A number in an option. False: told, *status set.
static bool number_of(const char *option, const char *text, double *value, int *status) {
  char *end = NULL;
  *value = g_ascii_strtod(text, &end);
  if (end != text && *end == '\0' && isfinite(*value))
    return true;
  *status = cli_usage_error("%s %s: a number is expected, such as 70 or 0.8", option, text);
  return false;
}

// "0..100".
static bool scale_of(const char *text, ReliabilityRequest *request, int *status) {
  g_auto(GStrv) ends = g_strsplit(text, "..", 2);
  if (g_strv_length(ends) == 2 && number_of("--scale", ends[0], &request->least, status) &&
      number_of("--scale", ends[1], &request->most, status) && request->least < request->most)
    return true;
  if (*status == 0)
    *status = cli_usage_error("--scale %s: the least and the most a score can be are expected, "
                              "such as 0..100",
                              text);
  return false;
}

// What goes together. False: told, *status set.
static bool fits(const ReliabilityRequest *request, const char *table, const char *design,
                 const BtStudyScope *scope, int *status) {
  if (!table != !design)
    *status = cli_usage_error("--table and --design go together, as in --table scores.csv "
                              "--design \"trainee x assessor\"");
  else if (table && (scope->rubric || scope->edition))
    *status = cli_usage_error("--table needs no book; --rubric and --edition name what the book "
                              "holds");
  else if (!table && (request->fixed || request->same))
    *status = cli_usage_error("--fixed and --same go with --table and --design");
  else if (!(request->target > 0 && request->target < 1))
    *status = cli_usage_error("--target: a reliability above 0 and below 1 is expected, such as "
                              "0.80");
  else if (!table && request->has_cut && !(request->cut >= 0 && request->cut <= 100))
    *status = cli_usage_error("--cut: a percentage from 0 to 100 is expected");
  else if (table && request->has_cut &&
           !(request->cut >= request->least && request->cut <= request->most))
    *status = cli_usage_error("--cut %g lies outside the scale, %g..%g; --scale FROM..TO names the "
                              "least and the most a score can be",
                              request->cut, request->least, request->most);
  else
    return true;
  return false;
}

int cli_reliability(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean json = FALSE, reml = FALSE;
  g_autofree char *rubric = NULL, *table = NULL, *design = NULL, *target = NULL, *cut = NULL,
                  *scale = NULL;
  g_auto(GStrv) fixed = NULL, same = NULL;
  int edition = CLI_LATEST_EDITION;
  const GOptionEntry entries[] = {
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &rubric,
       "The rubric; needed where the book has several", "ID"},
      {"edition", 0, 0, G_OPTION_ARG_INT, &edition, "Its edition; the latest when not given", "N"},
      {"target", 0, 0, G_OPTION_ARG_STRING, &target,
       "The reliability to plan for; 0.80 when not "
       "given",
       "R"},
      {"cut", 0, 0, G_OPTION_ARG_STRING, &cut, "The pass mark; the rubric's own when not given",
       "PERCENT"},
      {"table", 0, 0, G_OPTION_ARG_FILENAME, &table,
       "Scores from a CSV file, one a row, instead of "
       "the book",
       "FILE"},
      {"design", 0, 0, G_OPTION_ARG_STRING, &design, "How they were collected; names the columns",
       "DESIGN"},
      {"fixed", 0, 0, G_OPTION_ARG_STRING_ARRAY, &fixed,
       "A facet whose conditions are all that is meant (may be given again)", "FACET"},
      {"same", 0, 0, G_OPTION_ARG_STRING_ARRAY, &same,
       "A facet at whose same conditions all are compared", "FACET"},
      {"scale", 0, 0, G_OPTION_ARG_STRING, &scale,
       "The least and the most a score of the table can be; 0..100 when not given", "FROM..TO"},
      {"reml", 0, 0, G_OPTION_ARG_NONE, &reml, "Components by restricted likelihood", NULL},
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON, with every digit", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, 0, &status) || !cli_take_edition(&edition, &status))
    return status;
  ReliabilityRequest request = {.json = json,
                                .has_cut = cut,
                                .method = reml ? BT_BY_REML : BT_BY_ANOVA,
                                .target = TARGET,
                                .most = 100,
                                .fixed = fixed,
                                .same = same};
  BtStudyScope scope = {.rubric = rubric, .edition = edition};
  if ((target && !number_of("--target", target, &request.target, &status)) ||
      (cut && !number_of("--cut", cut, &request.cut, &status)) ||
      (scale && !scale_of(scale, &request, &status)) ||
      !fits(&request, table, design, &scope, &status))
    return status;
  return table ? reliability_of_table(cli, &request, table, design)
               : of_book(cli, &request, &scope);
}
