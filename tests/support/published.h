// SPDX-License-Identifier: GPL-3.0-or-later
//
// Published worked examples, as the files tests/published/*.json hold them: a list of examples,
// each with its citation, inputs, values as printed in the source (`expected`, each with its
// tolerance) and values recomputed from the inputs to full precision (`recomputed`).
#ifndef BENCHTALLY_TESTS_PUBLISHED_H
#define BENCHTALLY_TESTS_PUBLISHED_H

#include <math.h>

#include <glib.h>

#include <jansson.h>

#include <benchtally/estimate.h>

#define PUBLISHED_RELATIVE 1e-9 // of recomputed values, unless a test says otherwise and why

// The examples of one family ("agreement"); whoever asked decrefs.
static inline json_t *published_family(const char *family) {
  g_autofree char *path = g_strdup_printf(BENCHTALLY_SOURCE_DIR "/tests/published/%s.json", family);
  json_error_t error;
  json_t *examples = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
  if (!json_is_array(examples))
    fail_msg("%s:%d: %s", path, error.line, error.text);
  return examples;
}

// The example with this id; borrowed from the family.
static inline json_t *published_example(json_t *family, const char *id) {
  gsize i;
  json_t *example;
  json_array_foreach(family, i, example) {
    if (g_str_equal(json_string_value(json_object_get(example, "id")), id))
      return example;
  }
  fail_msg("no published example \"%s\"", id);
  return NULL;
}

// What the example gives under this name; borrowed.
static inline json_t *published_input(json_t *example, const char *name) {
  json_t *input = json_object_get(json_object_get(example, "inputs"), name);
  if (!input)
    fail_msg("the example has no input \"%s\"", name);
  return input;
}

// A list of numbers, or a list of such lists (row by row), null as BT_MISSING. `rows` and `columns`
// may be NULL; a plain list is one row. Caller frees with g_free.
static inline double *published_matrix(json_t *list, gsize *rows, gsize *columns) {
  bool nested = json_is_array(json_array_get(list, 0));
  gsize n = nested ? json_array_size(list) : 1;
  gsize width = json_array_size(nested ? json_array_get(list, 0) : list);
  double *cell = g_new(double, n *width);
  for (gsize i = 0; i < n; i++) {
    json_t *row = nested ? json_array_get(list, i) : list;
    if (json_array_size(row) != width)
      fail_msg("row %u of a published table is not as long as the first", (unsigned)i + 1);
    for (gsize j = 0; j < width; j++) {
      json_t *value = json_array_get(row, j);
      cell[i * width + j] = json_is_number(value) ? json_number_value(value) : BT_MISSING;
    }
  }
  if (rows)
    *rows = n;
  if (columns)
    *columns = width;
  return cell;
}

// The value that the example has under `part` ("expected", "recomputed", "tolerance"); NaN for
// none.
static inline double published_value(json_t *example, const char *part, const char *name) {
  json_t *value = json_object_get(json_object_get(example, part), name);
  return json_is_number(value) ? json_number_value(value) : NAN;
}

// Checks `value` against the one recomputed, to `relative` of it (of 1 where it is below 1e-3), and
// against the one printed, within its tolerance. The example must have one of them at the least.
static inline void published_check_to(json_t *example, const char *name, double value,
                                      double relative) {
  const char *id = json_string_value(json_object_get(example, "id"));
  double printed = published_value(example, "expected", name);
  double tolerance = published_value(example, "tolerance", name);
  double recomputed = published_value(example, "recomputed", name);
  if (isnan(printed) && isnan(recomputed))
    fail_msg("%s has no value \"%s\"", id, name);
  if (!isnan(printed) && !isnan(tolerance) && !(fabs(value - printed) <= tolerance))
    fail_msg("%s: %s is %.17g, printed %.17g within %g", id, name, value, printed, tolerance);
  double scale = fabs(recomputed) < 1e-3 ? 1 : fabs(recomputed);
  if (!isnan(recomputed) && !(fabs(value - recomputed) <= relative * scale))
    fail_msg("%s: %s is %.17g, recomputed %.17g", id, name, value, recomputed);
}

static inline void published_check(json_t *example, const char *name, double value) {
  published_check_to(example, name, value, PUBLISHED_RELATIVE);
}

// The same of an estimate, which must have been possible.
static inline void published_check_estimate(json_t *example, const char *name,
                                            const BtEstimate *estimate) {
  if (estimate->why_not)
    fail_msg("%s is not estimable: %s", name, estimate->why_not);
  published_check(example, name, estimate->value);
}

#endif
