// SPDX-License-Identifier: GPL-3.0-or-later
//
// Order rules must not run in a circle: not the base rules alone, nor together with those of any
// one inject less those it suspends.
#include "rubric/reader.h"

#include <string.h>

typedef struct {
  const BtRubric *rubric;
  GArray **after;  // by checkpoint: of int, the accepted rules that have it as `first`
  bool *suspended; // by rule
  bool *reached;   // by checkpoint
  int *came_by;    // by rule: the rule before it on the way; -1: not reached
  GArray *queue;   // of int, rules
} Graph;

static void accept(Graph *graph, int rule) {
  const BtRule *its = &graph->rubric->rules[rule];
  for (int i = 0; i < its->n_first; i++)
    g_array_append_val(graph->after[its->first[i]], rule);
}

// Takes back the rule accepted last.
static void take_back(Graph *graph, int rule) {
  const BtRule *its = &graph->rubric->rules[rule];
  for (int i = 0; i < its->n_first; i++) {
    GArray *after = graph->after[its->first[i]];
    g_array_set_size(after, after->len - 1);
  }
}

static void reach(Graph *graph, int rule) {
  const BtRule *its = &graph->rubric->rules[rule];
  for (int i = 0; i < its->n_then; i++) {
    int checkpoint = its->then[i];
    if (graph->reached[checkpoint])
      continue;
    graph->reached[checkpoint] = true;
    const GArray *after = graph->after[checkpoint];
    for (guint k = 0; k < after->len; k++) {
      int next = g_array_index(after, int, k);
      if (graph->came_by[next] >= 0 || graph->suspended[next])
        continue;
      graph->came_by[next] = rule;
      g_array_append_val(graph->queue, next);
    }
  }
}

static bool leads_to(const BtRule *rule, const BtRule *to) {
  for (int i = 0, j = 0; i < rule->n_then && j < to->n_first;) {
    if (rule->then[i] == to->first[j])
      return true;
    if (rule->then[i] < to->first[j])
      i++;
    else
      j++;
  }
  return false;
}

// The rule from which the way that begins with `rule` comes back to its `first`; -1: it does not.
static int circle_end(Graph *graph, int rule) {
  const BtRubric *rubric = graph->rubric;
  memset(graph->reached, 0, (gsize)rubric->n_checkpoints * sizeof *graph->reached);
  for (int i = 0; i < rubric->n_rules; i++)
    graph->came_by[i] = -1;
  g_array_set_size(graph->queue, 0);
  reach(graph, rule);
  for (guint i = 0; i < graph->queue->len; i++) {
    int next = g_array_index(graph->queue, int, i);
    if (leads_to(&rubric->rules[next], &rubric->rules[rule]))
      return next;
    reach(graph, next);
  }
  return -1;
}

static bool sides_share(const BtRule *rule) {
  return leads_to(rule, rule);
}

static void say_circle(BtReader *reader, Graph *graph, int rule, int end) {
  const BtRubric *rubric = graph->rubric;
  g_autoptr(GString) way = g_string_new(NULL);
  for (int r = end; r != rule; r = graph->came_by[r]) {
    g_autofree char *id = bt_quoted(rubric->rules[r].id);
    g_string_prepend(way, way->len ? ", " : "");
    g_string_prepend(way, id);
  }
  bt__fault(&reader->report, bt__at(reader, BT_NAME_RULE, rule)->place,
            "expected rules of which each can be kept", "with %s this rule closes a circle",
            way->str);
}

// Accepts the rule if it closes no circle with those accepted; else says so.
static bool accept_or_say(BtReader *reader, Graph *graph, int rule) {
  if (sides_share(&graph->rubric->rules[rule]))
    return false; // said already
  int end = circle_end(graph, rule);
  if (end >= 0)
    say_circle(reader, graph, rule, end);
  else
    accept(graph, rule);
  return end < 0;
}

static void check_inject(BtReader *reader, Graph *graph, int inject) {
  const BtRubric *rubric = graph->rubric;
  const BtInject *its = &rubric->injects[inject];
  g_autoptr(GArray) accepted = g_array_new(FALSE, FALSE, sizeof(int));
  for (int i = 0; i < its->n_suspends; i++)
    graph->suspended[its->suspends[i]] = true;
  for (int i = 0; i < rubric->n_rules; i++) {
    if (rubric->rules[i].inject == inject && accept_or_say(reader, graph, i))
      g_array_append_val(accepted, i);
  }
  for (guint i = accepted->len; i > 0; i--)
    take_back(graph, g_array_index(accepted, int, i - 1));
  for (int i = 0; i < its->n_suspends; i++)
    graph->suspended[its->suspends[i]] = false;
}

void bt__check_cycles(BtReader *reader) {
  const BtRubric *rubric = reader->rubric;
  g_autoptr(GPtrArray) lists = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  for (int i = 0; i < rubric->n_checkpoints; i++)
    g_ptr_array_add(lists, g_array_new(FALSE, FALSE, sizeof(int)));
  g_autofree bool *suspended = g_new0(bool, (gsize)rubric->n_rules + 1);
  g_autofree bool *reached = g_new0(bool, (gsize)rubric->n_checkpoints + 1);
  g_autofree int *came_by = g_new0(int, (gsize)rubric->n_rules + 1);
  g_autoptr(GArray) queue = g_array_new(FALSE, FALSE, sizeof(int));
  Graph graph = {rubric, (GArray **)lists->pdata, suspended, reached, came_by, queue};
  for (int i = 0; i < rubric->n_rules; i++) {
    if (rubric->rules[i].inject < 0)
      (void)accept_or_say(reader, &graph, i);
  }
  for (int i = 0; i < rubric->n_injects; i++)
    check_inject(reader, &graph, i);
}
