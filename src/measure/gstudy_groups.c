// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/gstudy_parts.h"

#include <string.h>

// A table of pairs is a plain array while it is no larger than this many times the scores.
#define ARRAY_TIMES 8

// What numbers the pairs (group, level) anew in order of appearance.
typedef struct {
  gsize *array; // of number + 1; NULL: the hash table is used
  GHashTable *hash;
  gsize numbers;
} Numbering;

static gsize number_of(Numbering *numbering, gsize pair) {
  gpointer key = GSIZE_TO_POINTER(pair);
  gsize number = numbering->array ? numbering->array[pair]
                                  : GPOINTER_TO_SIZE(g_hash_table_lookup(numbering->hash, key));
  if (number)
    return number - 1;
  number = ++numbering->numbers;
  if (numbering->array)
    numbering->array[pair] = number;
  else
    g_hash_table_insert(numbering->hash, key, GSIZE_TO_POINTER(number));
  return number - 1;
}

// Divides every group by the levels of one more facet.
static void divide(BtGroups *groups, const gsize *level, gsize n) {
  gsize levels = 0;
  for (gsize i = 0; i < n; i++)
    levels = MAX(levels, level[i] + 1);
  Numbering numbering = {0};
  if (groups->groups * levels <= ARRAY_TIMES * n)
    numbering.array = g_new0(gsize, groups->groups * levels);
  else
    numbering.hash = g_hash_table_new(NULL, NULL);
  for (gsize i = 0; i < n; i++)
    groups->of[i] = number_of(&numbering, groups->of[i] * levels + level[i]);
  groups->groups = numbering.numbers;
  g_free(numbering.array);
  g_clear_pointer(&numbering.hash, g_hash_table_unref);
}

BtGroups bt__groups(const BtDesign *design, const BtScores *scores, guint set) {
  BtGroups groups = {.groups = 1, .of = g_new0(gsize, scores->n)};
  for (int i = 0; i < design->facets; i++) {
    if (set & 1U << i)
      divide(&groups, scores->levels[i], scores->n);
  }
  groups.size = g_new0(gsize, groups.groups);
  groups.first = g_new(gsize, groups.groups);
  for (gsize i = 0; i < scores->n; i++) {
    if (groups.size[groups.of[i]]++ == 0)
      groups.first[groups.of[i]] = i;
  }
  return groups;
}

void bt__groups_clear(BtGroups *groups) {
  g_free(groups->of);
  g_free(groups->size);
  g_free(groups->first);
}
