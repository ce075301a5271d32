// SPDX-License-Identifier: GPL-3.0-or-later
//
// Matching of timed entries: cases by hand, and every pairing tried on small random lists.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>

#include <benchtally/agreement.h>

#define ROUNDS  4000
#define MOST    7 // entries of a random list
#define SPAN_MS 40
#define THINGS  3

typedef struct {
  int pairs;
  gint64 off_ms;
} Score;

static Score score_of(const BtEventMatch *match, const BtTimedEvent *a, const BtTimedEvent *b) {
  Score score = {(int)match->pairs->len, 0};
  for (guint i = 0; i < match->pairs->len; i++) {
    const BtEventPair *pair = &g_array_index(match->pairs, BtEventPair, i);
    score.off_ms += ABS(a[pair->first].at_ms - b[pair->second].at_ms);
  }
  return score;
}

static bool better(Score x, Score y) {
  return x.pairs != y.pairs ? x.pairs > y.pairs : x.off_ms < y.off_ms;
}

// The oracle: both lists in order; an entry of the first is left alone or paired with any later one
// of the second.
static Score best_of(const BtTimedEvent *a, int n, const BtTimedEvent *b, int m, gint64 tolerance) {
  if (n == 0)
    return (Score){0, 0};
  Score best = best_of(a + 1, n - 1, b, m, tolerance);
  for (int j = 0; j < m; j++) {
    gint64 off = ABS(a[0].at_ms - b[j].at_ms);
    if (a[0].what != b[j].what || off > tolerance)
      continue;
    Score with = best_of(a + 1, n - 1, b + j + 1, m - j - 1, tolerance);
    with.pairs++;
    with.off_ms += off;
    if (better(with, best))
      best = with;
  }
  return best;
}

static int by_time(const void *x, const void *y) {
  const BtTimedEvent *a = x, *b = y;
  return a->at_ms != b->at_ms ? (a->at_ms > b->at_ms) - (a->at_ms < b->at_ms) : a->what - b->what;
}

static int random_list(GRand *dice, BtTimedEvent *list) {
  int n = g_rand_int_range(dice, 0, MOST + 1);
  for (int i = 0; i < n; i++)
    list[i] = (BtTimedEvent){g_rand_int_range(dice, 0, SPAN_MS), g_rand_int_range(dice, 0, THINGS)};
  return n;
}

static void no_pairing_is_better(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(20260304);
  for (int round = 0; round < ROUNDS; round++) {
    BtTimedEvent a[MOST], b[MOST];
    int n = random_list(dice, a), m = random_list(dice, b);
    gint64 tolerance = g_rand_int_range(dice, 0, SPAN_MS / 2);
    g_autoptr(BtEventMatch) match = bt_match_events(a, (gsize)n, b, (gsize)m, tolerance);
    Score found = score_of(match, a, b);
    qsort(a, (size_t)n, sizeof *a, by_time);
    qsort(b, (size_t)m, sizeof *b, by_time);
    Score best = best_of(a, n, b, m, tolerance);
    if (found.pairs != best.pairs || found.off_ms != best.off_ms)
      fail_msg("round %d: %d pairs %d ms off, best %d pairs %d ms off", round, found.pairs,
               (int)found.off_ms, best.pairs, (int)best.off_ms);
  }
  g_rand_free(dice);
}

// Each entry at most once, the same thing, within the tolerance, in order of time in both lists.
static void pairs_are_what_they_promise(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(7);
  for (int round = 0; round < ROUNDS; round++) {
    BtTimedEvent a[MOST], b[MOST];
    gsize n = (gsize)random_list(dice, a), m = (gsize)random_list(dice, b);
    gint64 tolerance = g_rand_int_range(dice, 0, SPAN_MS / 2), last_a = -1, last_b = -1;
    bool used_a[MOST] = {false}, used_b[MOST] = {false};
    g_autoptr(BtEventMatch) match = bt_match_events(a, n, b, m, tolerance);
    for (guint i = 0; i < match->pairs->len; i++) {
      BtEventPair pair = g_array_index(match->pairs, BtEventPair, i);
      assert_false(used_a[pair.first] || used_b[pair.second]);
      used_a[pair.first] = used_b[pair.second] = true;
      assert_int_equal(a[pair.first].what, b[pair.second].what);
      assert_true(ABS(a[pair.first].at_ms - b[pair.second].at_ms) <= tolerance);
      assert_true(a[pair.first].at_ms >= last_a && b[pair.second].at_ms >= last_b);
      last_a = a[pair.first].at_ms;
      last_b = b[pair.second].at_ms;
    }
    // Exchanging the observations changes neither the number nor the sum.
    g_autoptr(BtEventMatch) turned = bt_match_events(b, m, a, n, tolerance);
    Score one = score_of(match, a, b), other = score_of(turned, b, a);
    assert_int_equal(one.pairs, other.pairs);
    assert_int_equal(one.off_ms, other.off_ms);
  }
  g_rand_free(dice);
}

