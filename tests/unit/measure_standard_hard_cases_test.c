// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards where the data give no easy answer: the answer must be a reason, not a number. And what
// must hold whatever the data: the order of judges and of trainees does not matter.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/standard.h>

#include <string.h>

#define N G_N_ELEMENTS

static const BtResampling DRAWS = {200, 7};

static void assert_near(double value, double expected, double tolerance) {
  if (!(fabs(value - expected) <= tolerance))
    fail_msg("%.12g, expected %.12g", value, expected);
}

static void assert_why(const BtEstimate *estimate, const char *words) {
  if (!estimate->why_not || !strstr(estimate->why_not, words))
    fail_msg("the reason is \"%s\", expected \"%s\"", estimate->why_not, words);
  assert_false(estimate->has_se || estimate->has_limits);
  assert_true(estimate->value == 0);
}

// Judges ----------------------------------------------------------------------

static void one_judge_has_a_mark_and_no_error(void **state) {
  (void)state;
  const double cell[] = {60, 70, 80};
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){3, 1, cell}, NULL);
  assert_near(angoff.panel.mean.value, 70, 1e-12);
  assert_false(angoff.panel.mean.has_se);
  assert_why(&angoff.both, "fewer than two judges");
  assert_why(&angoff.judge_variance, "fewer than two judges");
  assert_non_null(angoff.agreement.why_not);
  assert_true(bt_is_missing(angoff.panel.from_rest[0]));
}

static void no_judges_no_mark(void **state) {
  (void)state;
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){0, 0, NULL}, NULL);
  assert_why(&angoff.panel.mean, "no judge");
  g_auto(BtPanel) ebel = bt_ebel(NULL, 0, 0);
  assert_why(&ebel.mean, "no judge");
  const double none[] = {BT_MISSING, BT_MISSING};
  g_auto(BtAngoff) unrated = bt_angoff(&(BtRatings){1, 2, none}, NULL);
  assert_why(&unrated.panel.mean, "no judge");
  BtPanelChange change = bt_panel_change(none, none, 2);
  assert_why(&change.change, "both rounds");
}

static void judges_who_all_agree_leave_the_mark_bare(void **state) {
  (void)state;
  const double cell[] = {60, 60, 60, 80, 80, 80};
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){2, 3, cell}, NULL);
  assert_near(angoff.panel.mean.value, 70, 1e-12);
  assert_false(angoff.panel.mean.has_se);
  assert_near(angoff.judge_variance.value, 0, 1e-9);
  assert_true(angoff.both.has_se); // the items differ: others might have been set
}

static void points_weigh_the_items(void **state) {
  (void)state;
  const double cell[] = {60, 50, 90, 80}, points[] = {3, 1};
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){2, 2, cell}, points);
  assert_near(angoff.panel.cut[0], (3 * 60 + 90) / 4.0, 1e-12);
  assert_near(angoff.panel.cut[1], (3 * 50 + 80) / 4.0, 1e-12);
  assert_near(angoff.panel.mean.value, 62.5, 1e-12);
}

// Item effects 40, 60, 80 and judge effects -5, 0, 5 without noise: whatever is left out comes
// back.
static void holes_are_filled_by_what_judge_and_item_tell(void **state) {
  (void)state;
  const double cell[] = {35, 40, BT_MISSING, BT_MISSING, 60, 65, 75, BT_MISSING, 85};
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){3, 3, cell}, NULL);
  assert_int_equal(angoff.holes, 3);
  assert_near(angoff.panel.cut[0], 55, 1e-9);
  assert_near(angoff.panel.cut[1], 60, 1e-9);
  assert_near(angoff.panel.cut[2], 65, 1e-9);
  // The judge who left out the hardest item is not taken for severe: without filling, 75.
  assert_near(angoff.panel.mean.value, 60, 1e-9);
}

static void judges_who_share_no_item_are_not_compared(void **state) {
  (void)state;
  const double cell[] = {35, BT_MISSING, BT_MISSING, 60, BT_MISSING, 80};
  g_auto(BtAngoff) angoff = bt_angoff(&(BtRatings){3, 2, cell}, NULL);
  assert_why(&angoff.panel.mean, "share no item");
  assert_why(&angoff.both, "share no item");
}

