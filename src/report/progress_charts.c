// SPDX-License-Identifier: GPL-3.0-or-later
//
// The four charts of an exercise, and the cells that only they use.
#include "report/progress.h"
#include "report/sheets.h"
#include "words/words.h"

#define CHART_WIDTH  (7 * BT_P_PIXELS - 8) // seven columns of the sheet, less a gap
#define CHART_HEIGHT (BT_P_CHART_ROWS * 20 - 8)
#define RIGHT_COLUMN 7
#define LINE_LEAST   3 // fewer points are no line

static const BtColour series_colours[] = {BT_LAGOON, BT_OCHRE, BT_PLUM, BT_MOSS,
                                          BT_STEEL,  BT_SAND,  BT_INK,  BT_SLATE};
static const BtMark series_marks[] = {BT_MARK_DISC,     BT_MARK_SQUARE, BT_MARK_DIAMOND,
                                      BT_MARK_TRIANGLE, BT_MARK_CROSS,  BT_MARK_PLUS,
                                      BT_MARK_DASH};

static double line_width(const BtProgressBlock *block) {
  return block->n >= LINE_LEAST ? 1.5 : 0;
}

static const BtAttempt *attempt_at(const BtProgressBlock *block, int index) {
  return bt__attempt(block->exercise, (guint)index);
}

static int last_attempt(const BtProgressBlock *block) {
  return attempt_at(block, block->n - 1)->row->attempt;
}

// A chart over attempts, without its title and y axis.
static BtXlsxChart over_attempts(const BtProgressBlock *block) {
  return (BtXlsxChart){.x_title = "Attempt",
                       .x_min = attempt_at(block, 0)->row->attempt - 1,
                       .x_max = last_attempt(block) + 1,
                       .x_unit = MAX(1, bt__nice_step(last_attempt(block), 20)),
                       .x_label_from = attempt_at(block, 0)->row->attempt - 0.5,
                       .x_label_to = last_attempt(block) + 0.5,
                       .y_labels = true,
                       .y_grid = true,
                       .width = CHART_WIDTH,
                       .height = CHART_HEIGHT};
}

static BtXlsxChart percent_chart(const BtProgressBlock *block) {
  BtXlsxChart chart = over_attempts(block);
  chart.y_title = "Percent of the points";
  chart.y_min = 0;
  chart.y_max = 100;
  chart.y_unit = 20;
  return chart;
}

// Total -----------------------------------------------------------------------

static void put_drawn_header(const BtProgressBlock *block, int row) {
  static const char *const headers[] = {"Drawn: others, attempt",
                                        "others, %",
                                        "pass line, attempt",
                                        "pass line, %",
                                        "pass",
                                        "undecided",
                                        "not yet"};
  for (int i = BT_P_BAND_X; i < BT_P_DRAWN_END; i++)
    bt__put_text(block->sheet, row, i, BT_STYLE_DRAWN, headers[i - BT_P_BAND_X]);
}

// The middle half as an upright bar at each attempt: two points and a gap. Returns its last row.
static int put_band(const BtProgressBlock *block, int row) {
  int at = row;
  for (int i = 0; i < block->n; i++) {
    const BtAttempt *attempt = attempt_at(block, i);
    if (!bt__middle_half_shown(&attempt->others))
      continue;
    at += at > row; // an empty row ends the bar before
    const gint64 ends_milli[] = {attempt->others.low_milli, attempt->others.high_milli};
    for (int j = 0; j < 2; j++) {
      bt__xlsx_real(block->sheet, at, BT_P_BAND_X, BT_STYLE_DRAWN, attempt->row->attempt);
      bt__draw_percent(block->sheet, at++, BT_P_BAND_Y, ends_milli[j]);
    }
  }
  return at - 1;
}

// The pass mark from half an attempt before to half an attempt after, as editions may change it.
static int put_pass_line(const BtProgressBlock *block, int row) {
  for (int i = 0; i < block->n; i++) {
    const BtAttempt *attempt = attempt_at(block, i);
    for (int j = 0; j < 2; j++) {
      bt__xlsx_real(block->sheet, row + 2 * i + j, BT_P_LINE_X, BT_STYLE_DRAWN,
                    attempt->row->attempt - 0.5 + j);
      bt__xlsx_milli(block->sheet, row + 2 * i + j, BT_P_LINE_Y, BT_STYLE_DRAWN,
                     attempt->rubric->score.pass_milli);
    }
  }
  return row + 2 * block->n - 1;
}

// The total once more, in the column of its outcome, so that each outcome has its own shape.
static void put_by_outcome(const BtProgressBlock *block, bool seen[3]) {
  static const int columns[] = {
      [BT_PASS] = BT_P_PASS, [BT_UNDECIDED] = BT_P_UNDECIDED, [BT_NOT_YET] = BT_P_NOT_YET};
  for (int i = 0; i < block->n; i++) {
    const BtSessionRow *row = attempt_at(block, i)->row;
    if (row->outcome < 0 || row->total_percent_milli < 0)
      continue;
    seen[row->outcome] = true;
    bt__draw_percent(block->sheet, block->figures + 1 + i, columns[row->outcome],
                     row->total_percent_milli);
  }
}

