// SPDX-License-Identifier: GPL-3.0-or-later
//
// The latest session drawn, with its table: a lane for each phase, time from left to right.
#include "report/sheets.h"
#include "report/timeline.h"
#include "words/words.h"

#define MINUTE_MS    60000.0
#define CHART_ROW    3
#define ROW_PIXELS   20
#define LANE_PIXELS  60 // room for a name in two lines
#define LANE_LEAST   36
#define LANES_PIXELS 520 // all together, so that the chart keeps to a page
#define FRAME_PIXELS 130 // title, axis, legend
#define CHART_WIDTH  1090
#define SERIES_MOST  16

enum { AT, EVENT, WHAT, PHASE, RESULT, ORDER, LETTER, COLUMNS };

static const BtXlsxColumn columns[COLUMNS] = {
    {"At", BT_STYLE_DURATION, 9}, {"Event", BT_STYLE_COUNT, 8},  {"What", BT_STYLE_CELL, 50},
    {"Phase", BT_STYLE_CELL, 28}, {"Result", BT_STYLE_CELL, 26}, {"Order", BT_STYLE_CELL, 16},
    {"Error", BT_STYLE_CELL, 8}};

#define FIRST_DRAWN (COLUMNS + 2)

// Series are gathered point by point, each into two columns of its own to the right of the table.
typedef struct {
  BtXlsxSheet *sheet;
  const BtTimeline *timeline;
  int first_row;
  BtXlsxSeries series[SERIES_MOST];
  GPtrArray *labels[SERIES_MOST];
  int n;
} Drawing;

static double height_of(const Drawing *drawing, int lane) {
  return (double)((int)drawing->timeline->lanes->len - lane);
}

static double minutes(gint64 ms) {
  return (double)ms / MINUTE_MS;
}

// Series ----------------------------------------------------------------------

// A new series without points.
static int begin(Drawing *drawing, const BtXlsxSeries *looks) {
  int index = drawing->n++;
  BtXlsxSeries *series = &drawing->series[index];
  *series = *looks;
  series->x_column = FIRST_DRAWN + 2 * index;
  series->y_column = series->x_column + 1;
  series->first_row = drawing->first_row;
  series->last_row = drawing->first_row - 1;
  drawing->labels[index] = g_ptr_array_new_with_free_func(g_free);
  bt__put_text(drawing->sheet, drawing->first_row - 1, series->x_column, BT_STYLE_DRAWN,
               looks->name);
  return index;
}

static void add_point(Drawing *drawing, int index, double x, double y, const char *label) {
  BtXlsxSeries *series = &drawing->series[index];
  series->last_row++;
  bt__xlsx_real(drawing->sheet, series->last_row, series->x_column, BT_STYLE_DRAWN, x);
  bt__xlsx_real(drawing->sheet, series->last_row, series->y_column, BT_STYLE_DRAWN, y);
  g_ptr_array_add(drawing->labels[index], g_strdup(label));
}

// An empty row ends a line, so that one series holds many.
static void add_line(Drawing *drawing, int index, double from, double to, double y) {
  BtXlsxSeries *series = &drawing->series[index];
  if (series->last_row >= series->first_row) {
    series->last_row++;
    g_ptr_array_add(drawing->labels[index], NULL);
  }
  add_point(drawing, index, from, y, NULL);
  add_point(drawing, index, to, y, NULL);
}

// Drops a series without points; the columns it would have had are used by the next one.
static void end(Drawing *drawing, int index) {
  BtXlsxSeries *series = &drawing->series[index];
  bool labelled = false;
  for (guint i = 0; i < drawing->labels[index]->len; i++)
    labelled |= g_ptr_array_index(drawing->labels[index], i) != NULL;
  if (labelled)
    series->labels = (const char *const *)drawing->labels[index]->pdata;
  if (series->last_row >= series->first_row)
    return;
  g_clear_pointer(&drawing->labels[index], g_ptr_array_unref);
  bt__xlsx_blank(drawing->sheet, drawing->first_row - 1, series->x_column, BT_STYLE_DRAWN);
  drawing->n--;
}

// Lanes -----------------------------------------------------------------------

