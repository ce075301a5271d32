// SPDX-License-Identifier: GPL-3.0-or-later
//
// Agreement, rank correlation and proportions: every worked example of the published families, to
// the digits printed and to the values recomputed.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include <benchtally/agreement.h>
#include <benchtally/association.h>
#include <benchtally/proportion.h>

#include "support/published.h"

#define CATEGORIES_MOST 8

static json_t *agreement, *rank, *proportions;

static int read_families(void **state) {
  (void)state;
  agreement = published_family("agreement");
  rank = published_family("rank");
  proportions = published_family("proportions");
  return 0;
}

static int drop_families(void **state) {
  (void)state;
  json_decref(agreement);
  json_decref(rank);
  json_decref(proportions);
  return 0;
}

// A cross table of the example as counts; caller frees.
static double *counts(json_t *example, const char *input, gsize *categories) {
  return published_matrix(published_input(example, input), categories, NULL);
}

// Kappa of the example's table with weights by the places of its categories.
static BtKappa kappa_of(json_t *example, const char *input, BtWeights kind) {
  gsize k = 0;
  g_autofree double *count = counts(example, input, &k);
  double value[CATEGORIES_MOST], weight[CATEGORIES_MOST * CATEGORIES_MOST];
  for (gsize i = 0; i < k; i++)
    value[i] = (double)i;
  bt_weights(kind, value, k, weight);
  return bt_kappa(count, k, weight);
}

// The subjects behind a cross table of counts, two raters each; caller frees `cell`.
static BtRatings subjects_of(const double *count, gsize k) {
  gsize n = 0, at = 0;
  for (gsize i = 0; i < k * k; i++)
    n += (gsize)count[i];
  double *cell = g_new(double, 2 * n);
  for (gsize i = 0; i < k * k; i++) {
    for (gsize times = 0; times < (gsize)count[i]; times++) {
      cell[at++] = (double)(i / k);
      cell[at++] = (double)(i % k);
    }
  }
  return (BtRatings){n, 2, cell};
}

// The example's ratings given raters by units, as subjects by raters; caller frees `cell`.
static BtRatings turned(json_t *matrix) {
  gsize raters = 0, subjects = 0;
  g_autofree double *given = published_matrix(matrix, &raters, &subjects);
  double *cell = g_new(double, raters *subjects);
  for (gsize r = 0; r < raters; r++) {
    for (gsize i = 0; i < subjects; i++)
      cell[i * raters + r] = given[r * subjects + i];
  }
  return (BtRatings){subjects, raters, cell};
}

static BtRatings straight(json_t *matrix) {
  BtRatings ratings = {0};
  ratings.cell = published_matrix(matrix, &ratings.subjects, &ratings.raters);
  return ratings;
}

static void release(BtRatings *ratings) {
  g_free((gpointer)ratings->cell);
}

// Cohen's kappa ---------------------------------------------------------------

// The error of the paper of 1960, from what is given for the one of 1969.
static double error_of_1960(const BtKappa *kappa, double n) {
  double left = 1 - kappa->by_chance;
  return sqrt(kappa->observed * (1 - kappa->observed) / (n * left * left));
}

static void cohen_1960_table_2(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "cohen1960_t2");
  BtKappa kappa = kappa_of(example, "table_rows_judgeA_cols_judgeB", BT_WEIGHTS_NONE);
  published_check(example, "po", kappa.observed);
  published_check(example, "pe", kappa.by_chance);
  published_check_estimate(example, "kappa", &kappa.estimate);
  published_check(example, "ase", kappa.estimate.se);
  published_check(example, "ase0", kappa.null_se);
  published_check(example, "kappa_max", kappa.greatest);
  assert_int_equal(kappa.estimate.n, 200);
  double se = error_of_1960(&kappa, 200);
  published_check(example, "se_cohen1960", se);
  published_check(example, "ci_lo_1960", kappa.estimate.value - 1.96 * se);
  published_check(example, "ci_hi_1960", kappa.estimate.value + 1.96 * se);
}

