// SPDX-License-Identifier: GPL-3.0-or-later
//
// Choices and injects: where a checkpoint may stand.
#include "rubric/match_sets.h"
#include "rubric/reader.h"

#define COMBINATIONS_MAX 1024

static void place_checkpoint(BtReader *reader, int checkpoint, int choice, int option, BtPlace at) {
  BtCheckpoint *its = &reader->rubric->checkpoints[checkpoint];
  if (its->choice >= 0) {
    bt__fault(&reader->report, at, "expected a checkpoint in one option only",
              "the checkpoint \"%s\" stands already in an option of the choice \"%s\"", its->id,
              reader->rubric->choices[its->choice].id);
    return;
  }
  its->choice = choice;
  its->option = option;
}

static void place_option(BtReader *reader, int choice, int option, const BtNode *list) {
  const BtOption *its = &reader->rubric->choices[choice].options[option];
  for (int i = 0; i < its->n_checkpoints; i++)
    place_checkpoint(reader, its->checkpoints[i], choice, option, bt__item_place(list, i));
}

void bt__check_choices(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  gint64 combinations = 1;
  for (int i = 0; i < rubric->n_choices; i++) {
    const BtNode *map = bt__at(reader, BT_NAME_CHOICE, i);
    const BtNode *list = bt__get(map, "options");
    const BtNode *item = list && list->kind == BT_NODE_LIST ? list->first : NULL;
    for (int j = 0; item; item = item->next, j++)
      place_option(reader, i, j, item);
    bool within = combinations <= COMBINATIONS_MAX;
    combinations *= MAX(rubric->choices[i].n_options, 1);
    if (!within || combinations <= COMBINATIONS_MAX)
      continue;
    bt__fault(&reader->report, map->place, "expected at most 1,024 combinations",
              "with this choice there are %" G_GINT64_FORMAT " combinations of options",
              combinations);
    return;
  }
}

// What an inject adds or drops stands in no choice.
static void refuse_chosen(BtReader *reader, const BtNode *list, const int *checkpoints, int n,
                          const char *done) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < n; i++) {
    const BtCheckpoint *its = &rubric->checkpoints[checkpoints[i]];
    if (its->choice >= 0)
      bt__fault(&reader->report, bt__item_place(list, i),
                "expected a checkpoint that stands in no choice",
                "the checkpoint \"%s\" is %s here but stands in the choice \"%s\"", its->id, done,
                rubric->choices[its->choice].id);
  }
}

void bt__check_injects(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < rubric->n_injects; i++) {
    const BtInject *inject = &rubric->injects[i];
    const BtNode *map = bt__at(reader, BT_NAME_INJECT, i);
    const BtNode *drops = bt__get(map, "drops");
    refuse_chosen(reader, bt__get(map, "adds"), inject->adds, inject->n_adds, "added");
    refuse_chosen(reader, drops, inject->drops, inject->n_drops, "dropped");
    for (int d = 0; d < inject->n_drops; d++) {
      if (bt__among(inject->drops[d], inject->adds, inject->n_adds))
        bt__fault(&reader->report, bt__item_place(drops, d), "expected one or the other",
                  "the inject both adds and drops the checkpoint \"%s\"",
                  rubric->checkpoints[inject->drops[d]].id);
    }
  }
}
