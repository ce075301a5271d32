// SPDX-License-Identifier: GPL-3.0-or-later
//
// What must hold of every rubric and every log: the two properties of the scoring law's preamble,
// sums that add up, and the same bytes for the same input.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <jansson.h>
#include <string.h>

#include <benchtally/score.h>

#include "support/random_case.h"

static const RandomShape any_shape = {.max_checkpoints = 9, .max_choices = 2};
static const RandomShape one_match_shape = {
    .one_match = true, .max_checkpoints = 6, .max_choices = 0};

typedef struct {
  BtRubric *rubric;
  BtObservation *observation;
  BtLedger *ledger;
} Case;

static Case case_new(guint64 seed, const RandomShape *shape, int n_events) {
  Dice dice = {seed};
  Case made = {.rubric = random_rubric(&dice, shape)};
  made.observation = random_log(made.rubric, &dice, n_events, dice_roll(&dice, 5, 9));
  made.ledger = bt_score(made.rubric, made.observation);
  return made;
}

static void case_free(Case *made) {
  bt_ledger_free(made->ledger);
  bt_observation_free(made->observation);
  bt_rubric_free(made->rubric);
}

static const BtEvent *event_at(const BtObservation *observation, guint i) {
  return &g_array_index(observation->events, BtEvent, i);
}

static bool in_list(const GArray *list, int seq) {
  for (guint i = 0; i < list->len; i++) {
    if (g_array_index(list, int, i) == seq)
      return true;
  }
  return false;
}

static int times_in(const GArray *list, int seq) {
  int times = 0;
  for (guint i = 0; i < list->len; i++)
    times += g_array_index(list, int, i) == seq;
  return times;
}

// In how many places of the ledger's partition an event stands.
static int places_of(const BtLedger *ledger, int seq) {
  int places = times_in(ledger->list[BT_LIST_UNPLANNED], seq) +
               times_in(ledger->list[BT_LIST_OVERTAKEN], seq);
  for (guint i = 0; i < ledger->steps->len; i++) {
    const BtStepRow *row = &g_array_index(ledger->steps, BtStepRow, i);
    places += times_in(row->bound, seq) + times_in(row->redone, seq) + times_in(row->extra, seq);
  }
  return places;
}

static void check_partition(guint64 seed, const Case *made) {
  const BtLedger *ledger = made->ledger;
  for (guint i = 0; i < made->observation->events->len; i++) {
    const BtEvent *event = event_at(made->observation, i);
    bool work =
        event->kind == BT_EVENT_WORK && !in_list(ledger->list[BT_LIST_AFTER_END], event->seq);
    if (places_of(ledger, event->seq) != work)
      fail_msg("seed %" G_GUINT64_FORMAT ": event %d stands in %d places", seed, event->seq,
               places_of(ledger, event->seq));
  }
}

static void every_event_of_work_stands_in_one_place(void **state) {
  (void)state;
  for (guint64 seed = 0; seed < 3000; seed++) {
    Case made = case_new(seed, &any_shape, 25);
    check_partition(seed, &made);
    case_free(&made);
  }
}

static void rows_add_up_to_their_component(void **state) {
  (void)state;
  for (guint64 seed = 10000; seed < 12000; seed++) {
    Case made = case_new(seed, &any_shape, 30);
    const BtLedger *ledger = made.ledger;
    gint64 steps_mp = 0, order_mp = 0, time_mp = 0, charged_ms = ledger->unassigned_ms;
    for (guint i = 0; i < ledger->steps->len; i++)
      steps_mp += g_array_index(ledger->steps, BtStepRow, i).given_mp;
    for (guint i = 0; i < ledger->order->len; i++)
      order_mp += g_array_index(ledger->order, BtOrderRow, i).given_mp;
    for (guint i = 0; i < ledger->time->len; i++)
      time_mp += g_array_index(ledger->time, BtTimeRow, i).given_mp;
    for (int p = 0; p < made.rubric->n_phases; p++)
      charged_ms += ledger->charged_ms[p];
    assert_int_equal(steps_mp, ledger->component[BT_STEPS].given_mp);
    assert_int_equal(order_mp, ledger->component[BT_ORDER].given_mp);
    assert_int_equal(time_mp, ledger->component[BT_TIME].given_mp);
    assert_int_equal(charged_ms, ledger->total_ms);
    for (int c = 0; c < BT_COMPONENTS; c++) {
      assert_true(ledger->component[c].given_mp >= 0);
      assert_true(ledger->component[c].given_mp <= ledger->component[c].possible_mp);
    }
    case_free(&made);
  }
}

// Leaving an event out (property ii) ------------------------------------------

// The last event that stands in for what `seq` (a bound event) was; `seq` itself if none does.
// Conforming events that something stands in for cannot be told from the ledger's lists alone, so
// only rows are used in which nothing stands in, or in which one event is bound.
static int conforming_state(const BtStepRow *row, guint i) {
  int seq = g_array_index(row->conforming, int, i);
  if (row->redone->len == 0)
    return seq;
  if (row->bound->len == 1)
    return g_array_index(row->redone, int, row->redone->len - 1);
  return 0;
}

