// SPDX-License-Identifier: GPL-3.0-or-later
//
// What is said of a file whose bytes are no text of lines.
#ifndef BT_LOG_FORM_H
#define BT_LOG_FORM_H

#include <benchtally/model.h>

// Looks at the first bytes of a file (two or more, if it has them) for one that was saved in
// another form. False: it was refused.
bool bt__form_check(const char *ahead, gsize n, BtFaultList *faults);

// The fault of a line that is too long.
void bt__refuse_long_line(BtFaultList *faults, gint64 line);

// What is wrong with the bytes of `text`, which is not UTF-8. Caller frees.
char *bt__utf8_wrong(const char *text, gsize length);
// What to do about it. Caller frees.
char *bt__utf8_expected(void);

#endif