// Agreement below chance. The paper gives shares; the errors recomputed are those of 200 subjects.
static void cohen_1960_table_1(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "cohen1960_t1");
  gsize k = 0;
  g_autofree double *count = counts(example, "proportions", &k);
  for (gsize i = 0; i < k * k; i++)
    count[i] *= 200;
  BtKappa kappa = bt_kappa(count, k, NULL);
  published_check(example, "po", kappa.observed);
  published_check(example, "pe", kappa.by_chance);
  published_check_estimate(example, "kappa", &kappa.estimate);
  published_check(example, "ase", kappa.estimate.se);
  published_check(example, "ase0", kappa.null_se);
  published_check(example, "se_cohen1960", error_of_1960(&kappa, 200));
  published_check(example, "kappa_max", kappa.greatest);
}

static void check_disagreement(json_t *example, const char *weights, const char *name) {
  gsize k = 0;
  g_autofree double *count = counts(example, "table", &k);
  g_autofree double *disagreement = counts(example, weights, &k);
  double weight[CATEGORIES_MOST * CATEGORIES_MOST];
  bt_weights_of_disagreement(disagreement, k, weight);
  BtKappa kappa = bt_kappa(count, k, weight);
  published_check_estimate(example, name, &kappa.estimate);
}

static void cohen_1968_weights_of_disagreement(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "cohen1968");
  check_disagreement(example, "disagreement_weights_sym", "kw_sym");
  check_disagreement(example, "disagreement_weights_asym", "kw_asym");
}

static void fleiss_cohen_everitt_1969_errors(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "fce1969");
  gsize k = 0;
  g_autofree double *count = counts(example, "table", &k);
  g_autofree double *weight = counts(example, "agreement_weights", &k);
  BtKappa plain = bt_kappa(count, k, NULL), weighted = bt_kappa(count, k, weight);
  published_check_estimate(example, "kappa", &plain.estimate);
  published_check(example, "ase", plain.estimate.se);
  published_check(example, "ase0", plain.null_se);
  published_check(example, "po", plain.observed);
  published_check(example, "pe", plain.by_chance);
  published_check_estimate(example, "kappa_w", &weighted.estimate);
  published_check(example, "ase_w", weighted.estimate.se);
  published_check(example, "ase0_w", weighted.null_se);
  published_check(example, "po_w", weighted.observed);
  published_check(example, "pe_w", weighted.by_chance);
}

// Quadratic weights make kappa an intraclass correlation.
static void fleiss_cohen_1973_equivalence(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "fleiss_cohen1973");
  BtKappa kappa = kappa_of(example, "table", BT_WEIGHTS_QUADRATIC);
  published_check_estimate(example, "kappa_quadratic", &kappa.estimate);
  gsize k = 0;
  g_autofree double *count = counts(example, "table", &k);
  BtRatings ratings = subjects_of(count, k);
  BtIcc icc = bt_icc(&ratings);
  published_check_estimate(example, "icc_A1", &icc.form[BT_ICC_2]);
  published_check_estimate(example, "icc_C1", &icc.form[BT_ICC_3]);
  release(&ratings);
}

static void landis_koch_1977_two_groups(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "landis_koch_ms");
  static const char *const group[] = {"Winnipeg", "New.Orleans"};
  for (int i = 0; i < 2; i++) {
    g_autofree char *table = g_strdup_printf("table%d", i + 1);
    g_autofree char *plain = g_strdup_printf("kappa_%s", group[i]);
    g_autofree char *error = g_strdup_printf("ase_%s", group[i]);
    g_autofree char *linear = g_strdup_printf("kappa_linear_%s", group[i]);
    g_autofree char *quadratic = g_strdup_printf("kappa_quadratic_%s", group[i]);
    BtKappa kappa = kappa_of(example, table, BT_WEIGHTS_NONE);
    published_check_estimate(example, plain, &kappa.estimate);
    published_check(example, error, kappa.estimate.se);
    kappa = kappa_of(example, table, BT_WEIGHTS_LINEAR);
    published_check_estimate(example, linear, &kappa.estimate);
    kappa = kappa_of(example, table, BT_WEIGHTS_QUADRATIC);
    published_check_estimate(example, quadratic, &kappa.estimate);
  }
}

