// SPDX-License-Identifier: GPL-3.0-or-later
//
// The five ways to a pass mark on worked examples (tests/published/standard.json says from where).
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/standard.h>

#include "support/published.h"

static json_t *family(void **state) {
  return *state;
}

static int load(void **state) {
  *state = published_family("standard");
  return 0;
}

static int unload(void **state) {
  json_decref(*state);
  return 0;
}

static double *column(json_t *example, const char *name, gsize *n) {
  return published_matrix(published_input(example, name), NULL, n);
}

static double number(json_t *example, const char *name) {
  return json_number_value(published_input(example, name));
}

// A component, given there of shares; relative to itself, small as it is.
static void check_component(json_t *example, const char *name, const BtEstimate *component) {
  double recomputed = published_value(example, "recomputed", name);
  if (component->why_not || fabs(component->value / 1e4 / recomputed - 1) > PUBLISHED_RELATIVE)
    fail_msg("%s is %.17g, recomputed %.17g", name, component->value / 1e4, recomputed);
}

// The example's ratings are shares, judges by items; the mark is given as the sum over 8 items.
static void angoff_by_judges_and_items(void **state) {
  json_t *example = published_example(family(state), "angoff_example");
  gsize judges, items;
  g_autofree double *share =
      published_matrix(published_input(example, "ratings_judges_by_items"), &judges, &items);
  g_autofree double *cell = g_new(double, judges *items);
  for (gsize j = 0; j < judges; j++) {
    for (gsize i = 0; i < items; i++)
      cell[i * judges + j] = 100 * share[j * items + i];
  }
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){items, judges, cell}, NULL);
  double raw = (double)items / 100; // from percent to the sum over the items
  published_check(example, "cut_raw", angoff.panel.mean.value * raw);
  published_check(example, "cut_percent", angoff.panel.mean.value);
  published_check(example, "sd_judges", sqrt(angoff.panel.variance) * raw);
  published_check(example, "se_judges", angoff.panel.mean.se * raw);
  published_check(example, "median", angoff.panel.median * raw);
  for (gsize j = 0; j < judges; j++) {
    g_autofree char *name = g_strdup_printf("judge%u", (unsigned)j + 1);
    published_check(example, name, angoff.panel.cut[j] * raw);
  }
  check_component(example, "var_judge", &angoff.judge_variance);
  check_component(example, "var_item", &angoff.item_variance);
  check_component(example, "var_resid", &angoff.residual_variance);
  published_check(example, "se_items_fixed_prop", angoff.panel.mean.se / 100);
  published_check(example, "se_items_random_prop", angoff.both.se / 100);
}

static void ebel_by_relevance_and_difficulty(void **state) {
  json_t *example = published_example(family(state), "ebel_example");
  gsize rows, columns;
  g_autofree double *share =
      published_matrix(published_input(example, "expected_proportion"), &rows, &columns);
  g_autofree double *items = published_matrix(published_input(example, "n_items"), NULL, NULL);
  BtEbelCell cells[9];
  double all = 0;
  assert_int_equal(rows * columns, 9);
  for (gsize i = 0; i < 9; i++) {
    cells[i] = (BtEbelCell){0, items[i], 100 * share[i]};
    all += items[i];
  }
  g_auto(BtPanel) panel = bt_ebel(cells, 9, 1);
  published_check(example, "n", all);
  published_check(example, "cut", panel.mean.value * all / 100);
  published_check(example, "cut_percent", panel.mean.value);
  assert_false(panel.mean.has_limits); // one panel, one grid: no word on its error
}

static void contrasting_groups_in_three_ways(void **state) {
  json_t *example = published_example(family(state), "contrasting_groups");
  gsize low, high;
  g_autofree double *not_competent = column(example, "not_competent", &low);
  g_autofree double *competent = column(example, "competent", &high);
  g_autofree double *score = g_new(double, low + high);
  g_autofree bool *is_competent = g_new0(bool, low + high);
  for (gsize i = 0; i < low + high; i++) {
    score[i] = i < low ? not_competent[i] : competent[i - low];
    is_competent[i] = i >= low;
  }
  BtCohortScores scores = {.n = low + high, .score = score};
  BtContrasting result = bt_contrasting(&scores, is_competent, (BtResampling){0});
  published_check(example, "mean_nc", result.not_competent.mean);
  published_check(example, "mean_c", result.competent.mean);
  published_check(example, "sd_nc", result.not_competent.sd);
  published_check(example, "sd_c", result.competent.sd);
  published_check_estimate(example, "cut_midpoint", &result.cut[BT_CUT_MIDPOINT]);
  // Two normal curves of one standard deviation cross halfway between their means.
  published_check_estimate(example, "cut_normal_intersection_pooled", &result.cut[BT_CUT_MIDPOINT]);
  published_check_estimate(example, "cut_normal_intersection_unequal_sd",
                           &result.cut[BT_CUT_CROSSING]);
  published_check_estimate(example, "cut_logistic_p50", &result.cut[BT_CUT_LOGISTIC]);
  published_check(example, "logit_b0", result.intercept);
  published_check(example, "logit_b1", result.slope);
  published_check(example, "min_misclassified", (double)result.fewest_wrong);
  published_check(example, "lowest_cut_min_misclassified", result.fewest_wrong_at);
}

static void borderline_regression_and_group(void **state) {
  json_t *example = published_example(family(state), "borderline_regression");
  gsize n;
  g_autofree double *rating = column(example, "global", &n);
  g_autofree double *score = column(example, "score", &n);
  BtCohortScores scores = {.n = n, .score = score};
  BtBorderline result =
      bt_borderline(&scores, rating, number(example, "borderline"), (BtResampling){0});
  published_check_estimate(example, "cut", &result.cut);
  published_check(example, "se_cut", result.cut.se);
  published_check_estimate(example, "slope", &result.slope);
  published_check_estimate(example, "intergrade_discrimination", &result.slope);
  published_check(example, "intercept", result.intercept);
  published_check(example, "rmse", result.rmse);
  published_check(example, "r2", result.r_squared);
  published_check_estimate(example, "borderline_group_mean", &result.group_mean);
  published_check_estimate(example, "borderline_group_median", &result.group_median);
}

static void hofstee_joined_and_whole(void **state) {
  json_t *example = published_example(family(state), "hofstee_example");
  gsize n;
  g_autofree double *score = column(example, "scores", &n);
  BtHofsteeJudge judge = {number(example, "kmin"), number(example, "kmax"), number(example, "fmin"),
                          number(example, "fmax")};
  BtCohortScores scores = {.n = n, .score = score};
  BtHofstee result = bt_hofstee(&judge, 1, &scores, (BtResampling){0});
  assert_int_equal(result.meeting, BT_HOFSTEE_MEETS);
  published_check(example, "line_at_kmin", result.limits.most_not_yet);
  published_check(example, "line_at_kmax", result.limits.least_not_yet);
  published_check_estimate(example, "cut_linear_interpolation", &result.cut);
  published_check(example, "fail_rate_interp", result.not_yet);
  published_check(example, "cut_first_integer_at_or_above", result.whole_cut);
  published_check(example, "fail_rate_at_that_cut", result.whole_not_yet);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(angoff_by_judges_and_items),
      cmocka_unit_test(ebel_by_relevance_and_difficulty),
      cmocka_unit_test(contrasting_groups_in_three_ways),
      cmocka_unit_test(borderline_regression_and_group),
      cmocka_unit_test(hofstee_joined_and_whole),
  };
  return cmocka_run_group_tests(tests, load, unload);
}
