// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/gstudy_parts.h"

#define NOT_POSSIBLE "the scores do not fit the design"
#define NO_FREEDOM   "it has no degrees of freedom"

static BtDesign *copy_of(const BtDesign *design) {
  BtDesign *copy = g_new(BtDesign, 1);
  *copy = *design;
  for (int i = 0; i < design->facets; i++)
    copy->name[i] = g_strdup(design->name[i]);
  return copy;
}

static BtGroups *all_groups(const BtDesign *design, const BtScores *scores) {
  BtGroups *groups = g_new(BtGroups, (gsize)design->effects);
  for (int i = 0; i < design->effects; i++)
    groups[i] = bt__groups(design, scores, design->effect[i]);
  return groups;
}

static void free_groups(BtGroups *groups, const BtDesign *design) {
  for (int i = 0; i < design->effects; i++)
    bt__groups_clear(&groups[i]);
  g_free(groups);
}

// Whether the data can be used ------------------------------------------------

static bool same_sizes(const BtGroups *groups) {
  for (gsize g = 1; g < groups->groups; g++) {
    if (groups->size[g] != groups->size[0])
      return false;
  }
  return true;
}

static gsize groups_of_set(const BtGStudy *study, guint set) {
  return set ? study->effect[bt__effect_index(study->design, set)].groups : 1;
}

// Complete: every effect's groups are equally large, and what is crossed meets everywhere.
static bool is_complete(const BtGStudy *study, const BtGroups *groups) {
  const BtDesign *design = study->design;
  for (int a = 0; a < design->effects; a++) {
    if (!same_sizes(&groups[a]))
      return false;
    for (int b = 0; b < a; b++) {
      guint both = design->effect[a] | design->effect[b];
      guint common = design->effect[a] & design->effect[b];
      if (groups_of_set(study, both) * groups_of_set(study, common) !=
          groups[a].groups * groups[b].groups)
        return false;
    }
  }
  return true;
}

// Why a facet has too few conditions; NULL: it has not. Caller frees.
static char *too_few(const BtGStudy *study, int facet) {
  const BtDesign *design = study->design;
  guint within = design->within[facet];
  gsize own = groups_of_set(study, within | 1U << facet), nests = groups_of_set(study, within);
  if (own > nests)
    return NULL;
  if (!within)
    return g_strdup_printf("there is only one %s; two are the fewest", design->name[facet]);
  g_autofree char *nest = bt_design_name(design, within);
  return g_strdup_printf("no %s has more than one %s", nest, design->name[facet]);
}

// Why the design's components cannot be told apart.
static char *confounded(const BtGStudy *study) {
  const BtDesign *design = study->design;
  for (int a = 0; a < design->effects; a++) {
    for (int b = 0; b < a; b++) {
      gsize both = groups_of_set(study, design->effect[a] | design->effect[b]);
      if (study->effect[a].groups != both || study->effect[b].groups != both)
        continue;
      g_autofree char *one = bt_design_name(design, design->effect[a]);
      g_autofree char *other = bt_design_name(design, design->effect[b]);
      return g_strdup_printf("these scores cannot tell %s from %s", one, other);
    }
  }
  return g_strdup("too few cells of the design have a score");
}

static char *why_not(const BtGStudy *study) {
  const BtDesign *design = study->design;
  if (study->n == 0)
    return g_strdup("there are no scores");
  for (int facet = 0; facet < design->facets; facet++) {
    char *why = too_few(study, facet);
    if (why)
      return why;
  }
  guint all = design->effect[design->effects - 1];
  if (study->effect[design->effects - 1].groups == study->n)
    return NULL;
  g_autofree char *cell = bt_design_name(design, all);
  return g_strdup_printf("two scores stand in one cell of %s; a facet that tells them apart is "
                         "missing from the design",
                         cell);
}

// Sums of squares -------------------------------------------------------------

static double mean_of(const BtScores *scores) {
  double sum = 0, rest = 0;
  for (gsize i = 0; i < scores->n; i++)
    sum += scores->score[i];
  double mean = sum / (double)scores->n;
  for (gsize i = 0; i < scores->n; i++)
    rest += scores->score[i] - mean;
  return mean + rest / (double)scores->n;
}

// The uncorrected sum of squares of an effect, about the mean.
static double between(const BtGroups *groups, const BtScores *scores, double mean) {
  g_autofree double *sum = g_new0(double, groups->groups);
  for (gsize i = 0; i < scores->n; i++)
    sum[groups->of[i]] += scores->score[i] - mean;
  double total = 0;
  for (gsize g = 0; g < groups->groups; g++)
    total += sum[g] * sum[g] / (double)groups->size[g];
  return total;
}

