// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reliability of a table, a name and a number a line, for a test that makes the same with another
// program:
//
//   reliability_tool items FILE.csv "p x i"
//   reliability_tool anova|reml FILE.csv DESIGN PLAN    (PLAN: conditions of each facet, "10,3,2")
//   reliability_tool decision FILE.csv LEAST MOST CUT RELIABILITY   (column score)
//   reliability_tool normal Z RELIABILITY
//
// `seconds` is what one computation took, reading apart.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <benchtally/model.h>
#include <benchtally/reliability.h>
#include <benchtally/table.h>

#define LEAST_US 50000 // computations are repeated for so long

typedef struct {
  BtTable *table;
  BtDesign *design;
  GPtrArray *faults;
  BtScores scores;
  const gsize *level[BT_FACETS_MOST];
  gsize levels[BT_FACETS_MOST];
} Input;

static void say(const char *name, double value) {
  printf("%s %.17g\n", name, value);
}

static void say_estimate(const char *name, const BtEstimate *estimate) {
  if (estimate->why_not)
    return;
  say(name, estimate->value);
  g_autofree char *se = g_strconcat(name, ".se", NULL);
  g_autofree char *low = g_strconcat(name, ".low", NULL);
  g_autofree char *high = g_strconcat(name, ".high", NULL);
  if (estimate->has_se)
    say(se, estimate->se);
  if (estimate->has_limits) {
    say(low, estimate->low);
    say(high, estimate->high);
  }
}

// Reads the table; ends the program when that is not possible.
static Input read_input(const char *path, const char *design) {
  Input input = {.faults = bt_faults_new()};
  const char *columns[] = {"score", NULL};
  input.table = bt_table_read(path, columns, input.faults, NULL);
  input.design = design ? bt_design_parse(design, NULL) : NULL;
  if (!input.table || (design && !input.design))
    exit(2);
  for (int i = 0; design && i < input.design->facets; i++) {
    GPtrArray *values = NULL;
    int column = bt_table_column(input.table, input.design->name[i]);
    input.level[i] = bt_table_levels(input.table, column, &values, input.faults);
    if (!input.level[i])
      exit(2);
    input.levels[i] = values->len;
    g_ptr_array_unref(values);
  }
  double *score =
      bt_table_numbers(input.table, bt_table_column(input.table, "score"), input.faults);
  if (!score)
    exit(2);
  input.scores = (BtScores){bt_table_rows(input.table), score, NULL};
  return input;
}

static void free_input(Input *input) {
  for (int i = 0; i < BT_FACETS_MOST; i++)
    g_free((gpointer)input->level[i]);
  g_free((gpointer)input->scores.score);
  bt_design_free(input->design);
  bt_table_free(input->table);
  g_ptr_array_unref(input->faults);
}

static int items(const char *path, const char *design) {
  Input input = read_input(path, design);
  gsize persons = input.levels[0], n = input.levels[1], times = 0;
  g_autofree double *cell = g_new(double, persons *n);
  for (gsize i = 0; i < persons * n; i++)
    cell[i] = BT_MISSING;
  for (gsize i = 0; i < input.scores.n; i++)
    cell[input.level[0][i] * n + input.level[1][i]] = input.scores.score[i];
  BtRatings table = {persons, n, cell};
  BtItems *found = bt_items(&table);
  gint64 begin = g_get_monotonic_time();
  for (; g_get_monotonic_time() - begin < LEAST_US; times++) {
    g_free(found);
    found = bt_items(&table);
  }
  say("seconds", (double)(g_get_monotonic_time() - begin) / 1e6 / (double)times);
  say_estimate("alpha", &found->alpha);
  for (gsize i = 0; i < n; i++) {
    g_autofree char *mean = g_strdup_printf("mean.%" G_GSIZE_FORMAT, i + 1);
    g_autofree char *with = g_strdup_printf("r.%" G_GSIZE_FORMAT, i + 1);
    g_autofree char *without = g_strdup_printf("without.%" G_GSIZE_FORMAT, i + 1);
    say(mean, found->item[i].difficulty.value);
    say_estimate(with, &found->item[i].discrimination);
    say_estimate(without, &found->item[i].alpha_without);
  }
  g_free(found);
  free_input(&input);
  return 0;
}

static void say_effects(const BtGStudy *study) {
  for (int i = 0; i < study->design->effects; i++) {
    g_autofree char *name =
        g_strdelimit(bt_design_name(study->design, study->design->effect[i]), " ", '_');
    g_autofree char *square = g_strconcat("ms.", name, NULL);
    g_autofree char *component = g_strconcat("v.", name, NULL);
    say_estimate(square, &study->effect[i].mean_square);
    say_estimate(component, &study->effect[i].component);
  }
}

static int study(BtComponentMethod method, const char *path, const char *design,
                 const char *plan_text) {
  Input input = read_input(path, design);
  gsize times = 0;
  input.scores.levels = input.level;
  BtGStudy *found = bt_gstudy(input.design, &input.scores, method);
  gint64 begin = g_get_monotonic_time();
  for (; g_get_monotonic_time() - begin < LEAST_US; times++) {
    bt_gstudy_free(found);
    found = bt_gstudy(input.design, &input.scores, method);
  }
  say("seconds", (double)(g_get_monotonic_time() - begin) / 1e6 / (double)times);
  say_effects(found);
  BtPlan plan = bt_plan_of_study(found);
  BtDStudy own = bt_dstudy_as_scored(found, 0, 0);
  say_estimate("own.erho2", &own.ranking);
  say_estimate("own.phi", &own.decision);
  g_auto(GStrv) numbers = g_strsplit(plan_text, ",", -1);
  for (int i = 0; i < input.design->facets && numbers[i]; i++)
    plan.conditions[i] = g_ascii_strtod(numbers[i], NULL);
  BtDStudy reached = bt_dstudy(found, &plan);
  say_estimate("erho2", &reached.ranking);
  say_estimate("phi", &reached.decision);
  bt_gstudy_free(found);
  free_input(&input);
  return 0;
}

static void say_decision(const BtDecision *decision) {
  say_estimate("consistency", &decision->consistency);
  say_estimate("kappa", &decision->kappa);
  say_estimate("accuracy", &decision->accuracy);
  say_estimate("false_pass", &decision->false_pass);
  say_estimate("false_not_yet", &decision->false_not_yet);
}

static double number(const char *text) {
  return g_ascii_strtod(text, NULL);
}

static int decision(char **argument) {
  Input input = read_input(argument[0], NULL);
  BtDecision found =
      bt_decision_beta(input.scores.score, input.scores.n, number(argument[1]), number(argument[2]),
                       number(argument[3]), number(argument[4]));
  say("length", found.effective_length);
  say_decision(&found);
  free_input(&input);
  return 0;
}

int main(int argc, char **argv) {
  if (argc == 4 && strcmp(argv[1], "items") == 0)
    return items(argv[2], argv[3]);
  if (argc == 5 && strcmp(argv[1], "anova") == 0)
    return study(BT_BY_ANOVA, argv[2], argv[3], argv[4]);
  if (argc == 5 && strcmp(argv[1], "reml") == 0)
    return study(BT_BY_REML, argv[2], argv[3], argv[4]);
  if (argc == 7 && strcmp(argv[1], "decision") == 0)
    return decision(argv + 2);
  if (argc == 4 && strcmp(argv[1], "normal") == 0) {
    BtDecision found = bt_decision_normal(number(argv[2]), number(argv[3]), 0);
    say_decision(&found);
    return 0;
  }
  fprintf(stderr, "reliability_tool: see the head of its source\n");
  return 2;
}
