// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/session_code.h"

#define TRAINEE_BYTES_MAX 48 // so that the whole stays a code

static char *day_of(gint64 started_ms) {
  g_autoptr(GDateTime) start = g_date_time_new_from_unix_local(started_ms / 1000);
  return start ? g_date_time_format(start, "%Y%m%d") : g_strdup("day");
}

// 1: a session has the code; 0: none has; -1 with `error`.
static int is_taken(BtBook *book, const char *code, GError **error) {
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &(BtSessionFilter){.session = code}, error);
  return rows ? rows->len > 0 : -1;
}

char *bt__session_code(BtBook *book, const char *trainee, gint64 started_ms, GError **error) {
  g_autofree char *day = day_of(started_ms);
  for (int n = 1;; n++) {
    g_autofree char *code = g_strdup_printf("%s-%.*s-%d", day, TRAINEE_BYTES_MAX, trainee, n);
    int taken = is_taken(book, code, error);
    if (taken <= 0)
      return taken == 0 ? g_steal_pointer(&code) : NULL;
  }
}
