// SPDX-License-Identifier: GPL-3.0-or-later
//
// Section 12: a ledger as JSON. Keys sorted, numbers whole, no spaces.
#include <benchtally/score.h>

#include <string.h>

typedef struct {
  GString *out;
  const BtRubric *rubric;
  const BtLedger *ledger;
} Writer;

// Small pieces ----------------------------------------------------------------

// Begins a value: a comma unless it is the first of its list or object.
static void separate(Writer *w) {
  char last = w->out->str[w->out->len - 1];
  if (last != '[' && last != '{' && last != ':')
    g_string_append_c(w->out, ',');
}

static void open_with(Writer *w, char bracket) {
  separate(w);
  g_string_append_c(w->out, bracket);
}

static void close_with(Writer *w, char bracket) {
  g_string_append_c(w->out, bracket);
}

static void put_key(Writer *w, const char *key) {
  separate(w);
  bt_json_append_string(w->out, key);
  g_string_append_c(w->out, ':');
}

static void put_literal(Writer *w, const char *literal) {
  separate(w);
  g_string_append(w->out, literal);
}

static void put_text(Writer *w, const char *text) {
  separate(w);
  if (text) {
    bt_json_append_string(w->out, text);
  } else {
    g_string_append(w->out, "null");
  }
}

static void put_number(Writer *w, gint64 number) {
  separate(w);
  bt_json_append_int(w->out, number);
}

static void key_text(Writer *w, const char *key, const char *text) {
  put_key(w, key);
  put_text(w, text);
}

static void key_number(Writer *w, const char *key, gint64 number) {
  put_key(w, key);
  put_number(w, number);
}

static void key_bool(Writer *w, const char *key, bool value) {
  put_key(w, key);
  put_literal(w, value ? "true" : "false");
}

// A sequence number, or null for 0.
static void key_event(Writer *w, const char *key, int event) {
  put_key(w, key);
  if (event > 0) {
    put_number(w, event);
  } else {
    put_literal(w, "null");
  }
}

static void key_events(Writer *w, const char *key, const GArray *events) {
  put_key(w, key);
  open_with(w, '[');
  for (guint i = 0; i < events->len; i++)
    put_number(w, g_array_index(events, int, i));
  close_with(w, ']');
}

// Calls `put` for every row of `rows`, each in an object.
static void key_rows(Writer *w, const char *key, const GArray *rows,
                     void (*put)(Writer *w, gconstpointer row)) {
  put_key(w, key);
  open_with(w, '[');
  guint size = g_array_get_element_size((GArray *)rows);
  for (guint i = 0; i < rows->len; i++) {
    open_with(w, '{');
    put(w, rows->data + (gsize)i * size);
    close_with(w, '}');
  }
  close_with(w, ']');
}

// Objects whose keys are ids of the rubric ------------------------------------

typedef struct {
  const char *id;
  gint64 number;
} Entry;

static int compare_entries(const void *a, const void *b) {
  return strcmp(((const Entry *)a)->id, ((const Entry *)b)->id);
}

static void key_entries(Writer *w, const char *key, Entry *entries, int n) {
  qsort(entries, (gsize)n, sizeof *entries, compare_entries);
  put_key(w, key);
  open_with(w, '{');
  for (int i = 0; i < n; i++)
    key_number(w, entries[i].id, entries[i].number);
  close_with(w, '}');
}

static void key_charged(Writer *w) {
  int n = w->rubric->n_phases;
  g_autofree Entry *entries = g_new0(Entry, (gsize)n + 1);
  for (int p = 0; p < n; p++)
    entries[p] = (Entry){w->rubric->phases[p].id, w->ledger->charged_ms[p]};
  key_entries(w, "charged", entries, n);
}

static void key_choices(Writer *w) {
  int n = w->rubric->n_choices;
  g_autofree Entry *entries = g_new0(Entry, (gsize)n + 1);
  for (int c = 0; c < n; c++)
    entries[c] = (Entry){w->rubric->choices[c].id, w->ledger->option_taken[c]};
  key_entries(w, "choices", entries, n);
}

// Rows ------------------------------------------------------------------------

static void put_step(Writer *w, gconstpointer data) {
  const BtStepRow *row = data;
  const BtCheckpoint *checkpoint = &w->rubric->checkpoints[row->checkpoint];
  key_events(w, "bound", row->bound);
  key_events(w, "conforming", row->conforming);
  key_bool(w, "critical_failure", row->critical_failure);
  key_events(w, "extra", row->extra);
  key_number(w, "given", row->given_mp);
  key_text(w, "id", checkpoint->id);
  key_bool(w, "in_score", row->why_out == BT_IN_SCORE);
  key_number(w, "least", checkpoint->least);
  key_number(w, "most", checkpoint->most);
  key_events(w, "not_verified", row->not_verified);
  key_text(w, "phase", w->rubric->phases[checkpoint->phase].id);
  key_number(w, "points", checkpoint->points_mp);
  key_events(w, "redone", row->redone);
  key_text(w, "why_out", bt_why_out_name(row->why_out));
}

