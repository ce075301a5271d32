// SPDX-License-Identifier: GPL-3.0-or-later
//
// Sites, actions and their details.
#include "rubric/reader.h"

#include <string.h>

void bt__read_sites(BtReader *reader, const BtNode *node) {
  if (!node)
    return;
  if (!bt__is(reader, node, BT_NODE_MAP, "expected sites as \"id: title\" pairs")) {
    reader->lost[BT_NAME_SITE] = true;
    return;
  }
  BtRubric *rubric = reader->rubric;
  rubric->sites = bt_rubric_alloc(rubric, (gsize)node->n, sizeof *rubric->sites);
  for (const BtNode *key = node->first; key; key = key->next) {
    BtSite *site = &rubric->sites[rubric->n_sites++];
    site->id = bt__declare(reader, BT_NAME_SITE, key, key);
    bt__read_text(reader, key->value, &site->title);
  }
}

// Details ---------------------------------------------------------------------

static void read_whole(BtReader *reader, const BtNode *value, void *field) {
  BtDetail *detail = field;
  detail->kind = BT_DETAIL_WHOLE;
  (void)bt__read_range(reader, value, NULL, &detail->range);
}

static void read_range(BtReader *reader, const BtNode *value, void *field) {
  BtDetail *detail = field;
  if (detail->unit)
    (void)bt__read_range(reader, value, detail->unit, &detail->range);
}

static void read_one_of(BtReader *reader, const BtNode *value, void *field) {
  BtDetail *detail = field;
  detail->kind = BT_DETAIL_WORD;
  bt__read_texts(reader, value, &detail->words);
  detail->n_words = detail->words ? (int)g_strv_length(detail->words) : 0;
  for (int i = 1; i < detail->n_words; i++) {
    for (int j = 0; j < i; j++) {
      if (strcmp(detail->words[i], detail->words[j]) != 0)
        continue;
      g_autofree char *shown = bt_quoted(detail->words[i]);
      bt__fault(&reader->report, value->place, "list it once", "%s stands twice in \"one_of\"",
                shown);
      break;
    }
  }
}

static const BtKey detail_keys[] = {
    {"title", NULL, bt__read_text, offsetof(BtDetail, title)},
    {"unit", NULL, bt__read_unit, offsetof(BtDetail, unit)},
    {"range", NULL, read_range, 0},
    {"whole", NULL, read_whole, 0},
    {"one_of", NULL, read_one_of, 0},
    {"tells_apart", NULL, bt__read_flag, offsetof(BtDetail, tells_apart)},
    {"always", NULL, bt__read_flag, offsetof(BtDetail, always)},
};

// A detail is measured, counted or a word: one of the three.
static void check_kind(BtReader *reader, const BtNode *node) {
  int kinds = (bt__get(node, "unit") != NULL) + (bt__get(node, "whole") != NULL) +
              (bt__get(node, "one_of") != NULL);
  if (node->kind != BT_NODE_MAP)
    return;
  if (kinds != 1)
    bt__fault(&reader->report, node->place,
              "expected one of \"unit: mm\" (with a range or without), \"whole: 1..12\" and "
              "\"one_of: [word, word]\"",
              kinds == 0 ? "the detail does not say what its values are"
                         : "the detail says twice what its values are");
  else if (bt__get(node, "range") && !bt__get(node, "unit"))
    bt__fault(&reader->report, bt__place_of(node, "range"), "expected \"unit\" beside it",
              "a range without a unit");
}

static void check_name(BtReader *reader, const BtNode *key) {
  if (!bt__id_valid(key->text))
    bt__refuse(reader, key, "no name for a detail",
               "expected lower-case words joined by \"-\", at most 64 characters");
  else if (strcmp(key->text, "verify") == 0 || g_strv_contains(bt_log_columns(), key->text))
    bt__refuse(reader, key, "a word of its own in logs and rubrics",
               "expected another name for the detail");
}

// At the first one for which an entry of the log has no room.
static void refuse_too_many(BtReader *reader, const BtNode *details, const BtNode *key) {
  g_autofree char *expected = g_strdup_printf("expected at most %d", BT_DETAILS_MAX);
  bt__fault(&reader->report, key->place, expected, "the action has %d details", details->n);
}

static void read_details(BtReader *reader, const BtNode *value, void *field) {
  BtAction *action = field;
  if (!bt__is(reader, value, BT_NODE_MAP, "expected details as \"name: {...}\" pairs"))
    return;
  action->details = bt_rubric_alloc(reader->rubric, (gsize)value->n, sizeof *action->details);
  for (const BtNode *key = value->first; key; key = key->next) {
    if (action->n_details == BT_DETAILS_MAX)
      refuse_too_many(reader, value, key);
    BtDetail *detail = &action->details[action->n_details++];
    check_name(reader, key);
    detail->name = bt_rubric_strdup(reader->rubric, key->text);
    detail->title = detail->name;
    (void)bt__read_map(reader, key->value, "a detail", detail_keys, G_N_ELEMENTS(detail_keys),
                       detail);
    check_kind(reader, key->value);
  }
}

// Actions ---------------------------------------------------------------------

static void read_action_sites(BtReader *reader, const BtNode *value, void *field) {
  BtAction *action = field;
  bt__find_all(reader, value, BT_NAME_SITE, &action->sites, &action->n_sites);
}

static const BtKey action_keys[] = {
    {"title", "expected a text", bt__read_text, offsetof(BtAction, title)},
    {"key", NULL, bt__read_shortcut, offsetof(BtAction, key)},
    {"sites", NULL, read_action_sites, 0},
    {"details", NULL, read_details, 0},
};

void bt__read_actions(BtReader *reader, const BtNode *node) {
  if (!node || !bt__is(reader, node, BT_NODE_MAP, "expected actions as \"id: {...}\" pairs")) {
    reader->lost[BT_NAME_ACTION] = true;
    return;
  }
  if (node->n == 0) {
    bt__fault(&reader->report, node->place, "expected at least one action", "there are no actions");
    reader->lost[BT_NAME_ACTION] = true;
  }
  BtRubric *rubric = reader->rubric;
  rubric->actions = bt_rubric_alloc(rubric, (gsize)node->n, sizeof *rubric->actions);
  for (const BtNode *key = node->first; key; key = key->next) {
    BtAction *action = &rubric->actions[rubric->n_actions++];
    action->id = bt__declare(reader, BT_NAME_ACTION, key, key);
    if (bt_event_kind_from_name(key->text) != BT_EVENT_WORK)
      bt__refuse(reader, key, "an action that every log has", "expected another id");
    (void)bt__read_map(reader, key->value, "an action", action_keys, G_N_ELEMENTS(action_keys),
                       action);
  }
  bt__check_shortcuts(reader, BT_NAME_ACTION, "action", rubric->actions, rubric->n_actions,
                      sizeof *rubric->actions, offsetof(BtAction, key));
}
