// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/figure.h"
#include "cli/reliability.h"

#define MOST_ACROSS 12
#define MOST_DOWN   6

static json_t *conditions_json(const BtGStudy *gstudy, const BtPlan *plan) {
  json_t *conditions = json_object();
  for (int i = 0; i < gstudy->design->facets; i++)
    json_object_set_new(conditions, gstudy->design->name[i], json_real(plan->conditions[i]));
  return conditions;
}

json_t *reliability_json_components(const BtGStudy *gstudy) {
  json_t *list = json_array();
  for (int i = 0; i < gstudy->design->effects; i++) {
    const BtEffect *effect = &gstudy->effect[i];
    g_autofree char *name = bt_design_name(gstudy->design, gstudy->design->effect[i]);
    json_t *row = json_pack("{s:s, s:I, s:f, s:f, s:f, s:f}", "effect", name, "groups",
                            (json_int_t)effect->groups, "df", effect->df, "t", effect->uncorrected,
                            "sum_of_squares", effect->sum_of_squares, "used", effect->used);
    json_object_set_new(row, "mean_square", cli_json_figure("mean square", &effect->mean_square));
    json_object_set_new(row, "component",
                        cli_json_figure("variance component", &effect->component));
    json_array_append_new(list, row);
  }
  return list;
}

json_t *reliability_json_coefficients(const BtDStudy *reached) {
  json_t *object =
      json_pack("{s:f, s:f, s:f}", "universe_variance", reached->universe, "relative_error",
                reached->relative, "absolute_error", reached->absolute);
  json_object_set_new(object, "erho2",
                      cli_json_figure("E rho^2 (Brennan 2001)", &reached->ranking));
  json_object_set_new(object, "phi", cli_json_figure("Phi (Brennan 2001)", &reached->decision));
  json_object_set_new(object, "sem_relative",
                      cli_json_figure("standard error, ranking", &reached->sem_relative));
  json_object_set_new(object, "sem_absolute",
                      cli_json_figure("standard error, pass decisions", &reached->sem_absolute));
  return object;
}

static json_t *plan_json(const Planning *planning, int across, int down) {
  BtPlan plan = planning->observed;
  plan.conditions[planning->across] = across;
  if (planning->down >= 0)
    plan.conditions[planning->down] = down;
  BtDStudy reached = bt_dstudy(planning->gstudy, &plan);
  json_t *object = reliability_json_coefficients(&reached);
  json_object_set_new(object, "conditions", conditions_json(planning->gstudy, &plan));
  return object;
}

json_t *reliability_json_plans(const Planning *planning) {
  json_t *list = json_array();
  int most = planning->down < 0 ? 1 : MOST_DOWN;
  for (int down = 1; down <= most && planning->across >= 0; down++) {
    for (int across = 1; across <= MOST_ACROSS; across++)
      json_array_append_new(list, plan_json(planning, across, down));
  }
  return list;
}

json_t *reliability_json_reach(const Planning *planning) {
  json_t *list = json_array();
  const BtDesign *design = planning->gstudy->design;
  int most = planning->down < 0 ? 1 : MOST_DOWN;
  for (int down = 1; down <= most && planning->across >= 0; down++) {
    BtPlan plan = planning->observed;
    if (planning->down >= 0)
      plan.conditions[planning->down] = down;
    BtReach phi =
        bt_dstudy_reach(planning->gstudy, &plan, planning->across, false, planning->target);
    BtReach rho =
        bt_dstudy_reach(planning->gstudy, &plan, planning->across, true, planning->target);
    json_t *row =
        json_pack("{s:f, s:s, s:o, s:o, s:f, s:f}", "target", planning->target, "vary",
                  design->name[planning->across], "least_for_phi",
                  phi.least ? json_integer((json_int_t)phi.least) : json_null(), "least_for_erho2",
                  rho.least ? json_integer((json_int_t)rho.least) : json_null(), "phi_at_most",
                  phi.limit, "erho2_at_most", rho.limit);
    if (planning->down >= 0)
      json_object_set_new(row, design->name[planning->down], json_integer(down));
    json_array_append_new(list, row);
  }
  return list;
}

json_t *reliability_json_items(const BtItems *items, const char *const *names) {
  json_t *list = json_array();
  for (gsize i = 0; i < items->items; i++) {
    const BtItem *item = &items->item[i];
    json_t *row = json_pack("{s:s}", "item", names[i]);
    json_object_set_new(row, "difficulty", cli_json_figure("mean", &item->difficulty));
    json_object_set_new(row, "discrimination",
                        cli_json_figure("corrected item-total correlation", &item->discrimination));
    json_object_set_new(row, "alpha_without",
                        cli_json_figure("alpha without it", &item->alpha_without));
    json_array_append_new(list, row);
  }
  json_t *object =
      json_pack("{s:I, s:I, s:f, s:o}", "persons", (json_int_t)items->persons, "complete_persons",
                (json_int_t)items->complete, "items_each", items->items_each, "items", list);
  json_object_set_new(object, "alpha", cli_json_figure("alpha (Cronbach 1951)", &items->alpha));
  json_object_set_new(object, "kr20",
                      cli_json_figure("KR-20 (Kuder and Richardson 1937)", &items->kr20));
  json_object_set_new(object, "kr21",
                      cli_json_figure("KR-21 (Kuder and Richardson 1937)", &items->kr21));
  return object;
}

json_t *reliability_json_decision(const BtDecision *decision, const char *form) {
  json_t *object = json_pack("{s:s}", "form", form);
  json_object_set_new(object, "consistency",
                      cli_json_figure("decided alike twice", &decision->consistency));
  json_object_set_new(object, "kappa", cli_json_figure("kappa of decisions", &decision->kappa));
  json_object_set_new(object, "accuracy",
                      cli_json_figure("decided as the true score", &decision->accuracy));
  json_object_set_new(object, "false_pass",
                      cli_json_figure("pass, true score below", &decision->false_pass));
  json_object_set_new(object, "false_not_yet",
                      cli_json_figure("not yet, true score at or above", &decision->false_not_yet));
  if (decision->effective_length > 0)
    json_object_set_new(object, "true_scores",
                        json_pack("{s:f, s:f, s:f, s:f, s:f, s:s?}", "effective_length",
                                  decision->effective_length, "low", decision->true_low, "high",
                                  decision->true_high, "alpha", decision->alpha, "beta",
                                  decision->beta, "why_two_parameters", decision->why_two));
  return object;
}
