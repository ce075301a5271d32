// SPDX-License-Identifier: GPL-3.0-or-later
//
// Sections 3 and 4: which event of work stands for which checkpoint, under one combination of
// options.
#include "score/score_parts.h"

#include <string.h>

// A walk through the work.
typedef struct {
  const BtScoring *s;
  BtBinding *b;
} Walk;

void bt__binding_init(BtScoring *s, BtBinding *binding) {
  *binding = (BtBinding){.placed = bt__arena_new(&s->arena, BtPlaced, s->n_work),
                         .held = bt__arena_new(&s->arena, BtHeld, s->rubric->n_checkpoints),
                         .newest_there = bt__arena_new(&s->arena, int, s->n_places),
                         .failing_there = bt__arena_new(&s->arena, int, s->n_places)};
}

static void reset_held(const BtRubric *rubric, BtBinding *b) {
  for (int c = 0; c < rubric->n_checkpoints; c++) {
    const BtCheckpoint *checkpoint = &rubric->checkpoints[c];
    bool taken = checkpoint->choice < 0 || b->options[checkpoint->choice] == checkpoint->option;
    b->held[c] = (BtHeld){.taken = taken,
                          .added_ms = BT__BEGINNING_MS,
                          .dropped_ms = BT__NEVER_MS,
                          .first_bound = -1,
                          .last_bound = -1};
  }
  for (int i = 0; i < rubric->n_injects; i++) {
    for (int j = 0; j < rubric->injects[i].n_adds; j++)
      b->held[rubric->injects[i].adds[j]].added_ms = BT__NEVER_MS;
  }
}

static void reset(const BtScoring *s, BtBinding *b, const int *options) {
  b->options = options;
  b->phase = -1;
  reset_held(s->rubric, b);
  for (int p = 0; p < s->n_places; p++) {
    b->newest_there[p] = -1;
    b->failing_there[p] = 0;
  }
}

bool bt__in_force(const BtHeld *held) {
  return held->taken && held->added_ms != BT__NEVER_MS && held->dropped_ms == BT__NEVER_MS;
}

BtWhyOut bt__why_out(const BtScoring *s, const BtBinding *binding, int checkpoint) {
  const BtHeld *held = &binding->held[checkpoint];
  if (!held->taken)
    return BT_OUT_NOT_TAKEN;
  if (held->added_ms == BT__NEVER_MS)
    return BT_OUT_NOT_ADDED;
  if (held->dropped_ms != BT__NEVER_MS)
    return BT_OUT_DROPPED;
  return s->unseen[checkpoint] ? BT_OUT_UNSEEN : BT_IN_SCORE;
}

// Injects ---------------------------------------------------------------------

static void overtake(Walk *walk, int c) {
  BtBinding *b = walk->b;
  for (int w = b->held[c].first_bound; w >= 0; w = b->placed[w].next_bound) {
    b->placed[w].place = BT__OVERTAKEN;
    b->failing_there[walk->s->work[w].place] -= !b->placed[w].state.conforms;
  }
  b->held[c].n_bound = b->held[c].n_conforming = b->held[c].n_verified = 0;
}

static void take_inject(Walk *walk, const BtInjected *injected) {
  const BtRubric *rubric = walk->s->rubric;
  const BtInject *inject = &rubric->injects[injected->inject];
  for (int i = 0; i < inject->n_adds; i++) {
    BtHeld *held = &walk->b->held[inject->adds[i]];
    if (held->added_ms == BT__NEVER_MS)
      held->added_ms = injected->at_ms;
  }
  for (int i = 0; i < inject->n_drops; i++) {
    int c = inject->drops[i];
    BtHeld *held = &walk->b->held[c];
    if (held->dropped_ms != BT__NEVER_MS || held->n_conforming >= rubric->checkpoints[c].least)
      continue;
    held->dropped_ms = injected->at_ms;
    overtake(walk, c);
  }
}