static BtObservation *without(const BtObservation *observation, int seq) {
  BtObservation *rest = bt_observation_new(&observation->header);
  for (guint i = 0; i < observation->events->len; i++) {
    if (event_at(observation, i)->seq != seq)
      bt_observation_add(rest, event_at(observation, i));
  }
  return rest;
}

static const BtOrderRow *order_row(const BtLedger *ledger, int rule) {
  for (guint i = 0; i < ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(ledger->order, BtOrderRow, i);
    if (row->rule == rule)
      return row;
  }
  return NULL;
}

// Was a rule mended by leaving out `seq`? Checks that only its own `then` event can do it.
static bool check_mended_rules(guint64 seed, const BtLedger *before, const BtLedger *after,
                               int seq) {
  bool mended = false;
  for (guint i = 0; i < before->order->len; i++) {
    const BtOrderRow *row = &g_array_index(before->order, BtOrderRow, i);
    const BtOrderRow *now = order_row(after, row->rule);
    if (!row->broken || (now && now->broken))
      continue;
    mended = true;
    if (row->then_event != seq)
      fail_msg("seed %" G_GUINT64_FORMAT ": leaving out %d mended rule %d", seed, seq, row->rule);
  }
  return mended;
}

static bool is_found_error(const BtLedger *ledger, int seq) {
  for (guint i = 0; i < ledger->technique->len; i++) {
    if (in_list(g_array_index(ledger->technique, BtTechniqueRow, i).events, seq))
      return true;
  }
  return false;
}

static bool some_error_ceases(const BtLedger *before, const BtLedger *after) {
  for (guint i = 0; i < before->technique->len; i++) {
    const GArray *was = g_array_index(before->technique, BtTechniqueRow, i).events;
    const GArray *is = g_array_index(after->technique, BtTechniqueRow, i).events;
    for (guint j = 0; j < was->len; j++) {
      if (!in_list(is, g_array_index(was, int, j)))
        return true;
    }
  }
  return false;
}

// given / possible of the time component, when it counts, has grown, or it counts only now or no
// longer.
static bool time_gains(const BtLedger *before, const BtLedger *after) {
  const BtComponentScore *was = &before->component[BT_TIME], *is = &after->component[BT_TIME];
  if (was->assessed != is->assessed)
    return true;
  return is->given_mp * was->possible_mp > was->given_mp * is->possible_mp;
}

// What came up, so that the test cannot pass by never meeting the case.
typedef struct {
  int left_out, mended, turned_to_pass;
} Met;

static void check_left_out(guint64 seed, const Case *made, int seq, Met *met) {
  BtObservation *rest = without(made->observation, seq);
  BtLedger *after = bt_score(made->rubric, rest);
  const BtLedger *before = made->ledger;
  if (after->component[BT_STEPS].given_mp > before->component[BT_STEPS].given_mp)
    fail_msg("seed %" G_GUINT64_FORMAT ": leaving out %d raised the steps", seed, seq);
  bool mended = check_mended_rules(seed, before, after, seq);
  bool excused = mended || is_found_error(before, seq) || some_error_ceases(before, after) ||
                 time_gains(before, after);
  bool turned = before->outcome == BT_NOT_YET && after->outcome == BT_PASS;
  met->left_out++;
  met->mended += mended;
  met->turned_to_pass += turned;
  if (turned && !excused)
    fail_msg("seed %" G_GUINT64_FORMAT ": leaving out %d turned not yet into pass", seed, seq);
  bt_ledger_free(after);
  bt_observation_free(rest);
}

static void leaving_work_out_never_helps(void **state) {
  (void)state;
  Met met = {0, 0, 0};
  for (guint64 seed = 20000; seed < 26000; seed++) {
    Case made = case_new(seed, &one_match_shape, 22);
    for (guint i = 0; i < made.ledger->steps->len; i++) {
      const BtStepRow *row = &g_array_index(made.ledger->steps, BtStepRow, i);
      for (guint j = 0; j < row->conforming->len; j++) {
        int seq = conforming_state(row, j);
        if (seq == 0)
          continue;
        check_left_out(seed, &made, seq, &met);
      }
    }
    case_free(&made);
  }
  assert_true(met.left_out > 10000);
  assert_true(met.mended > 100);
  assert_true(met.turned_to_pass > 10);
}

// The same bytes --------------------------------------------------------------

static char *score_json(const BtRubric *rubric, const BtObservation *observation) {
  BtLedger *ledger = bt_score(rubric, observation);
  char *json = bt_ledger_to_json(rubric, observation, ledger);
  bt_ledger_free(ledger);
  return json;
}

