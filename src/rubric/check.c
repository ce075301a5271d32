// SPDX-License-Identifier: GPL-3.0-or-later
//
// What must hold between sections, once all are read.
#include "rubric/reader.h"

void bt__check(BtReader *reader) {
  bt__check_choices(reader);
  bt__check_injects(reader);
}
