// SPDX-License-Identifier: GPL-3.0-or-later
//
// Mappings and lists of things by tables of keys; names and what they stand for.
#include "rubric/reader.h"

#include <string.h>

#define KEYS_MAX 24 // of one table

const BtNode *bt__at(const BtReader *reader, BtNameKind kind, int index) {
  return reader->at[kind]->pdata[index];
}

BtPlace bt__place_of(const BtNode *map, const char *key) {
  const BtNode *value = bt__get(map, key);
  return value ? value->place : map->place;
}

BtPlace bt__item_place(const BtNode *value, int index) {
  const BtNode *item = value->kind == BT_NODE_LIST ? value->first : value;
  for (; index > 0 && item->next; index--)
    item = item->next;
  return item->place;
}

// Mappings --------------------------------------------------------------------

// A text with a comma in { } that lacks its quotes ends there; what follows looks like a key
// without a value.
#define QUOTE_COMMA "put quotes around a text that holds a comma"

static bool cut_off(const BtNode *key) {
  const BtNode *value = key->value;
  return value->kind == BT_NODE_TEXT && !value->quoted && !value->text[0];
}

static void refuse_unknown_keys(BtReader *reader, const BtNode *node, const char *what,
                                const BtKey *keys, gsize n_keys) {
  const char *names[KEYS_MAX];
  for (gsize i = 0; i < n_keys; i++)
    names[i] = keys[i].name;
  for (const BtNode *key = node->first; key; key = key->next) {
    if (bt_word_index(key->text, names, n_keys) >= 0)
      continue;
    g_autofree char *any = bt__any_of(names, n_keys);
    g_autofree char *otherwise = g_strconcat("expected ", any, NULL);
    g_autofree char *hint = bt_did_you_mean(key->text, names, n_keys, otherwise);
    g_autofree char *shown = bt_quoted(key->text);
    bt__fault(&reader->report, key->place, cut_off(key) ? QUOTE_COMMA : hint,
              "unknown key %s in %s", shown, what);
  }
}

bool bt__misspelt(const BtNode *node, const char *name, const BtKey *keys, gsize n_keys) {
  const char *names[KEYS_MAX];
  for (gsize i = 0; i < n_keys; i++)
    names[i] = keys[i].name;
  for (const BtNode *key = node->first; key; key = key->next) {
    const char *closest = bt_closest_word(key->text, names, n_keys);
    if (closest && strcmp(closest, name) == 0)
      return true;
  }
  return false;
}

bool bt__read_map(BtReader *reader, const BtNode *node, const char *what, const BtKey *keys,
                  gsize n_keys, void *thing) {
  g_assert(n_keys <= KEYS_MAX);
  g_autofree char *expected = g_strdup_printf("expected %s as \"key: value\" pairs", what);
  if (!bt__is(reader, node, BT_NODE_MAP, expected))
    return false;
  for (gsize i = 0; i < n_keys; i++) {
    const BtNode *value = bt__get(node, keys[i].name);
    if (value && keys[i].read)
      keys[i].read(reader, value, (char *)thing + keys[i].offset);
    else if (!value && keys[i].needed && !bt__misspelt(node, keys[i].name, keys, n_keys))
      bt__fault(&reader->report, node->place, keys[i].needed, "\"%s\" is missing in %s",
                keys[i].name, what);
  }
  refuse_unknown_keys(reader, node, what, keys, n_keys);
  return true;
}

int bt__length(const BtNode *node) {
  return node && node->kind == BT_NODE_LIST ? node->n : 0;
}

void bt__read_list(BtReader *reader, const BtNode *node, const BtThings *how, void *things,
                   int begin) {
  if (!node)
    return;
  const char *what = bt__kind_name(how->kind);
  g_autofree char *expected = g_strdup_printf("expected a list, each item %s", what);
  if (!bt__is(reader, node, BT_NODE_LIST, expected)) {
    reader->lost[how->kind] = true;
    return;
  }
  int index = begin;
  for (const BtNode *item = node->first; item; item = item->next, index++) {
    char *thing = (char *)things + (gsize)index * how->size;
    memcpy(thing, how->blank, how->size);
    *(char **)(void *)thing = bt__declare(reader, how->kind, bt__get(item, "id"), item);
    (void)bt__read_map(reader, item, what, how->keys, how->n_keys, thing);
  }
}

void *bt__read_new_list(BtReader *reader, const BtNode *node, const BtThings *how, int *n) {
  *n = bt__length(node);
  void *things = bt_rubric_alloc(reader->rubric, (gsize)*n, how->size);
  bt__read_list(reader, node, how, things, 0);
  return things;
}

// Names -----------------------------------------------------------------------

static const char *const kind_names[BT_NAME_KINDS] = {
    [BT_NAME_SITE] = "a site",
    [BT_NAME_ACTION] = "an action",
    [BT_NAME_PHASE] = "a phase",
    [BT_NAME_CHECKPOINT] = "a checkpoint",
    [BT_NAME_RULE] = "an order rule",
    [BT_NAME_ERROR] = "an error",
    [BT_NAME_MEASURE] = "a measure",
    [BT_NAME_RATING] = "a rating",
    [BT_NAME_CHOICE] = "a choice",
    [BT_NAME_INJECT] = "an inject",
    [BT_NAME_COMPETENCY] = "a competency",
};

const char *bt__kind_name(BtNameKind kind) {
  return kind_names[kind];
}

static bool reserved(const char *id) {
  return strcmp(id, "clock") == 0 || strcmp(id, "unassigned") == 0 ||
         bt_component_from_name(id) >= 0;
}

typedef struct {
  BtNameKind kind;
  BtPlace place;
} Taken;

