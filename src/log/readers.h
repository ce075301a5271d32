// SPDX-License-Identifier: GPL-3.0-or-later
//
// The two forms of a file of events.
#ifndef BT_LOG_READERS_H
#define BT_LOG_READERS_H

#include "log/intake.h"
#include "log/line_reader.h"

// One record may not be larger, so that an unclosed quote does not swallow a file into memory.
#define BT__RECORD_BYTES_MAX BT__LINE_BYTES_MAX

// Each hands every record of `lines` to `intake`, and adds what is wrong with the form to `faults`.
// False with `error`: the file could not be read, or the sink stopped.
bool bt__csv_read(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error);
bool bt__jsonl_read(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error);

// The fault of a line that is too long.
void bt__refuse_long_line(BtFaultList *faults, gint64 line);

// What is wrong with the bytes of `text`, which is not UTF-8. Caller frees.
char *bt__utf8_wrong(const char *text, gsize length);
// What to do about it. Caller frees.
char *bt__utf8_expected(void);

#endif
