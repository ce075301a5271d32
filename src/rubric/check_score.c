// SPDX-License-Identifier: GPL-3.0-or-later
//
// Weights and floors need points to stand on.
#include "rubric/reader.h"

static gint64 steps_of(const BtRubric *rubric, int first, int n) {
  gint64 sum_mp = 0;
  for (int i = first; i < first + n; i++)
    sum_mp += rubric->checkpoints[i].points_mp;
  return sum_mp;
}

static bool gives_order(const BtRubric *rubric) {
  for (int i = 0; i < rubric->n_rules; i++) {
    if (rubric->rules[i].lose_mp > 0)
      return true;
  }
  return false;
}

// Points for time are a share of steps done: without points for steps there are none.
static bool gives_time(const BtRubric *rubric) {
  for (int i = 0; i < rubric->n_phases; i++) {
    const BtPhase *phase = &rubric->phases[i];
    if (phase->points_mp > 0 && steps_of(rubric, phase->first_checkpoint, phase->n_checkpoints) > 0)
      return true;
  }
  return rubric->clock.points_mp > 0 && steps_of(rubric, 0, rubric->n_checkpoints) > 0;
}

static bool gives_product(const BtRubric *rubric) {
  for (int i = 0; i < rubric->n_measures; i++) {
    if (rubric->measures[i].points_mp > 0)
      return true;
  }
  return false;
}

static bool gives_rating(const BtRubric *rubric) {
  for (int i = 0; i < rubric->n_ratings; i++) {
    if (rubric->ratings[i].points_mp > 0)
      return true;
  }
  return false;
}

static bool gives_points(const BtRubric *rubric, BtComponent component) {
  gint64 steps_mp = steps_of(rubric, 0, rubric->n_checkpoints);
  switch (component) {
  case BT_STEPS:
    return steps_mp > 0;
  case BT_ORDER:
    return gives_order(rubric);
  case BT_TIME:
    return gives_time(rubric);
  case BT_TECHNIQUE:
    return rubric->score.technique_points_mp > 0 && steps_mp > 0;
  case BT_PRODUCT:
    return gives_product(rubric);
  case BT_RATING:
    return gives_rating(rubric);
  default:
    return false;
  }
}

// Where the points of a component come from; a section with a fault may have had some.
static bool source_lost(const BtReader *reader, BtComponent component) {
  static const BtNameKind source[BT_COMPONENTS] = {
      [BT_STEPS] = BT_NAME_CHECKPOINT, [BT_ORDER] = BT_NAME_RULE,
      [BT_TIME] = BT_NAME_CHECKPOINT,  [BT_TECHNIQUE] = BT_NAME_CHECKPOINT,
      [BT_PRODUCT] = BT_NAME_MEASURE,  [BT_RATING] = BT_NAME_RATING,
  };
  return reader->lost[source[component]];
}

static const char *const give_it_points[BT_COMPONENTS] = {
    "give a checkpoint points, or take the component out",
    "give an order rule \"lose\", or take the component out",
    "give the clock or a phase points (its checkpoints have some), or take the component out",
    "set \"technique_points\" (and points for checkpoints), or take the component out",
    "give a measure points, or take the component out",
    "give a rating points, or take the component out",
};

static void check_component(BtReader *reader, BtComponent component, const BtNode *weights,
                            const BtNode *floors) {
  const BtScoreRules *score = &reader->rubric->score;
  const char *name = bt_component_name(component);
  bool weighted = score->weight[component] > 0, floored = score->floor_milli[component] >= 0;
  if (floored && score->optional[component])
    bt__fault(&reader->report, bt__place_of(floors, name), "expected one or the other",
              "\"%s\" has a floor and is optional", name);
  if ((!weighted && !floored) || source_lost(reader, component) ||
      gives_points(reader->rubric, component))
    return;
  bt__fault(&reader->report, bt__place_of(weighted ? weights : floors, name),
            give_it_points[component], "\"%s\" has a %s but the rubric gives it no points", name,
            weighted ? "weight" : "floor");
}

void bt__check_score(BtReader *reader) {
  const BtNode *score = bt__get(reader->root, "score");
  const BtNode *weights = bt__get(score, "weights"), *floors = bt__get(score, "floors");
  gint64 errors_before = reader->report.list.errors;
  int sum = 0;
  for (int i = 0; i < BT_COMPONENTS; i++) {
    check_component(reader, (BtComponent)i, weights, floors);
    sum += reader->rubric->score.weight[i];
  }
  if (weights && weights->kind == BT_NODE_MAP && sum == 0 && errors_before == 0)
    bt__warn(&reader->report, weights->place, "give at least one component a weight",
             "nothing has a weight, so no session can pass");
}