// Neither the order in which the events lie in memory nor that of an event's details means
// anything.
static BtObservation *shuffled(const BtObservation *observation, Dice *dice) {
  BtObservation *copy = bt_observation_new(&observation->header);
  for (guint i = 0; i < observation->events->len; i++) {
    BtEvent event = *event_at(observation, i);
    BtDetailValue turned[RANDOM_DETAILS];
    for (int d = 0; d < event.n_details; d++)
      turned[d] = event.details[event.n_details - 1 - d];
    event.details = turned;
    bt_observation_add(copy, &event);
  }
  for (guint i = copy->events->len; i > 1; i--) {
    guint j = (guint)dice_roll(dice, 0, (int)i - 1);
    BtEvent swapped = g_array_index(copy->events, BtEvent, i - 1);
    g_array_index(copy->events, BtEvent, i - 1) = g_array_index(copy->events, BtEvent, j);
    g_array_index(copy->events, BtEvent, j) = swapped;
  }
  return copy;
}

static void same_input_same_bytes(void **state) {
  (void)state;
  Dice dice = {99};
  for (guint64 seed = 30000; seed < 31000; seed++) {
    Case made = case_new(seed, &any_shape, 40);
    BtObservation *copy = shuffled(made.observation, &dice);
    g_autofree char *once = score_json(made.rubric, made.observation);
    g_autofree char *twice = score_json(made.rubric, made.observation);
    g_autofree char *otherwise = score_json(made.rubric, copy);
    assert_string_equal(once, twice);
    assert_string_equal(once, otherwise);
    bt_observation_free(copy);
    case_free(&made);
  }
}

// JSON ------------------------------------------------------------------------

static void check_numbers(const json_t *value) {
  const char *key;
  json_t *member;
  size_t i;
  assert_false(json_is_real(value));
  json_object_foreach((json_t *)value, key, member) check_numbers(member);
  json_array_foreach(value, i, member) check_numbers(member);
}

// Another library reads it, finds no key twice, only whole numbers, and with sorted keys writes the
// same bytes.
static void json_is_canonical(void **state) {
  (void)state;
  for (guint64 seed = 40000; seed < 40500; seed++) {
    Case made = case_new(seed, &any_shape, 30);
    g_autofree char *json = bt_ledger_to_json(made.rubric, made.observation, made.ledger);
    json_error_t error;
    json_t *root = json_loads(json, JSON_REJECT_DUPLICATES, &error);
    assert_non_null(root);
    check_numbers(root);
    char *again = json_dumps(root, JSON_SORT_KEYS | JSON_COMPACT);
    assert_string_equal(json, again);
    assert_int_equal(json_array_size(json_object_get(json_object_get(root, "steps"), "rows")),
                     made.rubric->n_checkpoints);
    free(again);
    json_decref(root);
    case_free(&made);
  }
}

// Any log ---------------------------------------------------------------------

static void thousands_of_events_still_give_a_ledger(void **state) {
  (void)state;
  for (guint64 seed = 50000; seed < 50005; seed++) {
    Case made = case_new(seed, &any_shape, 5000);
    check_partition(seed, &made);
    case_free(&made);
  }
}

static void events_all_at_one_time_give_a_ledger(void **state) {
  (void)state;
  Dice dice = {7};
  for (int i = 0; i < 200; i++) {
    BtRubric *rubric = random_rubric(&dice, &any_shape);
    BtObservation *observation = random_log(rubric, &dice, 100, 7);
    for (guint j = 0; j < observation->events->len; j++)
      g_array_index(observation->events, BtEvent, j).at_ms = BT_DURATION_MS_MAX;
    BtLedger *ledger = bt_score(rubric, observation);
    assert_int_equal(ledger->displaced->len, 0);
    assert_int_equal(ledger->concordance_den, 0);
    bt_ledger_free(ledger);
    bt_observation_free(observation);
    bt_rubric_free(rubric);
  }
}

static void an_empty_log_gives_a_ledger(void **state) {
  (void)state;
  Dice dice = {8};
  for (int i = 0; i < 100; i++) {
    BtRubric *rubric = random_rubric(&dice, &any_shape);
    BtHeader header = {"s1", "t1", "a1", rubric->id, 1, 0, BT_MODE_LIVE};
    BtObservation *observation = bt_observation_new(&header);
    BtLedger *ledger = bt_score(rubric, observation);
    assert_int_equal(ledger->outcome, BT_UNDECIDED);
    assert_int_equal(ledger->total_ms, 0);
    assert_int_equal(g_array_index(ledger->reasons, BtReason, 0).code, BT_REASON_NOT_FINISHED);
    bt_ledger_free(ledger);
    bt_observation_free(observation);
    bt_rubric_free(rubric);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_event_of_work_stands_in_one_place),
      cmocka_unit_test(rows_add_up_to_their_component),
      cmocka_unit_test(leaving_work_out_never_helps),
      cmocka_unit_test(same_input_same_bytes),
      cmocka_unit_test(json_is_canonical),
      cmocka_unit_test(thousands_of_events_still_give_a_ledger),
      cmocka_unit_test(events_all_at_one_time_give_a_ledger),
      cmocka_unit_test(an_empty_log_gives_a_ledger),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
