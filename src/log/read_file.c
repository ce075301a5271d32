// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/log.h>

#include <string.h>

#include "log/readers.h"

void bt__refuse_long_line(BtFaultList *faults, gint64 line) {
  bt_fault_list_add(faults, line, 0, false, g_strdup("a line of more than 1 MiB"),
                    g_strdup("expected one event a line; is this a file of events?"));
}

char *bt__utf8_wrong(const char *text, gsize length) {
  gssize at = bt_utf8_fault(text, length);
  guint byte = at >= 0 && (gsize)at < length ? (guchar)text[at] : 0;
  return byte ? g_strdup_printf("byte 0x%02X is not UTF-8", byte) : g_strdup("a NUL byte");
}

char *bt__utf8_expected(void) {
  return g_strdup("save the file as UTF-8 (a spreadsheet calls it CSV UTF-8)");
}

// Looks for what is neither form: a file saved in another encoding, or JSON in one piece.
static bool check_form(const char *ahead, gsize n, BtFaultList *faults) {
  if (n >= 2 && (memcmp(ahead, "\xFF\xFE", 2) == 0 || memcmp(ahead, "\xFE\xFF", 2) == 0)) {
    bt_fault_list_add(faults, 1, 0, false, g_strdup("the file is in UTF-16"), bt__utf8_expected());
    return false;
  }
  if (n >= 2 && memcmp(ahead, "PK", 2) == 0) {
    bt_fault_list_add(faults, 0, 0, false, g_strdup("the file is a workbook or an archive"),
                      g_strdup("save the sheet as CSV UTF-8"));
    return false;
  }
  if (n >= 1 && ahead[0] == '[') {
    bt_fault_list_add(faults, 1, 1, false, g_strdup("a JSON array"),
                      g_strdup("expected JSON Lines: one object a line, without brackets or commas"
                               " between them"));
    return false;
  }
  return true;
}

static bool read_lines(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error) {
  const char *ahead = NULL;
  gsize n = 3;
  if (!bt__line_reader_peek(lines, &ahead, &n, error))
    return false;
  if (!check_form(ahead, n, faults))
    return true;
  return n > 0 && ahead[0] == '{' ? bt__jsonl_read(lines, intake, faults, error)
                                  : bt__csv_read(lines, intake, faults, error);
}

bool bt_log_read_file(const char *path, const BtLogSink *sink, GPtrArray *faults, GError **error) {
  BtLineReader lines;
  if (!bt__line_reader_open(&lines, path, error))
    return false;
  BtFaultList list = {.file = path, .faults = faults};
  g_autoptr(BtIntake) intake = bt__intake_new(sink, &list);
  bool read = read_lines(&lines, intake, &list, error);
  bt__line_reader_close(&lines);
  bt_fault_list_finish(&list);
  return read && list.errors == 0;
}
