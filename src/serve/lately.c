// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/lately.h"

#include <pthread.h>

#define KEYS_MOST 20000 // then what is old is cleared out

struct BtLately {
  pthread_mutex_t lock;
  GHashTable *added_us; // key -> gint64 *, monotonic
  gint64 while_us;
};

BtLately *bt__lately_new(gint64 while_ms) {
  BtLately *lately = g_new0(BtLately, 1);
  pthread_mutex_init(&lately->lock, NULL);
  lately->added_us = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  lately->while_us = while_ms * 1000;
  return lately;
}

void bt__lately_free(BtLately *lately) {
  if (!lately)
    return;
  g_hash_table_unref(lately->added_us);
  pthread_mutex_destroy(&lately->lock);
  g_free(lately);
}

static bool is_late(const BtLately *lately, const gint64 *added_us) {
  return added_us && g_get_monotonic_time() - *added_us < lately->while_us;
}

bool bt__lately(BtLately *lately, const char *key) {
  pthread_mutex_lock(&lately->lock);
  bool late = is_late(lately, g_hash_table_lookup(lately->added_us, key));
  pthread_mutex_unlock(&lately->lock);
  return late;
}

static gboolean is_old(gpointer key, gpointer added_us, gpointer lately) {
  (void)key;
  return !is_late(lately, added_us);
}

void bt__lately_add(BtLately *lately, const char *key) {
  gint64 now_us = g_get_monotonic_time();
  pthread_mutex_lock(&lately->lock);
  if (g_hash_table_size(lately->added_us) >= KEYS_MOST)
    g_hash_table_foreach_remove(lately->added_us, is_old, lately);
  if (g_hash_table_size(lately->added_us) < KEYS_MOST)
    g_hash_table_replace(lately->added_us, g_strdup(key), g_memdup2(&now_us, sizeof now_us));
  pthread_mutex_unlock(&lately->lock);
}
