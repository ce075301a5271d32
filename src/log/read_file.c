// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/log.h>

#include "log/form.h"
#include "log/readers.h"

// JSON in one piece is a form of its own, and none of ours.
static bool check_no_array(const char *ahead, gsize n, BtFaultList *faults) {
  if (n == 0 || ahead[0] != '[')
    return true;
  bt_fault_list_add(faults, 1, 1, false, g_strdup("a JSON array"),
                    g_strdup("expected JSON Lines: one object a line, without brackets or commas"
                             " between them"));
  return false;
}

static bool read_lines(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error) {
  const char *ahead = NULL;
  gsize n = 3;
  if (!bt__line_reader_peek(lines, &ahead, &n, error))
    return false;
  if (!bt__form_check(ahead, n, faults) || !check_no_array(ahead, n, faults))
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
