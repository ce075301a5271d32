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

// Nearly every text of a record is plain, and is copied without a closer look.
static bool is_plain(const char *text) {
  for (const char *p = text; *p; p++) {
    if ((*p < 0x20 && *p != '\n') || *p == 0x7f || *p == '_') // bytes beyond ASCII are below 0
      return false;
  }
  return true;
}

static glong utf16_units(const char *text) {
  glong units = 0;
  for (const char *p = text; *p; p = g_utf8_next_char(p))
    units += g_utf8_get_char(p) > 0xffff ? 2 : 1;
  return units;
}

static char *cleaned(const char *text, bool escape) {
  GString *clean = g_string_sized_new(strlen(text) + 8);
  for (const char *p = text; *p; p = g_utf8_next_char(p)) {
    if (escape && reads_as_escape(p))
      g_string_append(clean, "_x005F");
    g_string_append_unichar(clean, visible(g_utf8_get_char(p)));
  }
  return g_string_free(clean, FALSE);
}

char *bt__clean_text(const char *text, bool escape, char **fault) {
  gsize length = strlen(text);
  if (is_plain(text) && length <= BT_XLSX_TEXT_MAX)
    return g_strndup(text, length);
  gssize bad = bt_utf8_fault(text, length);
  if (bad >= 0) {
    *fault = g_strdup_printf("byte %" G_GSSIZE_FORMAT " of its text is not UTF-8", bad + 1);
    return NULL;
  }
  g_autofree char *clean = cleaned(text, escape);
  glong units = utf16_units(clean);
  if (units > BT_XLSX_TEXT_MAX) {
    *fault =
        g_strdup_printf("its text has %ld characters; a cell holds %d", units, BT_XLSX_TEXT_MAX);
    return NULL;
  }
  return g_steal_pointer(&clean);
}

char *bt__xlsx_clean(BtXlsx *xlsx, const char *where, const char *text) {
  g_autofree char *fault = NULL;
  char *clean = bt__clean_text(text, false, &fault);
  if (!clean)
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: %s: %s", xlsx->path, where, fault);
  return clean;
}
