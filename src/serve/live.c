// SPDX-License-Identifier: GPL-3.0-or-later
//
// One thread makes the benches that changed, a few times a second at most, and hands each listener
// what is new. A listener that does not keep up loses the older state of a bench, never the newest.
#include "serve/live.h"

#include <errno.h>
#include <pthread.h>
#include <string.h>
#include <time.h>

#include "serve/bench.h"

#define PACE_US      250000
#define HEARTBEAT_US (15 * G_USEC_PER_SEC)

struct BtLive {
  BtBook *book; // the thread's alone
  BtStations *stations;
  GThread *thread;
  pthread_mutex_t lock;
  pthread_cond_t news;  // for the thread and for every listener
  GHashTable *changed;  // gint64 *: observations, a set
  GPtrArray *listeners; // of Listener
  bool ended;
};

typedef struct {
  BtLive *live;
  char *viewer;
  GHashTable *waiting; // gint64 *, observation -> char *, the event to send
  GString *sending;    // what is left of the last one
  bool begun;
} Listener;

// The thread ------------------------------------------------------------------

static char *event_of(const BtBench *bench) {
  if (!bench->json)
    return g_strdup_printf("event: closed\ndata: {\"id\":%" G_GINT64_FORMAT "}\n\n", bench->id);
  char *json = json_dumps(bench->json, JSON_COMPACT);
  char *event = g_strdup_printf("event: bench\ndata: %s\n\n", json);
  free(json);
  return event;
}

// With the lock held.
static void tell(BtLive *live, const BtBench *bench) {
  g_autofree char *event = event_of(bench);
  for (guint i = 0; i < live->listeners->len; i++) {
    Listener *listener = live->listeners->pdata[i];
    if (bt__bench_is_for(bench, listener->viewer))
      g_hash_table_replace(listener->waiting, g_memdup2(&bench->id, sizeof bench->id),
                           g_strdup(event));
  }
  pthread_cond_broadcast(&live->news);
}

// The observations that changed, and that somebody wants to hear of. NULL: the end.
static GHashTable *take_changed(BtLive *live) {
  pthread_mutex_lock(&live->lock);
  while (!live->ended && g_hash_table_size(live->changed) == 0)
    pthread_cond_wait(&live->news, &live->lock);
  GHashTable *changed = live->ended ? NULL : live->changed;
  if (changed)
    live->changed = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
  pthread_mutex_unlock(&live->lock);
  return changed;
}

static void tell_changed(BtLive *live, GHashTable *changed) {
  GHashTableIter iter;
  gpointer id = NULL;
  g_hash_table_iter_init(&iter, changed);
  while (g_hash_table_iter_next(&iter, &id, NULL)) {
    // One that cannot be read now is told of with its next entry.
    g_autoptr(BtBench) bench = bt__bench_new(live->book, live->stations, *(const gint64 *)id, NULL);
    pthread_mutex_lock(&live->lock);
    if (bench)
      tell(live, bench);
    pthread_mutex_unlock(&live->lock);
  }
}

static gpointer tell_on(gpointer data) {
  BtLive *live = data;
  for (GHashTable *changed = take_changed(live); changed; changed = take_changed(live)) {
    tell_changed(live, changed);
    g_hash_table_unref(changed);
    g_usleep(PACE_US);
  }
  return NULL;
}

BtLive *bt__live_new(const char *book_path, BtStations *stations, GError **error) {
  BtBook *book = bt_book_open(book_path, BT_BOOK_READ, error);
  if (!book)
    return NULL;
  BtLive *live = g_new0(BtLive, 1);
  live->book = book;
  live->stations = stations;
  live->changed = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
  live->listeners = g_ptr_array_new();
  pthread_mutex_init(&live->lock, NULL);
  pthread_cond_init(&live->news, NULL);
  live->thread = g_thread_new("live", tell_on, live);
  return live;
}

