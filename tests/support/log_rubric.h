// SPDX-License-Identifier: GPL-3.0-or-later
//
// A small rubric made in memory, so that the log can be tested without the reader of rubric files:
// "forearm", edition 1. Invented for these tests; no surgery is taught here.
#ifndef TESTS_LOG_RUBRIC_H
#define TESTS_LOG_RUBRIC_H

#include <benchtally/model.h>

enum { SITE_RADIUS, SITE_ULNA, SITE_STYLOID };
enum { ACTION_MARK, ACTION_REDUCE, ACTION_SCREW };
enum { DETAIL_LENGTH, DETAIL_HOLE, DETAIL_USE };

static inline char **log_rubric_words(BtRubric *rubric, const char *const *words, int n) {
  char **copy = bt_rubric_alloc(rubric, (gsize)n + 1, sizeof *copy);
  for (int i = 0; i < n; i++)
    copy[i] = bt_rubric_strdup(rubric, words[i]);
  return copy;
}

static inline void log_rubric_details(BtRubric *rubric, BtAction *screw) {
  static const char *const uses[] = {"neutral", "compression", "lag"};
  screw->n_details = 3;
  screw->details = bt_rubric_alloc(rubric, 3, sizeof *screw->details);
  screw->details[DETAIL_LENGTH] =
      (BtDetail){.name = bt_rubric_strdup(rubric, "length"),
                 .title = bt_rubric_strdup(rubric, "length"),
                 .kind = BT_DETAIL_MEASURED,
                 .unit = bt_rubric_strdup(rubric, "mm"),
                 .range = {.lo_milli = 8000, .hi_milli = 60000, .has_lo = true, .has_hi = true}};
  screw->details[DETAIL_HOLE] =
      (BtDetail){.name = bt_rubric_strdup(rubric, "hole"),
                 .title = bt_rubric_strdup(rubric, "hole"),
                 .kind = BT_DETAIL_WHOLE,
                 .range = {.lo_milli = 1000, .hi_milli = 12000, .has_lo = true, .has_hi = true},
                 .tells_apart = true};
  screw->details[DETAIL_USE] = (BtDetail){.name = bt_rubric_strdup(rubric, "use"),
                                          .title = bt_rubric_strdup(rubric, "use"),
                                          .kind = BT_DETAIL_WORD,
                                          .words = log_rubric_words(rubric, uses, 3),
                                          .n_words = 3};
}

static inline void log_rubric_actions(BtRubric *rubric) {
  static const char *const ids[] = {"mark", "reduce", "screw"};
  rubric->n_actions = 3;
  rubric->actions = bt_rubric_alloc(rubric, 3, sizeof *rubric->actions);
  for (int i = 0; i < 3; i++) {
    BtAction *action = &rubric->actions[i];
    action->id = bt_rubric_strdup(rubric, ids[i]);
    action->title = action->id;
    if (i == ACTION_MARK)
      continue;
    action->n_sites = 2;
    action->sites = bt_rubric_alloc(rubric, 2, sizeof *action->sites);
    action->sites[0] = SITE_RADIUS;
    action->sites[1] = SITE_ULNA;
  }
  log_rubric_details(rubric, &rubric->actions[ACTION_SCREW]);
}

static inline BtRubric *log_rubric_new(void) {
  static const char *const sites[] = {"radius-shaft", "ulna-shaft", "styloid"};
  static const char *const checkpoints[] = {"radius-reduced", "radius-screws"};
  static const char *const errors[] = {"plunge", "needless-screw"};
  BtRubric *rubric = bt_rubric_new();
  rubric->id = bt_rubric_strdup(rubric, "forearm");
  rubric->edition = 1;
  rubric->title = bt_rubric_strdup(rubric, "Forearm");
  rubric->n_sites = 3;
  rubric->sites = bt_rubric_alloc(rubric, 3, sizeof *rubric->sites);
  for (int i = 0; i < 3; i++)
    rubric->sites[i].id = rubric->sites[i].title = bt_rubric_strdup(rubric, sites[i]);
  log_rubric_actions(rubric);
  rubric->n_checkpoints = 2;
  rubric->checkpoints = bt_rubric_alloc(rubric, 2, sizeof *rubric->checkpoints);
  rubric->n_errors = 2;
  rubric->errors = bt_rubric_alloc(rubric, 2, sizeof *rubric->errors);
  for (int i = 0; i < 2; i++) {
    rubric->checkpoints[i].id = bt_rubric_strdup(rubric, checkpoints[i]);
    rubric->errors[i].id = bt_rubric_strdup(rubric, errors[i]);
  }
  rubric->errors[1].has_match = true;
  rubric->errors[1].match = (BtMatch){.action = ACTION_SCREW};
  rubric->n_injects = 1;
  rubric->injects = bt_rubric_alloc(rubric, 1, sizeof *rubric->injects);
  rubric->injects[0].id = bt_rubric_strdup(rubric, "wedge");
  rubric->n_measures = 1;
  rubric->measures = bt_rubric_alloc(rubric, 1, sizeof *rubric->measures);
  rubric->measures[0] =
      (BtMeasure){.id = bt_rubric_strdup(rubric, "gap"), .unit = bt_rubric_strdup(rubric, "mm")};
  rubric->n_ratings = 1;
  rubric->ratings = bt_rubric_alloc(rubric, 1, sizeof *rubric->ratings);
  rubric->ratings[0] = (BtRating){.id = bt_rubric_strdup(rubric, "flow"), .n = 5};
  return rubric;
}

#endif
