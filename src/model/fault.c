// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/model.h>

BtFault *bt_fault_new(const char *file, int line, int column, bool warning, char *wrong,
                      char *expected) {
  BtFault *fault = g_new(BtFault, 1);
  *fault = (BtFault){g_strdup(file), line, column, warning, wrong, expected};
  return fault;
}

void bt_fault_free(BtFault *fault) {
  if (!fault)
    return;
  g_free(fault->file);
  g_free(fault->wrong);
  g_free(fault->expected);
  g_free(fault);
}

char *bt_fault_format(const BtFault *fault) {
  GString *out = g_string_new(fault->file);
  if (fault->line > 0)
    g_string_append_printf(out, "%s%d", out->len ? ":" : "", fault->line);
  if (fault->column > 0)
    g_string_append_printf(out, ":%d", fault->column);
  g_string_append_printf(out, "%s%s%s", out->len ? ": " : "", fault->warning ? "warning: " : "",
                         fault->wrong);
  if (fault->expected)
    g_string_append_printf(out, "; %s", fault->expected);
  return g_string_free(out, FALSE);
}

static void free_element(gpointer fault) {
  bt_fault_free(fault);
}

GPtrArray *bt_faults_new(void) {
  return g_ptr_array_new_with_free_func(free_element);
}

guint bt_faults_count_errors(const GPtrArray *faults) {
  guint errors = 0;
  for (guint i = 0; i < faults->len; i++)
    errors += !((const BtFault *)faults->pdata[i])->warning;
  return errors;
}

// The faults of one file ------------------------------------------------------

bool bt_fault_list_keeps(const BtFaultList *list, bool warning) {
  return warning ? list->warnings < BT_WARNINGS_KEPT : list->errors < BT_FAULTS_KEPT;
}

void bt_fault_list_add(BtFaultList *list, gint64 line, int column, bool warning, char *wrong,
                       char *expected) {
  bool kept = bt_fault_list_keeps(list, warning);
  *(warning ? &list->warnings : &list->errors) += 1;
  if (!kept) {
    g_free(wrong);
    g_free(expected);
    return;
  }
  g_ptr_array_add(list->faults, bt_fault_new(list->file, (int)MIN(line, G_MAXINT), column, warning,
                                             wrong, expected));
}

void bt_fault_list_finish(BtFaultList *list) {
  gint64 errors = MAX(list->errors - BT_FAULTS_KEPT, 0);
  gint64 warnings = MAX(list->warnings - BT_WARNINGS_KEPT, 0);
  if (errors + warnings == 0)
    return;
  g_autofree char *more_errors = bt_count_of(errors, "more fault", NULL);
  g_autofree char *more_warnings = bt_count_of(warnings, "more warning", NULL);
  char *wrong = errors && warnings
                    ? g_strdup_printf("%s and %s not shown", more_errors, more_warnings)
                    : g_strdup_printf("%s not shown", errors ? more_errors : more_warnings);
  g_ptr_array_add(list->faults, bt_fault_new(list->file, 0, 0, errors == 0, wrong, NULL));
}
