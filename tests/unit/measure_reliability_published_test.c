// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reliability against published worked examples (tests/published/reliability.json has the
// citations): items, generalizability and decision studies, consistency of pass decisions.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/published.h"
#include "support/score_list.h"

static json_t *examples;

static int read_examples(void **state) {
  (void)state;
  examples = published_family("reliability");
  return 0;
}

static int free_examples(void **state) {
  (void)state;
  json_decref(examples);
  return 0;
}

static BtRatings ratings_of(json_t *example, const char *input) {
  BtRatings ratings = {0};
  ratings.cell =
      published_matrix(published_input(example, input), &ratings.subjects, &ratings.raters);
  return ratings;
}

// Puts a published table of persons by columns: person first, `fixed` the level of the third facet.
static void put_table(ScoreList *list, json_t *example, const char *input, gsize third) {
  BtRatings table = ratings_of(example, input);
  for (gsize p = 0; p < table.subjects; p++) {
    for (gsize i = 0; i < table.raters; i++)
      put_score(list, table.cell[p * table.raters + i], p, i, third);
  }
  g_free((gpointer)table.cell);
}

static const BtEffect *effect_of(const BtGStudy *study, const char *name) {
  for (int i = 0; i < study->design->effects; i++) {
    g_autofree char *own = bt_design_name(study->design, study->design->effect[i]);
    if (strcmp(own, name) == 0)
      return &study->effect[i];
  }
  fail_msg("no effect \"%s\"", name);
  return NULL;
}

// `marks` names each effect and its letters in the published example: "p=p", "pi=p x i" ...
static void check_effects(json_t *example, const BtGStudy *study, const char *const *marks) {
  assert_null(study->why_not);
  for (int i = 0; marks[i]; i++) {
    g_auto(GStrv) pair = g_strsplit(marks[i], "=", 2);
    const BtEffect *effect = effect_of(study, pair[1]);
    const struct {
      const char *kind;
      double value;
    } figures[] = {{"SS", effect->sum_of_squares},
                   {"MS", effect->mean_square.value},
                   {"T", effect->uncorrected},
                   {"v", effect->component.value}};
    gsize checked = 0;
    for (gsize j = 0; j < G_N_ELEMENTS(figures); j++) {
      g_autofree char *name = g_strconcat(figures[j].kind, pair[0], NULL);
      if (isnan(published_value(example, "recomputed", name)))
        continue;
      published_check(example, name, figures[j].value);
      checked++;
    }
    assert_true(checked > 0);
  }
}

static BtDStudy plan(const BtGStudy *study, double second, double third, guint fixed) {
  BtPlan of = bt_plan_of_study(study);
  of.conditions[1] = second;
  of.conditions[2] = third;
  of.fixed = fixed;
  return bt_dstudy(study, &of);
}

static void check_plan(json_t *example, const BtDStudy *reached, const char *at) {
  g_autofree char *ranking = g_strconcat("Erho2_", at, NULL);
  g_autofree char *decision = g_strconcat("Phi_", at, NULL);
  published_check_estimate(example, ranking, &reached->ranking);
  published_check_estimate(example, decision, &reached->decision);
}

// Items -----------------------------------------------------------------------

static void alpha_of_summary_figures(void **state) {
  (void)state;
  json_t *example = published_example(examples, "bland_altman1997_alpha");
  gsize k = (gsize)json_integer_value(published_input(example, "k"));
  BtEstimate alpha =
      bt_alpha_of_variances(k, json_number_value(published_input(example, "sum_item_var")),
                            json_number_value(published_input(example, "total_var")), 0);
  published_check_estimate(example, "alpha", &alpha);
  assert_false(alpha.has_limits);
}

// A thousand candidates from their patterns of right answers and how many gave each.
static BtRatings lsat(json_t *example) {
  BtRatings pattern = ratings_of(example, "patterns");
  gsize kinds = 0, persons = 0;
  g_autofree double *count = published_matrix(published_input(example, "counts"), NULL, &kinds);
  assert_int_equal(kinds, pattern.subjects);
  for (gsize i = 0; i < kinds; i++)
    persons += (gsize)count[i];
  double *cell = g_new(double, persons *pattern.raters), *at = cell;
  for (gsize i = 0; i < kinds; i++) {
    for (gsize j = 0; j < (gsize)count[i]; j++, at += pattern.raters)
      memcpy(at, pattern.cell + i * pattern.raters, pattern.raters * sizeof *at);
  }
  g_free((gpointer)pattern.cell);
  return (BtRatings){persons, pattern.raters, cell};
}

static void items_of_a_thousand_candidates(void **state) {
  (void)state;
  json_t *example = published_example(examples, "lsat6");
  BtRatings table = lsat(example);
  g_autofree BtItems *items = bt_items(&table);
  assert_int_equal(items->persons, 1000);
  assert_int_equal(items->complete, 1000);
  published_check_estimate(example, "alpha", &items->alpha);
  assert_true(items->kr20.value == items->alpha.value);
  for (int i = 0; i < 5; i++) {
    char share[8], without[8];
    g_snprintf(share, sizeof share, "p%d", i + 1);
    g_snprintf(without, sizeof without, "rdrop%d", i + 1);
    published_check_estimate(example, share, &items->item[i].difficulty);
    published_check_estimate(example, without, &items->item[i].discrimination);
  }
  g_free((gpointer)table.cell);
}

