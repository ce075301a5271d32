// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/csv_header.h"

#include <string.h>

#include "log/wording.h"

#define HEADER_WANTED                                                                              \
  "the first row names the columns: session,trainee,assessor,rubric,edition,started,mode,time,"    \
  "action, and what else is logged"

// A sheet saved with another separator: its header is one field in which that separator stands.
static bool check_separator(const char *const *fields, int n, gint64 line, BtFaultList *faults) {
  const char *found = NULL;
  for (int i = 0; i < n && !found; i++)
    found = strchr(fields[i], ';') ? "semicolons" : strchr(fields[i], '\t') ? "tabs" : NULL;
  if (!found || n >= BT__REQUIRED)
    return true;
  bt_fault_list_add(faults, line, 0, false,
                    g_strdup_printf("the fields are separated by %s", found),
                    g_strdup("save the file as CSV with commas"));
  return false;
}

static bool check_names(const char *const *fields, int n, gint64 line, BtFaultList *faults) {
  if (n > BT__CSV_COLUMNS_MAX) {
    bt_fault_list_add(faults, line, 0, false, g_strdup_printf("%d columns", n),
                      g_strdup_printf("expected at most %d", BT__CSV_COLUMNS_MAX));
    return false;
  }
  for (int i = 0; i < n; i++) {
    if (strlen(fields[i]) <= BT__COLUMN_NAME_BYTES_MAX && g_utf8_validate(fields[i], -1, NULL))
      continue;
    bt_fault_list_add(faults, line, 0, false,
                      g_strdup_printf("the name of column %d is too long, or not UTF-8", i + 1),
                      g_strdup_printf("expected a header row of plain names, at most %d bytes each",
                                      BT__COLUMN_NAME_BYTES_MAX));
    return false;
  }
  return true;
}

static bool check_duplicates(const char *const *fields, int n, gint64 line, BtFaultList *faults) {
  bool unique = true;
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  for (int i = 0; i < n; i++) {
    // Sheets often end in columns without a name; they do no harm while they are empty.
    if (!*fields[i] || g_hash_table_add(seen, (gpointer)fields[i]))
      continue;
    bt_fault_list_add(faults, line, 0, false,
                      g_strdup_printf("two columns are named \"%s\"", fields[i]),
                      g_strdup("rename or remove one"));
    unique = false;
  }
  return unique;
}

// Entries of `fields` that are no column of the log: what a missing one may have been called.
static char *meant_instead(const char *missing, const char *const *fields, int n) {
  g_autoptr(GPtrArray) strangers = g_ptr_array_new();
  for (int i = 0; i < n; i++) {
    if (bt__column_from_name(fields[i]) < 0)
      g_ptr_array_add(strangers, (gpointer)fields[i]);
  }
  const char *closest =
      bt_closest_word(missing, (const char *const *)strangers->pdata, strangers->len);
  return closest ? g_strdup_printf("is \"%s\" meant to be it?", closest) : g_strdup(HEADER_WANTED);
}

static bool has_name(const char *const *fields, int n, const char *name) {
  for (int i = 0; i < n; i++) {
    if (strcmp(fields[i], name) == 0)
      return true;
  }
  return false;
}

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
    present += has_name(fields, n, columns[c]);
    meant += has_name_in_any_case(fields, n, columns[c]);
  }
  if (meant == 0) {
    bt_fault_list_add(faults, line, 0, false, g_strdup("the first row is no header"),
                      g_strdup(HEADER_WANTED));
    return false;
  }
  for (int c = 0; c < BT__REQUIRED; c++) {
    if (!has_name(fields, n, columns[c]))
      bt_fault_list_add(faults, line, 0, false,
                        g_strdup_printf("there is no column %s", columns[c]),
                        meant_instead(columns[c], fields, n));
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
  if (!check_separator(fields, n, line, faults) || !check_names(fields, n, line, faults))
    return false;
  bool sound = check_duplicates(fields, n, line, faults);
  sound &= check_missing(fields, n, line, faults);
  if (sound)
    assign(header, fields, n);
  return sound;
}

void bt__csv_header_clear(BtCsvHeader *header) {
  g_clear_pointer(&header->names, g_strfreev);
  g_clear_pointer(&header->detail_names, g_free);
}
