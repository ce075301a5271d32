// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/fault_list.h"

bool bt__fault_list_keeps(const BtFaultList *list, bool warning) {
  return warning ? list->warnings < BT__WARNINGS_KEPT : list->errors < BT__FAULTS_KEPT;
}

void bt__fault_list_add(BtFaultList *list, gint64 line, int column, bool warning, char *wrong,
                        char *expected) {
  bool kept = bt__fault_list_keeps(list, warning);
  *(warning ? &list->warnings : &list->errors) += 1;
  if (!kept) {
    g_free(wrong);
    g_free(expected);
    return;
  }
  g_ptr_array_add(list->faults, bt_fault_new(list->file, (int)MIN(line, G_MAXINT), column, warning,
                                             wrong, expected));
}

void bt__fault_list_finish(BtFaultList *list) {
  gint64 errors = MAX(list->errors - BT__FAULTS_KEPT, 0);
  gint64 warnings = MAX(list->warnings - BT__WARNINGS_KEPT, 0);
  if (errors + warnings == 0)
    return;
  g_autofree char *more_errors = bt_count_of(errors, "more fault", NULL);
  g_autofree char *more_warnings = bt_count_of(warnings, "more warning", NULL);
  char *wrong = errors && warnings
                    ? g_strdup_printf("%s and %s not shown", more_errors, more_warnings)
                    : g_strdup_printf("%s not shown", errors ? more_errors : more_warnings);
  g_ptr_array_add(list->faults, bt_fault_new(list->file, 0, 0, errors == 0, wrong, NULL));
}
