// SPDX-License-Identifier: GPL-3.0-or-later
//
// The session in time: a lane a phase, a tick an event, quiet stretches hatched, pauses open, what
// was out of order with an arrow to where it belonged.
#include "report/review.h"

#include "report/review_order.h"
#include "words/words.h"

#define WIDTH       960.0
#define LEFT        10.0
#define RIGHT       20.0
#define LANE_HEIGHT 54.0
#define LANE_LINE   38.0 // of a lane's line below its top
#define TICK        9.0
#define AXIS_HEIGHT 40.0
#define KEY_HEIGHT  24.0
#define MINUTE_MS   60000
#define NAME_SIZE   12.0
#define WORD_SIZE   11.0

typedef struct {
  BtCanvas *canvas;
  const BtReview *review;
  const BtTimeline *timeline;
} Picture;

static double x_of(const Picture *picture, gint64 at_ms) {
  gint64 end_ms = MAX(picture->timeline->end_ms, 1);
  return LEFT + (WIDTH - LEFT - RIGHT) * (double)MIN(at_ms, end_ms) / (double)end_ms;
}

static double lane_y(int lane) {
  return LANE_HEIGHT * lane + LANE_LINE;
}

static double lanes_bottom(const BtTimeline *timeline) {
  return LANE_HEIGHT * (double)timeline->lanes->len;
}

// Ground ----------------------------------------------------------------------

// Minutes between the marks of the axis, so that there are some ten of them.
static int step_minutes(gint64 end_ms) {
  static const int steps[] = {1, 2, 5, 10, 15, 30, 60};
  for (gsize i = 0; i < G_N_ELEMENTS(steps); i++) {
    if (end_ms / MINUTE_MS / steps[i] <= 12)
      return steps[i];
  }
  return 120;
}

static void draw_axis(const Picture *picture) {
  const BtType type = {.size = WORD_SIZE, .colour = BT_SLATE, .anchor = BT_ANCHOR_MIDDLE};
  const BtStroke grid = {.colour = BT_LINE, .width = 0.75};
  double bottom = lanes_bottom(picture->timeline);
  int step = step_minutes(picture->timeline->end_ms);
  for (gint64 at_ms = 0; at_ms <= picture->timeline->end_ms; at_ms += (gint64)step * MINUTE_MS) {
    double x = x_of(picture, at_ms);
    g_autofree char *words = bt_clock_format(at_ms);
    bt__draw_line(picture->canvas, (BtPoint){x, 0}, (BtPoint){x, bottom + 4}, &grid);
    bt__draw_text(picture->canvas, (BtPoint){x, bottom + 18}, words, &type);
  }
}

static void draw_lanes(const Picture *picture) {
  const BtType type = {.size = NAME_SIZE, .colour = BT_INK};
  const BtStroke line = {.colour = BT_SLATE, .width = 0.75};
  for (guint i = 0; i < picture->timeline->lanes->len; i++) {
    const BtLane *lane = &g_array_index(picture->timeline->lanes, BtLane, i);
    g_autofree char *title = bt__text_fit(lane->title, NAME_SIZE, WIDTH - LEFT - RIGHT);
    double y = lane_y((int)i);
    bt__draw_line(picture->canvas, (BtPoint){LEFT, y}, (BtPoint){WIDTH - RIGHT, y}, &line);
    bt__draw_text(picture->canvas, (BtPoint){LEFT, y - 24}, title, &type);
  }
}

// The target of a phase: a thin bracket below its line, from where it was begun.
static void draw_targets(const Picture *picture) {
  const BtStroke thin = {.colour = BT_SAND, .width = 1};
  for (guint i = 0; i < picture->timeline->lanes->len; i++) {
    const BtLane *lane = &g_array_index(picture->timeline->lanes, BtLane, i);
    if (lane->begin_ms < 0 || lane->target_ms < 0)
      continue;
    double y = lane_y((int)i) + 7, from = x_of(picture, lane->begin_ms),
           to = x_of(picture, lane->begin_ms + lane->target_ms);
    const BtPoint bracket[] = {{from, y - 4}, {from, y}, {to, y}, {to, y - 4}};
    bt__draw_path(picture->canvas, bracket, G_N_ELEMENTS(bracket), &thin);
  }
}

static void draw_quiet(const Picture *picture) {
  const BtStroke thin = {.colour = BT_LINE, .width = 1};
  const BtAttempt *attempt = picture->review->attempt;
  for (guint i = 0; i < attempt->ledger->quiet->len; i++) {
    const BtQuiet *quiet = &g_array_index(attempt->ledger->quiet, BtQuiet, i);
    double from = x_of(picture, MAX(bt__event_at_ms(attempt->observation, quiet->from), 0));
    double to = x_of(picture, MAX(bt__event_at_ms(attempt->observation, quiet->to), 0));
    bt__draw_hatch(picture->canvas, (BtPoint){from, 0}, to - from, lanes_bottom(picture->timeline),
                   &thin);
  }
}

