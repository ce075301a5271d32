// SPDX-License-Identifier: GPL-3.0-or-later
//
// What must hold between sections, once all are read.
#include "rubric/reader.h"

#include <string.h>

// The same detail of two actions fills one column of the log.
static void check_column(BtReader *reader, const BtAction *action, const BtDetail *detail,
                         const BtNode *key) {
  const BtRubric *rubric = reader->rubric;
  for (const BtAction *other = rubric->actions; other < action; other++) {
    int index = bt_action_find_detail(other, detail->name);
    if (index < 0)
      continue;
    const BtDetail *its = &other->details[index];
    if (its->kind != detail->kind || g_strcmp0(its->unit, detail->unit) != 0)
      bt__warn(&reader->report, key->place, "give one of the two another name",
               "the detail \"%s\" of the action \"%s\" has another kind or unit, and both stand in "
               "one column of the log",
               detail->name, other->id);
    return;
  }
}

static void check_columns(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < rubric->n_actions; i++) {
    const BtAction *action = &rubric->actions[i];
    const BtNode *details = bt__get(bt__at(reader, BT_NAME_ACTION, i)->value, "details");
    const BtNode *key = action->n_details ? details->first : NULL;
    for (int d = 0; key; key = key->next, d++)
      check_column(reader, action, &action->details[d], key);
  }
}

void bt__check(BtReader *reader) {
  bt__check_choices(reader);
  bt__check_injects(reader);
  bt__check_matches(reader);
  bt__check_cycles(reader);
  bt__check_score(reader);
  check_columns(reader);
  bt__check_meant(reader);
}
