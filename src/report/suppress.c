// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/suppress.h"

// Sums over the hidden counts.
typedef struct {
  gint64 n, sum;
} Hidden;

static Hidden add_up(const gint64 *count, const BtHiding *hiding, gsize n) {
  Hidden hidden = {0};
  for (gsize i = 0; i < n; i++) {
    hidden.n += hiding[i] != BT_SHOWN;
    hidden.sum += hiding[i] != BT_SHOWN ? count[i] : 0;
  }
  return hidden;
}

// Whether a reader who takes what is shown from the total is left with a count, or with a sum that
// is small itself.
static bool is_left_bare(const Hidden *hidden, gint64 least) {
  return hidden->n == 1 || (hidden->n > 0 && hidden->sum < least);
}

// Whether each of the hidden ones, all known to be small, must be as great or as small as it can.
static bool is_forced(const Hidden *hidden, gint64 least) {
  return hidden->n > 0 && (hidden->sum == hidden->n || hidden->sum == hidden->n * (least - 1));
}

// The smallest count that is still shown, 0 only when there is no other; -1: none.
static gssize next_to_withhold(const gint64 *count, const BtHiding *hiding, gsize n) {
  gssize found = -1;
  for (gsize i = 0; i < n; i++) {
    if (hiding[i] == BT_SHOWN &&
        (found < 0 || count[found] == 0 || (count[i] > 0 && count[i] < count[found])))
      found = (gssize)i;
  }
  return found;
}

// Hides more, one part at least, until nothing is left bare. One word for all that is hidden, or
// the words would tell which is small.
static void withhold(const gint64 *count, gsize n, gint64 least, BtHiding *hiding) {
  Hidden hidden;
  gssize next = next_to_withhold(count, hiding, n);
  while (next >= 0) {
    for (gsize i = 0; i < n; i++) // of equal ones the choice would tell
      hiding[i] = count[i] == count[next] ? BT_WITHHELD : hiding[i];
    hidden = add_up(count, hiding, n);
    next = is_left_bare(&hidden, least) ? next_to_withhold(count, hiding, n) : -1;
  }
  for (gsize i = 0; i < n; i++)
    hiding[i] = hiding[i] == BT_SHOWN ? BT_SHOWN : BT_WITHHELD;
}

BtHiding bt__suppress_line(const gint64 *count, gsize n, gint64 least, BtHiding *hiding) {
  gint64 total = 0;
  for (gsize i = 0; i < n; i++)
    total += count[i];
  bool all_small = bt__is_small(total, least);
  for (gsize i = 0; i < n; i++)
    hiding[i] = all_small || bt__is_small(count[i], least) ? BT_SMALL : BT_SHOWN;
  const Hidden small = add_up(count, hiding, n);
  if (all_small || small.n == 0)
    return all_small ? BT_SMALL : BT_SHOWN;
  if (small.sum == total) { // what else is 0 would tell how few parts share it
    for (gsize i = 0; i < n; i++)
      hiding[i] = BT_WITHHELD;
  } else if (is_left_bare(&small, least) || is_forced(&small, least)) {
    withhold(count, n, least, hiding);
  }
  return BT_SHOWN;
}

bool bt__is_small(gint64 count, gint64 least) {
  return count > 0 && count < least;
}

bool bt__part_may_show(gint64 part, gint64 all, gint64 least) {
  return !bt__is_small(part, least) && !bt__is_small(all - part, least);
}
