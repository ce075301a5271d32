// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/stations.h"

#include <pthread.h>

#include <string.h>

struct BtStations {
  pthread_mutex_t lock;
  GHashTable *told; // gint64 *, observation -> char *
};

BtStations *bt__stations_new(void) {
  BtStations *stations = g_new0(BtStations, 1);
  pthread_mutex_init(&stations->lock, NULL);
  stations->told = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
  return stations;
}

void bt__stations_free(BtStations *stations) {
  if (!stations)
    return;
  g_hash_table_unref(stations->told);
  pthread_mutex_destroy(&stations->lock);
  g_free(stations);
}

void bt__stations_set(BtStations *stations, gint64 observation_id, const char *station) {
  pthread_mutex_lock(&stations->lock);
  g_hash_table_replace(stations->told, g_memdup2(&observation_id, sizeof observation_id),
                       g_strdup(station));
  pthread_mutex_unlock(&stations->lock);
}

static char *noted(const BtObservation *observation) {
  static const char begin[] = "Station ";
  for (guint i = 0; i < observation->events->len; i++) {
    const BtEvent *event = &g_array_index(observation->events, BtEvent, i);
    if (event->kind == BT_EVENT_NOTE && event->note && g_str_has_prefix(event->note, begin)) {
      const char *name = event->note + sizeof begin - 1;
      return g_strndup(name, strcspn(name, ".\n"));
    }
  }
  return NULL;
}

char *bt__stations_get(BtStations *stations, gint64 observation_id,
                       const BtObservation *observation) {
  pthread_mutex_lock(&stations->lock);
  char *told = g_strdup(g_hash_table_lookup(stations->told, &observation_id));
  pthread_mutex_unlock(&stations->lock);
  return told ? told : noted(observation);
}
