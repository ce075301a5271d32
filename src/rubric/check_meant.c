// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the format allows, but hardly anybody means: warnings, said of a rubric without faults.
#include "rubric/match_sets.h"
#include "rubric/reader.h"

// Critical rules that a choice leads past -------------------------------------

// Whether something of the rule's `then` stands in this option of the choice (-1: in any).
static bool stands_in(const BtRubric *rubric, const BtRule *rule, int choice, int option) {
  for (int i = 0; i < rule->n_then; i++) {
    const BtCheckpoint *then = &rubric->checkpoints[rule->then[i]];
    if (then->choice == choice && (option < 0 || then->option == option))
      return true;
  }
  return false;
}

// The first option without the rule's `then`; -1: there is none.
static int option_past(const BtRubric *rubric, const BtRule *rule, int choice) {
  for (int option = 0; option < rubric->choices[choice].n_options; option++) {
    if (!stands_in(rubric, rule, choice, option))
      return option;
  }
  return -1;
}

// The options that together leave the rule nothing to judge, in words; NULL when something of its
// `then` is in force whatever is chosen. Caller frees.
static char *options_past(const BtRubric *rubric, const BtRule *rule) {
  if (rule->n_then == 0 || stands_in(rubric, rule, -1, -1))
    return NULL;
  g_autoptr(GString) words = g_string_new(NULL);
  for (int choice = 0; choice < rubric->n_choices; choice++) {
    if (!stands_in(rubric, rule, choice, -1))
      continue;
    int option = option_past(rubric, rule, choice);
    if (option < 0)
      return NULL;
    g_string_append_printf(words, "%soption %d of the choice \"%s\"", words->len ? " and " : "",
                           option + 1, rubric->choices[choice].id);
  }
  return g_strdup(words->str);
}

static void check_critical_rules(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < rubric->n_rules; i++) {
    const BtRule *rule = &rubric->rules[i];
    g_autofree char *options = rule->critical ? options_past(rubric, rule) : NULL;
    if (options)
      bt__warn(&reader->report, bt__place_of(bt__at(reader, BT_NAME_RULE, i), "then"),
               "name in \"then\" something that every way has in common",
               "with %s this critical rule is not judged", options);
  }
}

// Details that decide but are not asked for -----------------------------------

// Whether every event that the match takes has the detail.
static bool in_match(const BtMatch *match, int detail) {
  for (int i = 0; i < match->n_details; i++) {
    if (match->details[i].detail == detail)
      return true;
  }
  return false;
}

static void check_expected(BtReader *reader, int index) {
  const BtCheckpoint *checkpoint = &reader->rubric->checkpoints[index];
  const BtAction *action = &reader->rubric->actions[checkpoint->match.action];
  const BtNode *expect = bt__get(bt__at(reader, BT_NAME_CHECKPOINT, index), "expect");
  const char *decides =
      checkpoint->critical == BT_CRITICAL_RIGHT ? "critical: right" : "verify: required";
  for (int i = 0; i < checkpoint->n_expect; i++) {
    int detail = checkpoint->expect[i].detail;
    const BtDetail *its = &action->details[detail];
    if (its->always || in_match(&checkpoint->match, detail))
      continue;
    bt__warn(&reader->report, bt__place_of(expect, its->name), "give the detail \"always: true\"",
             "with \"%s\" the detail \"%s\" decides, but it is not asked for while recording",
             decides, its->name);
  }
}

static void check_deciding_details(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < rubric->n_checkpoints; i++) {
    const BtCheckpoint *checkpoint = &rubric->checkpoints[i];
    if (checkpoint->critical == BT_CRITICAL_RIGHT || checkpoint->verify_required)
      check_expected(reader, i);
  }
}

// Things without a use --------------------------------------------------------

static bool site_used(const BtRubric *rubric, int site) {
  for (int i = 0; i < rubric->n_actions; i++) {
    if (bt__among(site, rubric->actions[i].sites, rubric->actions[i].n_sites))
      return true;
  }
  return false;
}

static bool action_used(const BtRubric *rubric, int action) {
  for (int i = 0; i < rubric->n_checkpoints; i++) {
    if (rubric->checkpoints[i].match.action == action)
      return true;
  }
  for (int i = 0; i < rubric->n_errors; i++) {
    if (rubric->errors[i].has_match && rubric->errors[i].match.action == action)
      return true;
  }
  return false;
}

static void check_used(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < rubric->n_sites; i++) {
    if (!site_used(rubric, i))
      bt__warn(&reader->report, bt__at(reader, BT_NAME_SITE, i)->place,
               "name it among the sites of an action, or take it out",
               "no action is logged at the site \"%s\"", rubric->sites[i].id);
  }
  for (int i = 0; i < rubric->n_actions; i++) {
    if (!action_used(rubric, i))
      bt__warn(&reader->report, bt__at(reader, BT_NAME_ACTION, i)->place,
               "name it in the match of a checkpoint or an error, or take it out",
               "nothing looks for the action \"%s\"", rubric->actions[i].id);
  }
}

void bt__check_meant(BtReader *reader) {
  if (reader->report.list.errors > 0)
    return; // what is amiss may be the very thing that was meant
  check_critical_rules(reader);
  check_deciding_details(reader);
  check_used(reader);
}
