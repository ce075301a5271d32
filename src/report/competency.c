// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/competency.h"

// A row of the ledger that a competency rests on.
typedef struct {
  BtComponent component; // whose list of rows
  int index;             // of the checkpoint, rule, kind, measure or rating
} Source;

struct BtCompetencyPlan {
  const BtRubric *rubric;
  GArray **sources; // of Source, one array a competency
};

// Plans -----------------------------------------------------------------------

// A checkpoint that is named and stands in a phase that is named, too, counts once.
static void add_source(GArray *sources, BtComponent component, int index) {
  for (guint i = 0; i < sources->len; i++) {
    const Source *known = &g_array_index(sources, Source, i);
    if (known->component == component && known->index == index)
      return;
  }
  const Source source = {component, index};
  g_array_append_val(sources, source);
}

static void add_phase(GArray *sources, const BtPhase *phase) {
  for (int i = 0; i < phase->n_checkpoints; i++)
    add_source(sources, BT_STEPS, phase->first_checkpoint + i);
}

static void add_named(GArray *sources, const BtRubric *rubric, const char *id) {
  static const struct {
    BtComponent component;
    int (*find)(const BtRubric *rubric, const char *id);
  } lists[] = {{BT_STEPS, bt_rubric_find_checkpoint},
               {BT_ORDER, bt_rubric_find_rule},
               {BT_TECHNIQUE, bt_rubric_find_error},
               {BT_PRODUCT, bt_rubric_find_measure},
               {BT_RATING, bt_rubric_find_rating}};
  int phase = bt_rubric_find_phase(rubric, id);
  if (phase >= 0)
    add_phase(sources, &rubric->phases[phase]);
  for (gsize i = 0; i < G_N_ELEMENTS(lists); i++) {
    int index = lists[i].find(rubric, id);
    if (index >= 0)
      add_source(sources, lists[i].component, index);
  }
}

BtCompetencyPlan *bt__competency_plan_new(const BtRubric *rubric) {
  BtCompetencyPlan *plan = g_new(BtCompetencyPlan, 1);
  plan->rubric = rubric;
  plan->sources = g_new(GArray *, (gsize)rubric->n_competencies + 1);
  for (int i = 0; i < rubric->n_competencies; i++) {
    plan->sources[i] = g_array_new(FALSE, FALSE, sizeof(Source));
    for (char **id = rubric->competencies[i].from; id && *id; id++)
      add_named(plan->sources[i], rubric, *id);
  }
  return plan;
}

void bt__competency_plan_free(BtCompetencyPlan *plan) {
  if (!plan)
    return;
  for (int i = 0; i < plan->rubric->n_competencies; i++)
    g_array_unref(plan->sources[i]);
  g_free(plan->sources);
  g_free(plan);
}

// Scores ----------------------------------------------------------------------

static void count(BtCompetencyScore *score, gint64 given_mp, gint64 possible_mp) {
  score->given_mp += given_mp;
  score->possible_mp += possible_mp;
}

static void add_value(BtCompetencyScore *score, const GArray *values, int index, gint64 points_mp) {
  const BtValueRow *row = &g_array_index(values, BtValueRow, (guint)index);
  if (row->has_value)
    count(score, row->given_mp, points_mp);
}

// Rules that never came to be judged have no row.
static void add_rule(BtCompetencyScore *score, const GArray *order, int index, gint64 lose_mp) {
  for (guint i = 0; i < order->len; i++) {
    const BtOrderRow *row = &g_array_index(order, BtOrderRow, i);
    if (row->rule == index && row->applies)
      count(score, row->given_mp, lose_mp);
  }
}

static void add_error(BtCompetencyScore *score, const GArray *technique, int index) {
  for (guint i = 0; i < technique->len; i++) {
    const BtTechniqueRow *row = &g_array_index(technique, BtTechniqueRow, i);
    if (row->error != index)
      continue;
    count(score, -row->lost_mp, 0);
    score->errors += row->count;
  }
}

static void add_row(BtCompetencyScore *score, const BtRubric *rubric, const BtLedger *ledger,
                    const Source *source) {
  if (!ledger->component[source->component].assessed)
    return;
  score->assessed = true;
  if (source->component == BT_STEPS) {
    const BtStepRow *row = &g_array_index(ledger->steps, BtStepRow, (guint)source->index);
    if (row->why_out == BT_IN_SCORE)
      count(score, row->given_mp, rubric->checkpoints[source->index].points_mp);
  } else if (source->component == BT_ORDER) {
    add_rule(score, ledger->order, source->index, rubric->rules[source->index].lose_mp);
  } else if (source->component == BT_TECHNIQUE) {
    add_error(score, ledger->technique, source->index);
  } else if (source->component == BT_PRODUCT) {
    add_value(score, ledger->product, source->index, rubric->measures[source->index].points_mp);
  } else {
    add_value(score, ledger->rating, source->index, rubric->ratings[source->index].points_mp);
  }
}

void bt__competency_scores(const BtCompetencyPlan *plan, const BtLedger *ledger,
                           BtCompetencyScore *scores) {
  for (int i = 0; i < plan->rubric->n_competencies; i++) {
    scores[i] = (BtCompetencyScore){0};
    for (guint j = 0; j < plan->sources[i]->len; j++)
      add_row(&scores[i], plan->rubric, ledger, &g_array_index(plan->sources[i], Source, j));
    scores[i].given_mp = MAX(scores[i].given_mp, 0);
  }
}
