// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/bench.h"

#include <benchtally/workbook.h>
#include <string.h>

void bt__bench_free(BtBench *bench) {
  if (!bench)
    return;
  json_decref(bench->json);
  g_clear_pointer(&bench->recorders, g_ptr_array_unref);
  g_free(bench);
}

bool bt__bench_is_for(const BtBench *bench, const char *viewer) {
  const char *recorder = json_string_value(json_object_get(bench->json, "assessor"));
  if (recorder && strcmp(recorder, viewer) == 0)
    return true;
  for (guint i = 0; i < bench->recorders->len; i++) {
    if (strcmp(bench->recorders->pdata[i], viewer) == 0)
      return false;
  }
  return true;
}

// Where it stands -------------------------------------------------------------

// What an open observation's log tells so far.
typedef struct {
  const BtEvent *last; // NULL: none yet
  int phase;           // index; -1: nothing done yet
  bool running, paused;
} Standing;

// The phase that the latest bound event belongs to.
static int phase_of(const BtRubric *rubric, const BtLedger *ledger) {
  int phase = -1, latest = 0;
  for (guint i = 0; i < ledger->steps->len; i++) {
    const BtStepRow *row = &g_array_index(ledger->steps, BtStepRow, i);
    int seq = row->bound->len ? g_array_index(row->bound, int, row->bound->len - 1) : 0;
    if (seq > latest) {
      latest = seq;
      phase = rubric->checkpoints[row->checkpoint].phase;
    }
  }
  return phase;
}

static void follow(Standing *standing, const BtEvent *event) {
  if (!standing->last || event->at_ms >= standing->last->at_ms)
    standing->last = event;
  if (event->kind == BT_EVENT_START)
    standing->running = true;
  else if (event->kind == BT_EVENT_FINISH)
    standing->running = false;
  else if (event->kind == BT_EVENT_PAUSE || event->kind == BT_EVENT_RESUME)
    standing->paused = event->kind == BT_EVENT_PAUSE;
}

static Standing standing_of(const BtRubric *rubric, const BtObservation *observation) {
  Standing standing = {.phase = -1};
  for (guint i = 0; i < observation->events->len; i++)
    follow(&standing, &g_array_index(observation->events, BtEvent, i));
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  standing.phase = phase_of(rubric, ledger);
  return standing;
}

// As JSON ---------------------------------------------------------------------

static json_t *last_json(const BtRubric *rubric, const BtEvent *event, gint64 wall_ms) {
  if (!event)
    return json_null();
  g_autofree char *words = bt_event_words(rubric, event);
  return json_pack("{sssIsI}", "words", words, "at_ms", (json_int_t)event->at_ms, "wall_ms",
                   (json_int_t)wall_ms);
}

// Time on the observation's clock: it goes on since the last entry while the session runs.
static gint64 elapsed_ms(const Standing *standing, gint64 last_wall_ms) {
  gint64 at_ms = standing->last ? standing->last->at_ms : 0;
  if (!standing->running || standing->paused)
    return at_ms;
  return at_ms + MAX(g_get_real_time() / 1000 - last_wall_ms, 0);
}

static gint64 last_wall_ms(BtBook *book, const BtSessionRow *row, int seq, GError **error) {
  g_autoptr(GPtrArray) records = bt_book_history(book, row->id, error);
  for (guint i = records ? records->len : 0; i > 0; i--) {
    const BtRecord *record = records->pdata[i - 1];
    if (record->kind == BT_RECORD_EVENT && record->seq == seq)
      return record->wall_ms;
  }
  return records ? row->started_ms : -1;
}

static json_t *phase_json(const BtRubric *rubric, int phase, bool title) {
  if (phase < 0)
    return json_null();
  return json_string(title ? rubric->phases[phase].title : rubric->phases[phase].id);
}

static json_t *bench_json(BtBook *book, BtStations *stations, const BtSessionRow *row,
                          GError **error) {
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, row->id, &rubric, error);
  if (!observation)
    return NULL;
  Standing standing = standing_of(rubric, observation);
  gint64 wall_ms = last_wall_ms(book, row, standing.last ? standing.last->seq : 0, error);
  g_autoptr(BtPerson) trainee = wall_ms >= 0 ? bt_book_person(book, row->trainee, error) : NULL;
  if (!trainee)
    return NULL;
  g_autofree char *station = bt__stations_get(stations, row->id, observation);
  return json_pack(
      "{sIssssss?ssssssssss?sososIsIsIsbsosi}", "id", (json_int_t)row->id, "session", row->session,
      "trainee", row->trainee, "name", trainee->name, "assessor", row->assessor, "mode",
      bt_mode_name(row->mode), "rubric", row->rubric, "title", rubric->title, "station", station,
      "phase", phase_json(rubric, standing.phase, false), "phase_title",
      phase_json(rubric, standing.phase, true), "elapsed_ms",
      (json_int_t)elapsed_ms(&standing, wall_ms), "target_ms", (json_int_t)rubric->clock.target_ms,
      "limit_ms", (json_int_t)rubric->clock.limit_ms, "paused",
      standing.paused || !standing.running, "last", last_json(rubric, standing.last, wall_ms),
      "entries", row->events);
}

static bool add_recorders(BtBook *book, BtBench *bench, const char *session, GError **error) {
  const BtSessionFilter filter = {.session = session, .open_only = true};
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &filter, error);
  for (guint i = 0; rows && i < rows->len; i++)
    g_ptr_array_add(bench->recorders, g_strdup(((const BtSessionRow *)rows->pdata[i])->assessor));
  return rows != NULL;
}

BtBench *bt__bench_new(BtBook *book, BtStations *stations, gint64 observation_id, GError **error) {
  g_autoptr(BtSessionRow) row = bt_book_observation(book, observation_id, error);
  if (!row)
    return NULL;
  g_autoptr(BtBench) bench = g_new0(BtBench, 1);
  bench->id = observation_id;
  bench->recorders = g_ptr_array_new_with_free_func(g_free);
  if (row->closed)
    return g_steal_pointer(&bench);
  bench->json = bench_json(book, stations, row, error);
  return bench->json && add_recorders(book, bench, row->session, error) ? g_steal_pointer(&bench)
                                                                        : NULL;
}
