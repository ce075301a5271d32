// SPDX-License-Identifier: GPL-3.0-or-later
//
// Decision studies (Brennan 2001, chapters 4 and 5): a component counts in the mean of a plan with
// one part in as many as the plan has conditions of its facets.
#include "measure/gstudy_parts.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#define NOT_POSSIBLE "the variance components were not estimated"
#define ALL_THE_SAME "all scores are the same"
// What rounding may leave of a whole number of conditions.
#define ROUNDING 1e-9

BtPlan bt_plan_of_study(const BtGStudy *study) {
  BtPlan plan = {0};
  for (int i = 0; i < study->design->facets; i++)
    plan.conditions[i] = study->conditions[i];
  return plan;
}

static const BtDesign *design_of(const BtGStudy *study, const BtPlan *plan) {
  return plan->design ? plan->design : study->design;
}

// The facets beside the object that a component of the study is averaged over in the plan. What
// the plan nests counts with its nest.
static guint averaged(const BtGStudy *study, const BtPlan *plan, int effect, bool *with_object) {
  guint set = bt_design_closure(design_of(study, plan), study->design->effect[effect]);
  guint object = 1U << study->design->object;
  *with_object = set & object;
  return set & ~object;
}

static double conditions_in(const BtGStudy *study, const BtPlan *plan, guint set) {
  double product = 1;
  for (int i = 0; i < study->design->facets; i++) {
    if (set & 1U << i)
      product *= plan->conditions[i];
  }
  return product;
}

// Adds up the plan's variances, or, as scored, those of the scores' own means. `only`: just the
// components averaged over this facet (below 0: all).
static void add_up(const BtGStudy *study, const BtPlan *plan, bool as_scored, int only,
                   BtDStudy *sum) {
  double objects = plan->conditions[study->design->object];
  for (int i = 0; i < study->design->effects; i++) {
    bool with_object = false;
    guint over = averaged(study, plan, i, &with_object);
    if (only >= 0 && !(over & 1U << only))
      continue;
    const BtEffect *effect = &study->effect[i];
    double part = effect->used * (as_scored ? effect->left : 1 / conditions_in(study, plan, over));
    bool random = over & ~plan->fixed;
    bool error = random && (with_object || over & ~plan->same);
    if (with_object && !random)
      sum->universe += part;
    if (with_object && random)
      sum->relative += part;
    if (error)
      sum->absolute += part;
    // The mean of fixed conditions is no estimate of anything else: it brings no error.
    if (with_object || error)
      sum->mean_error += with_object ? part / objects : part;
  }
}

static BtEstimate ratio(double universe, double error, gsize n) {
  if (universe + error <= 0)
    return bt_not_estimable(ALL_THE_SAME, n);
  return bt_estimate(universe / (universe + error), n, ALL_THE_SAME);
}

static bool any_negative_with_object(const BtGStudy *study) {
  for (int i = 0; i < study->design->effects; i++) {
    if (study->design->effect[i] & 1U << study->design->object &&
        study->effect[i].component.value < 0)
      return true;
  }
  return false;
}

// (1 - rho) / (1 - estimate) follows F with the degrees of freedom of the objects and of relative
// error (Feldt 1965 for one facet).
static BtEstimate with_limits(const BtGStudy *study, BtEstimate ranking) {
  double df = study->effect[bt__effect_index(study->design, 1U << study->design->object)].df;
  double rest = 1 - ranking.value, tail = (1 - BT_LEVEL) / 2;
  double low = 1 - rest * qf(tail, df, study->error_df, FALSE, FALSE);
  double high = 1 - rest * qf(tail, df, study->error_df, TRUE, FALSE);
  return bt_estimate_limits(ranking.value, low, high, ranking.n, ALL_THE_SAME);
}

static gsize objects_of(const BtGStudy *study) {
  return study->effect[bt__effect_index(study->design, 1U << study->design->object)].groups;
}

static BtDStudy reach_by(const BtGStudy *study, const BtPlan *plan, bool as_scored) {
  BtDStudy result = {0};
  gsize n = objects_of(study);
  if (study->why_not) {
    result.ranking = result.decision = bt_not_estimable(NOT_POSSIBLE, n);
    result.sem_relative = result.sem_absolute = result.ranking;
    return result;
  }
  add_up(study, plan, as_scored, -1, &result);
  result.ranking = ratio(result.universe, result.relative, n);
  result.decision = ratio(result.universe, result.absolute, n);
  result.sem_relative = bt_estimate(sqrt(result.relative), n, ALL_THE_SAME);
  result.sem_absolute = bt_estimate(sqrt(result.absolute), n, ALL_THE_SAME);
  return result;
}

BtDStudy bt_dstudy(const BtGStudy *study, const BtPlan *plan) {
  return reach_by(study, plan, false);
}

BtDStudy bt_dstudy_as_scored(const BtGStudy *study, guint fixed, guint same) {
  BtPlan plan = bt_plan_of_study(study);
  plan.fixed = fixed;
  plan.same = same;
  BtDStudy result = reach_by(study, &plan, true);
  if (!result.ranking.why_not && study->error_df > 0 && !fixed && !any_negative_with_object(study))
    result.ranking = with_limits(study, result.ranking);
  return result;
}

BtEstimate bt_dstudy_at_cut(const BtGStudy *study, const BtDStudy *reached, double cut) {
  if (reached->decision.why_not)
    return reached->decision;
  double away = study->mean - cut;
  double square = away * away - reached->mean_error; // unbiased, so below 0 at times
  return ratio(reached->universe + square, reached->absolute, reached->decision.n);
}

BtReach bt_dstudy_reach(const BtGStudy *study, const BtPlan *plan, int facet, bool ranking,
                        double target) {
  BtDStudy one = {0}, with = {0};
  BtPlan of_one = *plan;
  of_one.conditions[facet] = 1;
  if (study->why_not)
    return (BtReach){0};
  add_up(study, &of_one, false, -1, &one);
  add_up(study, &of_one, false, facet, &with);
  double falls = ranking ? with.relative : with.absolute; // what more conditions take down
  double stays = (ranking ? one.relative : one.absolute) - falls;
  if (one.universe <= 0)
    return (BtReach){0};
  double allowed = one.universe * (1 - target) / target;
  BtReach reach = {.limit = one.universe / (one.universe + MAX(0, stays))};
  if (falls <= 0)
    reach.least = stays <= allowed;
  else if (allowed - stays > falls / (double)G_MAXINT)
    reach.least = (gsize)MAX(1, ceil(falls / (allowed - stays) - ROUNDING));
  return reach;
}
