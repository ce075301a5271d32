// SPDX-License-Identifier: GPL-3.0-or-later
#include "score/score_parts.h"

#include <stddef.h>
#include <string.h>

struct BtArenaBlock {
  BtArenaBlock *older;
  max_align_t room[];
};

static gsize round_up(gsize bytes) {
  return (bytes + sizeof(max_align_t) - 1) / sizeof(max_align_t) * sizeof(max_align_t);
}

static void add_block(BtArena *arena, gsize bytes) {
  gsize size = MAX(MAX(arena->size * 2, (gsize)16 * 1024), bytes);
  BtArenaBlock *block = g_malloc(sizeof *block + size);
  block->older = arena->newest;
  *arena = (BtArena){.newest = block, .room = (char *)block->room, .size = size};
}

void bt__arena_begin(BtArena *arena, max_align_t *room, gsize bytes) {
  *arena = (BtArena){.room = (char *)room, .size = bytes};
}

void *bt__arena_alloc(BtArena *arena, gsize n, gsize size) {
  g_assert(n < G_MAXSIZE / 2 / size);
  gsize bytes = round_up(n * size);
  if (arena->size - arena->used < bytes)
    add_block(arena, bytes);
  void *room = arena->room + arena->used;
  arena->used += bytes;
  return bytes > 0 ? memset(room, 0, bytes) : room;
}

void bt__arena_clear(BtArena *arena) {
  while (arena->newest) {
    BtArenaBlock *older = arena->newest->older;
    g_free(arena->newest);
    arena->newest = older;
  }
  *arena = (BtArena){0};
}
