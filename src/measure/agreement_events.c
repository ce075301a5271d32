// SPDX-License-Identifier: GPL-3.0-or-later
//
// Which entries of two observations are the same happening.
//
// With both lists in order of time, best(i, j) is the best pairing of the first i entries of one
// with the first j of the other: most pairs, then least difference. Entry i can pair only with
// those within the tolerance, which are neighbours: its band, lo(i) to hi(i). Bands only move
// forward. So a row is kept for the band alone: beyond it best(i, j) is best(i, hi), and before it
// best(i - 1, j), of which only the last, the base of the row, is ever asked for.
#include "measure/agreement_parts.h"

#include <stdlib.h>

typedef struct {
  BtTimedEvent event;
  gsize at; // in the caller's list
} Entry;

static int by_time(const void *a, const void *b) {
  const Entry *x = a, *y = b;
  if (x->event.at_ms != y->event.at_ms)
    return x->event.at_ms < y->event.at_ms ? -1 : 1;
  if (x->event.what != y->event.what)
    return x->event.what < y->event.what ? -1 : 1;
  return (x->at > y->at) - (x->at < y->at);
}

static Entry *in_order(const BtTimedEvent *event, gsize n) {
  Entry *entry = g_new(Entry, n + 1);
  for (gsize i = 0; i < n; i++)
    entry[i] = (Entry){event[i], i};
  qsort(entry, n, sizeof *entry, by_time);
  return entry;
}

typedef struct {
  gint64 pairs, off_ms;
} Score;

static bool better(Score a, Score b) {
  return a.pairs != b.pairs ? a.pairs > b.pairs : a.off_ms < b.off_ms;
}

enum { WITHOUT_FIRST, WITHOUT_SECOND, PAIRED };

// Row i is about the i-th entry of the first list, from 1; row 0 is empty. `hi` is one past the
// band.
typedef struct {
  gsize lo, hi;  // places in the second list, from 0
  Score base;    // best pairing of the rows up to this with what stands before `lo`
  gsize choices; // where its choices begin
} Row;

typedef struct {
  const Entry *first, *second;
  gsize n_first, n_second;
  Row *row;
  Score *now, *before; // of this band and the one before
  guint8 *choice;
} Pairing;

// The bands; returns how wide they are together, and *widest.
static gsize lay_bands(Pairing *pairing, gint64 tolerance_ms, gsize *widest) {
  gsize lo = 0, hi = 0, total = 0;
  *widest = 0;
  for (gsize i = 0; i < pairing->n_first; i++) {
    gint64 at_ms = pairing->first[i].event.at_ms;
    while (lo < pairing->n_second && at_ms - pairing->second[lo].event.at_ms > tolerance_ms)
      lo++;
    hi = MAX(hi, lo);
    while (hi < pairing->n_second && pairing->second[hi].event.at_ms - at_ms <= tolerance_ms)
      hi++;
    pairing->row[i + 1] = (Row){.lo = lo, .hi = hi, .choices = total};
    total += hi - lo;
    *widest = MAX(*widest, hi - lo);
  }
  return total;
}

// The best pairing of the rows up to `row`, whose band is scored in `band`, with the second list's
// first `n` entries; n is not below the row's band.
static Score best_with(const Row *row, const Score *band, gsize n) {
  gsize known = MIN(n, row->hi);
  return known > row->lo ? band[known - 1 - row->lo] : row->base;
}

static void fill_row(Pairing *pairing, gsize i) {
  const Row *above = &pairing->row[i - 1];
  Row *row = &pairing->row[i];
  const BtTimedEvent *event = &pairing->first[i - 1].event;
  row->base = best_with(above, pairing->before, row->lo);
  for (gsize j = row->lo; j < row->hi; j++) {
    const BtTimedEvent *other = &pairing->second[j].event;
    Score best = best_with(above, pairing->before, j + 1);
    guint8 choice = WITHOUT_FIRST;
    Score left = best_with(row, pairing->now, j);
    if (better(left, best)) {
      best = left;
      choice = WITHOUT_SECOND;
    }
    if (event->what == other->what) {
      Score both = best_with(above, pairing->before, j);
      both.pairs++;
      both.off_ms += ABS(event->at_ms - other->at_ms);
      if (!better(best, both)) {
        best = both;
        choice = PAIRED;
      }
    }
    pairing->now[j - row->lo] = best;
    pairing->choice[row->choices + j - row->lo] = choice;
  }
}

static void fill_rows(Pairing *pairing) {
  for (gsize i = 1; i <= pairing->n_first; i++) {
    fill_row(pairing, i);
    Score *spare = pairing->before;
    pairing->before = pairing->now;
    pairing->now = spare;
  }
}

static void walk_back(const Pairing *pairing, GArray *pairs) {
  gsize i = pairing->n_first, j = pairing->n_second;
  while (i > 0) {
    const Row *row = &pairing->row[i];
    j = MIN(j, row->hi);
    guint8 choice = j > row->lo ? pairing->choice[row->choices + j - 1 - row->lo] : WITHOUT_FIRST;
    if (choice == PAIRED) {
      BtEventPair pair = {pairing->first[i - 1].at, pairing->second[j - 1].at};
      g_array_prepend_val(pairs, pair);
    }
    i -= choice != WITHOUT_SECOND;
    j -= choice != WITHOUT_FIRST;
  }
}

BtEventMatch *bt_match_events(const BtTimedEvent *first, gsize n_first, const BtTimedEvent *second,
                              gsize n_second, gint64 tolerance_ms) {
  g_autofree Entry *a = in_order(first, n_first), *b = in_order(second, n_second);
  g_autofree Row *row = g_new0(Row, n_first + 1);
  Pairing pairing = {.first = a, .second = b, .n_first = n_first, .n_second = n_second, .row = row};
  gsize widest = 0, total = lay_bands(&pairing, tolerance_ms, &widest);
  g_autofree Score *scores = g_new(Score, 2 * widest + 1);
  g_autofree guint8 *choice = g_new(guint8, total + 1);
  pairing.now = scores;
  pairing.before = scores + widest;
  pairing.choice = choice;
  fill_rows(&pairing);
  BtEventMatch *match = g_new(BtEventMatch, 1);
  *match = (BtEventMatch){n_first, n_second, g_array_new(FALSE, FALSE, sizeof(BtEventPair))};
  walk_back(&pairing, match->pairs);
  return match;
}

void bt_event_match_free(BtEventMatch *match) {
  if (!match)
    return;
  g_array_unref(match->pairs);
  g_free(match);
}
