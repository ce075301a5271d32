// SPDX-License-Identifier: GPL-3.0-or-later
//
// The ledger in words: its rows, and why a part of it is not assessed.
#include "words/ledger_parts.h"
#include "words/words.h"

BtLedgerLine *bt__ledger_line_new(BtComponent component, const char *id, const char *what) {
  BtLedgerLine *line = g_new0(BtLedgerLine, 1);
  line->component = component;
  line->id = g_strdup(id);
  line->what = g_strdup(what);
  return line;
}

void bt_ledger_line_free(BtLedgerLine *line) {
  if (!line)
    return;
  g_free(line->id);
  g_free(line->what);
  g_free(line->expected);
  g_free(line->happened);
  g_free(line->why);
  g_free(line);
}

static void free_line(gpointer line) {
  bt_ledger_line_free(line);
}

GPtrArray *bt_ledger_lines(const BtRubric *rubric, const BtObservation *observation,
                           const BtLedger *ledger) {
  const BtScored scored = {rubric, observation, ledger};
  GPtrArray *lines = g_ptr_array_new_with_free_func(free_line);
  bt__step_lines(&scored, lines);
  bt__order_lines(&scored, lines);
  bt__time_lines(&scored, lines);
  bt__technique_lines(&scored, lines);
  bt__product_lines(&scored, lines);
  bt__rating_lines(&scored, lines);
  return lines;
}

// Why not assessed ------------------------------------------------------------

static bool component_unseen(const BtScored *scored, BtComponent component) {
  const GArray *unseen = scored->ledger->list[BT_LIST_UNSEEN];
  for (guint i = 0; i < unseen->len; i++) {
    const BtEvent *event = bt__event_of(scored->observation, g_array_index(unseen, int, i));
    if (event && event->component == (int)component)
      return true;
  }
  return false;
}

static bool has_start(const BtObservation *observation) {
  for (guint i = 0; i < observation->events->len; i++) {
    if (g_array_index(observation->events, BtEvent, i).kind == BT_EVENT_START)
      return true;
  }
  return false;
}

static const char *why_no_time(const BtScored *scored) {
  const BtLedger *ledger = scored->ledger;
  if (!has_start(scored->observation))
    return "no start was logged";
  if (!ledger->finished)
    return "no finish was logged";
  if (ledger->list[BT_LIST_BEFORE_START]->len > 0)
    return "work was logged before the start";
  if (ledger->list[BT_LIST_WHILE_PAUSED]->len > 0)
    return "work was logged while the clock was paused";
  return "no time points could be earned";
}

// "no value for Gap, Step": the measures or ratings without one.
static char *missing_values(const GArray *rows, const char *(*title)(const BtRubric *, int),
                            const BtRubric *rubric) {
  g_autoptr(GString) names = g_string_new(NULL);
  for (guint i = 0; i < rows->len; i++) {
    const BtValueRow *row = &g_array_index(rows, BtValueRow, i);
    if (!row->has_value)
      bt__join_printf(names, ", ", "\"%s\"", title(rubric, row->item));
  }
  return names->len > 0 ? g_strdup_printf("no value for %s", names->str)
                        : g_strdup("the rubric asks for no value");
}

static const char *measure_title(const BtRubric *rubric, int item) {
  return rubric->measures[item].title;
}

static const char *rating_title(const BtRubric *rubric, int item) {
  return rubric->ratings[item].title;
}

char *bt__why_not_assessed(const BtScored *scored, BtComponent component) {
  const BtLedger *ledger = scored->ledger;
  if (ledger->component[component].assessed)
    return NULL;
  if (component_unseen(scored, component))
    return g_strdup("the assessor could not see it");
  switch (component) {
  case BT_TIME:
    return g_strdup(why_no_time(scored));
  case BT_PRODUCT:
    return missing_values(ledger->product, measure_title, scored->rubric);
  case BT_RATING:
    return missing_values(ledger->rating, rating_title, scored->rubric);
  case BT_TECHNIQUE:
    return g_strdup(scored->rubric->score.technique_points_mp > 0
                        ? "no step could earn points"
                        : "the rubric gives no points for it");
  case BT_STEPS:
  case BT_ORDER:
  case BT_COMPONENTS:
    break;
  }
  return g_strdup("no points could be earned");
}
