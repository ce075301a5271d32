// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/names.h"

#include <string.h>

// Values of `actions` are 1 + the index of an action of the rubric, or minus the kind of a built-in
// one; of `sites`, 1 + the index.
struct BtNames {
  GHashTable *actions, *sites;
};

static BtNames *new_names(const BtRubric *rubric) {
  BtNames *names = g_new(BtNames, 1);
  *names = (BtNames){g_hash_table_new(g_str_hash, g_str_equal),
                     g_hash_table_new(g_str_hash, g_str_equal)};
  for (int kind = BT_EVENT_START; kind <= BT_EVENT_NOTE; kind++)
    g_hash_table_insert(names->actions, (gpointer)bt_event_kind_name((BtEventKind)kind),
                        GINT_TO_POINTER(-kind));
  for (int i = 0; i < rubric->n_actions; i++)
    g_hash_table_insert(names->actions, rubric->actions[i].id, GINT_TO_POINTER(i + 1));
  for (int i = 0; i < rubric->n_sites; i++)
    g_hash_table_insert(names->sites, rubric->sites[i].id, GINT_TO_POINTER(i + 1));
  return names;
}

const BtNames *bt__names(BtBook *book, const BtRubric *rubric) {
  BtNames *names = g_hash_table_lookup(book->names, rubric);
  if (!names) {
    names = new_names(rubric);
    g_hash_table_insert(book->names, (gpointer)rubric, names);
  }
  return names;
}

void bt__names_free(BtNames *names) {
  if (!names)
    return;
  g_hash_table_unref(names->actions);
  g_hash_table_unref(names->sites);
  g_free(names);
}

bool bt__names_action(const BtNames *names, const char *action, BtEventKind *kind, int *index) {
  int found = GPOINTER_TO_INT(g_hash_table_lookup(names->actions, action));
  *kind = found < 0 ? (BtEventKind)-found : BT_EVENT_WORK;
  *index = found > 0 ? found - 1 : -1;
  return found != 0;
}

int bt__names_site(const BtNames *names, const char *site) {
  return GPOINTER_TO_INT(g_hash_table_lookup(names->sites, site)) - 1;
}