static BtXlsxSeries attempts_series(const BtProgressBlock *block, const char *name, int header,
                                    int column, BtColour colour) {
  return (BtXlsxSeries){.name = name,
                        .first_row = header + 1,
                        .last_row = header + block->n,
                        .x_column = BT_P_ATTEMPT,
                        .y_column = column,
                        .colour = colour,
                        .in_legend = true};
}

static char *total_title(const BtProgressBlock *block) {
  const BtAttempt *latest = attempt_at(block, block->n - 1);
  if (latest->row->total_percent_milli < 0)
    return g_strdup_printf("Attempt %d has no total", last_attempt(block));
  g_autofree char *total = bt_decimal_format_cut(latest->row->total_percent_milli, 1);
  g_autofree char *pass = bt_decimal_format(latest->rubric->score.pass_milli);
  return g_strdup_printf("Total: %s %% at attempt %d; %s needed", total, last_attempt(block), pass);
}

static int add_outcome_series(const BtProgressBlock *block, const bool seen[3],
                              BtXlsxSeries *series) {
  static const struct {
    int outcome, column;
    BtMark mark;
    BtColour colour;
    BtMarkFill fill;
  } shapes[] = {{BT_PASS, BT_P_PASS, BT_MARK_DISC, BT_LAGOON, BT_FILLED},
                {BT_NOT_YET, BT_P_NOT_YET, BT_MARK_DISC, BT_OCHRE, BT_RING},
                {BT_UNDECIDED, BT_P_UNDECIDED, BT_MARK_DIAMOND, BT_SLATE, BT_FILLED}};
  int n = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(shapes); i++) {
    if (!seen[shapes[i].outcome])
      continue;
    BtXlsxSeries one = attempts_series(block, bt_outcome_words((BtOutcome)shapes[i].outcome),
                                       block->figures, shapes[i].column, shapes[i].colour);
    one.mark = shapes[i].mark;
    one.fill = shapes[i].fill;
    one.mark_size = 9;
    series[n++] = one;
  }
  return n;
}

static void total_chart(const BtProgressBlock *block) {
  int drawn = block->top + 4;
  bool seen[3] = {false, false, false};
  put_drawn_header(block, drawn - 1);
  int band_end = put_band(block, drawn), line_end = put_pass_line(block, drawn);
  put_by_outcome(block, seen);
  BtXlsxSeries series[6];
  int n = 0;
  if (band_end > drawn)
    series[n++] = (BtXlsxSeries){.name = "Middle half of the others",
                                 .first_row = drawn,
                                 .last_row = band_end,
                                 .x_column = BT_P_BAND_X,
                                 .y_column = BT_P_BAND_Y,
                                 .colour = BT_SAND,
                                 .line = 14,
                                 .transparency = 60,
                                 .in_legend = true};
  series[n++] = (BtXlsxSeries){.name = "Needed",
                               .first_row = drawn,
                               .last_row = line_end,
                               .x_column = BT_P_LINE_X,
                               .y_column = BT_P_LINE_Y,
                               .colour = BT_INK,
                               .line = 1,
                               .dashed = true,
                               .in_legend = true};
  BtXlsxSeries total = attempts_series(block, "Total", block->figures, BT_P_TOTAL, BT_LAGOON);
  total.line = line_width(block);
  total.in_legend = false;
  series[n++] = total;
  n += add_outcome_series(block, seen, series + n);
  BtXlsxChart chart = percent_chart(block);
  g_autofree char *title = total_title(block);
  chart.title = title;
  bt__xlsx_scatter(block->sheet, block->top + 4, 0, &chart, block->sheet, series, n);
}

// Components ------------------------------------------------------------------

static char *components_title(const BtProgressBlock *block) {
  const BtSessionRow *row = attempt_at(block, block->n - 1)->row;
  int weakest = -1;
  for (int i = 0; i < BT_COMPONENTS; i++) {
    if (!row->assessed[i] || row->possible_mp[i] <= 0)
      continue;
    if (weakest < 0 ||
        row->given_mp[i] * row->possible_mp[weakest] < row->given_mp[weakest] * row->possible_mp[i])
      weakest = i;
  }
  if (weakest < 0)
    return g_strdup_printf("Attempt %d: no part was assessed", last_attempt(block));
  g_autofree char *percent = bt__percent_text(row->given_mp[weakest], row->possible_mp[weakest]);
  return g_strdup_printf("Parts: lowest at attempt %d is %s, %s %%", last_attempt(block),
                         bt_component_name((BtComponent)weakest), percent);
}

// Whether any attempt has a figure for the component.
static bool component_drawn(const BtProgressBlock *block, int component) {
  for (int i = 0; i < block->n; i++) {
    const BtSessionRow *row = attempt_at(block, i)->row;
    if (row->assessed[component] && row->possible_mp[component] > 0)
      return true;
  }
  return false;
}

