// SPDX-License-Identifier: GPL-3.0-or-later
//
// What is marked beside the steps: errors, measures, ratings; and competencies.
#include "rubric/reader.h"

#include <string.h>

// Errors ----------------------------------------------------------------------

static void read_severity(BtReader *reader, const BtNode *value, void *field) {
  static const char *const words[] = {"minor", "major", "critical"};
  int word = bt__choose(reader, value, words, G_N_ELEMENTS(words));
  if (word >= 0)
    *(BtSeverity *)field = (BtSeverity)word;
}

static void read_error_match(BtReader *reader, const BtNode *value, void *field) {
  BtErrorKind *error = field;
  error->has_match = true;
  bt__read_match(reader, value, &error->match);
}

static void read_only(BtReader *reader, const BtNode *value, void *field) {
  static const char *const words[] = {"unplanned"};
  *(bool *)field = bt__choose(reader, value, words, G_N_ELEMENTS(words)) == 0;
}

static const BtKey error_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtErrorKind, title)},
    {"severity", "expected minor, major or critical", read_severity,
     offsetof(BtErrorKind, severity)},
    {"lose", NULL, bt__read_points, offsetof(BtErrorKind, lose_mp)},
    {"cap", NULL, bt__read_points, offsetof(BtErrorKind, cap_mp)},
    {"match", NULL, read_error_match, 0},
    {"only", NULL, read_only, offsetof(BtErrorKind, only_unplanned)},
    {"key", NULL, bt__read_shortcut, offsetof(BtErrorKind, key)},
    {"coach", NULL, bt__read_text, offsetof(BtErrorKind, coach)},
};

static const BtErrorKind blank_error = {.cap_mp = -1, .match = {.action = -1}};

static const BtThings errors = {BT_NAME_ERROR, error_keys, G_N_ELEMENTS(error_keys),
                                sizeof(BtErrorKind), &blank_error};

static void check_error(BtReader *reader, int index) {
  const BtErrorKind *error = &reader->rubric->errors[index];
  const BtNode *map = bt__at(reader, BT_NAME_ERROR, index);
  const BtNode *severity = bt__get(map, "severity");
  if (severity && !bt__get(map, "lose") && severity->kind == BT_NODE_TEXT &&
      strcmp(severity->text, "critical") != 0)
    bt__fault(&reader->report, map->place, "expected the points it costs",
              "\"lose\" is missing in an error that is not critical");
  if (bt__get(map, "only") && !error->has_match)
    bt__fault(&reader->report, bt__place_of(map, "only"), "expected \"match\" beside it",
              "\"only\" without a match");
  if (error->key && error->has_match)
    bt__warn(&reader->report, bt__place_of(map, "key"), "leave the key out",
             "an error with a match is found by itself and cannot be logged by hand");
}

void bt__read_errors(BtReader *reader, const BtNode *node) {
  BtRubric *rubric = reader->rubric;
  rubric->errors = bt__read_new_list(reader, node, &errors, &rubric->n_errors);
  for (int i = 0; i < rubric->n_errors; i++)
    check_error(reader, i);
  bt__check_shortcuts(reader, BT_NAME_ERROR, "error", reader->rubric->errors,
                      reader->rubric->n_errors, sizeof(BtErrorKind), offsetof(BtErrorKind, key));
}

// Measures --------------------------------------------------------------------

static bool read_value(BtReader *reader, const BtNode *map, const char *key, const char *unit,
                       gint64 *milli) {
  const BtNode *value = bt__get(map, key);
  return value && bt__read_measured(reader, value, unit, milli);
}

static const BtKey measure_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtMeasure, title)},
    {"unit", "expected a unit, as in \"unit: mm\"", bt__read_unit, offsetof(BtMeasure, unit)},
    {"good", "expected the value that earns all points", NULL, 0},
    {"poor", "expected the value that earns none", NULL, 0},
    {"fail", NULL, NULL, 0},
    {"points", "expected a number of points", bt__read_points, offsetof(BtMeasure, points_mp)},
};

static const BtMeasure blank_measure;

static const BtThings measures = {BT_NAME_MEASURE, measure_keys, G_N_ELEMENTS(measure_keys),
                                  sizeof(BtMeasure), &blank_measure};

// The values of a measure, which need its unit and are compared once all are read.
static void read_values(BtReader *reader, const BtNode *map, BtMeasure *measure) {
  bool good = read_value(reader, map, "good", measure->unit, &measure->good_milli);
  bool poor = read_value(reader, map, "poor", measure->unit, &measure->poor_milli);
  measure->has_fail = read_value(reader, map, "fail", measure->unit, &measure->fail_milli);
  if (!good || !poor)
    return;
  bool rising = measure->good_milli < measure->poor_milli;
  if (measure->good_milli == measure->poor_milli)
    bt__fault(&reader->report, bt__place_of(map, "poor"), "expected two values that differ",
              "\"good\" and \"poor\" are the same");
  else if (measure->has_fail && (rising ? measure->fail_milli < measure->poor_milli
                                        : measure->fail_milli > measure->poor_milli))
    bt__fault(&reader->report, bt__place_of(map, "fail"), "expected a value at poor or beyond it",
              "\"fail\" lies on the good side of \"poor\"");
}

