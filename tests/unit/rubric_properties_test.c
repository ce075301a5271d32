// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the checks decide, compared with trying everything: matches as sets of all events of a small
// world, and circles of order rules by taking checkpoints away one after another.
#include "fuzz/rubric_promises.h"
#include "rubric/match_sets.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

// Matches ---------------------------------------------------------------------

// Three sites (and none); a whole detail of -2..9 (or not logged), a word of three (or not logged).
#define SITES    3
#define LOWEST   (-2)
#define HIGHEST  9
#define WORDS    3
#define NO_VALUE 99

static bool allows(const BtAllowed *allowed, int value) {
  for (int i = 0; i < allowed->n_ranges; i++) {
    if (bt_range_holds(&allowed->ranges[i], value * 1000))
      return true;
  }
  return bt__among(value, allowed->words, allowed->n_words);
}

static bool takes(const BtMatch *match, int site, const int values[2]) {
  if (match->n_sites > 0 && !bt__among(site, match->sites, match->n_sites))
    return false;
  for (int i = 0; i < match->n_details; i++) {
    int value = values[match->details[i].detail];
    if (value == NO_VALUE || !allows(&match->details[i], value))
      return false;
  }
  return true;
}

typedef struct {
  int in_a, in_b, in_both;
} Count;

static Count count_events(const BtMatch *a, const BtMatch *b) {
  Count count = {0, 0, 0};
  for (int site = -1; site < SITES; site++) {
    for (int n = LOWEST; n <= HIGHEST + 1; n++) {
      for (int word = -1; word < WORDS; word++) {
        int values[2] = {n > HIGHEST ? NO_VALUE : n, word < 0 ? NO_VALUE : word};
        bool x = takes(a, site, values), y = takes(b, site, values);
        count.in_a += x;
        count.in_b += y;
        count.in_both += x && y;
      }
    }
  }
  return count;
}

// A match of at most two sites, two ranges within 0..7 (so that beyond them there are values that
// only open ends hold) and two words.
typedef struct {
  BtMatch match;
  int sites[2], words[2];
  BtRange ranges[2];
  BtAllowed details[2];
} Sample;

static int pick_two(GRand *dice, int *into, int n) {
  into[0] = g_rand_int_range(dice, 0, n);
  into[1] = (into[0] + g_rand_int_range(dice, 1, n)) % n;
  return g_rand_int_range(dice, 1, 3);
}

static BtRange pick_range(GRand *dice) {
  gint64 lo = g_rand_int_range(dice, 0, 8), hi = g_rand_int_range(dice, (int)lo, 8);
  bool has_lo = g_rand_int_range(dice, 0, 6) > 0, has_hi = !has_lo || g_rand_int_range(dice, 0, 6);
  return (BtRange){lo * 1000, hi * 1000, has_lo, has_hi};
}

static void fill(GRand *dice, Sample *sample) {
  *sample = (Sample){.match = {.action = 0, .sites = sample->sites, .details = sample->details}};
  if (g_rand_boolean(dice))
    sample->match.n_sites = pick_two(dice, sample->sites, SITES);
  if (g_rand_boolean(dice)) {
    BtAllowed *number = &sample->details[sample->match.n_details++];
    *number = (BtAllowed){.detail = 0, .ranges = sample->ranges};
    number->n_ranges = g_rand_int_range(dice, 1, 3);
    for (int i = 0; i < 2; i++)
      sample->ranges[i] = pick_range(dice);
  }
  if (g_rand_boolean(dice)) {
    BtAllowed *word = &sample->details[sample->match.n_details++];
    *word = (BtAllowed){.detail = 1, .words = sample->words};
    word->n_words = pick_two(dice, sample->words, WORDS);
  }
}

static void matches_as_sets_of_events(void **state) {
  (void)state;
  BtDetail details[] = {{.kind = BT_DETAIL_WHOLE}, {.kind = BT_DETAIL_WORD, .n_words = WORDS}};
  BtAction action = {.details = details, .n_details = 2};
  BtRubric rubric = {.actions = &action, .n_actions = 1, .n_sites = SITES};
  GRand *dice = g_rand_new_with_seed(20261);
  int inside = 0, apart = 0;
  for (int i = 0; i < 20000; i++) {
    Sample a, b;
    fill(dice, &a);
    fill(dice, &b);
    Count count = count_events(&a.match, &b.match);
    assert_int_equal(bt__match_inside(&rubric, &a.match, &b.match), count.in_both == count.in_a);
    assert_int_equal(bt__match_overlaps(&rubric, &a.match, &b.match), count.in_both > 0);
    inside += count.in_both == count.in_a && count.in_a < count.in_b;
    apart += count.in_both == 0;
  }
  g_rand_free(dice);
  assert_true(inside > 1000 && apart > 1000); // so that both answers were tried
}

