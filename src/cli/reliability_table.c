// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reliability of a plain table: one score a row, its facets in the columns that the design names.
#include <benchtally/table.h>

#include <math.h>
#include <string.h>

#include "cli/figure.h"
#include "cli/reliability.h"

#define SCORE         "score"
#define WIDE          1.959963984540054 // standard errors either side: 95 % of the time
#define DOUBTFUL_MOST 20
#define DECIMALS      2

typedef struct {
  BtTable *table;
  BtDesign *design;
  double *score; // those that are there, `n` of them
  gsize n, missing;
  gsize *level[BT_FACETS_MOST];      // of each score
  GPtrArray *values[BT_FACETS_MOST]; // what each level is called; borrowed texts
} Scores;

static void scores_clear(Scores *scores) {
  for (int i = 0; i < BT_FACETS_MOST; i++) {
    g_free(scores->level[i]);
    g_clear_pointer(&scores->values[i], g_ptr_array_unref);
  }
  g_free(scores->score);
  bt_design_free(scores->design);
  bt_table_free(scores->table);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Scores, scores_clear)

// Reading ---------------------------------------------------------------------

// Takes rows without a score out.
static void drop_missing(Scores *scores, gsize rows) {
  for (gsize row = 0; row < rows; row++) {
    if (bt_is_missing(scores->score[row])) {
      scores->missing++;
      continue;
    }
    for (int i = 0; i < scores->design->facets; i++)
      scores->level[i][scores->n] = scores->level[i][row];
    scores->score[scores->n++] = scores->score[row];
  }
}

static bool read_columns(Scores *scores, GPtrArray *faults) {
  const BtDesign *design = scores->design;
  bool read = true;
  for (int i = 0; i < design->facets; i++) {
    int column = bt_table_column(scores->table, design->name[i]);
    scores->level[i] = bt_table_levels(scores->table, column, &scores->values[i], faults);
    read &= scores->level[i] != NULL;
  }
  scores->score = bt_table_numbers(scores->table, bt_table_column(scores->table, SCORE), faults);
  return read && scores->score;
}

// The exit status.
static int read_scores(Scores *scores, const char *path, const char *design) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  const char *columns[BT_FACETS_MOST + 2] = {NULL};
  if (!(scores->design = bt_design_parse(design, &error)))
    return cli_error(g_steal_pointer(&error));
  for (int i = 0; i < scores->design->facets; i++) {
    columns[i] = scores->design->name[i];
    if (strcmp(columns[i], SCORE) == 0)
      return cli_usage_error("design \"%s\": the column \"score\" holds the scores; a facet needs "
                             "another name",
                             design);
  }
  columns[scores->design->facets] = SCORE;
  scores->table = bt_table_read(path, columns, faults, &error);
  bool read = scores->table && read_columns(scores, faults);
  cli_print_faults(faults);
  if (error)
    return cli_error(g_steal_pointer(&error));
  if (!read)
    return 2;
  drop_missing(scores, bt_table_rows(scores->table));
  return 0;
}

// The set of facets that an option names. False: told, *status set.
static bool set_of(const BtDesign *design, const char *option, char **names, guint *set,
                   int *status) {
  for (char **name = names; name && *name; name++) {
    int facet = 0;
    while (facet < design->facets && strcmp(design->name[facet], *name) != 0)
      facet++;
    if (facet == design->facets || facet == design->object) {
      *status = cli_usage_error("%s %s: the design has no such facet beside \"%s\"", option, *name,
                                design->name[design->object]);
      return false;
    }
    *set |= 1U << facet;
  }
  return true;
}

// Items and objects -----------------------------------------------------------

