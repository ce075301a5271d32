// SPDX-License-Identifier: GPL-3.0-or-later
//
// Single values: texts, numbers, durations, words.
#include "rubric/reader.h"

#include <string.h>

char *bt__name_of(const BtNode *node) {
  if (!node->key)
    return g_strdup("the rubric");
  g_autofree char *key = bt_quoted(node->key->text);
  return node->key->value == node ? g_steal_pointer(&key) : g_strconcat("an item of ", key, NULL);
}

static const char *const kind_names[] = {"a text", "a list", "a mapping"};

bool bt__is(BtReader *reader, const BtNode *node, BtNodeKind kind, const char *expected) {
  if (node->kind == BT_NODE_BAD)
    return false;
  bool empty = node->kind == BT_NODE_TEXT && !node->text[0];
  if (node->kind == kind && !empty)
    return true;
  g_autofree char *name = bt__name_of(node);
  if (empty)
    bt__fault(&reader->report, node->place, expected, "%s has no value", name);
  else
    bt__fault(&reader->report, node->place, expected, "%s is %s", name, kind_names[node->kind]);
  return false;
}

void bt__refuse(BtReader *reader, const BtNode *node, const char *no_what, const char *expected) {
  g_autofree char *shown = bt_quoted(node->text);
  if (bt__curly(node->text))
    expected = "a curly quote stands for a quote here; use straight ones or none";
  bt__fault(&reader->report, node->place, expected, "%s is %s", shown, no_what);
}

bool bt__id_valid(const char *text) {
  gsize n = 0;
  for (; text[n]; n++) {
    bool letter = g_ascii_islower(text[n]) || g_ascii_isdigit(text[n]);
    bool joint = text[n] == '-' && n > 0 && text[n - 1] != '-' && text[n + 1];
    if (!letter && !joint)
      return false;
  }
  return n >= 1 && n <= 64;
}

int bt__choose(BtReader *reader, const BtNode *node, const char *const *words, gsize n) {
  g_autofree char *any = bt__any_of(words, n);
  g_autofree char *expected = g_strconcat("expected ", any, NULL);
  if (!bt__is(reader, node, BT_NODE_TEXT, expected))
    return -1;
  int index = bt_word_index(node->text, words, n);
  if (index >= 0)
    return index;
  g_autofree char *hint = bt_did_you_mean(node->text, words, n, expected);
  bt__refuse(reader, node, "not among the words allowed here", hint);
  return -1;
}

bool bt__whole(BtReader *reader, const BtNode *node, int lo, int hi, int *value) {
  g_autofree char *expected = g_strdup_printf("expected a whole number from %d to %d", lo, hi);
  if (!bt__is(reader, node, BT_NODE_TEXT, expected))
    return false;
  gsize digits = strspn(node->text, "0123456789");
  bool plain =
      digits > 0 && digits <= 9 && !node->text[digits] && (node->text[0] != '0' || digits == 1);
  gint64 number = plain ? g_ascii_strtoll(node->text, NULL, 10) : -1;
  if (number < lo || number > hi) {
    bt__refuse(reader, node, plain ? "out of bounds" : "no whole number", expected);
    return false;
  }
  *value = (int)number;
  return true;
}

bool bt__decimal(BtReader *reader, const BtNode *node, gint64 lo_milli, gint64 hi_milli,
                 const char *no_what, gint64 *milli) {
  g_autofree char *lo = bt_decimal_format(lo_milli), *hi = bt_decimal_format(hi_milli);
  g_autofree char *expected =
      g_strdup_printf("expected a number from %s to %s with at most three decimals", lo, hi);
  if (!bt__is(reader, node, BT_NODE_TEXT, expected))
    return false;
  gint64 value = 0;
  if (!bt_decimal_parse(node->text, &value) || value < lo_milli || value > hi_milli) {
    bt__refuse(reader, node, no_what, expected);
    return false;
  }
  *milli = value;
  return true;
}

// Tabs and line breaks become spaces, those at the ends go: a text is one line wherever it is
// shown.
static char *one_line(BtRubric *rubric, const char *text) {
  char *line = bt_rubric_strdup(rubric, text);
  return g_strstrip(g_strdelimit(line, "\t\n", ' '));
}

