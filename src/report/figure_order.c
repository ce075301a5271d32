// SPDX-License-Identifier: GPL-3.0-or-later
//
// The order drawn: the steps as they were done, from top to bottom, and beside them an arrow for
// each rule from what belonged first to what belonged after it. An arrow that climbs is a rule
// broken.
#include "report/review.h"

#include "report/review_order.h"
#include "words/words.h"

#define WIDTH     960.0
#define ROW       24.0
#define TOP       18.0
#define NAME_LEFT 96.0
#define ARCS_MOST 500.0 // where arrows begin at the most; nearer when the names are short
#define LANE      16.0
#define SIZE      12.0
#define NOTE_SIZE 11.0

// Where the arrows begin: behind the longest name.
static double arcs_left(const BtReview *review) {
  double longest = 0;
  for (guint i = 0; i < review->order->steps->len; i++) {
    int checkpoint = g_array_index(review->order->steps, BtOrderStep, i).checkpoint;
    longest =
        MAX(longest, bt__text_width(review->attempt->rubric->checkpoints[checkpoint].title, SIZE));
  }
  return MIN(ARCS_MOST, NAME_LEFT + longest + LANE);
}

static double row_y(int step) {
  return TOP + ROW * step;
}

// Lanes of the arrows ---------------------------------------------------------
//
// Those that overlap stand side by side, the shorter ones nearer to the steps.

typedef struct {
  int low, high; // rows
  int lane;
} Span;

static int by_length(gconstpointer a, gconstpointer b) {
  const Span *x = *(Span *const *)a, *y = *(Span *const *)b;
  int left = x->high - x->low, right = y->high - y->low;
  return left != right ? left - right : x->low - y->low;
}

static bool lane_is_free(const GPtrArray *spans, guint n, const Span *span, int lane) {
  for (guint i = 0; i < n; i++) {
    const Span *other = g_ptr_array_index(spans, i);
    if (other->lane == lane && other->low <= span->high && span->low <= other->high)
      return false;
  }
  return true;
}

// One a rule; caller frees.
static Span *spans_of(const BtOrderPicture *picture) {
  Span *spans = g_new(Span, picture->arcs->len);
  g_autoptr(GPtrArray) sorted = g_ptr_array_new();
  for (guint i = 0; i < picture->arcs->len; i++) {
    const BtOrderArc *arc = &g_array_index(picture->arcs, BtOrderArc, i);
    spans[i] = (Span){MIN(arc->first, arc->then), MAX(arc->first, arc->then), 0};
    g_ptr_array_add(sorted, &spans[i]);
  }
  g_ptr_array_sort(sorted, by_length);
  for (guint i = 0; i < sorted->len; i++) {
    Span *span = g_ptr_array_index(sorted, i);
    while (!lane_is_free(sorted, i, span, span->lane))
      span->lane++;
  }
  return spans;
}

// Drawing ---------------------------------------------------------------------

static void draw_step(BtCanvas *canvas, const BtReview *review, int index) {
  const BtOrderStep *step = &g_array_index(review->order->steps, BtOrderStep, (guint)index);
  const BtCheckpoint *checkpoint = &review->attempt->rubric->checkpoints[step->checkpoint];
  const BtType type = {.size = SIZE, .colour = BT_INK};
  const BtType quiet = {.size = SIZE, .colour = BT_SLATE, .anchor = BT_ANCHOR_END};
  double y = row_y(index) + 4;
  g_autofree char *title = bt__text_fit(checkpoint->title, SIZE, ARCS_MOST - NAME_LEFT - LANE);
  if (step->seq == 0) {
    bt__draw_text(canvas, (BtPoint){NAME_LEFT - 12, y}, "not done", &quiet);
    bt__draw_text(canvas, (BtPoint){NAME_LEFT, y}, title,
                  &(BtType){.size = SIZE, .colour = BT_SLATE});
    return;
  }
  g_autofree char *number = g_strdup_printf("%d", index + 1);
  g_autofree char *at = bt_clock_format(step->at_ms);
  g_autofree char *id = bt__event_id(step->seq);
  g_autofree char *target = g_strconcat("#", id, NULL);
  g_autofree char *where = g_strdup_printf("%s at %s", checkpoint->title, at);
  bt__draw_text(canvas, (BtPoint){26, y}, number, &quiet);
  bt__draw_text(canvas, (BtPoint){NAME_LEFT - 12, y}, at, &quiet);
  bt__draw_link(canvas, target, where);
  bt__draw_text(canvas, (BtPoint){NAME_LEFT, y}, title, &type);
  bt__draw_link_end(canvas);
}

