// SPDX-License-Identifier: GPL-3.0-or-later
//
// The hand-worked cases of the scoring law: every folder of tests/cases holds a rubric, a log, what
// the law says of it (expected.json, worked by hand in why.md), and each is one test here. Only the
// fields that a case names are compared. tests/cases/README.md says which sentence of the law each
// case is about, and is held to be complete.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <glib.h>
#include <jansson.h>
#include <string.h>

#include <benchtally/log.h>
#include <benchtally/rubric.h>
#include <benchtally/score.h>

#define CASES_FOLDER BENCHTALLY_SOURCE_DIR "/tests/cases"
#define CASES_MIN    110 // fewer found means that the pattern or the folder is wrong

// What differs, one line each: "s1: steps.rows[0].given: expected 1000, got 500".
typedef struct {
  const char *observation;
  GString *path;
  GPtrArray *found; // of char *
} Differences;

static Differences *differences_new(void) {
  Differences *all = g_new0(Differences, 1);
  all->observation = "";
  all->path = g_string_new(NULL);
  all->found = g_ptr_array_new_with_free_func(g_free);
  return all;
}

static void differences_free(Differences *all) {
  g_string_free(all->path, TRUE);
  g_ptr_array_unref(all->found);
  g_free(all);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Differences, differences_free)
G_DEFINE_AUTOPTR_CLEANUP_FUNC(json_t, json_decref)

// Comparing -------------------------------------------------------------------

static char *written(const json_t *value) {
  return value ? json_dumps(value, JSON_ENCODE_ANY | JSON_COMPACT | JSON_SORT_KEYS)
               : g_strdup("nothing");
}

static void note_difference(Differences *all, const json_t *expected, const json_t *got) {
  g_autofree char *wanted = written(expected);
  g_autofree char *had = written(got);
  g_ptr_array_add(all->found, g_strdup_printf("%s: %s: expected %s, got %s", all->observation,
                                              all->path->str, wanted, had));
}

static void compare(Differences *all, const json_t *expected, const json_t *got);

// Only the keys that the case gives; a key that the ledger has not is a difference.
static void compare_objects(Differences *all, const json_t *expected, const json_t *got) {
  const char *key;
  const json_t *value;
  json_object_foreach((json_t *)expected, key, value) {
    gsize length = all->path->len;
    g_string_append_printf(all->path, "%s%s", length ? "." : "", key);
    compare(all, value, json_object_get(got, key));
    g_string_truncate(all->path, length);
  }
}

// Position by position, and as many as expected.
static void compare_lists(Differences *all, const json_t *expected, const json_t *got) {
  if (json_array_size(expected) != json_array_size(got)) {
    note_difference(all, expected, got);
    return;
  }
  for (gsize i = 0; i < json_array_size(expected); i++) {
    gsize length = all->path->len;
    g_string_append_printf(all->path, "[%" G_GSIZE_FORMAT "]", i);
    compare(all, json_array_get(expected, i), json_array_get(got, i));
    g_string_truncate(all->path, length);
  }
}

static void compare(Differences *all, const json_t *expected, const json_t *got) {
  if (json_is_object(expected) && json_is_object(got))
    compare_objects(all, expected, got);
  else if (json_is_array(expected) && json_is_array(got) &&
           json_is_object(json_array_get(expected, 0)))
    compare_lists(all, expected, got);
  else if (!json_equal(expected, got))
    note_difference(all, expected, got);
}

// Reading ---------------------------------------------------------------------

static char *file_of_case(const char *name, const char *file) {
  return g_build_filename(CASES_FOLDER, name, file, NULL);
}