static void put_short(Writer *w, gconstpointer data) {
  const BtShort *row = data;
  key_text(w, "checkpoint", w->rubric->checkpoints[row->checkpoint].id);
  key_number(w, "done", row->done);
  key_event(w, "late_event", row->late_event);
  key_number(w, "least", row->least);
}

static void put_rule(Writer *w, gconstpointer data) {
  const BtOrderRow *row = data;
  const BtRule *rule = &w->rubric->rules[row->rule];
  key_bool(w, "applies", row->applies);
  key_bool(w, "broken", row->broken);
  key_bool(w, "critical", rule->critical);
  key_number(w, "given", row->given_mp);
  key_text(w, "id", rule->id);
  key_number(w, "lose", rule->lose_mp);
  key_rows(w, "short", row->shorts, put_short);
  key_event(w, "then_event", row->then_event);
}

static void put_displaced(Writer *w, gconstpointer data) {
  const BtDisplaced *row = data;
  key_number(w, "event", row->event);
  key_text(w, "where", row->too_late ? "too_late" : "too_early");
}

static void put_quiet(Writer *w, gconstpointer data) {
  const BtQuiet *row = data;
  key_number(w, "from", row->from);
  key_number(w, "ms", row->ms);
  key_number(w, "to", row->to);
}

static void put_time(Writer *w, gconstpointer data) {
  const BtTimeRow *row = data;
  key_number(w, "given", row->given_mp);
  key_text(w, "id", row->phase < 0 ? "clock" : w->rubric->phases[row->phase].id);
  key_number(w, "points", row->points_mp);
  key_number(w, "spent_ms", row->spent_ms);
}

static void put_kind(Writer *w, gconstpointer data) {
  const BtTechniqueRow *row = data;
  const BtErrorKind *kind = &w->rubric->errors[row->error];
  key_number(w, "count", row->count);
  key_events(w, "events", row->events);
  key_text(w, "id", kind->id);
  key_number(w, "lost", row->lost_mp);
  key_text(w, "severity", bt_severity_name(kind->severity));
}

static void put_value(Writer *w, const BtValueRow *row, const char *id, gint64 value) {
  key_number(w, "given", row->given_mp);
  key_text(w, "id", id);
  put_key(w, "value");
  if (row->has_value) {
    put_number(w, value);
  } else {
    put_literal(w, "null");
  }
}

static void put_measure(Writer *w, gconstpointer data) {
  const BtValueRow *row = data;
  put_value(w, row, w->rubric->measures[row->item].id, row->value_milli);
}

static void put_rating(Writer *w, gconstpointer data) {
  const BtValueRow *row = data;
  put_value(w, row, w->rubric->ratings[row->item].id, row->value_milli / 1000);
}

static void put_inject(Writer *w, gconstpointer data) {
  const BtInjectRow *row = data;
  key_number(w, "event", row->event);
  key_text(w, "id", w->rubric->injects[row->inject].id);
}

static void put_reason(Writer *w, gconstpointer data) {
  const BtReason *row = data;
  key_text(w, "code", bt_reason_name(row->code));
  key_events(w, "events", row->events);
  key_text(w, "id", row->id);
}

// Components ------------------------------------------------------------------

static const BtComponentScore *score_of(const Writer *w, BtComponent component) {
  return &w->ledger->component[component];
}

static void put_steps(Writer *w) {
  const BtComponentScore *score = score_of(w, BT_STEPS);
  key_bool(w, "assessed", score->assessed);
  key_number(w, "given", score->given_mp);
  key_number(w, "possible", score->possible_mp);
  key_rows(w, "rows", w->ledger->steps, put_step);
}

static void put_order(Writer *w) {
  const BtComponentScore *score = score_of(w, BT_ORDER);
  const BtLedger *ledger = w->ledger;
  key_bool(w, "assessed", score->assessed);
  put_key(w, "concordance");
  if (ledger->concordance_den > 0) {
    g_autofree char *share = g_strdup_printf("%" G_GINT64_FORMAT "/%" G_GINT64_FORMAT,
                                             ledger->concordance_num, ledger->concordance_den);
    put_text(w, share);
  } else {
    put_literal(w, "null");
  }
  key_rows(w, "displaced", ledger->displaced, put_displaced);
  key_number(w, "given", score->given_mp);
  key_number(w, "possible", score->possible_mp);
  key_rows(w, "rows", ledger->order, put_rule);
}

