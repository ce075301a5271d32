// SPDX-License-Identifier: GPL-3.0-or-later
//
// bare_workbook_tool FILE SHEETS NUMBERS TEXTS KINDS LENGTH CHARTS SERIES: writes a workbook of
// that size with nothing but libxlsxwriter, the floor for a progress workbook with as many cells,
// charts and series. The texts are of KINDS different ones, LENGTH bytes each.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <xlsxwriter.h>

#define COLUMNS     10
#define LENGTH_MOST 500

typedef struct {
  int sheets, numbers, texts, kinds, length, charts, series;
} Size;

static void make_text(char *text, int kind, int length) {
  int n = snprintf(text, LENGTH_MOST, "%d ", kind);
  for (; n < length; n++)
    text[n] = (char)('a' + (kind * 7 + n * n) % 26);
  text[n] = '\0';
}

static void write_cells(lxw_worksheet *sheet, const Size *size, lxw_format *format) {
  char text[LENGTH_MOST + 1];
  int numbers = size->numbers / size->sheets, texts = size->texts / size->sheets;
  for (int i = 0; i < numbers + texts; i++) {
    lxw_row_t row = (lxw_row_t)(i / COLUMNS);
    lxw_col_t column = (lxw_col_t)(i % COLUMNS);
    if (i < numbers) {
      worksheet_write_number(sheet, row, column, i / 8.0, format);
    } else {
      make_text(text, i % size->kinds, size->length);
      worksheet_write_string(sheet, row, column, text, format);
    }
  }
}

static void add_chart(lxw_workbook *workbook, lxw_worksheet *sheet, int n, int series) {
  lxw_chart *chart = workbook_add_chart(workbook, LXW_CHART_SCATTER_STRAIGHT_WITH_MARKERS);
  for (int i = 0; i < series; i++)
    chart_add_series(chart, "=Sheet1!$D$1:$D$6", "=Sheet1!$B$1:$B$6");
  worksheet_insert_chart(sheet, (lxw_row_t)(n * 16), COLUMNS + 1, chart);
}

int main(int argc, char **argv) {
  if (argc != 9)
    return 2;
  const Size size = {atoi(argv[2]), atoi(argv[3]), atoi(argv[4]), atoi(argv[5]),
                     atoi(argv[6]), atoi(argv[7]), atoi(argv[8])};
  if (size.sheets < 1 || size.kinds < 1 || size.charts < 1 || size.length > LENGTH_MOST)
    return 2;
  lxw_workbook *workbook = workbook_new(argv[1]);
  lxw_doc_properties properties = {.title = "Floor", .created = 1700000000};
  workbook_set_properties(workbook, &properties);
  lxw_format *format = workbook_add_format(workbook);
  format_set_text_wrap(format);
  for (int i = 0; i < size.sheets; i++) {
    lxw_worksheet *sheet = workbook_add_worksheet(workbook, NULL);
    write_cells(sheet, &size, format);
    for (int c = 0; i == 0 && c < size.charts; c++)
      add_chart(workbook, sheet, c, size.series / size.charts + (c < size.series % size.charts));
  }
  return workbook_close(workbook) == LXW_NO_ERROR ? 0 : 1;
}