static void a_judge_far_from_the_rest_is_named(void **state) {
  (void)state;
  const double cut[] = {70, 71, 69, 70.5, 69.5, 40, BT_MISSING};
  g_auto(BtPanel) panel = bt_panel(cut, N(cut));
  assert_int_equal(panel.judges, 6);
  for (gsize j = 0; j < 6; j++)
    assert_int_equal(panel.far[j], j == 5);
  assert_near(panel.from_rest[5], -30, 1e-12);
  assert_false(panel.far[6]);
  const double even[] = {60, 65, 70, 75, 80};
  g_auto(BtPanel) spread = bt_panel(even, N(even));
  for (gsize j = 0; j < N(even); j++)
    assert_false(spread.far[j]);
  const double same[] = {70, 70, 70, 71};
  g_auto(BtPanel) odd_one = bt_panel(same, N(same));
  assert_true(odd_one.far[3] && !odd_one.far[0]);
  const double two[] = {10, 90};
  g_auto(BtPanel) pair = bt_panel(two, 2);
  assert_false(pair.far[0] || pair.far[1]);
}

static void judges_in_any_order_set_the_same_mark(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(11);
  double cell[30], turned[30];
  for (gsize i = 0; i < 6; i++) {
    for (gsize j = 0; j < 5; j++) {
      double rating = i == 2 && j == 1 ? BT_MISSING : g_rand_double_range(random, 20, 95);
      cell[i * 5 + j] = rating;
      turned[(5 - i) * 5 + (4 - j)] = rating;
    }
  }
  g_auto(BtAngoff) one = bt_angoff(&(BtRatings){6, 5, cell}, NULL);
  g_auto(BtAngoff) other = bt_angoff(&(BtRatings){6, 5, turned}, NULL);
  assert_near(one.panel.mean.value, other.panel.mean.value, 1e-10);
  assert_near(one.panel.mean.se, other.panel.mean.se, 1e-10);
  assert_near(one.both.se, other.both.se, 1e-10);
  assert_near(one.panel.cut[1], other.panel.cut[3], 1e-10);
  g_rand_free(random);
}

static void a_second_round_is_compared_judge_by_judge(void **state) {
  (void)state;
  const double first[] = {60, 80, 70, BT_MISSING}, second[] = {66, 74, 70, 90};
  BtPanelChange change = bt_panel_change(first, second, 4);
  assert_int_equal(change.judges, 3);
  assert_int_equal(change.moved, 2);
  assert_near(change.change.value, 0, 1e-12);
  assert_near(change.sd_before, 10, 1e-12);
  assert_near(change.sd_after, 4, 1e-12);
}

static void ebel_judges_each_with_their_grid(void **state) {
  (void)state;
  const BtEbelCell cells[] = {{0, 10, 80}, {0, 10, 60}, {1, 5, 90},
                              {1, 15, 50}, {1, 0, 10},  {2, 4, BT_MISSING}};
  g_auto(BtPanel) panel = bt_ebel(cells, N(cells), 3);
  assert_int_equal(panel.judges, 2);
  assert_near(panel.cut[0], 70, 1e-12);
  assert_near(panel.cut[1], 60, 1e-12);
  assert_true(bt_is_missing(panel.cut[2]));
  assert_near(panel.mean.se, 5, 1e-12); // sd sqrt(50), two judges
}

// Contrasting groups ----------------------------------------------------------

static BtContrasting contrast(const double *score, const bool *competent, gsize n) {
  return bt_contrasting(&(BtCohortScores){.n = n, .score = score}, competent, DRAWS);
}

static void groups_apart_have_firth_and_the_gap(void **state) {
  (void)state;
  const double score[] = {40, 45, 50, 55, 70, 75, 80, 85};
  const bool competent[] = {false, false, false, false, true, true, true, true};
  BtContrasting result = contrast(score, competent, 8);
  assert_true(result.separated);
  assert_near(result.gap_low, 55, 0);
  assert_near(result.gap_high, 70, 0);
  // Firth's curve is symmetric where the data are, so its even chance is halfway.
  assert_near(result.cut[BT_CUT_LOGISTIC].value, 62.5, 1e-6);
  assert_int_equal(result.fewest_wrong, 0);
  assert_near(result.fewest_wrong_at, 70, 0);
  assert_int_equal(result.wrong[BT_CUT_MIDPOINT].false_pass, 0);
  const double touching[] = {40, 50, 60, 60, 70, 80}; // meet in one score: no plain answer either
  BtContrasting met = contrast(touching, (const bool[]){false, false, false, true, true, true}, 6);
  assert_true(met.separated);
  assert_near(met.cut[BT_CUT_LOGISTIC].value, 60, 1e-6);
}