static void put_time_component(Writer *w) {
  const BtComponentScore *score = score_of(w, BT_TIME);
  key_bool(w, "assessed", score->assessed);
  key_charged(w);
  key_number(w, "given", score->given_mp);
  key_number(w, "possible", score->possible_mp);
  key_rows(w, "quiet", w->ledger->quiet, put_quiet);
  key_rows(w, "rows", w->ledger->time, put_time);
  key_number(w, "total_ms", w->ledger->total_ms);
  key_number(w, "unassigned_ms", w->ledger->unassigned_ms);
}

static void put_technique(Writer *w) {
  const BtComponentScore *score = score_of(w, BT_TECHNIQUE);
  key_bool(w, "assessed", score->assessed);
  key_number(w, "at_stake", w->ledger->at_stake_mp);
  key_number(w, "given", score->given_mp);
  key_number(w, "possible", score->possible_mp);
  key_rows(w, "rows", w->ledger->technique, put_kind);
}

static void key_missing(Writer *w, bool product) {
  const GArray *rows = product ? w->ledger->product : w->ledger->rating;
  put_key(w, "missing");
  open_with(w, '[');
  for (guint i = 0; i < rows->len; i++) {
    const BtValueRow *row = &g_array_index(rows, BtValueRow, i);
    if (!row->has_value)
      put_text(w, product ? w->rubric->measures[row->item].id : w->rubric->ratings[row->item].id);
  }
  close_with(w, ']');
}

static void put_values(Writer *w, bool product) {
  const BtComponentScore *score = score_of(w, product ? BT_PRODUCT : BT_RATING);
  key_bool(w, "assessed", score->assessed);
  key_number(w, "given", score->given_mp);
  key_missing(w, product);
  key_number(w, "possible", score->possible_mp);
  if (product) {
    key_rows(w, "rows", w->ledger->product, put_measure);
  } else {
    key_rows(w, "rows", w->ledger->rating, put_rating);
  }
}

static void put_product(Writer *w) {
  put_values(w, true);
}

static void put_ratings(Writer *w) {
  put_values(w, false);
}

static void key_object(Writer *w, const char *key, void (*put)(Writer *w)) {
  put_key(w, key);
  open_with(w, '{');
  put(w);
  close_with(w, '}');
}

static void key_list(Writer *w, BtList list) {
  key_events(w, bt_list_name(list), w->ledger->list[list]);
}

static void put_ledger(Writer *w, const BtHeader *header) {
  const BtLedger *ledger = w->ledger;
  key_list(w, BT_LIST_AFTER_END);
  key_text(w, "assessor", header->assessor);
  key_list(w, BT_LIST_BEFORE_START);
  key_choices(w);
  key_number(w, "edition", w->rubric->edition);
  key_list(w, BT_LIST_EXTRA);
  key_bool(w, "finished", ledger->finished);
  key_list(w, BT_LIST_IGNORED);
  key_rows(w, "injects", ledger->injects, put_inject);
  key_text(w, "mode", bt_mode_name(header->mode));
  key_object(w, "order", put_order);
  key_text(w, "outcome", bt_outcome_name(ledger->outcome));
  key_list(w, BT_LIST_OVERTAKEN);
  key_object(w, "product", put_product);
  key_object(w, "rating", put_ratings);
  key_rows(w, "reasons", ledger->reasons, put_reason);
  key_list(w, BT_LIST_REDO_OF_NOTHING);
  key_text(w, "rubric", w->rubric->id);
  key_text(w, "session", header->session);
  key_object(w, "steps", put_steps);
  key_list(w, BT_LIST_TAKEN_AS_REDO);
  key_object(w, "technique", put_technique);
  key_object(w, "time", put_time_component);
  key_text(w, "total", ledger->total);
  key_text(w, "trainee", header->trainee);
  key_list(w, BT_LIST_UNPLANNED);
  key_list(w, BT_LIST_UNSEEN);
  key_list(w, BT_LIST_WHILE_PAUSED);
}

char *bt_ledger_to_json(const BtRubric *rubric, const BtObservation *observation,
                        const BtLedger *ledger) {
  Writer writer = {g_string_sized_new(4096), rubric, ledger};
  g_string_append_c(writer.out, '{');
  put_ledger(&writer, &observation->header);
  g_string_append_c(writer.out, '}');
  return g_string_free(writer.out, FALSE);
}
