// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/csv_names.h"

#include <string.h>

bool bt__csv_names_other_separator(const char *const *fields, int n, gint64 line,
                                   BtFaultList *faults) {
  const char *found = NULL;
  for (int i = 0; i < n && !found; i++)
    found = strchr(fields[i], ';') ? "semicolons" : strchr(fields[i], '\t') ? "tabs" : NULL;
  if (!found)
    return false;
  bt_fault_list_add(faults, line, 0, false,
                    g_strdup_printf("the fields are separated by %s", found),
                    g_strdup("save the file as CSV with commas"));
  return true;
}

bool bt__csv_names_check(const char *const *fields, int n, gint64 line, BtFaultList *faults) {
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

bool bt__csv_names_differ(const char *const *fields, int n, gint64 line, BtFaultList *faults) {
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

bool bt__csv_names_hold(const char *const *fields, int n, const char *name) {
  return bt_word_index(name, fields, (gsize)n) >= 0;
}

void bt__csv_names_missing(const char *missing, const char *const *fields, int n,
                           const char *const *known, const char *otherwise, gint64 line,
                           BtFaultList *faults) {
  g_autoptr(GPtrArray) strangers = g_ptr_array_new();
  for (int i = 0; i < n; i++) {
    if (!g_strv_contains(known, fields[i]))
      g_ptr_array_add(strangers, (gpointer)fields[i]);
  }
  const char *closest =
      bt_closest_word(missing, (const char *const *)strangers->pdata, strangers->len);
  bt_fault_list_add(faults, line, 0, false, g_strdup_printf("there is no column %s", missing),
                    closest ? g_strdup_printf("is \"%s\" meant to be it?", closest)
                            : g_strdup(otherwise));
}
