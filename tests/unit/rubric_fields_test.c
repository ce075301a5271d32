// SPDX-License-Identifier: GPL-3.0-or-later
//
// Every field of a rubric that uses every feature. The expectations were written by hand from
// rubric_every_feature.yaml.
#include "fuzz/rubric_promises.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define PATH   BENCHTALLY_SOURCE_DIR "/tests/unit/rubric_every_feature.yaml"
#define MIN_MS (60 * 1000)

static int read_rubric(void **state) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  *state = bt_rubric_read_file(PATH, faults, NULL);
  for (guint i = 0; i < faults->len; i++) {
    g_autofree char *text = bt_fault_format(faults->pdata[i]);
    print_error("%s\n", text);
  }
  return *state && faults->len == 0 ? 0 : -1;
}

static int free_rubric(void **state) {
  bt_rubric_free(*state);
  return 0;
}

#define assert_indices(indices, n, ...)                                                            \
  do {                                                                                             \
    static const int wanted[] = {__VA_ARGS__};                                                     \
    assert_int_equal(n, G_N_ELEMENTS(wanted));                                                     \
    for (gsize wanted_i = 0; wanted_i < G_N_ELEMENTS(wanted); wanted_i++)                          \
      assert_int_equal((indices)[wanted_i], wanted[wanted_i]);                                     \
  } while (0)

static void assert_range(const BtRange *range, const char *text) {
  g_autofree char *shown = bt_range_format(range);
  assert_string_equal(shown, text);
}

static void head_and_clock(void **state) {
  const BtRubric *r = *state;
  assert_string_equal(r->id, "every-feature");
  assert_int_equal(r->edition, 12);
  assert_string_equal(r->title, "Every feature: on one page");
  assert_int_equal(g_strv_length(r->cautions), 2);
  assert_string_equal(r->cautions[0], "A record of work on a plastic model.");
  assert_string_equal(r->cautions[1], "Saws and drills hurt people.");
  assert_true(r->clock.present);
  assert_int_equal(r->clock.target_ms, 40 * MIN_MS);
  assert_int_equal(r->clock.limit_ms, 60 * MIN_MS);
  assert_int_equal(r->clock.quiet_ms, 90 * 1000);
  assert_int_equal(r->clock.points_mp, 6500);
}

static void text_and_its_hash(void **state) {
  const BtRubric *r = *state;
  g_autofree char *text = NULL;
  gsize length = 0;
  assert_true(g_file_get_contents(PATH, &text, &length, NULL));
  assert_int_equal(r->text_length, length);
  assert_string_equal(r->text, text);
  g_autofree char *sha256 = g_compute_checksum_for_data(G_CHECKSUM_SHA256, (guint8 *)text, length);
  assert_string_equal(r->sha256, sha256);
}

static void sites_and_actions(void **state) {
  const BtRubric *r = *state;
  assert_int_equal(r->n_sites, 3);
  assert_string_equal(r->sites[0].id, "radius-shaft");
  assert_string_equal(r->sites[0].title, "Radius, middle third");
  assert_string_equal(r->sites[2].id, "styloid");
  assert_int_equal(r->n_actions, 4);
  assert_string_equal(r->actions[0].id, "reduce");
  assert_string_equal(r->actions[0].title, "Reduced");
  assert_int_equal(r->actions[0].key, 'r');
  assert_indices(r->actions[0].sites, r->actions[0].n_sites, 1, 0);
  assert_int_equal(r->actions[0].n_details, 0);
  assert_int_equal(r->actions[1].key, '9');
  assert_int_equal(r->actions[2].key, 0);
  assert_indices(r->actions[2].sites, r->actions[2].n_sites, 0, 2);
  assert_string_equal(r->actions[3].id, "irrigate");
  assert_int_equal(r->actions[3].n_sites, 0);
}

