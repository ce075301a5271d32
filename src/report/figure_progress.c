// SPDX-License-Identifier: GPL-3.0-or-later
//
// Two figures of the review: the time of each phase against its target, and the totals of the
// trainee's attempts among those of the others.
#include "report/review.h"

#include "words/words.h"

#define WIDTH 960.0
#define SIZE  12.0

// Time ------------------------------------------------------------------------

#define NAME_WIDTH 300.0
#define BAR_ROW    26.0
#define BAR        10.0
#define BAR_TOP    24.0

typedef struct {
  const char *title;
  gint64 spent_ms, target_ms, limit_ms;
} Spent;

static Spent spent_at(const BtReview *review, int phase) {
  const BtRubric *rubric = review->attempt->rubric;
  const BtLedger *ledger = review->attempt->ledger;
  if (phase == rubric->n_phases)
    return (Spent){"The whole session", ledger->total_ms, rubric->clock.target_ms,
                   rubric->clock.limit_ms};
  const BtPhase *of = &rubric->phases[phase];
  return (Spent){of->title, ledger->charged_ms[phase], of->target_ms, of->limit_ms};
}

static gint64 longest_ms(const BtReview *review) {
  gint64 longest = 1;
  for (int i = 0; i <= review->attempt->rubric->n_phases; i++) {
    Spent spent = spent_at(review, i);
    longest = MAX(longest, MAX(spent.spent_ms, MAX(spent.target_ms, spent.limit_ms)));
  }
  return longest;
}

static double bar_x(gint64 ms, gint64 longest) {
  return NAME_WIDTH + (WIDTH - NAME_WIDTH - 90) * (double)ms / (double)longest;
}

static void draw_goal(BtCanvas *canvas, double x, double y, bool limit) {
  const BtStroke stroke = {.colour = BT_INK, .width = 1.5, .dashed = limit};
  bt__draw_line(canvas, (BtPoint){x, y - BAR}, (BtPoint){x, y + BAR}, &stroke);
}

static void draw_bar(BtCanvas *canvas, const Spent *spent, gint64 longest, double y) {
  bool late = spent->target_ms > 0 && spent->spent_ms > spent->target_ms;
  const BtType name = {.size = SIZE, .colour = BT_INK, .anchor = BT_ANCHOR_END};
  const BtType time = {.size = SIZE, .bold = late, .colour = late ? BT_OCHRE : BT_INK};
  g_autofree char *title = bt__text_fit(spent->title, SIZE, NAME_WIDTH - 20);
  g_autofree char *clock = bt_clock_format(spent->spent_ms);
  g_autofree char *words = g_strdup_printf("%s%s", clock, late ? " over target" : "");
  double end = bar_x(spent->spent_ms, longest);
  bt__draw_text(canvas, (BtPoint){NAME_WIDTH - 10, y + 4}, title, &name);
  bt__draw_rect(canvas, (BtPoint){NAME_WIDTH, y - BAR / 2}, end - NAME_WIDTH, BAR,
                late ? BT_OCHRE : BT_LAGOON);
  double right = end;
  if (spent->target_ms > 0) {
    draw_goal(canvas, bar_x(spent->target_ms, longest), y, false);
    right = MAX(right, bar_x(spent->target_ms, longest));
  }
  if (spent->limit_ms > 0) {
    draw_goal(canvas, bar_x(spent->limit_ms, longest), y, true);
    right = MAX(right, bar_x(spent->limit_ms, longest));
  }
  bool room = right + 8 + bt__text_width(words, SIZE) < WIDTH;
  bt__draw_text(canvas, (BtPoint){room ? right + 8 : right - 8, room ? y + 4 : y - BAR}, words,
                &(BtType){.size = SIZE,
                          .bold = time.bold,
                          .colour = time.colour,
                          .anchor = room ? BT_ANCHOR_START : BT_ANCHOR_END});
}

static void draw_times(BtCanvas *canvas, gconstpointer data) {
  const BtReview *review = data;
  gint64 longest = longest_ms(review);
  const BtType key = {.size = SIZE - 1, .colour = BT_SLATE};
  for (int i = 0; i <= review->attempt->rubric->n_phases; i++) {
    Spent spent = spent_at(review, i);
    draw_bar(canvas, &spent, longest, BAR_TOP + BAR_ROW * i);
  }
  bt__draw_text(canvas,
                (BtPoint){NAME_WIDTH, BAR_TOP + BAR_ROW * (review->attempt->rubric->n_phases + 1)},
                "solid line: target; dashed line: limit", &key);
}

