// SPDX-License-Identifier: GPL-3.0-or-later
//
// simulate_tool FOLDER [--seed N] [--trainees N] [--attempts-most N] RUBRIC...
//
// Writes people.csv, one event file a rubric, and truth.json: the learning curves and severities
// the records were made from. The same seed gives the same bytes.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <benchtally/rubric.h>

#include "simulator/simulate.h"

#define DAY_MS       G_GINT64_CONSTANT(86400000)
#define FIRST_DAY_MS G_GINT64_CONSTANT(1725433200000) // 2024-09-04T07:00:00Z, a Wednesday
#define DAYS         660                              // two years of teaching

static const char *const first_names[] = {
    "Ada",  "Bram", "Cleo", "Dov",  "Edda", "Finn", "Gwen", "Hugo", "Iris", "Jago", "Kaya", "Lars",
    "Mina", "Nils", "Oona", "Pell", "Quil", "Rhea", "Sven", "Tova", "Ugo",  "Vera", "Wren", "Yara"};
static const char *const last_names[] = {
    "Alderly",   "Birchmoor", "Cedarholt", "Dogwood",  "Elmstead", "Fernley",
    "Gorsehill", "Hazelby",   "Ivyton",    "Juniper",  "Kelpwick", "Larchfield",
    "Mapledene", "Nettleby",  "Oakhurst",  "Pinewood", "Quince",   "Rowanby",
    "Sorrelton", "Thistle",   "Ulmus",     "Vetchley", "Willowby", "Yewdale"};
static const char *const levels[] = {"year 1", "year 2", "year 4"};

static const Assessor assessors[] = {{"A-01", "Assessor Quartz", 0.0, 0.99},
                                     {"A-02", "Assessor Basalt", 0.6, 0.98},
                                     {"A-03", "Assessor Chalk", -0.5, 0.97},
                                     {"A-04", "Assessor Slate", 0.2, 0.99},
                                     {"A-05", "Assessor Marl", -0.2, 0.95}};

typedef struct {
  guint64 seed;
  int trainees, attempts_most;
  const char *folder;
  GPtrArray *rubrics;
  GString *people, *truth;
} Residency;

static char *trainee_code(int trainee) {
  return g_strdup_printf("R-%03d", trainee + 1);
}

static int level_of(int trainee) {
  return trainee % (int)G_N_ELEMENTS(levels);
}

// Years of training raise the start; talent and the exercise move all three.
static Curve true_curve(const Residency *residency, int trainee, int exercise) {
  Random talent = random_branch(residency->seed, 1, (guint64)trainee, 0);
  Random task = random_branch(residency->seed, 2, (guint64)trainee, (guint64)exercise + 1);
  double gift = random_normal(&talent);
  double start = 0.22 + 0.16 * level_of(trainee) + 0.07 * gift + 0.06 * random_normal(&task);
  double plateau = 0.86 + 0.04 * gift + 0.03 * random_normal(&task);
  double rate = 0.45 + 0.12 * random_normal(&task);
  Curve curve = {CLAMP(start, 0.05, 0.85), CLAMP(plateau, 0.6, 0.97), CLAMP(rate, 0.05, 1.2)};
  // One in eight has stopped improving: the director must be able to see it.
  if (trainee % 8 == 5)
    curve.plateau = MIN(curve.plateau, curve.start + 0.06);
  return curve;
}

static int attempts_of(const Residency *residency, int trainee, int exercise) {
  Random random = random_branch(residency->seed, 3, (guint64)trainee, (guint64)exercise);
  int least = MIN(2, residency->attempts_most);
  return least + random_below(&random, residency->attempts_most - least + 1);
}

// Attempts are spread over the two years, on working days.
static gint64 start_of(const Residency *residency, int trainee, int exercise, int attempt,
                       int attempts) {
  Random random =
      random_branch(residency->seed, 4, (guint64)(trainee * 100 + exercise), (guint64)attempt);
  gint64 slot = DAYS * (attempt - 1) / attempts;
  gint64 day = slot + random_below(&random, MAX(DAYS / attempts - 1, 1));
  if ((day + 2) % 7 >= 5)
    day += 2;
  return FIRST_DAY_MS + day * DAY_MS + (gint64)random_below(&random, 32) * 15 * 60000;
}