static void groups_alike_have_no_mark(void **state) {
  (void)state;
  const double score[] = {50, 60, 70, 50, 60, 70};
  const bool competent[] = {false, false, false, true, true, true};
  BtContrasting result = contrast(score, competent, 6);
  for (int c = 0; c < BT_CONTRASTING_CUTS; c++) {
    assert_why(&result.cut[c], "did not score higher");
    assert_why(&result.resampled[c], "did not score higher");
  }
  const bool turned[] = {true, true, false, false, false, false};
  const double falling[] = {10, 20, 80, 70, 75, 85};
  BtContrasting wrong_way = contrast(falling, turned, 6);
  assert_why(&wrong_way.cut[BT_CUT_LOGISTIC], "did not score higher");
}

static void an_empty_group_is_said(void **state) {
  (void)state;
  const double score[] = {50, 60};
  BtContrasting result = contrast(score, (const bool[]){false, false}, 2);
  assert_why(&result.cut[BT_CUT_MIDPOINT], "nobody was named competent");
  result = contrast(score, (const bool[]){true, true}, 2);
  assert_why(&result.cut[BT_CUT_MIDPOINT], "nobody was named not yet competent");
  result = contrast(NULL, NULL, 0);
  assert_why(&result.cut[BT_CUT_CROSSING], "nobody");
}

static void groups_without_spread(void **state) {
  (void)state;
  const double score[] = {50, 50, 50, 80, 80};
  BtContrasting result = contrast(score, (const bool[]){false, false, false, true, true}, 5);
  assert_near(result.cut[BT_CUT_MIDPOINT].value, 65, 1e-12);
  assert_false(result.cut[BT_CUT_MIDPOINT].has_se);
  assert_why(&result.cut[BT_CUT_CROSSING], "different scores");
  assert_non_null(result.wrong[BT_CUT_MIDPOINT].false_pass_share.why_not);
  const double one_each[] = {50, 80};
  result = contrast(one_each, (const bool[]){false, true}, 2);
  assert_near(result.cut[BT_CUT_MIDPOINT].value, 65, 1e-12);
  assert_true(bt_is_missing(result.competent.sd));
}

// The narrow group's curve lies above the wide one's at both means: their crossings lie outside.
static void curves_that_do_not_cross_between_the_means(void **state) {
  (void)state;
  const double score[] = {20, 35, 50, 65, 80, 49.5, 50.5, 51.5};
  const bool competent[] = {false, false, false, false, false, true, true, true};
  BtContrasting result = contrast(score, competent, 8);
  assert_why(&result.cut[BT_CUT_CROSSING], "no crossing between");
  assert_null(result.cut[BT_CUT_MIDPOINT].why_not);
  assert_false(bt_is_missing(result.other_crossing));
}

// At the crossing both curves are as high: the defining property, whatever the data.
static void at_the_crossing_both_curves_are_as_high(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(5);
  int crossed = 0;
  for (int round = 0; round < 200; round++) {
    double score[24];
    bool competent[24];
    for (gsize i = 0; i < 24; i++) {
      competent[i] = i % 3 == 0;
      score[i] = g_rand_double_range(random, 20, 60) + (competent[i] ? 25 : 0);
    }
    BtContrasting result =
        bt_contrasting(&(BtCohortScores){.n = 24, .score = score}, competent, (BtResampling){0});
    const BtEstimate *cut = &result.cut[BT_CUT_CROSSING];
    if (cut->why_not)
      continue;
    const BtGroupScores *low = &result.not_competent, *high = &result.competent;
    double a = (cut->value - low->mean) / low->sd, b = (cut->value - high->mean) / high->sd;
    assert_near(-a * a / 2 - log(low->sd), -b * b / 2 - log(high->sd), 1e-9);
    assert_in_range((uintmax_t)(cut->value >= low->mean && cut->value <= high->mean), 1, 1);
    crossed++;
  }
  assert_true(crossed > 150);
  g_rand_free(random);
}