// Sections are not read in the order of the file: the later of the two in the file is the fault.
static void say_taken(BtReader *reader, const char *id, Taken a, Taken b) {
  bool b_is_later =
      b.place.line != a.place.line ? b.place.line > a.place.line : b.place.column > a.place.column;
  Taken first = b_is_later ? a : b, later = b_is_later ? b : a;
  bt__fault(&reader->report, later.place, "expected an id of its own; ids of all kinds differ",
            "the id \"%s\" is taken by %s at %d:%d", id, kind_names[first.kind], first.place.line,
            first.place.column);
}

// Ids of all kinds but sites and actions are one name-space.
static void check_shared_id(BtReader *reader, BtNameKind kind, const BtNode *id) {
  const Taken *taken = g_hash_table_lookup(reader->shared_ids, id->text);
  if (reserved(id->text)) {
    bt__refuse(reader, id, "a word of its own in results", "expected another id");
  } else if (taken) {
    say_taken(reader, id->text, *taken, (Taken){kind, id->place});
  } else {
    Taken *entry = g_new(Taken, 1);
    *entry = (Taken){kind, id->place};
    g_hash_table_insert(reader->shared_ids, id->text, entry);
  }
}

static char *usable_id(BtReader *reader, BtNameKind kind, const BtNode *id) {
  const char *expected =
      "expected lower-case words joined by \"-\", as in \"reduce-radius\", at most "
      "64 characters";
  if (!id || !bt__is(reader, id, BT_NODE_TEXT, expected))
    return NULL;
  if (!bt__id_valid(id->text))
    bt__refuse(reader, id, "no id", expected);
  else if (kind != BT_NAME_SITE && kind != BT_NAME_ACTION)
    check_shared_id(reader, kind, id);
  return id->text;
}

char *bt__declare(BtReader *reader, BtNameKind kind, const BtNode *id, const BtNode *thing) {
  const char *text = usable_id(reader, kind, id);
  if (!text)
    reader->lost[kind] = true;
  char *name = bt_rubric_strdup(reader->rubric, text ? text : "");
  g_ptr_array_add(reader->names[kind], name);
  g_ptr_array_add(reader->at[kind], (gpointer)thing);
  return name;
}

static int index_of(const GPtrArray *names, const char *text) {
  return bt_word_index(text, (const char *const *)names->pdata, names->len);
}

// "a phase or a checkpoint"; without articles "phase or checkpoint".
static char *names_of_kinds(unsigned kinds, bool articles) {
  const char *names[BT_NAME_KINDS];
  gsize n = 0;
  for (int kind = 0; kind < BT_NAME_KINDS; kind++) {
    if (kinds & BT_NAMES(kind))
      names[n++] = articles ? kind_names[kind] : strchr(kind_names[kind], ' ') + 1;
  }
  return bt__any_of(names, n);
}

// Says that nothing of `kinds` has this name: it may be misspelt, or be something else.
static void refuse_name(BtReader *reader, const BtNode *node, unsigned kinds) {
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (int kind = 0; kind < BT_NAME_KINDS; kind++) {
    if (kinds & BT_NAMES(kind))
      g_ptr_array_extend(names, reader->names[kind], NULL, NULL);
  }
  g_autofree char *wanted = names_of_kinds(kinds, true), *bare = names_of_kinds(kinds, false);
  g_autofree char *expected = g_strdup_printf("expected the id of %s", wanted);
  g_autofree char *shown = bt_quoted(node->text);
  const Taken *other = g_hash_table_lookup(reader->shared_ids, node->text);
  if (other) {
    bt__fault(&reader->report, node->place, expected, "%s is %s", shown, kind_names[other->kind]);
    return;
  }
  g_autofree char *hint =
      bt_did_you_mean(node->text, (const char *const *)names->pdata, names->len, expected);
  bt__fault(&reader->report, node->place, hint, "there is no %s with the id %s", bare, shown);
}

int bt__find(BtReader *reader, const BtNode *node, unsigned kinds, BtNameKind *found) {
  g_autofree char *wanted = names_of_kinds(kinds, true);
  g_autofree char *expected = g_strdup_printf("expected the id of %s", wanted);
  if (!bt__is(reader, node, BT_NODE_TEXT, expected))
    return -1;
  bool lost = false;
  for (int kind = 0; kind < BT_NAME_KINDS; kind++) {
    if (!(kinds & BT_NAMES(kind)))
      continue;
    lost = lost || reader->lost[kind];
    int index = index_of(reader->names[kind], node->text);
    if (index < 0)
      continue;
    if (found)
      *found = (BtNameKind)kind;
    return index;
  }
  if (!lost)
    refuse_name(reader, node, kinds);
  return -1;
}

void bt__find_all(BtReader *reader, const BtNode *list, BtNameKind kind, int **indices, int *n) {
  *n = 0;
  g_autofree char *expected =
      g_strdup_printf("expected a list, each item the id of %s", kind_names[kind]);
  if (!bt__is(reader, list, BT_NODE_LIST, expected))
    return;
  if (list->n == 0) {
    g_autofree char *name = bt__name_of(list);
    bt__fault(&reader->report, list->place, expected, "%s is an empty list", name);
    return;
  }
  *indices = bt_rubric_alloc(reader->rubric, (gsize)list->n, sizeof **indices);
  for (const BtNode *item = list->first; item; item = item->next) {
    int index = bt__find(reader, item, BT_NAMES(kind), NULL);
    bool again = false;
    for (int i = 0; i < *n; i++)
      again = again || (*indices)[i] == index;
    if (again)
      bt__refuse(reader, item, "listed twice", "list it once");
    else if (index >= 0)
      (*indices)[(*n)++] = index;
  }
}
