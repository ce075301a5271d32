// SPDX-License-Identifier: GPL-3.0-or-later
//
// Sections 2 and 3: the clock, the injects and what was not seen. Read once; no combination of
// options changes it.
#include "score/score_parts.h"

// A walk through the log up to its end.
typedef struct {
  BtScoring *s;
  int start; // log index of the start that counts; -1: none
  int end;   // log index of the end; -1: there is none
  gint64 t0_ms;
  bool running, paused;
  gint64 gathered_ms; // active time up to the latest pause
  gint64 since_ms;    // running since
  gint64 paused_ms;   // paused since
  int paused_work;    // work index at the latest pause
} Walk;

static int compare_log_order(gconstpointer a, gconstpointer b, gpointer unused) {
  const BtEvent *x = *(const BtEvent *const *)a, *y = *(const BtEvent *const *)b;
  (void)unused;
  if (x->at_ms != y->at_ms)
    return x->at_ms < y->at_ms ? -1 : 1;
  return x->seq < y->seq ? -1 : x->seq > y->seq;
}

static void order_log(BtScoring *s, const BtObservation *observation) {
  s->n_log = (int)observation->events->len;
  s->log = bt__arena_new(&s->arena, const BtEvent *, s->n_log);
  bool in_order = true;
  for (int i = 0; i < s->n_log; i++) {
    s->log[i] = &g_array_index(observation->events, BtEvent, i);
    in_order = in_order && (i == 0 || compare_log_order(&s->log[i - 1], &s->log[i], NULL) < 0);
  }
  if (!in_order)
    g_qsort_with_data(s->log, s->n_log, sizeof(const BtEvent *), compare_log_order, NULL);
}

// Log index of the first event of `kind` from log index `from` on, or -1.
static int find_kind(const BtScoring *s, BtEventKind kind, int from) {
  for (int i = from; i < s->n_log; i++) {
    if (s->log[i]->kind == kind)
      return i;
  }
  return -1;
}

static int last_that_ends(const BtScoring *s) {
  for (int i = s->n_log - 1; i >= 0; i--) {
    BtEventKind kind = s->log[i]->kind;
    if (kind != BT_EVENT_RATE && kind != BT_EVENT_MEASURE && kind != BT_EVENT_NOTE)
      return i;
  }
  return -1;
}

static void find_ends(Walk *walk) {
  BtScoring *s = walk->s;
  walk->start = find_kind(s, BT_EVENT_START, 0);
  s->started = walk->start >= 0;
  walk->t0_ms = s->started ? s->log[walk->start]->at_ms : 0;
  walk->since_ms = walk->t0_ms;
  walk->running = !s->started;
  int finish = find_kind(s, BT_EVENT_FINISH, walk->start + 1);
  s->finished = finish >= 0;
  walk->end = s->finished ? finish : last_that_ends(s);
}

static gint64 active_ms(const Walk *walk, gint64 at_ms) {
  return walk->running ? walk->gathered_ms + at_ms - walk->since_ms : walk->gathered_ms;
}

// Lists the work since the latest pause that is later than it and earlier than `until_ms`.
static void list_while_paused(const Walk *walk, gint64 until_ms) {
  BtScoring *s = walk->s;
  for (int w = walk->paused_work; w < s->n_work; w++) {
    const BtEvent *event = s->work[w].event;
    if (event->at_ms > walk->paused_ms && event->at_ms < until_ms)
      bt__list(s, BT_LIST_WHILE_PAUSED, event);
  }
}

static bool take_pause(Walk *walk, const BtEvent *event) {
  if (!walk->running)
    return false;
  walk->gathered_ms = active_ms(walk, event->at_ms);
  walk->running = false;
  walk->paused = true;
  walk->paused_ms = event->at_ms;
  walk->paused_work = walk->s->n_work;
  return true;
}

static bool take_resume(Walk *walk, const BtEvent *event) {
  if (!walk->paused)
    return false;
  list_while_paused(walk, event->at_ms);
  walk->running = true;
  walk->paused = false;
  walk->since_ms = event->at_ms;
  return true;
}

static bool take_inject(Walk *walk, const BtEvent *event) {
  BtScoring *s = walk->s;
  if (s->inject_ms[event->item] != BT__NEVER_MS)
    return false;
  bool from_beginning = event->at_ms <= walk->t0_ms;
  gint64 at_ms = from_beginning ? BT__BEGINNING_MS : event->at_ms;
  s->inject_ms[event->item] = at_ms;
  s->injected[s->n_injected++] = (BtInjected){event->item, at_ms, from_beginning ? 0 : s->n_work};
  const BtInject *inject = &s->rubric->injects[event->item];
  for (int i = 0; i < inject->n_suspends; i++) {
    gint64 *suspended_ms = &s->suspended_ms[inject->suspends[i]];
    *suspended_ms = MIN(*suspended_ms, at_ms);
  }
  BtInjectRow row = {event->item, event->seq};
  g_array_append_val(s->ledger->injects, row);
  return true;
}

