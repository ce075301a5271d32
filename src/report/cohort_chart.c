// SPDX-License-Identifier: GPL-3.0-or-later
//
// Figures with their limits as native charts.
#include "report/cohort_sheets.h"
#include "report/sheets.h"

#define LABEL_MOST   42  // letters of a name
#define BAR_PIXELS   24  // height of a line
#define OTHER_PIXELS 130 // height of title, axis and legend
#define ROW_PIXELS   20

// What stands in the cells that only a chart uses, from their first column.
enum { B_NAME, B_SURE, B_TO_VALUE, B_TO_HIGH };
enum { D_NAME, D_VALUE, D_Y, D_NAME_X, D_LIMIT_X, D_LIMIT_Y, D_ZERO_X, D_ZERO_Y };

typedef struct {
  BtXlsxSheet *sheet;
  int row, column; // of the first cell drawn
  const BtBarChart *chart;
  int n;
} Drawing;

static Drawing begin(BtXlsxSheet *sheet, int row, int column, const BtBarChart *chart,
                     const char *const *headers, int n_headers) {
  for (int i = 0; i < n_headers; i++)
    bt__put_text(sheet, row, column + i, BT_STYLE_DRAWN, headers[i]);
  return (Drawing){sheet, row + 1, column, chart, MIN(chart->n, BT_BARS_MOST)};
}

static void put(const Drawing *drawing, int row, int column, double value) {
  bt__xlsx_real(drawing->sheet, drawing->row + row, drawing->column + column, BT_STYLE_DRAWN,
                value);
}

static double within(const Drawing *drawing, double value) {
  return CLAMP(value, drawing->chart->x_min, drawing->chart->x_max);
}

// A name that is too long ends in dots. Caller frees.
static char *short_name(const char *label) {
  if (g_utf8_strlen(label, -1) <= LABEL_MOST)
    return g_strdup(label);
  g_autofree char *begin_of = g_utf8_substring(label, 0, LABEL_MOST - 3);
  return g_strconcat(begin_of, "...", NULL);
}

static void put_name(const Drawing *drawing, int row, const char *label) {
  g_autofree char *name = short_name(label);
  bt__put_text(drawing->sheet, drawing->row + row, drawing->column, BT_STYLE_DRAWN, name);
}

static int height_of(const Drawing *drawing) {
  return drawing->n * BAR_PIXELS + OTHER_PIXELS;
}

static int rows_of(int pixels) {
  return (pixels + ROW_PIXELS - 1) / ROW_PIXELS;
}

// Bars ------------------------------------------------------------------------

// The last bar stands lowest, where the chart begins.
static void put_bars(const Drawing *drawing) {
  for (int i = 0; i < drawing->n; i++) {
    const BtBar *bar = &drawing->chart->bars[drawing->n - 1 - i];
    double value = within(drawing, bar->value);
    double low = bar->has_limits ? within(drawing, bar->low) : value;
    double high = bar->has_limits ? within(drawing, bar->high) : value;
    put_name(drawing, i, bar->label);
    put(drawing, i, B_SURE, low);
    put(drawing, i, B_TO_VALUE, value - low);
    put(drawing, i, B_TO_HIGH, high - value);
  }
}

int bt__bar_chart(BtXlsxSheet *sheet, int row, int column, int data_column,
                  const BtBarChart *chart) {
  static const char *const headers[] = {"Drawn: name", "to the lower limit", "on to the figure",
                                        "on to the upper limit"};
  static const BtColour colours[] = {BT_LAGOON, BT_LAGOON, BT_SAND};
  if (chart->n == 0)
    return 0;
  const Drawing drawing =
      begin(sheet, row, data_column, chart, headers, (int)G_N_ELEMENTS(headers));
  put_bars(&drawing);
  BtXlsxSeries series[3];
  for (int i = 0; i < 3; i++)
    series[i] = (BtXlsxSeries){
        .name = chart->limits[i], .y_column = drawing.column + B_SURE + i, .colour = colours[i]};
  const BtXlsxChart drawn = {.title = chart->title,
                             .x_title = chart->x_title,
                             .x_min = chart->x_min,
                             .x_max = chart->x_max,
                             .x_unit = chart->x_unit,
                             .y_labels = true,
                             .width = BT_C_CHART_WIDTH,
                             .height = height_of(&drawing)};
  bt__xlsx_bars(sheet, row, column, &drawn, sheet, drawing.row, drawing.row + drawing.n - 1,
                drawing.column, series, 3);
  return rows_of(MAX(height_of(&drawing), (drawing.n + 1) * ROW_PIXELS));
}

