// SPDX-License-Identifier: GPL-3.0-or-later
//
// The clock and the rules of the total.
#include "rubric/reader.h"

// Clock -----------------------------------------------------------------------

static const BtKey clock_keys[] = {
    {"target", NULL, bt__read_duration, offsetof(BtClock, target_ms)},
    {"limit", NULL, bt__read_duration, offsetof(BtClock, limit_ms)},
    {"quiet", NULL, bt__read_duration, offsetof(BtClock, quiet_ms)},
    {"points", NULL, bt__read_points, offsetof(BtClock, points_mp)},
};

void bt__check_times(BtReader *reader, const BtNode *map, gint64 target_ms, gint64 limit_ms,
                     gint64 points_mp) {
  bool both = bt__get(map, "target") && bt__get(map, "limit");
  bool both_read = target_ms > 0 && limit_ms > 0;
  if (points_mp > 0 && !both)
    bt__fault(&reader->report, bt__place_of(map, "points"),
              "expected \"target\" and \"limit\" beside them",
              "points for time without a target and a limit");
  else if (points_mp > 0 && both_read && target_ms >= limit_ms)
    bt__fault(&reader->report, bt__place_of(map, "limit"), "expected a limit above the target",
              "the limit is not above the target, so points for time cannot fall between them");
  else if (both_read && target_ms >= limit_ms)
    bt__warn(&reader->report, bt__place_of(map, "limit"), "a limit is usually above the target",
             "the limit is not above the target");
}

void bt__read_clock(BtReader *reader, const BtNode *value, void *field) {
  BtClock *clock = field;
  clock->present = true;
  if (bt__read_map(reader, value, "the clock", clock_keys, G_N_ELEMENTS(clock_keys), clock))
    bt__check_times(reader, value, clock->target_ms, clock->limit_ms, clock->points_mp);
}

// Score -----------------------------------------------------------------------

#define WEIGHT_MAX 1000

static void read_weight(BtReader *reader, const BtNode *value, void *field) {
  (void)bt__whole(reader, value, 0, WEIGHT_MAX, field);
}

// A mapping from components to values; `read` takes the field of a component, `size` bytes apart.
static void read_by_component(BtReader *reader, const BtNode *value, const char *what, BtRead read,
                              gsize size, void *fields) {
  BtKey keys[BT_COMPONENTS];
  for (int i = 0; i < BT_COMPONENTS; i++)
    keys[i] = (BtKey){bt_component_name((BtComponent)i), NULL, read, (gsize)i * size};
  (void)bt__read_map(reader, value, what, keys, BT_COMPONENTS, fields);
}

static void read_weights(BtReader *reader, const BtNode *value, void *field) {
  read_by_component(reader, value, "the weights", read_weight, sizeof(int), field);
}

static void read_floors(BtReader *reader, const BtNode *value, void *field) {
  read_by_component(reader, value, "the floors", bt__read_percent, sizeof(gint64), field);
}

static void read_optional(BtReader *reader, const BtNode *value, void *field) {
  const char *names[BT_COMPONENTS];
  for (int i = 0; i < BT_COMPONENTS; i++)
    names[i] = bt_component_name((BtComponent)i);
  if (!bt__is(reader, value, BT_NODE_LIST, "expected a list of components, as in \"[rating]\""))
    return;
  for (const BtNode *item = value->first; item; item = item->next) {
    int component = bt__choose(reader, item, names, BT_COMPONENTS);
    if (component < 0)
      continue;
    if (((bool *)field)[component])
      bt__refuse(reader, item, "listed twice", "list it once");
    ((bool *)field)[component] = true;
  }
}

static const BtKey score_keys[] = {
    {"technique_points", NULL, bt__read_points, offsetof(BtScoreRules, technique_points_mp)},
    {"weights",
     "expected a weight for each component that counts, as in \"{steps: 60, order: 40}\"",
     read_weights, offsetof(BtScoreRules, weight)},
    {"pass", "expected the percentage that passes, as in \"pass: 70\"", bt__read_percent,
     offsetof(BtScoreRules, pass_milli)},
    {"floors", NULL, read_floors, offsetof(BtScoreRules, floor_milli)},
    {"optional", NULL, read_optional, offsetof(BtScoreRules, optional)},
};

void bt__read_score_rules(BtReader *reader, const BtNode *value, void *field) {
  (void)bt__read_map(reader, value, "the score", score_keys, G_N_ELEMENTS(score_keys), field);
}