static void trainees_in_any_order_set_the_same_mark(void **state) {
  (void)state;
  const double score[] = {40, 62, 55, 58, 70, 75, 61, 90};
  const bool competent[] = {false, false, false, true, true, true, false, true};
  double turned[8];
  bool its[8];
  for (gsize i = 0; i < 8; i++) {
    turned[7 - i] = score[i];
    its[7 - i] = competent[i];
  }
  BtContrasting one = contrast(score, competent, 8), other = contrast(turned, its, 8);
  for (int c = 0; c < BT_CONTRASTING_CUTS; c++) {
    assert_near(one.cut[c].value, other.cut[c].value, 1e-9);
    BtContrasting again = contrast(score, competent, 8);
    assert_true(one.resampled[c].low == again.resampled[c].low); // one seed, one answer
  }
}

// Borderline ------------------------------------------------------------------

static BtBorderline borderline_of(const double *rating, const double *score, gsize n, double at) {
  return bt_borderline(&(BtCohortScores){.n = n, .score = score}, rating, at, DRAWS);
}

static void nobody_rated_borderline(void **state) {
  (void)state;
  const double rating[] = {1, 1, 3, 3, 5}, score[] = {40, 42, 60, 61, 81};
  BtBorderline result = borderline_of(rating, score, 5, 2);
  assert_null(result.cut.why_not);
  assert_false(result.beyond);
  assert_why(&result.group_mean, "nobody was rated borderline");
  assert_why(&result.group_median, "nobody was rated borderline");
  result = borderline_of(rating, score, 5, 0.5);
  assert_true(result.beyond);
}

static void a_falling_line_sets_no_mark(void **state) {
  (void)state;
  const double rating[] = {1, 2, 3, 4}, score[] = {80, 70, 61, 50};
  BtBorderline result = borderline_of(rating, score, 4, 2);
  assert_why(&result.cut, "do not rise with");
  assert_why(&result.resampled, "do not rise with");
  assert_near(result.slope.value, -9.9, 1e-9);
  const double flat[] = {60, 60, 60, 60};
  result = borderline_of(rating, flat, 4, 2);
  assert_why(&result.cut, "do not rise with");
  assert_near(result.r_squared, 0, 0);
}

static void ratings_that_do_not_differ_draw_no_line(void **state) {
  (void)state;
  const double rating[] = {3, 3, 3, 3}, score[] = {50, 60, 65, 75};
  BtBorderline result = borderline_of(rating, score, 4, 3);
  assert_why(&result.cut, "all global ratings are the same");
  assert_near(result.group_mean.value, 62.5, 1e-12);
  assert_near(result.group_median.value, 62.5, 1e-12);
  assert_false(result.group_median.has_limits); // four scores hold no 95 % limits of a median
  result = borderline_of(rating, score, 2, 3);
  assert_why(&result.cut, "fewer than three");
  result = borderline_of(NULL, NULL, 0, 3);
  assert_why(&result.cut, "fewer than three");
  assert_why(&result.group_mean, "nobody");
}

static void a_line_without_scatter_stands_bare(void **state) {
  (void)state;
  const double rating[] = {1, 2, 3, 4}, score[] = {40, 50, 60, 70};
  BtBorderline result = borderline_of(rating, score, 4, 2);
  assert_near(result.cut.value, 50, 1e-9);
  assert_false(result.cut.has_se);
  assert_near(result.r_squared, 1, 1e-12);
}

// Limits of a median of 6 are the extremes: 2 / 2^6 lie outside (Conover 1999).
static void the_median_of_six_has_its_extremes_as_limits(void **state) {
  (void)state;
  const double rating[] = {2, 2, 2, 2, 2, 2, 4}, score[] = {50, 41, 44, 47, 53, 56, 80};
  BtBorderline result = borderline_of(rating, score, 7, 2);
  assert_near(result.group_median.value, 48.5, 1e-12);
  assert_near(result.group_median.low, 41, 0);
  assert_near(result.group_median.high, 56, 0);
  assert_int_equal(result.group_median.n, 6);
}