// Takes the smaller effects within it off an effect's sum of squares and degrees of freedom.
static void take_off_smaller(BtGStudy *study, int effect) {
  const BtDesign *design = study->design;
  BtEffect *own = &study->effect[effect];
  own->df = (double)own->groups - 1;
  for (int i = 0; i < effect; i++) {
    if ((design->effect[i] & design->effect[effect]) != design->effect[i])
      continue;
    own->sum_of_squares -= study->effect[i].sum_of_squares;
    own->df -= study->effect[i].df;
  }
  own->mean_square = own->df > 0
                         ? bt_estimate(own->sum_of_squares / own->df, own->groups, NO_FREEDOM)
                         : bt_not_estimable(NO_FREEDOM, own->groups);
}

static void sum_squares(BtGStudy *study, const BtGroups *groups, const BtScores *scores) {
  study->mean = mean_of(scores);
  study->uncorrected_mean = (double)scores->n * study->mean * study->mean;
  for (int i = 0; i < study->design->effects; i++) {
    double about_mean = between(&groups[i], scores, study->mean);
    study->effect[i].uncorrected = about_mean + study->uncorrected_mean;
    study->effect[i].sum_of_squares = about_mean;
    take_off_smaller(study, i);
  }
}

// Conditions ------------------------------------------------------------------

// The harmonic mean over the objects of how many conditions of the facet each has in a nest.
static double conditions_of(const BtGStudy *study, const BtGroups *groups, int facet) {
  const BtDesign *design = study->design;
  guint object = 1U << design->object;
  int objects = bt__effect_index(design, object);
  if (facet == design->object)
    return (double)study->effect[objects].groups;
  int with = bt__effect_index(design, bt_design_closure(design, object | 1U << facet));
  int without = bt__effect_index(design, object | design->within[facet]);
  gsize n = groups[objects].groups;
  g_autofree gsize *conditions = g_new0(gsize, n), *nests = g_new0(gsize, n);
  for (gsize g = 0; g < groups[with].groups; g++)
    conditions[groups[objects].of[groups[with].first[g]]]++;
  for (gsize g = 0; g < groups[without].groups; g++)
    nests[groups[objects].of[groups[without].first[g]]]++;
  double sum = 0;
  for (gsize i = 0; i < n; i++)
    sum += (double)nests[i] / (double)conditions[i];
  return (double)n / sum;
}

// The sum over an object's groups of the effect of its squared share of scores in each, a mean over
// the objects: the variance of the object's mean that the effect brings, in units of its component.
static double left_of(const BtGStudy *study, const BtGroups *groups, int effect) {
  const BtDesign *design = study->design;
  guint object = 1U << design->object;
  const BtGroups *objects = &groups[bt__effect_index(design, object)];
  const BtGroups *parts = &groups[bt__effect_index(design, object | design->effect[effect])];
  double sum = 0;
  for (gsize g = 0; g < parts->groups; g++) {
    double share = (double)parts->size[g] / (double)objects->size[objects->of[parts->first[g]]];
    sum += share * share;
  }
  return sum / (double)objects->groups;
}

// All of it -------------------------------------------------------------------

static void keep_used(BtGStudy *study) {
  for (int i = 0; i < study->design->effects; i++) {
    BtEffect *effect = &study->effect[i];
    if (study->why_not)
      effect->component = bt_not_estimable(NOT_POSSIBLE, effect->groups);
    effect->used = MAX(0, effect->component.value);
    study->any_negative |= effect->component.value < 0;
  }
}

static void estimate(BtGStudy *study, const BtGroups *groups, const BtScores *scores,
                     BtComponentMethod method) {
  sum_squares(study, groups, scores);
  if ((study->why_not = why_not(study)))
    return;
  for (int facet = 0; facet < study->design->facets; facet++)
    study->conditions[facet] = conditions_of(study, groups, facet);
  for (int i = 0; i < study->design->effects; i++)
    study->effect[i].left = left_of(study, groups, i);
  study->complete = is_complete(study, groups);
  bool solved = study->complete ? bt__gstudy_complete(study) : bt__gstudy_henderson(study, groups);
  if (!solved)
    study->why_not = confounded(study);
  else if (method == BT_BY_REML)
    study->why_not = g_strdup(bt__gstudy_reml(study, scores, groups));
}

BtGStudy *bt_gstudy(const BtDesign *design, const BtScores *scores, BtComponentMethod method) {
  BtGStudy *study = g_new0(BtGStudy, 1);
  study->n = scores->n;
  study->design = copy_of(design);
  study->effect = g_new0(BtEffect, (gsize)design->effects);
  if (scores->n == 0) {
    study->why_not = why_not(study);
  } else {
    BtGroups *groups = all_groups(design, scores);
    for (int i = 0; i < design->effects; i++)
      study->effect[i].groups = groups[i].groups;
    estimate(study, groups, scores, method);
    free_groups(groups, design);
  }
  keep_used(study);
  return study;
}

void bt_gstudy_free(BtGStudy *study) {
  if (!study)
    return;
  bt_design_free(study->design);
  g_free(study->effect);
  g_free(study->why_not);
  g_free(study);
}
