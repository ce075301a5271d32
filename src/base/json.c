// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/base.h>

#include <string.h>

// A book writes some twenty numbers a record: printf would be most of the time.
void bt_json_append_int(GString *out, gint64 number) {
  char digits[24];
  char *p = digits + sizeof digits;
  guint64 rest = number < 0 ? 0 - (guint64)number : (guint64)number;
  do {
    *--p = (char)('0' + rest % 10);
    rest /= 10;
  } while (rest > 0);
  if (number < 0)
    *--p = '-';
  g_string_append_len(out, p, digits + sizeof digits - p);
}

static bool needs_escape(unsigned char c) {
  return c < 0x20 || c == '"' || c == '\\';
}

// Most strings are plain; they are copied in one piece.
static bool append_plain(GString *out, const char *text) {
  gsize n = 0;
  while (!needs_escape((unsigned char)text[n]))
    n++;
  if (text[n])
    return false;
  gsize at = out->len;
  g_string_set_size(out, at + n + 2);
  out->str[at] = '"';
  memcpy(out->str + at + 1, text, n);
  out->str[at + n + 1] = '"';
  return true;
}

// RFC 8785 section 3.2.2.2.
void bt_json_append_string(GString *out, const char *text) {
  if (append_plain(out, text))
    return;
  g_string_append_c(out, '"');
  const char *plain = text;
  const char *p = text;
  for (; *p; p++) {
    unsigned char c = (unsigned char)*p;
    if (!needs_escape(c))
      continue;
    g_string_append_len(out, plain, p - plain);
    plain = p + 1;
    switch (c) {
    case '"':
      g_string_append(out, "\\\"");
      break;
    case '\\':
      g_string_append(out, "\\\\");
      break;
    case '\b':
      g_string_append(out, "\\b");
      break;
    case '\t':
      g_string_append(out, "\\t");
      break;
    case '\n':
      g_string_append(out, "\\n");
      break;
    case '\f':
      g_string_append(out, "\\f");
      break;
    case '\r':
      g_string_append(out, "\\r");
      break;
    default:
      g_string_append_printf(out, "\\u%04x", c);
    }
  }
  g_string_append_len(out, plain, p - plain);
  g_string_append_c(out, '"');
}
