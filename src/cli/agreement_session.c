// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the assessors of one session saw otherwise, with its times: for them to sit down with.
#include <benchtally/workbook.h>

#include "cli/agreement.h"
#include "cli/figure.h"

// One assessor's record of the session, scored.
typedef struct {
  const char *assessor;
  const char *mode;
  const BtStudyRow *row;
  const BtRubric *rubric;
  BtObservation *observation;
  GPtrArray *lines; // of BtLedgerLine
  GArray *events;   // of BtTimedEvent
  GArray *seq;      // of int: theirs
} Record;

static void free_record(gpointer data) {
  Record *record = data;
  bt_observation_free(record->observation);
  g_clear_pointer(&record->lines, g_ptr_array_unref);
  g_clear_pointer(&record->events, g_array_unref);
  g_clear_pointer(&record->seq, g_array_unref);
  g_free(record);
}

static Record *read_record(BtBook *book, const BtViews *views, gsize assessor, GError **error) {
  Record *record = g_new0(Record, 1);
  record->row = views->view[assessor];
  record->assessor = views->assessor[assessor];
  record->mode = bt_mode_name(record->row->row->mode);
  record->observation = bt_book_load(book, record->row->row->id, &record->rubric, error);
  if (!record->observation) {
    free_record(record);
    return NULL;
  }
  g_autoptr(BtLedger) ledger = bt_score(record->rubric, record->observation);
  record->lines = bt_ledger_lines(record->rubric, record->observation, ledger);
  record->events = bt_timed_events(record->rubric, record->observation, &record->seq);
  return record;
}

// The records of the views' one session (of Record).
static GPtrArray *read_records(BtBook *book, const BtViews *views, GError **error) {
  g_autoptr(GPtrArray) records = g_ptr_array_new_with_free_func(free_record);
  for (gsize a = 0; a < views->assessors; a++) {
    Record *record = read_record(book, views, a, error);
    if (!record)
      return NULL;
    g_ptr_array_add(records, record);
  }
  return g_steal_pointer(&records);
}

static const BtLedgerLine *line_of(const Record *record, BtComponent component, const char *id) {
  for (guint i = 0; i < record->lines->len; i++) {
    const BtLedgerLine *line = record->lines->pdata[i];
    if (line->component == component && g_str_equal(line->id, id))
      return line;
  }
  return NULL;
}

// Disagreements ---------------------------------------------------------------

static const char *said_of(const Record *record, const BtDisagreement *about) {
  static const char *const states[] = {[BT_STEP_NOT_DONE] = "not done",
                                       [BT_STEP_DONE] = "done",
                                       [BT_STEP_NOT_SEEN] = "not seen",
                                       [BT_STEP_OUT] = "did not count"};
  if (about->what == BT_VIEW_STEP)
    return states[record->row->step[about->item]];
  int count = record->row->errors[about->item];
  return count < 0 ? "not seen" : count > 0 ? "happened" : "did not happen";
}

static const char *id_of(const BtRubric *rubric, const BtDisagreement *about) {
  return about->what == BT_VIEW_STEP ? rubric->checkpoints[about->item].id
                                     : rubric->errors[about->item].id;
}

static const char *title_of(const BtRubric *rubric, const BtDisagreement *about) {
  return about->what == BT_VIEW_STEP ? rubric->checkpoints[about->item].title
                                     : rubric->errors[about->item].title;
}

// What the record shows for it, with its times; "" when that adds nothing to what is said.
static const char *shown_by(const Record *record, const BtDisagreement *about) {
  if (about->what == BT_VIEW_ERROR && record->row->errors[about->item] <= 0)
    return "";
  const BtLedgerLine *line = line_of(record, about->what == BT_VIEW_STEP ? BT_STEPS : BT_TECHNIQUE,
                                     id_of(record->rubric, about));
  bool adds = line && line->happened && !g_str_equal(line->happened, said_of(record, about));
  return adds ? line->happened : "";
}

static void put_disagreement(GString *out, const GPtrArray *records, const BtDisagreement *about) {
  const Record *first = records->pdata[0];
  cli_put_paragraph(out, 2, "%s (%s)", title_of(first->rubric, about), id_of(first->rubric, about));
  for (guint i = 0; i < records->len; i++) {
    const Record *record = records->pdata[i];
    const char *shown = shown_by(record, about);
    cli_put_paragraph(out, 4, "%s %s: %s%s%s", record->assessor, record->mode,
                      said_of(record, about), *shown ? "; " : "", shown);
  }
}

