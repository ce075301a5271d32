// SPDX-License-Identifier: GPL-3.0-or-later
#include "rubric/yaml_tree.h"

#include "rubric/yaml_syntax.h"

#include <benchtally/rubric.h>

#include <string.h>

typedef struct {
  yaml_parser_t parser;
  const char *text;
  gsize length;
  BtReport *report;
  BtTree *tree;
  bool stopped;       // nothing more can be read
  BtPlace quote;      // where the latest quoted text over several lines began
  int quote_end_line; // 0: none
} Builder;

static BtNode *read_node(Builder *b, yaml_event_t *event, int depth);

static void stop(Builder *b, BtPlace at, const char *expected, const char *wrong) {
  if (!b->stopped)
    bt__fault(b->report, at, expected, "%s", wrong);
  b->stopped = true;
}

// The next event, to be deleted by the caller; false when reading has stopped.
static bool next_event(Builder *b, yaml_event_t *event) {
  if (b->stopped)
    return false;
  if (yaml_parser_parse(&b->parser, event))
    return true;
  bt__syntax_fault(b->report, &b->parser, b->text, b->length, b->quote, b->quote_end_line);
  b->stopped = true;
  return false;
}

static BtNode *new_node(Builder *b, BtNodeKind kind, yaml_mark_t mark) {
  BtNode *node = g_new0(BtNode, 1);
  node->kind = kind;
  node->place = bt__place(mark);
  g_ptr_array_add(b->tree->nodes, node);
  if (b->tree->nodes->len > BT_TREE_NODES_MAX)
    stop(b, node->place, "expected a rubric that was written by hand",
         "the file has over 40,000 entries");
  return node;
}

// Entries that would mean something else than what stands on the page.
static void refuse_anchor_and_tag(Builder *b, BtPlace at, const yaml_char_t *anchor,
                                  const yaml_char_t *tag) {
  if (anchor)
    bt__fault(b->report, at, "write the value out wherever it is needed",
              "an anchor (&%.40s) stands here; rubrics have none", (const char *)anchor);
  if (tag)
    bt__fault(b->report, at, "remove it; every value is read as text",
              "a tag (%.40s) stands here; rubrics have none", (const char *)tag);
}

// Escapes in double quotes can bring in what the text itself may not hold.
static bool holds_control(const char *text, gsize length) {
  for (const char *p = text; p < text + length; p = g_utf8_next_char(p)) {
    gunichar c = g_utf8_get_char(p);
    if ((g_unichar_iscntrl(c) && c != '\n' && c != '\t') || (c & 0xFFFE) == 0xFFFE)
      return true;
  }
  return false;
}

static BtNode *read_text(Builder *b, const yaml_event_t *event) {
  BtNode *node = new_node(b, BT_NODE_TEXT, event->start_mark);
  const char *text = (const char *)event->data.scalar.value;
  gsize length = event->data.scalar.length;
  refuse_anchor_and_tag(b, node->place, event->data.scalar.anchor, event->data.scalar.tag);
  yaml_scalar_style_t style = event->data.scalar.style;
  node->quoted = style != YAML_PLAIN_SCALAR_STYLE;
  if ((style == YAML_SINGLE_QUOTED_SCALAR_STYLE || style == YAML_DOUBLE_QUOTED_SCALAR_STYLE) &&
      event->end_mark.line > event->start_mark.line) {
    b->quote = node->place;
    b->quote_end_line = (int)event->end_mark.line + 1;
  }
  if (holds_control(text, length)) {
    bt__fault(b->report, node->place, "remove the escape that makes it",
              "the text holds a control character");
    node->kind = BT_NODE_BAD;
  } else if (g_utf8_strlen(text, (gssize)length) > BT_TREE_TEXT_MAX) {
    bt__fault(b->report, node->place, "expected at most 2,000", "the text has %ld characters",
              g_utf8_strlen(text, (gssize)length));
    node->kind = BT_NODE_BAD;
  } else {
    node->text = g_strndup(text, length);
  }
  return node;
}

static void append(Builder *b, BtNode *parent, BtNode **last, BtNode *child) {
  if (*last)
    (*last)->next = child;
  else
    parent->first = child;
  *last = child;
  if (++parent->n > BT_TREE_ENTRIES_MAX)
    stop(b, child->place, "expected at most 500",
         parent->kind == BT_NODE_LIST ? "a list has over 500 items"
                                      : "a mapping has over 500 keys");
}

static bool too_deep(Builder *b, const BtNode *node, int depth) {
  if (depth > BT_RUBRIC_DEPTH_MAX)
    stop(b, node->place, "expected at most 16", "lists and mappings nest too deep");
  return b->stopped;
}

static BtNode *read_list(Builder *b, const yaml_event_t *begin, int depth) {
  BtNode *list = new_node(b, BT_NODE_LIST, begin->start_mark);
  refuse_anchor_and_tag(b, list->place, begin->data.sequence_start.anchor,
                        begin->data.sequence_start.tag);
  if (too_deep(b, list, depth))
    return list;
  BtNode *last = NULL;
  yaml_event_t event;
  while (next_event(b, &event)) {
    if (event.type == YAML_SEQUENCE_END_EVENT) {
      yaml_event_delete(&event);
      break;
    }
    append(b, list, &last, read_node(b, &event, depth));
  }
  return list;
}

