// SPDX-License-Identifier: GPL-3.0-or-later
//
// bare_workbook_tool FILE SHEETS CELLS CHARTS SERIES: writes a workbook of that size with nothing
// but libxlsxwriter; the floor for a progress workbook with as many cells, charts and series. Half
// of the cells are text.
#include <stdio.h>
#include <stdlib.h>

#include <xlsxwriter.h>

#define COLUMNS 10

static void write_cells(lxw_worksheet *sheet, int cells) {
  char text[32];
  for (int i = 0; i < cells; i++) {
    lxw_row_t row = (lxw_row_t)(i / COLUMNS);
    lxw_col_t column = (lxw_col_t)(i % COLUMNS);
    if (i % 2) {
      worksheet_write_number(sheet, row, column, i / 8.0, NULL);
    } else {
      snprintf(text, sizeof text, "cell number %d", i);
      worksheet_write_string(sheet, row, column, text, NULL);
    }
  }
}

static void add_chart(lxw_workbook *workbook, lxw_worksheet *sheet, int n, int series) {
  lxw_chart *chart = workbook_add_chart(workbook, LXW_CHART_LINE);
  for (int i = 0; i < series; i++)
    chart_add_series(chart, "=Sheet1!$D$1:$D$6", "=Sheet1!$B$1:$B$6");
  worksheet_insert_chart(sheet, (lxw_row_t)(n * 16), COLUMNS + 1, chart);
}

int main(int argc, char **argv) {
  if (argc != 6)
    return 2;
  int sheets = atoi(argv[2]), cells = atoi(argv[3]), charts = atoi(argv[4]);
  int series = atoi(argv[5]);
  lxw_workbook *workbook = workbook_new(argv[1]);
  lxw_doc_properties properties = {.title = "Floor", .created = 1700000000};
  workbook_set_properties(workbook, &properties);
  for (int i = 0; i < sheets; i++) {
    lxw_worksheet *sheet = workbook_add_worksheet(workbook, NULL);
    write_cells(sheet, cells / sheets);
    for (int c = 0; i == 0 && c < charts; c++)
      add_chart(workbook, sheet, c, series / charts + (c < series % charts));
  }
  return workbook_close(workbook) == LXW_NO_ERROR ? 0 : 1;
}