static void components_chart(const BtProgressBlock *block) {
  BtXlsxSeries series[BT_COMPONENTS];
  int n = 0;
  for (int i = 0; i < BT_COMPONENTS; i++) {
    if (!component_drawn(block, i))
      continue;
    series[n] = attempts_series(block, bt__component_title((BtComponent)i), block->figures,
                                BT_P_STEPS + i, series_colours[i]);
    series[n].mark = series_marks[i];
    series[n].line = line_width(block);
    n++;
  }
  if (n == 0)
    return;
  BtXlsxChart chart = percent_chart(block);
  g_autofree char *title = components_title(block);
  chart.title = title;
  bt__xlsx_scatter(block->sheet, block->top + 4, RIGHT_COLUMN, &chart, block->sheet, series, n);
}

// Time ------------------------------------------------------------------------

static char *time_title(const BtProgressBlock *block) {
  const BtAttempt *latest = attempt_at(block, block->n - 1);
  g_autofree char *spent = bt_clock_format(latest->ledger->total_ms);
  gint64 target_ms = latest->rubric->clock.target_ms;
  if (target_ms <= 0)
    return g_strdup_printf("Time: %s at attempt %d", spent, last_attempt(block));
  g_autofree char *target = bt_clock_format(target_ms);
  return g_strdup_printf("Time: %s at attempt %d; target %s", spent, last_attempt(block), target);
}

static double longest_minutes(const BtProgressBlock *block) {
  gint64 longest_ms = 0;
  for (int i = 0; i < block->n; i++) {
    for (int j = 0; j < block->n_phases; j++)
      longest_ms = MAX(longest_ms, bt__phase_ms(block, attempt_at(block, i), j));
  }
  return (double)longest_ms / 60000.0;
}

static void time_chart(const BtProgressBlock *block) {
  BtXlsxSeries series[BT_P_PHASES_MOST];
  for (int i = 0; i < block->n_phases; i++) {
    series[i] = attempts_series(block, block->exercise->rubric->phases[i].title, block->phases,
                                2 + i, series_colours[i % (int)G_N_ELEMENTS(series_colours)]);
    series[i].mark = series_marks[i % (int)G_N_ELEMENTS(series_marks)];
    series[i].line = line_width(block);
  }
  BtXlsxChart chart = over_attempts(block);
  g_autofree char *title = time_title(block);
  chart.title = title;
  chart.y_title = "Minutes in each phase";
  chart.y_unit = bt__nice_step(longest_minutes(block), 5);
  chart.y_max = chart.y_unit * (double)((int)(longest_minutes(block) / chart.y_unit) + 1);
  bt__xlsx_scatter(block->sheet, block->top + 4 + BT_P_CHART_ROWS, 0, &chart, block->sheet, series,
                   block->n_phases);
}

// Errors ----------------------------------------------------------------------

static int all_errors(const BtProgressBlock *block, int index) {
  int sum = 0;
  for (guint i = 0; i < block->kinds->len; i++)
    sum +=
        bt__found_in(block, attempt_at(block, index), &g_array_index(block->kinds, BtFoundKind, i));
  return sum;
}

static void errors_chart(const BtProgressBlock *block) {
  if (block->kinds->len == 0) {
    bt__put_text(block->sheet, block->top + 5 + BT_P_CHART_ROWS, RIGHT_COLUMN, BT_STYLE_SUBTITLE,
                 "No technique error was found in any attempt.");
    return;
  }
  BtXlsxSeries series[BT_P_KINDS_MOST + 1];
  int most = 0;
  for (guint i = 0; i < block->kinds->len; i++)
    series[i] =
        (BtXlsxSeries){.name = bt__kind_title(block, &g_array_index(block->kinds, BtFoundKind, i)),
                       .y_column = 1 + (int)i,
                       .colour = series_colours[i % G_N_ELEMENTS(series_colours)]};
  for (int i = 0; i < block->n; i++)
    most = MAX(most, all_errors(block, i));
  g_autofree char *found = bt_count_of(all_errors(block, block->n - 1), "error", NULL);
  g_autofree char *title =
      g_strdup_printf("Technique: %s found at attempt %d", found, last_attempt(block));
  BtXlsxChart chart = over_attempts(block);
  chart.title = title;
  chart.x_max = chart.x_min = 0; // the columns stand over their attempts by themselves
  chart.x_unit = 0;
  chart.y_title = "Errors found, by kind";
  int unit = MAX(1, (most + 4) / 5), units = most / unit + 1;
  chart.y_unit = unit;
  chart.y_max = unit * units;
  bt__xlsx_stacked(block->sheet, block->top + 4 + BT_P_CHART_ROWS, RIGHT_COLUMN, &chart,
                   block->sheet, block->errors + 1, block->errors + block->n, 0, series,
                   (int)block->kinds->len);
}

void bt__progress_charts(const BtProgressBlock *block) {
  total_chart(block);
  components_chart(block);
  time_chart(block);
  errors_chart(block);
}