void bt__live_end(BtLive *live) {
  if (!live)
    return;
  pthread_mutex_lock(&live->lock);
  live->ended = true;
  pthread_cond_broadcast(&live->news);
  pthread_mutex_unlock(&live->lock);
}

void bt__live_free(BtLive *live) {
  if (!live)
    return;
  bt__live_end(live);
  g_thread_join(live->thread);
  g_assert(live->listeners->len == 0);
  bt_book_close(live->book);
  g_ptr_array_unref(live->listeners);
  g_hash_table_unref(live->changed);
  pthread_mutex_destroy(&live->lock);
  pthread_cond_destroy(&live->news);
  g_free(live);
}

void bt__live_changed(BtLive *live, gint64 observation_id) {
  pthread_mutex_lock(&live->lock);
  if (live->listeners->len > 0) {
    g_hash_table_add(live->changed, g_memdup2(&observation_id, sizeof observation_id));
    pthread_cond_broadcast(&live->news);
  }
  pthread_mutex_unlock(&live->lock);
}

// Listeners -------------------------------------------------------------------

static void take_waiting(Listener *listener) {
  GHashTableIter iter;
  gpointer event = NULL;
  g_hash_table_iter_init(&iter, listener->waiting);
  while (g_hash_table_iter_next(&iter, NULL, &event)) {
    g_string_append(listener->sending, event);
    g_hash_table_iter_remove(&iter);
  }
}

static struct timespec in_us(gint64 us) {
  gint64 at_us = g_get_monotonic_time() + us;
  return (struct timespec){at_us / G_USEC_PER_SEC, at_us % G_USEC_PER_SEC * 1000};
}

// Waits for news, or for the time of a sign of life. False: the end.
static bool wait_for_news(Listener *listener) {
  BtLive *live = listener->live;
  const struct timespec until = in_us(HEARTBEAT_US);
  bool late = false;
  pthread_mutex_lock(&live->lock);
  while (!live->ended && !late && g_hash_table_size(listener->waiting) == 0)
    late = pthread_cond_clockwait(&live->news, &live->lock, CLOCK_MONOTONIC, &until) == ETIMEDOUT;
  bool ended = live->ended;
  take_waiting(listener);
  pthread_mutex_unlock(&live->lock);
  if (!ended && listener->sending->len == 0)
    g_string_append(listener->sending, ": still here\n\n");
  return !ended;
}

static gssize read_events(gpointer source, char *buffer, gsize most) {
  Listener *listener = source;
  if (!listener->begun)
    g_string_append(listener->sending, "retry: 2000\n\n");
  listener->begun = true;
  if (listener->sending->len == 0 && !wait_for_news(listener))
    return -1;
  gsize n = MIN(most, listener->sending->len);
  memcpy(buffer, listener->sending->str, n);
  g_string_erase(listener->sending, 0, (gssize)n);
  return (gssize)n;
}

static void close_listener(gpointer source) {
  Listener *listener = source;
  BtLive *live = listener->live;
  pthread_mutex_lock(&live->lock);
  g_ptr_array_remove_fast(live->listeners, listener);
  pthread_mutex_unlock(&live->lock);
  g_hash_table_unref(listener->waiting);
  g_string_free(listener->sending, TRUE);
  g_free(listener->viewer);
  g_free(listener);
}

BtAnswer *bt__live_answer(BtLive *live, const char *viewer) {
  Listener *listener = g_new0(Listener, 1);
  listener->live = live;
  listener->viewer = g_strdup(viewer);
  listener->waiting = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
  listener->sending = g_string_new(NULL);
  pthread_mutex_lock(&live->lock);
  g_ptr_array_add(live->listeners, listener);
  pthread_mutex_unlock(&live->lock);
  BtAnswer *answer = bt__answer(200, "text/event-stream", g_bytes_new_static("", 0));
  answer->stream = (BtAnswerStream){read_events, close_listener, listener};
  return answer;
}
