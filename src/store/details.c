// SPDX-License-Identifier: GPL-3.0-or-later
//
// The details of an event as a canonical JSON object of whole numbers and strings: written and read
// directly, since every event of every score passes here.
#include <string.h>

#include "store/entry.h"

// Writing ---------------------------------------------------------------------

static void write_value(GString *out, const BtDetail *detail, const BtDetailValue *value) {
  if (detail->kind == BT_DETAIL_WORD)
    bt_json_append_string(out, value->text);
  else
    bt_json_append_int(out, value->milli);
}

void bt__details_write(GString *out, const BtAction *action, const BtEvent *event) {
  const char *last = "";
  char before = '{';
  for (int written = 0; written < event->n_details; written++) {
    const BtDetailValue *next = NULL; // the least name after `last`
    for (int i = 0; i < event->n_details; i++) {
      const char *name = action->details[event->details[i].detail].name;
      if (strcmp(name, last) > 0 && (!next || strcmp(name, action->details[next->detail].name) < 0))
        next = &event->details[i];
    }
    if (!next)
      break;
    const BtDetail *detail = &action->details[next->detail];
    g_string_append_c(out, before);
    bt_json_append_string(out, detail->name);
    g_string_append_c(out, ':');
    write_value(out, detail, next);
    last = detail->name;
    before = ',';
  }
  g_string_append_c(out, '}');
}

// Reading ---------------------------------------------------------------------

static char short_escape(char c) {
  switch (c) {
  case '"':
  case '\\':
    return c;
  case 'b':
    return '\b';
  case 't':
    return '\t';
  case 'n':
    return '\n';
  case 'f':
    return '\f';
  case 'r':
    return '\r';
  default:
    return '\0';
  }
}

// After a backslash: the character meant goes to `out`. NULL when it is no escape of the canonical
// form.
static const char *read_escape(const char *p, GString *out) {
  char c = short_escape(*p);
  if (c) {
    g_string_append_c(out, c);
    return p + 1;
  }
  guint8 code[2];
  char digits[5] = "";
  if (*p == 'u')
    g_strlcpy(digits, p + 1, sizeof digits);
  if (strlen(digits) != 4 || !bt_hex_parse(digits, code, 2) || code[0] != 0 || code[1] == 0 ||
      code[1] >= 0x20 || strchr("\b\t\n\f\r", code[1]))
    return NULL;
  g_string_append_c(out, (char)code[1]);
  return p + 5;
}

// A string literal at `p`, appended to `out` with its NUL. NULL when there is none.
static const char *read_string(const char *p, GString *out) {
  if (*p++ != '"')
    return NULL;
  while (*p && *p != '"') {
    if ((unsigned char)*p < 0x20)
      return NULL;
    if (*p != '\\') {
      g_string_append_c(out, *p++);
      continue;
    }
    p = read_escape(p + 1, out);
    if (!p)
      return NULL;
  }
  if (!*p)
    return NULL;
  g_string_append_c(out, '\0');
  return p + 1;
}

// A whole number in canonical form at `p`.
static const char *read_int(const char *p, gint64 *number) {
  bool negative = *p == '-';
  const char *digits = p + negative;
  gint64 value = 0;
  for (p = digits; g_ascii_isdigit(*p) && p - digits < 16; p++)
    value = value * 10 + (*p - '0');
  bool leading_zero = *digits == '0' && (p - digits > 1 || negative);
  if (p == digits || leading_zero || g_ascii_isdigit(*p))
    return NULL;
  *number = negative ? -value : value;
  return p;
}

// A member of the object as it was read; texts are offsets into the room.
typedef struct {
  gsize name, text;
  bool is_text;
  gint64 number;
} Member;

static const char *read_member(const char *p, GString *text, Member *member) {
  member->name = text->len;
  p = read_string(p, text);
  if (!p || *p++ != ':')
    return NULL;
  member->text = text->len;
  member->is_text = *p == '"';
  return member->is_text ? read_string(p, text) : read_int(p, &member->number);
}

// Reads an object of at most BT_DETAILS_MAX members with rising names. How many, or -1.
static int read_object(const char *p, GString *text, Member *members) {
  g_string_truncate(text, 0);
  int n = 0;
  char before = '{';
  while (*p == before && n < BT_DETAILS_MAX) {
    p = read_member(p + 1, text, &members[n]);
    if (!p || (n > 0 && strcmp(text->str + members[n - 1].name, text->str + members[n].name) >= 0))
      return -1;
    n++;
    before = ',';
  }
  return n > 0 && strcmp(p, "}") == 0 ? n : -1;
}

int bt__details_read(const char *json, const BtAction *action, BtEventRoom *room) {
  Member members[BT_DETAILS_MAX];
  int n = read_object(json, room->text, members);
  for (int i = 0; i < n; i++) {
    BtDetailValue *value = &room->details[i];
    *value = (BtDetailValue){
        .detail = bt_action_find_detail(action, room->text->str + members[i].name), .word = -1};
    if (value->detail < 0)
      return -1;
    const BtDetail *detail = &action->details[value->detail];
    if (members[i].is_text != (detail->kind == BT_DETAIL_WORD))
      return -1;
    value->milli = members[i].is_text ? 0 : members[i].number;
    value->text = members[i].is_text ? room->text->str + members[i].text : NULL;
    value->word =
        bt_word_index(value->text, (const char *const *)detail->words, (gsize)detail->n_words);
  }
  return n;
}

bool bt__details_canonical(const char *json) {
  Member members[BT_DETAILS_MAX];
  g_autoptr(GString) text = g_string_new(NULL);
  return read_object(json, text, members) > 0;
}