static void agresti_2002_carcinoma(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "agresti_carcinoma");
  BtKappa plain = kappa_of(example, "table", BT_WEIGHTS_NONE);
  BtKappa linear = kappa_of(example, "table", BT_WEIGHTS_LINEAR);
  BtKappa quadratic = kappa_of(example, "table", BT_WEIGHTS_QUADRATIC);
  published_check_estimate(example, "kappa", &plain.estimate);
  published_check(example, "ase", plain.estimate.se);
  published_check_estimate(example, "kappa_linear", &linear.estimate);
  published_check_estimate(example, "kappa_quadratic", &quadratic.estimate);
  published_check(example, "ase_quadratic", quadratic.estimate.se);
}

// The same agreement, another kappa; PABAK and AC1 beside it.
static void feinstein_cicchetti_1990_paradoxes(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "feinstein_cicchetti");
  json_t *tables = published_input(example, "tables_a_b_c_d");
  for (gsize i = 0; i < json_array_size(tables); i++) {
    g_autofree double *count = published_matrix(json_array_get(tables, i), NULL, NULL);
    g_autofree char *kappa_name = g_strdup_printf("kappa%u", (unsigned)i + 1);
    g_autofree char *pabak_name = g_strdup_printf("pabak%u", (unsigned)i + 1);
    g_autofree char *ac1_name = g_strdup_printf("ac1_%u", (unsigned)i + 1);
    BtKappa kappa = bt_kappa(count, 2, NULL);
    published_check_estimate(example, kappa_name, &kappa.estimate);
    published_check(example, pabak_name, bt_two_by_two(count).pabak);
    BtRatings ratings = subjects_of(count, 2);
    BtManyRaters many = bt_many_raters(&ratings, 2, NULL);
    published_check_estimate(example, ac1_name, &many.ac1);
    published_check_estimate(example, pabak_name, &many.brennan_prediger);
    release(&ratings);
  }
}

static void gwet_2008_extreme_prevalence(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "gwet_2x2");
  gsize k = 0;
  g_autofree double *count = counts(example, "table", &k);
  BtKappa kappa = bt_kappa(count, k, NULL);
  published_check_estimate(example, "kappa", &kappa.estimate);
  BtRatings ratings = subjects_of(count, k);
  BtManyRaters many = bt_many_raters(&ratings, 0, NULL);
  published_check_estimate(example, "ac1", &many.ac1);
  published_check_estimate(example, "pabak", &many.brennan_prediger);
  release(&ratings);
}

static void gwet_2014_tables(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "gwet_tables");
  static const char *const table[] = {"abstractors", "diagnosis"}, *const prefix[] = {"ab", "dx"};
  for (int i = 0; i < 2; i++) {
    gsize k = 0;
    g_autofree double *count = counts(example, table[i], &k);
    BtRatings ratings = subjects_of(count, k);
    BtManyRaters many = bt_many_raters(&ratings, 0, NULL);
    BtEstimate kappa = bt_kappa(count, k, NULL).estimate;
    const struct {
      const char *name;
      const BtEstimate *estimate;
    } wanted[] = {{"kappa", &kappa},
                  {"pi", &many.fleiss},
                  {"ac1", &many.ac1},
                  {"bp", &many.brennan_prediger}};
    for (gsize w = 0; w < G_N_ELEMENTS(wanted); w++) {
      g_autofree char *name = g_strdup_printf("%s_%s", prefix[i], wanted[w].name);
      published_check_estimate(example, name, wanted[w].estimate);
    }
    release(&ratings);
  }
}

// Many raters -----------------------------------------------------------------

