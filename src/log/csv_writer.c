// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/log.h>

#include <string.h>

static bool is_blank(char c) {
  return c == ' ' || c == '\t';
}

// Blanks at an end are quoted, as readers may leave out those of an unquoted field.
static bool needs_quotes(const char *field) {
  gsize length = strlen(field);
  return length > 0 &&
         (is_blank(field[0]) || is_blank(field[length - 1]) || strpbrk(field, ",\"\r\n") != NULL);
}

static void append_quoted(GString *out, const char *field) {
  g_string_append_c(out, '"');
  for (const char *quote; (quote = strchr(field, '"')); field = quote + 1) {
    g_string_append_len(out, field, quote + 1 - field);
    g_string_append_c(out, '"');
  }
  g_string_append(out, field);
  g_string_append_c(out, '"');
}

void bt_csv_append_field(GString *out, const char *field, bool last) {
  if (field && needs_quotes(field))
    append_quoted(out, field);
  else if (field)
    g_string_append(out, field);
  g_string_append(out, last ? "\r\n" : ",");
}
