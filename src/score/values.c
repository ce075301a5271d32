// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 10: product and rating. No combination of options changes them.
#include "score/score_parts.h"

static void find_latest(BtScoring *s) {
  s->measured = bt__arena_new(&s->arena, const BtEvent *, s->rubric->n_measures);
  s->rated = bt__arena_new(&s->arena, const BtEvent *, s->rubric->n_ratings);
  for (int i = 0; i < s->n_log; i++) {
    if (s->log[i]->kind == BT_EVENT_MEASURE)
      s->measured[s->log[i]->item] = s->log[i];
    if (s->log[i]->kind == BT_EVENT_RATE)
      s->rated[s->log[i]->item] = s->log[i];
  }
}

static BtValueRow row_of(int item, const BtEvent *event) {
  return (BtValueRow){
      .item = item, .has_value = event != NULL, .value_milli = event ? event->value_milli : 0};
}

// Full up to good, none from poor; where good is the greater, the mirror.
static gint64 measure_given_mp(const BtMeasure *measure, gint64 value_milli) {
  gint64 sign = measure->good_milli < measure->poor_milli ? 1 : -1;
  gint64 span_milli = sign * (measure->poor_milli - measure->good_milli);
  gint64 left_milli = CLAMP(sign * (measure->poor_milli - value_milli), 0, span_milli);
  return bt_round_ratio(measure->points_mp, left_milli, MAX(span_milli, 1));
}

static gint64 rating_given_mp(const BtRating *rating, gint64 value_milli) {
  gint64 span_milli = MAX((rating->n - 1) * G_GINT64_CONSTANT(1000), 1);
  return bt_round_ratio(rating->points_mp, CLAMP(value_milli - 1000, 0, span_milli), span_milli);
}

bool bt__measure_failed(const BtMeasure *measure, const BtValueRow *row) {
  if (!measure->has_fail || !row->has_value)
    return false;
  return measure->good_milli < measure->poor_milli ? row->value_milli > measure->fail_milli
                                                   : row->value_milli < measure->fail_milli;
}

static void score_product(BtScoring *s) {
  s->has_all_measures = true;
  for (int i = 0; i < s->rubric->n_measures; i++) {
    const BtMeasure *measure = &s->rubric->measures[i];
    BtValueRow row = row_of(i, s->measured[i]);
    if (row.has_value)
      row.given_mp = measure_given_mp(measure, row.value_milli);
    s->has_all_measures &= row.has_value;
    s->measure_failed |= bt__measure_failed(measure, &row);
    s->product.given_mp += row.given_mp;
    s->product.possible_mp += measure->points_mp;
    g_array_append_val(s->ledger->product, row);
  }
  s->product.assessed =
      s->has_all_measures && s->product.possible_mp > 0 && !s->component_unseen[BT_PRODUCT];
}

static void score_rating(BtScoring *s) {
  s->has_all_ratings = true;
  for (int i = 0; i < s->rubric->n_ratings; i++) {
    const BtRating *rating = &s->rubric->ratings[i];
    BtValueRow row = row_of(i, s->rated[i]);
    if (row.has_value)
      row.given_mp = rating_given_mp(rating, row.value_milli);
    s->has_all_ratings &= row.has_value;
    s->rating.given_mp += row.given_mp;
    s->rating.possible_mp += rating->points_mp;
    g_array_append_val(s->ledger->rating, row);
  }
  s->rating.assessed =
      s->has_all_ratings && s->rating.possible_mp > 0 && !s->component_unseen[BT_RATING];
}

void bt__score_values(BtScoring *s) {
  find_latest(s);
  score_product(s);
  score_rating(s);
}