// Redos stand or fall with the event they stand in for.
static void overtake_redos(const BtScoring *s, BtBinding *b) {
  for (int w = 0; w < s->n_work; w++) {
    BtPlaced *placed = &b->placed[w];
    if (placed->place == BT__REDO && b->placed[placed->stands_for].place == BT__OVERTAKEN)
      placed->place = BT__OVERTAKEN;
  }
}

// Standing in -----------------------------------------------------------------

static void count_state(Walk *walk, int plain, int sign) {
  BtPlaced *placed = &walk->b->placed[plain];
  BtHeld *held = &walk->b->held[placed->checkpoint];
  held->n_conforming += sign * placed->state.conforms;
  held->n_verified += sign * (placed->state.conforms && !placed->state.not_verified);
  walk->b->failing_there[walk->s->work[plain].place] += sign * !placed->state.conforms;
}

static void stand_in(Walk *walk, int w, int plain, BtState state) {
  BtPlaced *placed = &walk->b->placed[w], *original = &walk->b->placed[plain];
  placed->place = BT__REDO;
  placed->checkpoint = original->checkpoint;
  placed->stands_for = plain;
  count_state(walk, plain, -1);
  original->last = w;
  original->state = state;
  count_state(walk, plain, 1);
  walk->b->phase = walk->s->rubric->checkpoints[original->checkpoint].phase;
}

static bool told_apart(const BtScoring *s, const BtEvent *a, const BtEvent *b) {
  return !bt__not_told_apart(&s->rubric->actions[a->action], a, b);
}

// The bound event that a redo naming sequence number `seq` means, or -1.
static int named_event(const Walk *walk, int w, int seq) {
  int named = bt__find_work(walk->s, seq);
  if (named < 0 || named >= w)
    return -1;
  const BtPlaced *placed = &walk->b->placed[named];
  if (placed->place != BT__BOUND && placed->place != BT__REDO)
    return -1;
  int plain = placed->stands_for;
  const BtEvent *event = walk->s->work[plain].event, *redo = walk->s->work[w].event;
  bool stands = walk->b->placed[plain].place == BT__BOUND;
  return stands && event->action == redo->action ? plain : -1;
}

// Of the bound events at its place that nothing tells apart from it: the latest that does not
// conform; if all conform the latest; -1 if there is none.
static int unnamed_event(const Walk *walk, int w) {
  const BtWork *work = &walk->s->work[w];
  int latest = -1;
  for (int e = walk->b->newest_there[work->place]; e >= 0; e = walk->b->placed[e].before_there) {
    const BtPlaced *placed = &walk->b->placed[e];
    if (placed->place != BT__BOUND || told_apart(walk->s, work->event, walk->s->work[e].event))
      continue;
    if (!placed->state.conforms)
      return e;
    if (latest < 0)
      latest = e;
    if (walk->b->failing_there[work->place] == 0)
      break;
  }
  return latest;
}

static bool bind_redo(Walk *walk, int w) {
  const BtEvent *event = walk->s->work[w].event;
  int plain = event->redo > 0 ? named_event(walk, w, event->redo) : unnamed_event(walk, w);
  if (plain < 0) {
    walk->b->placed[w].redo_of_nothing = true;
    return false;
  }
  int c = walk->b->placed[plain].checkpoint;
  stand_in(walk, w, plain, bt__state_for(&walk->s->rubric->checkpoints[c], event));
  return true;
}

// Plain events ----------------------------------------------------------------

// The checkpoint that an event of work fills, or -1 if all that it matches are full.
static int open_checkpoint(const Walk *walk, const BtWork *work) {
  int short_one = -1, open_one = -1;
  for (int i = 0; i < work->n_matches; i++) {
    int c = work->matches[i];
    const BtHeld *held = &walk->b->held[c];
    const BtCheckpoint *checkpoint = &walk->s->rubric->checkpoints[c];
    if (!bt__in_force(held) || held->n_bound >= checkpoint->most)
      continue;
    if (open_one < 0)
      open_one = c;
    if (held->n_bound >= checkpoint->least)
      continue;
    if (checkpoint->phase == walk->b->phase)
      return c;
    if (short_one < 0)
      short_one = c;
  }
  return short_one >= 0 ? short_one : open_one;
}