// Circles ---------------------------------------------------------------------

#define CHECKPOINTS 5

typedef struct {
  int first, then; // masks of checkpoints
  bool of_inject, suspended;
} Edge;

static Edge pick_rule(GRand *dice, bool of_inject) {
  Edge edge = {.of_inject = of_inject,
               .suspended = !of_inject && g_rand_int_range(dice, 0, 4) == 0};
  edge.first = 1 << g_rand_int_range(dice, 0, CHECKPOINTS);
  do {
    edge.then = 1 << g_rand_int_range(dice, 0, CHECKPOINTS);
    if (g_rand_int_range(dice, 0, 4) == 0)
      edge.then |= 1 << g_rand_int_range(dice, 0, CHECKPOINTS);
  } while (edge.first & edge.then);
  return edge;
}

static bool has_circle(const Edge *edges, int n, bool with_inject) {
  int left = (1 << CHECKPOINTS) - 1;
  for (bool moved = true; moved && left;) {
    int waiting = 0;
    for (int i = 0; i < n; i++) {
      bool counts = with_inject ? !edges[i].suspended : !edges[i].of_inject;
      if (counts && (edges[i].first & left))
        waiting |= edges[i].then;
    }
    moved = (left & ~waiting) != 0;
    left &= waiting;
  }
  return left != 0;
}

static void append_side(GString *text, const char *key, int mask) {
  g_string_append_printf(text, "%s: [", key);
  bool more = false;
  for (int c = 0; c < CHECKPOINTS; c++) {
    if (mask & 1 << c) {
      g_string_append_printf(text, "%sc%d", more ? ", " : "", c);
      more = true;
    }
  }
  g_string_append(text, "], ");
}

static void append_rules(GString *text, const Edge *edges, int n, bool of_inject) {
  g_string_append(text, of_inject ? "    order:\n" : "order:\n");
  for (int i = 0; i < n; i++) {
    if (edges[i].of_inject != of_inject)
      continue;
    g_string_append_printf(text, "      - {id: r%d, ", i);
    append_side(text, "first", edges[i].first);
    append_side(text, "then", edges[i].then);
    g_string_append(text, "lose: 1, why: So.}\n");
  }
}

static GString *write_rubric(const Edge *edges, int n) {
  GString *text = g_string_new("benchtally: 1\nrubric: circles\nedition: 1\ntitle: Circles\n"
                               "cautions: [None.]\nactions: {cut: {title: Cut}}\n"
                               "score: {weights: {steps: 1}, pass: 50}\nphases:\n"
                               "  - id: p\n    title: P\n    checkpoints:\n");
  for (int c = 0; c < CHECKPOINTS; c++)
    g_string_append_printf(text, "      - {id: c%d, title: C, match: {action: cut}, points: 1}\n",
                           c);
  append_rules(text, edges, n, false);
  g_string_append(text, "injects:\n  - id: i\n    title: I\n");
  bool any = false;
  for (int i = 0; i < n; i++) {
    if (!edges[i].suspended)
      continue;
    g_string_append_printf(text, "%sr%d", any ? ", " : "    suspends: [", i);
    any = true;
  }
  g_string_append(text, any ? "]\n" : "");
  append_rules(text, edges, n, true);
  return text;
}

static void circles_of_rules(void **state) {
  (void)state;
  GRand *dice = g_rand_new_with_seed(20262);
  int base = 0, only_inject = 0, none = 0;
  for (int round = 0; round < 3000; round++) {
    Edge edges[6];
    for (int i = 0; i < 6; i++)
      edges[i] = pick_rule(dice, i >= 4);
    GString *text = write_rubric(edges, 6);
    g_autoptr(GPtrArray) faults = bt_faults_new();
    g_autoptr(BtRubric) rubric = bt_rubric_read(text->str, text->len, NULL, faults);
    bool of_base = has_circle(edges, 6, false), of_inject = has_circle(edges, 6, true);
    if ((rubric == NULL) != (of_base || of_inject))
      fail_msg("%s\n%s", rubric ? "accepted with a circle" : "refused without one", text->str);
    for (guint i = 0; i < faults->len; i++)
      assert_non_null(strstr(((BtFault *)faults->pdata[i])->wrong, "closes a circle"));
    g_string_free(text, TRUE);
    base += of_base;
    only_inject += of_inject && !of_base;
    none += !of_inject && !of_base;
  }
  g_rand_free(dice);
  assert_true(base > 300 && only_inject > 300 && none > 300);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(matches_as_sets_of_events),
      cmocka_unit_test(circles_of_rules),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