static GPtrArray *detail_columns(const BtRubric *rubric) {
  GPtrArray *names = g_ptr_array_new();
  for (int a = 0; a < rubric->n_actions; a++) {
    for (int d = 0; d < rubric->actions[a].n_details; d++) {
      char *name = rubric->actions[a].details[d].name;
      if (!g_ptr_array_find_with_equal_func(names, name, g_str_equal, NULL))
        g_ptr_array_add(names, name);
    }
  }
  return names;
}

static void append_truth(Residency *residency, const char *trainee, const char *rubric,
                         const Curve *curve) {
  g_string_append_printf(
      residency->truth,
      "%s\n    {\"trainee\": \"%s\", \"rubric\": \"%s\", \"start\": %.6f, \"plateau\": %.6f, "
      "\"rate\": %.6f}",
      g_str_has_suffix(residency->truth->str, "}") ? "," : "", trainee, rubric, curve->start,
      curve->plateau, curve->rate);
}

// One session: what happened, as the live assessor logged it, and for a quarter of them a second
// one from video.
static void append_session(const Residency *residency, int exercise, int trainee, int attempt,
                           int attempts, const Curve *curve, const GPtrArray *details,
                           GString *csv) {
  const BtRubric *rubric = residency->rubrics->pdata[exercise];
  guint64 which = (guint64)(trainee * 1000 + exercise * 100 + attempt);
  Random random = random_branch(residency->seed, 5, which, 0);
  g_autofree char *code = trainee_code(trainee);
  g_autofree char *session = g_strdup_printf("%s-%s-%d", code, rubric->id, attempt);
  double day_form = 0.03 * random_normal(&random);
  GArray *deeds =
      performance_new(rubric, CLAMP(curve_at(curve, attempt) + day_form, 0.02, 0.99), &random);
  int live = random_below(&random, (int)G_N_ELEMENTS(assessors));
  BtHeader header = {.session = session,
                     .trainee = code,
                     .assessor = assessors[live].code,
                     .rubric = rubric->id,
                     .edition = rubric->edition,
                     .started_ms = start_of(residency, trainee, exercise, attempt, attempts),
                     .mode = BT_MODE_LIVE};
  observe(rubric, deeds, &assessors[live], &header, details, &random, csv);
  if (random_chance(&random, 0.25)) {
    int second = (live + 1 + random_below(&random, (int)G_N_ELEMENTS(assessors) - 1)) %
                 (int)G_N_ELEMENTS(assessors);
    header.assessor = assessors[second].code;
    header.mode = BT_MODE_VIDEO;
    observe(rubric, deeds, &assessors[second], &header, details, &random, csv);
  }
  performance_free(deeds);
}

static bool write_text(const Residency *residency, const char *name, const GString *text) {
  g_autofree char *path = g_build_filename(residency->folder, name, NULL);
  g_autoptr(GError) error = NULL;
  if (bt_file_write(path, text->str, text->len, &error))
    return true;
  fprintf(stderr, "simulate_tool: %s\n", error->message);
  return false;
}

static bool write_exercise(Residency *residency, int exercise) {
  const BtRubric *rubric = residency->rubrics->pdata[exercise];
  g_autoptr(GPtrArray) details = detail_columns(rubric);
  GString *csv = g_string_new(
      "session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,note");
  for (guint i = 0; i < details->len; i++)
    g_string_append_printf(csv, ",%s", (const char *)details->pdata[i]);
  g_string_append_c(csv, '\n');
  for (int trainee = 0; trainee < residency->trainees; trainee++) {
    g_autofree char *code = trainee_code(trainee);
    Curve curve = true_curve(residency, trainee, exercise);
    int attempts = attempts_of(residency, trainee, exercise);
    append_truth(residency, code, rubric->id, &curve);
    for (int attempt = 1; attempt <= attempts; attempt++)
      append_session(residency, exercise, trainee, attempt, attempts, &curve, details, csv);
  }
  g_autofree char *name = g_strconcat(rubric->id, ".csv", NULL);
  bool written = write_text(residency, name, csv);
  g_string_free(csv, TRUE);
  return written;
}

