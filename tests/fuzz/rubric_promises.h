// SPDX-License-Identifier: GPL-3.0-or-later
//
// What model.h and the file format promise of a rubric that was read, checked by other means than
// the reader's. For tests and the fuzz target.
#ifndef BENCHTALLY_RUBRIC_PROMISES_H
#define BENCHTALLY_RUBRIC_PROMISES_H

#include <benchtally/rubric.h>

#include <string.h>

#define PROMISE(held)                                                                              \
  do {                                                                                             \
    if (!(held))                                                                                   \
      return #held;                                                                                \
  } while (0)

static inline bool promise_text(const char *text) {
  if (!text || !text[0] || !g_utf8_validate(text, -1, NULL))
    return false;
  for (const char *p = text; *p; p = g_utf8_next_char(p)) {
    if (g_unichar_iscntrl(g_utf8_get_char(p)))
      return false;
  }
  return true;
}

static inline bool promise_points(gint64 points_mp) {
  return points_mp >= 0 && points_mp <= BT_POINTS_MP_MAX;
}

static inline bool promise_indices(const int *indices, int n, int n_all, bool ascending) {
  for (int i = 0; i < n; i++) {
    if (indices[i] < 0 || indices[i] >= n_all)
      return false;
    for (int j = 0; j < i; j++) {
      if (indices[j] == indices[i] || (ascending && indices[j] > indices[i]))
        return false;
    }
  }
  return n >= 0 && (n == 0 || indices);
}

static inline bool promise_range(const BtRange *range) {
  return !range->has_lo || !range->has_hi || range->lo_milli <= range->hi_milli;
}

static inline const char *promise_detail(const BtDetail *detail) {
  PROMISE(promise_text(detail->name) && promise_text(detail->title));
  PROMISE(!g_strv_contains(bt_log_columns(), detail->name));
  PROMISE(promise_range(&detail->range));
  PROMISE((detail->kind == BT_DETAIL_MEASURED) == (detail->unit != NULL));
  PROMISE(!detail->unit || (promise_text(detail->unit) && !strchr(detail->unit, ' ')));
  PROMISE((detail->kind == BT_DETAIL_WORD) == (detail->n_words > 0));
  for (int i = 0; i < detail->n_words; i++)
    PROMISE(promise_text(detail->words[i]));
  PROMISE(!detail->words || !detail->words[detail->n_words]);
  return NULL;
}

static inline const char *promise_action(const BtRubric *rubric, const BtAction *action) {
  PROMISE(promise_text(action->id) && promise_text(action->title));
  PROMISE(bt_event_kind_from_name(action->id) == BT_EVENT_WORK);
  PROMISE(action->key == 0 || g_ascii_islower((char)action->key) ||
          g_ascii_isdigit((char)action->key));
  PROMISE(promise_indices(action->sites, action->n_sites, rubric->n_sites, false));
  for (int i = 0; i < action->n_details; i++) {
    const char *broken = promise_detail(&action->details[i]);
    if (broken)
      return broken;
  }
  return NULL;
}

static inline const char *promise_allowed(const BtAction *action, const BtAllowed *allowed, int n) {
  for (int i = 0; i < n; i++) {
    PROMISE(allowed[i].detail >= 0 && allowed[i].detail < action->n_details);
    const BtDetail *detail = &action->details[allowed[i].detail];
    PROMISE((detail->kind == BT_DETAIL_WORD ? allowed[i].n_words : allowed[i].n_ranges) > 0);
    PROMISE((detail->kind == BT_DETAIL_WORD ? allowed[i].n_ranges : allowed[i].n_words) == 0);
    PROMISE(promise_indices(allowed[i].words, allowed[i].n_words, detail->n_words, false));
    for (int r = 0; r < allowed[i].n_ranges; r++)
      PROMISE(promise_range(&allowed[i].ranges[r]));
    for (int j = 0; j < i; j++)
      PROMISE(allowed[j].detail != allowed[i].detail);
  }
  return NULL;
}

