// SPDX-License-Identifier: GPL-3.0-or-later
//
// Can a match ever take an event, and does an earlier one leave it any?
#include "rubric/match_sets.h"
#include "rubric/reader.h"

// Reach -----------------------------------------------------------------------

static void check_sites(BtReader *reader, const BtMatch *match, const BtNode *map) {
  const BtAction *action = &reader->rubric->actions[match->action];
  const BtNode *site = bt__get(map, "site");
  // An action whose list of sites has a fault may have meant them.
  const BtNode *declared = bt__get(bt__at(reader, BT_NAME_ACTION, match->action)->value, "sites");
  if (declared && (declared->kind != BT_NODE_LIST || action->n_sites < MAX(declared->n, 1)))
    return;
  for (int i = 0; i < match->n_sites; i++) {
    if (bt__among(match->sites[i], action->sites, action->n_sites))
      continue;
    const char *id = reader->rubric->sites[match->sites[i]].id;
    bt__fault(&reader->report, bt__item_place(site, i),
              action->n_sites ? "expected one of the action's sites" : "the action has no sites",
              "the action \"%s\" is never at the site \"%s\"", action->id, id);
  }
}

// Each range of what a map allows must have a value in common with the detail's own. False if one
// has none.
static bool check_ranges(BtReader *reader, const BtAction *action, const BtAllowed *allowed, int n,
                         const BtNode *map) {
  bool possible = true;
  for (int i = 0; i < n; i++) {
    const BtDetail *detail = &action->details[allowed[i].detail];
    const BtNode *value = bt__get(map, detail->name);
    for (int r = 0; r < allowed[i].n_ranges; r++) {
      if (bt__range_possible(detail, &allowed[i].ranges[r]))
        continue;
      possible = false;
      g_autofree char *range = bt_range_format(&detail->range);
      g_autofree char *expected =
          g_strdup_printf("expected values within %s%s%s", range, detail->unit ? " " : "",
                          detail->unit ? detail->unit : "");
      bt__fault(&reader->report, bt__item_place(value, r), expected,
                "no value of the detail \"%s\" lies in this range", detail->name);
    }
  }
  return possible;
}

// What is expected of a detail must be among what the match lets in.
static void check_expect(BtReader *reader, const BtCheckpoint *checkpoint, const BtNode *map) {
  const BtAction *action = &reader->rubric->actions[checkpoint->match.action];
  if (!check_ranges(reader, action, checkpoint->expect, checkpoint->n_expect, map))
    return;
  for (int i = 0; i < checkpoint->n_expect; i++) {
    const BtAllowed *expected = &checkpoint->expect[i];
    for (int j = 0; j < checkpoint->match.n_details; j++) {
      const BtAllowed *matched = &checkpoint->match.details[j];
      const BtDetail *detail = &action->details[expected->detail];
      if (matched->detail != expected->detail || bt__allowed_overlaps(detail, matched, expected))
        continue;
      bt__fault(&reader->report, bt__place_of(map, detail->name),
                "expected a value that the match lets in",
                "the match lets in no event with this \"%s\", so none can be right", detail->name);
    }
  }
}

static void check_checkpoint(BtReader *reader, int index) {
  const BtCheckpoint *checkpoint = &reader->rubric->checkpoints[index];
  const BtMatch *match = &checkpoint->match;
  const BtNode *map = bt__at(reader, BT_NAME_CHECKPOINT, index), *at = bt__get(map, "match");
  if (match->action < 0)
    return;
  const BtAction *action = &reader->rubric->actions[match->action];
  gint64 errors_before = reader->report.list.errors;
  check_sites(reader, match, at);
  bool possible =
      check_ranges(reader, action, match->details, match->n_details, bt__get(at, "details"));
  if (reader->report.list.errors > errors_before)
    g_hash_table_add(reader->unsure, (gpointer)match);
  if (possible)
    check_expect(reader, checkpoint, bt__get(map, "expect"));
}

static void check_reach(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < rubric->n_checkpoints; i++)
    check_checkpoint(reader, i);
  // A value outside its range may be the very error worth finding, a wrong site cannot be.
  for (int i = 0; i < rubric->n_errors; i++) {
    if (rubric->errors[i].match.action >= 0)
      check_sites(reader, &rubric->errors[i].match,
                  bt__get(bt__at(reader, BT_NAME_ERROR, i), "match"));
  }
}

// Shadows ---------------------------------------------------------------------

// True for a match that could be read whole: another may seem wider than it is.
static bool sure(const BtReader *reader, const BtMatch *match) {
  return match->action >= 0 && !g_hash_table_contains(reader->unsure, match);
}