static void draw_pauses(const Picture *picture) {
  const BtStroke edge = {.colour = BT_STEEL, .width = 1.5, .dashed = true};
  const BtType type = {.size = WORD_SIZE, .colour = BT_STEEL, .anchor = BT_ANCHOR_MIDDLE};
  double bottom = lanes_bottom(picture->timeline);
  for (guint i = 0; i + 1 < picture->timeline->pauses->len; i += 2) {
    double from = x_of(picture, g_array_index(picture->timeline->pauses, gint64, i));
    double to = x_of(picture, g_array_index(picture->timeline->pauses, gint64, i + 1));
    bt__draw_rect(picture->canvas, (BtPoint){from, 0}, to - from, bottom, BT_PAPER);
    bt__draw_frame(picture->canvas, (BtPoint){from, 0}, to - from, bottom, &edge);
    bt__draw_text(picture->canvas, (BtPoint){(from + to) / 2, 12}, "pause", &type);
  }
}

// Marks -----------------------------------------------------------------------

static void draw_stretch(const Picture *picture, const BtPlaced *placed) {
  if (placed->from_ms < 0)
    return;
  const BtStroke thick = {.colour = BT_LINE, .width = 5};
  double y = lane_y(placed->lane);
  bt__draw_line(picture->canvas, (BtPoint){x_of(picture, placed->from_ms), y},
                (BtPoint){x_of(picture, placed->event->at_ms), y}, &thick);
}

static void draw_tick(const Picture *picture, BtPoint at, BtColour colour, double width) {
  const BtStroke stroke = {.colour = colour, .width = width};
  bt__draw_line(picture->canvas, (BtPoint){at.x, at.y - TICK}, (BtPoint){at.x, at.y + TICK / 2},
                &stroke);
}

static void draw_diamond(const Picture *picture, BtPoint at, BtColour colour) {
  const BtPoint points[] = {{at.x, at.y - 7}, {at.x + 6, at.y}, {at.x, at.y + 7}, {at.x - 6, at.y}};
  bt__draw_area(picture->canvas, points, G_N_ELEMENTS(points), colour);
}

static void draw_error(const Picture *picture, BtPoint at, const BtPlaced *placed) {
  const char letter[] = {placed->letter ? placed->letter : '!', '\0'};
  const BtErrorKind *kind = &picture->review->attempt->rubric->errors[placed->event->item];
  bool critical = kind->severity == BT_SEVERE_CRITICAL;
  const BtType type = {.size = NAME_SIZE,
                       .bold = true,
                       .colour = critical ? BT_PLUM : BT_OCHRE,
                       .anchor = BT_ANCHOR_MIDDLE};
  draw_tick(picture, at, type.colour, critical ? 2.5 : 1.5);
  bt__draw_text(picture->canvas, (BtPoint){at.x, at.y + 13}, letter, &type);
}

static void draw_shape(const Picture *picture, BtPoint at, const BtPlaced *placed) {
  const BtStroke ring = {.colour = BT_OCHRE, .width = 1.75};
  switch (placed->role) {
  case BT_ROLE_AS_EXPECTED:
    draw_tick(picture, at, BT_LAGOON, 2);
    break;
  case BT_ROLE_NOT_AS_EXPECTED:
    draw_tick(picture, at, BT_OCHRE, 2);
    bt__draw_ring(picture->canvas, (BtPoint){at.x, at.y - TICK}, 3.5, &ring);
    break;
  case BT_ROLE_REDO:
    draw_tick(picture, at, BT_MOSS, 2);
    bt__draw_disc(picture->canvas, (BtPoint){at.x, at.y - TICK}, 3, BT_MOSS);
    break;
  case BT_ROLE_FOUND_ERROR:
    draw_error(picture, at, placed);
    break;
  case BT_ROLE_COMPLICATION:
    draw_diamond(picture, at, BT_PLUM);
    break;
  case BT_ROLE_OTHER_WORK:
  case BT_ROLE_CLOCK:
  case BT_ROLE_REMARK:
    draw_tick(picture, at, BT_SLATE, 1);
    break;
  }
}

// An arrow along the lane's upper edge from an event out of order to where it belonged.
static void draw_belonging(const Picture *picture, BtPoint at, const BtPlaced *placed) {
  gint64 there_ms = placed->order ? bt__belongs_at_ms(picture->review, placed->event->seq) : -1;
  if (there_ms < 0)
    return;
  const BtStroke arrow = {.colour = BT_OCHRE, .width = 1.5};
  double y = at.y - TICK - 5;
  bt__draw_arrow(picture->canvas, (BtPoint){at.x, y}, (BtPoint){x_of(picture, there_ms), y},
                 &arrow);
}

