// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/json.h"

#include <string.h>

static void append_hex(GString *out, const BtMember *member) {
  gsize at = out->len + 1;
  g_string_append_c(out, '"');
  g_string_set_size(out, at + 2 * member->length);
  bt_hex(member->bytes, member->length, out->str + at);
  g_string_append_c(out, '"');
}

static void append_value(GString *out, const BtMember *member) {
  switch (member->kind) {
  case BT_JSON_TEXT:
    bt_json_append_string(out, member->bytes);
    break;
  case BT_JSON_INT:
    bt_json_append_int(out, member->number);
    break;
  case BT_JSON_RAW:
    g_string_append(out, member->bytes);
    break;
  case BT_JSON_HEX:
    append_hex(out, member);
    break;
  case BT_JSON_ABSENT:
    break;
  }
}

static bool is_absent(const BtMember *member) {
  return member->kind == BT_JSON_ABSENT || (member->kind != BT_JSON_INT && !member->bytes);
}

// ,"name":
static void append_name(GString *out, char before, const char *name) {
  gsize at = out->len, n = strlen(name);
  g_string_set_size(out, at + n + 4);
  char *p = out->str + at;
  p[0] = before;
  p[1] = '"';
  memcpy(p + 2, name, n);
  p[n + 2] = '"';
  p[n + 3] = ':';
}

void bt__json_object(GString *out, const BtMember *members, gsize n) {
  char before = '{';
  for (gsize i = 0; i < n; i++) {
    if (is_absent(&members[i]))
      continue;
    append_name(out, before, members[i].name);
    append_value(out, &members[i]);
    before = ',';
  }
  g_string_append(out, before == '{' ? "{}" : "}");
}