static void the_nearest_is_taken_among_equals(void **state) {
  (void)state;
  BtTimedEvent a[] = {{10000, 1}}, b[] = {{6000, 1}, {11000, 1}, {14000, 1}};
  g_autoptr(BtEventMatch) match = bt_match_events(a, 1, b, 3, 5000);
  assert_int_equal(match->pairs->len, 1);
  assert_int_equal(g_array_index(match->pairs, BtEventPair, 0).second, 1);
}

// 10 could pair with 11, its nearest; but then 7 or 14 stand alone. Number comes first.
static void more_pairs_go_before_nearer_ones(void **state) {
  (void)state;
  BtTimedEvent a[] = {{10000, 1}, {12000, 1}}, b[] = {{8000, 1}, {11000, 1}};
  g_autoptr(BtEventMatch) match = bt_match_events(a, 2, b, 2, 2500);
  assert_int_equal(match->pairs->len, 2);
  assert_int_equal(g_array_index(match->pairs, BtEventPair, 0).first, 0);
  assert_int_equal(g_array_index(match->pairs, BtEventPair, 0).second, 0);
}

static void what_stands_in_another_order_pairs_once(void **state) {
  (void)state;
  BtTimedEvent a[] = {{1000, 1}, {2000, 2}}, b[] = {{1000, 2}, {2000, 1}};
  g_autoptr(BtEventMatch) match = bt_match_events(a, 2, b, 2, 5000);
  assert_int_equal(match->pairs->len, 1);
}

static void the_tolerance_is_part_of_it(void **state) {
  (void)state;
  BtTimedEvent a[] = {{0, 1}}, b[] = {{5000, 1}};
  g_autoptr(BtEventMatch) at = bt_match_events(a, 1, b, 1, 5000);
  g_autoptr(BtEventMatch) below = bt_match_events(a, 1, b, 1, 4999);
  assert_int_equal(at->pairs->len, 1);
  assert_int_equal(below->pairs->len, 0);
}

static void nothing_matches_nothing(void **state) {
  (void)state;
  BtTimedEvent a[] = {{0, 1}};
  g_autoptr(BtEventMatch) none = bt_match_events(NULL, 0, NULL, 0, 5000);
  g_autoptr(BtEventMatch) one = bt_match_events(a, 1, NULL, 0, 5000);
  assert_int_equal(none->pairs->len, 0);
  assert_int_equal(one->pairs->len, 0);
  assert_int_equal(one->n_first, 1);
}

// 50,000 entries a side, one a second: the band, not the square, is what is worked through.
static void long_observations_cost_their_band(void **state) {
  (void)state;
  enum { LONG = 50000 };
  g_autofree BtTimedEvent *a = g_new(BtTimedEvent, LONG), *b = g_new(BtTimedEvent, LONG);
  for (int i = 0; i < LONG; i++) {
    a[i] = (BtTimedEvent){i * 1000, i % 11};
    b[i] = (BtTimedEvent){i * 1000 + 300, i % 11};
  }
  g_autoptr(BtEventMatch) match = bt_match_events(a, LONG, b, LONG, 5000);
  assert_int_equal(match->pairs->len, LONG);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(no_pairing_is_better),
      cmocka_unit_test(pairs_are_what_they_promise),
      cmocka_unit_test(the_nearest_is_taken_among_equals),
      cmocka_unit_test(more_pairs_go_before_nearer_ones),
      cmocka_unit_test(what_stands_in_another_order_pairs_once),
      cmocka_unit_test(the_tolerance_is_part_of_it),
      cmocka_unit_test(nothing_matches_nothing),
      cmocka_unit_test(long_observations_cost_their_band),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
