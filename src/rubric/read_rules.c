// SPDX-License-Identifier: GPL-3.0-or-later
//
// Order rules, choices and injects.
#include "rubric/reader.h"

#include <string.h>

// Sides of a rule -------------------------------------------------------------

typedef struct {
  GArray *checkpoints; // of int, ascending, each once
  GString *text;       // for people
} Side;

static void add_checkpoint(GArray *checkpoints, int checkpoint) {
  guint at = checkpoints->len;
  while (at > 0 && g_array_index(checkpoints, int, at - 1) > checkpoint)
    at--;
  if (at == 0 || g_array_index(checkpoints, int, at - 1) != checkpoint)
    g_array_insert_val(checkpoints, at, checkpoint);
}

static void add_to_side(BtReader *reader, const BtNode *node, Side *side) {
  const BtRubric *rubric = reader->rubric;
  BtNameKind kind = BT_NAME_CHECKPOINT;
  int index = bt__find(reader, node, BT_NAMES(BT_NAME_CHECKPOINT) | BT_NAMES(BT_NAME_PHASE), &kind);
  if (index < 0)
    return;
  if (side->text->len)
    g_string_append(side->text, node->next ? ", " : " and ");
  if (kind == BT_NAME_CHECKPOINT) {
    add_checkpoint(side->checkpoints, index);
    const char *title = rubric->checkpoints[index].title;
    g_string_append(side->text, title ? title : "");
    return;
  }
  const BtPhase *phase = &rubric->phases[index];
  for (int i = 0; i < phase->n_checkpoints; i++)
    add_checkpoint(side->checkpoints, phase->first_checkpoint + i);
  g_string_append_printf(side->text, "the phase %s", phase->title ? phase->title : "");
}

static void refuse_repeats(BtReader *reader, const BtNode *list) {
  for (const BtNode *item = list->first; item; item = item->next) {
    for (const BtNode *other = list->first; other != item; other = other->next) {
      if (item->kind != BT_NODE_TEXT || other->kind != BT_NODE_TEXT ||
          strcmp(item->text, other->text) != 0)
        continue;
      bt__refuse(reader, item, "listed twice", "list it once");
      break;
    }
  }
}

static void read_side(BtReader *reader, const BtNode *value, int **checkpoints, int *n,
                      char **text) {
  g_autoptr(GArray) found = g_array_new(FALSE, FALSE, sizeof(int));
  g_autoptr(GString) words = g_string_new(NULL);
  Side side = {found, words};
  if (value->kind == BT_NODE_LIST && value->n == 0) {
    g_autofree char *name = bt__name_of(value);
    bt__fault(&reader->report, value->place, "expected the id of a checkpoint or a phase",
              "%s is an empty list", name);
  } else if (value->kind == BT_NODE_LIST) {
    for (const BtNode *item = value->first; item; item = item->next)
      add_to_side(reader, item, &side);
    refuse_repeats(reader, value);
  } else {
    add_to_side(reader, value, &side);
  }
  *n = (int)found->len;
  *checkpoints = bt_rubric_alloc(reader->rubric, found->len, sizeof(int));
  if (found->len)
    memcpy(*checkpoints, found->data, found->len * sizeof(int));
  *text = bt_rubric_strdup(reader->rubric, words->str);
}

static void read_first(BtReader *reader, const BtNode *value, void *field) {
  BtRule *rule = field;
  read_side(reader, value, &rule->first, &rule->n_first, &rule->first_text);
}

static void read_then(BtReader *reader, const BtNode *value, void *field) {
  BtRule *rule = field;
  read_side(reader, value, &rule->then, &rule->n_then, &rule->then_text);
}

// Rules -----------------------------------------------------------------------

static void read_by(BtReader *reader, const BtNode *value, void *field) {
  static const char *const words[] = {"finish", "start"};
  *(bool *)field = bt__choose(reader, value, words, G_N_ELEMENTS(words)) == 1;
}

static const BtKey rule_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"first", "expected what belongs first", read_first, 0},
    {"then", "expected what belongs after it", read_then, 0},
    {"lose", NULL, bt__read_points, offsetof(BtRule, lose_mp)},
    {"critical", NULL, bt__read_flag, offsetof(BtRule, critical)},
    {"why", "expected the reason, in a sentence that the trainee reads", bt__read_text,
     offsetof(BtRule, why)},
    {"by", NULL, read_by, offsetof(BtRule, by_start)},
};

static const BtRule blank_rule = {.inject = -1};

static const BtThings rules = {BT_NAME_RULE, rule_keys, G_N_ELEMENTS(rule_keys), sizeof(BtRule),
                               &blank_rule};