static void fleiss_1971_psychiatrists(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "fleiss1971");
  BtRatings ratings = straight(published_input(example, "raw_ratings_codes"));
  BtManyRaters many = bt_many_raters(&ratings, 0, NULL);
  published_check_estimate(example, "P", &many.agreed);
  published_check_estimate(example, "kappa", &many.fleiss);
  published_check_estimate(example, "ac1", &many.ac1);
  published_check(example, "Pe",
                  1 - (1 - many.agreed.value) / (1 - many.fleiss.value)); // kappa's own chance
  for (int c = 1; c <= 5; c++) {
    g_autofree char *kappa_name = g_strdup_printf("k%d", c),
                    *share_name = g_strdup_printf("p%d", c);
    BtEstimate kappa = bt_fleiss_category(&ratings, c);
    published_check_estimate(example, kappa_name, &kappa);
    published_check(example, share_name, bt_agreement(&ratings, 0, c, NULL).prevalence);
  }
  BtFleissTest test = bt_fleiss_test(&ratings);
  assert_null(test.why_not);
  published_check(example, "z", test.z);
  published_check(example, "se0", test.null_se);
  published_check(example, "se_cat", test.null_se_category);
  BtEstimate alpha = bt_alpha(&ratings, BT_NOMINAL, 0, 1);
  published_check_estimate(example, "alpha_nominal", &alpha);
  release(&ratings);
}

// Letters as their places in the alphabet.
static BtRatings lettered(json_t *matrix) {
  gsize raters = json_array_size(matrix), subjects = json_array_size(json_array_get(matrix, 0));
  double *cell = g_new(double, raters *subjects);
  for (gsize r = 0; r < raters; r++) {
    for (gsize i = 0; i < subjects; i++) {
      const char *letter = json_string_value(json_array_get(json_array_get(matrix, r), i));
      cell[i * raters + r] = letter[0] - 'a';
    }
  }
  return (BtRatings){subjects, raters, cell};
}

static void check_alpha(json_t *example, BtRatings *ratings, BtScale scale, const char *name) {
  BtEstimate alpha = bt_alpha(ratings, scale, 0, 1);
  published_check_estimate(example, name, &alpha);
}

static void krippendorff_2011_all_scales(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "krippendorff2011");
  BtRatings a = turned(published_input(example, "A_binary_2x10"));
  BtRatings b = lettered(published_input(example, "B_nominal_2x12_letters"));
  BtRatings c = turned(published_input(example, "C_4x12_null_is_missing"));
  check_alpha(example, &a, BT_NOMINAL, "A");
  check_alpha(example, &b, BT_NOMINAL, "B");
  check_alpha(example, &c, BT_NOMINAL, "C_nominal");
  check_alpha(example, &c, BT_ORDINAL, "C_ordinal");
  check_alpha(example, &c, BT_INTERVAL, "C_interval");
  check_alpha(example, &c, BT_RATIO, "C_ratio");
  published_check(example, "C_n_pairable", (double)bt_alpha(&c, BT_NOMINAL, 0, 1).n);
  release(&a);
  release(&b);
  release(&c);
}

static void gwet_2014_holes_in_the_table(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "gwet_raw4");
  BtRatings ratings = turned(published_input(example, "ratings_4x12"));
  BtManyRaters many = bt_many_raters(&ratings, 0, NULL);
  published_check_estimate(example, "pa", &many.agreed);
  published_check_estimate(example, "ac1", &many.ac1);
  published_check_estimate(example, "fleiss", &many.fleiss);
  published_check_estimate(example, "bp", &many.brennan_prediger);
  check_alpha(example, &ratings, BT_NOMINAL, "alpha");
  release(&ratings);
}

static void siegel_1956_concordance(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "siegel_W");
  BtRatings ratings = turned(published_input(example, "ranks"));
  BtConcordance concordance = bt_kendall_w(&ratings);
  published_check_estimate(example, "W", &concordance.w);
  published_check(example, "S", concordance.sum_squares);
  published_check(example, "chisq", concordance.chi_square);
  published_check(example, "rbar", concordance.mean_rho);
  release(&ratings);
}

// Measured ratings ------------------------------------------------------------

static void check_limits(json_t *example, const char *name, const BtEstimate *estimate) {
  g_autofree char *low = g_strconcat(name, "_lo", NULL), *high = g_strconcat(name, "_hi", NULL);
  published_check_estimate(example, name, estimate);
  if (!isnan(published_value(example, "recomputed", low))) {
    assert_true(estimate->has_limits);
    published_check(example, low, estimate->low);
    published_check(example, high, estimate->high);
  }
}

