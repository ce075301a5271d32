// SPDX-License-Identifier: GPL-3.0-or-later
//
// Workbook files: the one door to libxlsxwriter. The library writes what it is given, right or
// wrong, and does not look at what the disk took; so everything is checked before it goes in, the
// first error is kept, and the finished file is read back before it takes the place of the target.
//
// Rows and columns count from 0. Nothing here writes a formula.
#ifndef BENCHTALLY_REPORT_XLSX_H
#define BENCHTALLY_REPORT_XLSX_H

#include <stdbool.h>

#include <glib.h>

#include <benchtally/error.h>

#include "report/look.h"

#define BT_XLSX_TEXT_MAX 32767 // UTF-16 units in a cell

typedef struct BtXlsx BtXlsx;
typedef struct BtXlsxSheet BtXlsxSheet;

// The looks of a cell.
typedef enum {
  BT_STYLE_TITLE,
  BT_STYLE_SUBTITLE,
  BT_STYLE_HEADING,
  BT_STYLE_TEXT,      // wraps, top
  BT_STYLE_STRONG,    // text in bold
  BT_STYLE_LABEL,     // secondary text, wraps
  BT_STYLE_CAUTION,   // wraps, between rules
  BT_STYLE_ATTENTION, // bold, the colour for "not yet"
  BT_STYLE_ACCENT,    // bold, the accent
  BT_STYLE_DRAWN,     // what only a chart draws, small and out of the way
  BT_STYLE_HEADER,    // of a table's text column
  BT_STYLE_HEADER_RIGHT,
  BT_STYLE_CELL, // of a table from here on
  BT_STYLE_CELL_STRONG,
  BT_STYLE_COUNT,
  BT_STYLE_DECIMAL, // up to three decimals, aligned at the point
  BT_STYLE_PERCENT, // one decimal
  BT_STYLE_DATE,
  BT_STYLE_DURATION, // m:ss, h:mm:ss from an hour
  BT_STYLE_FIGURE,   // of statistics: two decimals
  BT_STYLE_HEAT_1,   // one decimal, shaded lightly
  BT_STYLE_HEAT_2,
  BT_STYLE_HEAT_3, // shaded most, bold
  BT_STYLES
} BtStyle;

// What the document says about itself. `created_ms` comes from the record, never from the clock,
// and is above 0. Strings are copied.
typedef struct {
  const char *title, *subject, *author, *keywords, *comments;
  gint64 created_ms;
} BtXlsxProperties;

// Begins a workbook that will stand at `path`. Never NULL: an error is kept and comes out at
// closing.
BtXlsx *bt__xlsx_new(const char *path, const BtXlsxProperties *properties);

// Finishes the file: writes it beside the target, reads every part back, flushes it to the disk,
// renames it, and frees `xlsx` in any case. False with the first error (EXPORT: a text or number
// that cannot stand in a workbook, named by sheet and cell; DISK); then nothing is left behind and
// a former file at the path is as it was.
BT_MUST_USE bool bt__xlsx_close(BtXlsx *xlsx, GError **error);

// Sheets ----------------------------------------------------------------------

// `read`: a sheet that is read rather than filtered, without grid lines. `landscape`: its paper.
BtXlsxSheet *bt__xlsx_sheet(BtXlsx *xlsx, const char *name, bool read, bool landscape);
// Prints the first page in full on one page, height too.
void bt__xlsx_one_page(BtXlsxSheet *sheet);
// Left: the document's words; right: page numbers. `text` is any text.
void bt__xlsx_footer(BtXlsxSheet *sheet, const char *text);
void bt__xlsx_width(BtXlsxSheet *sheet, int column, double characters);
void bt__xlsx_height(BtXlsxSheet *sheet, int row, double points);
// Prints no more than the cells up to this one.
void bt__xlsx_print_area(BtXlsxSheet *sheet, int last_row, int last_column);
// Prints a wide sheet over pages side by side: the columns before `column` fill the width of the
// first, the rest follows at the same scale. The first `repeated` columns stand on every page. To
// be called once the widths are set.
void bt__xlsx_pages_beside(BtXlsxSheet *sheet, int repeated, int column);
void bt__xlsx_page_break(BtXlsxSheet *sheet, int before_row); // at most 50 a sheet

