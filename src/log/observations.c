// SPDX-License-Identifier: GPL-3.0-or-later
//
// A file of events as observations in memory, for scoring without a book.
#include <benchtally/log.h>

#include <string.h>

typedef struct {
  const BtRubric *rubric;
  GPtrArray *observations;
} Collector;

static const BtRubric *rubric_of(const char *id, int edition, gpointer user_data, GError **error) {
  (void)error;
  const Collector *collector = user_data;
  const BtRubric *rubric = collector->rubric;
  return strcmp(rubric->id, id) == 0 && rubric->edition == edition ? rubric : NULL;
}

static char **rubric_ids(gpointer user_data) {
  const Collector *collector = user_data;
  const char *ids[] = {collector->rubric->id, NULL};
  return g_strdupv((char **)ids);
}

static gpointer begin_observation(const BtHeader *header, const BtRubric *rubric,
                                  gpointer user_data, GError **error) {
  (void)rubric;
  (void)error;
  Collector *collector = user_data;
  BtObservation *observation = bt_observation_new(header);
  g_ptr_array_add(collector->observations, observation);
  return observation;
}

static bool add_event(gpointer observation, const BtEvent *event, const char *id, gint64 line,
                      gpointer user_data, GError **error) {
  (void)id;
  (void)line;
  (void)user_data;
  (void)error;
  bt_observation_add(observation, event);
  return true;
}

static void free_observation(gpointer observation) {
  bt_observation_free(observation);
}

GPtrArray *bt_log_read_observations(const char *path, const BtRubric *rubric, GPtrArray *faults,
                                    GError **error) {
  g_autoptr(GPtrArray) observations = g_ptr_array_new_with_free_func(free_observation);
  Collector collector = {rubric, observations};
  BtLogSink sink = {.rubric = rubric_of,
                    .observation = begin_observation,
                    .event = add_event,
                    .user_data = &collector,
                    .rubric_ids = rubric_ids};
  return bt_log_read_file(path, &sink, faults, error) ? g_steal_pointer(&observations) : NULL;
}
