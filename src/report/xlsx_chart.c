// SPDX-License-Identifier: GPL-3.0-or-later
//
// Native charts of a workbook. Every series carries a marker or a pattern, so that colour is never
// the only sign.
#include "report/xlsx_private.h"

#include <math.h>

// The size that libxlsxwriter scales from.
#define PLAIN_WIDTH  480.0
#define PLAIN_HEIGHT 288.0

static lxw_chart_font font(double size, BtColour colour, bool bold) {
  return (lxw_chart_font){
      .size = size, .bold = bold ? LXW_TRUE : LXW_EXPLICIT_FALSE, .color = (lxw_color_t)colour};
}

// Axes ------------------------------------------------------------------------

static void set_axis(BtXlsx *xlsx, lxw_chart_axis *axis, const char *title, double min, double max,
                     double unit) {
  lxw_chart_font numbers = font(9, BT_SLATE, false), words = font(9, BT_SLATE, false);
  lxw_chart_line line = {.color = BT_SLATE, .width = 0.75F};
  chart_axis_set_num_font(axis, &numbers);
  chart_axis_set_line(axis, &line);
  if (title) {
    g_autofree char *clean = bt__xlsx_clean(xlsx, "a chart's axis", title);
    if (clean)
      chart_axis_set_name(axis, clean);
    chart_axis_set_name_font(axis, &words);
  }
  if (max > min) {
    chart_axis_set_min(axis, min);
    chart_axis_set_max(axis, max);
  }
  if (unit > 0)
    chart_axis_set_major_unit(axis, unit);
}

static void set_grid(lxw_chart_axis *axis, bool shown) {
  lxw_chart_line line = {.color = BT_LINE, .width = 0.5F};
  chart_axis_major_gridlines_set_visible(axis, shown ? LXW_TRUE : LXW_FALSE);
  if (shown)
    chart_axis_major_gridlines_set_line(axis, &line);
}

double bt__nice_step(double most, int marks) {
  if (most <= 0)
    return 1;
  double step = 1;
  while (step * marks < most)
    step *= 10;
  while (step > 0.001 && step / 10 * marks >= most)
    step /= 10;
  if (step / 5 * marks >= most)
    return step / 5;
  return step / 2 * marks >= most ? step / 2 : step;
}

static bool finite_axes(const BtXlsxChart *chart) {
  return isfinite(chart->x_min) && isfinite(chart->x_max) && isfinite(chart->x_unit) &&
         isfinite(chart->y_min) && isfinite(chart->y_max) && isfinite(chart->y_unit);
}

// An axis is drawn from mark to mark, so it may begin and end where no label should stand.
// A form with conditions leaves out the sign of negative numbers unless it writes it.
static void label_between(lxw_chart_axis *axis, double min, double from, double to) {
  char low[G_ASCII_DTOSTR_BUF_SIZE], high[G_ASCII_DTOSTR_BUF_SIZE];
  g_ascii_formatd(low, sizeof low, "%g", from);
  g_ascii_formatd(high, sizeof high, "%g", to);
  g_autofree char *form = from > min ? g_strdup_printf("[<%s]\"\";[>%s]\"\";General", low, high)
                                     : g_strdup_printf("[>%s]\"\";[<0]-General;General", high);
  chart_axis_set_num_format(axis, form);
}

static void dress(BtXlsx *xlsx, lxw_chart *chart, const BtXlsxChart *wanted) {
  lxw_chart_font title = font(12, BT_INK, true), legend = font(9, BT_INK, false);
  lxw_chart_line none = {.none = LXW_TRUE};
  g_autofree char *clean = bt__xlsx_clean(xlsx, "a chart's title", wanted->title);
  if (clean)
    chart_title_set_name(chart, clean);
  chart_title_set_name_font(chart, &title);
  chart_legend_set_position(chart, LXW_CHART_LEGEND_BOTTOM);
  chart_legend_set_font(chart, &legend);
  chart_chartarea_set_line(chart, &none);
  set_axis(xlsx, chart->x_axis, wanted->x_title, wanted->x_min, wanted->x_max, wanted->x_unit);
  set_axis(xlsx, chart->y_axis, wanted->y_title, wanted->y_min, wanted->y_max, wanted->y_unit);
  if (wanted->x_label_to > wanted->x_label_from)
    label_between(chart->x_axis, wanted->x_min, wanted->x_label_from, wanted->x_label_to);
  set_grid(chart->x_axis, false);
  set_grid(chart->y_axis, wanted->y_grid);
  if (!wanted->y_labels)
    chart_axis_set_label_position(chart->y_axis, LXW_CHART_AXIS_LABEL_POSITION_NONE);
}

