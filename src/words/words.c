// SPDX-License-Identifier: GPL-3.0-or-later
#include "words/words.h"

#include <stdarg.h>

#include <benchtally/words.h>

const BtEvent *bt__event_of(const BtObservation *observation, int seq) {
  const GArray *events = observation->events;
  guint low = 0, high = events->len;
  while (low < high) {
    guint middle = low + (high - low) / 2;
    const BtEvent *event = &g_array_index(events, BtEvent, middle);
    if (event->seq == seq)
      return event;
    if (event->seq < seq)
      low = middle + 1;
    else
      high = middle;
  }
  return NULL;
}

gint64 bt__event_at_ms(const BtObservation *observation, int seq) {
  const BtEvent *event = bt__event_of(observation, seq);
  return event ? event->at_ms : -1;
}

bool bt__ints_hold(const GArray *ints, int value) {
  for (guint i = 0; i < ints->len; i++) {
    if (g_array_index(ints, int, i) == value)
      return true;
  }
  return false;
}

void bt__join(GString *out, const char *separator, const char *text) {
  if (out->len > 0)
    g_string_append(out, separator);
  g_string_append(out, text);
}

void bt__join_printf(GString *out, const char *separator, const char *form, ...) {
  if (out->len > 0)
    g_string_append(out, separator);
  va_list values;
  va_start(values, form);
  g_string_append_vprintf(out, form, values);
  va_end(values);
}

// Numbers ---------------------------------------------------------------------

gint64 bt__percent_milli_cut(gint64 given, gint64 possible) {
  if (possible <= 0)
    return -1;
  return given * 1000 / possible *
         100; // points are at most ten digits, so this stays far from 2^63
}

char *bt__percent_text(gint64 given, gint64 possible) {
  gint64 percent_milli = bt__percent_milli_cut(given, possible);
  return percent_milli < 0 ? g_strdup("-") : bt_decimal_format_cut(percent_milli, 1);
}

char *bt__value_text(gint64 milli, const char *unit) {
  g_autofree char *number = bt_decimal_format(milli);
  return unit ? g_strconcat(number, " ", unit, NULL) : g_steal_pointer(&number);
}

// Times -----------------------------------------------------------------------

char *bt__time_text(const BtObservation *observation, int seq) {
  gint64 at_ms = bt__event_at_ms(observation, seq);
  return at_ms < 0 ? g_strdup("?") : bt_clock_format(at_ms);
}

char *bt__times_text(const BtObservation *observation, const GArray *seqs) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < seqs->len; i++) {
    g_autofree char *at = bt__time_text(observation, g_array_index(seqs, int, i));
    bt__join(text, ", ", at);
  }
  return g_string_free(text, FALSE);
}

// Details ---------------------------------------------------------------------

const BtDetailValue *bt__event_detail(const BtEvent *event, int detail) {
  for (int i = 0; i < event->n_details; i++) {
    if (event->details[i].detail == detail)
      return &event->details[i];
  }
  return NULL;
}

bool bt__allowed_holds(const BtAllowed *allowed, const BtDetailValue *value) {
  for (int i = 0; i < allowed->n_ranges; i++) {
    if (bt_range_holds(&allowed->ranges[i], value->milli))
      return true;
  }
  for (int i = 0; i < allowed->n_words; i++) {
    if (allowed->words[i] == value->word)
      return true;
  }
  return false;
}

static char *range_text(const BtRange *range) {
  g_autofree char *lo = bt_decimal_format(range->lo_milli);
  g_autofree char *hi = bt_decimal_format(range->hi_milli);
  if (!range->has_hi)
    return g_strconcat(lo, " or more", NULL);
  if (!range->has_lo)
    return g_strconcat("up to ", hi, NULL);
  if (range->lo_milli == range->hi_milli)
    return g_steal_pointer(&lo);
  return g_strconcat(lo, " to ", hi, NULL);
}