static void put_disagreements(GString *out, const GPtrArray *records, const GArray *list) {
  static const char *const heads[] = {[BT_VIEW_STEP] = "Checkpoints", [BT_VIEW_ERROR] = "Errors"};
  int before = -1;
  for (guint i = 0; i < list->len; i++) {
    const BtDisagreement *about = &g_array_index(list, BtDisagreement, i);
    if ((int)about->what != before)
      g_string_append_printf(out, "\n%s\n", heads[about->what]);
    before = (int)about->what;
    put_disagreement(out, records, about);
  }
}

// Entries ---------------------------------------------------------------------

// An entry that only one of two records has.
typedef struct {
  const Record *record, *other;
  const BtEvent *event;
} Lone;

static const BtEvent *event_of(const Record *record, gsize at) {
  int seq = g_array_index(record->seq, int, at);
  for (guint i = 0; i < record->observation->events->len; i++) {
    const BtEvent *event = &g_array_index(record->observation->events, BtEvent, i);
    if (event->seq == seq)
      return event;
  }
  return NULL; // never: the numbers come from this observation
}

static void add_lone(GArray *list, const Record *record, const Record *other, const bool *matched) {
  for (guint i = 0; i < record->events->len; i++) {
    Lone lone = {record, other, matched[i] ? NULL : event_of(record, i)};
    if (lone.event)
      g_array_append_val(list, lone);
  }
}

static gint by_time(gconstpointer a, gconstpointer b) {
  const BtEvent *x = ((const Lone *)a)->event, *y = ((const Lone *)b)->event;
  return x->at_ms != y->at_ms ? (x->at_ms > y->at_ms) - (x->at_ms < y->at_ms) : x->seq - y->seq;
}

// The entries of two records without a counterpart in the other (of Lone), by time.
static GArray *lone_entries(const Record *a, const Record *b, gint64 tolerance_ms) {
  GArray *list = g_array_new(FALSE, FALSE, sizeof(Lone));
  g_autofree bool *first = g_new0(bool, a->events->len + 1);
  g_autofree bool *second = g_new0(bool, b->events->len + 1);
  g_autoptr(BtEventMatch) match =
      bt_match_events((const BtTimedEvent *)a->events->data, a->events->len,
                      (const BtTimedEvent *)b->events->data, b->events->len, tolerance_ms);
  for (guint i = 0; i < match->pairs->len; i++) {
    const BtEventPair *pair = &g_array_index(match->pairs, BtEventPair, i);
    first[pair->first] = second[pair->second] = true;
  }
  add_lone(list, a, b, first);
  add_lone(list, b, a, second);
  g_array_sort(list, by_time);
  return list;
}

static void put_lone(GString *out, const Record *a, const Record *b, gint64 tolerance_ms) {
  g_autofree char *tolerance = bt_clock_format_exact(tolerance_ms);
  g_autoptr(GArray) list = lone_entries(a, b, tolerance_ms);
  g_string_append_printf(out, "\n%s and %s: ", a->assessor, b->assessor);
  if (list->len == 0) {
    g_string_append_printf(out, "every entry has its counterpart within %s\n", tolerance);
    return;
  }
  g_string_append_printf(out, "entries without a counterpart within %s\n", tolerance);
  for (guint i = 0; i < list->len; i++) {
    const Lone *lone = &g_array_index(list, Lone, i);
    g_autofree char *time = bt_clock_format(lone->event->at_ms);
    g_autofree char *words = bt_event_words(lone->record->rubric, lone->event);
    cli_put_paragraph(out, 2, "%s %s: %s", time, lone->record->assessor, words);
  }
}

// Output ----------------------------------------------------------------------

static void put_text(GString *out, const BtViews *views, const GPtrArray *records,
                     const GArray *list, const AgreementRequest *request) {
  const char *session = views->session[0];
  g_autofree char *names = g_strjoinv(" and ", (char **)views->assessor);
  BtAgreement steps = bt_views_agreement(views, BT_VIEW_STEP, -1);
  g_autofree char *things = bt_count_of(list->len, "thing", NULL);
  cli_put_paragraph(out, 0,
                    "%s (%s): %s saw %s otherwise; they agreed on %" G_GSIZE_FORMAT
                    " of %" G_GSIZE_FORMAT " checkpoints%s.",
                    session, views->study->rubric->id, names, things, steps.same, steps.pairs,
                    views->assessors > 2 ? ", each two of them compared" : "");
  put_disagreements(out, records, list);
  for (guint a = 0; a < records->len; a++) {
    for (guint b = a + 1; b < records->len; b++)
      put_lone(out, records->pdata[a], records->pdata[b], request->tolerance_ms);
  }
  g_string_append_c(out, '\n');
  cli_put_paragraph(out, 0,
                    "Times are those of each record's own clock; entries are matched from its "
                    "start entry on. Which of the records decides: benchtally sessions --session "
                    "%s",
                    session);
  cli_put_paragraph(out, 0, "Training records, no certificate of clinical competence.");
}