static void append_people(Residency *residency) {
  g_string_append(residency->people, "code,name,role,level,cohort\n");
  for (int trainee = 0; trainee < residency->trainees; trainee++) {
    g_autofree char *code = trainee_code(trainee);
    gsize n = G_N_ELEMENTS(first_names);
    g_string_append_printf(
        residency->people, "%s,%s %s,trainee,%s,2024\n", code, first_names[(gsize)trainee % n],
        last_names[((gsize)trainee / n + (gsize)trainee) % n], levels[level_of(trainee)]);
  }
  for (gsize i = 0; i < G_N_ELEMENTS(assessors); i++)
    g_string_append_printf(residency->people, "%s,%s,assessor,,\n", assessors[i].code,
                           assessors[i].name);
  g_string_append(residency->people, "D-01,Director Flint,director,,\n");
}

static void append_severities(Residency *residency) {
  g_string_append(residency->truth, "\n  ],\n  \"assessors\": [");
  for (gsize i = 0; i < G_N_ELEMENTS(assessors); i++)
    g_string_append_printf(
        residency->truth, "%s\n    {\"assessor\": \"%s\", \"severity\": %.6f, \"attention\": %.6f}",
        i ? "," : "", assessors[i].code, assessors[i].severity, assessors[i].attention);
  g_string_append(residency->truth, "\n  ]\n}\n");
}

static bool read_rubrics(Residency *residency, char **paths) {
  for (; *paths; paths++) {
    g_autoptr(GPtrArray) faults = bt_faults_new();
    g_autoptr(GError) error = NULL;
    BtRubric *rubric = bt_rubric_read_file(*paths, faults, &error);
    if (!rubric) {
      fprintf(stderr, "simulate_tool: %s: %s\n", *paths, error ? error->message : "has faults");
      return false;
    }
    g_ptr_array_add(residency->rubrics, rubric);
  }
  return residency->rubrics->len > 0;
}

static bool simulate(Residency *residency) {
  bool done = true;
  for (guint i = 0; done && i < residency->rubrics->len; i++)
    done = write_exercise(residency, (int)i);
  append_severities(residency);
  append_people(residency);
  return done && write_text(residency, "people.csv", residency->people) &&
         write_text(residency, "truth.json", residency->truth);
}

int main(int argc, char **argv) {
  gint64 seed = 20260904;
  int trainees = 24, attempts_most = 5;
  const GOptionEntry entries[] = {
      {"seed", 0, 0, G_OPTION_ARG_INT64, &seed, "Seed", "N"},
      {"trainees", 0, 0, G_OPTION_ARG_INT, &trainees, "How many trainees", "N"},
      {"attempts-most", 0, 0, G_OPTION_ARG_INT, &attempts_most, "At each exercise", "N"},
      G_OPTION_ENTRY_NULL};
  g_autoptr(GOptionContext) context = g_option_context_new("FOLDER RUBRIC...");
  g_option_context_add_main_entries(context, entries, NULL);
  if (!g_option_context_parse(context, &argc, &argv, NULL) || argc < 3) {
    fprintf(stderr, "usage: simulate_tool [OPTION...] FOLDER RUBRIC...\n");
    return 2;
  }
  Residency residency = {.seed = (guint64)seed,
                         .trainees = trainees,
                         .attempts_most = attempts_most,
                         .folder = argv[1],
                         .rubrics = g_ptr_array_new_with_free_func((GDestroyNotify)bt_rubric_free),
                         .people = g_string_new(NULL),
                         .truth = g_string_new("{\n  \"curves\": [")};
  bool done = read_rubrics(&residency, argv + 2) && simulate(&residency);
  g_ptr_array_unref(residency.rubrics);
  g_string_free(residency.people, TRUE);
  g_string_free(residency.truth, TRUE);
  return done ? 0 : 1;
}