static const char *const icc_key[] = {
    [BT_ICC_1] = "ICC1",   [BT_ICC_2] = "ICC2",   [BT_ICC_3] = "ICC3",
    [BT_ICC_1K] = "ICC1k", [BT_ICC_2K] = "ICC2k", [BT_ICC_3K] = "ICC3k"};

static void shrout_fleiss_1979_six_forms(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "shrout_fleiss1979");
  BtRatings ratings = straight(published_input(example, "ratings_targets_by_judges"));
  BtIcc icc = bt_icc(&ratings);
  published_check(example, "BMS", icc.between);
  published_check(example, "WMS", icc.within);
  published_check(example, "JMS", icc.raters_ms);
  published_check(example, "EMS", icc.error);
  published_check(example, "F1", icc.between / icc.within);
  published_check(example, "F3", icc.between / icc.error);
  published_check(example, "var_p", icc.subject_variance);
  published_check(example, "var_r", icc.rater_variance);
  for (int f = 0; f < BT_ICC_FORMS; f++)
    check_limits(example, icc_key[f], &icc.form[f]);
  release(&ratings);
}

static void mcgraw_wong_1996_on_an_open_table(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "irr_anxiety");
  BtRatings ratings = straight(published_input(example, "ratings"));
  BtIcc icc = bt_icc(&ratings);
  for (int f = 0; f < BT_ICC_FORMS; f++)
    check_limits(example, icc_key[f], &icc.form[f]);
  release(&ratings);
}

static void check_repeatability(json_t *example, const char *meter) {
  g_autofree char *first = g_strconcat(meter, "_first", NULL);
  g_autofree char *second = g_strconcat(meter, "_second", NULL);
  g_autofree char *coefficient = g_strconcat("cr_", meter, NULL);
  g_autofree char *within = g_strconcat("sw_", meter, NULL);
  gsize n = 0;
  g_autofree double *a = published_matrix(published_input(example, first), NULL, &n);
  g_autofree double *b = published_matrix(published_input(example, second), NULL, &n);
  g_autofree double *cell = g_new(double, 2 * n);
  for (gsize i = 0; i < n; i++) {
    cell[2 * i] = a[i];
    cell[2 * i + 1] = b[i];
  }
  BtRatings ratings = {n, 2, cell};
  double sd = 0;
  BtEstimate estimate = bt_repeatability(&ratings, 2, &sd);
  published_check_estimate(example, coefficient, &estimate);
  published_check(example, within, sd);
}

// The paper of 1986 takes two standard deviations where later ones take 1.96.
static void bland_altman_1986_peak_flow(void **state) {
  (void)state;
  json_t *example = published_example(agreement, "bland_altman1986");
  gsize n = 0;
  g_autofree double *wright = published_matrix(published_input(example, "wright_first"), NULL, &n);
  g_autofree double *mini = published_matrix(published_input(example, "mini_first"), NULL, &n);
  BtBlandAltman two = bt_bland_altman(wright, mini, n, 2);
  published_check_estimate(example, "bias", &two.bias);
  published_check(example, "sd", two.sd);
  published_check(example, "se_bias", two.bias.se);
  published_check(example, "bias_ci_lo", two.bias.low);
  published_check(example, "bias_ci_hi", two.bias.high);
  published_check_estimate(example, "loa_lo_2sd", &two.lower);
  published_check_estimate(example, "loa_hi_2sd", &two.upper);
  published_check(example, "se_loa", two.upper.se);
  published_check(example, "loa_lo_ci_lo", two.lower.low);
  published_check(example, "loa_lo_ci_hi", two.lower.high);
  published_check(example, "loa_hi_ci_lo", two.upper.low);
  published_check(example, "loa_hi_ci_hi", two.upper.high);
  BtBlandAltman later = bt_bland_altman(wright, mini, n, BT_LIMITS_MULTIPLIER);
  published_check_estimate(example, "loa_lo_196", &later.lower);
  published_check_estimate(example, "loa_hi_196", &later.upper);
  check_repeatability(example, "wright");
  check_repeatability(example, "mini");
}