static inline const char *promise_match(const BtRubric *rubric, const BtMatch *match) {
  PROMISE(match->action >= 0 && match->action < rubric->n_actions);
  const BtAction *action = &rubric->actions[match->action];
  PROMISE(promise_indices(match->sites, match->n_sites, rubric->n_sites, false));
  for (int i = 0; i < match->n_sites; i++) {
    bool listed = false;
    for (int j = 0; j < action->n_sites; j++)
      listed = listed || action->sites[j] == match->sites[i];
    PROMISE(listed);
  }
  return promise_allowed(action, match->details, match->n_details);
}

static inline const char *promise_checkpoint(const BtRubric *rubric, int index) {
  const BtCheckpoint *checkpoint = &rubric->checkpoints[index];
  PROMISE(promise_text(checkpoint->id) && promise_text(checkpoint->title));
  PROMISE(checkpoint->phase >= 0 && checkpoint->phase < rubric->n_phases);
  const BtPhase *phase = &rubric->phases[checkpoint->phase];
  PROMISE(index >= phase->first_checkpoint &&
          index < phase->first_checkpoint + phase->n_checkpoints);
  PROMISE(checkpoint->least >= 1 && checkpoint->least <= checkpoint->most);
  PROMISE(promise_points(checkpoint->points_mp));
  PROMISE(checkpoint->extra_kind >= -1 && checkpoint->extra_kind < rubric->n_errors);
  PROMISE(checkpoint->line > 0);
  PROMISE((checkpoint->choice < 0) == (checkpoint->option < 0));
  PROMISE(checkpoint->choice < rubric->n_choices);
  PROMISE(!checkpoint->coach || promise_text(checkpoint->coach));
  const char *broken = promise_match(rubric, &checkpoint->match);
  return broken ? broken
                : promise_allowed(&rubric->actions[checkpoint->match.action], checkpoint->expect,
                                  checkpoint->n_expect);
}

static inline const char *promise_phases(const BtRubric *rubric) {
  int next = 0;
  for (int i = 0; i < rubric->n_phases; i++) {
    const BtPhase *phase = &rubric->phases[i];
    PROMISE(promise_text(phase->id) && promise_text(phase->title));
    PROMISE(promise_points(phase->points_mp));
    PROMISE(phase->points_mp == 0 || (phase->target_ms > 0 && phase->target_ms < phase->limit_ms));
    PROMISE(phase->limit_ms <= BT_DURATION_MS_MAX && phase->target_ms <= BT_DURATION_MS_MAX);
    PROMISE(phase->first_checkpoint == next && phase->n_checkpoints > 0);
    next += phase->n_checkpoints;
  }
  PROMISE(next == rubric->n_checkpoints);
  return NULL;
}

static inline const char *promise_rule(const BtRubric *rubric, int index) {
  const BtRule *rule = &rubric->rules[index];
  PROMISE(promise_text(rule->id) && promise_text(rule->why));
  PROMISE(promise_text(rule->first_text) && promise_text(rule->then_text));
  PROMISE(rule->n_first > 0 && rule->n_then > 0);
  PROMISE(promise_indices(rule->first, rule->n_first, rubric->n_checkpoints, true));
  PROMISE(promise_indices(rule->then, rule->n_then, rubric->n_checkpoints, true));
  for (int i = 0; i < rule->n_first; i++) {
    for (int j = 0; j < rule->n_then; j++)
      PROMISE(rule->first[i] != rule->then[j]);
  }
  PROMISE(promise_points(rule->lose_mp));
  PROMISE(rule->inject >= -1 && rule->inject < rubric->n_injects);
  PROMISE(index == 0 || rubric->rules[index - 1].inject <= rule->inject);
  return NULL;
}

static inline const char *promise_choices(const BtRubric *rubric) {
  gint64 combinations = 1;
  for (int i = 0; i < rubric->n_choices; i++) {
    const BtChoice *choice = &rubric->choices[i];
    PROMISE(promise_text(choice->id) && promise_text(choice->title));
    PROMISE(choice->n_options >= 2);
    combinations *= choice->n_options;
    PROMISE(combinations <= 1024);
    for (int o = 0; o < choice->n_options; o++) {
      const BtOption *option = &choice->options[o];
      PROMISE(option->n_checkpoints > 0);
      PROMISE(promise_indices(option->checkpoints, option->n_checkpoints, rubric->n_checkpoints,
                              false));
      for (int c = 0; c < option->n_checkpoints; c++)
        PROMISE(rubric->checkpoints[option->checkpoints[c]].choice == i &&
                rubric->checkpoints[option->checkpoints[c]].option == o);
    }
  }
  return NULL;
}

