// SPDX-License-Identifier: GPL-3.0-or-later
//
// The rubrics of the project and of the hand-worked cases are accepted and keep their promises.
#include "fuzz/rubric_promises.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

// `warnings`: whether it may have some.
static bool is_accepted(const char *path, bool warnings) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  g_autoptr(BtRubric) rubric = bt_rubric_read_file(path, faults, &error);
  for (guint i = 0; i < faults->len; i++) {
    g_autofree char *text = bt_fault_format(faults->pdata[i]);
    if (!rubric || !warnings)
      print_error("%s\n", text);
  }
  const char *broken = rubric ? rubric_broken_promise(rubric) : NULL;
  if (broken)
    print_error("%s: %s\n", path, broken);
  return rubric && !broken && (warnings || faults->len == 0);
}

// Reads FOLDER/NAME (each NAME ending in `suffix`), or FOLDER/NAME/rubric.yaml; returns how many.
static int check_folder(const char *folder, bool in_folders, bool warnings) {
  g_autofree char *path = g_build_filename(BENCHTALLY_SOURCE_DIR, folder, NULL);
  g_autoptr(GDir) names = g_dir_open(path, 0, NULL);
  int n = 0, refused = 0;
  for (const char *name; names && (name = g_dir_read_name(names));) {
    g_autofree char *file = g_build_filename(path, name, in_folders ? "rubric.yaml" : NULL, NULL);
    if (!g_str_has_suffix(file, ".yaml") || !g_file_test(file, G_FILE_TEST_EXISTS))
      continue;
    refused += !is_accepted(file, warnings);
    n++;
  }
  assert_int_equal(refused, 0);
  return n;
}

static void rubrics_of_the_project_have_no_warnings_either(void **state) {
  (void)state;
  assert_true(check_folder("rubrics", false, false) >= 6);
}

static void rubrics_of_the_cases(void **state) {
  (void)state;
  assert_true(check_folder("tests/cases", true, true) >= 40);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(rubrics_of_the_project_have_no_warnings_either),
      cmocka_unit_test(rubrics_of_the_cases),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