// Ranks -----------------------------------------------------------------------

typedef struct {
  double *x, *y;
  gsize n;
} Columns;

static Columns columns_of(json_t *example, const char *x, const char *y) {
  Columns columns = {0};
  columns.x = published_matrix(published_input(example, x), NULL, &columns.n);
  columns.y = published_matrix(published_input(example, y), NULL, &columns.n);
  return columns;
}

static void free_columns(Columns *columns) {
  g_free(columns->x);
  g_free(columns->y);
}

static void kendall_1970_ten_students(void **state) {
  (void)state;
  json_t *example = published_example(rank, "kendall1970_ch1");
  Columns c = columns_of(example, "maths", "music");
  BtPairs pairs = bt_pairs(c.x, c.y, c.n);
  published_check(example, "C", (double)pairs.concordant);
  published_check(example, "D", (double)pairs.discordant);
  BtAssociation tau = bt_kendall_tau(c.x, c.y, c.n), rho = bt_spearman_rho(c.x, c.y, c.n);
  published_check_estimate(example, "tau", &tau.estimate);
  published_check_estimate(example, "rho", &rho.estimate);
  free_columns(&c);
}

static void hollander_wolfe_1973_tuna(void **state) {
  (void)state;
  json_t *example = published_example(rank, "hollander_wolfe_tuna");
  Columns c = columns_of(example, "x", "y");
  BtAssociation tau = bt_kendall_tau(c.x, c.y, c.n), rho = bt_spearman_rho(c.x, c.y, c.n);
  published_check(example, "T", (double)bt_pairs(c.x, c.y, c.n).concordant);
  published_check_estimate(example, "tau", &tau.estimate);
  assert_true(tau.exact);
  published_check(example, "p_two_sided", tau.by_chance);
  published_check(example, "p_one_sided", tau.by_chance / 2);
  published_check_estimate(example, "spearman", &rho.estimate);
  assert_true(rho.exact);
  published_check(example, "spearman_p_exact", rho.by_chance);
  free_columns(&c);
}

static void siegel_1956_with_and_without_ties(void **state) {
  (void)state;
  json_t *example = published_example(rank, "siegel_tau_rho");
  Columns plain = columns_of(example, "authoritarianism", "status");
  Columns tied = columns_of(example, "yielding", "status");
  BtAssociation tau = bt_kendall_tau(plain.x, plain.y, plain.n);
  BtAssociation rho = bt_spearman_rho(plain.x, plain.y, plain.n);
  BtPairs pairs = bt_pairs(plain.x, plain.y, plain.n);
  published_check_estimate(example, "tau", &tau.estimate);
  published_check_estimate(example, "rho", &rho.estimate);
  published_check(example, "C", (double)pairs.concordant);
  published_check(example, "D", (double)pairs.discordant);
  tau = bt_kendall_tau(tied.x, tied.y, tied.n);
  rho = bt_spearman_rho(tied.x, tied.y, tied.n);
  pairs = bt_pairs(tied.x, tied.y, tied.n);
  published_check_estimate(example, "tau_b_tied", &tau.estimate);
  published_check_estimate(example, "rho_tied", &rho.estimate);
  published_check(example, "tau_a_tied", (double)(pairs.concordant - pairs.discordant) / 66);
  assert_false(tau.exact);
  free_columns(&plain);
  free_columns(&tied);
}

static void agresti_2002_income_and_satisfaction(void **state) {
  (void)state;
  json_t *example = published_example(rank, "agresti_jobsat");
  gsize k = 0;
  g_autofree double *count = counts(example, "table", &k);
  BtRatings ratings = subjects_of(count, k);
  g_autofree double *x = g_new(double, ratings.subjects), *y = g_new(double, ratings.subjects);
  for (gsize i = 0; i < ratings.subjects; i++) {
    x[i] = ratings.cell[2 * i];
    y[i] = ratings.cell[2 * i + 1];
  }
  BtPairs pairs = bt_pairs(x, y, ratings.subjects), other = bt_pairs(y, x, ratings.subjects);
  published_check(example, "C", (double)pairs.concordant);
  published_check(example, "D", (double)pairs.discordant);
  BtEstimate gamma = bt_gamma(&pairs), yx = bt_somers_d(&pairs), xy = bt_somers_d(&other);
  published_check_estimate(example, "gamma", &gamma);
  published_check_estimate(example, "d_yx", &yx);
  published_check_estimate(example, "d_xy", &xy);
  BtAssociation tau = bt_kendall_tau(x, y, ratings.subjects);
  published_check_estimate(example, "tau_b", &tau.estimate);
  release(&ratings);
}