static void draw_lanes(Drawing *drawing, double right) {
  int lines = begin(drawing, &(BtXlsxSeries){.name = "lanes", .colour = BT_LINE, .line = 0.75});
  for (int i = 0; i < (int)drawing->timeline->lanes->len; i++)
    add_line(drawing, lines, 0, right, height_of(drawing, i));
  end(drawing, lines);
  int names = begin(
      drawing,
      &(BtXlsxSeries){.name = "lane names", .colour = BT_SLATE, .label_side = BT_LABEL_RIGHT});
  for (int i = 0; i < (int)drawing->timeline->lanes->len; i++)
    add_point(drawing, names, 0, height_of(drawing, i) + 0.45,
              g_array_index(drawing->timeline->lanes, BtLane, (guint)i).title);
  end(drawing, names);
}

static void add_stretch(Drawing *drawing, int index, int lane, gint64 from_ms, gint64 to_ms) {
  if (lane >= 0 && from_ms < to_ms)
    add_line(drawing, index, minutes(from_ms), minutes(to_ms), height_of(drawing, lane));
}

static void draw_work(Drawing *drawing) {
  int work = begin(drawing, &(BtXlsxSeries){.name = "Time worked on the phase",
                                            .colour = BT_LAGOON,
                                            .line = 9,
                                            .transparency = 70,
                                            .in_legend = true});
  // Stretches in one lane that follow each other are one line; each begins where the last one
  // ended.
  int lane = -1;
  gint64 from_ms = 0, to_ms = 0;
  for (guint i = 0; i < drawing->timeline->marks->len; i++) {
    const BtPlaced *placed = &g_array_index(drawing->timeline->marks, BtPlaced, i);
    if (placed->lane < 0 || placed->from_ms < 0)
      continue;
    if (placed->lane != lane) {
      add_stretch(drawing, work, lane, from_ms, to_ms);
      lane = placed->lane;
      from_ms = placed->from_ms;
    }
    to_ms = placed->event->at_ms;
  }
  add_stretch(drawing, work, lane, from_ms, to_ms);
  end(drawing, work);
}

static void draw_targets(Drawing *drawing, double right) {
  int targets = begin(drawing, &(BtXlsxSeries){.name = "Target of the phase, from its begin",
                                               .colour = BT_INK,
                                               .mark = BT_MARK_PLUS,
                                               .mark_size = 4,
                                               .line = 1,
                                               .in_legend = true});
  for (int i = 0; i < (int)drawing->timeline->lanes->len; i++) {
    const BtLane *lane = &g_array_index(drawing->timeline->lanes, BtLane, (guint)i);
    if (lane->begin_ms >= 0 && lane->target_ms > 0)
      add_line(drawing, targets, minutes(lane->begin_ms),
               MIN(right, minutes(lane->begin_ms + lane->target_ms)), height_of(drawing, i) - 0.28);
  }
  end(drawing, targets);
}

static void draw_stretches(Drawing *drawing) {
  double y = height_of(drawing, drawing->timeline->clock_lane);
  int pauses = begin(drawing, &(BtXlsxSeries){.name = "Paused",
                                              .colour = BT_SLATE,
                                              .mark = BT_MARK_DASH,
                                              .mark_size = 7,
                                              .line = 2.5,
                                              .dashed = true,
                                              .in_legend = true});
  const GArray *spans = drawing->timeline->pauses;
  for (guint i = 0; i + 1 < spans->len; i += 2)
    add_line(drawing, pauses, minutes(g_array_index(spans, gint64, i)),
             minutes(g_array_index(spans, gint64, i + 1)), y);
  end(drawing, pauses);
  int quiet = begin(drawing, &(BtXlsxSeries){.name = "Quiet stretch",
                                             .colour = BT_SAND,
                                             .line = 5,
                                             .transparency = 50,
                                             .dashed = true,
                                             .in_legend = true});
  const BtAttempt *attempt = drawing->timeline->attempt;
  for (guint i = 0; i < attempt->ledger->quiet->len; i++) {
    const BtQuiet *row = &g_array_index(attempt->ledger->quiet, BtQuiet, i);
    add_line(drawing, quiet, minutes(bt__event_at_ms(attempt->observation, row->from)),
             minutes(bt__event_at_ms(attempt->observation, row->to)), y - 0.2);
  }
  end(drawing, quiet);
}

// Events ----------------------------------------------------------------------

