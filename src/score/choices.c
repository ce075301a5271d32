// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 6: every combination of options is scored to the end; the best is taken.
#include "score/score_parts.h"

#include <string.h>

// One combination, scored. Two are kept: the one at hand and the best so far.
typedef struct {
  BtBinding binding;
  BtTally tally;
  int *options;
} Combination;

typedef struct {
  BtScoring *s;
  Combination *best, *current;
  bool *open;  // per choice: an event of work matches one of its options
  bool *bound; // per choice: some combination bound an event to its option
} Search;

static void score_combination(BtScoring *s, Combination *combination) {
  BtTally *tally = &combination->tally;
  const BtBinding *binding = &combination->binding;
  bt__bind(s, &combination->binding, combination->options);
  bt__score_steps(s, binding, tally);
  bt__score_order(s, binding, tally);
  bt__score_time(s, binding, tally);
  bt__score_technique(s, binding, tally);
  bt__score_outcome(s, tally);
}

static Combination *combination_new(BtScoring *s) {
  Combination *combination = bt__arena_new(&s->arena, Combination, 1);
  bt__binding_init(s, &combination->binding);
  bt__tally_init(s, &combination->tally);
  combination->options = bt__arena_new(&s->arena, int, s->rubric->n_choices);
  return combination;
}

static int compare_totals(const BtTally *a, const BtTally *b) {
  if (!a->has_total || !b->has_total)
    return a->has_total - b->has_total;
  return mpq_cmp(a->total, b->total);
}

// given / possible of steps, 0/0 being 0.
static int compare_steps(const BtTally *a, const BtTally *b) {
  __extension__ typedef __int128 Wide;
  const BtComponentScore *x = &a->component[BT_STEPS], *y = &b->component[BT_STEPS];
  Wide left = (Wide)x->given_mp * (y->possible_mp > 0 ? y->possible_mp : 1);
  Wide right = (Wide)y->given_mp * (x->possible_mp > 0 ? x->possible_mp : 1);
  return (left > right) - (left < right);
}

static bool is_better(const BtTally *a, const BtTally *b) {
  if (a->outcome != b->outcome)
    return a->outcome < b->outcome;
  int order = compare_totals(a, b);
  if (order == 0)
    order = b->critical_short - a->critical_short;
  if (order == 0)
    order = compare_steps(a, b);
  return order > 0;
}

static bool binds_any(const BtBinding *binding, const BtOption *option) {
  for (int i = 0; i < option->n_checkpoints; i++) {
    if (binding->held[option->checkpoints[i]].n_bound > 0)
      return true;
  }
  return false;
}

// A choice that no event of work could ever touch needs no search.
static bool is_touched(const BtScoring *s, const BtChoice *choice) {
  for (int o = 0; o < choice->n_options; o++) {
    for (int i = 0; i < choice->options[o].n_checkpoints; i++) {
      if (s->matched[choice->options[o].checkpoints[i]] > 0)
        return true;
    }
  }
  return false;
}

// The next combination in listed order, the first choice most significant; false after the last.
static bool advance(const Search *search, int *options) {
  const BtRubric *rubric = search->s->rubric;
  for (int c = rubric->n_choices - 1; c >= 0; c--) {
    if (!search->open[c])
      continue;
    if (++options[c] < rubric->choices[c].n_options)
      return true;
    options[c] = 0;
  }
  return false;
}

static void note_bound(Search *search) {
  const BtRubric *rubric = search->s->rubric;
  const Combination *current = search->current;
  for (int c = 0; c < rubric->n_choices; c++) {
    const BtOption *option = &rubric->choices[c].options[current->options[c]];
    search->bound[c] = search->bound[c] || binds_any(&current->binding, option);
  }
}

// Keeps the combination at hand as the best; the one it beats makes room for the next.
static void keep_current(Search *search) {
  Combination *beaten = search->best;
  search->best = search->current;
  search->current = beaten;
  memcpy(beaten->options, search->best->options, sizeof(int) * (gsize)search->s->rubric->n_choices);
}

// Scores every combination of the open choices, the others at their first option.
static void search_all(Search *search) {
  memset(search->current->options, 0, sizeof(int) * (gsize)search->s->rubric->n_choices);
  bool first = true;
  do {
    score_combination(search->s, search->current);
    note_bound(search);
    if (first || is_better(&search->current->tally, &search->best->tally))
      keep_current(search);
    first = false;
  } while (advance(search, search->current->options));
}

// Closes the choices none of whose options holds an event in any combination. True if one of them
// was not taken at its first option.
static bool close_unbound(Search *search) {
  bool moved = false;
  for (int c = 0; c < search->s->rubric->n_choices; c++) {
    if (search->bound[c])
      continue;
    search->open[c] = false;
    moved = moved || search->best->options[c] != 0;
  }
  return moved;
}

void bt__take_choices(BtScoring *s, const BtBinding **binding, BtTally **tally) {
  const BtRubric *rubric = s->rubric;
  Search search = {.s = s,
                   .best = combination_new(s),
                   .current = combination_new(s),
                   .open = bt__arena_new(&s->arena, bool, rubric->n_choices),
                   .bound = bt__arena_new(&s->arena, bool, rubric->n_choices)};
  for (int c = 0; c < rubric->n_choices; c++)
    search.open[c] = is_touched(s, &rubric->choices[c]);
  search_all(&search);
  if (close_unbound(&search))
    search_all(&search);
  bt__tally_clear(&search.current->tally);
  *binding = &search.best->binding;
  *tally = &search.best->tally;
}
