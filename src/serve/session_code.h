// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SERVE_SESSION_CODE_H
#define SERVE_SESSION_CODE_H

#include <benchtally/book.h>

// A code that no session has: "20260304-T-001-1", of the day in this place, the trainee and a
// number. NULL with `error`. Caller frees.
char *bt__session_code(BtBook *book, const char *trainee, gint64 started_ms, GError **error);

#endif