// A chart ready for its series; NULL after an error.
static lxw_chart *begin(BtXlsxSheet *sheet, const BtXlsxChart *wanted, uint8_t type) {
  if (!bt__xlsx_open(sheet))
    return NULL;
  if (!finite_axes(wanted)) {
    bt__xlsx_fail(sheet->xlsx, BT_ERROR_EXPORT, "%s: sheet %s: a chart's axis is not finite",
                  sheet->xlsx->path, sheet->name);
    return NULL;
  }
  lxw_chart *chart = workbook_add_chart(sheet->xlsx->workbook, type);
  if (!chart) {
    bt__xlsx_fail(sheet->xlsx, BT_ERROR_EXPORT, "%s: sheet %s: a chart could not be made",
                  sheet->xlsx->path, sheet->name);
    return NULL;
  }
  dress(sheet->xlsx, chart, wanted);
  return chart;
}

static void place(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *wanted,
                  lxw_chart *chart) {
  g_autofree char *words =
      bt__xlsx_clean(sheet->xlsx, "a chart's description",
                     wanted->description ? wanted->description : wanted->title);
  if (!words || !bt__xlsx_open(sheet))
    return;
  lxw_chart_options options = {.x_scale = wanted->width / PLAIN_WIDTH,
                               .y_scale = wanted->height / PLAIN_HEIGHT,
                               .object_position = LXW_OBJECT_MOVE_DONT_SIZE,
                               .description = words};
  bt__xlsx_took(
      sheet, row, column,
      worksheet_insert_chart_opt(sheet->sheet, (lxw_row_t)row, (lxw_col_t)column, chart, &options));
  sheet->xlsx->charts++;
}

static lxw_chart_series *add_series(BtXlsxSheet *sheet, lxw_chart *chart, const BtXlsxSheet *data,
                                    const BtXlsxSeries *wanted) {
  g_autofree char *name = bt__xlsx_clean(sheet->xlsx, "a chart's series", wanted->name);
  lxw_chart_series *series = name ? chart_add_series(chart, NULL, NULL) : NULL;
  if (!series)
    return NULL;
  lxw_row_t first = (lxw_row_t)wanted->first_row, last = (lxw_row_t)wanted->last_row;
  lxw_col_t x = (lxw_col_t)wanted->x_column, y = (lxw_col_t)wanted->y_column;
  chart_series_set_name(series, name);
  chart_series_set_categories(series, data->name, first, x, last, x);
  chart_series_set_values(series, data->name, first, y, last, y);
  return series;
}

// Series names go to the legend unless told otherwise.
static void hide_from_legend(lxw_chart *chart, const BtXlsxSeries *series, int n_series) {
  int16_t hidden[256];
  int n = 0;
  for (int i = 0; i < n_series && n < 255; i++) {
    if (!series[i].in_legend)
      hidden[n++] = (int16_t)i;
  }
  hidden[n] = -1;
  if (n == n_series)
    chart_legend_set_position(chart, LXW_CHART_LEGEND_NONE);
  else if (n > 0)
    (void)chart_legend_delete_series(chart, hidden);
}

// Points and lines ------------------------------------------------------------

