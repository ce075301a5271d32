// SPDX-License-Identifier: GPL-3.0-or-later
//
// Two closed observations of one session beside each other.
#include <benchtally/study_agreement.h>
#include <string.h>

#include "serve/access.h"
#include "serve/entry_json.h"
#include "serve/route.h"

#define TOLERANCE_MS_DEFAULT 10000

// One of the two, as the book has it.
typedef struct {
  BtObservation *observation;
  const BtRubric *rubric; // borrowed from the book
  BtLedger *ledger;
  GArray *timed; // of BtTimedEvent
  GArray *seqs;  // of int, beside it
} Side;

static void side_clear(Side *side) {
  bt_observation_free(side->observation);
  bt_ledger_free(side->ledger);
  g_clear_pointer(&side->timed, g_array_unref);
  g_clear_pointer(&side->seqs, g_array_unref);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Side, side_clear)

static bool read_side(BtRequest *request, gint64 id, Side *side, GError **error) {
  BtBook *book = bt__request_book(request, error);
  side->observation = book ? bt_book_load(book, id, &side->rubric, error) : NULL;
  if (!side->observation)
    return false;
  side->ledger = bt_score(side->rubric, side->observation);
  side->timed = bt_timed_events(side->rubric, side->observation, &side->seqs);
  return true;
}

// Pairs -----------------------------------------------------------------------

static json_t *event_json(const Side *side, int seq) {
  for (guint i = 0; i < side->observation->events->len; i++) {
    const BtEvent *event = &g_array_index(side->observation->events, BtEvent, i);
    if (event->seq == seq)
      return bt__event_json(side->rubric, event);
  }
  return json_null();
}

static gint64 timed_ms(const Side *side, gsize i) {
  return g_array_index(side->timed, BtTimedEvent, i).at_ms;
}

static json_t *pair_json(const Side *a, const Side *b, const BtEventPair *pair) {
  return json_pack("{sososI}", "a", event_json(a, g_array_index(a->seqs, int, pair->first)), "b",
                   event_json(b, g_array_index(b->seqs, int, pair->second)), "apart_ms",
                   (json_int_t)(timed_ms(b, pair->second) - timed_ms(a, pair->first)));
}

// The entries of a side that have no fellow.
static void add_alone(json_t *pairs, const Side *side, const bool *paired, bool is_a) {
  for (guint i = 0; i < side->timed->len; i++) {
    if (paired[i])
      continue;
    json_t *event = event_json(side, g_array_index(side->seqs, int, i));
    json_array_append_new(pairs, json_pack("{sososo}", "a", is_a ? event : json_null(), "b",
                                           is_a ? json_null() : event, "apart_ms", json_null()));
  }
}

static json_t *pairs_json(const Side *a, const Side *b, gint64 tolerance_ms) {
  g_autoptr(BtEventMatch) match =
      bt_match_events((const BtTimedEvent *)a->timed->data, a->timed->len,
                      (const BtTimedEvent *)b->timed->data, b->timed->len, tolerance_ms);
  g_autofree bool *paired_a = g_new0(bool, a->timed->len + 1);
  g_autofree bool *paired_b = g_new0(bool, b->timed->len + 1);
  json_t *pairs = json_array();
  for (guint i = 0; i < match->pairs->len; i++) {
    const BtEventPair *pair = &g_array_index(match->pairs, BtEventPair, i);
    paired_a[pair->first] = paired_b[pair->second] = true;
    json_array_append_new(pairs, pair_json(a, b, pair));
  }
  add_alone(pairs, a, paired_a, true);
  add_alone(pairs, b, paired_b, false);
  return pairs;
}

// Checkpoints -----------------------------------------------------------------

static const char *state_of(const Side *side, guint i) {
  const BtStepRow *row = &g_array_index(side->ledger->steps, BtStepRow, i);
  int least = side->rubric->checkpoints[row->checkpoint].least;
  if (row->why_out != BT_IN_SCORE)
    return bt_why_out_name(row->why_out);
  if ((int)row->conforming->len >= least)
    return "right";
  if ((int)row->bound->len >= least)
    return "done";
  return row->bound->len > 0 ? "partly" : "not done";
}

// Those on which the two differ.
static json_t *states_json(const Side *a, const Side *b) {
  json_t *states = json_array();
  for (guint i = 0; i < a->ledger->steps->len; i++) {
    const char *of_a = state_of(a, i), *of_b = state_of(b, i);
    const BtCheckpoint *checkpoint = &a->rubric->checkpoints[i];
    if (strcmp(of_a, of_b) != 0)
      json_array_append_new(states, json_pack("{ssssssss}", "checkpoint", checkpoint->id, "title",
                                              checkpoint->title, "a", of_a, "b", of_b));
  }
  return states;
}

static json_t *words_json(const json_t *pairs, const json_t *states) {
  gsize both = 0, i = 0;
  json_t *pair = NULL;
  json_array_foreach((json_t *)pairs, i, pair) {
    both += json_is_integer(json_object_get(pair, "apart_ms"));
  }
  g_autofree char *all = bt_count_of((gint64)json_array_size(pairs), "thing", NULL);
  g_autofree char *steps = bt_count_of((gint64)json_array_size(states), "checkpoint", NULL);
  g_autofree char *seen = g_strdup_printf(
      "Of %s that either logged, both logged %d at about the same time.", all, (int)both);
  g_autofree char *differ = json_array_size(states) ? g_strdup_printf("They differ on %s.", steps)
                                                    : g_strdup("They agree on every checkpoint.");
  return json_pack("[ss]", seen, differ);
}

// The route -------------------------------------------------------------------

static BtSessionRow *asked_for(BtRequest *request, const char *name, BtAnswer **refusal) {
  return bt__visible_observation(request, bt__param_int(request, name, 0), refusal);
}

static BtAnswer *check_two(const BtSessionRow *a, const BtSessionRow *b) {
  if (strcmp(a->session, b->session) != 0)
    return bt__answer_refusal(422, "wrong", "the two are not of one session");
  if (!a->closed || !b->closed)
    return bt__answer_refusal(409, "open", "both observations must be closed first");
  return NULL;
}

BtAnswer *bt__handle_compare(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  BtAnswer *refusal = NULL;
  g_autoptr(BtSessionRow) row_a = asked_for(request, "a", &refusal);
  g_autoptr(BtSessionRow) row_b = row_a ? asked_for(request, "b", &refusal) : NULL;
  if (row_b)
    refusal = check_two(row_a, row_b);
  if (refusal)
    return refusal;
  g_auto(Side) a = {0};
  g_auto(Side) b = {0};
  if (!bt__request_note(request, "compare", row_a->trainee, row_a->session, &error) ||
      !read_side(request, row_a->id, &a, &error) || !read_side(request, row_b->id, &b, &error))
    return bt__answer_error(g_steal_pointer(&error));
  json_t *pairs = pairs_json(&a, &b, bt__param_int(request, "tolerance_ms", TOLERANCE_MS_DEFAULT));
  json_t *states = states_json(&a, &b);
  json_t *words = words_json(pairs, states);
  return bt__answer_json(200,
                         json_pack("{sososo}", "pairs", pairs, "states", states, "words", words));
}
