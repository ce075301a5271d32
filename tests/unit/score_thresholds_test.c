// SPDX-License-Identifier: GPL-3.0-or-later
//
// Every threshold of the scoring law just below, at and just above; rounding; the largest numbers.
// Expected values are worked by hand from the law's formulas.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <benchtally/score.h>

#define HOUR_MS G_GINT64_CONSTANT(3600000)

// A rubric of `n` checkpoints in one phase; checkpoint c is action c once, for one point. Steps
// alone have a weight; the pass mark is 70.
static BtRubric *bare_rubric(int n) {
  BtRubric *rubric = bt_rubric_new();
  rubric->id = bt_rubric_strdup(rubric, "bare");
  rubric->n_actions = rubric->n_checkpoints = n;
  rubric->actions = bt_rubric_alloc(rubric, (gsize)n, sizeof(BtAction));
  rubric->checkpoints = bt_rubric_alloc(rubric, (gsize)n, sizeof(BtCheckpoint));
  for (int c = 0; c < n; c++) {
    g_autofree char *id = g_strdup_printf("step-%d", c);
    rubric->checkpoints[c] = (BtCheckpoint){.id = bt_rubric_strdup(rubric, id),
                                            .match = {.action = c},
                                            .least = 1,
                                            .most = 1,
                                            .points_mp = 1000,
                                            .extra_kind = -1,
                                            .choice = -1,
                                            .option = -1};
  }
  rubric->n_phases = 1;
  rubric->phases = bt_rubric_alloc(rubric, 1, sizeof(BtPhase));
  rubric->phases[0] = (BtPhase){.id = bt_rubric_strdup(rubric, "all"), .n_checkpoints = n};
  rubric->score.weight[BT_STEPS] = 100;
  rubric->score.pass_milli = 70000;
  return rubric;
}

static void add(BtObservation *log, BtEvent event) {
  event.seq = (int)log->events->len + 1;
  event.component = -1;
  bt_observation_add(log, &event);
}

static BtObservation *started_log(void) {
  BtHeader header = {"s1", "t1", "a1", "bare", 1, 0, BT_MODE_LIVE};
  BtObservation *log = bt_observation_new(&header);
  add(log, (BtEvent){.kind = BT_EVENT_START});
  return log;
}

static void add_work(BtObservation *log, int action, gint64 at_ms) {
  add(log, (BtEvent){.kind = BT_EVENT_WORK, .at_ms = at_ms, .action = action, .site = -1});
}

static void add_item(BtObservation *log, BtEventKind kind, int item, gint64 value_milli) {
  add(log, (BtEvent){.kind = kind, .item = item, .value_milli = value_milli});
}

static void add_finish(BtObservation *log, gint64 at_ms) {
  add(log, (BtEvent){.kind = BT_EVENT_FINISH, .at_ms = at_ms});
}

// Scores and frees the log.
static BtLedger *score(const BtRubric *rubric, BtObservation *log) {
  BtLedger *ledger = bt_score(rubric, log);
  bt_observation_free(log);
  return ledger;
}

static BtReasonCode first_reason(const BtLedger *ledger) {
  return g_array_index(ledger->reasons, BtReason, 0).code;
}

// Marks -----------------------------------------------------------------------

// The first of two checkpoints done.
static BtLedger *score_first_of_two(const BtRubric *rubric) {
  BtObservation *log = started_log();
  add_work(log, 0, 1000);
  add_finish(log, 2000);
  return score(rubric, log);
}

