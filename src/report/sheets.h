// SPDX-License-Identifier: GPL-3.0-or-later
//
// The sheets of the progress workbook, each made from the plain record.
#ifndef BENCHTALLY_REPORT_SHEETS_H
#define BENCHTALLY_REPORT_SHEETS_H

#include "report/record.h"
#include "report/xlsx.h"

void bt__sheet_summary(BtXlsx *xlsx, const BtTraineeRecord *record);
void bt__sheet_progress(BtXlsx *xlsx, const BtTraineeRecord *record);
void bt__sheet_sessions(BtXlsx *xlsx, const BtTraineeRecord *record);
void bt__sheet_ledger(BtXlsx *xlsx, const BtTraineeRecord *record);
void bt__sheet_timeline(BtXlsx *xlsx, const BtTraineeRecord *record);
void bt__sheet_errors(BtXlsx *xlsx, const BtTraineeRecord *record);
void bt__sheet_corrections(BtXlsx *xlsx, const BtTraineeRecord *record);
void bt__sheet_about(BtXlsx *xlsx, const BtTraineeRecord *record);

// The whole workbook at `path`. Errors: DISK, EXPORT.
BT_MUST_USE bool bt__write_workbook(const BtTraineeRecord *record, const char *path,
                                    GError **error);

// Begins a sheet with its title, a line below it and the footer; the row after them is 3.
BtXlsxSheet *bt__begin_sheet(BtXlsx *xlsx, const BtTraineeRecord *record, const char *name,
                             const char *line, bool read, bool landscape);
// A text of the record in a cell. Titles, notes and reasons may be of any length; one of more than
// some 2,000 characters is shortened and says so.
void bt__put_text(BtXlsxSheet *sheet, int row, int column, BtStyle style, const char *text);
// A percentage in a table, cut to one decimal; empty below 0.
void bt__put_percent(BtXlsxSheet *sheet, int row, int column, gint64 percent_milli);
// The same for a chart to draw.
void bt__draw_percent(BtXlsxSheet *sheet, int row, int column, gint64 percent_milli);

#endif
