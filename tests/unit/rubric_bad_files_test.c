// SPDX-License-Identifier: GPL-3.0-or-later
//
// Each file of tests/bad/rubric has a NAME.faults beside it, written by hand: a line a fault,
// "line:column phrase" (0:0 for the whole file; a phrase that begins with "warning" is one), in
// order of place. The reader must find these and no others: one cause, one fault.
#include <benchtally/rubric.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <string.h>

#define FOLDER BENCHTALLY_SOURCE_DIR "/tests/bad/rubric/"

static char *place_of(const BtFault *fault) {
  return g_strdup_printf("%d:%d", fault->line, fault->column);
}

// Prints what differs and returns false when `fault` is not the one of `line`.
static bool is_as_said(const char *name, const BtFault *fault, const char *line) {
  g_autofree char *place = place_of(fault), *text = bt_fault_format(fault);
  g_auto(GStrv) parts = g_strsplit(line, " ", 2);
  const char *phrase = parts[1];
  bool warning = g_str_has_prefix(phrase, "warning ");
  if (warning)
    phrase += strlen("warning ");
  bool same = strcmp(place, parts[0]) == 0 && strstr(text, phrase) && warning == fault->warning;
  if (!same)
    print_error("%s: expected %s\n    found %s\n", name, line, text);
  return same;
}

static bool check_file(const char *name) {
  g_autofree char *path = g_strconcat(FOLDER, name, ".yaml", NULL);
  g_autofree char *list = g_strconcat(FOLDER, name, ".faults", NULL);
  g_autofree char *said = NULL;
  assert_true(g_file_get_contents(list, &said, NULL, NULL));
  g_auto(GStrv) lines = g_strsplit(g_strchomp(said), "\n", -1);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtRubric) rubric = bt_rubric_read_file(path, faults, NULL);
  bool good = faults->len == g_strv_length(lines);
  for (guint i = 0; i < MIN(faults->len, g_strv_length(lines)); i++)
    good &= is_as_said(name, faults->pdata[i], lines[i]);
  for (guint i = g_strv_length(lines); i < faults->len; i++) {
    g_autofree char *text = bt_fault_format(faults->pdata[i]);
    print_error("%s: one too many: %s\n", name, text);
  }
  if (faults->len < g_strv_length(lines))
    print_error("%s: not found: %s\n", name, lines[faults->len]);
  if ((rubric != NULL) != (bt_faults_count_errors(faults) == 0)) {
    print_error("%s: a rubric came with faults, or none without\n", name);
    good = false;
  }
  return good;
}

static void every_bad_file_has_its_faults_and_no_others(void **state) {
  (void)state;
  g_autoptr(GDir) folder = g_dir_open(FOLDER, 0, NULL);
  assert_non_null(folder);
  int files = 0, wrong = 0;
  for (const char *name; (name = g_dir_read_name(folder));) {
    if (!g_str_has_suffix(name, ".yaml"))
      continue;
    g_autofree char *stem = g_strndup(name, strlen(name) - strlen(".yaml"));
    wrong += !check_file(stem);
    files++;
  }
  assert_int_equal(wrong, 0);
  assert_true(files >= 185); // so that a lost folder is noticed
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_bad_file_has_its_faults_and_no_others),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
