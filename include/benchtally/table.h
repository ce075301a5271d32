// SPDX-License-Identifier: GPL-3.0-or-later
//
// A plain table from a CSV file (RFC 4180, UTF-8, one header line), for statistics on data that are
// in no book. Columns are found by name; empty cells are missing.
#ifndef BENCHTALLY_TABLE_H
#define BENCHTALLY_TABLE_H

#include <stdbool.h>

#include <glib.h>

#include <benchtally/error.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

typedef struct BtTable BtTable;

// Reads the table at `path`. `columns` ends with NULL and names the columns that must be there; a
// missing or doubled one, a row of another length, text that is no UTF-8 and a table without rows
// are faults (BtFault in `faults`, with line and column). NULL with `error` (FILE) or with faults.
// Caller frees with bt_table_free.
BT_API BT_MUST_USE BtTable *bt_table_read(const char *path, const char *const *columns,
                                          GPtrArray *faults, GError **error);
BT_API void bt_table_free(BtTable *table); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtTable, bt_table_free)

// How many rows there are below the header, and how many columns.
BT_API gsize bt_table_rows(const BtTable *table);
BT_API gsize bt_table_columns(const BtTable *table);
// The name of a column (index below bt_table_columns); borrowed from the table.
BT_API const char *bt_table_name(const BtTable *table, gsize column);
// The index of the column with this name; -1 when there is none.
BT_API int bt_table_column(const BtTable *table, const char *name);
// A cell, blanks around it cut; NULL when it is empty. Borrowed from the table. `column` -1: NULL.
BT_API const char *bt_table_text(const BtTable *table, gsize row, int column);

// The column as numbers, BT_MISSING where a cell is empty; a cell that is no finite number is a
// fault. NULL when there are faults. Caller frees with g_free.
BT_API double *bt_table_numbers(const BtTable *table, int column, GPtrArray *faults);
// The column as places in the list of its different values (gsize[rows]). `values` gets them
// (const char *, borrowed from the table), in order of first appearance; an empty cell is a fault.
// NULL when there are faults. Caller frees with g_free and g_ptr_array_unref.
BT_API gsize *bt_table_levels(const BtTable *table, int column, GPtrArray **values,
                              GPtrArray *faults);

// A fault of the table at one cell ("ratings.csv:7: column rating: what is wrong"). For checks that
// only the caller knows. `row` is from 0, as everywhere here.
BT_API void bt_table_fault(const BtTable *table, gsize row, int column, GPtrArray *faults,
                           const char *format, ...) G_GNUC_PRINTF(5, 6);

G_END_DECLS
#endif
