// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/timeline.h"

#include "words/ledger_parts.h"
#include "words/words.h"

// What the ledger says of one event.
typedef struct {
  int phase; // -1: none
  BtMarkRole role;
  const char *result;
} Standing;

// Standings -------------------------------------------------------------------

static void stand(GHashTable *standings, const GArray *seqs, int phase, BtMarkRole role,
                  const char *result) {
  for (guint i = 0; i < seqs->len; i++) {
    Standing *standing = g_new(Standing, 1);
    *standing = (Standing){phase, role, result};
    g_hash_table_insert(standings, GINT_TO_POINTER(g_array_index(seqs, int, i)), standing);
  }
}

static bool is_wrong(const BtAttempt *attempt, const BtCheckpoint *checkpoint, int seq) {
  const BtEvent *event = bt__event_of(attempt->observation, seq);
  g_autofree char *wrong =
      event ? bt__wrong_details(&attempt->rubric->actions[checkpoint->match.action], checkpoint,
                                event)
            : NULL;
  return wrong != NULL;
}

// A step that was wrong when it was done stays so in the picture, even if it was redone.
static void stand_wrong(GHashTable *standings, const BtAttempt *attempt, const BtStepRow *row) {
  const BtCheckpoint *checkpoint = &attempt->rubric->checkpoints[row->checkpoint];
  for (guint i = 0; i < row->conforming->len; i++) {
    int seq = g_array_index(row->conforming, int, i);
    if (!is_wrong(attempt, checkpoint, seq))
      continue;
    Standing *standing = g_hash_table_lookup(standings, GINT_TO_POINTER(seq));
    standing->role = BT_ROLE_NOT_AS_EXPECTED;
    standing->result = "put right later";
  }
}

static void stand_steps(GHashTable *standings, const BtAttempt *attempt) {
  const GArray *steps = attempt->ledger->steps;
  for (guint i = 0; i < steps->len; i++) {
    const BtStepRow *row = &g_array_index(steps, BtStepRow, i);
    int phase = attempt->rubric->checkpoints[row->checkpoint].phase;
    stand(standings, row->bound, phase, BT_ROLE_NOT_AS_EXPECTED, "not as expected");
    stand(standings, row->conforming, phase, BT_ROLE_AS_EXPECTED, "as expected");
    stand(standings, row->redone, phase, BT_ROLE_REDO, "redone");
    stand(standings, row->extra, phase, BT_ROLE_OTHER_WORK, "beyond the number asked for");
    stand_wrong(standings, attempt, row);
  }
}

// By sequence number. The lists come last: they say more than the rows do.
static GHashTable *standings_of(const BtAttempt *attempt) {
  static const struct {
    BtList list;
    const char *result;
  } lists[] = {{BT_LIST_UNPLANNED, "not asked for"},
               {BT_LIST_OVERTAKEN, "overtaken by a complication"},
               {BT_LIST_AFTER_END, "after the end"}};
  GHashTable *standings = g_hash_table_new_full(NULL, NULL, NULL, g_free);
  stand_steps(standings, attempt);
  for (gsize i = 0; i < G_N_ELEMENTS(lists); i++)
    stand(standings, attempt->ledger->list[lists[i].list], -1, BT_ROLE_OTHER_WORK, lists[i].result);
  return standings;
}

// Order -----------------------------------------------------------------------

static const char *order_of(const BtLedger *ledger, int seq) {
  for (guint i = 0; i < ledger->displaced->len; i++) {
    const BtDisplaced *row = &g_array_index(ledger->displaced, BtDisplaced, i);
    if (row->event == seq)
      return row->too_late ? "too late" : "too early";
  }
  for (guint i = 0; i < ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(ledger->order, BtOrderRow, i);
    if (row->broken && row->then_event == seq)
      return "before its time";
  }
  return NULL;
}

// The letter of the first kind of error that was found at this event.
static char letter_of(const BtLedger *ledger, int seq) {
  char letter = 'A';
  for (guint i = 0; i < ledger->technique->len; i++) {
    const BtTechniqueRow *row = &g_array_index(ledger->technique, BtTechniqueRow, i);
    if (row->count == 0)
      continue;
    if (bt__ints_hold(row->events, seq))
      return letter;
    letter = letter == 'Z' ? 'Z' : (char)(letter + 1);
  }
  return 0;
}

// Lanes -----------------------------------------------------------------------

typedef struct {
  BtTimeline *timeline;
  const BtAttempt *attempt;
  GHashTable *standings;
  int other_lane, error_lane;
  gint64 worked_until_ms; // where the next stretch of work begins
} Layout;

static int add_lane(BtTimeline *timeline, const char *title, gint64 target_ms) {
  const BtLane lane = {title, -1, target_ms};
  g_array_append_val(timeline->lanes, lane);
  return (int)timeline->lanes->len - 1;
}

static void add_lanes(Layout *layout) {
  const BtRubric *rubric = layout->attempt->rubric;
  const BtLedger *ledger = layout->attempt->ledger;
  for (int i = 0; i < rubric->n_phases; i++) {
    gint64 target_ms = rubric->phases[i].target_ms;
    add_lane(layout->timeline, rubric->phases[i].title, target_ms > 0 ? target_ms : -1);
  }
  bool other = ledger->list[BT_LIST_UNPLANNED]->len > 0 ||
               ledger->list[BT_LIST_OVERTAKEN]->len > 0 || ledger->list[BT_LIST_AFTER_END]->len > 0;
  layout->other_lane = other ? add_lane(layout->timeline, "Other work", -1) : -1;
  bool errors = false;
  for (guint i = 0; i < ledger->technique->len; i++)
    errors |= g_array_index(ledger->technique, BtTechniqueRow, i).count > 0;
  layout->error_lane = errors ? add_lane(layout->timeline, "Technique errors", -1) : -1;
  layout->timeline->clock_lane = add_lane(layout->timeline, "Clock", -1);
}