static inline const char *promise_inject(const BtRubric *rubric, const BtInject *inject) {
  PROMISE(promise_text(inject->id) && promise_text(inject->title));
  PROMISE(promise_indices(inject->adds, inject->n_adds, rubric->n_checkpoints, false));
  PROMISE(promise_indices(inject->drops, inject->n_drops, rubric->n_checkpoints, false));
  PROMISE(promise_indices(inject->suspends, inject->n_suspends, rubric->n_rules, false));
  for (int i = 0; i < inject->n_suspends; i++)
    PROMISE(rubric->rules[inject->suspends[i]].inject == -1);
  for (int i = 0; i < inject->n_adds; i++) {
    PROMISE(rubric->checkpoints[inject->adds[i]].choice == -1);
    for (int j = 0; j < inject->n_drops; j++)
      PROMISE(inject->adds[i] != inject->drops[j]);
  }
  for (int i = 0; i < inject->n_drops; i++)
    PROMISE(rubric->checkpoints[inject->drops[i]].choice == -1);
  return NULL;
}

static inline bool promise_rule_counts(const BtRubric *rubric, int rule, int inject) {
  if (rubric->rules[rule].inject >= 0)
    return rubric->rules[rule].inject == inject;
  for (int i = 0; inject >= 0 && i < rubric->injects[inject].n_suspends; i++) {
    if (rubric->injects[inject].suspends[i] == rule)
      return false;
  }
  return true;
}

// No circle: checkpoints that nothing left must precede are taken away until none is left.
static inline const char *promise_no_circle(const BtRubric *rubric, int inject) {
  int n = rubric->n_checkpoints, left = n;
  g_autofree bool *gone = g_new0(bool, (gsize)n + 1);
  for (bool moved = true; moved;) {
    moved = false;
    g_autofree bool *waits = g_new0(bool, (gsize)n + 1);
    for (int r = 0; r < rubric->n_rules; r++) {
      const BtRule *rule = &rubric->rules[r];
      bool pending = false;
      for (int i = 0; i < rule->n_first; i++)
        pending = pending || !gone[rule->first[i]];
      for (int i = 0; pending && promise_rule_counts(rubric, r, inject) && i < rule->n_then; i++)
        waits[rule->then[i]] = true;
    }
    for (int c = 0; c < n; c++) {
      if (gone[c] || waits[c])
        continue;
      gone[c] = moved = true;
      left--;
    }
  }
  PROMISE(left == 0);
  return NULL;
}

static inline const char *promise_marks(const BtRubric *rubric) {
  for (int i = 0; i < rubric->n_errors; i++) {
    const BtErrorKind *error = &rubric->errors[i];
    PROMISE(promise_text(error->id) && promise_text(error->title));
    PROMISE(promise_points(error->lose_mp) &&
            (error->cap_mp == -1 || promise_points(error->cap_mp)));
    PROMISE(error->has_match || !error->only_unplanned);
    const char *broken = error->has_match ? promise_match(rubric, &error->match) : NULL;
    if (broken)
      return broken;
  }
  for (int i = 0; i < rubric->n_measures; i++) {
    const BtMeasure *measure = &rubric->measures[i];
    PROMISE(promise_text(measure->id) && promise_text(measure->title));
    PROMISE(promise_text(measure->unit) && promise_points(measure->points_mp));
    PROMISE(measure->good_milli != measure->poor_milli);
    PROMISE(!measure->has_fail || (measure->good_milli < measure->poor_milli
                                       ? measure->fail_milli >= measure->poor_milli
                                       : measure->fail_milli <= measure->poor_milli));
  }
  for (int i = 0; i < rubric->n_ratings; i++) {
    const BtRating *rating = &rubric->ratings[i];
    PROMISE(promise_text(rating->id) && promise_text(rating->title));
    PROMISE(promise_points(rating->points_mp) && rating->n >= 2);
    PROMISE(rating->anchors[0] && rating->anchors[rating->n - 1]);
  }
  return NULL;
}