// False when `key` cannot be a key of `map`; says why.
static bool key_is_good(Builder *b, const BtNode *map, const BtNode *key) {
  if (key->kind == BT_NODE_BAD)
    return false;
  if (key->kind != BT_NODE_TEXT) {
    bt__fault(b->report, key->place, "expected a word before the \":\"",
              key->kind == BT_NODE_LIST ? "a list cannot be a key" : "a mapping cannot be a key");
    return false;
  }
  if (strcmp(key->text, "<<") == 0 && !key->quoted) {
    bt__fault(b->report, key->place, "write the keys out",
              "a merge key stands here; rubrics have none");
    return false;
  }
  for (const BtNode *other = map->first; other; other = other->next) {
    if (strcmp(other->text, key->text) != 0)
      continue;
    g_autofree char *shown = bt_quoted(key->text);
    bt__fault(b->report, key->place, "keep one of the two", "the key %s stands already at %d:%d",
              shown, other->place.line, other->place.column);
    return false;
  }
  return true;
}

static void give_key(BtNode *value, BtNode *key) {
  value->key = key;
  if (value->kind == BT_NODE_LIST) {
    for (BtNode *item = value->first; item; item = item->next)
      give_key(item, key);
  }
}

static BtNode *read_map(Builder *b, const yaml_event_t *begin, int depth) {
  BtNode *map = new_node(b, BT_NODE_MAP, begin->start_mark);
  refuse_anchor_and_tag(b, map->place, begin->data.mapping_start.anchor,
                        begin->data.mapping_start.tag);
  if (too_deep(b, map, depth))
    return map;
  BtNode *last = NULL;
  yaml_event_t event;
  while (next_event(b, &event)) {
    if (event.type == YAML_MAPPING_END_EVENT) {
      yaml_event_delete(&event);
      break;
    }
    BtNode *key = read_node(b, &event, depth);
    bool good = !b->stopped && key_is_good(b, map, key);
    if (!next_event(b, &event))
      break;
    BtNode *value = read_node(b, &event, depth);
    if (!good)
      continue;
    key->value = value;
    give_key(value, key);
    append(b, map, &last, key);
  }
  return map;
}

static BtNode *read_alias(Builder *b, const yaml_event_t *event) {
  BtNode *node = new_node(b, BT_NODE_BAD, event->start_mark);
  bt__fault(b->report, node->place, "write the value out; a text that begins with * needs quotes",
            "an alias (*%.40s) stands here; rubrics have none",
            (const char *)event->data.alias.anchor);
  return node;
}

// The node that begins with `event`, which is deleted; its lists and mappings are at `depth` + 1.
static BtNode *read_node(Builder *b, yaml_event_t *event, int depth) {
  BtNode *node = NULL;
  switch (event->type) {
  case YAML_SCALAR_EVENT:
    node = read_text(b, event);
    break;
  case YAML_SEQUENCE_START_EVENT:
    node = read_list(b, event, depth + 1);
    break;
  case YAML_MAPPING_START_EVENT:
    node = read_map(b, event, depth + 1);
    break;
  default:
    node = read_alias(b, event);
    break;
  }
  yaml_event_delete(event);
  return node;
}

static void refuse_directives(Builder *b, const yaml_event_t *event) {
  if (event->data.document_start.version_directive ||
      event->data.document_start.tag_directives.start !=
          event->data.document_start.tag_directives.end)
    bt__fault(b->report, bt__place(event->start_mark), "remove it",
              "a YAML directive (%%) stands here; rubrics have none");
}

// Reads the one document that the stream may hold.
static void read_stream(Builder *b) {
  yaml_event_t event;
  while (next_event(b, &event)) {
    yaml_event_type_t type = event.type;
    if (type == YAML_DOCUMENT_START_EVENT && b->tree->root) {
      stop(b, bt__place(event.start_mark), "one rubric a file", "a second document begins here");
    } else if (type == YAML_DOCUMENT_START_EVENT) {
      refuse_directives(b, &event);
    } else if (type == YAML_SCALAR_EVENT || type == YAML_SEQUENCE_START_EVENT ||
               type == YAML_MAPPING_START_EVENT || type == YAML_ALIAS_EVENT) {
      b->tree->root = read_node(b, &event, 0);
      continue;
    }
    yaml_event_delete(&event);
    if (type == YAML_STREAM_END_EVENT)
      break;
  }
  if (!b->stopped && !b->tree->root)
    stop(b, (BtPlace){0, 0}, "expected a rubric, beginning with \"benchtally: 1\"",
         "the file is empty");
}

BtTree *bt__tree_read(const char *text, gsize length, BtReport *report) {
  g_autoptr(BtTree) tree = g_new0(BtTree, 1);
  tree->nodes = g_ptr_array_new();
  Builder b = {.text = text, .length = length, .report = report, .tree = tree};
  if (!yaml_parser_initialize(&b.parser))
    g_error("out of memory");
  yaml_parser_set_encoding(&b.parser, YAML_UTF8_ENCODING);
  yaml_parser_set_input_string(&b.parser, (const unsigned char *)text, length);
  read_stream(&b);
  yaml_parser_delete(&b.parser);
  return b.stopped ? NULL : g_steal_pointer(&tree);
}

void bt__tree_free(BtTree *tree) {
  if (!tree)
    return;
  for (guint i = 0; i < tree->nodes->len; i++) {
    BtNode *node = tree->nodes->pdata[i];
    g_free(node->text);
    g_free(node);
  }
  g_ptr_array_unref(tree->nodes);
  g_free(tree);
}

const BtNode *bt__get(const BtNode *map, const char *key) {
  if (!map || map->kind != BT_NODE_MAP)
    return NULL;
  for (const BtNode *k = map->first; k; k = k->next) {
    if (strcmp(k->text, key) == 0)
      return k->value;
  }
  return NULL;
}