void bt__read_text(BtReader *reader, const BtNode *value, void *field) {
  if (!bt__is(reader, value, BT_NODE_TEXT, "expected a text"))
    return;
  if (!value->quoted && bt__curly(value->text))
    bt__warn(&reader->report, value->place, "use straight quotes around a text, or none",
             "a curly quote stands as plain text");
  char *text = one_line(reader->rubric, value->text);
  if (!text[0]) {
    g_autofree char *name = bt__name_of(value);
    bt__fault(&reader->report, value->place, "expected a text", "%s is blank", name);
  }
  *(char **)field = text;
}

void bt__read_texts(BtReader *reader, const BtNode *value, void *field) {
  if (!bt__is(reader, value, BT_NODE_LIST, "expected a list of texts"))
    return;
  if (value->n == 0) {
    g_autofree char *name = bt__name_of(value);
    bt__fault(&reader->report, value->place, "expected at least one text", "%s is empty", name);
  }
  char **texts = bt_rubric_alloc(reader->rubric, (gsize)value->n + 1, sizeof *texts);
  int n = 0;
  for (const BtNode *item = value->first; item; item = item->next, n += texts[n] != NULL)
    bt__read_text(reader, item, &texts[n]);
  *(char ***)field = texts;
}

// Points that could not be read are left as some, so that what needs points finds them.
void bt__read_points(BtReader *reader, const BtNode *value, void *field) {
  if (!bt__decimal(reader, value, 0, BT_POINTS_MP_MAX, "no number of points", field))
    *(gint64 *)field = 1;
}

void bt__read_percent(BtReader *reader, const BtNode *value, void *field) {
  (void)bt__decimal(reader, value, 0, 100 * 1000, "no percentage", field);
}

void bt__read_duration(BtReader *reader, const BtNode *value, void *field) {
  const char *expected = "expected a time with its unit above 0 and up to 24 h, as in \"90 s\", "
                         "\"8 min\" or \"1 h\"";
  if (!bt__is(reader, value, BT_NODE_TEXT, expected))
    return;
  gint64 ms = 0;
  if (bt_duration_parse(value->text, &ms) && ms > 0)
    *(gint64 *)field = ms;
  else
    bt__refuse(reader, value, "no such time", expected);
}

void bt__read_flag(BtReader *reader, const BtNode *value, void *field) {
  static const char *const words[] = {"false", "true"};
  int word = bt__choose(reader, value, words, G_N_ELEMENTS(words));
  if (word >= 0)
    *(bool *)field = word == 1;
}

void bt__read_shortcut(BtReader *reader, const BtNode *value, void *field) {
  const char *expected = "expected one character, a to z or 0 to 9";
  if (!bt__is(reader, value, BT_NODE_TEXT, expected))
    return;
  const char *text = value->text;
  if (!text[1] && (g_ascii_islower(text[0]) || g_ascii_isdigit(text[0])))
    *(gunichar *)field = (gunichar)text[0];
  else
    bt__refuse(reader, value, "no shortcut key", expected);
}

#define SHORTCUTS_MAX 128

void bt__check_shortcuts(BtReader *reader, BtNameKind kind, const char *what, const void *things,
                         int n, gsize size, gsize key_offset) {
  const char *taken_by[SHORTCUTS_MAX] = {NULL}; // ids, by the character
  const char *thing = things;
  for (int i = 0; i < n; i++, thing += size) {
    gunichar key = *(const gunichar *)(const void *)(thing + key_offset);
    if (key == 0)
      continue;
    const char **id = &taken_by[key];
    const BtNode *node = bt__at(reader, kind, i);
    if (*id)
      bt__fault(&reader->report, bt__place_of(node->value ? node->value : node, "key"),
                "expected a key of its own", "the key \"%c\" is taken by the %s \"%s\"", (char)key,
                what, *id);
    else
      *id = *(const char *const *)(const void *)thing;
  }
}

void bt__read_unit(BtReader *reader, const BtNode *value, void *field) {
  const char *expected = "expected a short text without spaces, as in \"mm\" or \"ga\"";
  if (!bt__is(reader, value, BT_NODE_TEXT, expected))
    return;
  const char *text = value->text;
  if (strpbrk(text, " \t\n") || strchr("0123456789.-", text[0]) || g_utf8_strlen(text, -1) > 16)
    bt__refuse(reader, value, "no unit", expected);
  else
    *(char **)field = bt_rubric_strdup(reader->rubric, text);
}
