// SPDX-License-Identifier: GPL-3.0-or-later
#include "rubric/report.h"

BtReport bt__report(const char *file, GPtrArray *faults) {
  return (BtReport){.list = {.file = file, .faults = faults}, .begin = faults->len};
}

static void add(BtReport *report, BtPlace at, bool warning, const char *expected,
                const char *format, va_list arguments) {
  bt_fault_list_add(&report->list, at.line, at.column, warning, g_strdup_vprintf(format, arguments),
                    g_strdup(expected));
}

void bt__fault(BtReport *report, BtPlace at, const char *expected, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  add(report, at, false, expected, format, arguments);
  va_end(arguments);
}

void bt__warn(BtReport *report, BtPlace at, const char *expected, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  add(report, at, true, expected, format, arguments);
  va_end(arguments);
}

static int by_place(gconstpointer a, gconstpointer b, gpointer unused) {
  (void)unused;
  const BtFault *x = *(BtFault *const *)a, *y = *(BtFault *const *)b;
  return x->line != y->line ? (x->line > y->line) - (x->line < y->line)
                            : (x->column > y->column) - (x->column < y->column);
}

void bt__report_end(BtReport *report) {
  GPtrArray *faults = report->list.faults;
  if (faults->len > report->begin)
    g_qsort_with_data(faults->pdata + report->begin, (int)(faults->len - report->begin),
                      sizeof *faults->pdata, by_place, NULL);
  bt_fault_list_finish(&report->list);
}

char *bt__any_of(const char *const *words, gsize n) {
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < n; i++) {
    g_string_append(text, i == 0 ? "" : i + 1 == n ? " or " : ", ");
    g_string_append(text, words[i]);
  }
  return g_string_free(text, FALSE);
}
