// SPDX-License-Identifier: GPL-3.0-or-later
//
// The sheets of the director's workbook, each made from the plain record, and what they share.
#ifndef BENCHTALLY_REPORT_COHORT_SHEETS_H
#define BENCHTALLY_REPORT_COHORT_SHEETS_H

#include "report/cohort_record.h"
#include "report/suppress.h"
#include "report/xlsx.h"

#define BT_C_TABLE 4 // the row of a table's header, below the title and two lines

void bt__cohort_overview(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_heat(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_checkpoints(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_errors(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_assessors(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_standards(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_curves(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_methods(BtXlsx *xlsx, const BtCohortRecord *record);
// The same two without a row of any single person, for sharing.
void bt__cohort_shared_overview(BtXlsx *xlsx, const BtCohortRecord *record);
void bt__cohort_shared_heat(BtXlsx *xlsx, const BtCohortRecord *record);

// Sheets ----------------------------------------------------------------------

// Begins a sheet with its title, up to two lines (NULL: none) and the footer.
BtXlsxSheet *bt__cohort_sheet(BtXlsx *xlsx, const BtCohortRecord *record, const char *name,
                              const char *line, const char *second, bool read, bool landscape);
// Whether the record has no session at all; then the sheet says so and needs nothing more.
bool bt__cohort_is_empty(BtXlsxSheet *sheet, const BtCohortRecord *record);

// "Plating both bones of the forearm"; with its edition where several were used. Caller frees.
char *bt__edition_title(const BtCohortExercise *exercise, const BtRubric *rubric);

// All editions of all exercises, flat: calls `each` with the row it gave back before, from `row`
// on.
typedef int BtEachEdition(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                          const BtCohortExercise *exercise, const BtCohortEdition *edition);
int bt__each_edition(BtXlsxSheet *sheet, int row, const BtCohortRecord *record,
                     BtEachEdition *each);

// Cells -----------------------------------------------------------------------

// The value of an estimate times `scale`, its limits in the next two columns; all empty where it
// could not be estimated.
void bt__put_estimate(BtXlsxSheet *sheet, int row, int column, BtStyle style,
                      const BtEstimate *estimate, double scale);
// The value alone.
void bt__put_value(BtXlsxSheet *sheet, int row, int column, BtStyle style,
                   const BtEstimate *estimate, double scale);
// What stands where a count is hidden; the count itself when it is shown.
void bt__put_count(BtXlsxSheet *sheet, int row, int column, gint64 count, BtHiding hiding,
                   int least);
void bt__put_not_shown(BtXlsxSheet *sheet, int row, int column);
// A count beside nothing that it could be taken from.
void bt__put_lone_count(BtXlsxSheet *sheet, int row, int column, gint64 count, int least);
// "fewer than 5"; caller frees.
char *bt__fewer_than(int least);

// Makes the headers of a table unlike each other, as the file format asks (letters' case does not
// count): what stood before gets its key in brackets. Strings are owned by the list.
typedef struct {
  GArray *columns;  // of BtXlsxColumn
  GPtrArray *texts; // owned headers
} BtColumns;
BtColumns *bt__columns_new(void);
void bt__columns_add(BtColumns *columns, const char *header, const char *key, BtStyle style,
                     double width);
void bt__columns_free(BtColumns *columns);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtColumns, bt__columns_free)

// Charts ----------------------------------------------------------------------

#define BT_C_CHART_WIDTH   660 // pixels
#define BT_C_CHART_COLUMNS 14  // that it may cover
// Prints a table of `columns` and, on pages of their own, the charts to the right of it, down to
// `last_row`.
void bt__cohort_print(BtXlsxSheet *sheet, int last_row, int columns, bool charts);
#define BT_LIMITS_95                                                                               \
  { "To the lower 95 % limit", "on to the figure", "on to the upper limit" }
#define BT_BARS_MOST 30 // more would be no picture

// A figure with its limits, one line of a chart.
typedef struct {
  const char *label; // borrowed
  double value, low, high;
  bool has_limits;
} BtBar;

// Figures under each other, the first on top, each with its name and its limits.
typedef struct {
  const char *title, *x_title;
  // What the parts of a bar are: to the lower limit, the figure, the upper. Of dots: unused, the
  // figure, its limits.
  const char *limits[3];
  double x_min, x_max, x_unit;
  const BtBar *bars;
  int n;
} BtBarChart;

// Draws figures of 0 and more as bars that end at the figure and go on to the upper limit; what
// lies between the limits is shaded. The cells that only the chart uses stand from `data_column`
// on, out of its way. Returns how many rows it covers.
int bt__bar_chart(BtXlsxSheet *sheet, int row, int column, int data_column,
                  const BtBarChart *chart);
// The same around 0, as dots with the limits as a line; labels are short.
int bt__dot_chart(BtXlsxSheet *sheet, int row, int column, int data_column, const BtBarChart *chart,
                  const char *zero_name);

#endif
