// SPDX-License-Identifier: GPL-3.0-or-later
//
// Times the engine alone: score_speed_tool RUBRIC EVENTS [ROUNDS] scores every observation of a log
// ROUNDS times and prints nanoseconds of processor time an event; without a log, random ones of 45
// events against random rubrics of 20 checkpoints.
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include <benchtally/log.h>
#include <benchtally/rubric.h>
#include <benchtally/score.h>

#include "support/random_case.h"

typedef struct {
  GPtrArray *rubrics, *observations; // side by side
} Load;

static void free_rubric(gpointer rubric) {
  bt_rubric_free(rubric);
}

static void free_observation(gpointer observation) {
  bt_observation_free(observation);
}

static Load random_load(int n) {
  static const RandomShape shape = {.max_checkpoints = 20, .max_choices = 2};
  Load load = {g_ptr_array_new_with_free_func(free_rubric),
               g_ptr_array_new_with_free_func(free_observation)};
  Dice dice = {1};
  while ((int)load.observations->len < n) {
    BtRubric *rubric = random_rubric(&dice, &shape);
    if (rubric->n_checkpoints < shape.max_checkpoints) {
      bt_rubric_free(rubric);
      continue;
    }
    g_ptr_array_add(load.rubrics, rubric);
    g_ptr_array_add(load.observations, random_log(rubric, &dice, 40, 8));
  }
  return load;
}

static bool file_load(const char *rubric_path, const char *events_path, Load *load) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtRubric *rubric = bt_rubric_read_file(rubric_path, faults, NULL);
  if (!rubric)
    return false;
  load->rubrics = g_ptr_array_new_with_free_func(free_rubric);
  g_ptr_array_add(load->rubrics, rubric);
  load->observations = bt_log_read_observations(events_path, rubric, faults, NULL);
  return load->observations != NULL;
}

static gint64 score_all(const Load *load) {
  gint64 events = 0;
  for (guint i = 0; i < load->observations->len; i++) {
    const BtObservation *observation = load->observations->pdata[i];
    bt_ledger_free(bt_score(load->rubrics->pdata[MIN(i, load->rubrics->len - 1)], observation));
    events += observation->events->len;
  }
  return events;
}

int main(int argc, char **argv) {
  Load load = {NULL, NULL};
  if (argc >= 3 && !file_load(argv[1], argv[2], &load)) {
    fprintf(stderr, "The rubric or the log cannot be read; check them with benchtally.\n");
    return 2;
  }
  if (argc < 3)
    load = random_load(200);
  int rounds = argc >= 4 ? atoi(argv[3]) : 50;
  gint64 events = 0;
  clock_t begin = clock();
  for (int i = 0; i < rounds; i++)
    events += score_all(&load);
  gint64 spent_us = (gint64)(clock() - begin) * G_USEC_PER_SEC / CLOCKS_PER_SEC;
  printf("%u observations, %" G_GINT64_FORMAT " events: %" G_GINT64_FORMAT " ns an event\n",
         load.observations->len, events, spent_us * 1000 / MAX(events, 1));
  g_ptr_array_unref(load.observations);
  g_ptr_array_unref(load.rubrics);
  return 0;
}
