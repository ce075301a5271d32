// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/door.h"

#include <pthread.h>

#define FREE_TRIES    5
#define WAIT_MS_FIRST 2000
#define WAIT_MS_MOST  60000
#define FORGET_MS     (15 * 60 * 1000)
#define KEYS_MOST     10000
#define WAITING_MOST  32

typedef struct {
  int wrong;       // in a row
  gint64 last_ms;  // of the last wrong try
  gint64 until_ms; // no try before
} Tries;

struct BtDoor {
  pthread_mutex_t lock;
  GHashTable *tries; // "address code" -> Tries
  pthread_mutex_t hashing;
  int waiting; // to hash, or hashing; atomic
};

BtDoor *bt__door_new(void) {
  BtDoor *door = g_new0(BtDoor, 1);
  pthread_mutex_init(&door->lock, NULL);
  pthread_mutex_init(&door->hashing, NULL);
  door->tries = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  return door;
}

void bt__door_free(BtDoor *door) {
  if (!door)
    return;
  g_hash_table_unref(door->tries);
  pthread_mutex_destroy(&door->lock);
  pthread_mutex_destroy(&door->hashing);
  g_free(door);
}

static char *key_of(const char *address, const char *code) {
  return g_strjoin(" ", address, code, NULL);
}

int bt__door_wait_s(BtDoor *door, const char *address, const char *code, gint64 now_ms) {
  g_autofree char *key = key_of(address, code);
  pthread_mutex_lock(&door->lock);
  const Tries *tries = g_hash_table_lookup(door->tries, key);
  gint64 wait_ms = tries ? tries->until_ms - now_ms : 0;
  pthread_mutex_unlock(&door->lock);
  return wait_ms > 0 ? (int)((wait_ms + 999) / 1000) : 0;
}

static gboolean is_forgotten(gpointer key, gpointer value, gpointer now_ms) {
  (void)key;
  const Tries *tries = value;
  return *(const gint64 *)now_ms - tries->last_ms > FORGET_MS;
}

// After the free tries each wrong one doubles the wait.
static void count_wrong(Tries *tries, gint64 now_ms) {
  if (now_ms - tries->last_ms > FORGET_MS)
    tries->wrong = 0;
  tries->wrong++;
  tries->last_ms = now_ms;
  if (tries->wrong >= FREE_TRIES) {
    int doubled = MIN(tries->wrong - FREE_TRIES, 5);
    tries->until_ms = now_ms + MIN(WAIT_MS_FIRST << doubled, WAIT_MS_MOST);
  }
}

static Tries *tries_of(BtDoor *door, const char *key, gint64 now_ms) {
  Tries *tries = g_hash_table_lookup(door->tries, key);
  if (tries)
    return tries;
  if (g_hash_table_size(door->tries) >= KEYS_MOST)
    g_hash_table_foreach_remove(door->tries, is_forgotten, &now_ms);
  if (g_hash_table_size(door->tries) >= KEYS_MOST)
    g_hash_table_remove_all(door->tries);
  tries = g_new0(Tries, 1);
  tries->last_ms = now_ms;
  g_hash_table_insert(door->tries, g_strdup(key), tries);
  return tries;
}

void bt__door_tried(BtDoor *door, const char *address, const char *code, bool right,
                    gint64 now_ms) {
  g_autofree char *key = key_of(address, code);
  pthread_mutex_lock(&door->lock);
  if (right)
    g_hash_table_remove(door->tries, key);
  else
    count_wrong(tries_of(door, key, now_ms), now_ms);
  pthread_mutex_unlock(&door->lock);
}

bool bt__door_enter(BtDoor *door) {
  if (g_atomic_int_add(&door->waiting, 1) < WAITING_MOST) {
    pthread_mutex_lock(&door->hashing);
    return true;
  }
  g_atomic_int_add(&door->waiting, -1);
  return false;
}

void bt__door_leave(BtDoor *door) {
  pthread_mutex_unlock(&door->hashing);
  g_atomic_int_add(&door->waiting, -1);
}