// Persons by items, where the design crosses just these two and no cell has two scores; else no
// cells.
static BtRatings ratings_of(const Scores *scores) {
  const BtDesign *design = scores->design;
  BtRatings table = {0};
  if (design->facets != 2 || design->effects != 3 || scores->n == 0)
    return table;
  int object = design->object, item = 1 - object;
  table.subjects = scores->values[object]->len;
  table.raters = scores->values[item]->len;
  double *cell = g_new(double, table.subjects *table.raters);
  for (gsize i = 0; i < table.subjects * table.raters; i++)
    cell[i] = BT_MISSING;
  for (gsize i = 0; i < scores->n; i++) {
    double *at = &cell[scores->level[object][i] * table.raters + scores->level[item][i]];
    if (!bt_is_missing(*at)) { // which of the two would count is nobody's to choose
      g_free(cell);
      return (BtRatings){0};
    }
    *at = scores->score[i];
  }
  table.cell = cell;
  return table;
}

// Each object's mean; BT_MISSING for one without a score. Caller frees.
static double *object_means(const Scores *scores) {
  gsize n = scores->values[scores->design->object]->len;
  double *mean = g_new0(double, n + 1);
  g_autofree gsize *counted = g_new0(gsize, n + 1);
  for (gsize i = 0; i < scores->n; i++) {
    gsize object = scores->level[scores->design->object][i];
    mean[object] += (scores->score[i] - mean[object]) / (double)++counted[object];
  }
  for (gsize i = 0; i < n; i++)
    mean[i] = counted[i] ? mean[i] : BT_MISSING;
  return mean;
}

// The pass mark ---------------------------------------------------------------

typedef struct {
  const ReliabilityRequest *request;
  const Scores *scores;
  double *mean;     // of each object
  gsize objects, n; // n: with a mean
  BtEstimate sem, at_cut;
  BtDecision beta, normal;
} Cut;

static Cut cut_of(const Scores *scores, const BtGStudy *gstudy, const BtDStudy *reached,
                  const ReliabilityRequest *request) {
  Cut cut = {.request = request, .scores = scores, .mean = object_means(scores)};
  cut.objects = scores->values[scores->design->object]->len;
  g_autofree double *value = g_new(double, cut.objects + 1);
  double mean = 0, squares = 0;
  for (gsize i = 0; i < cut.objects; i++) {
    if (bt_is_missing(cut.mean[i]))
      continue;
    double away = cut.mean[i] - mean;
    value[cut.n++] = cut.mean[i];
    mean += away / (double)cut.n;
    squares += away * (cut.mean[i] - mean);
  }
  double r = reached->decision.why_not ? -1 : reached->decision.value;
  double sd = cut.n > 1 ? sqrt(squares / (double)(cut.n - 1)) : 0;
  cut.sem = reached->sem_absolute;
  cut.at_cut = bt_dstudy_at_cut(gstudy, reached, request->cut);
  cut.beta = bt_decision_beta(value, cut.n, request->least, request->most, request->cut, r);
  cut.normal = bt_decision_normal((request->cut - mean) / sd, r, cut.n);
  return cut;
}

static bool in_zone(const Cut *cut, gsize object, double errors) {
  return !bt_is_missing(cut->mean[object]) && !cut->sem.why_not &&
         fabs(cut->mean[object] - cut->request->cut) <= errors * cut->sem.value;
}

static void put_zone(GString *out, const Cut *cut) {
  const BtDesign *design = cut->scores->design;
  g_autoptr(GString) names = g_string_new(NULL);
  int narrow = 0, wide = 0;
  for (gsize i = 0; i < cut->objects; i++) {
    narrow += in_zone(cut, i, 1);
    if (!in_zone(cut, i, WIDE) || ++wide > DOUBTFUL_MOST)
      continue;
    const char *name = g_ptr_array_index(cut->scores->values[design->object], i);
    g_string_append_printf(names, "%s%s (%.2f)", wide > 1 ? ", " : "", name, cut->mean[i]);
  }
  if (cut->sem.why_not)
    return;
  double error = cut->sem.value, at = cut->request->cut;
  cut->sem.value > 0
      ? cli_put_paragraph(out, 2,
                          "The doubtful zone around %.2f: %.2f to %.2f (one standard error) holds "
                          "%d, %.2f to %.2f (1.96) holds %d of %" G_GSIZE_FORMAT "%s%s%s.",
                          at, at - error, at + error, narrow, at - WIDE * error, at + WIDE * error,
                          wide, cut->n, wide ? ": " : "", names->str,
                          wide > DOUBTFUL_MOST ? " and others" : "")
      : cli_put_paragraph(out, 2, "No doubtful zone: the standard error is 0.");
}