static char *time_title(const BtReview *review) {
  int late = 0, with_target = 0;
  for (int i = 0; i < review->attempt->rubric->n_phases; i++) {
    Spent spent = spent_at(review, i);
    with_target += spent.target_ms > 0;
    late += spent.target_ms > 0 && spent.spent_ms > spent.target_ms;
  }
  if (with_target == 0)
    return g_strdup("No phase of this rubric has a target time");
  if (late == 0)
    return g_strdup("Every phase within its target time");
  g_autofree char *phases = bt_count_of(late, "phase", NULL);
  return g_strdup_printf("%s took longer than the target", phases);
}

BtFigure bt__time_figure(const BtReview *review) {
  int rows = review->attempt->rubric->n_phases + 1;
  return (BtFigure){.id = g_strdup("figure-time"),
                    .title = time_title(review),
                    .words = g_strdup("A bar for each phase with its target and limit. The table "
                                      "below gives the same times."),
                    .width = WIDTH,
                    .height = BAR_TOP + BAR_ROW * rows + 12,
                    .draw = draw_times,
                    .data = review};
}

// Progress --------------------------------------------------------------------

#define CHART_LEFT   50.0
#define CHART_RIGHT  150.0
#define CHART_TOP    14.0
#define CHART_HEIGHT 220.0
#define LINE_LEAST   3 // fewer points are no line

typedef struct {
  BtCanvas *canvas;
  const GPtrArray *attempts; // of BtAttempt
  int first, last;           // numbers of attempts
} Chart;

static const BtAttempt *attempt_at(const Chart *chart, guint index) {
  return g_ptr_array_index(chart->attempts, index);
}

static double chart_x(const Chart *chart, int attempt) {
  double span = MAX(chart->last - chart->first, 1);
  return CHART_LEFT + 20 +
         (WIDTH - CHART_LEFT - CHART_RIGHT - 40) * (attempt - chart->first) / span;
}

static double chart_y(gint64 percent_milli) {
  return CHART_TOP + CHART_HEIGHT * (1 - (double)percent_milli / 100000);
}

static void draw_scale(const Chart *chart) {
  const BtStroke grid = {.colour = BT_LINE, .width = 0.75};
  const BtType right = {.size = SIZE - 1, .colour = BT_SLATE, .anchor = BT_ANCHOR_END};
  const BtType middle = {.size = SIZE - 1, .colour = BT_SLATE, .anchor = BT_ANCHOR_MIDDLE};
  for (int percent = 0; percent <= 100; percent += 25) {
    double y = chart_y(percent * 1000);
    g_autofree char *words = g_strdup_printf("%d %%", percent);
    bt__draw_line(chart->canvas, (BtPoint){CHART_LEFT, y}, (BtPoint){WIDTH - CHART_RIGHT, y},
                  &grid);
    bt__draw_text(chart->canvas, (BtPoint){CHART_LEFT - 6, y + 4}, words, &right);
  }
  for (guint i = 0; i < chart->attempts->len; i++) {
    int number = attempt_at(chart, i)->row->attempt;
    g_autofree char *words = g_strdup_printf("%d", number);
    bt__draw_text(chart->canvas, (BtPoint){chart_x(chart, number), CHART_TOP + CHART_HEIGHT + 18},
                  words, &middle);
  }
  bt__draw_text(chart->canvas,
                (BtPoint){(CHART_LEFT + WIDTH - CHART_RIGHT) / 2, CHART_TOP + CHART_HEIGHT + 36},
                "attempt", &middle);
}

// The middle half of the others between neighbouring attempts at which it is known.
static void draw_band(const Chart *chart) {
  double named_y = -1;
  for (guint i = 0; i + 1 < chart->attempts->len; i++) {
    const BtAttempt *left = attempt_at(chart, i), *right = attempt_at(chart, i + 1);
    if (!bt__middle_half_shown(&left->others) || !bt__middle_half_shown(&right->others))
      continue;
    double from = chart_x(chart, left->row->attempt), to = chart_x(chart, right->row->attempt);
    const BtPoint area[] = {{from, chart_y(left->others.low_milli)},
                            {from, chart_y(left->others.high_milli)},
                            {to, chart_y(right->others.high_milli)},
                            {to, chart_y(right->others.low_milli)}};
    bt__draw_area(chart->canvas, area, G_N_ELEMENTS(area), BT_WASH);
    const BtStroke edge = {.colour = BT_SAND, .width = 0.75};
    bt__draw_line(chart->canvas, area[0], area[3], &edge);
    bt__draw_line(chart->canvas, area[1], area[2], &edge);
    named_y = (area[2].y + area[3].y) / 2;
  }
  const BtType name = {.size = SIZE - 1, .colour = BT_SLATE};
  if (named_y >= 0)
    bt__draw_text(chart->canvas, (BtPoint){WIDTH - CHART_RIGHT + 6, named_y + 4},
                  "others, middle half", &name);
}