// Cells. A NULL or empty text, and a negative date or duration, leave the cell empty but styled.
void bt__xlsx_text(BtXlsxSheet *sheet, int row, int column, BtStyle style, const char *text);
void bt__xlsx_milli(BtXlsxSheet *sheet, int row, int column, BtStyle style, gint64 milli);
void bt__xlsx_count(BtXlsxSheet *sheet, int row, int column, gint64 count);
void bt__xlsx_real(BtXlsxSheet *sheet, int row, int column, BtStyle style, double value);
void bt__xlsx_date(BtXlsxSheet *sheet, int row, int column, gint64 wall_ms);
void bt__xlsx_duration(BtXlsxSheet *sheet, int row, int column, gint64 ms);
void bt__xlsx_blank(BtXlsxSheet *sheet, int row, int column, BtStyle style);

// Tables ----------------------------------------------------------------------

typedef struct {
  const char *header;
  BtStyle style; // of its cells; decides the side the header stands on
  double width;
} BtXlsxColumn;

// Prints a row at the head of every page.
void bt__xlsx_repeat_row(BtXlsxSheet *sheet, int row);

// A real table with filters: writes the headers in `row`, sets the widths, bands the `n_rows` rows
// below (at least one is made, empty) and repeats the header on every page. `freeze`: keeps
// everything down to the header in sight. `name`: unique, a word.
void bt__xlsx_table(BtXlsxSheet *sheet, const char *name, int row, int column,
                    const BtXlsxColumn *columns, int n_columns, int n_rows, bool freeze);
// The same without bands, for cells that are shaded by their value.
void bt__xlsx_plain_table(BtXlsxSheet *sheet, const char *name, int row, int column,
                          const BtXlsxColumn *columns, int n_columns, int n_rows, bool freeze);

// Charts ----------------------------------------------------------------------

typedef enum {
  BT_MARK_NONE,
  BT_MARK_DISC,
  BT_MARK_SQUARE,
  BT_MARK_DIAMOND,
  BT_MARK_TRIANGLE,
  BT_MARK_CROSS,
  BT_MARK_PLUS,
  BT_MARK_DASH
} BtMark;

typedef enum {
  BT_FILLED,
  BT_RING, // white inside
  BT_HALO  // to stand around the mark of another series; belongs last
} BtMarkFill;

// A row of points: x and y stand in two columns of a sheet.
typedef struct {
  const char *name;
  int first_row, last_row, x_column, y_column;
  BtColour colour;
  BtMark mark;
  BtMarkFill fill;
  int mark_size; // 2..72; 0: 6
  double line;   // width in points; 0: no line
  bool dashed;
  int transparency; // of the line, percent
  bool in_legend;
  // A label for each point (n = last_row - first_row + 1), NULL where a point has none; or NULL.
  const char *const *labels;
  enum { BT_LABEL_ABOVE, BT_LABEL_RIGHT, BT_LABEL_LEFT, BT_LABEL_BELOW } label_side;
} BtXlsxSeries;

typedef struct {
  const char *title, *description; // the description is read out where the chart cannot be seen
  const char *x_title, *y_title;   // NULL: none
  double x_min, x_max, x_unit;     // unit 0: as the reader likes
  double y_min, y_max, y_unit;
  double x_label_from, x_label_to; // only axis marks from here to here are labelled, whole
  bool y_labels;
  bool y_grid;
  int width, height; // pixels
} BtXlsxChart;

// A step between axis marks: 1, 2 or 5 times a power of ten, so that about `marks` of them reach
// `most`. Above 0.
double bt__nice_step(double most, int marks);

// Draws points and lines from the columns of `data` at a cell of `sheet`.
void bt__xlsx_scatter(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *chart,
                      const BtXlsxSheet *data, const BtXlsxSeries *series, int n_series);

// Columns of `data` stacked over the values of `x_column`; each series has its own pattern, so that
// it can be told apart in grey. Only name, y_column and colour of `series` are used.
void bt__xlsx_stacked(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *chart,
                      const BtXlsxSheet *data, int first_row, int last_row, int x_column,
                      const BtXlsxSeries *series, int n_series);

// The same lying, the first row at the bottom, its name at the left. The series are parts of one
// bar and not things to tell apart: solid, shaded, hatched.
void bt__xlsx_bars(BtXlsxSheet *sheet, int row, int column, const BtXlsxChart *chart,
                   const BtXlsxSheet *data, int first_row, int last_row, int x_column,
                   const BtXlsxSeries *series, int n_series);

// Private to the wrapper's own files ------------------------------------------

// Reads every part of the workbook at `path` to its end: stored sums, well-formed XML, as many
// sheets and charts as were made. False with EXPORT.
BT_MUST_USE bool bt__xlsx_check_file(const char *path, int sheets, int charts, GError **error);

#endif
