// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reading a rubric: the tree, then each section in the order in which they name one another, then
// what must hold between them.
#include <benchtally/rubric.h>

#include "rubric/reader.h"

#include <string.h>

#define FORMAT_VERSION 1
#define EDITION_MAX    1000000

static void read_version(BtReader *reader, const BtNode *value, void *field) {
  (void)field;
  if (!bt__is(reader, value, BT_NODE_TEXT, "expected \"benchtally: 1\""))
    return;
  if (g_strcmp0(value->text, G_STRINGIFY(FORMAT_VERSION)) != 0)
    bt__refuse(reader, value, "no version of the rubric format that this program reads",
               "expected 1");
}

static void read_code(BtReader *reader, const BtNode *value, void *field) {
  const char *expected = "expected 1 to 64 letters, digits, \"-\", \"_\" or \".\"";
  if (!bt__is(reader, value, BT_NODE_TEXT, expected))
    return;
  if (bt_code_valid(value->text))
    *(char **)field = bt_rubric_strdup(reader->rubric, value->text);
  else
    bt__refuse(reader, value, "no name for a rubric", expected);
}

static void read_edition(BtReader *reader, const BtNode *value, void *field) {
  (void)bt__whole(reader, value, 1, EDITION_MAX, field);
}

static const BtKey rubric_keys[] = {
    {"benchtally", "expected \"benchtally: 1\", the version of the format", read_version, 0},
    {"rubric", "expected a name, as in \"rubric: forearm-two-bones\"", read_code,
     offsetof(BtRubric, id)},
    {"edition", "expected a number, as in \"edition: 1\"", read_edition,
     offsetof(BtRubric, edition)},
    {"title", "expected a text", bt__read_text, offsetof(BtRubric, title)},
    {"cautions", "expected a list of what is shown before a session", bt__read_texts,
     offsetof(BtRubric, cautions)},
    {"clock", NULL, bt__read_clock, offsetof(BtRubric, clock)},
    {"sites", NULL, NULL, 0},
    {"actions", "expected what can be seen and logged", NULL, 0},
    {"phases", "expected a list of phases with their checkpoints", NULL, 0},
    {"order", NULL, NULL, 0},
    {"choices", NULL, NULL, 0},
    {"injects", NULL, NULL, 0},
    {"errors", NULL, NULL, 0},
    {"measures", NULL, NULL, 0},
    {"ratings", NULL, NULL, 0},
    {"competencies", NULL, NULL, 0},
    {"score", "expected weights and a pass mark", bt__read_score_rules, offsetof(BtRubric, score)},
};

// The value of a section; its names are lost when its key is misspelt.
static const BtNode *section(BtReader *reader, const char *name, BtNameKind kind) {
  const BtNode *node = bt__get(reader->root, name);
  if (!node && bt__misspelt(reader->root, name, rubric_keys, G_N_ELEMENTS(rubric_keys)))
    reader->lost[kind] = true;
  return node;
}

// Sections that name others come after these.
static void read_sections(BtReader *reader) {
  const BtNode *injects = section(reader, "injects", BT_NAME_INJECT);
  bt__read_sites(reader, section(reader, "sites", BT_NAME_SITE));
  bt__read_actions(reader, section(reader, "actions", BT_NAME_ACTION));
  bt__read_errors(reader, section(reader, "errors", BT_NAME_ERROR));
  bt__read_phases(reader, section(reader, "phases", BT_NAME_PHASE));
  bt__read_rules(reader, section(reader, "order", BT_NAME_RULE), injects);
  bt__read_choices(reader, section(reader, "choices", BT_NAME_CHOICE));
  bt__read_injects(reader, injects);
  bt__read_measures(reader, section(reader, "measures", BT_NAME_MEASURE));
  bt__read_ratings(reader, section(reader, "ratings", BT_NAME_RATING));
  bt__read_competencies(reader, section(reader, "competencies", BT_NAME_COMPETENCY));
}

static void keep_text(BtRubric *rubric, const char *text, gsize length) {
  guint8 digest[BT_SHA256_BYTES];
  rubric->text = bt_rubric_alloc(rubric, length + 1, 1);
  memcpy(rubric->text, text, length);
  rubric->text_length = length;
  bt_sha256(text, length, digest);
  bt_hex(digest, BT_SHA256_BYTES, rubric->sha256);
}

static void reader_init(BtReader *reader, const BtNode *root) {
  reader->rubric = bt_rubric_new();
  reader->root = root;
  reader->shared_ids = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, g_free);
  reader->unsure = g_hash_table_new(NULL, NULL);
  for (int kind = 0; kind < BT_NAME_KINDS; kind++) {
    reader->at[kind] = g_ptr_array_new();
    reader->names[kind] = g_ptr_array_new();
  }
}

static void reader_clear(BtReader *reader) {
  bt_rubric_free(reader->rubric);
  g_hash_table_unref(reader->unsure);
  g_hash_table_unref(reader->shared_ids);
  for (int kind = 0; kind < BT_NAME_KINDS; kind++) {
    g_ptr_array_unref(reader->at[kind]);
    g_ptr_array_unref(reader->names[kind]);
  }
}

static BtRubric *read_tree(BtReport *report, const BtNode *root) {
  BtReader reader = {.report = *report};
  reader_init(&reader, root);
  if (bt__read_map(&reader, root, "the rubric", rubric_keys, G_N_ELEMENTS(rubric_keys),
                   reader.rubric)) {
    read_sections(&reader);
    bt__check(&reader);
  }
  BtRubric *rubric = reader.report.list.errors == 0 ? g_steal_pointer(&reader.rubric) : NULL;
  *report = reader.report;
  reader_clear(&reader);
  return rubric;
}

BtRubric *bt_rubric_read(const char *text, gsize length, const char *file, GPtrArray *faults) {
  BtReport report = bt__report(file, faults);
  BtRubric *rubric = NULL;
  gsize skip = 0;
  if (bt__text_check(text, length, &report, &skip)) {
    g_autoptr(BtTree) tree = bt__tree_read(text + skip, length - skip, &report);
    if (tree)
      rubric = read_tree(&report, tree->root);
  }
  if (rubric)
    keep_text(rubric, text, length);
  bt__report_end(&report);
  return rubric;
}

BtRubric *bt_rubric_read_file(const char *path, GPtrArray *faults, GError **error) {
  g_autofree char *text = NULL;
  gsize length = 0;
  if (!bt_file_read(path, BT_RUBRIC_BYTES_MAX, &text, &length, error))
    return NULL;
  return bt_rubric_read(text, length, path, faults);
}