// Hofstee ---------------------------------------------------------------------

static BtHofstee hofstee_of(BtHofsteeJudge judge, const double *score, gsize n) {
  return bt_hofstee(&judge, 1, &(BtCohortScores){.n = n, .score = score}, DRAWS);
}

static void a_curve_that_passes_by_says_on_which_side(void **state) {
  (void)state;
  const double low[] = {30, 32, 35, 38, 40, 60}, high[] = {70, 75, 80, 85, 90};
  BtHofstee result = hofstee_of((BtHofsteeJudge){50, 65, 0.05, 0.3}, low, 6);
  assert_int_equal(result.meeting, BT_HOFSTEE_TOO_MANY);
  assert_near(result.instead, 50, 0);
  assert_why(&result.cut, "do not meet");
  result = hofstee_of((BtHofsteeJudge){50, 65, 0.05, 0.3}, high, 5);
  assert_int_equal(result.meeting, BT_HOFSTEE_TOO_FEW);
  assert_near(result.instead, 65, 0);
  assert_why(&result.cut, "do not meet");
}

static void one_score_for_all(void **state) {
  (void)state;
  const double same[] = {60, 60, 60, 60};
  BtHofstee result = hofstee_of((BtHofsteeJudge){50, 70, 0.1, 0.3}, same, 4);
  assert_int_equal(result.meeting, BT_HOFSTEE_MEETS);
  assert_near(result.cut.value, 60, 0); // the curve leaps across the line there, and 60 passes
  BtHofstee above = hofstee_of((BtHofsteeJudge){65, 70, 0.1, 0.3}, same, 4);
  assert_int_equal(above.meeting, BT_HOFSTEE_TOO_MANY);
  const double one[] = {60};
  assert_near(hofstee_of((BtHofsteeJudge){50, 70, 0.1, 0.3}, one, 1).cut.value, 60, 0);
}

static void limits_that_leave_no_room(void **state) {
  (void)state;
  const double score[] = {40, 50, 60, 70, 80};
  // One mark only: the curve must lie between the shares there.
  BtHofstee result = hofstee_of((BtHofsteeJudge){55, 55, 0.1, 0.5}, score, 5);
  assert_int_equal(result.meeting, BT_HOFSTEE_MEETS);
  assert_near(result.cut.value, 55, 1e-12);
  result = hofstee_of((BtHofsteeJudge){70, 50, 0.1, 0.5}, score, 5);
  assert_string_equal(result.why_not, "a least limit lies above its greatest");
  assert_why(&result.cut, "least limit");
  result = hofstee_of((BtHofsteeJudge){50, 70, 0.1, 0.5}, NULL, 0);
  assert_why(&result.cut, "no scores");
  result = bt_hofstee(NULL, 0, &(BtCohortScores){.n = 5, .score = score}, DRAWS);
  assert_why(&result.cut, "no judge");
}

// At the mark, curve and line are as high; and the line's share lies within the judges' limits.
static void at_the_mark_curve_and_line_meet(void **state) {
  (void)state;
  GRand *random = g_rand_new_with_seed(3);
  int met = 0;
  for (int round = 0; round < 300; round++) {
    double score[40];
    for (gsize i = 0; i < N(score); i++)
      score[i] = g_rand_int_range(random, 30, 100);
    double least = g_rand_double_range(random, 25, 60);
    BtHofsteeJudge judge = {least, least + g_rand_double_range(random, 1, 30), 0.05,
                            g_rand_double_range(random, 0.1, 0.6)};
    BtHofstee result =
        bt_hofstee(&judge, 1, &(BtCohortScores){.n = N(score), .score = score}, (BtResampling){0});
    if (result.meeting != BT_HOFSTEE_MEETS)
      continue;
    // Told apart from the engine's own curve: neighbours found by looking at every score.
    double at = result.cut.value, below = -1, above = 101, share_below = 0, share_above = 1;
    for (gsize i = 0; i < N(score); i++) {
      if (score[i] <= at && score[i] > below)
        below = score[i];
      if (score[i] > at && score[i] < above)
        above = score[i];
    }
    double under = 0, over = 0;
    for (gsize i = 0; i < N(score); i++) {
      under += score[i] < below;
      over += score[i] < above;
    }
    share_below = under / (double)N(score);
    share_above = over / (double)N(score);
    if (below < 0 || above > 100)
      continue;
    double curve = share_below + (at - below) / (above - below) * (share_above - share_below);
    assert_near(curve, result.not_yet, 1e-9);
    assert_true(result.not_yet >= judge.least_not_yet && result.not_yet <= judge.most_not_yet);
    met++;
  }
  assert_true(met > 50);
  g_rand_free(random);
}