static void put_cut(GString *out, const Cut *cut) {
  g_string_append_printf(out, "\nAt the pass mark %.2f\n", cut->request->cut);
  put_zone(out, cut);
  cli_put_figure_row(out, "Phi(lambda) (Brennan, Kane 1977)", 32, &cut->at_cut, DECIMALS);
  reliability_put_decision(out, &cut->beta, &cut->normal);
}

static json_t *cut_json(const Cut *cut) {
  json_t *zone = json_array();
  for (gsize i = 0; i < cut->objects; i++) {
    if (!in_zone(cut, i, WIDE))
      continue;
    const char *name = g_ptr_array_index(cut->scores->values[cut->scores->design->object], i);
    json_array_append_new(zone, json_pack("{s:s, s:f, s:b}", "object", name, "mean", cut->mean[i],
                                          "within_one", in_zone(cut, i, 1)));
  }
  json_t *object = json_pack("{s:f, s:o}", "cut", cut->request->cut, "doubtful", zone);
  json_object_set_new(object, "phi_lambda",
                      cli_json_figure("Phi(lambda) (Brennan and Kane 1977)", &cut->at_cut));
  json_object_set_new(object, "livingston_lewis",
                      reliability_json_decision(&cut->beta, "Livingston and Lewis (1995)"));
  json_object_set_new(object, "normal",
                      reliability_json_decision(&cut->normal, "Subkoviak (1988)"));
  return object;
}

// All of it -------------------------------------------------------------------

typedef struct {
  const Scores *scores;
  const BtGStudy *gstudy;
  Planning planning;
  BtDStudy observed;
  BtItems *items; // NULL: the design is not persons by items
  Cut cut;        // only when the request has one
  const ReliabilityRequest *request;
} Told;

static const char *const *item_names(const Told *told) {
  const Scores *scores = told->scores;
  return (const char *const *)scores->values[1 - scores->design->object]->pdata;
}

static void put_what_it_is(GString *out, const Told *told) {
  const BtGStudy *gstudy = told->gstudy;
  g_autofree char *scores = bt_count_of((gint64)gstudy->n, "score", NULL);
  g_autofree char *objects =
      reliability_count_words(told->scores->values[gstudy->design->object]->len,
                              gstudy->design->name[gstudy->design->object]);
  g_autofree char *holes =
      told->scores->missing
          ? g_strdup_printf("; %" G_GSIZE_FORMAT " rows without a score are left out",
                            told->scores->missing)
          : g_strdup("");
  const char *cells = gstudy->why_not    ? "" // nobody looked
                      : gstudy->complete ? "; every cell of the design has one"
                                         : "; some cells of the design have none";
  cli_put_paragraph(out, 0, "%s of %s%s%s.", scores, objects, cells, holes);
}

// Where every facet is fixed, all that differs counts for the persons: 1.00 would say nothing.
static void put_all_fixed(GString *out, const Told *told) {
  g_autofree char *conditions =
      reliability_conditions_words(told->gstudy, &told->planning.observed);
  cli_put_paragraph(out, 0,
                    "With %s nothing is left to vary: no part of the scores would be error, "
                    "whatever they are, so there is no reliability to tell. Leave out --fixed for "
                    "the facet whose conditions could have been others.",
                    conditions);
  g_string_append_c(out, '\n');
  reliability_put_components(out, told->gstudy);
}

