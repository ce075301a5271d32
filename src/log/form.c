// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/form.h"

#include <string.h>

void bt__refuse_long_line(BtFaultList *faults, gint64 line) {
  bt_fault_list_add(faults, line, 0, false, g_strdup("a line of more than 1 MiB"),
                    g_strdup("expected one row or event a line; is this the right file?"));
}

char *bt__utf8_wrong(const char *text, gsize length) {
  gssize at = bt_utf8_fault(text, length);
  guint byte = at >= 0 && (gsize)at < length ? (guchar)text[at] : 0;
  return byte ? g_strdup_printf("byte 0x%02X is not UTF-8", byte) : g_strdup("a NUL byte");
}

char *bt__utf8_expected(void) {
  return g_strdup("save the file as UTF-8 (a spreadsheet calls it CSV UTF-8)");
}

bool bt__form_check(const char *ahead, gsize n, BtFaultList *faults) {
  if (n >= 2 && (memcmp(ahead, "\xFF\xFE", 2) == 0 || memcmp(ahead, "\xFE\xFF", 2) == 0)) {
    bt_fault_list_add(faults, 1, 0, false, g_strdup("the file is in UTF-16"), bt__utf8_expected());
    return false;
  }
  if (n >= 2 && memcmp(ahead, "PK", 2) == 0) {
    bt_fault_list_add(faults, 0, 0, false, g_strdup("the file is a workbook or an archive"),
                      g_strdup("save the sheet as CSV UTF-8"));
    return false;
  }
  return true;
}
