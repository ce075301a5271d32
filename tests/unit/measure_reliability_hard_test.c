// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reliability where there is little to go by, identities that must hold, and the designs' grammar.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "support/score_list.h"

#define X BT_MISSING

static void assert_near(double a, double b, double relative) {
  if (!(fabs(a - b) <= relative * MAX(1, fabs(b))))
    fail_msg("%.17g is not near %.17g", a, b);
}

// Designs ---------------------------------------------------------------------

static char *effects_of(const char *text) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtDesign) design = bt_design_parse(text, &error);
  if (!design)
    return g_strdup(error->message);
  GString *out = g_string_new(design->name[design->object]);
  for (int i = 0; i < design->effects; i++) {
    g_autofree char *name = bt_design_name(design, design->effect[i]);
    g_string_append_printf(out, "; %s", name);
  }
  return g_string_free(out, FALSE);
}

static void designs_have_the_effects_of_the_book(void **state) {
  (void)state;
  // Brennan (2001), section 3.2: the effects of these designs, and what is measured before them.
  static const struct {
    const char *design, *effects;
  } cases[] = {
      {"p x i", "p; p; i; p x i"},
      {"i:p", "p; p; i:p"},
      {"p x (r:t)", "p; p; t; p x t; r:t; p x (r:t)"},
      {"(r:t) x p", "t; t; p; r:t; t x p; (r:t) x p"}, // the first that is nested in none
      {"p x i x o", "p; p; i; o; p x i; p x o; i x o; p x i x o"},
      {"i:o:p", "p; p; o:p; i:o:p"},
      {"i:(p x o)", "p; p; o; p x o; i:(p x o)"},
      {"(i x o):p", "p; p; i:p; o:p; (i:p) x (o:p)"},
      {"trainee\u00d7assessor", "trainee; trainee; assessor; trainee x assessor"},
      {"  ( p )x( ( i ) ) ", "p; p; i; p x i"},
      {"year-2 x Pr\u00fcfer", "year-2; year-2; Pr\u00fcfer; year-2 x Pr\u00fcfer"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autofree char *effects = effects_of(cases[i].design);
    assert_string_equal(effects, cases[i].effects);
  }
}

static void wrong_designs_say_where(void **state) {
  (void)state;
  static const struct {
    const char *design, *at, *words;
  } cases[] = {
      {"", "character 1", "ends where a facet's name"},
      {"p x", "character 4", "ends where a facet's name"},
      {"p x (r:t", "character 9", "\")\" should stand here"},
      {"p r", "character 3", "should stand between two facets"},
      {"p x i)", "character 6", "should stand between two facets"},
      {"p x p", "character 5", "stands in the design already"},
      {"x x p", "character 1", "stands for crossing"},
      {"p x ,", "character 5", "a facet's name should stand here"},
      {"a x b x c x d x e x f x g", "character 25", "seventh facet"},
      {"p", "", "two facets are the fewest"},
      {"p \xff i", "", "no valid UTF-8"},
      {"((((((((((((((((((p x i", "character 17", "too deep"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autofree char *said = effects_of(cases[i].design);
    if (!strstr(said, cases[i].at) || !strstr(said, cases[i].words))
      fail_msg("\"%s\" says: %s", cases[i].design, said);
  }
}

// Studies that cannot be ------------------------------------------------------

static void expect_why(const char *design, ScoreList *list, const char *words) {
  g_autoptr(BtGStudy) study = study_of(design, list);
  if (!study->why_not || !strstr(study->why_not, words))
    fail_msg("%s says \"%s\", not \"%s\"", design, study->why_not, words);
  for (int i = 0; i < study->design->effects; i++)
    assert_non_null(study->effect[i].component.why_not);
  BtPlan plan = bt_plan_of_study(study);
  assert_non_null(bt_dstudy(study, &plan).decision.why_not);
  assert_int_equal(bt_dstudy_reach(study, &plan, 1, false, 0.8).least, 0);
}

static void studies_that_cannot_be_say_why(void **state) {
  (void)state;
  g_auto(ScoreList) none = score_list_new(), row = score_list_new(), column = score_list_new();
  g_auto(ScoreList) twice = score_list_new(), diagonal = score_list_new();
  for (gsize i = 0; i < 4; i++) {
    put_score(&row, (double)i, 0, i, 0);
    put_score(&column, (double)i, i, 0, 0);
    put_score(&twice, (double)i, i / 2, 0, 0);
    put_score(&twice, (double)i, i / 2, 1, 0);
    put_score(&diagonal, (double)i, i, i, 0);
  }
  expect_why("trainee x assessor", &none, "there are no scores");
  expect_why("trainee x assessor", &row, "there is only one trainee");
  expect_why("trainee x assessor", &column, "there is only one assessor");
  expect_why("assessor:trainee", &row, "no trainee has more than one assessor");
  expect_why("trainee x assessor", &twice, "two scores stand in one cell of trainee x assessor");
  expect_why("trainee x assessor", &diagonal, "these scores cannot tell assessor from trainee");
}

static void equal_scores_hold_nothing(void **state) {
  (void)state;
  g_auto(ScoreList) list = score_list_new();
  for (gsize i = 0; i < 12; i++)
    put_score(&list, 71.3, i / 3, i % 3, 0);
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  assert_null(study->why_not);
  for (int i = 0; i < 3; i++)
    assert_true(study->effect[i].component.value == 0);
  BtPlan plan = bt_plan_of_study(study);
  BtDStudy reached = bt_dstudy_as_scored(study, 0, 0);
  assert_string_equal(reached.decision.why_not, "all scores are the same");
  assert_string_equal(reached.ranking.why_not, "all scores are the same");
  assert_string_equal(bt_dstudy_at_cut(study, &reached, 70).why_not, "all scores are the same");
  assert_int_equal(bt_dstudy_reach(study, &plan, 1, false, 0.8).least, 0);
}

static void a_negative_component_is_told_and_taken_as_0(void **state) {
  (void)state;
  // Persons alike in sum, unlike on each item: the person component is below zero. By hand: SS of
  // persons 0, MS of the rest 2, so (0 - 2) / 2 = -1.
  g_auto(ScoreList) list = score_list_new();
  static const double cell[3][2] = {{1, 3}, {3, 1}, {2, 2}};
  for (gsize p = 0; p < 3; p++) {
    for (gsize i = 0; i < 2; i++)
      put_score(&list, cell[p][i], p, i, 0);
  }
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  assert_near(study->effect[0].component.value, -1, 1e-12);
  assert_true(study->any_negative);
  assert_true(study->effect[0].used == 0);
  BtPlan plan = bt_plan_of_study(study);
  BtDStudy reached = bt_dstudy(study, &plan);
  assert_true(reached.decision.value == 0 && !reached.decision.why_not);
  assert_false(reached.ranking.has_limits);
  BtReach reach = bt_dstudy_reach(study, &plan, 1, false, 0.8);
  assert_true(reach.least == 0 && reach.limit == 0);
}

static void two_levels_of_each_facet_are_enough(void **state) {
  (void)state;
  // By hand: SS of persons 16, of items 4, of the rest 0.
  g_auto(ScoreList) list = score_list_new();
  put_score(&list, 1, 0, 0, 0);
  put_score(&list, 3, 0, 1, 0);
  put_score(&list, 5, 1, 0, 0);
  put_score(&list, 7, 1, 1, 0);
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  assert_near(study->effect[0].sum_of_squares, 16, 1e-12);
  assert_near(study->effect[1].sum_of_squares, 4, 1e-12);
  assert_near(study->effect[2].sum_of_squares, 0, 1e-12);
  assert_near(study->effect[0].component.value, 8, 1e-12);
  BtPlan plan = bt_plan_of_study(study);
  BtDStudy reached = bt_dstudy(study, &plan);
  assert_near(reached.ranking.value, 1, 1e-12);
  assert_near(reached.decision.value, 8.0 / 9, 1e-12); // item component 2, over two items
}

// Identities ------------------------------------------------------------------

static const double holed[6][4] = {{3, 4, X, 2}, {5, 5, 4, X}, {1, X, 2, 2},
                                   {4, 4, 3, 5}, {X, 2, 1, 1}, {5, 3, 4, 4}};
static const double whole[6][4] = {{3, 4, 3, 2}, {5, 5, 4, 5}, {1, 2, 2, 2},
                                   {4, 4, 3, 5}, {2, 2, 1, 1}, {5, 3, 4, 4}};

static void put_cells(ScoreList *list, const double *cell) {
  for (gsize p = 0; p < 6; p++) {
    for (gsize i = 0; i < 4; i++)
      put_score(list, cell[p * 4 + i], p, i, 0);
  }
}

static BtItems *items_of(const double *cell) {
  BtRatings table = {6, 4, cell};
  return bt_items(&table);
}

static void alpha_is_the_coefficient_of_persons_by_items(void **state) {
  (void)state;
  g_auto(ScoreList) list = score_list_new(), holes = score_list_new();
  put_cells(&list, whole[0]);
  put_cells(&holes, holed[0]);
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  g_autoptr(BtGStudy) with_holes = study_of("p x i", &holes);
  g_autofree BtItems *items = items_of(whole[0]), *items_with_holes = items_of(holed[0]);
  BtPlan plan_with_holes = bt_plan_of_study(with_holes);
  BtDStudy reached = bt_dstudy_as_scored(study, 0, 0);
  BtDStudy other = bt_dstudy_as_scored(with_holes, 0, 0);
  assert_near(items->alpha.value, reached.ranking.value, 1e-12);
  assert_near(items->alpha.low, reached.ranking.low, 1e-9);
  assert_near(items->alpha.high, reached.ranking.high, 1e-9);
  // Two solutions of the same equations: in closed form and by elimination.
  assert_false(with_holes->complete);
  assert_near(items_with_holes->alpha.value, other.ranking.value, 1e-12);
  assert_near(items_with_holes->items_each, plan_with_holes.conditions[1], 1e-12);
  assert_int_equal(items_with_holes->complete, 2);
  assert_int_equal(items_with_holes->persons, 6);
  assert_non_null(items->kr20.why_not);
}

static void order_of_persons_and_items_does_not_matter(void **state) {
  (void)state;
  static const gsize person[] = {4, 2, 0, 5, 1, 3}, item[] = {2, 0, 3, 1};
  double moved[6][4];
  for (gsize p = 0; p < 6; p++) {
    for (gsize i = 0; i < 4; i++)
      moved[p][i] = holed[person[p]][item[i]];
  }
  g_autofree BtItems *items = items_of(holed[0]), *other = items_of(moved[0]);
  assert_near(items->alpha.value, other->alpha.value, 1e-12);
  for (gsize i = 0; i < 4; i++) {
    assert_near(items->item[item[i]].discrimination.value, other->item[i].discrimination.value,
                1e-12);
    assert_near(items->item[item[i]].alpha_without.value, other->item[i].alpha_without.value,
                1e-12);
  }
  g_auto(ScoreList) list = score_list_new(), swapped = score_list_new();
  put_cells(&list, holed[0]);
  put_cells(&swapped, moved[0]);
  g_autoptr(BtGStudy) a = study_of("p x i", &list), b = study_of("p x i", &swapped);
  for (int i = 0; i < 3; i++)
    assert_near(a->effect[i].component.value, b->effect[i].component.value, 1e-12);
}

static void alpha_without_an_item_is_alpha_of_the_rest(void **state) {
  (void)state;
  g_autofree BtItems *items = items_of(holed[0]);
  for (gsize out = 0; out < 4; out++) {
    double rest[6][3];
    for (gsize p = 0; p < 6; p++) {
      for (gsize i = 0, at = 0; i < 4; i++) {
        if (i != out)
          rest[p][at++] = holed[p][i];
      }
    }
    BtRatings table = {6, 3, rest[0]};
    g_autofree BtItems *of_rest = bt_items(&table);
    assert_near(items->item[out].alpha_without.value, of_rest->alpha.value, 1e-12);
  }
}

static void scores_far_from_0_lose_no_digits(void **state) {
  (void)state;
  g_auto(ScoreList) near = score_list_new(), far = score_list_new();
  put_cells(&near, holed[0]);
  for (gsize p = 0; p < 6; p++) {
    for (gsize i = 0; i < 4; i++)
      put_score(&far, holed[p][i] + 1e9, p, i, 0);
  }
  g_autoptr(BtGStudy) a = study_of("p x i", &near), b = study_of("p x i", &far);
  for (int i = 0; i < 3; i++)
    assert_near(a->effect[i].component.value, b->effect[i].component.value, 1e-9);
}

static void longer_is_what_spearman_and_brown_say(void **state) {
  (void)state;
  g_auto(ScoreList) list = score_list_new();
  put_cells(&list, whole[0]);
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  BtPlan plan = bt_plan_of_study(study), longer = plan;
  longer.conditions[1] = 10;
  double r = bt_dstudy(study, &plan).ranking.value;
  assert_near(bt_dstudy(study, &longer).ranking.value, bt_spearman_brown(r, 2.5).value, 1e-12);
  BtReach reach = bt_dstudy_reach(study, &plan, 1, true, 0.97);
  assert_int_equal(reach.least, ceil(4 * bt_spearman_brown_factor(r, 0.97).value));
  assert_non_null(bt_spearman_brown(0, 2).why_not);
  assert_non_null(bt_spearman_brown(0.5, 0).why_not);
  assert_non_null(bt_spearman_brown_factor(0.5, 1).why_not);
}

// Three facets with holes: enough for all seven components.
static void put_three_facets(ScoreList *list, guint seed) {
  GRand *random = g_rand_new_with_seed(seed);
  for (gsize p = 0; p < 12; p++) {
    for (gsize s = 0; s < 4; s++) {
      for (gsize a = 0; a < 3; a++) {
        double score = 50 + 4 * (double)p + 3 * (double)s + 12 * (double)a +
                       g_rand_double_range(random, -9, 9);
        put_score(list, g_rand_int_range(random, 0, 5) ? score : X, p, s, a);
      }
    }
  }
  g_rand_free(random);
}

static void the_least_number_reaches_and_one_less_does_not(void **state) {
  (void)state;
  g_auto(ScoreList) list = score_list_new();
  put_three_facets(&list, 7);
  g_autoptr(BtGStudy) study = study_of("trainee x session x assessor", &list);
  assert_null(study->why_not);
  assert_false(study->complete);
  int reached = 0, never = 0;
  for (int assessors = 1; assessors <= 4; assessors++) {
    for (int percent = 5; percent < 100; percent += 5) {
      BtPlan plan = bt_plan_of_study(study);
      plan.conditions[2] = assessors;
      double target = percent / 100.0;
      BtReach reach = bt_dstudy_reach(study, &plan, 1, false, target);
      plan.conditions[1] = reach.least ? (double)reach.least : 1e9;
      double at = bt_dstudy(study, &plan).decision.value;
      assert_true(at <= reach.limit + 1e-12);
      assert_true(reach.least ? at >= target - 1e-9 : at < target);
      plan.conditions[1] = (double)reach.least - 1;
      if (reach.least > 1)
        assert_true(bt_dstudy(study, &plan).decision.value < target);
      reached += reach.least > 0;
      never += reach.least == 0;
    }
  }
  assert_true(reached > 20);
  assert_true(never > 0);
}

static void complete_scores_reach_what_their_plan_does(void **state) {
  (void)state;
  g_auto(ScoreList) list = score_list_new();
  for (gsize i = 0; i < 5 * 3 * 2; i++)
    put_score(&list, (double)(i * i % 17), i / 6, i / 2 % 3, i % 2);
  g_autoptr(BtGStudy) study = study_of("p x (r:t)", &list);
  assert_true(study->complete);
  BtPlan plan = bt_plan_of_study(study);
  plan.fixed = 1U << 2;
  BtDStudy as_scored = bt_dstudy_as_scored(study, plan.fixed, 0), planned = bt_dstudy(study, &plan);
  assert_near(as_scored.universe, planned.universe, 1e-12);
  assert_near(as_scored.relative, planned.relative, 1e-12);
  assert_near(as_scored.absolute, planned.absolute, 1e-12);
  assert_near(as_scored.mean_error, planned.mean_error, 1e-12);
}

static void holes_leave_what_the_scores_of_each_leave(void **state) {
  (void)state;
  // The first person has raters 0 and 1 of both tasks, the second rater 0 of both, the third rater
  // 0 and 1 of task 0 and rater 1 of task 1. By hand, the sums of squared shares of their scores:
  // by task 1/2, 1/2, 4/9 + 1/9; by rater and task 1/4, 1/2, 1/3.
  g_auto(ScoreList) list = score_list_new();
  static const gsize at[][3] = {{0, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0, 1, 1}, {1, 0, 0},
                                {1, 0, 1}, {2, 0, 0}, {2, 1, 0}, {2, 1, 1}};
  for (gsize i = 0; i < G_N_ELEMENTS(at); i++)
    put_score(&list, (double)(i * i % 7), at[i][0], at[i][1], at[i][2]);
  g_autoptr(BtGStudy) study = study_of("p x (r:t)", &list);
  static const double left[] = {1, 14.0 / 27, 14.0 / 27, 13.0 / 36, 13.0 / 36};
  for (int i = 0; i < 5; i++)
    assert_near(study->effect[i].left, left[i], 1e-12);
}

static void a_plan_may_nest_what_the_study_crossed(void **state) {
  (void)state;
  g_auto(ScoreList) list = score_list_new();
  put_cells(&list, whole[0]);
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  g_autoptr(BtDesign) own_items = bt_design_parse("p x i", NULL);
  own_items->within[1] = 1U << 0; // i:p, the facets in the study's order
  BtPlan plan = bt_plan_of_study(study);
  plan.design = own_items;
  BtDStudy nested = bt_dstudy(study, &plan);
  double item = study->effect[1].used, rest = study->effect[2].used;
  assert_near(nested.relative, (item + rest) / 4, 1e-12);
  assert_near(nested.absolute, nested.relative, 1e-12);
  assert_near(nested.universe, study->effect[0].used, 1e-12);
}

static void likelihood_and_mean_squares_agree_on_complete_scores(void **state) {
  (void)state;
  g_auto(ScoreList) list = score_list_new();
  for (gsize p = 0; p < 6; p++) {
    for (gsize i = 0; i < 4; i++)
      put_score(&list, whole[p][i] + 2 * (double)i, p, i, 0); // so that items differ
  }
  g_autoptr(BtGStudy) anova = study_of("p x i", &list);
  BtScores scores = scores_of(&list);
  g_autoptr(BtGStudy) reml = bt_gstudy(anova->design, &scores, BT_BY_REML);
  assert_null(reml->why_not);
  for (int i = 0; i < 3; i++) {
    double component = anova->effect[i].component.value;
    assert_true(component > 0); // below it the likelihood stops at 0 and the others follow
    assert_near(reml->effect[i].component.value, component, 1e-6);
  }
}

// Items -----------------------------------------------------------------------

static void items_with_little_to_go_by_say_so(void **state) {
  (void)state;
  static const double one_person[] = {1, 0, 1};
  static const double one_item[] = {1, 0, 1};
  static const double same[] = {1, 1, 1, 1, 1, 1};
  static const double easy[] = {1, 0, 1, 1, 1, 0, 1, 1};
  static const double nothing[] = {X, X, X, X};
  g_autofree BtItems *person = bt_items(&(BtRatings){1, 3, one_person});
  g_autofree BtItems *item = bt_items(&(BtRatings){3, 1, one_item});
  g_autofree BtItems *all_same = bt_items(&(BtRatings){3, 2, same});
  g_autofree BtItems *one_easy = bt_items(&(BtRatings){4, 2, easy});
  g_autofree BtItems *empty = bt_items(&(BtRatings){2, 2, nothing});
  g_autofree BtItems *no_table = bt_items(&(BtRatings){0, 0, NULL});
  assert_string_equal(person->alpha.why_not, "fewer than two persons have values");
  assert_string_equal(item->alpha.why_not, "fewer than two items have values");
  assert_string_equal(all_same->alpha.why_not, "all persons have the same total");
  assert_string_equal(all_same->item[0].discrimination.why_not,
                      "everyone has the same value on it");
  assert_string_equal(one_easy->item[0].discrimination.why_not,
                      "everyone has the same value on it");
  assert_string_equal(one_easy->item[1].discrimination.why_not,
                      "everyone has the same values on the other items");
  assert_string_equal(empty->item[1].difficulty.why_not, "nobody has a value for it");
  assert_int_equal(empty->persons, 0);
  assert_non_null(no_table->alpha.why_not);
  // A checkpoint that all did: 1, with Wilson's lower limit n / (n + z^2).
  assert_true(one_easy->item[0].difficulty.value == 1);
  assert_near(one_easy->item[0].difficulty.low, 4 / (4 + 3.841458820694124), 1e-12);
}

static void items_that_go_against_each_other_give_a_negative_alpha(void **state) {
  (void)state;
  static const double cell[] = {1, 0, 0, 1, 1, 0, 0, 0};
  g_autofree BtItems *items = bt_items(&(BtRatings){4, 2, cell});
  // Variances: 1/3 and 1/4; totals 1, 1, 1, 0: 1/4. alpha = 2 (1 - (7/12) / (1/4)) = -8/3.
  assert_near(items->alpha.value, -8.0 / 3, 1e-12);
  assert_true(items->alpha.low < items->alpha.value && items->alpha.value < items->alpha.high);
}

// Pass decisions --------------------------------------------------------------

static void decisions_at_the_ends_of_reliability(void **state) {
  (void)state;
  BtDecision sure = bt_decision_normal(0.7, 1, 9), chance = bt_decision_normal(0.7, 0, 9);
  assert_near(sure.consistency.value, 1, 1e-12);
  assert_near(sure.kappa.value, 1, 1e-12);
  assert_near(sure.accuracy.value, 1, 1e-12);
  assert_near(chance.kappa.value, 0, 1e-12);
  // Closed form at the mean (Sheppard 1899): true and observed correlate by the root.
  BtDecision half = bt_decision_normal(0, 0.64, 9);
  assert_near(half.consistency.value, 0.5 + asin(0.64) / G_PI, 1e-12);
  assert_near(half.accuracy.value, 0.5 + asin(0.8) / G_PI, 1e-12);
  assert_string_equal(bt_decision_normal(60, 0.5, 9).kappa.why_not,
                      "everyone stands on the same side of the pass mark");
  assert_non_null(bt_decision_normal(0, 1.2, 9).consistency.why_not);
  assert_string_equal(bt_decision_normal(INFINITY, 0.5, 9).consistency.why_not,
                      "all scores are the same");
}

static void wrong_decisions_by_the_bivariate_normal(void **state) {
  (void)state;
  // Computed with R's mvtnorm 1.1-3, pmvnorm(algorithm = Miwa(4097)).
  static const struct {
    double z, reliability, pass, not_yet;
  } cases[] = {{0.5, 0.8, 0.074719841703, 0.054257363992},
               {-1, 0.6, 0.030141941237, 0.090444393939},
               {1.5, 0.95, 0.013879944957, 0.008978855599}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    BtDecision decision = bt_decision_normal(cases[i].z, cases[i].reliability, 9);
    assert_near(decision.false_pass.value, cases[i].pass, 1e-9);
    assert_near(decision.false_not_yet.value, cases[i].not_yet, 1e-9);
    BtDecision mirror = bt_decision_normal(-cases[i].z, cases[i].reliability, 9);
    assert_near(mirror.false_pass.value, decision.false_not_yet.value, 1e-12);
    assert_near(mirror.consistency.value, decision.consistency.value, 1e-12);
  }
}

static const double spread[] = {41, 47, 52, 55, 58, 58, 60, 61, 63, 64, 66, 66, 67, 68, 69, 70,
                                70, 71, 72, 73, 74, 75, 75, 77, 78, 79, 80, 82, 84, 86, 88, 91};
static const double skewed[] = {12, 30, 33, 35, 38, 41,  44,  47,  55, 61,
                                64, 72, 88, 97, 99, 100, 100, 100, 23, 8};
static const double flat[] = {35, 38, 40, 41, 44, 45, 46, 48, 50, 52, 53, 55, 55, 57, 58,
                              60, 61, 63, 64, 66, 68, 70, 71, 72, 36, 39, 67, 69, 42, 59};
static const double brief[] = {2, 3, 3, 4, 5, 6, 6, 7, 8, 8, 9, 9, 10, 10};

static void livingston_and_lewis_against_another_way_to_compute_it(void **state) {
  (void)state;
  // Computed in R 4.2: the beta's shapes by searching the two that have the skewness and kurtosis,
  // the integrals over the quantiles of the true scores, binomial terms added one by one.
  static const struct {
    const double *scores;
    gsize n;
    double most, cut, reliability, length, low, high, a, b, consistency, kappa, accuracy, pass,
        not_yet;
    bool two;
  } cases[] = {
      {spread, 32, 100, 70, 0.8, 73.641035747967, 0.134090033, 0.973237259, 9.256736035,
       4.622699371, 0.797131176185, 0.593699880729, 0.853280478670, 0.081454207856, 0.065265313474,
       false},
      {spread, 32, 100, 65, 0.6, 37.320517873983, 0.342605332, 0.883900126, 4.925881364,
       2.667438939, 0.754423007273, 0.410221696766, 0.817878879846, 0.094859941496, 0.087261178658,
       false},
      {skewed, 20, 100, 60, 0.9, 16.229199182435, 0, 1, 1.135329347, 0.844320778, 0.866736601120,
       0.733372239274, 0.904855851659, 0.051410273522, 0.043733874819, true},
      {flat, 30, 100, 55, 0.85, 117.498040512546, 0.412079123, 0.660132052, 0.208180420,
       0.191340514, 0.921399309679, 0.842711155071, 0.945814455424, 0.030952213456, 0.023233331120,
       false},
      {brief, 14, 10, 6, 0.7, 8.092244083262, 0, 1, 2.607986613, 1.448881452, 0.766850081774,
       0.494658817904, 0.825497631599, 0.103981489853, 0.070520878549, true}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    BtDecision found = bt_decision_beta(cases[i].scores, cases[i].n, 0, cases[i].most, cases[i].cut,
                                        cases[i].reliability);
    assert_null(found.consistency.why_not);
    assert_near(found.effective_length, cases[i].length, 1e-11);
    assert_near(found.true_low, cases[i].low, 1e-6); // the search is no better than that
    assert_near(found.true_high, cases[i].high, 1e-6);
    assert_near(found.alpha, cases[i].a, 1e-6);
    assert_near(found.beta, cases[i].b, 1e-6);
    assert_near(found.consistency.value, cases[i].consistency, 1e-7);
    assert_near(found.kappa.value, cases[i].kappa, 1e-7);
    assert_near(found.accuracy.value, cases[i].accuracy, 1e-7);
    assert_near(found.false_pass.value, cases[i].pass, 1e-7);
    assert_near(found.false_not_yet.value, cases[i].not_yet, 1e-7);
    assert_true((found.why_two != NULL) == cases[i].two);
  }
}

static void livingston_and_lewis_say_what_they_cannot(void **state) {
  (void)state;
  static const double same[] = {70, 70, 70};
  assert_string_equal(bt_decision_beta(spread, 1, 0, 100, 70, 0.8).kappa.why_not,
                      "fewer than two scores");
  assert_string_equal(bt_decision_beta(same, 3, 0, 100, 70, 0.8).kappa.why_not,
                      "all scores are the same");
  assert_string_equal(bt_decision_beta(spread, 32, 0, 90, 70, 0.8).kappa.why_not,
                      "a score or the pass mark lies outside the scale");
  assert_string_equal(bt_decision_beta(spread, 32, 0, 100, 700, 0.8).kappa.why_not,
                      "a score or the pass mark lies outside the scale");
  assert_string_equal(bt_decision_beta(spread, 32, 0, 100, 70, 1).kappa.why_not,
                      "it needs a reliability above 0 and below 1");
  static const double ends[] = {0, 100, 0, 100, 0, 100};
  assert_string_equal(bt_decision_beta(ends, 6, 0, 100, 70, 0.8).kappa.why_not,
                      "the scores are as reliable as one single item, or less");
  // At the ends of the scale everyone passes, or nobody does.
  assert_near(bt_decision_beta(spread, 32, 0, 100, 0, 0.8).consistency.value, 1, 1e-12);
  assert_non_null(bt_decision_beta(spread, 32, 0, 100, 0, 0.8).kappa.why_not);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(designs_have_the_effects_of_the_book),
      cmocka_unit_test(wrong_designs_say_where),
      cmocka_unit_test(studies_that_cannot_be_say_why),
      cmocka_unit_test(equal_scores_hold_nothing),
      cmocka_unit_test(a_negative_component_is_told_and_taken_as_0),
      cmocka_unit_test(two_levels_of_each_facet_are_enough),
      cmocka_unit_test(alpha_is_the_coefficient_of_persons_by_items),
      cmocka_unit_test(order_of_persons_and_items_does_not_matter),
      cmocka_unit_test(alpha_without_an_item_is_alpha_of_the_rest),
      cmocka_unit_test(scores_far_from_0_lose_no_digits),
      cmocka_unit_test(longer_is_what_spearman_and_brown_say),
      cmocka_unit_test(the_least_number_reaches_and_one_less_does_not),
      cmocka_unit_test(complete_scores_reach_what_their_plan_does),
      cmocka_unit_test(holes_leave_what_the_scores_of_each_leave),
      cmocka_unit_test(a_plan_may_nest_what_the_study_crossed),
      cmocka_unit_test(likelihood_and_mean_squares_agree_on_complete_scores),
      cmocka_unit_test(items_with_little_to_go_by_say_so),
      cmocka_unit_test(items_that_go_against_each_other_give_a_negative_alpha),
      cmocka_unit_test(decisions_at_the_ends_of_reliability),
      cmocka_unit_test(wrong_decisions_by_the_bivariate_normal),
      cmocka_unit_test(livingston_and_lewis_against_another_way_to_compute_it),
      cmocka_unit_test(livingston_and_lewis_say_what_they_cannot),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
