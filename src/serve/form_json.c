// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/form_json.h"

// Lists -----------------------------------------------------------------------

// What makes the JSON of thing number `i`.
typedef json_t *(*MakeJson)(const BtRubric *rubric, int i);

static json_t *list_of(const BtRubric *rubric, int n, MakeJson make) {
  json_t *list = json_array();
  for (int i = 0; i < n; i++)
    json_array_append_new(list, make(rubric, i));
  return list;
}

static json_t *texts_json(char *const *texts) {
  json_t *list = json_array();
  for (char *const *text = texts; text && *text; text++)
    json_array_append_new(list, json_string(*text));
  return list;
}

static json_t *site_ids(const BtRubric *rubric, const int *sites, int n) {
  json_t *list = json_array();
  for (int i = 0; i < n; i++)
    json_array_append_new(list, json_string(rubric->sites[sites[i]].id));
  return list;
}

static json_t *checkpoint_ids(const BtRubric *rubric, const int *checkpoints, int n) {
  json_t *list = json_array();
  for (int i = 0; i < n; i++)
    json_array_append_new(list, json_string(rubric->checkpoints[checkpoints[i]].id));
  return list;
}

static json_t *key_json(gunichar key) {
  char text[7] = "";
  if (key == 0)
    return json_null();
  text[g_unichar_to_utf8(key, text)] = '\0';
  return json_string(text);
}

static json_t *number_json(bool has, gint64 milli) {
  if (!has)
    return json_null();
  g_autofree char *text = bt_decimal_format(milli);
  return json_string(text);
}

// Actions ---------------------------------------------------------------------

static json_t *detail_json(const BtDetail *detail) {
  static const char *const kinds[] = {"measured", "whole", "word"};
  bool number = detail->kind != BT_DETAIL_WORD;
  return json_pack("{ssssssss?sosososbsb}", "name", detail->name, "title", detail->title, "kind",
                   kinds[detail->kind], "unit", detail->unit, "words", texts_json(detail->words),
                   "low", number_json(number && detail->range.has_lo, detail->range.lo_milli),
                   "high", number_json(number && detail->range.has_hi, detail->range.hi_milli),
                   "always", detail->always, "tells_apart", detail->tells_apart);
}

static json_t *site_json(const BtRubric *rubric, int i) {
  return json_pack("{ssss}", "id", rubric->sites[i].id, "title", rubric->sites[i].title);
}

static json_t *action_json(const BtRubric *rubric, int i) {
  const BtAction *action = &rubric->actions[i];
  json_t *details = json_array();
  for (int d = 0; d < action->n_details; d++)
    json_array_append_new(details, detail_json(&action->details[d]));
  return json_pack("{sssssososo}", "id", action->id, "title", action->title, "key",
                   key_json(action->key), "sites", site_ids(rubric, action->sites, action->n_sites),
                   "details", details);
}

// Checkpoints -----------------------------------------------------------------

static json_t *allowed_texts(const BtDetail *detail, const BtAllowed *allowed) {
  json_t *list = json_array();
  for (int i = 0; i < allowed->n_words; i++)
    json_array_append_new(list, json_string(detail->words[allowed->words[i]]));
  for (int i = 0; i < allowed->n_ranges; i++) {
    g_autofree char *range = bt_range_format(&allowed->ranges[i]);
    json_array_append_new(list, json_string(range));
  }
  return list;
}

static json_t *match_json(const BtAction *action, const BtMatch *match) {
  json_t *details = json_object();
  for (int i = 0; i < match->n_details; i++) {
    const BtDetail *detail = &action->details[match->details[i].detail];
    json_object_set_new(details, detail->name, allowed_texts(detail, &match->details[i]));
  }
  return details;
}

// "14..18 mm", or "lag or compression".
static json_t *expected_json(const BtDetail *detail, const BtAllowed *allowed) {
  g_autoptr(GString) text = g_string_new(NULL);
  for (int i = 0; i < allowed->n_words; i++)
    g_string_append_printf(text, "%s%s", text->len ? " or " : "", detail->words[allowed->words[i]]);
  for (int i = 0; i < allowed->n_ranges; i++) {
    g_autofree char *range = bt_range_format(&allowed->ranges[i]);
    g_string_append_printf(text, "%s%s", text->len ? " or " : "", range);
  }
  if (allowed->n_ranges > 0 && detail->unit)
    g_string_append_printf(text, " %s", detail->unit);
  return json_string(text->str);
}

static json_t *expect_json(const BtAction *action, const BtCheckpoint *checkpoint) {
  json_t *expect = json_object();
  for (int i = 0; i < checkpoint->n_expect; i++) {
    const BtDetail *detail = &action->details[checkpoint->expect[i].detail];
    json_object_set_new(expect, detail->name, expected_json(detail, &checkpoint->expect[i]));
  }
  return expect;
}

