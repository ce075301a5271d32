// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 7: displaced steps and concordance.
//
// Write x << y when y belongs before x but x came first. By Dilworth's theorem the largest
// antichain of this order is as large as the smallest cover by chains, and that follows from a
// largest matching of the graph with an edge from left copy x to right copy y wherever x << y
// (Fulkerson's reduction). The matching is found as Hopcroft and Karp do, and the antichain read
// off by alternating paths (Koenig).
//
// The graph is never written down: within a group that belongs before x, the y with x << y are all
// from some place on. So one number an event and group says it all, and a search that has reached a
// group from place p on never looks beyond p again.
#include "score/displaced.h"

typedef struct {
  const BtSequence *q;
  gsize *later_start; // per group, into `later`
  int *later;         // per event and group before it: the first event there that came later
  int *left_partner, *right_partner; // of a left copy its right one, and back; -1: free
  int *left_level, *right_level;     // steps from a free left copy; -1: not reached
  int *reached_from;                 // per group: right copies from here on are reached
  int *queue;
  int shortest; // level of the nearest free right copy; G_MAXINT: none
  // One phase of augmenting
  int *next_before; // per left copy: which of the groups before it to try next
  int *unused;      // per right copy: itself, or where to look for the next unused one
  int *path_left, *path_right;
} Matching;

static int n_before(const BtSequence *q, int group) {
  return q->before_start[group + 1] - q->before_start[group];
}

// For every event of `group` the first event of `earlier` (a group) that came later, `step` apart.
static void find_later(const BtSequence *q, int group, int earlier, int step, int *later) {
  int y = q->start[earlier];
  for (int x = q->start[group]; x < q->start[group + 1]; x++, later += step) {
    while (y < q->start[earlier + 1] && q->at_ms[y] <= q->at_ms[x])
      y++;
    *later = y;
  }
}

static void find_all_later(BtArena *arena, Matching *m) {
  const BtSequence *q = m->q;
  gsize n = 0;
  m->later_start = bt__arena_new(arena, gsize, q->n_groups);
  for (int g = 0; g < q->n_groups; g++) {
    m->later_start[g] = n;
    n += (gsize)n_before(q, g) * (gsize)(q->start[g + 1] - q->start[g]);
  }
  m->later = bt__arena_new(arena, int, n);
  for (int g = 0; g < q->n_groups; g++) {
    int k = n_before(q, g);
    for (int i = 0; i < k; i++)
      find_later(q, g, q->before[q->before_start[g] + i], k, m->later + m->later_start[g] + i);
  }
}

// The row of `later` of event x of `group`: one number for each group before it.
static const int *later_of(const Matching *m, int group, int x) {
  gsize row = (gsize)(x - m->q->start[group]) * (gsize)n_before(m->q, group);
  return m->later + m->later_start[group] + row;
}

static int *filled(BtArena *arena, int n, int value) {
  int *list = bt__arena_new(arena, int, n);
  for (int i = 0; i < n; i++)
    list[i] = value;
  return list;
}

static int *group_of_events(BtArena *arena, const BtSequence *q) {
  int *group = bt__arena_new(arena, int, q->n_events);
  for (int g = 0; g < q->n_groups; g++) {
    for (int x = q->start[g]; x < q->start[g + 1]; x++)
      group[x] = g;
  }
  return group;
}

static int queue_free_left(Matching *m) {
  int n = 0;
  for (int x = 0; x < m->q->n_events; x++) {
    bool is_free = m->left_partner[x] < 0;
    m->left_level[x] = is_free ? 0 : -1;
    m->right_level[x] = -1;
    if (is_free)
      m->queue[n++] = x;
  }
  for (int g = 0; g < m->q->n_groups; g++)
    m->reached_from[g] = m->q->start[g + 1];
  m->shortest = G_MAXINT;
  return n;
}

// Reaches the right copies of group `earlier` from `from` on; returns how many left copies are
// queued then.
static int reach(Matching *m, int earlier, int from, int level, int n_queued) {
  for (int y = from; y < m->reached_from[earlier]; y++) {
    m->right_level[y] = level;
    int partner = m->right_partner[y];
    if (partner < 0) {
      m->shortest = level;
    } else {
      m->left_level[partner] = level;
      m->queue[n_queued++] = partner;
    }
  }
  m->reached_from[earlier] = MIN(m->reached_from[earlier], from);
  return n_queued;
}

// Levels from the free left copies along alternating paths, up to the nearest free right copy; if
// there is none, all that can be reached. True if there is one.
static bool search(Matching *m, const int *group_of) {
  const BtSequence *q = m->q;
  int n_queued = queue_free_left(m);
  for (int i = 0; i < n_queued; i++) {
    int x = m->queue[i], g = group_of[x], level = m->left_level[x];
    if (level >= m->shortest)
      break;
    const int *later = later_of(m, g, x);
    for (int k = 0; k < n_before(q, g); k++)
      n_queued = reach(m, q->before[q->before_start[g] + k], later[k], level + 1, n_queued);
  }
  return m->shortest != G_MAXINT;
}

