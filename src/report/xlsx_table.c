// SPDX-License-Identifier: GPL-3.0-or-later
//
// Tables of a workbook.
#include "report/xlsx_private.h"

static bool stands_right(BtStyle style) {
  return style >= BT_STYLE_COUNT;
}

// Bands by a rule over row numbers rather than by painting cells, so that they survive sorting.
static void band(BtXlsxSheet *sheet, int row, int column, int last_row, int last_column) {
  if (!sheet->xlsx->band)
    return;
  lxw_conditional_format rule = {.type = LXW_CONDITIONAL_TYPE_FORMULA,
                                 .value_string = "=MOD(ROW(),2)=0",
                                 .format = sheet->xlsx->band};
  bt__xlsx_took(sheet, row, column,
                worksheet_conditional_format_range(sheet->sheet, (lxw_row_t)row, (lxw_col_t)column,
                                                   (lxw_row_t)last_row, (lxw_col_t)last_column,
                                                   &rule));
}

static void add_table(BtXlsxSheet *sheet, const char *name, int row, int column,
                      const BtXlsxColumn *columns, int n_columns, int last_row) {
  lxw_table_column made[BT_XLSX_COLUMNS] = {0};
  lxw_table_column *list[BT_XLSX_COLUMNS + 1] = {NULL};
  char *clean[BT_XLSX_COLUMNS] = {NULL};
  for (int i = 0; i < n_columns; i++) {
    clean[i] = bt__xlsx_clean(sheet->xlsx, name, columns[i].header);
    made[i].header = clean[i];
    made[i].header_format =
        sheet->xlsx
            ->formats[stands_right(columns[i].style) ? BT_STYLE_HEADER_RIGHT : BT_STYLE_HEADER];
    list[i] = &made[i];
    if (clean[i])
      bt__xlsx_note_fit(sheet, row, column + i, BT_STYLE_HEADER, clean[i]);
  }
  lxw_table_options options = {.name = (char *)name,
                               .columns = list,
                               .style_type = LXW_TABLE_STYLE_TYPE_LIGHT,
                               .style_type_number = 0};
  if (!sheet->xlsx->error)
    bt__xlsx_took(sheet, row, column,
                  worksheet_add_table(sheet->sheet, (lxw_row_t)row, (lxw_col_t)column,
                                      (lxw_row_t)last_row, (lxw_col_t)(column + n_columns - 1),
                                      &options));
  for (int i = 0; i < n_columns; i++)
    g_free(clean[i]);
}

void bt__xlsx_repeat_row(BtXlsxSheet *sheet, int row) {
  if (bt__xlsx_open(sheet))
    bt__xlsx_took(sheet, row, 0,
                  worksheet_repeat_rows(sheet->sheet, (lxw_row_t)row, (lxw_row_t)row));
}

static void keep_in_sight(BtXlsxSheet *sheet, int row) {
  if (!bt__xlsx_open(sheet))
    return;
  worksheet_freeze_panes(sheet->sheet, (lxw_row_t)(row + 1), 0);
  bt__xlsx_repeat_row(sheet, row);
}

void bt__xlsx_plain_table(BtXlsxSheet *sheet, const char *name, int row, int column,
                          const BtXlsxColumn *columns, int n_columns, int n_rows, bool freeze) {
  g_return_if_fail(n_columns > 0 && n_columns <= BT_XLSX_COLUMNS);
  if (!bt__xlsx_open(sheet))
    return;
  add_table(sheet, name, row, column, columns, n_columns, row + MAX(n_rows, 1));
  for (int i = 0; i < n_columns; i++) {
    if (columns[i].width > 0)
      bt__xlsx_width(sheet, column + i, columns[i].width);
  }
  if (freeze)
    keep_in_sight(sheet, row);
}

void bt__xlsx_table(BtXlsxSheet *sheet, const char *name, int row, int column,
                    const BtXlsxColumn *columns, int n_columns, int n_rows, bool freeze) {
  bt__xlsx_plain_table(sheet, name, row, column, columns, n_columns, n_rows, freeze);
  if (bt__xlsx_open(sheet))
    band(sheet, row + 1, column, row + MAX(n_rows, 1), column + n_columns - 1);
}
