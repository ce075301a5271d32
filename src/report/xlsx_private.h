// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the files of the workbook wrapper share. The only header that shows libxlsxwriter.
#ifndef BENCHTALLY_REPORT_XLSX_PRIVATE_H
#define BENCHTALLY_REPORT_XLSX_PRIVATE_H

#include "report/xlsx.h"

#include <xlsxwriter.h>

struct BtXlsx {
  lxw_workbook *workbook; // NULL after an error in the beginning
  lxw_format *formats[BT_STYLES];
  lxw_format *band; // the fill of every other table row
  GPtrArray *sheets;
  int charts;
  char *path;    // the target
  char *folder;  // a folder of our own beside it
  char *scratch; // the workbook in that folder
  GError *error; // the first
};

#define BT_XLSX_COLUMNS 64

// A text whose row may have to grow. Heights are set at the end, when every width is known: readers
// do not agree on whether to fit the rows of a file they open.
typedef struct {
  int row, column;
  BtStyle style;
  char *text;
} BtFitted;

struct BtXlsxSheet {
  BtXlsx *xlsx;
  lxw_worksheet *sheet; // NULL after an error
  char *name;
  GArray *breaks;                 // of lxw_row_t: rows that begin a page
  GArray *fitted;                 // of BtFitted
  double widths[BT_XLSX_COLUMNS]; // in characters; 0: as usual
};

// Notes a text of a style that wraps or is large.
void bt__xlsx_note_fit(BtXlsxSheet *sheet, int row, int column, BtStyle style, const char *text);
// Sets the heights of the rows that need more than the usual.
void bt__xlsx_fit_rows(BtXlsxSheet *sheet);
// The size of a style's letters in points; whether it wraps and is bold.
double bt__xlsx_style_size(BtStyle style, bool *wraps, bool *bold);

// Keeps the first error; the message is given as a printf form.
void bt__xlsx_fail(BtXlsx *xlsx, int code, const char *form, ...) G_GNUC_PRINTF(3, 4);
// Keeps `code` of libxlsxwriter as an error about a cell, unless it is none.
void bt__xlsx_took(BtXlsxSheet *sheet, int row, int column, lxw_error code);
// Whether the sheet can still be written to.
bool bt__xlsx_open(const BtXlsxSheet *sheet);
// `text` as it can stand in a workbook: control characters as their pictures and, with `escape` (in
// cells and footers, where "_x0041_" stands for a letter), such a text so that it stays what it is.
// NULL with *fault, which the caller frees, when it is not UTF-8 or too long. Caller frees.
char *bt__clean_text(const char *text, bool escape, char **fault);
// The same without `escape`, which keeps an error that names `where`. Caller frees.
char *bt__xlsx_clean(BtXlsx *xlsx, const char *where, const char *text);

void bt__xlsx_make_formats(BtXlsx *xlsx);

#endif