static void take_work(Walk *walk, const BtEvent *event) {
  BtScoring *s = walk->s;
  s->work[s->n_work++] = (BtWork){.event = event, .active_ms = active_ms(walk, event->at_ms)};
  if (event->at_ms < walk->t0_ms)
    bt__list(s, BT_LIST_BEFORE_START, event);
}

// False if the event is ignored.
static bool take_event(Walk *walk, int i) {
  const BtEvent *event = walk->s->log[i];
  switch (event->kind) {
  case BT_EVENT_START:
    walk->running = walk->running || i == walk->start;
    return i == walk->start;
  case BT_EVENT_FINISH:
    return i == walk->end && walk->s->finished;
  case BT_EVENT_PAUSE:
    return take_pause(walk, event);
  case BT_EVENT_RESUME:
    return take_resume(walk, event);
  case BT_EVENT_INJECT:
    return take_inject(walk, event);
  case BT_EVENT_WORK:
    take_work(walk, event);
    return true;
  default:
    return true;
  }
}

static void list_quiet(BtScoring *s, int i, gint64 stretch_ms) {
  gint64 quiet_ms = s->rubric->clock.quiet_ms;
  if (quiet_ms > 0 && stretch_ms > quiet_ms) {
    BtQuiet quiet = {s->log[i - 1]->seq, s->log[i]->seq, stretch_ms};
    g_array_append_val(s->ledger->quiet, quiet);
  }
}

static void walk_to_end(Walk *walk) {
  BtScoring *s = walk->s;
  gint64 before_ms = 0;
  for (int i = 0; i <= walk->end; i++) {
    if (!take_event(walk, i))
      bt__list(s, BT_LIST_IGNORED, s->log[i]);
    s->total_ms = active_ms(walk, s->log[i]->at_ms);
    if (i > 0)
      list_quiet(s, i, s->total_ms - before_ms);
    before_ms = s->total_ms;
  }
  if (walk->paused)
    list_while_paused(walk, BT__NEVER_MS);
}

static void list_after_end(BtScoring *s, int end) {
  for (int i = end + 1; i < s->n_log; i++) {
    switch (s->log[i]->kind) {
    case BT_EVENT_ERROR:
    case BT_EVENT_RATE:
    case BT_EVENT_MEASURE:
    case BT_EVENT_NOTE:
    case BT_EVENT_UNSEEN:
      break;
    default:
      bt__list(s, BT_LIST_AFTER_END, s->log[i]);
    }
  }
}

static void read_unseen(BtScoring *s) {
  for (int i = 0; i < s->n_log; i++) {
    const BtEvent *event = s->log[i];
    if (event->kind != BT_EVENT_UNSEEN)
      continue;
    bt__list(s, BT_LIST_UNSEEN, event);
    if (event->item >= 0) {
      s->unseen[event->item] = true;
      s->any_unseen = true;
    }
    if (event->component >= 0)
      s->component_unseen[event->component] = true;
  }
}

static gint64 *never(BtArena *arena, int n) {
  gint64 *times_ms = bt__arena_new(arena, gint64, n);
  for (int i = 0; i < n; i++)
    times_ms[i] = BT__NEVER_MS;
  return times_ms;
}

// Those from the beginning take effect before those that stand among the work, whatever the order.
// (An inject at t0 never stands later in the log than one after t0, so they are in order already.)
void bt__read_log(BtScoring *s, const BtObservation *observation) {
  const BtRubric *rubric = s->rubric;
  order_log(s, observation);
  s->work = bt__arena_new(&s->arena, BtWork, s->n_log);
  s->injected = bt__arena_new(&s->arena, BtInjected, rubric->n_injects);
  s->inject_ms = never(&s->arena, rubric->n_injects);
  s->suspended_ms = never(&s->arena, rubric->n_rules);
  s->unseen = bt__arena_new(&s->arena, bool, rubric->n_checkpoints);
  Walk walk = {.s = s};
  find_ends(&walk);
  walk_to_end(&walk);
  list_after_end(s, walk.end);
  read_unseen(s);
  s->ledger->finished = s->finished;
  s->ledger->total_ms = s->total_ms;
}
