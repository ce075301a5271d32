// SPDX-License-Identifier: GPL-3.0-or-later
//
// A YAML text as a small tree in which everything knows its place. Only what rubrics need: one
// document, no anchors, aliases, tags, merge keys or repeated keys, limited in size and depth.
#ifndef BENCHTALLY_RUBRIC_YAML_TREE_H
#define BENCHTALLY_RUBRIC_YAML_TREE_H

#include "rubric/report.h"

#define BT_TREE_NODES_MAX   40000 // scalars, lists and mappings of one file
#define BT_TREE_ENTRIES_MAX 500   // entries of one list or mapping
#define BT_TREE_TEXT_MAX    2000  // characters of one text

typedef enum {
  BT_NODE_TEXT,
  BT_NODE_LIST,
  BT_NODE_MAP,
  BT_NODE_BAD // something stands here that was refused already: say no more about it
} BtNodeKind;

typedef struct BtNode BtNode;
struct BtNode {
  BtNodeKind kind;
  bool quoted;   // TEXT: in quotes or as a block
  BtPlace place; // where it begins
  int n;         // LIST, MAP: how many entries
  char *text;    // TEXT
  BtNode *first; // LIST: the first item; MAP: the first key
  BtNode *next;  // the next item or key beside this one
  BtNode *value; // of a key
  BtNode *key;   // of a value; an item of a list has that of its list; NULL at the root
};

typedef struct {
  BtNode *root;
  GPtrArray *nodes; // owns them
} BtTree;

// Reads `text`, which passed bt__text_check. NULL when it cannot be read to its end as YAML, with
// the reason in `report`; a tree may hold BAD nodes, each reported. Caller frees.
BtTree *bt__tree_read(const char *text, gsize length, BtReport *report);
void bt__tree_free(BtTree *tree);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtTree, bt__tree_free)

// The value of a key of a mapping; NULL when it is not there or `map` is none.
const BtNode *bt__get(const BtNode *map, const char *key);

// Reports the first thing that makes `text` no text at all: too long, bytes that are not UTF-8, NUL
// or other control characters. False if there is one. *skip is the length of a byte-order mark.
bool bt__text_check(const char *text, gsize length, BtReport *report, gsize *skip);

// True when `text` begins with a curly quote.
bool bt__curly(const char *text);

#endif
