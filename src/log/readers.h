// SPDX-License-Identifier: GPL-3.0-or-later
//
// The two forms of a file of events.
#ifndef BT_LOG_READERS_H
#define BT_LOG_READERS_H

#include "log/intake.h"
#include "log/line_reader.h"

// Each hands every record of `lines` to `intake`, and adds what is wrong with the form to `faults`.
// False with `error`: the file could not be read, or the sink stopped.
bool bt__csv_read(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error);
bool bt__jsonl_read(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error);

#endif