void bt__read_measures(BtReader *reader, const BtNode *node) {
  BtRubric *rubric = reader->rubric;
  rubric->measures = bt__read_new_list(reader, node, &measures, &rubric->n_measures);
  for (int i = 0; i < rubric->n_measures; i++) {
    if (rubric->measures[i].unit)
      read_values(reader, bt__at(reader, BT_NAME_MEASURE, i), &rubric->measures[i]);
  }
}

// Ratings ---------------------------------------------------------------------

#define SCALE_MAX 100

// The value that a key of a scale describes; 0 when it is none, which is reported.
static int scale_value(BtReader *reader, const BtNode *key) {
  int value = 0;
  (void)bt__whole(reader, key, 1, SCALE_MAX, &value);
  return value;
}

static void read_scale(BtReader *reader, const BtNode *value, void *field) {
  BtRating *rating = field;
  const char *expected = "expected a scale as in \"{1: halting, 3: uneven, 5: smooth}\"";
  if (!bt__is(reader, value, BT_NODE_MAP, expected))
    return;
  rating->anchors = bt_rubric_alloc(reader->rubric, SCALE_MAX + 1, sizeof *rating->anchors);
  int least = SCALE_MAX;
  bool good = true;
  for (const BtNode *key = value->first; key; key = key->next) {
    int v = scale_value(reader, key);
    good = good && v > 0;
    if (v == 0)
      continue;
    bt__read_text(reader, key->value, &rating->anchors[v - 1]);
    rating->n = MAX(rating->n, v);
    least = MIN(least, v);
  }
  if (good && (least != 1 || rating->n < 2))
    bt__fault(&reader->report, value->place, expected, "the scale does not go from 1 to 2 or more");
}

static const BtKey rating_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtRating, title)},
    {"points", "expected a number of points", bt__read_points, offsetof(BtRating, points_mp)},
    {"scale", "expected a scale as in \"{1: halting, 3: uneven, 5: smooth}\"", read_scale, 0},
};

static const BtRating blank_rating;

static const BtThings ratings = {BT_NAME_RATING, rating_keys, G_N_ELEMENTS(rating_keys),
                                 sizeof(BtRating), &blank_rating};

void bt__read_ratings(BtReader *reader, const BtNode *node) {
  BtRubric *rubric = reader->rubric;
  rubric->ratings = bt__read_new_list(reader, node, &ratings, &rubric->n_ratings);
}

// Competencies ----------------------------------------------------------------

static void read_from(BtReader *reader, const BtNode *value, void *field) {
  BtCompetency *competency = field;
  const char *expected = "expected a list of ids of checkpoints, phases, rules, errors, measures "
                         "and ratings";
  if (!bt__is(reader, value, BT_NODE_LIST, expected))
    return;
  if (value->n == 0)
    bt__fault(&reader->report, value->place, expected, "\"from\" is an empty list");
  const unsigned kinds = BT_NAMES(BT_NAME_CHECKPOINT) | BT_NAMES(BT_NAME_PHASE) |
                         BT_NAMES(BT_NAME_RULE) | BT_NAMES(BT_NAME_ERROR) |
                         BT_NAMES(BT_NAME_MEASURE) | BT_NAMES(BT_NAME_RATING);
  char **from = bt_rubric_alloc(reader->rubric, (gsize)value->n + 1, sizeof *from);
  int n = 0;
  for (const BtNode *item = value->first; item; item = item->next) {
    if (bt__find(reader, item, kinds, NULL) < 0)
      continue;
    if (g_strv_contains((const char *const *)from, item->text))
      bt__refuse(reader, item, "listed twice", "list it once");
    else
      from[n++] = bt_rubric_strdup(reader->rubric, item->text);
  }
  competency->from = from;
}

static const BtKey competency_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtCompetency, title)},
    {"from", "expected a list of ids", read_from, 0},
};

static const BtCompetency blank_competency;

static const BtThings competencies = {BT_NAME_COMPETENCY, competency_keys,
                                      G_N_ELEMENTS(competency_keys), sizeof(BtCompetency),
                                      &blank_competency};

void bt__read_competencies(BtReader *reader, const BtNode *node) {
  BtRubric *rubric = reader->rubric;
  rubric->competencies = bt__read_new_list(reader, node, &competencies, &rubric->n_competencies);
}