static gint by_name(gconstpointer a, gconstpointer b) {
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

// The names of all folders of tests/cases, sorted; NULL-terminated, so that it is a string vector.
static char **case_names(void) {
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  GDir *folder = g_dir_open(CASES_FOLDER, 0, NULL);
  for (const char *name = folder ? g_dir_read_name(folder) : NULL; name;
       name = g_dir_read_name(folder)) {
    g_autofree char *path = g_build_filename(CASES_FOLDER, name, NULL);
    if (g_file_test(path, G_FILE_TEST_IS_DIR))
      g_ptr_array_add(names, g_strdup(name));
  }
  if (folder)
    g_dir_close(folder);
  g_ptr_array_sort(names, by_name);
  g_ptr_array_add(names, NULL);
  return (char **)g_ptr_array_free(g_steal_pointer(&names), FALSE);
}

// Warnings are no failure: some cases are about values that the log takes with a warning.
static void print_faults(const GPtrArray *faults) {
  for (guint i = 0; i < faults->len; i++) {
    g_autofree char *line = bt_fault_format(g_ptr_array_index(faults, i));
    print_error("%s\n", line);
  }
}

static BtRubric *read_rubric(const char *name) {
  g_autofree char *path = file_of_case(name, "rubric.yaml");
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtRubric *rubric = bt_rubric_read_file(path, faults, NULL);
  if (!rubric)
    print_faults(faults);
  assert_non_null(rubric);
  return rubric;
}

static GPtrArray *read_log(const char *name, const BtRubric *rubric) {
  g_autofree char *path = file_of_case(name, "events.csv");
  g_autoptr(GPtrArray) faults = bt_faults_new();
  GPtrArray *observations = bt_log_read_observations(path, rubric, faults, NULL);
  if (!observations)
    print_faults(faults);
  assert_non_null(observations);
  return observations;
}

static json_t *read_expected(const char *name) {
  g_autofree char *path = file_of_case(name, "expected.json");
  json_error_t error;
  json_t *expected = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
  if (!expected)
    print_error("%s:%d:%d: %s\n", path, error.line, error.column, error.text);
  assert_non_null(expected);
  assert_true(json_is_array(expected));
  return expected;
}

static json_t *scored(const BtRubric *rubric, const BtObservation *observation) {
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  g_autofree char *text = bt_ledger_to_json(rubric, observation, ledger);
  json_t *got = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
  assert_non_null(got);
  return got;
}

// Tests -----------------------------------------------------------------------

static void the_ledger_is_as_worked_by_hand(void **state) {
  const char *name = *state;
  g_autoptr(BtRubric) rubric = read_rubric(name);
  g_autoptr(GPtrArray) observations = read_log(name, rubric);
  g_autoptr(json_t) expected = read_expected(name);
  g_autoptr(Differences) all = differences_new();
  assert_int_equal(observations->len, json_array_size(expected));
  for (guint i = 0; i < observations->len; i++) {
    const BtObservation *observation = g_ptr_array_index(observations, i);
    g_autoptr(json_t) got = scored(rubric, observation);
    all->observation = observation->header.session;
    compare(all, json_array_get(expected, i), got);
  }
  for (guint i = 0; i < all->found->len; i++)
    print_error("%s: %s\n", name, (const char *)g_ptr_array_index(all->found, i));
  assert_int_equal(all->found->len, 0);
}

static bool names_total_and_outcome(const json_t *expected) {
  return json_object_get(expected, "total") && json_object_get(expected, "outcome");
}

static void every_case_says_why_and_names_its_total_and_outcome(void **state) {
  g_auto(GStrv) names = case_names();
  (void)state;
  for (char **name = names; *name; name++) {
    g_autofree char *path = file_of_case(*name, "why.md");
    g_autofree char *why = NULL;
    g_autofree char *heading = g_strdup_printf("# %s\n", *name);
    g_autoptr(json_t) expected = read_expected(*name);
    assert_true(g_file_get_contents(path, &why, NULL, NULL));
    if (!g_str_has_prefix(why, heading))
      fail_msg("%s: its first line is not \"# %s\"", path, *name);
    for (gsize i = 0; i < json_array_size(expected); i++)
      if (!names_total_and_outcome(json_array_get(expected, i)))
        fail_msg("%s: expected.json[%" G_GSIZE_FORMAT "] names no total or outcome", *name, i);
  }
}

static void enough_cases_are_found(void **state) {
  g_auto(GStrv) names = case_names();
  (void)state;
  assert_in_range(g_strv_length(names), CASES_MIN, G_MAXINT);
}

static guint count_of_differences(const char *expected_text, const char *got_text) {
  g_autoptr(json_t) expected = json_loads(expected_text, 0, NULL);
  g_autoptr(json_t) got = json_loads(got_text, 0, NULL);
  g_autoptr(Differences) all = differences_new();
  compare(all, expected, got);
  return all->found->len;
}

static void the_comparison_sees_what_differs(void **state) {
  (void)state;
  const char *got = "{\"a\":1,\"b\":null,\"list\":[1,2],\"rows\":[{\"x\":1,\"y\":2},{\"x\":3}]}";
  assert_int_equal(count_of_differences("{\"a\":1,\"b\":null,\"rows\":[{\"y\":2},{}]}", got), 0);
  assert_int_equal(count_of_differences("{\"a\":2,\"b\":0,\"c\":null}", got), 3);
  assert_int_equal(count_of_differences("{\"list\":[1]}", got), 1);
  assert_int_equal(count_of_differences("{\"list\":[]}", got), 1);
  assert_int_equal(count_of_differences("{\"list\":[2,1]}", got), 1);
  assert_int_equal(count_of_differences("{\"rows\":[{\"x\":1}]}", got), 1);
  assert_int_equal(count_of_differences("{\"rows\":[]}", got), 1);
  assert_int_equal(count_of_differences("{\"rows\":[{\"x\":3},{\"x\":3}]}", got), 1);
}

// The names of cases that the table mentions, as a set.
static GHashTable *names_in_the_table(void) {
  g_autofree char *path = g_build_filename(CASES_FOLDER, "README.md", NULL);
  g_autofree char *text = NULL;
  GHashTable *names = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  assert_true(g_file_get_contents(path, &text, NULL, NULL));
  g_autoptr(GRegex) pattern = g_regex_new("\\bs[0-9]{2}-[a-zA-Z0-9-]+", 0, 0, NULL);
  g_autoptr(GMatchInfo) match = NULL;
  for (g_regex_match(pattern, text, 0, &match); g_match_info_matches(match);
       g_match_info_next(match, NULL))
    g_hash_table_add(names, g_match_info_fetch(match, 0));
  return names;
}

static void the_table_names_every_case_and_no_other(void **state) {
  g_autoptr(GHashTable) in_table = names_in_the_table();
  g_auto(GStrv) names = case_names();
  (void)state;
  for (char **name = names; *name; name++)
    if (!g_hash_table_contains(in_table, *name))
      fail_msg("%s stands in no row of tests/cases/README.md", *name);
  GHashTableIter iter;
  gpointer named;
  g_hash_table_iter_init(&iter, in_table);
  while (g_hash_table_iter_next(&iter, &named, NULL))
    if (!g_strv_contains((const char *const *)names, named))
      fail_msg("tests/cases/README.md names %s, which is no case", (const char *)named);
}

// A row of the table is "| 7.3 | sentence | cases |": no sentence without a case or a reason.
static void every_sentence_of_the_table_has_an_answer(void **state) {
  g_autofree char *path = g_build_filename(CASES_FOLDER, "README.md", NULL);
  g_autofree char *text = NULL;
  guint sentences = 0, sections[12] = {0};
  (void)state;
  assert_true(g_file_get_contents(path, &text, NULL, NULL));
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  for (char **line = lines; *line; line++) {
    int section = g_str_has_prefix(*line, "| ") ? (int)g_ascii_strtoll(*line + 2, NULL, 10) : 0;
    if (section < 1 || section > 11)
      continue;
    g_auto(GStrv) cells = g_strsplit(*line, "|", -1);
    if (g_strv_length(cells) != 5 || !*g_strstrip(cells[3]))
      fail_msg("no case and no reason: %s", *line);
    sentences++;
    sections[section]++;
  }
  for (int section = 1; section <= 11; section++)
    if (sections[section] == 0)
      fail_msg("section %d of the law has no row", section);
  assert_in_range(sentences, 60, G_MAXINT);
}

int main(void) {
  const struct CMUnitTest about_the_folder[] = {
      cmocka_unit_test(enough_cases_are_found),
      cmocka_unit_test(the_comparison_sees_what_differs),
      cmocka_unit_test(every_case_says_why_and_names_its_total_and_outcome),
      cmocka_unit_test(the_table_names_every_case_and_no_other),
      cmocka_unit_test(every_sentence_of_the_table_has_an_answer),
  };
  g_auto(GStrv) names = case_names();
  g_autoptr(GArray) tests = g_array_new(FALSE, TRUE, sizeof(struct CMUnitTest));
  g_array_append_vals(tests, about_the_folder, G_N_ELEMENTS(about_the_folder));
  for (char **name = names; *name; name++) {
    struct CMUnitTest test = {
        .name = *name, .test_func = the_ledger_is_as_worked_by_hand, .initial_state = *name};
    g_array_append_val(tests, test);
  }
  return _cmocka_run_group_tests(
      "hand-worked cases", (const struct CMUnitTest *)(void *)tests->data, tests->len, NULL, NULL);
}
