// SPDX-License-Identifier: GPL-3.0-or-later
#include "rubric/match_sets.h"

#include <string.h>

// Sets of indices -------------------------------------------------------------

bool bt__among(int index, const int *indices, int n) {
  for (int i = 0; i < n; i++) {
    if (indices[i] == index)
      return true;
  }
  return false;
}

static bool *marks_of(const int *indices, int n, int n_all) {
  bool *marks = g_new0(bool, (gsize)n_all + 1);
  for (int i = 0; i < n; i++)
    marks[indices[i]] = true;
  return marks;
}

static int count_common(const int *a, int n_a, const int *b, int n_b, int n_all) {
  g_autofree bool *marks = marks_of(b, n_b, n_all);
  int common = 0;
  for (int i = 0; i < n_a; i++)
    common += marks[a[i]];
  return common;
}

// Sets of numbers -------------------------------------------------------------

typedef struct {
  gint64 lo, hi; // closed, in thousandths
} Span;

static Span span_of(const BtRange *range) {
  return (Span){range->has_lo ? range->lo_milli : -BT_VALUE_MILLI_MAX,
                range->has_hi ? range->hi_milli : BT_VALUE_MILLI_MAX};
}

static int by_lo(gconstpointer a, gconstpointer b) {
  const Span *x = a, *y = b;
  return (x->lo > y->lo) - (x->lo < y->lo);
}

// The ranges as ascending spans with gaps between them. Whole numbers are neighbours one apart,
// measured values a thousandth.
static GArray *spans_of(const BtDetail *detail, const BtAllowed *allowed) {
  gint64 step = detail->kind == BT_DETAIL_WHOLE ? 1000 : 1;
  g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(Span));
  for (int i = 0; i < allowed->n_ranges; i++) {
    Span span = span_of(&allowed->ranges[i]);
    g_array_append_val(all, span);
  }
  g_array_sort(all, by_lo);
  GArray *merged = g_array_new(FALSE, FALSE, sizeof(Span));
  for (guint i = 0; i < all->len; i++) {
    Span span = g_array_index(all, Span, i);
    Span *last = merged->len ? &g_array_index(merged, Span, merged->len - 1) : NULL;
    if (last && span.lo <= last->hi + step)
      last->hi = MAX(last->hi, span.hi);
    else
      g_array_append_val(merged, span);
  }
  return merged;
}

static bool spans_inside(const GArray *a, const GArray *b) {
  guint j = 0;
  for (guint i = 0; i < a->len; i++) {
    const Span *span = &g_array_index(a, Span, i);
    while (j < b->len && g_array_index(b, Span, j).hi < span->hi)
      j++;
    if (j == b->len || g_array_index(b, Span, j).lo > span->lo)
      return false;
  }
  return true;
}

static bool spans_overlap(const GArray *a, const GArray *b) {
  for (guint i = 0, j = 0; i < a->len && j < b->len;) {
    const Span *x = &g_array_index(a, Span, i), *y = &g_array_index(b, Span, j);
    if (x->lo <= y->hi && y->lo <= x->hi)
      return true;
    if (x->hi < y->hi)
      i++;
    else
      j++;
  }
  return false;
}

bool bt__range_possible(const BtDetail *detail, const BtRange *range) {
  Span a = span_of(&detail->range), b = span_of(range);
  return a.lo <= b.hi && b.lo <= a.hi;
}

// Allowed values --------------------------------------------------------------

static bool allowed_inside(const BtDetail *detail, const BtAllowed *a, const BtAllowed *b) {
  if (detail->kind == BT_DETAIL_WORD)
    return count_common(a->words, a->n_words, b->words, b->n_words, detail->n_words) == a->n_words;
  g_autoptr(GArray) x = spans_of(detail, a), y = spans_of(detail, b);
  return spans_inside(x, y);
}

bool bt__allowed_overlaps(const BtDetail *detail, const BtAllowed *a, const BtAllowed *b) {
  if (detail->kind == BT_DETAIL_WORD)
    return count_common(a->words, a->n_words, b->words, b->n_words, detail->n_words) > 0;
  g_autoptr(GArray) x = spans_of(detail, a), y = spans_of(detail, b);
  return spans_overlap(x, y);
}

// Matches ---------------------------------------------------------------------

static const BtAllowed *find_allowed(const BtMatch *match, int detail) {
  for (int i = 0; i < match->n_details; i++) {
    if (match->details[i].detail == detail)
      return &match->details[i];
  }
  return NULL;
}

bool bt__match_inside(const BtRubric *rubric, const BtMatch *a, const BtMatch *b) {
  if (a->action != b->action)
    return false;
  if (b->n_sites > 0 && (a->n_sites == 0 || count_common(a->sites, a->n_sites, b->sites, b->n_sites,
                                                         rubric->n_sites) < a->n_sites))
    return false;
  for (int i = 0; i < b->n_details; i++) {
    int detail = b->details[i].detail;
    const BtAllowed *its = find_allowed(a, detail);
    if (!its || !allowed_inside(&rubric->actions[a->action].details[detail], its, &b->details[i]))
      return false;
  }
  return true;
}

bool bt__match_overlaps(const BtRubric *rubric, const BtMatch *a, const BtMatch *b) {
  if (a->action != b->action)
    return false;
  if (a->n_sites > 0 && b->n_sites > 0 &&
      count_common(a->sites, a->n_sites, b->sites, b->n_sites, rubric->n_sites) == 0)
    return false;
  for (int i = 0; i < b->n_details; i++) {
    int detail = b->details[i].detail;
    const BtAllowed *its = find_allowed(a, detail);
    if (its &&
        !bt__allowed_overlaps(&rubric->actions[a->action].details[detail], its, &b->details[i]))
      return false;
  }
  return true;
}
