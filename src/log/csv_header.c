// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/csv_header.h"

#define HEADER_WANTED                                                                              \
  "the first row names the columns: session,trainee,assessor,rubric,edition,started,mode,time,"    \
  "action, and what else is logged"

// A column's name in capitals shows that a header was meant.
static bool has_name_in_any_case(const char *const *fields, int n, const char *name) {
  for (int i = 0; i < n; i++) {
    if (g_ascii_strcasecmp(fields[i], name) == 0)
      return true;
  }
  return false;
}

static bool check_missing(const char *const *fields, int n, gint64 line, BtFaultList *faults) {
  const char *const *columns = bt_log_columns();
  int present = 0, meant = 0;
  for (int c = 0; c < BT__REQUIRED; c++) {
    present += bt__csv_names_hold(fields, n, columns[c]);
    meant += has_name_in_any_case(fields, n, columns[c]);
  }
  if (meant == 0) {
    bt_fault_list_add(faults, line, 0, false, g_strdup("the first row is no header"),
                      g_strdup(HEADER_WANTED));
    return false;
  }
  for (int c = 0; c < BT__REQUIRED; c++) {
    if (!bt__csv_names_hold(fields, n, columns[c]))
      bt__csv_names_missing(columns[c], fields, n, columns, HEADER_WANTED, line, faults);
  }
  return present == BT__REQUIRED;
}

static void assign(BtCsvHeader *header, const char *const *fields, int n) {
  header->names = g_new0(char *, (gsize)n + 1);
  header->detail_names = g_new0(const char *, (gsize)n + 1);
  header->n_columns = n;
  header->n_details = 0;
  for (int c = 0; c < BT__COLUMNS; c++)
    header->column_of[c] = -1;
  for (int i = 0; i < n; i++) {
    header->names[i] = g_strdup(fields[i]);
    int column = bt__column_from_name(fields[i]);
    if (column >= 0) {
      header->field[i] = column;
      header->column_of[column] = i;
    } else {
      header->field[i] = BT__COLUMNS + header->n_details;
      header->detail_names[header->n_details] = header->names[i];
      header->detail_column[header->n_details++] = i;
    }
  }
}

bool bt__csv_header_read(BtCsvHeader *header, const char *const *fields, int n, gint64 line,
                         BtFaultList *faults) {
  if (n < BT__REQUIRED && bt__csv_names_other_separator(fields, n, line, faults))
    return false;
  if (!bt__csv_names_check(fields, n, line, faults))
    return false;
  bool sound = bt__csv_names_differ(fields, n, line, faults);
  sound &= check_missing(fields, n, line, faults);
  if (sound)
    assign(header, fields, n);
  return sound;
}

void bt__csv_header_clear(BtCsvHeader *header) {
  g_clear_pointer(&header->names, g_strfreev);
  g_clear_pointer(&header->detail_names, g_free);
}
