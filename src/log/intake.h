// SPDX-License-Identifier: GPL-3.0-or-later
//
// Where both readers hand their records in: rows are grouped into observations, resolved against
// their rubric and passed on to the sink; what is wrong with them becomes faults.
#ifndef BT_LOG_INTAKE_H
#define BT_LOG_INTAKE_H

#include <benchtally/log.h>

// The columns of bt_log_columns(), in its order.
typedef enum {
  BT__SESSION,
  BT__TRAINEE,
  BT__ASSESSOR,
  BT__RUBRIC,
  BT__EDITION,
  BT__STARTED,
  BT__MODE,
  BT__TIME,
  BT__ACTION,
  BT__REQUIRED, // the columns before this one must be filled
  BT__SITE = BT__REQUIRED,
  BT__ITEM,
  BT__VALUE,
  BT__REDO,
  BT__NOTE,
  BT__ID,
  BT__COLUMNS
} BtColumn;

// The column of this name, or -1.
int bt__column_from_name(const char *name);

typedef struct BtLogRow BtLogRow;
// Where a field of a record stands: `field` is a BtColumn, or BT__COLUMNS + the index of a detail.
typedef void (*BtPlace)(const BtLogRow *record, int field, gint64 *line, int *column);

// A row of a file: text everywhere, NULL or "" for an empty field.
struct BtLogRow {
  gint64 line; // where it begins
  const char *field[BT__COLUMNS];
  const char *const *detail_names, *const *detail_values;
  int n_details;
  BtPlace place;
  gpointer reader; // for `place`
};

typedef struct BtIntake BtIntake;

// `file` and `sink` are borrowed; faults go to `faults`, which must outlive the intake.
BtIntake *bt__intake_new(const BtLogSink *sink, BtFaultList *faults);
void bt__intake_free(BtIntake *intake); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtIntake, bt__intake_free)

// Takes in a record. False with `error` when the sink stopped the reading; faults are no error.
bool bt__intake_add(BtIntake *intake, const BtLogRow *record, GError **error);

// How many records were taken in.
gint64 bt__intake_records(const BtIntake *intake);

// Tells the sink, now and then, how far the reading is.
void bt__intake_progress(BtIntake *intake, gint64 done_bytes, gint64 all_bytes);

#endif