static void pass_mark_below_at_above(void **state) {
  (void)state;
  // 7 of 10 points; 2 of 3; 1 of 3: the mark, and whether the total reaches it.
  static const struct {
    gint64 done_mp, left_mp, pass_milli;
    bool passes;
  } rows[] = {{7000, 3000, 69999, true},  {7000, 3000, 70000, true},  {7000, 3000, 70001, false},
              {2000, 1000, 66666, true},  {2000, 1000, 66667, false}, {1000, 2000, 33333, true},
              {1000, 2000, 33334, false}, {1000, 0, 100000, true},    {9999, 1, 100000, false},
              {0, 1000, 0, true},         {9999999, 1, 99999, true},  {9999999, 1, 100000, false}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    BtRubric *rubric = bare_rubric(2);
    rubric->checkpoints[0].points_mp = rows[i].done_mp;
    rubric->checkpoints[1].points_mp = rows[i].left_mp;
    rubric->score.pass_milli = rows[i].pass_milli;
    BtLedger *ledger = score_first_of_two(rubric);
    assert_int_equal(ledger->outcome, rows[i].passes ? BT_PASS : BT_NOT_YET);
    if (!rows[i].passes)
      assert_int_equal(first_reason(ledger), BT_REASON_BELOW_PASS);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

static void floor_below_at_above(void **state) {
  (void)state;
  static const struct {
    gint64 floor_milli;
    bool met;
  } rows[] = {{66665, true}, {66666, true}, {66667, false}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    BtRubric *rubric = bare_rubric(2);
    rubric->checkpoints[0].points_mp = 2000;
    rubric->score.pass_milli = 0;
    rubric->score.floor_milli[BT_STEPS] = rows[i].floor_milli;
    BtLedger *ledger = score_first_of_two(rubric);
    assert_int_equal(ledger->outcome, rows[i].met ? BT_PASS : BT_NOT_YET);
    if (!rows[i].met)
      assert_int_equal(first_reason(ledger), BT_REASON_BELOW_FLOOR);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

// Percentages are cut, so what is below the line never reads as the line.
static void percent_is_cut(void **state) {
  (void)state;
  BtRubric *rubric = bare_rubric(2);
  rubric->checkpoints[0].points_mp = 9999999;
  rubric->checkpoints[1].points_mp = 1;
  BtLedger *ledger = score_first_of_two(rubric);
  assert_int_equal(ledger->total_percent_milli, 99999);
  assert_string_equal(ledger->total, "9999999/10000000");
  bt_ledger_free(ledger);
  bt_rubric_free(rubric);
}

// Time ------------------------------------------------------------------------

// 60 points from 1 min to 2 min: a millisecond costs a thousandth of a point.
static const struct {
  gint64 spent_ms, given_mp;
} time_rows[] = {{59999, 60000}, {60000, 60000}, {60001, 59999}, {90000, 30000},
                 {119999, 1},    {120000, 0},    {120001, 0}};

static void clock_around_target_and_limit(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(time_rows); i++) {
    BtRubric *rubric = bare_rubric(1);
    rubric->clock = (BtClock){true, 60000, 120000, 0, 60000};
    BtObservation *log = started_log();
    add_work(log, 0, 1000);
    add_finish(log, time_rows[i].spent_ms);
    BtLedger *ledger = score(rubric, log);
    assert_int_equal(ledger->component[BT_TIME].given_mp, time_rows[i].given_mp);
    assert_int_equal(ledger->component[BT_TIME].possible_mp, 60000);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

static void phase_around_target_and_limit(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(time_rows); i++) {
    BtRubric *rubric = bare_rubric(1);
    rubric->phases[0].target_ms = 60000;
    rubric->phases[0].limit_ms = 120000;
    rubric->phases[0].points_mp = 60000;
    BtObservation *log = started_log();
    add_work(log, 0, time_rows[i].spent_ms);
    add_finish(log, 3 * HOUR_MS);
    BtLedger *ledger = score(rubric, log);
    assert_int_equal(g_array_index(ledger->time, BtTimeRow, 0).given_mp, time_rows[i].given_mp);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

static void quiet_around_its_limit(void **state) {
  (void)state;
  for (gint64 stretch_ms = 9999; stretch_ms <= 10001; stretch_ms++) {
    BtRubric *rubric = bare_rubric(1);
    rubric->clock = (BtClock){.present = true, .quiet_ms = 10000};
    BtObservation *log = started_log();
    add_work(log, 0, stretch_ms);
    add_finish(log, stretch_ms + 1);
    BtLedger *ledger = score(rubric, log);
    assert_int_equal(ledger->quiet->len, stretch_ms > 10000);
    if (stretch_ms > 10000)
      assert_int_equal(g_array_index(ledger->quiet, BtQuiet, 0).ms, stretch_ms);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

// Product ---------------------------------------------------------------------

typedef struct {
  gint64 value_milli, given_mp;
  bool fails;
} ValueRow;

static void check_measure(const BtMeasure *measure, const ValueRow *rows, gsize n) {
  for (gsize i = 0; i < n; i++) {
    BtRubric *rubric = bare_rubric(1);
    rubric->n_measures = 1;
    rubric->measures = bt_rubric_alloc(rubric, 1, sizeof *measure);
    rubric->measures[0] = *measure;
    BtObservation *log = started_log();
    add_work(log, 0, 1000);
    add_finish(log, 2000);
    add_item(log, BT_EVENT_MEASURE, 0, rows[i].value_milli);
    BtLedger *ledger = score(rubric, log);
    assert_int_equal(ledger->component[BT_PRODUCT].given_mp, rows[i].given_mp);
    assert_int_equal(ledger->outcome, rows[i].fails ? BT_NOT_YET : BT_PASS);
    if (rows[i].fails)
      assert_int_equal(first_reason(ledger), BT_REASON_MEASURE_FAIL);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

static void measure_around_good_poor_and_fail(void **state) {
  (void)state;
  // 2 points from 1 to 3: a thousandth of the unit costs a thousandth of a point.
  static const ValueRow rows[] = {{999, 2000, false}, {1000, 2000, false}, {1001, 1999, false},
                                  {2999, 1, false},   {3000, 0, false},    {3001, 0, false},
                                  {3999, 0, false},   {4000, 0, false},    {4001, 0, true}};
  BtMeasure measure = {(char *)"gap", (char *)"Gap", (char *)"mm", 1000, 3000, 4000, true, 2000};
  check_measure(&measure, rows, G_N_ELEMENTS(rows));
}

static void measure_mirrored(void **state) {
  (void)state;
  static const ValueRow rows[] = {{3001, 2000, false}, {3000, 2000, false}, {2999, 1999, false},
                                  {1001, 1, false},    {1000, 0, false},    {999, 0, false},
                                  {501, 0, false},     {500, 0, false},     {499, 0, true}};
  BtMeasure measure = {(char *)"grip", (char *)"Grip", (char *)"mm", 3000, 1000, 500, true, 2000};
  check_measure(&measure, rows, G_N_ELEMENTS(rows));
}

// Steps and technique ---------------------------------------------------------

static void rows_round_half_away_from_zero(void **state) {
  (void)state;
  // points x done / least: 1/2, 3/2, 5/2, 1/3, 2/3, 4/3 thousandths.
  static const struct {
    gint64 points_mp, given_mp;
    int done, least;
  } rows[] = {{1, 1, 1, 2},
              {3, 2, 1, 2},
              {5, 3, 1, 2},
              {1, 0, 1, 3},
              {1, 1, 2, 3},
              {2, 1, 2, 3},
              {10000000, 3333333, 1, 3},
              {10000000, 6666667, 2, 3}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    BtRubric *rubric = bare_rubric(1);
    rubric->checkpoints[0].points_mp = rows[i].points_mp;
    rubric->checkpoints[0].least = rubric->checkpoints[0].most = rows[i].least;
    BtObservation *log = started_log();
    for (int k = 0; k < rows[i].done; k++)
      add_work(log, 0, 1000 * (k + 1));
    add_finish(log, 9000);
    BtLedger *ledger = score(rubric, log);
    assert_int_equal(ledger->component[BT_STEPS].given_mp, rows[i].given_mp);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

static void give_error(BtRubric *rubric, gint64 lose_mp, gint64 cap_mp) {
  rubric->n_errors = 1;
  rubric->errors = bt_rubric_alloc(rubric, 1, sizeof(BtErrorKind));
  rubric->errors[0] = (BtErrorKind){.id = (char *)"slip", .lose_mp = lose_mp, .cap_mp = cap_mp};
}

static void errors_around_their_cap(void **state) {
  (void)state;
  // 5 at stake, 1 an error, at most 3; and without a cap never below nothing.
  static const struct {
    int count;
    gint64 cap_mp, given_mp;
  } rows[] = {{2, 3000, 3000}, {3, 3000, 2000}, {4, 3000, 2000}, {4, -1, 1000},
              {5, -1, 0},      {6, -1, 0},      {1, 0, 5000}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    BtRubric *rubric = bare_rubric(1);
    rubric->score.technique_points_mp = 5000;
    give_error(rubric, 1000, rows[i].cap_mp);
    BtObservation *log = started_log();
    add_work(log, 0, 0);
    for (int k = 0; k < rows[i].count; k++)
      add_item(log, BT_EVENT_ERROR, 0, 0);
    add_finish(log, 1000);
    BtLedger *ledger = score(rubric, log);
    assert_int_equal(ledger->component[BT_TECHNIQUE].given_mp, rows[i].given_mp);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

static void critical_steps_around_least(void **state) {
  (void)state;
  for (int done = 1; done <= 3; done++) {
    BtRubric *rubric = bare_rubric(1);
    rubric->checkpoints[0].least = 2;
    rubric->checkpoints[0].most = 3;
    rubric->checkpoints[0].critical = BT_CRITICAL_DONE;
    rubric->score.pass_milli = 0;
    BtObservation *log = started_log();
    for (int k = 0; k < done; k++)
      add_work(log, 0, 1000);
    add_finish(log, 2000);
    BtLedger *ledger = score(rubric, log);
    assert_int_equal(ledger->outcome, done < 2 ? BT_NOT_YET : BT_PASS);
    assert_int_equal(g_array_index(ledger->steps, BtStepRow, 0).critical_failure, done < 2);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

// Order -----------------------------------------------------------------------

static BtRule rule_of(const char *id, int *first, int *then, gint64 lose_mp) {
  return (BtRule){.id = (char *)id,
                  .first = first,
                  .then = then,
                  .n_first = 1,
                  .n_then = 1,
                  .lose_mp = lose_mp,
                  .inject = -1};
}

// The rule of an inject looks at what is later in time than the inject: not at what stands at its
// own time.
static void inject_rule_around_its_inject(void **state) {
  (void)state;
  int steps[] = {0, 1};
  for (gint64 then_ms = 4999; then_ms <= 5001; then_ms++) {
    BtRubric *rubric = bare_rubric(2);
    rubric->n_injects = rubric->n_rules = 1;
    rubric->injects = bt_rubric_alloc(rubric, 1, sizeof(BtInject));
    rubric->injects[0].id = bt_rubric_strdup(rubric, "loose");
    rubric->rules = bt_rubric_alloc(rubric, 1, sizeof(BtRule));
    rubric->rules[0] = rule_of("loose-rule", &steps[0], &steps[1], 1000);
    rubric->rules[0].inject = 0;
    BtObservation *log = started_log();
    add(log, (BtEvent){.kind = BT_EVENT_INJECT, .at_ms = 5000});
    add_work(log, 1, then_ms);
    add_finish(log, 6000);
    BtLedger *ledger = score(rubric, log);
    const BtOrderRow *row = &g_array_index(ledger->order, BtOrderRow, 0);
    assert_int_equal(row->applies, then_ms > 5000);
    assert_int_equal(row->broken, then_ms > 5000);
    assert_int_equal(row->then_event, then_ms > 5000 ? 3 : 0);
    bt_ledger_free(ledger);
    bt_rubric_free(rubric);
  }
}

// Choices ---------------------------------------------------------------------

// An event matches the first option, but an earlier checkpoint takes it in every combination: no
// option is ever bound, so the first is taken, though the second would give 2/3 instead of 1/3.
static void option_matched_but_never_bound(void **state) {
  (void)state;
  BtRubric *rubric = bare_rubric(3);
  rubric->n_choices = 1;
  rubric->choices = bt_rubric_alloc(rubric, 1, sizeof(BtChoice));
  BtOption *options = bt_rubric_alloc(rubric, 2, sizeof(BtOption));
  rubric->choices[0] =
      (BtChoice){.id = bt_rubric_strdup(rubric, "way"), .options = options, .n_options = 2};
  for (int o = 0; o < 2; o++) {
    options[o].checkpoints = bt_rubric_alloc(rubric, 1, sizeof(int));
    options[o].checkpoints[0] = o + 1;
    options[o].n_checkpoints = 1;
    rubric->checkpoints[o + 1].choice = 0;
    rubric->checkpoints[o + 1].option = o;
  }
  rubric->checkpoints[1].match.action = 0;
  rubric->checkpoints[1].points_mp = 2000;
  rubric->checkpoints[2].points_mp = 500;
  BtObservation *log = started_log();
  add_work(log, 0, 1000);
  add_finish(log, 2000);
  BtLedger *ledger = score(rubric, log);
  assert_int_equal(ledger->option_taken[0], 0);
  assert_string_equal(ledger->total, "1/3");
  bt_ledger_free(ledger);
  bt_rubric_free(rubric);
}

// Large numbers ---------------------------------------------------------------

// 10,000 points over 24 h: f = (24 - 8) / (24 - 1) = 16/23, steps 1/3 of 3,000 x 10,000 points:
// 10,000,000 x 16/69 = 2,318,840.57... thousandths.
static void largest_points_over_a_whole_day(void **state) {
  (void)state;
  BtRubric *rubric = bare_rubric(3000);
  for (int c = 0; c < 3000; c++)
    rubric->checkpoints[c].points_mp = BT_POINTS_MP_MAX;
  rubric->clock = (BtClock){true, HOUR_MS, 24 * HOUR_MS, 0, BT_POINTS_MP_MAX};
  BtObservation *log = started_log();
  for (int c = 0; c < 1000; c++)
    add_work(log, c, 1000);
  add_finish(log, 8 * HOUR_MS);
  BtLedger *ledger = score(rubric, log);
  assert_int_equal(ledger->component[BT_STEPS].given_mp, G_GINT64_CONSTANT(10000000000));
  assert_int_equal(ledger->component[BT_TIME].given_mp, 2318841);
  assert_string_equal(ledger->total, "1/3");
  bt_ledger_free(ledger);
  bt_rubric_free(rubric);
}

static void give_all_components(BtRubric *rubric, int *steps) {
  static const int weights[BT_COMPONENTS] = {997, 991, 983, 977, 971, 967};
  for (int c = 0; c < BT_COMPONENTS; c++)
    rubric->score.weight[c] = weights[c];
  rubric->checkpoints[0].points_mp = 9999991;
  rubric->checkpoints[1].points_mp = 9999973;
  rubric->checkpoints[2].points_mp = 0;
  rubric->n_rules = 2;
  rubric->rules = bt_rubric_alloc(rubric, 2, sizeof(BtRule));
  rubric->rules[0] = rule_of("kept", &steps[0], &steps[2], 9999937);
  rubric->rules[1] = rule_of("broken", &steps[1], &steps[2], 9999929);
  rubric->clock = (BtClock){true, 1, 24 * HOUR_MS, 0, 9999901};
  rubric->score.technique_points_mp = 9999889;
  give_error(rubric, 1234567, -1);
  rubric->n_measures = rubric->n_ratings = 1;
  rubric->measures = bt_rubric_alloc(rubric, 1, sizeof(BtMeasure));
  rubric->measures[0] =
      (BtMeasure){.id = (char *)"gap", .good_milli = 0, .poor_milli = 7000, .points_mp = 9999877};
  rubric->ratings = bt_rubric_alloc(rubric, 1, sizeof(BtRating));
  rubric->ratings[0] = (BtRating){.id = (char *)"flow", .points_mp = 9999863, .n = 7};
}

// Six components whose possible points share no factor: the denominator needs 154 bits. Expected
// from the law's formulas in rational arithmetic, outside this program (Python's fractions).
static void total_of_six_components_is_exact(void **state) {
  (void)state;
  int steps[] = {0, 1, 2};
  BtRubric *rubric = bare_rubric(3);
  give_all_components(rubric, steps);
  BtObservation *log = started_log();
  add_work(log, 0, 1000);
  add_work(log, 2, 2000);
  add_item(log, BT_EVENT_ERROR, 0, 0);
  add_item(log, BT_EVENT_MEASURE, 0, 3000);
  add_item(log, BT_EVENT_RATE, 0, 3000);
  add_finish(log, 12 * HOUR_MS);
  BtLedger *ledger = score(rubric, log);
  static const gint64 given_mp[BT_COMPONENTS] = {9999991, 9999937, 2499978,
                                                 3765382, 5714215, 3333288};
  for (int c = 0; c < BT_COMPONENTS; c++)
    assert_int_equal(ledger->component[c].given_mp, given_mp[c]);
  assert_string_equal(ledger->total, "4969370768513968623036203123444970194117114531/"
                                     "11771346668549556665310967875816078810672503448");
  assert_int_equal(ledger->total_percent_milli, 42215);
  bt_ledger_free(ledger);
  bt_rubric_free(rubric);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(pass_mark_below_at_above),
      cmocka_unit_test(floor_below_at_above),
      cmocka_unit_test(percent_is_cut),
      cmocka_unit_test(clock_around_target_and_limit),
      cmocka_unit_test(phase_around_target_and_limit),
      cmocka_unit_test(quiet_around_its_limit),
      cmocka_unit_test(measure_around_good_poor_and_fail),
      cmocka_unit_test(measure_mirrored),
      cmocka_unit_test(rows_round_half_away_from_zero),
      cmocka_unit_test(errors_around_their_cap),
      cmocka_unit_test(critical_steps_around_least),
      cmocka_unit_test(inject_rule_around_its_inject),
      cmocka_unit_test(option_matched_but_never_bound),
      cmocka_unit_test(largest_points_over_a_whole_day),
      cmocka_unit_test(total_of_six_components_is_exact),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
