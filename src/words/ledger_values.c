// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rows of technique, product and rating in words.
#include "words/ledger_parts.h"
#include "words/words.h"

// Technique -------------------------------------------------------------------

// The first row says what there was to lose: technique is earned on work done.
static BtLedgerLine *at_stake_line(const BtScored *scored) {
  const BtLedger *ledger = scored->ledger;
  BtLedgerLine *line = bt__ledger_line_new(BT_TECHNIQUE, "technique", "Points at stake");
  g_autofree char *budget = bt_decimal_format(scored->rubric->score.technique_points_mp);
  line->expected = g_strdup_printf("%s, in proportion to work done", budget);
  g_autofree char *given = bt_decimal_format(ledger->component[BT_STEPS].given_mp);
  g_autofree char *possible = bt_decimal_format(ledger->component[BT_STEPS].possible_mp);
  line->happened = g_strdup_printf("%s of %s step points", given, possible);
  g_autofree char *unassessed = bt__why_not_assessed(scored, BT_TECHNIQUE);
  line->why = unassessed ? g_strdup_printf("Technique is not assessed: %s.", unassessed)
                         : g_strdup("Errors found are taken from these points.");
  line->counts = unassessed == NULL;
  line->given_mp = ledger->at_stake_mp;
  line->possible_mp = scored->rubric->score.technique_points_mp;
  line->lost = line->counts && line->given_mp < line->possible_mp;
  line->at_ms = -1;
  return line;
}

static char *kind_expected(const BtErrorKind *kind) {
  g_autofree char *lose = bt_decimal_format(kind->lose_mp);
  if (kind->cap_mp < 0)
    return g_strdup_printf("none; %s, %s lost each", bt_severity_name(kind->severity), lose);
  g_autofree char *cap = bt_decimal_format(kind->cap_mp);
  return g_strdup_printf("none; %s, %s lost each, at most %s", bt_severity_name(kind->severity),
                         lose, cap);
}

static char *kind_why(const BtErrorKind *kind, const BtTechniqueRow *row) {
  if (row->count == 0)
    return g_strdup("Not found.");
  GString *text = g_string_new("Found once.");
  if (row->count > 1)
    g_string_printf(text, "Found %d times.", row->count);
  if (row->lost_mp < row->count * kind->lose_mp)
    bt__join(text, " ", "The most it can cost was reached.");
  if (kind->severity == BT_SEVERE_CRITICAL)
    bt__join(text, " ", "A critical error: not yet, whatever the points.");
  return g_string_free(text, FALSE);
}

static BtLedgerLine *technique_line(const BtScored *scored, const BtTechniqueRow *row) {
  const BtErrorKind *kind = &scored->rubric->errors[row->error];
  BtLedgerLine *line = bt__ledger_line_new(BT_TECHNIQUE, kind->id, kind->title);
  line->expected = kind_expected(kind);
  line->happened = row->events->len > 0 ? bt__times_text(scored->observation, row->events)
                                        : g_strdup("not found");
  line->why = kind_why(kind, row);
  line->counts = scored->ledger->component[BT_TECHNIQUE].assessed;
  line->given_mp = -row->lost_mp;
  line->critical = row->count > 0 && kind->severity == BT_SEVERE_CRITICAL;
  line->lost = row->count > 0;
  line->first_event = row->events->len > 0 ? g_array_index(row->events, int, 0) : 0;
  line->at_ms = line->first_event ? bt__event_at_ms(scored->observation, line->first_event) : -1;
  return line;
}

void bt__technique_lines(const BtScored *scored, GPtrArray *lines) {
  const GArray *technique = scored->ledger->technique;
  if (scored->rubric->score.technique_points_mp > 0)
    g_ptr_array_add(lines, at_stake_line(scored));
  for (guint i = 0; i < technique->len; i++)
    g_ptr_array_add(lines, technique_line(scored, &g_array_index(technique, BtTechniqueRow, i)));
}

// Product ---------------------------------------------------------------------

const BtEvent *bt__value_event(const BtObservation *observation, BtEventKind kind, int item) {
  const BtEvent *last = NULL;
  for (guint i = 0; i < observation->events->len; i++) {
    const BtEvent *event = &g_array_index(observation->events, BtEvent, i);
    if (event->kind == kind && event->item == item && (!last || event->at_ms >= last->at_ms))
      last = event;
  }
  return last;
}

static void place_value(const BtScored *scored, BtLedgerLine *line, BtEventKind kind, int item) {
  const BtEvent *event = bt__value_event(scored->observation, kind, item);
  line->first_event = event ? event->seq : 0;
  line->at_ms = event ? event->at_ms : -1;
}