static bool swaps(const BtInject *inject, int dropped, int added) {
  return bt__among(dropped, inject->drops, inject->n_drops) &&
         bt__among(added, inject->adds, inject->n_adds);
}

// Two checkpoints that are never in force together.
static bool never_together(const BtRubric *rubric, int a, int b) {
  const BtCheckpoint *x = &rubric->checkpoints[a], *y = &rubric->checkpoints[b];
  if (x->choice >= 0 && x->choice == y->choice && x->option != y->option)
    return true;
  for (int i = 0; i < rubric->n_injects; i++) {
    if (swaps(&rubric->injects[i], a, b) || swaps(&rubric->injects[i], b, a))
      return true;
  }
  return false;
}

typedef enum { APART, SHADOWED, CROSSED } Shadow;

// How the earlier checkpoint `a` stands to the later one `b` of its phase.
static Shadow shadow(const BtReader *reader, int a, int b) {
  const BtRubric *rubric = reader->rubric;
  const BtMatch *x = &rubric->checkpoints[a].match, *y = &rubric->checkpoints[b].match;
  if (!sure(reader, x) || !sure(reader, y) || !bt__match_overlaps(rubric, x, y))
    return APART;
  bool b_in_a = bt__match_inside(rubric, y, x), a_in_b = bt__match_inside(rubric, x, y);
  if (a_in_b || never_together(rubric, a, b))
    return APART; // equal, or the narrower comes first
  return b_in_a ? SHADOWED : CROSSED;
}

static void say_shadow(BtReader *reader, Shadow how, int earlier, int later) {
  const BtNode *map = bt__at(reader, BT_NAME_CHECKPOINT, later);
  const char *id = reader->rubric->checkpoints[earlier].id;
  int line = bt__at(reader, BT_NAME_CHECKPOINT, earlier)->place.line;
  if (how == SHADOWED)
    bt__fault(&reader->report, bt__place_of(map, "match"), "list the narrower first",
              "this match lies wholly inside that of \"%s\" (line %d)", id, line);
  else
    bt__warn(&reader->report, bt__place_of(map, "match"),
             "an event that both take goes to the earlier one first",
             "this match overlaps in part with that of \"%s\" (line %d)", id, line);
}

// One word about each checkpoint: the first that shadows it, else the first that it crosses.
static void check_shadow(BtReader *reader, int first, int later) {
  int crossed = -1;
  for (int earlier = first; earlier < later; earlier++) {
    Shadow how = shadow(reader, earlier, later);
    if (how == SHADOWED) {
      say_shadow(reader, how, earlier, later);
      return;
    }
    if (how == CROSSED && crossed < 0)
      crossed = earlier;
  }
  if (crossed >= 0)
    say_shadow(reader, CROSSED, crossed, later);
}

static void check_shadows(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int p = 0; p < rubric->n_phases; p++) {
    const BtPhase *phase = &rubric->phases[p];
    for (int i = 1; i < phase->n_checkpoints; i++)
      check_shadow(reader, phase->first_checkpoint, phase->first_checkpoint + i);
  }
}

// Errors among what was not planned -------------------------------------------

static bool always_in_force(const BtRubric *rubric, int checkpoint) {
  if (rubric->checkpoints[checkpoint].choice >= 0)
    return false;
  for (int i = 0; i < rubric->n_injects; i++) {
    const BtInject *inject = &rubric->injects[i];
    if (bt__among(checkpoint, inject->adds, inject->n_adds) ||
        bt__among(checkpoint, inject->drops, inject->n_drops))
      return false;
  }
  return true;
}

static void check_unplanned(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int e = 0; e < rubric->n_errors; e++) {
    const BtErrorKind *error = &rubric->errors[e];
    for (int i = 0; error->only_unplanned && i < rubric->n_checkpoints; i++) {
      const BtMatch *match = &rubric->checkpoints[i].match;
      if (!sure(reader, &error->match) || !sure(reader, match) ||
          !bt__match_inside(rubric, &error->match, match) || !always_in_force(rubric, i))
        continue;
      bt__warn(&reader->report, bt__place_of(bt__at(reader, BT_NAME_ERROR, e), "match"),
               "every event that it takes is planned there",
               "this error is never found, for its match lies inside that of \"%s\"",
               rubric->checkpoints[i].id);
      break;
    }
  }
}

void bt__check_matches(BtReader *reader) {
  check_reach(reader);
  check_shadows(reader);
  check_unplanned(reader);
}