// Events ----------------------------------------------------------------------

static void place_work(Layout *layout, BtPlaced *placed) {
  static const Standing unknown = {-1, BT_ROLE_OTHER_WORK, "not asked for"};
  const Standing *standing =
      g_hash_table_lookup(layout->standings, GINT_TO_POINTER(placed->event->seq));
  if (!standing)
    standing = &unknown;
  placed->role = standing->role;
  placed->result = standing->result;
  placed->lane = standing->phase >= 0 ? standing->phase : layout->other_lane;
  placed->from_ms = layout->worked_until_ms;
  layout->worked_until_ms = MAX(layout->worked_until_ms, placed->event->at_ms);
  if (standing->phase < 0)
    return;
  BtLane *lane = &g_array_index(layout->timeline->lanes, BtLane, (guint)standing->phase);
  if (lane->begin_ms < 0)
    lane->begin_ms = placed->from_ms;
}

static void place_other(Layout *layout, BtPlaced *placed) {
  placed->role = BT_ROLE_REMARK;
  placed->result = "noted";
  switch (placed->event->kind) {
  case BT_EVENT_ERROR:
    placed->role = BT_ROLE_FOUND_ERROR;
    placed->result = "technique error";
    placed->lane = layout->error_lane;
    break;
  case BT_EVENT_INJECT:
    placed->role = BT_ROLE_COMPLICATION;
    placed->result = "complication";
    placed->lane = layout->timeline->clock_lane;
    break;
  case BT_EVENT_START:
    layout->worked_until_ms = placed->event->at_ms; // work is counted from here
    G_GNUC_FALLTHROUGH;
  case BT_EVENT_FINISH:
  case BT_EVENT_PAUSE:
  case BT_EVENT_RESUME:
    placed->role = BT_ROLE_CLOCK;
    placed->result = "clock";
    placed->lane = layout->timeline->clock_lane;
    break;
  case BT_EVENT_WORK:
  case BT_EVENT_RATE:
  case BT_EVENT_MEASURE:
  case BT_EVENT_UNSEEN:
  case BT_EVENT_NOTE:
    break;
  }
}

static void place(Layout *layout, const BtEvent *event) {
  BtPlaced placed = {.event = event,
                     .lane = -1,
                     .from_ms = -1,
                     .order = order_of(layout->attempt->ledger, event->seq),
                     .letter = letter_of(layout->attempt->ledger, event->seq)};
  if (event->kind == BT_EVENT_WORK)
    place_work(layout, &placed);
  else
    place_other(layout, &placed);
  if (bt__ints_hold(layout->attempt->ledger->list[BT_LIST_IGNORED], event->seq)) {
    placed.result = "ignored";
    placed.lane = -1;
  }
  if (placed.lane >= 0)
    layout->timeline->end_ms = MAX(layout->timeline->end_ms, event->at_ms);
  g_array_append_val(layout->timeline->marks, placed);
}

// Log order: time, then sequence.
static int by_time(gconstpointer a, gconstpointer b) {
  const BtEvent *x = *(BtEvent *const *)a, *y = *(BtEvent *const *)b;
  if (x->at_ms != y->at_ms)
    return x->at_ms < y->at_ms ? -1 : 1;
  return x->seq - y->seq;
}

static void place_events(Layout *layout) {
  g_autoptr(GPtrArray) events = g_ptr_array_new();
  const GArray *logged = layout->attempt->observation->events;
  for (guint i = 0; i < logged->len; i++)
    g_ptr_array_add(events, &g_array_index(logged, BtEvent, i));
  g_ptr_array_sort(events, by_time);
  for (guint i = 0; i < events->len; i++)
    place(layout, g_ptr_array_index(events, i));
}

static void find_pauses(BtTimeline *timeline) {
  gint64 from_ms = -1;
  for (guint i = 0; i < timeline->marks->len; i++) {
    const BtPlaced *placed = &g_array_index(timeline->marks, BtPlaced, i);
    if (placed->lane < 0) // ignored
      continue;
    if (placed->event->kind == BT_EVENT_PAUSE)
      from_ms = placed->event->at_ms;
    if (from_ms < 0 || placed->event->kind != BT_EVENT_RESUME)
      continue;
    g_array_append_val(timeline->pauses, from_ms);
    g_array_append_val(timeline->pauses, placed->event->at_ms);
    from_ms = -1;
  }
  if (from_ms < 0)
    return;
  g_array_append_val(timeline->pauses, from_ms); // an open pause ends at the end
  g_array_append_val(timeline->pauses, timeline->end_ms);
}

BtTimeline *bt__timeline_new(const BtAttempt *attempt) {
  BtTimeline *timeline = g_new0(BtTimeline, 1);
  timeline->attempt = attempt;
  timeline->lanes = g_array_new(FALSE, FALSE, sizeof(BtLane));
  timeline->marks = g_array_new(FALSE, FALSE, sizeof(BtPlaced));
  timeline->pauses = g_array_new(FALSE, FALSE, sizeof(gint64));
  Layout layout = {.timeline = timeline, .attempt = attempt, .standings = standings_of(attempt)};
  add_lanes(&layout);
  place_events(&layout);
  find_pauses(timeline);
  g_hash_table_unref(layout.standings);
  return timeline;
}

void bt__timeline_free(BtTimeline *timeline) {
  if (!timeline)
    return;
  g_array_unref(timeline->lanes);
  g_array_unref(timeline->marks);
  g_array_unref(timeline->pauses);
  g_free(timeline);
}
