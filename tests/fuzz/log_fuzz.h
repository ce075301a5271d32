// SPDX-License-Identifier: GPL-3.0-or-later
//
// What both readers of events promise for any bytes: an answer or faults, never both nor neither;
// events that are in order and refer to things the rubric has; faults that can be shown.
#ifndef TESTS_LOG_FUZZ_H
#define TESTS_LOG_FUZZ_H

#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include <benchtally/log.h>

#include "../support/log_rubric.h"

static inline void log_fuzz_check(bool holds) {
  if (!holds)
    __builtin_trap();
}

static inline void log_fuzz_check_event(const BtRubric *rubric, const BtEvent *event, int seq) {
  log_fuzz_check(event->seq == seq && event->redo < seq && event->redo >= BT_REDO_YES);
  log_fuzz_check(event->at_ms >= 0 && event->at_ms <= BT_DURATION_MS_MAX);
  log_fuzz_check((event->kind == BT_EVENT_WORK) == (event->action >= 0));
  log_fuzz_check(event->action < rubric->n_actions && event->site < rubric->n_sites);
  log_fuzz_check(!event->note || g_utf8_validate(event->note, -1, NULL));
  for (int i = 0; i < event->n_details; i++) {
    const BtDetail *details = rubric->actions[event->action].details;
    const BtDetailValue *value = &event->details[i];
    log_fuzz_check(value->detail < rubric->actions[event->action].n_details);
    log_fuzz_check((details[value->detail].kind == BT_DETAIL_WORD) == (value->text != NULL));
  }
}

static inline void log_fuzz_check_faults(const GPtrArray *faults) {
  log_fuzz_check(faults->len <= 201);
  for (guint i = 0; i < faults->len; i++) {
    g_autofree char *text = bt_fault_format(faults->pdata[i]);
    log_fuzz_check(g_utf8_validate(text, -1, NULL));
  }
}

// Reads `before` and then `data` as a file.
static inline void log_fuzz_read(const char *before, const void *data, size_t size) {
  char path[64];
  int file = memfd_create("events", 0);
  log_fuzz_check(file >= 0 && write(file, before, strlen(before)) == (ssize_t)strlen(before) &&
                 write(file, data, size) == (ssize_t)size);
  g_snprintf(path, sizeof path, "/proc/self/fd/%d", file);
  g_autoptr(BtRubric) rubric = log_rubric_new();
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GPtrArray) observations = bt_log_read_observations(path, rubric, faults, NULL);
  close(file);
  log_fuzz_check((observations == NULL) == (bt_faults_count_errors(faults) > 0));
  log_fuzz_check_faults(faults);
  for (guint i = 0; observations && i < observations->len; i++) {
    const BtObservation *observation = observations->pdata[i];
    for (guint e = 0; e < observation->events->len; e++)
      log_fuzz_check_event(rubric, &g_array_index(observation->events, BtEvent, e), (int)e + 1);
  }
}

#endif