static inline const char *promise_score(const BtRubric *rubric) {
  const BtScoreRules *score = &rubric->score;
  PROMISE(promise_points(score->technique_points_mp));
  PROMISE(score->pass_milli >= 0 && score->pass_milli <= 100000);
  for (int i = 0; i < BT_COMPONENTS; i++) {
    PROMISE(score->weight[i] >= 0 && score->weight[i] <= 1000);
    PROMISE(score->floor_milli[i] >= -1 && score->floor_milli[i] <= 100000);
    PROMISE(score->floor_milli[i] < 0 || !score->optional[i]);
  }
  return NULL;
}

// All ids of the one name-space differ, none is reserved.
static inline const char *promise_ids(const BtRubric *rubric) {
  g_autoptr(GHashTable) ids = g_hash_table_new(g_str_hash, g_str_equal);
#define PROMISE_IDS(array)                                                                         \
  for (int i = 0; i < rubric->n_##array; i++)                                                      \
    PROMISE(g_hash_table_add(ids, rubric->array[i].id));
  PROMISE_IDS(phases)
  PROMISE_IDS(checkpoints)
  PROMISE_IDS(rules)
  PROMISE_IDS(choices)
  PROMISE_IDS(injects)
  PROMISE_IDS(errors)
  PROMISE_IDS(measures)
  PROMISE_IDS(ratings)
  PROMISE_IDS(competencies)
#undef PROMISE_IDS
  PROMISE(!g_hash_table_contains(ids, "clock") && !g_hash_table_contains(ids, "unassigned"));
  for (int i = 0; i < BT_COMPONENTS; i++)
    PROMISE(!g_hash_table_contains(ids, bt_component_name((BtComponent)i)));
  for (int i = 0; i < rubric->n_competencies; i++) {
    PROMISE(rubric->competencies[i].from && rubric->competencies[i].from[0]);
    for (char **from = rubric->competencies[i].from; *from; from++)
      PROMISE(g_hash_table_contains(ids, *from));
  }
  return NULL;
}

// The first promise that `rubric` breaks, in words of C; NULL when it keeps all.
static inline const char *rubric_broken_promise(const BtRubric *rubric) {
  const char *broken = NULL;
  PROMISE(bt_code_valid(rubric->id) && rubric->edition >= 1 && promise_text(rubric->title));
  PROMISE(rubric->cautions && rubric->cautions[0]);
  PROMISE(rubric->n_actions > 0 && rubric->n_phases > 0);
  PROMISE(rubric->clock.points_mp == 0 ||
          (rubric->clock.target_ms > 0 && rubric->clock.target_ms < rubric->clock.limit_ms));
  PROMISE(strlen(rubric->sha256) == BT_SHA256_HEX);
  for (int i = 0; i < rubric->n_sites; i++)
    PROMISE(promise_text(rubric->sites[i].id) && promise_text(rubric->sites[i].title));
  for (int i = 0; i < rubric->n_actions && !broken; i++)
    broken = promise_action(rubric, &rubric->actions[i]);
  for (int i = 0; i < rubric->n_checkpoints && !broken; i++)
    broken = promise_checkpoint(rubric, i);
  for (int i = 0; i < rubric->n_rules && !broken; i++)
    broken = promise_rule(rubric, i);
  for (int i = 0; i < rubric->n_injects && !broken; i++)
    broken = promise_inject(rubric, &rubric->injects[i]);
  for (int i = -1; i < rubric->n_injects && !broken; i++)
    broken = promise_no_circle(rubric, i);
  const char *(*const rest[])(const BtRubric *) = {promise_phases, promise_choices, promise_marks,
                                                   promise_score, promise_ids};
  for (gsize i = 0; i < G_N_ELEMENTS(rest) && !broken; i++)
    broken = rest[i](rubric);
  return broken;
}

#endif