static void details(void **state) {
  const BtAction *screw = &((const BtRubric *)*state)->actions[1];
  assert_int_equal(screw->n_details, 5);
  const BtDetail *length = &screw->details[0], *torque = &screw->details[1];
  const BtDetail *hole = &screw->details[2], *left = &screw->details[3], *use = &screw->details[4];
  assert_string_equal(length->name, "length");
  assert_string_equal(length->title, "Length of the screw");
  assert_int_equal(length->kind, BT_DETAIL_MEASURED);
  assert_string_equal(length->unit, "mm");
  assert_range(&length->range, "8.5..60");
  assert_true(length->always && !length->tells_apart);
  assert_string_equal(torque->title, "torque");
  assert_string_equal(torque->unit, "Nm");
  assert_false(torque->range.has_lo || torque->range.has_hi);
  assert_false(torque->tells_apart || torque->always);
  assert_int_equal(hole->kind, BT_DETAIL_WHOLE);
  assert_null(hole->unit);
  assert_range(&hole->range, "1..12");
  assert_true(hole->tells_apart);
  assert_range(&left->range, "..3");
  assert_int_equal(use->kind, BT_DETAIL_WORD);
  assert_int_equal(use->n_words, 3);
  assert_string_equal(use->words[0], "neutral");
  assert_string_equal(use->words[2], "lag screw");
  assert_null(use->words[3]);
  assert_true(use->always && !use->tells_apart);
}

static void phases(void **state) {
  const BtRubric *r = *state;
  assert_int_equal(r->n_phases, 2);
  assert_string_equal(r->phases[0].id, "fix-radius");
  assert_string_equal(r->phases[0].title, "Fix the radius");
  assert_int_equal(r->phases[0].target_ms, 90 * 1000);
  assert_int_equal(r->phases[0].limit_ms, 20 * MIN_MS);
  assert_int_equal(r->phases[0].points_mp, 3000);
  assert_int_equal(r->phases[0].first_checkpoint, 0);
  assert_int_equal(r->phases[0].n_checkpoints, 3);
  assert_int_equal(r->phases[1].target_ms, 0);
  assert_int_equal(r->phases[1].limit_ms, 0);
  assert_int_equal(r->phases[1].points_mp, 0);
  assert_int_equal(r->phases[1].first_checkpoint, 3);
  assert_int_equal(r->phases[1].n_checkpoints, 5);
}

static void a_plain_checkpoint(void **state) {
  const BtCheckpoint *c = ((const BtRubric *)*state)->checkpoints;
  assert_string_equal(c->id, "radius-reduce");
  assert_string_equal(c->title, "Radius reduced");
  assert_int_equal(c->phase, 0);
  assert_int_equal(c->match.action, 0);
  assert_indices(c->match.sites, c->match.n_sites, 0);
  assert_int_equal(c->match.n_details, 0);
  assert_true(c->least == 1 && c->most == 1);
  assert_int_equal(c->n_expect, 0);
  assert_false(c->verify_required);
  assert_int_equal(c->points_mp, 2000);
  assert_int_equal(c->critical, BT_CRITICAL_DONE);
  assert_int_equal(c->extra_kind, -1);
  assert_null(c->coach);
  assert_true(c->choice == -1 && c->option == -1);
}

static void a_checkpoint_with_everything(void **state) {
  const BtCheckpoint *c = &((const BtRubric *)*state)->checkpoints[1];
  assert_string_equal(c->id, "radius-lag");
  assert_int_equal(c->match.action, 1);
  assert_indices(c->match.sites, c->match.n_sites, 0, 1);
  assert_int_equal(c->match.n_details, 2);
  assert_int_equal(c->match.details[0].detail, 4);
  assert_indices(c->match.details[0].words, c->match.details[0].n_words, 2, 0);
  assert_int_equal(c->match.details[0].n_ranges, 0);
  assert_int_equal(c->match.details[1].detail, 2);
  assert_int_equal(c->match.details[1].n_ranges, 2);
  assert_range(&c->match.details[1].ranges[0], "1");
  assert_range(&c->match.details[1].ranges[1], "3..5");
  assert_true(c->least == 2 && c->most == 2);
  assert_int_equal(c->n_expect, 2);
  assert_int_equal(c->expect[0].detail, 0);
  assert_int_equal(c->expect[0].n_ranges, 4);
  assert_range(&c->expect[0].ranges[0], "..9");
  assert_range(&c->expect[0].ranges[1], "14..18.25");
  assert_range(&c->expect[0].ranges[2], "30");
  assert_range(&c->expect[0].ranges[3], "50..");
  assert_int_equal(c->expect[1].detail, 2);
  assert_range(&c->expect[1].ranges[0], "3");
  assert_true(c->verify_required);
  assert_int_equal(c->points_mp, 1005);
  assert_int_equal(c->critical, BT_CRITICAL_RIGHT);
  assert_int_equal(c->extra_kind, 0);
  assert_string_equal(c->coach, "Measure depth before choosing.");
}

