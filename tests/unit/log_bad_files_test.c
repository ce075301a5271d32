// SPDX-License-Identifier: GPL-3.0-or-later
//
// One faulty file a fault, in tests/bad/log. Beside each stands FILE.expected with a line for every
// fault there is, in order: "line:column words", where the words are a part of what is said.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/log.h>

#include "support/log_rubric.h"

#define FOLDER BENCHTALLY_SOURCE_DIR "/tests/bad/log"

// "line:column words; what to do", as in FILE.expected.
static char *in_short(const BtFault *fault) {
  return g_strdup_printf("%d:%d %s%s%s%s", fault->line, fault->column,
                         fault->warning ? "warning: " : "", fault->wrong,
                         fault->expected ? "; " : "", fault->expected ? fault->expected : "");
}

static bool matches(const BtFault *fault, const char *expected) {
  g_autofree char *said = in_short(fault);
  const char *words = strchr(expected, ' ') + 1;
  return strncmp(said, expected, (gsize)(words - expected)) == 0 && strstr(said, words);
}

// Prints what was said instead of what was expected.
static void print_faults(const char *name, const GPtrArray *faults) {
  print_message("%s: what was said:\n", name);
  for (guint i = 0; i < faults->len; i++) {
    g_autofree char *said = in_short(faults->pdata[i]);
    print_message("  %s\n", said);
  }
}

static bool check_file(const BtRubric *rubric, const char *name) {
  g_autofree char *path = g_build_filename(FOLDER, name, NULL);
  g_autofree char *expected_path = g_strconcat(path, ".expected", NULL);
  g_autofree char *expected_text = NULL;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  assert_true(g_file_get_contents(expected_path, &expected_text, NULL, NULL));
  g_auto(GStrv) expected = g_strsplit(g_strchomp(expected_text), "\n", -1);
  g_autoptr(GPtrArray) observations = bt_log_read_observations(path, rubric, faults, &error);
  assert_null(error);
  bool as_expected = g_strv_length(expected) == faults->len &&
                     (observations == NULL) == (bt_faults_count_errors(faults) > 0);
  for (guint i = 0; as_expected && i < faults->len; i++)
    as_expected = matches(faults->pdata[i], expected[i]);
  if (!as_expected)
    print_faults(name, faults);
  return as_expected;
}

static void every_faulty_file_is_told_where_and_why(void **state) {
  (void)state;
  g_autoptr(BtRubric) rubric = log_rubric_new();
  g_autoptr(GDir) folder = g_dir_open(FOLDER, 0, NULL);
  int files = 0, wrong = 0;
  assert_non_null(folder);
  for (const char *name; (name = g_dir_read_name(folder));) {
    if (g_str_has_suffix(name, ".expected"))
      continue;
    files++;
    wrong += !check_file(rubric, name);
  }
  assert_int_equal(wrong, 0);
  assert_true(files >= 60); // so that a folder that was not found does not pass
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_faulty_file_is_told_where_and_why)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