static void bind_to(Walk *walk, int w, int c) {
  BtBinding *b = walk->b;
  BtHeld *held = &b->held[c];
  BtPlaced *placed = &b->placed[w];
  int *newest = &b->newest_there[walk->s->work[w].place];
  placed->place = BT__BOUND;
  placed->checkpoint = c;
  placed->state = bt__state_for(&walk->s->rubric->checkpoints[c], walk->s->work[w].event);
  placed->before_there = *newest;
  *newest = w;
  if (held->last_bound >= 0) {
    b->placed[held->last_bound].next_bound = w;
  } else {
    held->first_bound = w;
  }
  held->last_bound = w;
  held->n_bound++;
  count_state(walk, w, 1);
  b->phase = walk->s->rubric->checkpoints[c].phase;
}

// The earliest event of full checkpoint `c` that does not conform, at the same place as `w` and not
// told apart from it; -1 if there is none.
static int failing_like(const Walk *walk, int w, int c) {
  const BtHeld *held = &walk->b->held[c];
  const BtWork *work = &walk->s->work[w];
  if (held->n_conforming == held->n_bound || walk->b->failing_there[work->place] == 0)
    return -1;
  for (int e = held->first_bound; e >= 0; e = walk->b->placed[e].next_bound) {
    const BtWork *earlier = &walk->s->work[e];
    if (earlier->place == work->place && !walk->b->placed[e].state.conforms &&
        !told_apart(walk->s, work->event, earlier->event))
      return e;
  }
  return -1;
}

static bool take_as_redo(Walk *walk, int w) {
  const BtWork *work = &walk->s->work[w];
  for (int i = 0; i < work->n_matches; i++) {
    int c = work->matches[i];
    if (!bt__in_force(&walk->b->held[c]))
      continue;
    int failing = failing_like(walk, w, c);
    if (failing < 0)
      continue;
    BtState state = bt__state_for(&walk->s->rubric->checkpoints[c], work->event);
    if (!state.conforms)
      continue;
    stand_in(walk, w, failing, state);
    walk->b->placed[w].taken_as_redo = true;
    return true;
  }
  return false;
}

static int first_match(const Walk *walk, const BtWork *work) {
  for (int i = 0; i < work->n_matches; i++) {
    if (bt__in_force(&walk->b->held[work->matches[i]]))
      return work->matches[i];
  }
  return -1;
}

static void bind_plain(Walk *walk, int w) {
  const BtWork *work = &walk->s->work[w];
  int c = open_checkpoint(walk, work);
  if (c >= 0) {
    bind_to(walk, w, c);
  } else if (!take_as_redo(walk, w)) {
    BtPlaced *placed = &walk->b->placed[w];
    placed->checkpoint = first_match(walk, work);
    placed->place = placed->checkpoint >= 0 ? BT__EXTRA : BT__UNPLANNED;
  }
}

void bt__bind(const BtScoring *s, BtBinding *binding, const int *options) {
  Walk walk = {s, binding};
  reset(s, binding, options);
  int next_inject = 0;
  for (int w = 0; w < s->n_work; w++) {
    while (next_inject < s->n_injected && s->injected[next_inject].before_work <= w)
      take_inject(&walk, &s->injected[next_inject++]);
    binding->placed[w] = (BtPlaced){
        .checkpoint = -1, .stands_for = w, .last = w, .next_bound = -1, .before_there = -1};
    if (s->work[w].event->redo == BT_REDO_NO || !bind_redo(&walk, w))
      bind_plain(&walk, w);
  }
  while (next_inject < s->n_injected)
    take_inject(&walk, &s->injected[next_inject++]);
  overtake_redos(s, binding);
}