static void the_other_checkpoints(void **state) {
  const BtRubric *r = *state;
  const BtCheckpoint *c = r->checkpoints;
  assert_int_equal(r->n_checkpoints, 8);
  assert_int_equal(c[2].match.n_sites, 0);
  assert_true(c[2].least == 6 && c[2].most == 8);
  assert_int_equal(c[2].critical, BT_CRITICAL_DONE);
  assert_int_equal(c[2].points_mp, 0);
  assert_int_equal(c[2].extra_kind, 1);
  assert_int_equal(c[3].phase, 1);
  assert_true(c[3].least == 1 && c[3].most == 3);
  assert_int_equal(c[3].points_mp, BT_POINTS_MP_MAX);
  assert_int_equal(c[3].critical, BT_CRITICAL_NO);
  assert_true(c[3].choice == 0 && c[3].option == 0);
  assert_true(c[4].least == 2 && c[4].most == 2);
  assert_true(c[4].choice == 0 && c[4].option == 1);
  assert_indices(c[5].match.sites, c[5].match.n_sites, 2);
  assert_true(c[5].choice == 0 && c[5].option == 1);
  assert_true(c[6].choice == -1 && c[7].option == -1);
}

// The line a checkpoint says it has is the one on which its id stands.
static void lines_of_checkpoints(void **state) {
  const BtRubric *r = *state;
  g_auto(GStrv) lines = g_strsplit(r->text, "\n", -1);
  for (int i = 0; i < r->n_checkpoints; i++) {
    const char *line = lines[r->checkpoints[i].line - 1];
    const char *id = strstr(line, "id: ");
    assert_non_null(id);
    assert_true(g_str_has_prefix(id + 4, r->checkpoints[i].id));
  }
}

static void rules(void **state) {
  const BtRubric *r = *state;
  const BtRule *rule = r->rules;
  assert_int_equal(r->n_rules, 5);
  assert_string_equal(rule[0].id, "reduce-first");
  assert_indices(rule[0].first, rule[0].n_first, 0);
  assert_indices(rule[0].then, rule[0].n_then, 1, 2);
  assert_string_equal(rule[0].first_text, "Radius reduced");
  assert_string_equal(rule[0].then_text, "Screws and Lag screw");
  assert_int_equal(rule[0].lose_mp, 3000);
  assert_true(!rule[0].critical && !rule[0].by_start && rule[0].inject == -1);
  assert_string_equal(rule[0].why, "Reduce first.");
  assert_indices(rule[1].first, rule[1].n_first, 0, 1, 2);
  assert_indices(rule[1].then, rule[1].n_then, 3, 4, 5);
  assert_string_equal(rule[1].first_text, "the phase Fix the radius");
  assert_string_equal(rule[1].then_text, "Washed, Washed twice and Plated");
  assert_int_equal(rule[1].lose_mp, 500);
  assert_true(rule[1].critical && rule[1].by_start);
  assert_indices(rule[2].then, rule[2].n_then, 3, 4, 5, 6, 7);
  assert_int_equal(rule[2].lose_mp, 0);
  assert_true(rule[2].critical);
  assert_string_equal(rule[3].id, "lag-then-long");
  assert_int_equal(rule[3].inject, 0);
  assert_false(rule[3].by_start);
  assert_string_equal(rule[4].id, "reduce-then-plate");
  assert_int_equal(rule[4].inject, 2);
}

static void choices_and_injects(void **state) {
  const BtRubric *r = *state;
  assert_int_equal(r->n_choices, 1);
  assert_string_equal(r->choices[0].title, "Once or twice");
  assert_int_equal(r->choices[0].n_options, 2);
  const BtOption *options = r->choices[0].options;
  assert_indices(options[0].checkpoints, options[0].n_checkpoints, 3);
  assert_indices(options[1].checkpoints, options[1].n_checkpoints, 4, 5);
  assert_int_equal(r->n_injects, 3);
  assert_string_equal(r->injects[0].id, "wedge");
  assert_string_equal(r->injects[0].title, "A wedge comes loose");
  assert_indices(r->injects[0].adds, r->injects[0].n_adds, 6);
  assert_indices(r->injects[0].drops, r->injects[0].n_drops, 7);
  assert_indices(r->injects[0].suspends, r->injects[0].n_suspends, 1, 0);
  assert_int_equal(r->injects[1].n_adds + r->injects[1].n_drops + r->injects[1].n_suspends, 0);
}

