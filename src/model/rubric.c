// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/model.h>

#include <string.h>

static const char *const component_names[BT_COMPONENTS] = {"steps",     "order",   "time",
                                                           "technique", "product", "rating"};
static const char *const severity_names[] = {"minor", "major", "critical"};

const char *bt_component_name(BtComponent component) {
  return component_names[component];
}

int bt_component_from_name(const char *name) {
  return bt_word_index(name, component_names, BT_COMPONENTS);
}

const char *bt_severity_name(BtSeverity severity) {
  return severity_names[severity];
}

bool bt_range_holds(const BtRange *range, gint64 milli) {
  return (!range->has_lo || milli >= range->lo_milli) &&
         (!range->has_hi || milli <= range->hi_milli);
}

char *bt_range_format(const BtRange *range) {
  g_autofree char *lo = range->has_lo ? bt_decimal_format(range->lo_milli) : g_strdup("");
  g_autofree char *hi = range->has_hi ? bt_decimal_format(range->hi_milli) : g_strdup("");
  bool single = range->has_lo && range->has_hi && range->lo_milli == range->hi_milli;
  return single ? g_steal_pointer(&lo) : g_strdup_printf("%s..%s", lo, hi);
}

BtRubric *bt_rubric_new(void) {
  BtRubric *rubric = g_new0(BtRubric, 1);
  rubric->owned = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; i < BT_COMPONENTS; i++)
    rubric->score.floor_milli[i] = -1;
  return rubric;
}

void bt_rubric_free(BtRubric *rubric) {
  if (!rubric)
    return;
  g_ptr_array_unref(rubric->owned);
  g_free(rubric);
}

void *bt_rubric_alloc(BtRubric *rubric, gsize n, gsize size) {
  if (n == 0)
    return NULL;
  void *block = g_malloc0_n(n, size);
  g_ptr_array_add(rubric->owned, block);
  return block;
}

char *bt_rubric_strdup(BtRubric *rubric, const char *text) {
  if (!text)
    return NULL;
  char *copy = g_strdup(text);
  g_ptr_array_add(rubric->owned, copy);
  return copy;
}

// Every thing of a rubric begins with its id, so one search serves them all.
static int find(const void *things, int n, gsize size, const char *id) {
  const char *thing = things;
  for (int i = 0; i < n; i++, thing += size) {
    const char *const *its_id = (const char *const *)(const void *)thing;
    if (strcmp(*its_id, id) == 0)
      return i;
  }
  return -1;
}

#define DEFINE_FIND(singular, array, Type)                                                         \
  G_STATIC_ASSERT(G_STRUCT_OFFSET(Type, id) == 0);                                                 \
  int bt_rubric_find_##singular(const BtRubric *rubric, const char *id) {                          \
    return find(rubric->array, rubric->n_##array, sizeof *rubric->array, id);                      \
  }
DEFINE_FIND(site, sites, BtSite)
DEFINE_FIND(action, actions, BtAction)
DEFINE_FIND(phase, phases, BtPhase)
DEFINE_FIND(checkpoint, checkpoints, BtCheckpoint)
DEFINE_FIND(rule, rules, BtRule)
DEFINE_FIND(inject, injects, BtInject)
DEFINE_FIND(error, errors, BtErrorKind)
DEFINE_FIND(measure, measures, BtMeasure)
DEFINE_FIND(rating, ratings, BtRating)

G_STATIC_ASSERT(G_STRUCT_OFFSET(BtDetail, name) == 0);
int bt_action_find_detail(const BtAction *action, const char *name) {
  return find(action->details, action->n_details, sizeof *action->details, name);
}