static void set_mark(lxw_chart_series *series, const BtXlsxSeries *wanted) {
  static const uint8_t types[] = {
      [BT_MARK_NONE] = LXW_CHART_MARKER_NONE,         [BT_MARK_DISC] = LXW_CHART_MARKER_CIRCLE,
      [BT_MARK_SQUARE] = LXW_CHART_MARKER_SQUARE,     [BT_MARK_DIAMOND] = LXW_CHART_MARKER_DIAMOND,
      [BT_MARK_TRIANGLE] = LXW_CHART_MARKER_TRIANGLE, [BT_MARK_CROSS] = LXW_CHART_MARKER_X,
      [BT_MARK_PLUS] = LXW_CHART_MARKER_PLUS,         [BT_MARK_DASH] = LXW_CHART_MARKER_LONG_DASH};
  chart_series_set_marker_type(series, types[wanted->mark]);
  if (wanted->mark == BT_MARK_NONE)
    return;
  lxw_chart_line edge = {.color = (lxw_color_t)wanted->colour, .width = 1.5F};
  lxw_chart_fill fill = {.color = (lxw_color_t)wanted->colour,
                         .none = wanted->fill == BT_FILLED ? LXW_FALSE : LXW_TRUE};
  chart_series_set_marker_size(series, (uint8_t)(wanted->mark_size ? wanted->mark_size : 6));
  chart_series_set_marker_line(series, &edge);
  chart_series_set_marker_fill(series, &fill);
}

static void set_line(lxw_chart_series *series, const BtXlsxSeries *wanted) {
  lxw_chart_line line = {.none = wanted->line <= 0 ? LXW_TRUE : LXW_FALSE,
                         .color = (lxw_color_t)wanted->colour,
                         .width = (float)wanted->line,
                         .dash_type =
                             wanted->dashed ? LXW_CHART_LINE_DASH_DASH : LXW_CHART_LINE_DASH_SOLID,
                         .transparency = (uint8_t)wanted->transparency};
  chart_series_set_line(series, &line);
}

static void set_labels(BtXlsx *xlsx, lxw_chart_series *series, const BtXlsxSeries *wanted) {
  static const uint8_t sides[] = {LXW_CHART_LABEL_POSITION_ABOVE, LXW_CHART_LABEL_POSITION_RIGHT,
                                  LXW_CHART_LABEL_POSITION_LEFT, LXW_CHART_LABEL_POSITION_BELOW};
  int n = wanted->last_row - wanted->first_row + 1;
  g_autofree lxw_chart_data_label *labels = g_new0(lxw_chart_data_label, (gsize)n);
  g_autofree lxw_chart_data_label **list = g_new0(lxw_chart_data_label *, (gsize)n + 1);
  g_autoptr(GPtrArray) texts = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; i < n; i++) {
    list[i] = &labels[i];
    char *text =
        wanted->labels[i] ? bt__xlsx_clean(xlsx, "a chart's label", wanted->labels[i]) : NULL;
    labels[i].hide = text == NULL;
    labels[i].value = text;
    g_ptr_array_add(texts, text);
  }
  lxw_chart_font words = font(9, wanted->colour == BT_LINE ? BT_SLATE : wanted->colour, false);
  chart_series_set_labels(series);
  if (chart_series_set_labels_custom(series, list) != LXW_NO_ERROR)
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: a chart's labels were refused", xlsx->path);
  chart_series_set_labels_position(series, sides[wanted->label_side]);
  chart_series_set_labels_font(series, &words);
}

// The white inside of a ring. Some readers draw no edge around a marker, and fill one that has no
// filling; and some draw the first series on top, others the last. With a white mark before the
// ring and one after it, all of them show a ring.
static BtXlsxSeries inside_of(const BtXlsxSeries *ring) {
  BtXlsxSeries inside = *ring;
  inside.colour = (BtColour)LXW_COLOR_WHITE;
  inside.mark_size = MAX(2, (ring->mark_size ? ring->mark_size : 6) * 6 / 10);
  inside.fill = BT_FILLED;
  inside.in_legend = false;
  inside.labels = NULL;
  inside.line = 0;
  return inside;
}

// The series as they are drawn: a ring becomes three. Caller frees.
static GArray *drawn_series(const BtXlsxSeries *series, int n_series) {
  GArray *drawn = g_array_new(FALSE, FALSE, sizeof(BtXlsxSeries));
  for (int i = 0; i < n_series; i++) {
    const BtXlsxSeries inside = inside_of(&series[i]);
    if (series[i].fill == BT_RING)
      g_array_append_val(drawn, inside);
    g_array_append_val(drawn, series[i]);
    if (series[i].fill == BT_RING)
      g_array_append_val(drawn, inside);
  }
  return drawn;
}