static void errors(void **state) {
  const BtRubric *r = *state;
  const BtErrorKind *e = r->errors;
  assert_int_equal(r->n_errors, 3);
  assert_string_equal(e[0].id, "plunge");
  assert_int_equal(e[0].severity, BT_MAJOR);
  assert_int_equal(e[0].lose_mp, 2000);
  assert_int_equal(e[0].cap_mp, 6000);
  assert_int_equal(e[0].key, 'p');
  assert_false(e[0].has_match);
  assert_string_equal(e[0].coach, "Stop at the far cortex.");
  assert_int_equal(e[1].severity, BT_MINOR);
  assert_int_equal(e[1].cap_mp, -1);
  assert_int_equal(e[1].key, 0);
  assert_true(e[1].has_match && e[1].only_unplanned);
  assert_int_equal(e[1].match.action, 2);
  assert_indices(e[1].match.sites, e[1].match.n_sites, 0);
  assert_int_equal(e[2].severity, BT_SEVERE_CRITICAL);
  assert_int_equal(e[2].lose_mp, 0);
  assert_true(e[2].has_match && !e[2].only_unplanned);
  assert_int_equal(e[2].match.details[0].detail, 0);
  assert_range(&e[2].match.details[0].ranges[0], "60.001..");
}

static void measures_ratings_competencies(void **state) {
  const BtRubric *r = *state;
  assert_int_equal(r->n_measures, 2);
  assert_string_equal(r->measures[0].title, "Widest gap");
  assert_string_equal(r->measures[0].unit, "mm");
  assert_int_equal(r->measures[0].good_milli, 500);
  assert_int_equal(r->measures[0].poor_milli, 2000);
  assert_int_equal(r->measures[0].fail_milli, 4000);
  assert_true(r->measures[0].has_fail && !r->measures[1].has_fail);
  assert_int_equal(r->measures[0].points_mp, 4000);
  assert_string_equal(r->measures[1].unit, "%");
  assert_int_equal(r->measures[1].poor_milli, -60000);
  assert_int_equal(r->n_ratings, 1);
  const BtRating *flow = &r->ratings[0];
  assert_int_equal(flow->n, 5);
  assert_int_equal(flow->points_mp, 4000);
  assert_string_equal(flow->anchors[0], "halting");
  assert_null(flow->anchors[1]);
  assert_string_equal(flow->anchors[2], "uneven");
  assert_string_equal(flow->anchors[4], "smooth");
  assert_int_equal(r->n_competencies, 1);
  g_autofree char *from = g_strjoinv(" ", r->competencies[0].from);
  assert_string_equal(from, "radius-lag fix-radius plunge reduce-first lag-then-long gap flow");
}

static void score(void **state) {
  const BtScoreRules *s = &((const BtRubric *)*state)->score;
  static const int weights[BT_COMPONENTS] = {40, 15, 0, 20, 5, 1000};
  static const gint64 floors[BT_COMPONENTS] = {60000, -1, -1, 0, -1, -1};
  static const bool optional[BT_COMPONENTS] = {[BT_PRODUCT] = true, [BT_RATING] = true};
  assert_int_equal(s->technique_points_mp, 12000);
  assert_int_equal(s->pass_milli, 66667);
  for (int i = 0; i < BT_COMPONENTS; i++) {
    assert_int_equal(s->weight[i], weights[i]);
    assert_int_equal(s->floor_milli[i], floors[i]);
    assert_int_equal(s->optional[i], optional[i]);
  }
}

static void every_promise_is_kept(void **state) {
  assert_null(rubric_broken_promise(*state));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(head_and_clock),
      cmocka_unit_test(text_and_its_hash),
      cmocka_unit_test(sites_and_actions),
      cmocka_unit_test(details),
      cmocka_unit_test(phases),
      cmocka_unit_test(a_plain_checkpoint),
      cmocka_unit_test(a_checkpoint_with_everything),
      cmocka_unit_test(the_other_checkpoints),
      cmocka_unit_test(lines_of_checkpoints),
      cmocka_unit_test(rules),
      cmocka_unit_test(choices_and_injects),
      cmocka_unit_test(errors),
      cmocka_unit_test(measures_ratings_competencies),
      cmocka_unit_test(score),
      cmocka_unit_test(every_promise_is_kept),
  };
  return cmocka_run_group_tests(tests, read_rubric, free_rubric);
}