static int next_unused(int *unused, int y) {
  while (unused[y] != y) {
    unused[y] = unused[unused[y]];
    y = unused[y];
  }
  return y;
}

// An unused right copy one level on from left copy x, or -1. Levels never rise within a group, so
// only the first unused one need be looked at.
static int step_right(Matching *m, int x, int group) {
  const BtSequence *q = m->q;
  int level = m->left_level[x];
  if (level >= m->shortest)
    return -1;
  const int *later = later_of(m, group, x);
  for (int *k = &m->next_before[x]; *k < n_before(q, group); (*k)++) {
    int end = q->start[q->before[q->before_start[group] + *k] + 1];
    int y = next_unused(m->unused, later[*k]);
    if (y < end && m->right_level[y] == level + 1)
      return y;
  }
  return -1;
}

static void flip_path(Matching *m, int depth) {
  for (; depth >= 0; depth--) {
    m->left_partner[m->path_left[depth]] = m->path_right[depth];
    m->right_partner[m->path_right[depth]] = m->path_left[depth];
  }
}

// Looks for a shortest alternating path from free left copy `root`, and flips it.
static void augment_from(Matching *m, int root, const int *group_of) {
  int depth = 0;
  m->path_left[0] = root;
  while (depth >= 0) {
    int x = m->path_left[depth];
    int y = step_right(m, x, group_of[x]);
    if (y < 0) {
      depth--;
      continue;
    }
    m->unused[y] = y + 1;
    m->path_right[depth] = y;
    if (m->right_partner[y] < 0) {
      flip_path(m, depth);
      return;
    }
    m->path_left[++depth] = m->right_partner[y];
  }
}

static void augment(Matching *m, const int *group_of) {
  int n = m->q->n_events;
  for (int x = 0; x <= n; x++)
    m->unused[x] = x;
  for (int x = 0; x < n; x++)
    m->next_before[x] = 0;
  for (int x = 0; x < n; x++) {
    if (m->left_partner[x] < 0)
      augment_from(m, x, group_of);
  }
}

static Matching matching_new(BtArena *arena, const BtSequence *q) {
  int n = q->n_events;
  Matching m = {.q = q,
                .left_partner = filled(arena, n, -1),
                .right_partner = filled(arena, n, -1),
                .left_level = bt__arena_new(arena, int, n),
                .right_level = bt__arena_new(arena, int, n),
                .reached_from = bt__arena_new(arena, int, q->n_groups),
                .queue = bt__arena_new(arena, int, n),
                .next_before = bt__arena_new(arena, int, n),
                .unused = bt__arena_new(arena, int, n + 1),
                .path_left = bt__arena_new(arena, int, n + 1),
                .path_right = bt__arena_new(arena, int, n + 1)};
  find_all_later(arena, &m);
  return m;
}

// In the antichain: the left copy reached, the right copy not.
static bool is_inside(const Matching *m, int x) {
  return m->left_level[x] >= 0 && m->right_level[x] < 0;
}

// Is x << some event inside? `last_inside` holds the last event inside of each group, or -1.
static bool is_early(const Matching *m, int x, int group, const int *last_inside) {
  const BtSequence *q = m->q;
  const int *later = later_of(m, group, x);
  for (int k = 0; k < n_before(q, group); k++) {
    if (last_inside[q->before[q->before_start[group] + k]] >= later[k])
      return true;
  }
  return false;
}

void bt__find_displaced(BtArena *arena, const BtSequence *sequence, BtWhere *where) {
  Matching m = matching_new(arena, sequence);
  const int *group_of = group_of_events(arena, sequence);
  while (search(&m, group_of))
    augment(&m, group_of);
  int *last_inside = filled(arena, sequence->n_groups, -1);
  for (int x = 0; x < sequence->n_events; x++) {
    if (is_inside(&m, x))
      last_inside[group_of[x]] = x;
  }
  for (int x = 0; x < sequence->n_events; x++) {
    if (is_inside(&m, x)) {
      where[x] = BT__IN_PLACE;
    } else {
      where[x] = is_early(&m, x, group_of[x], last_inside) ? BT__TOO_EARLY : BT__TOO_LATE;
    }
  }
}

// Concordance -----------------------------------------------------------------

// Pairs of an event of `group` and one of `earlier`, which belongs before it.
static void count_group_pairs(const BtSequence *q, int group, int earlier, gint64 *right,
                              gint64 *all) {
  int begin = q->start[earlier], end = q->start[earlier + 1];
  int not_before = begin, after = begin;
  for (int x = q->start[group]; x < q->start[group + 1]; x++) {
    while (not_before < end && q->at_ms[not_before] < q->at_ms[x])
      not_before++;
    while (after < end && q->at_ms[after] <= q->at_ms[x])
      after++;
    *right += not_before - begin;
    *all += not_before - begin + end - after;
  }
}

void bt__count_pairs(const BtSequence *sequence, gint64 *right, gint64 *all) {
  *right = *all = 0;
  for (int g = 0; g < sequence->n_groups; g++) {
    for (int k = sequence->before_start[g]; k < sequence->before_start[g + 1]; k++)
      count_group_pairs(sequence, g, sequence->before[k], right, all);
  }
}
