// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/model.h>

static const char *const outcome_names[] = {"pass", "undecided", "not_yet"};
static const char *const outcome_words[] = {"Pass", "Undecided", "Not yet"};
static const char *const reason_names[] = {
    "critical_error",        "critical_rule",   "measure_fail", "not_finished",   "not_assessed",
    "nothing_possible",      "critical_unseen", "rule_unseen",  "nothing_counts", "critical_short",
    "critical_not_verified", "below_pass",      "below_floor"};
static const char *const why_out_names[] = {NULL, "not_taken", "not_added", "dropped", "unseen"};
static const char *const list_names[BT_LISTS] = {
    "unplanned",    "extra",        "overtaken",     "ignored",         "after_end",
    "before_start", "while_paused", "taken_as_redo", "redo_of_nothing", "unseen"};

const char *bt_outcome_name(BtOutcome outcome) {
  return outcome_names[outcome];
}

int bt_outcome_from_name(const char *name) {
  return bt_word_index(name, outcome_names, G_N_ELEMENTS(outcome_names));
}

const char *bt_outcome_words(BtOutcome outcome) {
  return outcome_words[outcome];
}

const char *bt_reason_name(BtReasonCode code) {
  return reason_names[code];
}

const char *bt_why_out_name(BtWhyOut why) {
  return why_out_names[why];
}

const char *bt_list_name(BtList list) {
  return list_names[list];
}

static GArray *rows_new(gsize size, GDestroyNotify clear) {
  GArray *rows = g_array_new(FALSE, TRUE, (guint)size);
  if (clear)
    g_array_set_clear_func(rows, clear);
  return rows;
}

static void clear_reason(gpointer row) {
  g_array_unref(((BtReason *)row)->events);
}

static void clear_step(gpointer row) {
  BtStepRow *step = row;
  g_array_unref(step->bound);
  g_array_unref(step->redone);
  g_array_unref(step->conforming);
  g_array_unref(step->not_verified);
  g_array_unref(step->extra);
}

static void clear_order(gpointer row) {
  g_array_unref(((BtOrderRow *)row)->shorts);
}

static void clear_technique(gpointer row) {
  g_array_unref(((BtTechniqueRow *)row)->events);
}

BtLedger *bt_ledger_new(const BtRubric *rubric) {
  BtLedger *ledger = g_new0(BtLedger, 1);
  ledger->total_percent_milli = -1;
  ledger->reasons = rows_new(sizeof(BtReason), clear_reason);
  ledger->steps = rows_new(sizeof(BtStepRow), clear_step);
  ledger->order = rows_new(sizeof(BtOrderRow), clear_order);
  ledger->displaced = rows_new(sizeof(BtDisplaced), NULL);
  ledger->charged_ms = g_new0(gint64, (gsize)rubric->n_phases);
  ledger->quiet = rows_new(sizeof(BtQuiet), NULL);
  ledger->time = rows_new(sizeof(BtTimeRow), NULL);
  ledger->technique = rows_new(sizeof(BtTechniqueRow), clear_technique);
  ledger->product = rows_new(sizeof(BtValueRow), NULL);
  ledger->rating = rows_new(sizeof(BtValueRow), NULL);
  ledger->option_taken = g_new0(int, (gsize)rubric->n_choices);
  ledger->injects = rows_new(sizeof(BtInjectRow), NULL);
  for (int i = 0; i < BT_LISTS; i++)
    ledger->list[i] = rows_new(sizeof(int), NULL);
  return ledger;
}

void bt_ledger_free(BtLedger *ledger) {
  if (!ledger)
    return;
  GArray *arrays[] = {ledger->reasons, ledger->steps,  ledger->order,     ledger->displaced,
                      ledger->quiet,   ledger->time,   ledger->technique, ledger->product,
                      ledger->rating,  ledger->injects};
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    g_array_unref(arrays[i]);
  for (int i = 0; i < BT_LISTS; i++)
    g_array_unref(ledger->list[i]);
  g_free(ledger->charged_ms);
  g_free(ledger->option_taken);
  g_free(ledger->total);
  g_free(ledger);
}