static void spearman_textbook_pairs(void **state) {
  (void)state;
  json_t *example = published_example(rank, "spearman_iq_tv");
  Columns c = columns_of(example, "x", "y");
  BtAssociation rho = bt_spearman_rho(c.x, c.y, c.n);
  published_check_estimate(example, "rho", &rho.estimate);
  g_autofree double *a = g_new(double, c.n), *b = g_new(double, c.n);
  double squares = bt_ranks(c.x, c.n, a) + bt_ranks(c.y, c.n, b); // no ties: 0 so far
  for (gsize i = 0; i < c.n; i++)
    squares += (a[i] - b[i]) * (a[i] - b[i]);
  published_check(example, "sum_d2", squares);
  free_columns(&c);
}

// Proportions -----------------------------------------------------------------

// Of the intervals compared in the paper the two that are offered: methods 3 and 5.
static void newcombe_1998_wilson_and_exact(void **state) {
  (void)state;
  json_t *example = published_example(proportions, "newcombe1998");
  json_t *tables = published_input(example, "x_n");
  for (gsize i = 0; i < json_array_size(tables); i++) {
    json_t *table = json_array_get(tables, i);
    gsize x = (gsize)json_integer_value(json_array_get(table, 0));
    gsize n = (gsize)json_integer_value(json_array_get(table, 1));
    BtEstimate wilson = bt_proportion_wilson(x, n), exact = bt_proportion_exact(x, n);
    const struct {
      const char *name;
      double value;
    } wanted[] = {{"wilson%u_lo", wilson.low},
                  {"wilson%u_hi", wilson.high},
                  {"cp%u_lo", exact.low},
                  {"cp%u_hi", exact.high}};
    for (gsize w = 0; w < G_N_ELEMENTS(wanted); w++) {
      g_autoptr(GString) name = g_string_new(wanted[w].name);
      g_string_replace(name, "%u", (const char[]){(char)('1' + i), 0}, 1);
      published_check(example, name->str, wanted[w].value);
    }
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(cohen_1960_table_2),
      cmocka_unit_test(cohen_1960_table_1),
      cmocka_unit_test(cohen_1968_weights_of_disagreement),
      cmocka_unit_test(fleiss_cohen_everitt_1969_errors),
      cmocka_unit_test(fleiss_cohen_1973_equivalence),
      cmocka_unit_test(landis_koch_1977_two_groups),
      cmocka_unit_test(agresti_2002_carcinoma),
      cmocka_unit_test(feinstein_cicchetti_1990_paradoxes),
      cmocka_unit_test(gwet_2008_extreme_prevalence),
      cmocka_unit_test(gwet_2014_tables),
      cmocka_unit_test(fleiss_1971_psychiatrists),
      cmocka_unit_test(krippendorff_2011_all_scales),
      cmocka_unit_test(gwet_2014_holes_in_the_table),
      cmocka_unit_test(siegel_1956_concordance),
      cmocka_unit_test(shrout_fleiss_1979_six_forms),
      cmocka_unit_test(mcgraw_wong_1996_on_an_open_table),
      cmocka_unit_test(bland_altman_1986_peak_flow),
      cmocka_unit_test(kendall_1970_ten_students),
      cmocka_unit_test(hollander_wolfe_1973_tuna),
      cmocka_unit_test(siegel_1956_with_and_without_ties),
      cmocka_unit_test(agresti_2002_income_and_satisfaction),
      cmocka_unit_test(spearman_textbook_pairs),
      cmocka_unit_test(newcombe_1998_wilson_and_exact),
  };
  return cmocka_run_group_tests(tests, read_families, drop_families);
}
