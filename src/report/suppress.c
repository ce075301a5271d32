// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/suppress.h"

// What a reader knows of a hidden count from its words alone: at least and at most.
typedef struct {
  gint64 low, high;
} Bounds;

static Bounds bounds_of(gint64 count, BtHiding hiding, gint64 least) {
  if (hiding == BT_SMALL)
    return (Bounds){0, least - 1};
  return (Bounds){count >= least ? least : 0, G_MAXINT32};
}

// Sums over the hidden counts.
typedef struct {
  gsize n;
  gint64 sum, low, high;
} Hidden;

static Hidden add_up(const gint64 *count, const BtHiding *hiding, gsize n, gint64 least) {
  Hidden hidden = {0};
  for (gsize i = 0; i < n; i++) {
    if (hiding[i] == BT_SHOWN)
      continue;
    const Bounds bounds = bounds_of(count[i], hiding[i], least);
    hidden.n++;
    hidden.sum += count[i];
    hidden.low += bounds.low;
    hidden.high += bounds.high;
  }
  return hidden;
}

// Whether the total less what is shown gives a hidden count, or a small sum, away.
static bool gives_away(const gint64 *count, const BtHiding *hiding, gsize n, gint64 least) {
  const Hidden hidden = add_up(count, hiding, n, least);
  if (hidden.n == 0)
    return false;
  if (hidden.sum < least)
    return true;
  for (gsize i = 0; i < n; i++) {
    if (hiding[i] == BT_SHOWN)
      continue;
    const Bounds own = bounds_of(count[i], hiding[i], least);
    gint64 low = MAX(own.low, hidden.sum - (hidden.high - own.high));
    gint64 high = MIN(own.high, hidden.sum - (hidden.low - own.low));
    if (low >= high)
      return true;
  }
  return false;
}

// The smallest count that is still shown; with none, a small one, so that no reader knows how small
// it is. -1: neither.
static gssize next_to_withhold(const gint64 *count, const BtHiding *hiding, gsize n) {
  gssize found = -1;
  for (gsize i = 0; i < n; i++) {
    if (hiding[i] == BT_SHOWN && (found < 0 || count[i] < count[found]))
      found = (gssize)i;
  }
  for (gsize i = 0; i < n && found < 0; i++) {
    if (hiding[i] == BT_SMALL)
      found = (gssize)i;
  }
  return found;
}

BtHiding bt__suppress_line(const gint64 *count, gsize n, gint64 least, BtHiding *hiding) {
  gint64 total = 0;
  for (gsize i = 0; i < n; i++) {
    total += count[i];
    hiding[i] = count[i] < least ? BT_SMALL : BT_SHOWN;
  }
  if (total < least)
    return BT_SMALL;
  while (gives_away(count, hiding, n, least)) {
    gssize next = next_to_withhold(count, hiding, n);
    if (next < 0)
      break;
    hiding[next] = BT_WITHHELD;
  }
  return BT_SHOWN;
}

bool bt__part_may_show(gint64 part, gint64 all, gint64 least) {
  return part >= least && all - part >= least;
}
