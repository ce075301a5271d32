// SPDX-License-Identifier: GPL-3.0-or-later
//
// bare_select_tool BOOK: reads every record of every observation as scoring needs it, and does
// nothing with it: the floor for scoring a whole book. Prints how many rows and bytes there were,
// so that nothing can be left out.
#include <stdio.h>

#include <sqlite3.h>

int main(int argc, char **argv) {
  sqlite3 *db = NULL;
  sqlite3_stmt *rows = NULL;
  if (argc != 2 || sqlite3_open_v2(argv[1], &db, SQLITE_OPEN_READONLY, NULL) != SQLITE_OK ||
      sqlite3_prepare_v2(db,
                         "SELECT observation_id, number, kind, seq, at_ms, action, site, item, "
                         "value, redo, note, details "
                         "FROM entry ORDER BY observation_id, number",
                         -1, &rows, NULL) != SQLITE_OK) {
    fprintf(stderr, "bare_select_tool: %s\n",
            db ? sqlite3_errmsg(db) : "usage: bare_select_tool BOOK");
    return 1;
  }
  long long n = 0, bytes = 0;
  while (sqlite3_step(rows) == SQLITE_ROW) {
    n++;
    for (int c = 0; c < 12; c++) {
      if (sqlite3_column_type(rows, c) == SQLITE_INTEGER)
        bytes += sqlite3_column_int64(rows, c) & 1;
      else if (sqlite3_column_text(rows, c))
        bytes += sqlite3_column_bytes(rows, c);
    }
  }
  printf("%lld rows, %lld\n", n, bytes);
  sqlite3_finalize(rows);
  return sqlite3_close(db) != SQLITE_OK;
}
