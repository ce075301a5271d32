// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/csv_place.h"

BtCsvWalk bt__csv_walk(gint64 line, int field) {
  BtCsvPlace start = {line, 1};
  return (BtCsvWalk){.field = field, .here = start, .place = start, .opened = start};
}

static void step(BtCsvWalk *walk, char c) {
  if (c == '\n' && walk->after_cr) {
    walk->after_cr = false;
    return;
  }
  walk->after_cr = c == '\r';
  if (c == '\n' || c == '\r')
    walk->here = (BtCsvPlace){walk->here.line + 1, 1};
  else if ((c & 0xC0) != 0x80) // a character of UTF-8 is counted by its first byte
    walk->here.column++;
}

void bt__csv_walk_on(BtCsvWalk *walk, const char *text, gsize length) {
  for (gsize i = 0; i < length; i++) {
    char c = text[i];
    bool blank = c == ' ' || c == '\t';
    if (!walk->found && walk->fields_passed == walk->field && !blank) {
      walk->found = true;
      walk->place = walk->here;
    }
    if (c == '"') {
      walk->quoted = !walk->quoted;
      if (walk->quoted && (i == 0 || text[i - 1] != '"'))
        walk->opened = walk->here;
    } else if (c == ',' && !walk->quoted) {
      walk->fields_passed++;
    }
    step(walk, c);
  }
}