static bool small_is_good(const BtMeasure *measure) {
  return measure->good_milli < measure->poor_milli;
}

static char *measure_expected(const BtMeasure *measure) {
  g_autofree char *good = bt__value_text(measure->good_milli, measure->unit);
  g_autofree char *poor = bt__value_text(measure->poor_milli, measure->unit);
  GString *text = g_string_new(NULL);
  g_string_printf(text,
                  small_is_good(measure) ? "%s or less; no points from %s"
                                         : "%s or more; no points at %s or less",
                  good, poor);
  if (measure->has_fail) {
    g_autofree char *fail = bt__value_text(measure->fail_milli, measure->unit);
    bt__join_printf(text, "; ", "critical %s %s", small_is_good(measure) ? "over" : "under", fail);
  }
  return g_string_free(text, FALSE);
}

static bool beyond(const BtMeasure *measure, gint64 value_milli, gint64 line_milli) {
  return small_is_good(measure) ? value_milli > line_milli : value_milli < line_milli;
}

static char *measure_why(const BtMeasure *measure, const BtValueRow *row) {
  if (!row->has_value)
    return g_strdup("Not measured, so the product is not assessed.");
  if (measure->has_fail && beyond(measure, row->value_milli, measure->fail_milli))
    return g_strdup("Beyond the critical line: not yet, whatever the points.");
  if (!beyond(measure, row->value_milli, measure->good_milli))
    return g_strdup("Good.");
  if (row->value_milli == measure->poor_milli ||
      beyond(measure, row->value_milli, measure->poor_milli))
    return g_strdup("Too far off for points.");
  return g_strdup("Between good and poor, so part of the points.");
}

static BtLedgerLine *product_line(const BtScored *scored, const BtValueRow *row) {
  const BtMeasure *measure = &scored->rubric->measures[row->item];
  BtLedgerLine *line = bt__ledger_line_new(BT_PRODUCT, measure->id, measure->title);
  line->expected = measure_expected(measure);
  line->happened =
      row->has_value ? bt__value_text(row->value_milli, measure->unit) : g_strdup("not measured");
  line->why = measure_why(measure, row);
  line->counts = scored->ledger->component[BT_PRODUCT].assessed;
  line->given_mp = row->given_mp;
  line->possible_mp = measure->points_mp;
  line->critical =
      row->has_value && measure->has_fail && beyond(measure, row->value_milli, measure->fail_milli);
  line->lost = line->critical || (line->counts && row->given_mp < measure->points_mp);
  place_value(scored, line, BT_EVENT_MEASURE, row->item);
  return line;
}

void bt__product_lines(const BtScored *scored, GPtrArray *lines) {
  const GArray *product = scored->ledger->product;
  for (guint i = 0; i < product->len; i++)
    g_ptr_array_add(lines, product_line(scored, &g_array_index(product, BtValueRow, i)));
}

// Rating ----------------------------------------------------------------------

// "3 of 5: Some wasted movement"
static char *rating_step(const BtRating *rating, int value) {
  const char *anchor = rating->anchors[value - 1];
  return anchor ? g_strdup_printf("%d of %d: %s", value, rating->n, anchor)
                : g_strdup_printf("%d of %d", value, rating->n);
}

static BtLedgerLine *rating_line(const BtScored *scored, const BtValueRow *row) {
  const BtRating *rating = &scored->rubric->ratings[row->item];
  int value = (int)(row->value_milli / 1000);
  BtLedgerLine *line = bt__ledger_line_new(BT_RATING, rating->id, rating->title);
  line->expected = rating_step(rating, rating->n);
  line->happened = row->has_value ? rating_step(rating, value) : g_strdup("not rated");
  if (!row->has_value)
    line->why = g_strdup("Not rated, so the rating is not assessed.");
  else
    line->why = g_strdup(value == rating->n ? "The top of the scale."
                                            : "Points in proportion to the place on the scale.");
  line->counts = scored->ledger->component[BT_RATING].assessed;
  line->given_mp = row->given_mp;
  line->possible_mp = rating->points_mp;
  line->lost = line->counts && row->given_mp < rating->points_mp;
  place_value(scored, line, BT_EVENT_RATE, row->item);
  return line;
}

void bt__rating_lines(const BtScored *scored, GPtrArray *lines) {
  const GArray *rating = scored->ledger->rating;
  for (guint i = 0; i < rating->len; i++)
    g_ptr_array_add(lines, rating_line(scored, &g_array_index(rating, BtValueRow, i)));
}