static void draw_role(Drawing *drawing, BtMarkRole role, const BtXlsxSeries *looks) {
  int index = begin(drawing, looks);
  for (guint i = 0; i < drawing->timeline->marks->len; i++) {
    const BtPlaced *placed = &g_array_index(drawing->timeline->marks, BtPlaced, i);
    if (placed->lane < 0 || placed->role != role)
      continue;
    const char *label = role == BT_ROLE_COMPLICATION
                            ? drawing->timeline->attempt->rubric->injects[placed->event->item].title
                            : NULL;
    add_point(drawing, index, minutes(placed->event->at_ms), height_of(drawing, placed->lane),
              label);
  }
  end(drawing, index);
}

static int error_lane(const BtTimeline *timeline) {
  return timeline->clock_lane - 1;
}

// Errors found at work stand in the lane of errors too, below the work they were found at.
static void draw_errors(Drawing *drawing) {
  int index = begin(drawing, &(BtXlsxSeries){.name = "Technique error (letter: see the table)",
                                             .colour = BT_PLUM,
                                             .mark = BT_MARK_TRIANGLE,
                                             .mark_size = 8,
                                             .in_legend = true,
                                             .label_side = BT_LABEL_RIGHT});
  for (guint i = 0; i < drawing->timeline->marks->len; i++) {
    const BtPlaced *placed = &g_array_index(drawing->timeline->marks, BtPlaced, i);
    const char letter[] = {placed->letter, '\0'};
    if (placed->letter)
      add_point(drawing, index, minutes(placed->event->at_ms),
                height_of(drawing, error_lane(drawing->timeline)), letter);
  }
  end(drawing, index);
}

// A halo around what is out of order, with an arrow to where it belonged.
static void draw_order(Drawing *drawing) {
  int index = begin(drawing, &(BtXlsxSeries){.name = "Out of order (arrow: where it belonged)",
                                             .colour = BT_OCHRE,
                                             .mark = BT_MARK_DIAMOND,
                                             .fill = BT_HALO,
                                             .mark_size = 12,
                                             .in_legend = true,
                                             .label_side = BT_LABEL_BELOW});
  for (guint i = 0; i < drawing->timeline->marks->len; i++) {
    const BtPlaced *placed = &g_array_index(drawing->timeline->marks, BtPlaced, i);
    if (placed->lane < 0 || !placed->order)
      continue;
    const char *arrow = g_str_equal(placed->order, "too late") ? "\u2190" : "\u2192";
    add_point(drawing, index, minutes(placed->event->at_ms), height_of(drawing, placed->lane),
              arrow);
  }
  end(drawing, index);
}

static void draw_events(Drawing *drawing) {
  draw_role(
      drawing, BT_ROLE_AS_EXPECTED,
      &(BtXlsxSeries){
          .name = "As expected", .colour = BT_LAGOON, .mark = BT_MARK_DISC, .in_legend = true});
  draw_role(drawing, BT_ROLE_NOT_AS_EXPECTED,
            &(BtXlsxSeries){.name = "Not as expected",
                            .colour = BT_OCHRE,
                            .mark = BT_MARK_DISC,
                            .fill = BT_RING,
                            .mark_size = 7,
                            .in_legend = true});
  draw_role(drawing, BT_ROLE_REDO,
            &(BtXlsxSeries){
                .name = "Redone", .colour = BT_STEEL, .mark = BT_MARK_SQUARE, .in_legend = true});
  draw_role(
      drawing, BT_ROLE_OTHER_WORK,
      &(BtXlsxSeries){
          .name = "Other work", .colour = BT_SLATE, .mark = BT_MARK_CROSS, .in_legend = true});
  draw_errors(drawing);
  draw_role(drawing, BT_ROLE_CLOCK,
            &(BtXlsxSeries){.name = "Start, pause, resume, finish",
                            .colour = BT_INK,
                            .mark = BT_MARK_PLUS,
                            .mark_size = 8,
                            .in_legend = true});
  draw_role(drawing, BT_ROLE_COMPLICATION,
            &(BtXlsxSeries){.name = "Complication",
                            .colour = BT_OCHRE,
                            .mark = BT_MARK_SQUARE,
                            .fill = BT_RING,
                            .mark_size = 9,
                            .in_legend = true,
                            .label_side = BT_LABEL_ABOVE});
  draw_order(drawing);
}

// Chart and table -------------------------------------------------------------

static char *title_of(const BtTimeline *timeline) {
  const BtAttempt *attempt = timeline->attempt;
  g_autofree char *spent = bt_clock_format(attempt->ledger->total_ms);
  int out = 0;
  for (guint i = 0; i < timeline->marks->len; i++)
    out += g_array_index(timeline->marks, BtPlaced, i).order != NULL;
  if (out == 0)
    return g_strdup_printf("%s on the clock; no event out of order", spent);
  g_autofree char *events = bt_count_of(out, "event", NULL);
  return g_strdup_printf("%s on the clock; %s out of order", spent, events);
}

