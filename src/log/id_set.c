// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/id_set.h"

#define FIRST_PLACES 1024

void bt__id_set_clear(BtIdSet *set) {
  g_free(set->places);
  *set = (BtIdSet){0};
}

// The place of the id, or the empty one where it belongs.
static BtIdPlace *place_of(const BtIdSet *set, guint64 high, guint64 low) {
  // Ids made in time order differ little in places: the odd constant spreads them over all bits.
  guint64 hash = (high ^ (low << 1)) * G_GUINT64_CONSTANT(0x9E3779B97F4A7C15);
  gsize mask = set->n_places - 1;
  for (gsize i = (gsize)(hash >> 32) & mask;; i = (i + 1) & mask) {
    BtIdPlace *place = &set->places[i];
    if (place->line == 0 || (place->high == high && place->low == low))
      return place;
  }
}

static void grow(BtIdSet *set) {
  BtIdSet wider = {.n_places = set->n_places ? set->n_places * 2 : FIRST_PLACES,
                   .n_ids = set->n_ids};
  wider.places = g_new0(BtIdPlace, wider.n_places);
  for (gsize i = 0; i < set->n_places; i++) {
    if (set->places[i].line > 0)
      *place_of(&wider, set->places[i].high, set->places[i].low) = set->places[i];
  }
  g_free(set->places);
  *set = wider;
}

gint64 bt__id_set_add(BtIdSet *set, guint64 high, guint64 low, gint64 line) {
  if (set->n_ids * 4 >= set->n_places * 3)
    grow(set);
  BtIdPlace *place = place_of(set, high, low);
  if (place->line > 0)
    return place->line;
  *place = (BtIdPlace){high, low, line};
  set->n_ids++;
  return 0;
}