// What a mark does ------------------------------------------------------------

static void what_a_mark_would_have_done(void **state) {
  (void)state;
  const double score[] = {72, 68, 65, 90, BT_MISSING, 50, 71, 70};
  const BtFormer was[] = {BT_WAS_PASS,    BT_WAS_NOT_YET, BT_WAS_NOT_YET,   BT_WAS_HELD,
                          BT_WAS_NOT_YET, BT_WAS_NOT_YET, BT_WAS_UNDECIDED, BT_WAS_PASS};
  g_auto(BtPastEffect) lower = bt_past_effect(score, was, N(score), 66, 2);
  assert_int_equal(lower.decided, 6);
  assert_int_equal(lower.left_out, 2);
  assert_int_equal(lower.to_pass, 1);
  assert_int_equal(lower.to_not_yet, 0);
  assert_int_equal(lower.stays_pass, 2);
  assert_int_equal(lower.stays_not_yet, 3);
  assert_int_equal(lower.held, 1); // 90 % with a critical failure stays not yet at any mark
  assert_int_equal(lower.doubtful->len, 2);
  assert_int_equal(g_array_index(lower.doubtful, gsize, 0), 1);
  assert_int_equal(g_array_index(lower.doubtful, gsize, 1), 2);
  g_auto(BtPastEffect) higher = bt_past_effect(score, was, N(score), 72, -1);
  assert_int_equal(higher.to_not_yet, 1); // 70; 72 is at the mark, and passes
  assert_int_equal(higher.stays_pass, 1);
  assert_int_equal(higher.doubtful->len, 0);
  BtEstimate rate = bt_pass_rate(score, N(score), 70);
  assert_int_equal(rate.n, 7);
  assert_near(rate.value, 4 / 7.0, 1e-12);
  assert_true(rate.has_limits);
  assert_non_null(bt_pass_rate(NULL, 0, 70).why_not);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(one_judge_has_a_mark_and_no_error),
      cmocka_unit_test(no_judges_no_mark),
      cmocka_unit_test(judges_who_all_agree_leave_the_mark_bare),
      cmocka_unit_test(points_weigh_the_items),
      cmocka_unit_test(holes_are_filled_by_what_judge_and_item_tell),
      cmocka_unit_test(judges_who_share_no_item_are_not_compared),
      cmocka_unit_test(a_judge_far_from_the_rest_is_named),
      cmocka_unit_test(judges_in_any_order_set_the_same_mark),
      cmocka_unit_test(a_second_round_is_compared_judge_by_judge),
      cmocka_unit_test(ebel_judges_each_with_their_grid),
      cmocka_unit_test(groups_apart_have_firth_and_the_gap),
      cmocka_unit_test(groups_alike_have_no_mark),
      cmocka_unit_test(an_empty_group_is_said),
      cmocka_unit_test(groups_without_spread),
      cmocka_unit_test(curves_that_do_not_cross_between_the_means),
      cmocka_unit_test(at_the_crossing_both_curves_are_as_high),
      cmocka_unit_test(trainees_in_any_order_set_the_same_mark),
      cmocka_unit_test(nobody_rated_borderline),
      cmocka_unit_test(a_falling_line_sets_no_mark),
      cmocka_unit_test(ratings_that_do_not_differ_draw_no_line),
      cmocka_unit_test(a_line_without_scatter_stands_bare),
      cmocka_unit_test(the_median_of_six_has_its_extremes_as_limits),
      cmocka_unit_test(a_curve_that_passes_by_says_on_which_side),
      cmocka_unit_test(one_score_for_all),
      cmocka_unit_test(limits_that_leave_no_room),
      cmocka_unit_test(at_the_mark_curve_and_line_meet),
      cmocka_unit_test(what_a_mark_would_have_done),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