static void items_of_ten_persons(void **state) {
  (void)state;
  json_t *example = published_example(examples, "brennan_ds1");
  BtRatings table = ratings_of(example, "scores_persons_by_items");
  g_autofree BtItems *items = bt_items(&table);
  published_check_estimate(example, "kr20", &items->kr20);
  published_check_estimate(example, "kr21", &items->kr21);
  for (int i = 0; i < 12; i++) {
    char name[16];
    g_snprintf(name, sizeof name, "difficulty%d", i + 1);
    published_check_estimate(example, name, &items->item[i].difficulty);
  }
  g_free((gpointer)table.cell);
}

static void lengths_of_spearman_and_brown(void **state) {
  (void)state;
  json_t *example = published_example(examples, "spearman_brown");
  json_t *cases = published_input(example, "cases");
  for (gsize i = 0; i < 3; i++) {
    json_t *one = json_array_get(cases, i);
    BtEstimate longer = bt_spearman_brown(json_number_value(json_array_get(one, 0)),
                                          json_number_value(json_array_get(one, 1)));
    const char name[] = {(char)('a' + i), '\0'};
    published_check_estimate(example, name, &longer);
  }
  BtEstimate factor = bt_spearman_brown_factor(0.5, 0.8);
  published_check_estimate(example, "length_for_.80_from_.50", &factor);
}

// Generalizability ------------------------------------------------------------

static void persons_by_items(void **state) {
  (void)state;
  json_t *example = published_example(examples, "brennan_ds1");
  g_auto(ScoreList) list = score_list_new();
  put_table(&list, example, "scores_persons_by_items", 0);
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  assert_true(study->complete);
  check_effects(example, study, (const char *const[]){"p=p", "i=i", "pi=p x i", NULL});
  static const int lengths[] = {5, 10, 12, 15, 20};
  for (gsize j = 0; j < G_N_ELEMENTS(lengths); j++) {
    char at[8];
    g_snprintf(at, sizeof at, "%d", lengths[j]);
    BtDStudy reached = plan(study, lengths[j], 1, 0);
    check_plan(example, &reached, at);
  }
  BtDStudy reached = bt_dstudy_as_scored(study, 0, 0);
  published_check_estimate(example, "SEMrel_12", &reached.sem_relative);
  published_check_estimate(example, "SEMabs_12", &reached.sem_absolute);
  BtEstimate at_80 = bt_dstudy_at_cut(study, &reached, 0.80);
  BtEstimate at_50 = bt_dstudy_at_cut(study, &reached, 0.50);
  published_check_estimate(example, "Phi_lambda_.80", &at_80);
  published_check_estimate(example, "Phi_lambda_.50", &at_50);
}

static void items_nested_in_persons(void **state) {
  (void)state;
  json_t *example = published_example(examples, "brennan_ds2");
  g_auto(ScoreList) list = score_list_new();
  put_table(&list, example, "scores", 0);
  // The table gives persons first; the design names items first.
  g_autoptr(BtDesign) nested = bt_design_parse("i:p", NULL);
  BtScores scores = scores_of(&list);
  const gsize *swapped[] = {scores.levels[1], scores.levels[0]};
  scores.levels = swapped;
  g_autoptr(BtGStudy) of_nested = bt_gstudy(nested, &scores, BT_BY_ANOVA);
  check_effects(example, of_nested, (const char *const[]){"p=p", "ip=i:p", NULL});
  BtPlan eight = bt_plan_of_study(of_nested);
  assert_float_equal(eight.conditions[0], 8, 1e-12);
  BtDStudy reached = bt_dstudy(of_nested, &eight);
  published_check_estimate(example, "Erho2", &reached.ranking);
  assert_float_equal(reached.decision.value, reached.ranking.value, 1e-12);
}

static void persons_by_items_by_occasions(void **state) {
  (void)state;
  json_t *example = published_example(examples, "brennan_ds3");
  g_auto(ScoreList) list = score_list_new();
  put_table(&list, example, "occasion1_persons_by_items", 0);
  put_table(&list, example, "occasion2_persons_by_items", 1);
  g_autoptr(BtGStudy) study = study_of("p x i x o", &list);
  check_effects(example, study,
                (const char *const[]){"p=p", "i=i", "o=o", "pi=p x i", "po=p x o", "io=i x o",
                                      "pio=p x i x o", NULL});
  BtDStudy four_two = plan(study, 4, 2, 0), eight_one = plan(study, 8, 1, 0);
  BtDStudy four_one = plan(study, 4, 1, 0), items_fixed = plan(study, 4, 2, 1U << 1);
  check_plan(example, &four_two, "4i_2o");
  check_plan(example, &eight_one, "8i_1o");
  check_plan(example, &four_one, "4i_1o");
  check_plan(example, &items_fixed, "i_fixed");
  published_check(example, "rel", four_two.relative);
  published_check(example, "abs", four_two.absolute);
}

