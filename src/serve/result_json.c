// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/result_json.h"

#include <benchtally/workbook.h>

json_t *bt__total_json(gint64 total_percent_milli) {
  return total_percent_milli < 0 ? json_null() : json_integer(total_percent_milli);
}

static json_t *events_json(const GArray *events) {
  json_t *list = json_array();
  for (guint i = 0; i < events->len; i++)
    json_array_append_new(list, json_integer(g_array_index(events, int, i)));
  return list;
}

// Those that say more than the total does.
static json_t *reasons_json(const BtRubric *rubric, const BtObservation *observation,
                            const BtLedger *ledger) {
  json_t *list = json_array();
  for (guint i = 0; i < ledger->reasons->len; i++) {
    const BtReason *reason = &g_array_index(ledger->reasons, BtReason, i);
    g_autofree char *words = bt_reason_words(rubric, observation, ledger, i);
    if (words)
      json_array_append_new(
          list, json_pack("{ssso}", "words", words, "events", events_json(reason->events)));
  }
  return list;
}

static json_t *line_json(const BtLedgerLine *line) {
  json_t *events = json_array();
  if (line->first_event > 0)
    json_array_append_new(events, json_integer(line->first_event));
  return json_pack("{sssssssIsIsbsbsbsssssssIso}", "kind", bt_component_name(line->component), "id",
                   line->id, "title", line->what, "given_mp", (json_int_t)line->given_mp,
                   "possible_mp", (json_int_t)line->possible_mp, "counts", line->counts, "lost",
                   line->lost, "critical", line->critical, "expected",
                   line->expected ? line->expected : "", "happened",
                   line->happened ? line->happened : "", "words", line->why ? line->why : "",
                   "at_ms", (json_int_t)line->at_ms, "events", events);
}

static json_t *ledger_json(const BtRubric *rubric, const BtObservation *observation,
                           const BtLedger *ledger) {
  g_autoptr(GPtrArray) lines = bt_ledger_lines(rubric, observation, ledger);
  json_t *list = json_array();
  for (guint i = 0; i < lines->len; i++)
    json_array_append_new(list, line_json(lines->pdata[i]));
  return list;
}

static void add_components(json_t *result, const BtLedger *ledger) {
  for (int i = 0; i < BT_COMPONENTS; i++) {
    const BtComponentScore *score = &ledger->component[i];
    json_object_set_new(result, bt_component_name((BtComponent)i),
                        json_pack("{sbsIsI}", "assessed", score->assessed, "given_mp",
                                  (json_int_t)score->given_mp, "possible_mp",
                                  (json_int_t)score->possible_mp));
  }
}

json_t *bt__result_json(BtBook *book, gint64 observation_id, GError **error) {
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, observation_id, &rubric, error);
  if (!observation)
    return NULL;
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  g_autofree char *words = bt_outcome_sentence(rubric, observation, ledger);
  json_t *result =
      json_pack("{sssssosIsoso}", "outcome", bt_outcome_name(ledger->outcome), "words", words,
                "total", bt__total_json(ledger->total_percent_milli), "total_ms",
                (json_int_t)ledger->total_ms, "reasons", reasons_json(rubric, observation, ledger),
                "ledger", ledger_json(rubric, observation, ledger));
  add_components(result, ledger);
  return result;
}
