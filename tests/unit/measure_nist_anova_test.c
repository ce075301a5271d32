// SPDX-License-Identifier: GPL-3.0-or-later
//
// One-way analysis of variance against NIST's certified values. The data of SmLs04-06 differ in
// their eighth digit, those of SmLs07-09 in their fourteenth: as doubles they are rounded at 1e-10
// and 1e-4, which leaves no more digits than are asked for here.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/regression.h>

#include "support/nist.h"

#define GROUPS 9 // of Simon and Lesage's data sets

typedef struct {
  gsize n, groups;
  double *value;
  gsize *group;
} Data;

// Base plus so many tenths, rounded once.
static double in_tenths(double base, int tenths) {
  return (base * 10 + tenths) / 10;
}

static Data by_rule(json_t *example) {
  double base = json_number_value(published_input(example, "base"));
  gsize each = (gsize)json_integer_value(published_input(example, "replicates"));
  Data data = {.n = GROUPS * each, .groups = GROUPS};
  data.value = g_new(double, data.n);
  data.group = g_new(gsize, data.n);
  for (gsize i = 0; i < data.n; i++) {
    gsize group = i / each, place = i % each;
    int middle = group == 0 ? 4 : group % 2 ? 3 : 5;
    data.group[i] = group;
    data.value[i] = in_tenths(base, place == 0 ? middle : middle + (place % 2 ? -1 : 1));
  }
  return data;
}

static Data as_given(json_t *example) {
  Data data = {0};
  data.value = published_matrix(published_input(example, "value"), NULL, &data.n);
  data.group = g_new(gsize, data.n);
  for (gsize i = 0; i < data.n; i++) {
    json_int_t group = json_integer_value(json_array_get(published_input(example, "group"), i));
    data.group[i] = (gsize)group - 1;
    data.groups = MAX(data.groups, (gsize)group);
  }
  return data;
}

static void check(json_t *family, const char *id, double needed) {
  json_t *example = published_example(family, id);
  Data data = json_object_get(json_object_get(example, "inputs"), "base") ? by_rule(example)
                                                                          : as_given(example);
  BtAnova anova = bt_anova(data.value, data.group, data.n, data.groups);
  assert_null(anova.why_not);
  double least = NIST_MOST;
  nist_look(example, "ss_between", anova.between_ss, &least);
  nist_look(example, "ss_within", anova.within_ss, &least);
  nist_look(example, "ms_between", anova.between_ms, &least);
  nist_look(example, "ms_within", anova.within_ms, &least);
  nist_look(example, "F", anova.f, &least);
  nist_look(example, "r2", anova.r_squared, &least);
  nist_ask(example, "the whole table", least, needed);
  g_free(data.value);
  g_free(data.group);
}

static void tables_reach_the_certified_digits(void **state) {
  (void)state;
  json_t *family = published_family("nist_anova");
  check(family, "nist_SiRstv", 12.9);
  check(family, "nist_AtmWtAg", 10);
  check(family, "nist_SmLs01", 14);
  check(family, "nist_SmLs02", 14);
  check(family, "nist_SmLs03", 14);
  check(family, "nist_SmLs04", 9.8);
  check(family, "nist_SmLs05", 9.7);
  check(family, "nist_SmLs06", 9.7);
  check(family, "nist_SmLs07", 3.7);
  check(family, "nist_SmLs08", 3.7);
  check(family, "nist_SmLs09", 3.7);
  json_decref(family);
}

static void what_has_no_table_says_why(void **state) {
  (void)state;
  double value[] = {3, 3, 3, 5};
  gsize one[] = {0, 0, 0, 0}, each[] = {0, 1, 2, 3}, two[] = {0, 0, 1, 1};
  assert_non_null(bt_anova(value, one, 0, 1).why_not);
  assert_string_equal(bt_anova(value, one, 4, 1).why_not, "there are fewer than two groups");
  assert_string_equal(bt_anova(value, one, 4, 7).why_not, "there are fewer than two groups");
  assert_string_equal(bt_anova(value, each, 4, 4).why_not, "there are as many groups as values");
  double same[] = {3, 3, 3, 3};
  assert_string_equal(bt_anova(same, two, 4, 2).why_not, "all values are the same");
  double apart[] = {3, 3, 5, 5}; // all of it between the groups: no F
  BtAnova anova = bt_anova(apart, two, 4, 2);
  assert_null(anova.why_not);
  assert_true(anova.within_ss == 0 && anova.f == 0 && anova.r_squared == 1);
  assert_true(fabs(anova.between_ss - 4) < 1e-14);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(tables_reach_the_certified_digits),
      cmocka_unit_test(what_has_no_table_says_why),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