static int chart_pixels(const BtTimeline *timeline) {
  int lanes = MAX((int)timeline->lanes->len, 1);
  return FRAME_PIXELS + lanes * CLAMP(LANES_PIXELS / lanes, LANE_LEAST, LANE_PIXELS);
}

static void put_chart(BtXlsxSheet *sheet, const BtTimeline *timeline, int first_row) {
  double last = minutes(timeline->end_ms), step = bt__nice_step(last, 12);
  double right = step * (double)((int)(last / step) + 1);
  Drawing drawing = {.sheet = sheet, .timeline = timeline, .first_row = first_row};
  draw_lanes(&drawing, right);
  draw_work(&drawing);
  draw_targets(&drawing, right);
  draw_stretches(&drawing);
  draw_events(&drawing);
  g_autofree char *title = title_of(timeline);
  const BtXlsxChart chart = {.title = title,
                             .description = "The session over time; the table below says the same "
                                            "in words.",
                             .x_title = "Minutes on the session's clock",
                             .x_max = right,
                             .x_unit = step,
                             .x_label_from = -1,
                             .x_label_to = right - step / 2,
                             .y_min = 0.4,
                             .y_max = (double)timeline->lanes->len + 0.7,
                             .y_unit = 1,
                             .width = CHART_WIDTH,
                             .height = chart_pixels(timeline)};
  bt__xlsx_scatter(sheet, CHART_ROW, 0, &chart, sheet, drawing.series, drawing.n);
  for (int i = 0; i < drawing.n; i++)
    g_ptr_array_unref(drawing.labels[i]);
}

static void put_row(BtXlsxSheet *sheet, int row, const BtTimeline *timeline,
                    const BtPlaced *placed) {
  const char letter[] = {placed->letter, '\0'};
  g_autofree char *what = bt__event_text(timeline->attempt->rubric, placed->event);
  g_autofree char *noted = placed->event->note && *placed->event->note
                               ? g_strdup_printf("%s (%s)", what, placed->event->note)
                               : g_strdup(what);
  bt__xlsx_duration(sheet, row, AT, placed->event->at_ms);
  bt__xlsx_count(sheet, row, EVENT, placed->event->seq);
  bt__put_text(sheet, row, WHAT, BT_STYLE_CELL, noted);
  bt__put_text(
      sheet, row, PHASE, BT_STYLE_CELL,
      placed->lane < 0 ? NULL : g_array_index(timeline->lanes, BtLane, (guint)placed->lane).title);
  bt__put_text(sheet, row, RESULT, BT_STYLE_CELL, placed->result);
  bt__put_text(sheet, row, ORDER, BT_STYLE_CELL_STRONG, placed->order);
  bt__put_text(sheet, row, LETTER, BT_STYLE_CELL_STRONG, letter);
}

static char *line_of(const BtAttempt *attempt) {
  g_autofree char *date = bt_date_format(attempt->row->started_ms);
  return g_strdup_printf(
      "The latest session: %s, attempt %d, %s (session %s). Numbers to the right "
      "of the table are what the chart draws.",
      attempt->rubric->title, attempt->row->attempt, date, attempt->row->session);
}

void bt__sheet_timeline(BtXlsx *xlsx, const BtTraineeRecord *record) {
  const BtAttempt *attempt = bt__latest_attempt(bt__latest_exercise(record));
  g_autofree char *line = line_of(attempt);
  BtXlsxSheet *sheet = bt__begin_sheet(xlsx, record, "Timeline", line, true, true);
  g_autoptr(BtTimeline) timeline = bt__timeline_new(attempt);
  int header = CHART_ROW + chart_pixels(timeline) / ROW_PIXELS + 2;
  int n = (int)timeline->marks->len;
  bt__xlsx_table(sheet, "Timeline", header, 0, columns, COLUMNS, n, false);
  bt__xlsx_repeat_row(sheet, header);
  for (int i = 0; i < n; i++)
    put_row(sheet, header + 1 + i, timeline, &g_array_index(timeline->marks, BtPlaced, (guint)i));
  put_chart(sheet, timeline, header + 1);
  bt__xlsx_print_area(sheet, header + MAX(n, 1), COLUMNS - 1);
}