static void draw_mark(BtCanvas *canvas, BtPoint at, BtOutcome outcome) {
  const BtStroke ring = {.colour = BT_LAGOON, .width = 2};
  if (outcome == BT_PASS) {
    bt__draw_disc(canvas, at, 5, BT_LAGOON);
    return;
  }
  bt__draw_ring(canvas, at, 5, &ring);
  const BtPoint half[] = {
      {at.x, at.y - 5}, {at.x, at.y + 5}, {at.x - 4.3, at.y + 2.5}, {at.x - 4.3, at.y - 2.5}};
  if (outcome == BT_UNDECIDED)
    bt__draw_area(canvas, half, G_N_ELEMENTS(half), BT_LAGOON);
}

static void draw_own(const Chart *chart) {
  const BtStroke line = {.colour = BT_LAGOON, .width = 2};
  g_autoptr(GArray) points = g_array_new(FALSE, FALSE, sizeof(BtPoint));
  for (guint i = 0; i < chart->attempts->len; i++) {
    const BtAttempt *attempt = attempt_at(chart, i);
    if (attempt->ledger->total_percent_milli < 0)
      continue;
    const BtPoint point = {chart_x(chart, attempt->row->attempt),
                           chart_y(attempt->ledger->total_percent_milli)};
    g_array_append_val(points, point);
  }
  if (points->len >= LINE_LEAST)
    bt__draw_path(chart->canvas, (const BtPoint *)(const void *)points->data, points->len, &line);
  for (guint i = 0; i < chart->attempts->len; i++) {
    const BtAttempt *attempt = attempt_at(chart, i);
    if (attempt->ledger->total_percent_milli >= 0)
      draw_mark(chart->canvas,
                (BtPoint){chart_x(chart, attempt->row->attempt),
                          chart_y(attempt->ledger->total_percent_milli)},
                attempt->ledger->outcome);
  }
}

static void draw_pass(const Chart *chart) {
  gint64 pass_milli = attempt_at(chart, chart->attempts->len - 1)->rubric->score.pass_milli;
  const BtStroke line = {.colour = BT_OCHRE, .width = 1.25, .dashed = true};
  const BtType name = {.size = SIZE - 1, .colour = BT_OCHRE};
  g_autofree char *percent = bt_decimal_format(pass_milli);
  g_autofree char *words = g_strdup_printf("needed %s %%", percent);
  double y = chart_y(pass_milli);
  bt__draw_line(chart->canvas, (BtPoint){CHART_LEFT, y}, (BtPoint){WIDTH - CHART_RIGHT, y}, &line);
  bt__draw_text(chart->canvas, (BtPoint){WIDTH - CHART_RIGHT + 6, y - 4}, words, &name);
}

static void draw_progress(BtCanvas *canvas, gconstpointer data) {
  const BtReview *review = data;
  const BtAttempt *first = g_ptr_array_index(review->attempts, 0);
  const Chart chart = {canvas, review->attempts, first->row->attempt,
                       review->attempt->row->attempt};
  draw_scale(&chart);
  draw_band(&chart);
  draw_pass(&chart);
  draw_own(&chart);
}

BtFigure bt__progress_figure(const BtReview *review) {
  const BtAttempt *first = g_ptr_array_index(review->attempts, 0);
  gint64 from = first->ledger->total_percent_milli,
         to = review->attempt->ledger->total_percent_milli;
  g_autofree char *before = bt_decimal_format_cut(from, 1);
  g_autofree char *now = bt_decimal_format_cut(to, 1);
  return (BtFigure){
      .id = g_strdup("figure-progress"),
      .title = from < 0 || to < 0 ? g_strdup_printf("%u attempts", review->attempts->len)
                                  : g_strdup_printf("From %s %% to %s %% in %u attempts", before,
                                                    now, review->attempts->len),
      .words =
          g_strdup("The total of each attempt with the line that is needed and the middle half "
                   "of the others. Filled: pass; open: not yet; half: undecided. The table "
                   "below gives the same numbers."),
      .width = WIDTH,
      .height = CHART_TOP + CHART_HEIGHT + 44,
      .draw = draw_progress,
      .data = review};
}