static void check_rule(BtReader *reader, int index) {
  const BtRule *rule = &reader->rubric->rules[index];
  const BtNode *map = bt__at(reader, BT_NAME_RULE, index);
  if (map->kind == BT_NODE_MAP && !bt__get(map, "lose") && !rule->critical)
    bt__fault(&reader->report, map->place, "expected the points it costs, or \"critical: true\"",
              "\"lose\" is missing in an order rule");
  for (int i = 0, j = 0; i < rule->n_first && j < rule->n_then;) {
    if (rule->first[i] == rule->then[j]) {
      bt__fault(&reader->report, bt__place_of(map, "then"), "expected sides that share none",
                "the checkpoint \"%s\" stands on both sides of the rule",
                reader->rubric->checkpoints[rule->first[i]].id);
      return;
    }
    if (rule->first[i] < rule->then[j])
      i++;
    else
      j++;
  }
}

#define RULES_MAX 500

void bt__read_rules(BtReader *reader, const BtNode *base, const BtNode *injects) {
  BtRubric *rubric = reader->rubric;
  int n = bt__length(base);
  const BtNode *inject = bt__length(injects) ? injects->first : NULL;
  for (const BtNode *item = inject; item; item = item->next)
    n += bt__length(bt__get(item, "order"));
  if (n > RULES_MAX) {
    bt__fault(&reader->report, (base ? base : injects)->place,
              "expected at most 500, those of injects included", "there are %d order rules", n);
    reader->lost[BT_NAME_RULE] = true;
    return;
  }
  rubric->rules = bt_rubric_alloc(rubric, (gsize)n, sizeof *rubric->rules);
  bt__read_list(reader, base, &rules, rubric->rules, 0);
  rubric->n_rules = bt__length(base);
  int index = 0;
  for (const BtNode *item = inject; item; item = item->next, index++) {
    const BtNode *order = bt__get(item, "order");
    bt__read_list(reader, order, &rules, rubric->rules, rubric->n_rules);
    for (int i = bt__length(order); i > 0; i--)
      rubric->rules[rubric->n_rules++].inject = index;
  }
  for (int i = 0; i < rubric->n_rules; i++)
    check_rule(reader, i);
}

// Choices ---------------------------------------------------------------------

static void read_option(BtReader *reader, const BtNode *node, BtOption *option) {
  bt__find_all(reader, node, BT_NAME_CHECKPOINT, &option->checkpoints, &option->n_checkpoints);
}

static void read_options(BtReader *reader, const BtNode *value, void *field) {
  BtChoice *choice = field;
  const char *expected = "expected at least two options, each a list of checkpoints, as in "
                         "\"[[plated], [lagged, wired]]\"";
  if (!bt__is(reader, value, BT_NODE_LIST, expected))
    return;
  if (value->n < 2)
    bt__fault(&reader->report, value->place, expected, "a choice has %s",
              value->n ? "one option" : "no options");
  choice->options = bt_rubric_alloc(reader->rubric, (gsize)value->n, sizeof *choice->options);
  for (const BtNode *item = value->first; item; item = item->next)
    read_option(reader, item, &choice->options[choice->n_options++]);
}

static const BtKey choice_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtChoice, title)},
    {"options", "expected a list of options", read_options, 0},
};

static const BtChoice blank_choice;

static const BtThings choices = {BT_NAME_CHOICE, choice_keys, G_N_ELEMENTS(choice_keys),
                                 sizeof(BtChoice), &blank_choice};

void bt__read_choices(BtReader *reader, const BtNode *node) {
  BtRubric *rubric = reader->rubric;
  rubric->choices = bt__read_new_list(reader, node, &choices, &rubric->n_choices);
}

// Injects ---------------------------------------------------------------------

static void read_adds(BtReader *reader, const BtNode *value, void *field) {
  BtInject *inject = field;
  bt__find_all(reader, value, BT_NAME_CHECKPOINT, &inject->adds, &inject->n_adds);
}

static void read_drops(BtReader *reader, const BtNode *value, void *field) {
  BtInject *inject = field;
  bt__find_all(reader, value, BT_NAME_CHECKPOINT, &inject->drops, &inject->n_drops);
}

static void read_suspends(BtReader *reader, const BtNode *value, void *field) {
  BtInject *inject = field;
  bt__find_all(reader, value, BT_NAME_RULE, &inject->suspends, &inject->n_suspends);
  const BtNode *item = value->kind == BT_NODE_LIST ? value->first : NULL;
  for (; item; item = item->next) {
    int rule = item->kind == BT_NODE_TEXT ? bt_rubric_find_rule(reader->rubric, item->text) : -1;
    if (rule >= 0 && reader->rubric->rules[rule].inject >= 0)
      bt__refuse(reader, item, "a rule of an inject",
                 "expected a base rule, one of the section \"order\"");
  }
}

static const BtKey inject_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtInject, title)},
    {"adds", NULL, read_adds, 0},
    {"drops", NULL, read_drops, 0},
    {"suspends", NULL, read_suspends, 0},
    {"order", NULL, NULL, 0},
};

static const BtInject blank_inject;

static const BtThings injects = {BT_NAME_INJECT, inject_keys, G_N_ELEMENTS(inject_keys),
                                 sizeof(BtInject), &blank_inject};

void bt__read_injects(BtReader *reader, const BtNode *node) {
  BtRubric *rubric = reader->rubric;
  rubric->injects = bt__read_new_list(reader, node, &injects, &rubric->n_injects);
}