static void draw_letter(const Picture *picture, BtPoint at, const BtPlaced *placed) {
  if (!placed->letter || placed->role == BT_ROLE_FOUND_ERROR)
    return;
  const char letter[] = {placed->letter, '\0'};
  const BtType type = {
      .size = WORD_SIZE, .bold = true, .colour = BT_OCHRE, .anchor = BT_ANCHOR_MIDDLE};
  bt__draw_text(picture->canvas, (BtPoint){at.x, at.y + 14}, letter, &type);
}

static void draw_mark(const Picture *picture, const BtPlaced *placed) {
  if (placed->lane < 0)
    return;
  BtPoint at = {x_of(picture, placed->event->at_ms), lane_y(placed->lane)};
  g_autofree char *id = bt__event_id(placed->event->seq);
  g_autofree char *target = g_strconcat("#", id, NULL);
  g_autofree char *time = bt_clock_format(placed->event->at_ms);
  g_autofree char *what = bt__event_text(picture->review->attempt->rubric, placed->event);
  g_autofree char *title = g_strdup_printf("%s %s: %s", time, what, placed->result);
  bt__draw_link(picture->canvas, target, title);
  draw_shape(picture, at, placed);
  draw_letter(picture, at, placed);
  bt__draw_link_end(picture->canvas);
  draw_belonging(picture, at, placed);
}

// Key -------------------------------------------------------------------------

static void draw_key(const Picture *picture) {
  static const struct {
    BtMarkRole role;
    const char *words;
  } entries[] = {{BT_ROLE_AS_EXPECTED, "as expected"},
                 {BT_ROLE_NOT_AS_EXPECTED, "not as expected"},
                 {BT_ROLE_REDO, "redone"},
                 {BT_ROLE_OTHER_WORK, "other"},
                 {BT_ROLE_COMPLICATION, "complication"}};
  const BtType type = {.size = WORD_SIZE, .colour = BT_SLATE};
  double y = lanes_bottom(picture->timeline) + AXIS_HEIGHT, x = LEFT + 6;
  for (gsize i = 0; i < G_N_ELEMENTS(entries); i++) {
    const BtPlaced sample = {.role = entries[i].role};
    draw_shape(picture, (BtPoint){x, y}, &sample);
    bt__draw_text(picture->canvas, (BtPoint){x + 10, y + 4}, entries[i].words, &type);
    x += 30 + bt__text_width(entries[i].words, WORD_SIZE);
  }
  bt__draw_text(picture->canvas, (BtPoint){x, y + 4},
                "hatched: nothing logged; bracket: target; arrow: where it belonged", &type);
}

static void draw_timeline(BtCanvas *canvas, gconstpointer data) {
  const BtReview *review = data;
  const Picture picture = {canvas, review, review->timeline};
  const GArray *marks = review->timeline->marks;
  draw_quiet(&picture);
  draw_axis(&picture);
  draw_lanes(&picture);
  for (guint i = 0; i < marks->len; i++) {
    const BtPlaced *placed = &g_array_index(marks, BtPlaced, i);
    if (placed->lane >= 0)
      draw_stretch(&picture, placed);
  }
  draw_pauses(&picture);
  draw_targets(&picture);
  for (guint i = 0; i < marks->len; i++)
    draw_mark(&picture, &g_array_index(marks, BtPlaced, i));
  draw_key(&picture);
}

// The finding: how long, and whether anything was out of order.
static char *title_of(const BtReview *review) {
  const BtLedger *ledger = review->attempt->ledger;
  g_autofree char *time = bt_clock_format(ledger->total_ms);
  int broken = 0;
  for (guint i = 0; i < ledger->order->len; i++)
    broken += g_array_index(ledger->order, BtOrderRow, i).broken;
  if (ledger->displaced->len == 0 && broken > 0) {
    g_autofree char *rules = bt_count_of(broken, "order rule", NULL);
    return g_strdup_printf("%s of active work; %s broken", time, rules);
  }
  if (ledger->displaced->len == 0)
    return g_strdup_printf("%s of active work, nothing out of its place", time);
  g_autofree char *out =
      bt_count_of((gint64)ledger->displaced->len, "event stands", "events stand");
  return g_strdup_printf("%s of active work; %s out of place", time, out);
}

BtFigure bt__timeline_figure(const BtReview *review) {
  return (BtFigure){
      .id = g_strdup("figure-timeline"),
      .title = title_of(review),
      .words = g_strdup("A lane for each phase with a tick for every event, from left to right. "
                        "The table \"The log\" says the same in words."),
      .width = WIDTH,
      .height = lanes_bottom(review->timeline) + AXIS_HEIGHT + KEY_HEIGHT,
      .draw = draw_timeline,
      .data = review};
}
