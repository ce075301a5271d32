// SPDX-License-Identifier: GPL-3.0-or-later
//
// The timed entries of assessors of one session against each other.
#include <benchtally/proportion.h>
#include <benchtally/study_agreement.h>

#include <stdlib.h>

#define MS_PER_S 1000.0

// One number for what an entry is about; -1: it is not compared.
static int about(const BtRubric *rubric, const BtEvent *event) {
  int works = rubric->n_actions * (rubric->n_sites + 1);
  switch (event->kind) {
  case BT_EVENT_WORK:
    return event->action * (rubric->n_sites + 1) + event->site + 1;
  case BT_EVENT_ERROR:
    return works + event->item;
  case BT_EVENT_INJECT:
    return works + rubric->n_errors + event->item;
  default:
    return -1;
  }
}

static gint64 start_ms(const BtObservation *observation) {
  for (guint i = 0; i < observation->events->len; i++) {
    const BtEvent *event = &g_array_index(observation->events, BtEvent, i);
    if (event->kind == BT_EVENT_START)
      return event->at_ms;
  }
  return 0;
}

GArray *bt_timed_events(const BtRubric *rubric, const BtObservation *observation, GArray **seq) {
  GArray *list = g_array_new(FALSE, FALSE, sizeof(BtTimedEvent));
  gint64 from_ms = start_ms(observation);
  if (seq)
    *seq = g_array_new(FALSE, FALSE, sizeof(int));
  for (guint i = 0; i < observation->events->len; i++) {
    const BtEvent *event = &g_array_index(observation->events, BtEvent, i);
    BtTimedEvent timed = {event->at_ms - from_ms, about(rubric, event)};
    if (timed.what < 0)
      continue;
    g_array_append_val(list, timed);
    if (seq)
      g_array_append_val(*seq, event->seq);
  }
  return list;
}

// What is gathered over all sessions.
typedef struct {
  BtViewEvents *events;
  GArray *first_s, *second_s; // of double: the times of matched entries
  double *matched, *entries;  // of each session
} Gathered;

static void compare(Gathered *gathered, gsize session, gsize a, gsize b, const GArray *first,
                    const GArray *second, gint64 tolerance_ms) {
  const BtTimedEvent *one = (const BtTimedEvent *)first->data;
  const BtTimedEvent *other = (const BtTimedEvent *)second->data;
  g_autoptr(BtEventMatch) match =
      bt_match_events(one, first->len, other, second->len, tolerance_ms);
  for (guint i = 0; i < match->pairs->len; i++) {
    const BtEventPair *pair = &g_array_index(match->pairs, BtEventPair, i);
    double at_s = (double)one[pair->first].at_ms / MS_PER_S;
    double other_s = (double)other[pair->second].at_ms / MS_PER_S;
    g_array_append_val(gathered->first_s, at_s);
    g_array_append_val(gathered->second_s, other_s);
  }
  BtEventsCompared compared = {session, a, b, first->len, second->len, match->pairs->len};
  g_array_append_val(gathered->events->compared, compared);
  gathered->events->matched += compared.matched;
  gathered->events->entries += compared.n_first + compared.n_second;
  gathered->matched[session] += 2 * (double)compared.matched;
  gathered->entries[session] += (double)(compared.n_first + compared.n_second);
}

static void drop_list(gpointer list) {
  if (list)
    g_array_unref(list);
}

// The entries of each view of a session (of GArray; NULL where one did not observe).
static GPtrArray *entries_of(BtBook *book, const BtViews *views, gsize session, GError **error) {
  g_autoptr(GPtrArray) lists = g_ptr_array_new_with_free_func(drop_list);
  g_ptr_array_set_size(lists, (gint)views->assessors);
  for (gsize a = 0; a < views->assessors; a++) {
    const BtStudyRow *row = views->view[session * views->assessors + a];
    const BtRubric *rubric = NULL;
    if (!row)
      continue;
    g_autoptr(BtObservation) observation = bt_book_load(book, row->row->id, &rubric, error);
    if (!observation)
      return NULL;
    lists->pdata[a] = bt_timed_events(rubric, observation, NULL);
  }
  return g_steal_pointer(&lists);
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static BtEstimate median_distance(const GArray *first, const GArray *second) {
  guint n = first->len;
  if (n == 0)
    return bt_not_estimable("no two entries matched", 0);
  g_autofree double *off = g_new(double, n);
  for (guint i = 0; i < n; i++)
    off[i] = fabs(g_array_index(first, double, i) - g_array_index(second, double, i));
  qsort(off, n, sizeof *off, by_size);
  return bt_estimate((off[(n - 1) / 2] + off[n / 2]) / 2, n, NULL);
}

static void sum_up(Gathered *gathered, gsize sessions) {
  BtViewEvents *events = gathered->events;
  events->share = bt_proportion_clustered(gathered->matched, gathered->entries, sessions);
  events->median_off_s = median_distance(gathered->first_s, gathered->second_s);
  events->off_s = bt_bland_altman((const double *)gathered->first_s->data,
                                  (const double *)gathered->second_s->data, gathered->first_s->len,
                                  BT_LIMITS_MULTIPLIER);
}

BtViewEvents *bt_views_events(BtBook *book, const BtViews *views, gint64 tolerance_ms,
                              GError **error) {
  g_autoptr(BtViewEvents) events = g_new0(BtViewEvents, 1);
  events->compared = g_array_new(FALSE, FALSE, sizeof(BtEventsCompared));
  g_autoptr(GArray) first_s = g_array_new(FALSE, FALSE, sizeof(double));
  g_autoptr(GArray) second_s = g_array_new(FALSE, FALSE, sizeof(double));
  g_autofree double *matched = g_new0(double, views->sessions + 1);
  g_autofree double *entries = g_new0(double, views->sessions + 1);
  Gathered gathered = {events, first_s, second_s, matched, entries};
  for (gsize s = 0; s < views->sessions; s++) {
    g_autoptr(GPtrArray) lists = entries_of(book, views, s, error);
    if (!lists)
      return NULL;
    for (gsize a = 0; a < views->assessors; a++) {
      for (gsize b = a + 1; b < views->assessors; b++) {
        if (lists->pdata[a] && lists->pdata[b])
          compare(&gathered, s, a, b, lists->pdata[a], lists->pdata[b], tolerance_ms);
      }
    }
  }
  sum_up(&gathered, views->sessions);
  return g_steal_pointer(&events);
}

void bt_view_events_free(BtViewEvents *events) {
  if (!events)
    return;
  g_array_unref(events->compared);
  g_free(events);
}