// Dots ------------------------------------------------------------------------

// Returns the last row of the limits; -1 without any.
static int put_dots(const Drawing *drawing) {
  int at = 0;
  for (int i = 0; i < drawing->n; i++) {
    const BtBar *dot = &drawing->chart->bars[i];
    int y = drawing->n - i;
    put_name(drawing, i, dot->label);
    put(drawing, i, D_VALUE, within(drawing, dot->value));
    put(drawing, i, D_Y, y);
    put(drawing, i, D_NAME_X, drawing->chart->x_max);
    if (!dot->has_limits)
      continue;
    at += at > 0; // an empty row ends the line before
    put(drawing, at, D_LIMIT_X, within(drawing, dot->low));
    put(drawing, at++, D_LIMIT_Y, y);
    put(drawing, at, D_LIMIT_X, within(drawing, dot->high));
    put(drawing, at++, D_LIMIT_Y, y);
  }
  put(drawing, 0, D_ZERO_X, 0);
  put(drawing, 0, D_ZERO_Y, 0.4);
  put(drawing, 1, D_ZERO_X, 0);
  put(drawing, 1, D_ZERO_Y, drawing->n + 0.6);
  return at - 1;
}

static BtXlsxSeries series_of(const Drawing *drawing, const char *name, int last, int x, int y) {
  return (BtXlsxSeries){.name = name,
                        .first_row = drawing->row,
                        .last_row = drawing->row + last,
                        .x_column = drawing->column + x,
                        .y_column = drawing->column + y,
                        .in_legend = true};
}

static int dot_series(const Drawing *drawing, BtXlsxSeries *series, const char *zero_name,
                      int limits_end, const char *const *names) {
  int n = 0;
  series[n] = series_of(drawing, zero_name, 1, D_ZERO_X, D_ZERO_Y);
  series[n].colour = BT_INK;
  series[n].dashed = true;
  series[n++].line = 1;
  if (limits_end > 0) {
    series[n] = series_of(drawing, drawing->chart->limits[2], limits_end, D_LIMIT_X, D_LIMIT_Y);
    series[n].colour = BT_SAND;
    series[n++].line = 3;
  }
  series[n] = series_of(drawing, drawing->chart->limits[1], drawing->n - 1, D_VALUE, D_Y);
  series[n].colour = BT_LAGOON;
  series[n].mark = BT_MARK_DISC;
  series[n++].mark_size = 8;
  series[n] = series_of(drawing, "Names", drawing->n - 1, D_NAME_X, D_Y);
  series[n].colour = BT_INK;
  series[n].in_legend = false;
  series[n].labels = names;
  series[n++].label_side = BT_LABEL_RIGHT;
  return n;
}

int bt__dot_chart(BtXlsxSheet *sheet, int row, int column, int data_column, const BtBarChart *chart,
                  const char *zero_name) {
  static const char *const headers[] = {"Drawn: name", "figure",      "line", "name at",
                                        "limits",      "limits line", "zero", "zero line"};
  if (chart->n == 0)
    return 0;
  const Drawing drawing =
      begin(sheet, row, data_column, chart, headers, (int)G_N_ELEMENTS(headers));
  int limits_end = put_dots(&drawing);
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (int i = 0; i < drawing.n; i++)
    g_ptr_array_add(names, (gpointer)chart->bars[i].label);
  BtXlsxSeries series[4];
  int n = dot_series(&drawing, series, zero_name, limits_end, (const char *const *)names->pdata);
  const BtXlsxChart drawn = {.title = chart->title,
                             .x_title = chart->x_title,
                             .x_min = chart->x_min,
                             .x_max = chart->x_max + (chart->x_max - chart->x_min) / 2, // for names
                             .x_unit = chart->x_unit,
                             .x_label_from = chart->x_min - chart->x_unit / 2,
                             .x_label_to = chart->x_max + chart->x_unit / 2,
                             .y_min = 0,
                             .y_max = drawing.n + 1,
                             .y_unit = drawing.n + 1,
                             .width = BT_C_CHART_WIDTH,
                             .height = height_of(&drawing)};
  bt__xlsx_scatter(sheet, row, column, &drawn, sheet, series, n);
  return rows_of(MAX(height_of(&drawing), (limits_end + 2) * ROW_PIXELS));
}
