// SPDX-License-Identifier: GPL-3.0-or-later
//
// What must hold before a text is looked at as YAML.
#include "rubric/yaml_tree.h"

#include <benchtally/rubric.h>

#include <string.h>

#define BYTE_ORDER_MARK 0xFEFF

bool bt__curly(const char *text) {
  static const gunichar curly[] = {0x2018, 0x2019, 0x201A, 0x201C, 0x201D, 0x201E};
  gunichar c = g_utf8_get_char(text);
  for (gsize i = 0; i < G_N_ELEMENTS(curly); i++) {
    if (c == curly[i])
      return true;
  }
  return false;
}

// Controls, line breaks that editors do not count, byte-order marks within the text,
// non-characters.
static bool refused(gunichar c) {
  if (c < 0x20)
    return c != '\t' && c != '\n' && c != '\r';
  return (c >= 0x7F && c < 0xA0) || c == 0x2028 || c == 0x2029 || c == BYTE_ORDER_MARK ||
         (c & 0xFFFE) == 0xFFFE;
}

// The place of `stop` in a text whose bytes before it are UTF-8.
static BtPlace place_of(const char *text, const char *stop) {
  BtPlace at = {1, 1};
  for (const char *p = text; p < stop; p = g_utf8_next_char(p)) {
    bool line_ends = *p == '\n' || (*p == '\r' && p[1] != '\n');
    at = line_ends ? (BtPlace){at.line + 1, 1} : (BtPlace){at.line, at.column + 1};
  }
  return at;
}

static void say_too_long(BtReport *report, gsize length) {
  bt__fault(report, (BtPlace){0, 0}, "expected at most 1 MiB, as a rubric is written by hand",
            "the rubric has %" G_GSIZE_FORMAT " bytes", length);
}

static void say_not_utf8(BtReport *report, BtPlace at, guint8 byte) {
  if (byte == 0)
    bt__fault(report, at, "save the file as plain text in UTF-8", "a NUL byte stands here");
  else
    bt__fault(report, at, "save the file as UTF-8", "the byte 0x%02X is not UTF-8", byte);
}

bool bt__text_check(const char *text, gsize length, BtReport *report, gsize *skip) {
  if (length > BT_RUBRIC_BYTES_MAX) {
    say_too_long(report, length);
    return false;
  }
  *skip = length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
  text += *skip;
  length -= *skip;
  gssize fault = bt_utf8_fault(text, length);
  if (fault >= 0) {
    say_not_utf8(report, place_of(text, text + fault), (guint8)text[fault]);
    return false;
  }
  const char *end = text + length;
  for (const char *p = text; p < end; p = g_utf8_next_char(p)) {
    gunichar c = g_utf8_get_char(p);
    if (refused(c)) {
      bt__fault(report, place_of(text, p), "remove it",
                "the invisible character U+%04X stands here", c);
      return false;
    }
  }
  return true;
}
