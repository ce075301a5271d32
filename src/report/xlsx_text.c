// SPDX-License-Identifier: GPL-3.0-or-later
//
// Texts as they can stand in a workbook.
#include "report/xlsx_private.h"

#include <benchtally/base.h>

#include <string.h>

// ECMA-376 part 1, 22.9.2.19 (ST_Xstring): "_x", four hex digits and "_" stand for a character.
static bool reads_as_escape(const char *p) {
  return p[0] == '_' && p[1] == 'x' && g_ascii_isxdigit(p[2]) && g_ascii_isxdigit(p[3]) &&
         g_ascii_isxdigit(p[4]) && g_ascii_isxdigit(p[5]) && p[6] == '_';
}

// The picture of a control character (U+2400 onwards), so that it is seen and the XML stays legal.
static gunichar visible(gunichar c) {
  if (c == '\t' || c == '\n')
    return c;
  if (c < 0x20)
    return 0x2400 + c;
  if (c == 0x7f)
    return 0x2421;
  return c == 0xfffe || c == 0xffff ? 0xfffd : c;
}

static glong utf16_units(const char *text) {
  glong units = 0;
  for (const char *p = text; *p; p = g_utf8_next_char(p))
    units += g_utf8_get_char(p) > 0xffff ? 2 : 1;
  return units;
}

char *bt__xlsx_clean(BtXlsx *xlsx, const char *where, const char *text) {
  gssize fault = bt_utf8_fault(text, strlen(text));
  if (fault >= 0) {
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: byte %" G_GSSIZE_FORMAT " of its text is not UTF-8",
                  where, fault + 1);
    return NULL;
  }
  GString *clean = g_string_sized_new(strlen(text) + 8);
  for (const char *p = text; *p; p = g_utf8_next_char(p))
    g_string_append_unichar(clean, visible(g_utf8_get_char(p)));
  glong units = utf16_units(clean->str);
  if (units > BT_XLSX_TEXT_MAX) {
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: its text has %ld characters; a cell holds %d", where,
                  units, BT_XLSX_TEXT_MAX);
    g_string_free(clean, TRUE);
    return NULL;
  }
  return g_string_free(clean, FALSE);
}

char *bt__xlsx_clean_cell(BtXlsx *xlsx, const char *where, const char *text) {
  g_autofree char *clean = bt__xlsx_clean(xlsx, where, text);
  if (!clean)
    return NULL;
  GString *escaped = g_string_sized_new(strlen(clean) + 8);
  for (const char *p = clean; *p; p++) {
    if (reads_as_escape(p))
      g_string_append(escaped, "_x005F");
    g_string_append_c(escaped, *p);
  }
  return g_string_free(escaped, FALSE);
}
