// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/review_order.h"

#include "words/words.h"

// Counted events --------------------------------------------------------------

static const BtStepRow *step_row(const BtReview *review, int checkpoint) {
  return &g_array_index(review->attempt->ledger->steps, BtStepRow, (guint)checkpoint);
}

// The events of a checkpoint that rules look at: its first `least` bound ones.
static guint n_counted(const BtReview *review, int checkpoint) {
  const BtStepRow *row = step_row(review, checkpoint);
  return MIN(row->bound->len, (guint)review->attempt->rubric->checkpoints[checkpoint].least);
}

static int counted(const BtReview *review, int checkpoint, guint index) {
  return g_array_index(step_row(review, checkpoint)->bound, int, index);
}

static gint64 at_ms_of(const BtReview *review, int seq) {
  return bt__event_at_ms(review->attempt->observation, seq);
}

static int checkpoint_of(const BtReview *review, int seq) {
  for (int i = 0; i < review->attempt->rubric->n_checkpoints; i++) {
    for (guint j = 0; j < n_counted(review, i); j++) {
      if (counted(review, i, j) == seq)
        return i;
    }
  }
  return -1;
}

// Belonging -------------------------------------------------------------------

// What the ledger's rows of order say: base rules that no complication suspended and rules of
// complications that happened. before[a * n + b]: a belongs before b, directly or by way of others.
static bool *closure_of(const BtReview *review) {
  const BtRubric *rubric = review->attempt->rubric;
  gsize n = (gsize)rubric->n_checkpoints;
  bool *before = g_new0(bool, n *n);
  for (guint i = 0; i < review->attempt->ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(review->attempt->ledger->order, BtOrderRow, i);
    const BtRule *rule = &rubric->rules[row->rule];
    for (int a = 0; a < rule->n_first; a++) {
      for (int b = 0; b < rule->n_then; b++)
        before[(gsize)rule->first[a] * n + (gsize)rule->then[b]] = true;
    }
  }
  for (gsize k = 0; k < n; k++) {
    for (gsize a = 0; a < n; a++) {
      for (gsize b = 0; before[a * n + k] && b < n; b++)
        before[a * n + b] |= before[k * n + b];
    }
  }
  return before;
}

gint64 bt__belongs_at_ms(const BtReview *review, int seq) {
  gsize n = (gsize)review->attempt->rubric->n_checkpoints;
  int own = checkpoint_of(review, seq);
  if (own < 0)
    return -1;
  g_autofree bool *before = closure_of(review);
  gint64 own_ms = at_ms_of(review, seq), late_ms = -1, early_ms = -1;
  for (gsize i = 0; i < n; i++) {
    for (guint j = 0; j < n_counted(review, (int)i); j++) {
      gint64 at_ms = at_ms_of(review, counted(review, (int)i, j));
      if (before[i * n + (gsize)own] && at_ms > own_ms)
        late_ms = MAX(late_ms, at_ms);
      if (before[(gsize)own * n + i] && at_ms < own_ms)
        early_ms = early_ms < 0 ? at_ms : MIN(early_ms, at_ms);
    }
  }
  return late_ms >= 0 ? late_ms : early_ms;
}

// The picture -----------------------------------------------------------------

static int step_of(const BtOrderPicture *picture, int checkpoint) {
  for (guint i = 0; i < picture->steps->len; i++) {
    if (g_array_index(picture->steps, BtOrderStep, i).checkpoint == checkpoint)
      return (int)i;
  }
  return -1;
}

// The checkpoint of `first` that was finished last, and so decided; one that never was, before all.
static int deciding_first(const BtReview *review, const BtOrderRow *row) {
  const BtRule *rule = &review->attempt->rubric->rules[row->rule];
  for (guint i = 0; i < row->shorts->len; i++) {
    const BtShort *missing = &g_array_index(row->shorts, BtShort, i);
    if (missing->done < missing->least)
      return missing->checkpoint;
  }
  int deciding = -1;
  gint64 last_ms = -1;
  for (int i = 0; i < rule->n_first; i++) {
    guint n = n_counted(review, rule->first[i]);
    gint64 at_ms = n ? at_ms_of(review, counted(review, rule->first[i], n - 1)) : -1;
    if (at_ms > last_ms) {
      last_ms = at_ms;
      deciding = rule->first[i];
    }
  }
  return deciding;
}

static void add_step(const BtReview *review, BtOrderPicture *picture, int checkpoint) {
  if (step_of(picture, checkpoint) >= 0)
    return;
  int seq = n_counted(review, checkpoint) ? counted(review, checkpoint, 0) : 0;
  const BtOrderStep step = {checkpoint, seq, seq ? at_ms_of(review, seq) : -1};
  g_array_append_val(picture->steps, step);
}

static int by_time(gconstpointer a, gconstpointer b) {
  const BtOrderStep *x = a, *y = b;
  if ((x->seq == 0) != (y->seq == 0))
    return x->seq == 0 ? 1 : -1;
  if (x->at_ms != y->at_ms)
    return x->at_ms < y->at_ms ? -1 : 1;
  return x->seq != y->seq ? x->seq - y->seq : x->checkpoint - y->checkpoint;
}

static bool ends_of(const BtReview *review, const BtOrderRow *row, int *first, int *then) {
  *first = row->applies ? deciding_first(review, row) : -1;
  *then = row->applies ? checkpoint_of(review, row->then_event) : -1;
  return *first >= 0 && *then >= 0;
}

BtOrderPicture *bt__order_picture_new(const BtReview *review) {
  const GArray *order = review->attempt->ledger->order;
  BtOrderPicture *picture = g_new(BtOrderPicture, 1);
  picture->steps = g_array_new(FALSE, FALSE, sizeof(BtOrderStep));
  picture->arcs = g_array_new(FALSE, FALSE, sizeof(BtOrderArc));
  int first, then;
  for (guint i = 0; i < order->len; i++) {
    if (!ends_of(review, &g_array_index(order, BtOrderRow, i), &first, &then))
      continue;
    add_step(review, picture, first);
    add_step(review, picture, then);
  }
  g_array_sort(picture->steps, by_time);
  for (guint i = 0; i < order->len; i++) {
    const BtOrderRow *row = &g_array_index(order, BtOrderRow, i);
    if (!ends_of(review, row, &first, &then))
      continue;
    const BtOrderArc arc = {row, step_of(picture, first), step_of(picture, then)};
    g_array_append_val(picture->arcs, arc);
  }
  if (picture->arcs->len > 0)
    return picture;
  bt__order_picture_free(picture);
  return NULL;
}

void bt__order_picture_free(BtOrderPicture *picture) {
  if (!picture)
    return;
  g_array_unref(picture->steps);
  g_array_unref(picture->arcs);
  g_free(picture);
}
