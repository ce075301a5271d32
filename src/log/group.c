// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/group.h"

#include <string.h>

static const BtColumn key_columns[] = {BT__SESSION, BT__ASSESSOR, BT__MODE};

// The table is asked with a key that borrows a record's fields, and holds groups that own theirs.
static guint group_hash(gconstpointer key) {
  const BtGroup *group = key;
  guint hash = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(key_columns); i++)
    hash = hash * 31 + g_str_hash(group->text[key_columns[i]]);
  return hash;
}

static gboolean group_equal(gconstpointer a, gconstpointer b) {
  const BtGroup *left = a, *right = b;
  for (gsize i = 0; i < G_N_ELEMENTS(key_columns); i++) {
    if (strcmp(left->text[key_columns[i]], right->text[key_columns[i]]) != 0)
      return FALSE;
  }
  return TRUE;
}

static void group_free(gpointer data) {
  BtGroup *group = data;
  for (int i = 0; i <= BT__MODE; i++)
    g_free(group->text[i]);
  g_free(group);
}

void bt__log_groups_init(BtGroups *groups) {
  groups->groups = g_hash_table_new_full(group_hash, group_equal, NULL, group_free);
  groups->last = NULL;
}

void bt__log_groups_clear(BtGroups *groups) {
  g_clear_pointer(&groups->groups, g_hash_table_unref);
  groups->last = NULL;
}

static BtGroup key_of(const BtLogRow *record) {
  BtGroup key = {.line = record->line};
  for (int i = 0; i <= BT__MODE; i++)
    key.text[i] = (char *)record->field[i];
  return key;
}

BtGroup *bt__log_groups_find(BtGroups *groups, const BtLogRow *record) {
  BtGroup key = key_of(record);
  if (!groups->last || !group_equal(groups->last, &key))
    groups->last = g_hash_table_lookup(groups->groups, &key);
  return groups->last;
}

BtGroup *bt__log_groups_add(BtGroups *groups, const BtLogRow *record) {
  BtGroup key = key_of(record);
  BtGroup *group = g_memdup2(&key, sizeof key);
  for (int i = 0; i <= BT__MODE; i++)
    group->text[i] = g_strdup(key.text[i]);
  g_hash_table_add(groups->groups, group);
  groups->last = group;
  return group;
}
