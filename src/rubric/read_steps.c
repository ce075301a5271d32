// SPDX-License-Identifier: GPL-3.0-or-later
//
// Matches, checkpoints and phases.
#include "rubric/reader.h"

#include <string.h>

#define TIMES_MAX 1000

// Values of details -----------------------------------------------------------

static int find_detail(BtReader *reader, const BtAction *action, const BtNode *key) {
  int index = bt_action_find_detail(action, key->text);
  if (index >= 0)
    return index;
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (int i = 0; i < action->n_details; i++)
    g_ptr_array_add(names, action->details[i].name);
  g_autofree char *any = bt__any_of((const char *const *)names->pdata, names->len);
  g_autofree char *otherwise =
      names->len ? g_strconcat("expected ", any, NULL) : g_strdup("it has no details");
  g_autofree char *hint =
      bt_did_you_mean(key->text, (const char *const *)names->pdata, names->len, otherwise);
  g_autofree char *shown = bt_quoted(key->text), *its = bt_quoted(action->id);
  bt__fault(&reader->report, key->place, hint, "the action %s has no detail %s", its, shown);
  return -1;
}

// A detail whose declaration has a fault is passed over: that fault is the one to mend.
static bool detail_known(const BtDetail *detail) {
  return detail->kind == BT_DETAIL_MEASURED ? detail->unit != NULL
         : detail->kind == BT_DETAIL_WORD   ? detail->n_words > 0
                                            : true;
}

// Reads what `map` allows details of `action`, but for the key `except` (NULL: none).
static void read_values(BtReader *reader, const BtNode *map, const BtAction *action,
                        const char *except, BtAllowed **allowed, int *n) {
  *allowed = bt_rubric_alloc(reader->rubric, (gsize)map->n, sizeof **allowed);
  for (const BtNode *key = map->first; key; key = key->next) {
    if (except && strcmp(key->text, except) == 0)
      continue;
    int detail = find_detail(reader, action, key);
    if (detail < 0 || !detail_known(&action->details[detail]))
      continue;
    BtAllowed *next = &(*allowed)[*n];
    next->detail = detail;
    if (bt__read_allowed(reader, key->value, &action->details[detail], next))
      (*n)++;
  }
}

// Matches ---------------------------------------------------------------------

static void read_match_action(BtReader *reader, const BtNode *value, void *field) {
  *(int *)field = bt__find(reader, value, BT_NAMES(BT_NAME_ACTION), NULL);
}

static void read_match_sites(BtReader *reader, const BtNode *value, void *field) {
  BtMatch *match = field;
  if (value->kind == BT_NODE_LIST) {
    bt__find_all(reader, value, BT_NAME_SITE, &match->sites, &match->n_sites);
    return;
  }
  int site = bt__find(reader, value, BT_NAMES(BT_NAME_SITE), NULL);
  if (site < 0)
    return;
  match->sites = bt_rubric_alloc(reader->rubric, 1, sizeof *match->sites);
  match->sites[match->n_sites++] = site;
}

static void read_match_details(BtReader *reader, const BtNode *value, void *field) {
  BtMatch *match = field;
  if (match->action >= 0 &&
      bt__is(reader, value, BT_NODE_MAP, "expected details as \"name: value\" pairs"))
    read_values(reader, value, &reader->rubric->actions[match->action], NULL, &match->details,
                &match->n_details);
}

static const BtKey match_keys[] = {
    {"action", "expected the id of an action", read_match_action, offsetof(BtMatch, action)},
    {"site", NULL, read_match_sites, 0},
    {"details", NULL, read_match_details, 0},
};

void bt__read_match(BtReader *reader, const BtNode *value, void *field) {
  BtMatch *match = field;
  match->action = -1;
  gint64 errors_before = reader->report.list.errors;
  (void)bt__read_map(reader, value, "a match", match_keys, G_N_ELEMENTS(match_keys), match);
  if (reader->report.list.errors > errors_before || reader->lost[BT_NAME_SITE] ||
      reader->lost[BT_NAME_ACTION])
    g_hash_table_add(reader->unsure, match);
}

// Checkpoints -----------------------------------------------------------------

static void read_count(BtReader *reader, const BtNode *value, void *field) {
  (void)bt__whole(reader, value, 1, TIMES_MAX, field);
}

static const BtKey times_keys[] = {
    {"least", NULL, read_count, offsetof(BtCheckpoint, least)},
    {"most", NULL, read_count, offsetof(BtCheckpoint, most)},
};

static void read_times(BtReader *reader, const BtNode *value, void *field) {
  BtCheckpoint *checkpoint = field;
  if (value->kind == BT_NODE_TEXT) {
    read_count(reader, value, &checkpoint->least);
    checkpoint->most = checkpoint->least;
    return;
  }
  if (!bt__read_map(reader, value, "times", times_keys, G_N_ELEMENTS(times_keys), checkpoint))
    return;
  const BtNode *most = bt__get(value, "most");
  if (!most)
    checkpoint->most = checkpoint->least;
  else if (checkpoint->most < checkpoint->least)
    bt__refuse(reader, most, "fewer than the least", "expected at least as many as \"least\"");
}

static void read_expect(BtReader *reader, const BtNode *value, void *field) {
  BtCheckpoint *checkpoint = field;
  if (!bt__is(reader, value, BT_NODE_MAP, "expected details as \"name: value\" pairs"))
    return;
  static const char *const words[] = {"required"};
  const BtNode *verify = bt__get(value, "verify");
  checkpoint->verify_required = verify && bt__choose(reader, verify, words, 1) == 0;
  if (checkpoint->match.action >= 0)
    read_values(reader, value, &reader->rubric->actions[checkpoint->match.action], "verify",
                &checkpoint->expect, &checkpoint->n_expect);
  if (value->n == (verify ? 1 : 0))
    bt__fault(&reader->report, value->place,
              "expected a detail and its value, as in \"length: 14..18 mm\"",
              "\"expect\" names no detail");
}

