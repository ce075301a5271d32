// SPDX-License-Identifier: GPL-3.0-or-later
#include "score/score_parts.h"

__extension__ typedef unsigned __int128 Wide;

#define ROOM_BYTES ((gsize)16 * 1024) // enough for a session of fifty events

gint64 bt__round_product(gint64 a, gint64 b, gint64 c, gint64 d, gint64 e) {
  Wide num = (Wide)a * (Wide)b * (Wide)c, den = (Wide)d * (Wide)e;
  return (gint64)((2 * num + den) / (2 * den));
}

GArray *bt__events_new(BtScoring *s, int n) {
  if (n == 0)
    return g_array_ref(s->no_events);
  return g_array_sized_new(FALSE, FALSE, sizeof(int), (guint)n);
}

void bt__list(BtScoring *s, BtList list, const BtEvent *event) {
  g_array_append_val(s->ledger->list[list], event->seq);
}

void bt__tally_init(BtScoring *s, BtTally *tally) {
  const BtRubric *rubric = s->rubric;
  *tally = (BtTally){.phase_given_mp = bt__arena_new(&s->arena, gint64, rubric->n_phases),
                     .phase_possible_mp = bt__arena_new(&s->arena, gint64, rubric->n_phases),
                     .judgements = bt__arena_new(&s->arena, BtJudgement, rubric->n_rules),
                     .charged_ms = bt__arena_new(&s->arena, gint64, rubric->n_phases),
                     .found = bt__arena_new(&s->arena, int, rubric->n_errors),
                     .kinds = bt__arena_new(&s->arena, int, rubric->n_errors + 1)};
  mpq_init(tally->total);
}

void bt__tally_clear(BtTally *tally) {
  mpq_clear(tally->total);
}

// "num/den", also for whole numbers.
static char *format_fraction(mpq_srcptr fraction) {
  gsize size = mpz_sizeinbase(mpq_numref(fraction), 10) + mpz_sizeinbase(mpq_denref(fraction), 10) +
               sizeof "/";
  char *text = g_malloc(size);
  gmp_snprintf(text, size, "%Zd/%Zd", mpq_numref(fraction), mpq_denref(fraction));
  return text;
}

static void fill_ledger(BtScoring *s, const BtBinding *binding, const BtTally *tally) {
  BtLedger *ledger = s->ledger;
  for (int c = 0; c < BT_COMPONENTS; c++)
    ledger->component[c] = tally->component[c];
  for (int c = 0; c < s->rubric->n_choices; c++)
    ledger->option_taken[c] = binding->options[c];
  bt__steps_rows(s, binding);
  bt__order_rows(s, binding, tally);
  bt__order_figures(s, binding, tally);
  bt__time_rows(s, tally);
  bt__technique_rows(s, binding, tally);
  ledger->outcome = tally->outcome;
  ledger->total = tally->has_total ? format_fraction(tally->total) : NULL;
  ledger->total_percent_milli = tally->percent_milli;
  bt__outcome_reasons(s, binding, tally);
}

BtLedger *bt_score(const BtRubric *rubric, const BtObservation *observation) {
  BtScoring s = {.rubric = rubric,
                 .ledger = bt_ledger_new(rubric),
                 .no_events = g_array_new(FALSE, FALSE, sizeof(int)),
                 .no_shorts = g_array_new(FALSE, FALSE, sizeof(BtShort))};
  max_align_t room[ROOM_BYTES / sizeof(max_align_t)];
  bt__arena_begin(&s.arena, room, sizeof room);
  bt__read_log(&s, observation);
  bt__match_work(&s);
  bt__score_values(&s);
  const BtBinding *binding;
  BtTally *tally;
  bt__take_choices(&s, &binding, &tally);
  fill_ledger(&s, binding, tally);
  bt__tally_clear(tally);
  g_array_unref(s.no_events);
  g_array_unref(s.no_shorts);
  bt__arena_clear(&s.arena);
  return s.ledger;
}