static json_t *disagreement_json(const GPtrArray *records, const BtDisagreement *about) {
  const Record *first = records->pdata[0];
  json_t *said = json_array();
  for (guint i = 0; i < records->len; i++) {
    const Record *record = records->pdata[i];
    json_array_append_new(said, json_pack("{s:s s:s s:s s:s}", "assessor", record->assessor, "mode",
                                          record->mode, "said", said_of(record, about), "shown",
                                          shown_by(record, about)));
  }
  return json_pack("{s:s s:s s:b s:o}", "about",
                   about->what == BT_VIEW_STEP ? "checkpoint" : "error", "id",
                   id_of(first->rubric, about), "counted", about->counted, "said", said);
}

static json_t *lone_json(const GPtrArray *records, gint64 tolerance_ms) {
  json_t *list = json_array();
  for (guint a = 0; a < records->len; a++) {
    for (guint b = a + 1; b < records->len; b++) {
      g_autoptr(GArray) lone = lone_entries(records->pdata[a], records->pdata[b], tolerance_ms);
      for (guint i = 0; i < lone->len; i++) {
        const Lone *entry = &g_array_index(lone, Lone, i);
        g_autofree char *words = bt_event_words(entry->record->rubric, entry->event);
        json_array_append_new(list, json_pack("{s:s s:s s:I s:i s:s}", "assessor",
                                              entry->record->assessor, "missing_from",
                                              entry->other->assessor, "at_ms",
                                              (json_int_t)entry->event->at_ms, "event",
                                              entry->event->seq, "words", words));
      }
    }
  }
  return list;
}

static json_t *session_json(const BtViews *views, const GPtrArray *records, const GArray *list,
                            const AgreementRequest *request) {
  BtAgreement steps = bt_views_agreement(views, BT_VIEW_STEP, -1);
  json_t *disagreements = json_array();
  for (guint i = 0; i < list->len; i++)
    json_array_append_new(disagreements,
                          disagreement_json(records, &g_array_index(list, BtDisagreement, i)));
  return json_pack("{s:s s:s s:i s:I s:I s:o s:o s:I}", "session", views->session[0], "rubric",
                   views->study->rubric->id, "edition", views->study->rubric->edition,
                   "checkpoints_compared", (json_int_t)steps.pairs, "checkpoints_agreed",
                   (json_int_t)steps.same, "disagreements", disagreements, "lone_entries",
                   lone_json(records, request->tolerance_ms), "tolerance_ms",
                   (json_int_t)request->tolerance_ms);
}

static int tell(Cli *cli, BtBook *book, const BtViews *views, const AgreementRequest *request) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) records = read_records(book, views, &error);
  if (!records)
    return cli_error(g_steal_pointer(&error));
  g_autoptr(GArray) list = bt_views_disagreements(views);
  if (request->json)
    cli_put_json(cli->out, session_json(views, records, list, request));
  else
    put_text(cli->out, views, records, list, request);
  return 0;
}

static int compare(Cli *cli, BtBook *book, const AgreementRequest *request, const char *session) {
  g_autoptr(GError) error = NULL;
  BtSessionFilter filter = {.session = session, .rubric = request->rubric};
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &filter, &error);
  if (!rows)
    return cli_error(g_steal_pointer(&error));
  if (rows->len == 0)
    return cli_usage_error("no such session \"%s\"; `benchtally sessions` lists them", session);
  const BtSessionRow *row = rows->pdata[0];
  BtStudyScope scope = {.rubric = row->rubric, .edition = row->edition, .session = session};
  g_autoptr(BtStudy) study = bt_study_read(book, &scope, NULL, NULL, &error);
  if (!study)
    return cli_error(g_steal_pointer(&error));
  g_autoptr(BtViews) views = bt_views_new(study, request->with_own);
  if (views->sessions == 0)
    return cli_usage_error(
        "session %s has no two closed records to compare%s; `benchtally "
        "sessions --session %s` lists what it has",
        session, views->own_left_out ? " (--with-self lets the trainee's own in)" : "", session);
  return tell(cli, book, views, request);
}

int agreement_of_session(Cli *cli, const AgreementRequest *request, const char *session) {
  int status = 0;
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  if (!bt_book_hold(book, &error))
    return cli_error(g_steal_pointer(&error));
  status = compare(cli, book, request, session);
  bt_book_release(book);
  return status;
}