static void read_critical(BtReader *reader, const BtNode *value, void *field) {
  static const char *const words[] = {"false", "true", "done", "right"};
  static const BtCritical meaning[] = {BT_CRITICAL_NO, BT_CRITICAL_DONE, BT_CRITICAL_DONE,
                                       BT_CRITICAL_RIGHT};
  int word = bt__choose(reader, value, words, G_N_ELEMENTS(words));
  if (word >= 0)
    *(BtCritical *)field = meaning[word];
}

static void read_extra(BtReader *reader, const BtNode *value, void *field) {
  *(int *)field = bt__find(reader, value, BT_NAMES(BT_NAME_ERROR), NULL);
}

static const BtKey checkpoint_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtCheckpoint, title)},
    {"match", "expected what is logged for it, as in \"match: {action: screw, site: shaft}\"",
     bt__read_match, offsetof(BtCheckpoint, match)},
    {"times", NULL, read_times, 0},
    {"expect", NULL, read_expect, 0},
    {"points", "expected a number of points", bt__read_points, offsetof(BtCheckpoint, points_mp)},
    {"critical", NULL, read_critical, offsetof(BtCheckpoint, critical)},
    {"extra", NULL, read_extra, offsetof(BtCheckpoint, extra_kind)},
    {"coach", NULL, bt__read_text, offsetof(BtCheckpoint, coach)},
};

static const BtCheckpoint blank_checkpoint = {
    .match = {.action = -1}, .least = 1, .most = 1, .extra_kind = -1, .choice = -1, .option = -1};

static const BtThings checkpoints = {BT_NAME_CHECKPOINT, checkpoint_keys,
                                     G_N_ELEMENTS(checkpoint_keys), sizeof(BtCheckpoint),
                                     &blank_checkpoint};

// Phases ----------------------------------------------------------------------

static void read_checkpoints(BtReader *reader, const BtNode *value, void *field) {
  BtPhase *phase = field;
  BtRubric *rubric = reader->rubric;
  phase->first_checkpoint = rubric->n_checkpoints;
  phase->n_checkpoints = bt__length(value);
  if (value->kind == BT_NODE_LIST && value->n == 0)
    bt__fault(&reader->report, value->place, "expected at least one checkpoint",
              "the phase has no checkpoints");
  bt__read_list(reader, value, &checkpoints, rubric->checkpoints, rubric->n_checkpoints);
  for (int i = 0; i < phase->n_checkpoints; i++, rubric->n_checkpoints++) {
    BtCheckpoint *checkpoint = &rubric->checkpoints[rubric->n_checkpoints];
    checkpoint->phase = (int)(phase - rubric->phases);
    checkpoint->line = bt__at(reader, BT_NAME_CHECKPOINT, rubric->n_checkpoints)->place.line;
  }
}

static const BtKey phase_keys[] = {
    {"id", "expected an id", NULL, 0},
    {"title", "expected a text", bt__read_text, offsetof(BtPhase, title)},
    {"target", NULL, bt__read_duration, offsetof(BtPhase, target_ms)},
    {"limit", NULL, bt__read_duration, offsetof(BtPhase, limit_ms)},
    {"points", NULL, bt__read_points, offsetof(BtPhase, points_mp)},
    {"checkpoints", "expected a list of checkpoints", read_checkpoints, 0},
};

static const BtPhase blank_phase;

static const BtThings phases = {BT_NAME_PHASE, phase_keys, G_N_ELEMENTS(phase_keys),
                                sizeof(BtPhase), &blank_phase};

#define CHECKPOINTS_MAX 500

// How many checkpoints all phases have together; -1 when they are too many, which is reported.
static int count_checkpoints(BtReader *reader, const BtNode *node) {
  int n = 0;
  for (const BtNode *item = node->first; item; item = item->next) {
    const BtNode *list = bt__get(item, "checkpoints");
    n += bt__length(list);
    if (n > CHECKPOINTS_MAX) {
      bt__fault(&reader->report, list->place, "expected at most 500 in all phases together",
                "there are too many checkpoints");
      return -1;
    }
  }
  return n;
}

static void check_phases(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  for (int i = 0; i < rubric->n_phases; i++) {
    const BtPhase *phase = &rubric->phases[i];
    if (phase->n_checkpoints == 0)
      reader->lost[BT_NAME_CHECKPOINT] = true;
    bt__check_times(reader, bt__at(reader, BT_NAME_PHASE, i), phase->target_ms, phase->limit_ms,
                    phase->points_mp);
  }
}

void bt__read_phases(BtReader *reader, const BtNode *node) {
  BtRubric *rubric = reader->rubric;
  int n = bt__length(node) ? count_checkpoints(reader, node) : 0;
  if (!node || n < 0 || bt__length(node) == 0)
    reader->lost[BT_NAME_PHASE] = reader->lost[BT_NAME_CHECKPOINT] = true;
  if (!node || n < 0)
    return;
  if (node->kind == BT_NODE_LIST && node->n == 0)
    bt__fault(&reader->report, node->place, "expected at least one phase", "there are no phases");
  rubric->checkpoints = bt_rubric_alloc(rubric, (gsize)n, sizeof *rubric->checkpoints);
  rubric->n_phases = bt__length(node);
  rubric->phases = bt_rubric_alloc(rubric, (gsize)rubric->n_phases, sizeof *rubric->phases);
  bt__read_list(reader, node, &phases, rubric->phases, 0);
  check_phases(reader);
}
