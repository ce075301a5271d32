// SPDX-License-Identifier: GPL-3.0-or-later
//
// The names in the header row of any CSV file: `fields`, n of them, that stand on `line`.
#ifndef BT_LOG_CSV_NAMES_H
#define BT_LOG_CSV_NAMES_H

#include <benchtally/model.h>

#define BT__CSV_COLUMNS_MAX       512
#define BT__COLUMN_NAME_BYTES_MAX 64

// Whether they are not too many, not too long, and UTF-8. False: they were refused.
bool bt__csv_names_check(const char *const *fields, int n, gint64 line, BtFaultList *faults);
// Whether no two are the same. False: those were refused.
bool bt__csv_names_differ(const char *const *fields, int n, gint64 line, BtFaultList *faults);
bool bt__csv_names_hold(const char *const *fields, int n, const char *name);

// For a header in which columns are missing: whether its fields are separated by something else
// than commas, which is then refused.
bool bt__csv_names_other_separator(const char *const *fields, int n, gint64 line,
                                   BtFaultList *faults);
// Adds the fault of a column that is not there. A name near to it is asked about, unless it is one
// of `known` (ends with NULL); else `otherwise` is the advice.
void bt__csv_names_missing(const char *missing, const char *const *fields, int n,
                           const char *const *known, const char *otherwise, gint64 line,
                           BtFaultList *faults);

#endif