static json_t *checkpoint_json(const BtRubric *rubric, int i) {
  static const char *const critical[] = {NULL, "done", "right"};
  const BtCheckpoint *checkpoint = &rubric->checkpoints[i];
  const BtMatch *match = &checkpoint->match;
  const BtAction *action = &rubric->actions[match->action];
  bool chosen = checkpoint->choice >= 0;
  return json_pack("{sssssssssososisisoss?ss?so}", "id", checkpoint->id, "title", checkpoint->title,
                   "phase", rubric->phases[checkpoint->phase].id, "action", action->id, "sites",
                   site_ids(rubric, match->sites, match->n_sites), "details",
                   match_json(action, match), "least", checkpoint->least, "most", checkpoint->most,
                   "expect", expect_json(action, checkpoint), "critical",
                   critical[checkpoint->critical], "choice",
                   chosen ? rubric->choices[checkpoint->choice].id : NULL, "option",
                   chosen ? json_integer(checkpoint->option) : json_null());
}

static json_t *phase_json(const BtRubric *rubric, int i) {
  const BtPhase *phase = &rubric->phases[i];
  json_t *checkpoints = json_array();
  for (int c = 0; c < phase->n_checkpoints; c++)
    json_array_append_new(checkpoints,
                          json_string(rubric->checkpoints[phase->first_checkpoint + c].id));
  return json_pack("{sssssIsIso}", "id", phase->id, "title", phase->title, "target_ms",
                   (json_int_t)phase->target_ms, "limit_ms", (json_int_t)phase->limit_ms,
                   "checkpoints", checkpoints);
}

// Rules, choices, complications -----------------------------------------------

static json_t *rule_json(const BtRubric *rubric, int i) {
  const BtRule *rule = &rubric->rules[i];
  return json_pack("{sssososs?ss?}", "id", rule->id, "first",
                   checkpoint_ids(rubric, rule->first, rule->n_first), "then",
                   checkpoint_ids(rubric, rule->then, rule->n_then), "why", rule->why, "inject",
                   rule->inject >= 0 ? rubric->injects[rule->inject].id : NULL);
}

static json_t *choice_json(const BtRubric *rubric, int i) {
  const BtChoice *choice = &rubric->choices[i];
  json_t *options = json_array();
  for (int o = 0; o < choice->n_options; o++)
    json_array_append_new(options, checkpoint_ids(rubric, choice->options[o].checkpoints,
                                                  choice->options[o].n_checkpoints));
  return json_pack("{ssssso}", "id", choice->id, "title", choice->title, "options", options);
}

static json_t *inject_json(const BtRubric *rubric, int i) {
  const BtInject *inject = &rubric->injects[i];
  return json_pack("{sssssoso}", "id", inject->id, "title", inject->title, "adds",
                   checkpoint_ids(rubric, inject->adds, inject->n_adds), "drops",
                   checkpoint_ids(rubric, inject->drops, inject->n_drops));
}

// What is judged by hand ------------------------------------------------------

static json_t *error_json(const BtRubric *rubric, int i) {
  const BtErrorKind *error = &rubric->errors[i];
  return json_pack("{sssssssosbss?}", "id", error->id, "title", error->title, "severity",
                   bt_severity_name(error->severity), "key", key_json(error->key), "by_hand",
                   !error->has_match, "coach", error->coach);
}

static json_t *measure_json(const BtRubric *rubric, int i) {
  const BtMeasure *measure = &rubric->measures[i];
  return json_pack("{ssssss}", "id", measure->id, "title", measure->title, "unit", measure->unit);
}

static json_t *rating_json(const BtRubric *rubric, int i) {
  const BtRating *rating = &rubric->ratings[i];
  json_t *anchors = json_array();
  for (int a = 0; a < rating->n; a++)
    json_array_append_new(anchors,
                          rating->anchors[a] ? json_string(rating->anchors[a]) : json_null());
  return json_pack("{ssssso}", "id", rating->id, "title", rating->title, "anchors", anchors);
}

static json_t *clock_json(const BtClock *clock) {
  if (!clock->present)
    return json_null();
  return json_pack("{sIsIsI}", "target_ms", (json_int_t)clock->target_ms, "limit_ms",
                   (json_int_t)clock->limit_ms, "quiet_ms", (json_int_t)clock->quiet_ms);
}

json_t *bt__form_json(const BtRubric *rubric) {
  return json_pack("{sssisssosososososososososososo}", "rubric", rubric->id, "edition",
                   rubric->edition, "title", rubric->title, "cautions",
                   texts_json(rubric->cautions), "clock", clock_json(&rubric->clock), "phases",
                   list_of(rubric, rubric->n_phases, phase_json), "sites",
                   list_of(rubric, rubric->n_sites, site_json), "actions",
                   list_of(rubric, rubric->n_actions, action_json), "checkpoints",
                   list_of(rubric, rubric->n_checkpoints, checkpoint_json), "order",
                   list_of(rubric, rubric->n_rules, rule_json), "choices",
                   list_of(rubric, rubric->n_choices, choice_json), "injects",
                   list_of(rubric, rubric->n_injects, inject_json), "errors",
                   list_of(rubric, rubric->n_errors, error_json), "measures",
                   list_of(rubric, rubric->n_measures, measure_json), "ratings",
                   list_of(rubric, rubric->n_ratings, rating_json));
}
