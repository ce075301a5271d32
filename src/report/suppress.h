// SPDX-License-Identifier: GPL-3.0-or-later
//
// Hiding small counts of a table that is to be shared, and what would let them be worked out.
#ifndef BENCHTALLY_REPORT_SUPPRESS_H
#define BENCHTALLY_REPORT_SUPPRESS_H

#include <stdbool.h>

#include <glib.h>

typedef enum {
  BT_SHOWN,
  BT_SMALL,   // shown as "fewer than N"
  BT_WITHHELD // not small itself, or not to be told so: shown as "not shown"
} BtHiding;

// Hides what must be of `n` counts that add up to a total, which stands beside them. Counts from 1
// up to below `least` are small; 0 is nobody and stands. Then the smallest of those still shown are
// withheld, one by one, until a reader who knows the total and this rule can work out no hidden
// count, and the hidden ones together are no small count either. Returns how the total is shown; a
// small one takes all its parts with it. `least` 0 hides nothing. `hiding` is the caller's, n long.
BtHiding bt__suppress_line(const gint64 *count, gsize n, gint64 least, BtHiding *hiding);

// Whether a count is small.
bool bt__is_small(gint64 count, gint64 least);
// Whether a part of `all` may be shown beside it: neither it nor the rest is small.
bool bt__part_may_show(gint64 part, gint64 all, gint64 least);

#endif