static void draw_arc(BtCanvas *canvas, const BtOrderArc *arc, const Span *span, int number,
                     double left) {
  bool broken = arc->row->broken;
  const BtStroke stroke = {.colour = broken ? BT_OCHRE : BT_SLATE, .width = broken ? 2.25 : 1};
  double x = left + LANE * (span->lane + 1);
  double from = row_y(arc->first), to = row_y(arc->then);
  // What shares a row is kept apart by a little: leaving below, arriving above, or the other way.
  double apart = from < to ? 3 : -3;
  const BtPoint path[] = {{left, from + apart}, {x, from + apart}, {x, to - apart}};
  bt__draw_path(canvas, path, G_N_ELEMENTS(path), &stroke);
  bt__draw_arrow(canvas, (BtPoint){x, to - apart}, (BtPoint){left, to - apart}, &stroke);
  if (!broken)
    return;
  g_autofree char *words = g_strdup_printf("%d", number);
  const BtType type = {
      .size = NOTE_SIZE, .bold = true, .colour = BT_OCHRE, .anchor = BT_ANCHOR_MIDDLE};
  const BtPoint middle = {x, (from + to) / 2};
  const BtStroke ring = {.colour = BT_OCHRE, .width = 1.5};
  bt__draw_ring(canvas, middle, 8, &ring);
  bt__draw_text(canvas, (BtPoint){middle.x, middle.y + 4}, words, &type);
}

// "1  Long plate before Four screws: 4 points lost": below the steps.
static void draw_note(BtCanvas *canvas, const BtReview *review, const BtOrderArc *arc, int number,
                      double y) {
  const BtRule *rule = &review->attempt->rubric->rules[arc->row->rule];
  g_autofree char *lost = bt_decimal_format(rule->lose_mp - arc->row->given_mp);
  g_autofree char *words =
      g_strdup_printf("%d  \"%s\" was to come before \"%s\": %s points lost%s", number,
                      rule->first_text, rule->then_text, lost, rule->critical ? ", critical" : "");
  g_autofree char *fit = bt__text_fit(words, NOTE_SIZE, WIDTH - 24);
  g_autofree char *target = g_strdup_printf("#order-%s", rule->id);
  const BtType type = {
      .size = NOTE_SIZE, .bold = true, .colour = rule->critical ? BT_PLUM : BT_OCHRE};
  bt__draw_link(canvas, target, words);
  bt__draw_text(canvas, (BtPoint){20, y}, fit, &type);
  bt__draw_link_end(canvas);
}

static void draw_order(BtCanvas *canvas, gconstpointer data) {
  const BtReview *review = data;
  const BtOrderPicture *picture = review->order;
  g_autofree Span *spans = spans_of(picture);
  for (guint i = 0; i < picture->steps->len; i++)
    draw_step(canvas, review, (int)i);
  double y = row_y((int)picture->steps->len) + 8, left = arcs_left(review);
  int number = 0;
  for (int broken = 0; broken < 2; broken++) { // broken ones last, on top of the others
    for (guint i = 0; i < picture->arcs->len; i++) {
      const BtOrderArc *arc = &g_array_index(picture->arcs, BtOrderArc, i);
      if (arc->row->broken != (broken == 1))
        continue;
      number += broken;
      draw_arc(canvas, arc, &spans[i], number, left);
      if (broken)
        draw_note(canvas, review, arc, number, y + ROW * (number - 1));
    }
  }
}

static int n_broken(const BtOrderPicture *picture) {
  int broken = 0;
  for (guint i = 0; i < picture->arcs->len; i++)
    broken += g_array_index(picture->arcs, BtOrderArc, i).row->broken;
  return broken;
}

BtFigure bt__order_figure(const BtReview *review) {
  int broken = n_broken(review->order), rules = (int)review->order->arcs->len;
  g_autofree char *all = bt_count_of(rules, "rule", NULL);
  return (BtFigure){
      .id = g_strdup("figure-order"),
      .title = broken ? g_strdup_printf("%d of %s broken: the arrows that climb", broken, all)
                      : g_strdup_printf("%s applied, none was broken: no arrow climbs", all),
      .words =
          g_strdup("The steps in the order done, and an arrow for each rule from what belonged "
                   "first to what belonged after it. The rows \"Order\" of the ledger say the "
                   "same in words."),
      .width = WIDTH,
      .height = row_y((int)review->order->steps->len) + 16 + ROW * broken,
      .draw = draw_order,
      .data = review};
}