static bool draw_points(BtXlsxSheet *sheet, lxw_chart *chart, const BtXlsxSheet *data,
                        const BtXlsxSeries *series) {
  lxw_chart_series *made = add_series(sheet, chart, data, series);
  if (!made)
    return false;
  set_mark(made, series);
  set_line(made, series);
  if (series->labels)
    set_labels(sheet->xlsx, made, series);
  return true;
}

void bt__xlsx_scatter(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *wanted,
                      const BtXlsxSheet *data, const BtXlsxSeries *series, int n_series) {
  lxw_chart *chart = begin(sheet, wanted, LXW_CHART_SCATTER_STRAIGHT_WITH_MARKERS);
  if (!chart)
    return;
  g_autoptr(GArray) drawn = drawn_series(series, n_series);
  const BtXlsxSeries *all = (const BtXlsxSeries *)(const void *)drawn->data;
  for (guint i = 0; i < drawn->len; i++) {
    if (!draw_points(sheet, chart, data, &all[i]))
      return;
  }
  hide_from_legend(chart, all, (int)drawn->len);
  place(sheet, row, column, wanted, chart);
}

// Stacked columns -------------------------------------------------------------

static void set_pattern(lxw_chart_series *series, const BtXlsxSeries *wanted, int index) {
  static const uint8_t patterns[] = {
      LXW_CHART_PATTERN_NONE,          LXW_CHART_PATTERN_WIDE_UPWARD_DIAGONAL,
      LXW_CHART_PATTERN_PERCENT_20,    LXW_CHART_PATTERN_DARK_HORIZONTAL,
      LXW_CHART_PATTERN_SMALL_CHECK,   LXW_CHART_PATTERN_WIDE_DOWNWARD_DIAGONAL,
      LXW_CHART_PATTERN_LIGHT_VERTICAL};
  lxw_chart_line edge = {.color = (lxw_color_t)wanted->colour, .width = 0.75F};
  uint8_t type = patterns[index % (int)G_N_ELEMENTS(patterns)];
  chart_series_set_line(series, &edge);
  if (type == LXW_CHART_PATTERN_NONE) {
    lxw_chart_fill fill = {.color = (lxw_color_t)wanted->colour};
    chart_series_set_fill(series, &fill);
    return;
  }
  lxw_chart_pattern pattern = {
      .fg_color = (lxw_color_t)wanted->colour, .bg_color = LXW_COLOR_WHITE, .type = type};
  chart_series_set_pattern(series, &pattern);
}

// Stacks the series on a chart of either direction.
static void stack(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *wanted,
                  lxw_chart *chart, const BtXlsxSheet *data, int first_row, int last_row,
                  int x_column, const BtXlsxSeries *series, int n_series) {
  for (int i = 0; i < n_series; i++) {
    BtXlsxSeries whole = series[i];
    whole.first_row = first_row;
    whole.last_row = last_row;
    whole.x_column = x_column;
    lxw_chart_series *made = add_series(sheet, chart, data, &whole);
    if (!made)
      return;
    set_pattern(made, &whole, i);
  }
  chart_set_series_gap(chart, 60);
  place(sheet, row, column, wanted, chart);
}

void bt__xlsx_stacked(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *wanted,
                      const BtXlsxSheet *data, int first_row, int last_row, int x_column,
                      const BtXlsxSeries *series, int n_series) {
  lxw_chart *chart = begin(sheet, wanted, LXW_CHART_COLUMN_STACKED);
  if (chart)
    stack(sheet, row, column, wanted, chart, data, first_row, last_row, x_column, series, n_series);
}

void bt__xlsx_bars(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *wanted,
                   const BtXlsxSheet *data, int first_row, int last_row, int x_column,
                   const BtXlsxSeries *series, int n_series) {
  lxw_chart *chart = begin(sheet, wanted, LXW_CHART_BAR_STACKED);
  if (!chart)
    return;
  set_grid(chart->x_axis, true);                  // of the values, which lie along the bars
  chart_axis_set_interval_unit(chart->y_axis, 1); // every name
  stack(sheet, row, column, wanted, chart, data, first_row, last_row, x_column, series, n_series);
}