static void raters_of_their_own_in_each_task(void **state) {
  (void)state;
  json_t *example = published_example(examples, "brennan_ds4");
  g_auto(ScoreList) list = score_list_new();
  put_table(&list, example, "task1_persons_by_raters", 0);
  put_table(&list, example, "task2", 1);
  put_table(&list, example, "task3", 2);
  g_autoptr(BtGStudy) study = study_of("p x (r:t)", &list);
  check_effects(example, study,
                (const char *const[]){"p=p", "t=t", "rt=r:t", "pt=p x t", "prt=p x (r:t)", NULL});
  BtDStudy observed = plan(study, 4, 3, 0), one_six = plan(study, 1, 6, 0);
  check_plan(example, &observed, "4r3t");
  check_plan(example, &one_six, "1r6t");
  published_check(example, "rel_4r3t", observed.relative);
  published_check(example, "abs_4r3t", observed.absolute);
  published_check(example, "rel_1r6t", one_six.relative);
  published_check(example, "abs_1r6t", one_six.absolute);
}

static void symptoms_by_two_raters(void **state) {
  (void)state;
  json_t *example = published_example(examples, "gleser1965");
  g_auto(ScoreList) list = score_list_new();
  put_table(&list, example, "rater1_patients_by_items", 0);
  put_table(&list, example, "rater2", 1);
  g_autoptr(BtGStudy) study = study_of("p x i x o", &list);
  published_check(example, "total_mean", study->mean);
  check_effects(example, study,
                (const char *const[]){"p=p", "i=i", "o=o", "pi=p x i", "po=p x o", "io=i x o",
                                      "pio=p x i x o", NULL});
  // The raters' own component came out below zero, and is told so.
  assert_true(study->any_negative);
  assert_true(effect_of(study, "o")->component.value < 0);
  assert_true(effect_of(study, "o")->used == 0);
}

static void holes_in_a_crossed_table(void **state) {
  (void)state;
  json_t *example = published_example(examples, "brennan_missing");
  g_auto(ScoreList) list = score_list_new();
  put_table(&list, example, "scores_null_missing", 0);
  g_autoptr(BtGStudy) study = study_of("p x i", &list);
  assert_false(study->complete);
  check_effects(example, study, (const char *const[]){"p=p", "i=i", "pi=p x i", NULL});
  published_check(example, "Tmu", study->uncorrected_mean);
}

static void categories_with_unequal_numbers_of_items(void **state) {
  (void)state;
  json_t *example = published_example(examples, "brennan_unbalanced");
  g_auto(ScoreList) list = score_list_new();
  put_table(&list, example, "h1", 0);
  put_table(&list, example, "h2", 1);
  put_table(&list, example, "h3", 2);
  g_autoptr(BtGStudy) study = study_of("p x (i:h)", &list);
  assert_false(study->complete);
  check_effects(example, study,
                (const char *const[]){"p=p", "h=h", "ih=i:h", "ph=p x h", "pih=p x (i:h)", NULL});
  published_check(example, "Tmu", study->uncorrected_mean);
}

// Pass decisions --------------------------------------------------------------

static void agreement_and_kappa_by_the_normal_table(void **state) {
  (void)state;
  json_t *example = published_example(examples, "subkoviak1988");
  for (int z = 0; z <= 1; z++) {
    for (int r = 1; r <= 9; r++) {
      g_autofree char *agreement = g_strdup_printf("po_z%d_r0.%d", z, r);
      g_autofree char *kappa = g_strdup_printf("kappa_z%d_r0.%d", z, r);
      BtDecision decision = bt_decision_normal(z, r / 10.0, 30);
      published_check_estimate(example, agreement, &decision.consistency);
      published_check_estimate(example, kappa, &decision.kappa);
    }
  }
}

static void length_of_livingston_and_lewis(void **state) {
  (void)state;
  json_t *example = published_example(examples, "livingston_lewis_etl");
  BtEstimate length =
      bt_effective_length(json_number_value(published_input(example, "mean")),
                          json_number_value(published_input(example, "var")),
                          json_number_value(published_input(example, "min")),
                          json_number_value(published_input(example, "max")),
                          json_number_value(published_input(example, "reliability")));
  published_check_estimate(example, "etl", &length);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(alpha_of_summary_figures),
      cmocka_unit_test(items_of_a_thousand_candidates),
      cmocka_unit_test(items_of_ten_persons),
      cmocka_unit_test(lengths_of_spearman_and_brown),
      cmocka_unit_test(persons_by_items),
      cmocka_unit_test(items_nested_in_persons),
      cmocka_unit_test(persons_by_items_by_occasions),
      cmocka_unit_test(raters_of_their_own_in_each_task),
      cmocka_unit_test(symptoms_by_two_raters),
      cmocka_unit_test(holes_in_a_crossed_table),
      cmocka_unit_test(categories_with_unequal_numbers_of_items),
      cmocka_unit_test(agreement_and_kappa_by_the_normal_table),
      cmocka_unit_test(length_of_livingston_and_lewis),
  };
  return cmocka_run_group_tests(tests, read_examples, free_examples);
}