char *bt__allowed_text(const BtAction *action, const BtAllowed *allowed) {
  const BtDetail *detail = &action->details[allowed->detail];
  g_autoptr(GString) values = g_string_new(NULL);
  for (int i = 0; i < allowed->n_ranges; i++) {
    g_autofree char *range = range_text(&allowed->ranges[i]);
    bt__join(values, " or ", range);
  }
  for (int i = 0; i < allowed->n_words; i++)
    bt__join(values, " or ", detail->words[allowed->words[i]]);
  return g_strdup_printf("%s %s%s%s", detail->title, values->str, detail->unit ? " " : "",
                         detail->unit ? detail->unit : "");
}

char *bt__detail_text(const BtAction *action, const BtDetailValue *value) {
  const BtDetail *detail = &action->details[value->detail];
  if (detail->kind == BT_DETAIL_WORD)
    return g_strdup_printf("%s %s", detail->title, value->text);
  g_autofree char *number = bt__value_text(value->milli, detail->unit);
  return g_strdup_printf("%s %s", detail->title, number);
}

// Events ----------------------------------------------------------------------

const char *bt__component_title(BtComponent component) {
  static const char *const titles[BT_COMPONENTS] = {"Steps",     "Order",   "Time",
                                                    "Technique", "Product", "Rating"};
  return titles[component];
}

static char *work_text(const BtRubric *rubric, const BtEvent *event) {
  const BtAction *action = &rubric->actions[event->action];
  GString *text = g_string_new(action->title);
  if (event->site >= 0)
    bt__join(text, ", ", rubric->sites[event->site].title);
  for (int i = 0; i < event->n_details; i++) {
    g_autofree char *detail = bt__detail_text(action, &event->details[i]);
    bt__join(text, ", ", detail);
  }
  return g_string_free(text, FALSE);
}

static char *measure_text(const BtMeasure *measure, gint64 value_milli) {
  g_autofree char *value = bt__value_text(value_milli, measure->unit);
  return g_strdup_printf("measure: %s %s", measure->title, value);
}

static char *rating_text(const BtRating *rating, gint64 value_milli) {
  g_autofree char *value = bt_decimal_format(value_milli);
  return g_strdup_printf("rating: %s %s of %d", rating->title, value, rating->n);
}

static char *unseen_text(const BtRubric *rubric, const BtEvent *event) {
  if (event->component >= 0)
    return g_strdup_printf("not seen: the %s", bt_component_name((BtComponent)event->component));
  return g_strdup_printf("not seen: %s", rubric->checkpoints[event->item].title);
}

char *bt__event_text(const BtRubric *rubric, const BtEvent *event) {
  switch (event->kind) {
  case BT_EVENT_WORK:
    return work_text(rubric, event);
  case BT_EVENT_INJECT:
    return g_strdup_printf("complication: %s", rubric->injects[event->item].title);
  case BT_EVENT_ERROR:
    return g_strdup_printf("error: %s", rubric->errors[event->item].title);
  case BT_EVENT_RATE:
    return rating_text(&rubric->ratings[event->item], event->value_milli);
  case BT_EVENT_MEASURE:
    return measure_text(&rubric->measures[event->item], event->value_milli);
  case BT_EVENT_UNSEEN:
    return unseen_text(rubric, event);
  case BT_EVENT_START:
  case BT_EVENT_FINISH:
  case BT_EVENT_PAUSE:
  case BT_EVENT_RESUME:
  case BT_EVENT_NOTE:
    break;
  }
  return g_strdup(bt_event_kind_name(event->kind));
}

char *bt_event_words(const BtRubric *rubric, const BtEvent *event) {
  g_autofree char *what = bt__event_text(rubric, event);
  GString *words = g_string_new(what);
  if (event->kind != BT_EVENT_WORK && event->site >= 0)
    bt__join(words, ", ", rubric->sites[event->site].title);
  if (event->redo > 0)
    bt__join_printf(words, ", ", "redo of #%d", event->redo);
  else if (event->redo == BT_REDO_YES)
    bt__join(words, ", ", "redo");
  if (event->note && *event->note)
    bt__join(words, event->kind == BT_EVENT_NOTE ? ": " : ", ", event->note);
  return g_string_free(words, FALSE);
}