static void put_text(GString *out, const Told *told) {
  const BtGStudy *gstudy = told->gstudy;
  bool all_fixed = told->planning.across < 0;
  if (gstudy->why_not) {
    cli_put_paragraph(out, 0, "Reliability is not estimable: %s.", gstudy->why_not);
  } else if (all_fixed) {
    put_all_fixed(out, told);
  } else {
    if (!told->observed.decision.why_not && !told->observed.ranking.why_not)
      cli_put_paragraph(out, 0,
                        "Reliability as scored: %.2f for pass decisions (Phi), %.2f for ranking.",
                        told->observed.decision.value, told->observed.ranking.value);
    reliability_put_answer(out, &told->planning);
    g_string_append_c(out, '\n');
    reliability_put_components(out, gstudy);
    g_autofree char *conditions = reliability_conditions_words(gstudy, &told->planning.observed);
    g_autofree char *title = g_strdup_printf("As scored, with %s", conditions);
    g_string_append_c(out, '\n');
    reliability_put_coefficients(out, title, &told->observed);
    g_string_append_c(out, '\n');
    reliability_put_plans(out, &told->planning);
  }
  if (told->items) {
    g_string_append(out, "\nItems\n");
    reliability_put_items(out, told->items, item_names(told));
  }
  if (told->request->has_cut && !gstudy->why_not)
    put_cut(out, &told->cut);
  g_string_append_c(out, '\n');
  put_what_it_is(out, told);
  if (gstudy->why_not)
    return;
  cli_put_paragraph(out, 0, "Components by %s.",
                    told->request->method == BT_BY_REML ? "restricted likelihood (REML)"
                    : gstudy->complete                  ? "analysis of variance (Brennan 2001)"
                                       : "Henderson's method 1 (1953; Brennan 2001, chapter 7)");
}

static void put_json(GString *out, const Told *told) {
  const BtGStudy *gstudy = told->gstudy;
  json_t *document = json_pack("{s:I, s:I, s:b, s:f, s:s?, s:s}", "scores", (json_int_t)gstudy->n,
                               "rows_without_score", (json_int_t)told->scores->missing, "complete",
                               gstudy->complete, "mean", gstudy->mean, "why_not", gstudy->why_not,
                               "method", told->request->method == BT_BY_REML ? "REML" : "ANOVA");
  if (!gstudy->why_not) {
    json_object_set_new(document, "effects", reliability_json_components(gstudy));
    json_object_set_new(document, "t_mean", json_real(gstudy->uncorrected_mean));
    json_object_set_new(document, "observed", reliability_json_coefficients(&told->observed));
    json_object_set_new(document, "plans", reliability_json_plans(&told->planning));
    json_object_set_new(document, "reach", reliability_json_reach(&told->planning));
    if (told->request->has_cut)
      json_object_set_new(document, "pass_mark", cut_json(&told->cut));
  }
  if (told->items)
    json_object_set_new(document, "items", reliability_json_items(told->items, item_names(told)));
  cli_put_json(out, document);
}

int reliability_of_table(Cli *cli, const ReliabilityRequest *request, const char *path,
                         const char *design) {
  g_auto(Scores) scores = {0};
  guint fixed = 0, same = 0;
  int status = read_scores(&scores, path, design);
  if (status != 0 || !set_of(scores.design, "--fixed", request->fixed, &fixed, &status) ||
      !set_of(scores.design, "--same", request->same, &same, &status))
    return status;
  BtScores of_study = {scores.n, scores.score, (const gsize *const *)scores.level};
  g_autoptr(BtGStudy) gstudy = bt_gstudy(scores.design, &of_study, request->method);
  BtPlan observed = bt_plan_of_study(gstudy);
  observed.fixed = fixed;
  observed.same = same;
  Told told = {.scores = &scores,
               .gstudy = gstudy,
               .planning = reliability_planning(gstudy, &observed, request->target),
               .request = request};
  BtRatings ratings = ratings_of(&scores);
  told.items = ratings.cell ? bt_items(&ratings) : NULL;
  told.observed = bt_dstudy_as_scored(gstudy, fixed, same);
  if (request->has_cut)
    told.cut = cut_of(&scores, gstudy, &told.observed, request);
  (request->json ? put_json : put_text)(cli->out, &told);
  g_free(told.items);
  g_free(told.cut.mean);
  g_free((gpointer)ratings.cell);
  return 0;
}
