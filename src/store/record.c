// SPDX-License-Identifier: GPL-3.0-or-later
//
// Recording live, and correcting: each call is one transaction, on the disk when it returns.
#include "store/record.h"

#include <string.h>

#include "store/uuid.h"

// Where the records of an observation that is made here come from.
static const char *source_of(const BtHeader *header) {
  return bt_mode_name(header->mode);
}

// Opening ---------------------------------------------------------------------

static bool begin(BtBook *book, const BtHeader *header, gint64 *observation_id, GError **error) {
  gint64 known = bt__observation_find(book, header, error);
  if (known < 0)
    return false;
  if (known > 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "assessor \"%s\" has a %s observation of session \"%s\" already; `benchtally log "
                "%s` shows it",
                header->assessor, bt_mode_name(header->mode), header->session, header->session);
    return false;
  }
  BtChain chain;
  bool new_session = false;
  g_auto(BtRefusal) refusal = {0};
  if (!bt__observation_open(book, header, source_of(header), &chain, &new_session, &refusal, error))
    return false;
  if (refusal.wrong) {
    bt__refusal_to_error(&refusal, error);
    return false;
  }
  *observation_id = chain.id;
  return true;
}

bool bt_book_begin(BtBook *book, const BtHeader *header, gint64 *observation_id, GError **error) {
  return bt__begin(book, error) && bt__end(book, begin(book, header, observation_id, error), error);
}

// Events ----------------------------------------------------------------------

static bool check_details(const BtEvent *event, GError **error) {
  if (event->n_details <= BT_DETAILS_MAX)
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_LOG, "an event with %d details; at most %d can be kept",
              event->n_details, BT_DETAILS_MAX);
  return false;
}

static bool check_open(const BtObservationRow *row, GError **error) {
  if (!row->closed)
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
              "the observation of session \"%s\" by \"%s\" is closed; correct it with `benchtally "
              "strike` or `benchtally amend`",
              row->header.session, row->header.assessor);
  return false;
}

static const BtSql find_id = {"look the event's id up",
                              "SELECT " BT_ENTRY_COLUMNS " FROM entry WHERE id = ?1"};

static bool same_entry(const BtEntry *known, const BtEntry *entry, gint64 observation_id) {
  return known->observation_id == observation_id && known->kind == entry->kind &&
         (entry->kind == BT_RECORD_EVENT || known->seq == entry->seq) &&
         g_strcmp0(known->reason, entry->reason) == 0 && bt__entry_same_event(known, entry);
}

int bt__sent_before(BtBook *book, const BtEntry *entry, gint64 observation_id, int *seq,
                    GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &find_id, error, ARGS(TEXT(entry->id)));
  int row = query ? bt__step(query, error) : -1;
  if (row != 1)
    return row;
  BtEntry known;
  if (bt__entry_read(query, &known) && same_entry(&known, entry, observation_id)) {
    *seq = (int)known.seq;
    return 1;
  }
  g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
              "the event id %s belongs to another event of the book; each event needs its own",
              entry->id);
  return -1;
}

bool bt__append_event(BtBook *book, BtObservationRow *row, BtEntry *entry, int *seq,
                      GError **error) {
  entry->kind = BT_RECORD_EVENT;
  entry->seq = row->chain.events + 1;
  entry->wall_ms = bt__now_ms(book);
  entry->source = source_of(&row->header);
  if (!check_open(row, error) || !bt__chain_append(book, &row->chain, entry, NULL, error) ||
      !bt__chain_save(book, &row->chain, error))
    return false;
  *seq = (int)entry->seq;
  return true;
}

static bool append(BtBook *book, gint64 observation_id, const BtEvent *event, const char *id,
                   int *seq, GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  const BtRubric *rubric = row ? bt__observation_rubric(book, &row->header, error) : NULL;
  if (!rubric || !check_details(event, error))
    return false;
  g_autoptr(GString) details = g_string_new(NULL);
  BtEntryText text = {.details = details};
  char uuid[BT_UUID_LENGTH + 1];
  bt__uuid_v7(bt__now_ms(book), uuid);
  BtEntry entry = {.kind = BT_RECORD_EVENT, .id = id ? id : uuid};
  bt__entry_from_event(&entry, rubric, event, &text);
  int known = id ? bt__sent_before(book, &entry, observation_id, seq, error) : 0;
  return known == 1 || (known == 0 && bt__append_event(book, row, &entry, seq, error));
}

bool bt__check_event_id(const char *id, GError **error) {
  if (bt_uuid_parse(id, NULL, NULL))
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_LOG, "\"%s\" is no event id; expected a UUID in lower case",
              id);
  return false;
}

bool bt_book_append(BtBook *book, gint64 observation_id, const BtEvent *event, const char *id,
                    int *seq, GError **error) {
  int number = 0;
  if (id && !bt__check_event_id(id, error))
    return false;
  bool done = bt__begin(book, error) &&
              bt__end(book, append(book, observation_id, event, id, &number, error), error);
  if (done && seq)
    *seq = number;
  return done;
}

// Corrections -----------------------------------------------------------------

static const BtSql find_event = {
    "look the event up",
    "SELECT max(kind = 'strike') FROM entry WHERE observation_id = ?1 AND seq = ?2 "
    "AND kind IN ('event', 'strike') HAVING count(*) > 0"};

// Whether the event is in the effective log.
static bool check_event(BtBook *book, const BtObservationRow *row, int seq, GError **error) {
  gint64 struck = 0;
  int found = bt__number(book->db, &find_event, &struck, error, ARGS(INT(row->chain.id), INT(seq)));
  if (found == 0)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "session \"%s\" has no event %d by \"%s\"; `benchtally log %s` shows the numbers",
                row->header.session, seq, row->header.assessor, row->header.session);
  else if (struck)
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "event %d of session \"%s\" was struck already; `benchtally log %s --all` shows it",
                seq, row->header.session, row->header.session);
  return found == 1 && !struck;
}

// One of a closed observation brings a new result, beside the earlier ones.
bool bt__append_correction(BtBook *book, BtObservationRow *row, BtEntry *entry, GError **error) {
  BtChain *chain = &row->chain;
  if (!check_event(book, row, (int)entry->seq, error))
    return false;
  entry->wall_ms = bt__now_ms(book);
  entry->source = source_of(&row->header);
  if (!bt__chain_append(book, chain, entry, NULL, error) || !bt__chain_save(book, chain, error))
    return false;
  gint64 result = 0;
  char sha256[BT_SHA256_HEX + 1];
  return !row->closed || (bt__result_issue(book, chain, &result, sha256, error) &&
                          bt__observation_note(book, "observation_corrected", &row->header, chain,
                                               result, sha256, error));
}

static bool strike(BtBook *book, gint64 observation_id, int seq, const char *reason,
                   GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  BtEntry entry = {.kind = BT_RECORD_STRIKE, .seq = seq, .reason = reason};
  return row && bt__append_correction(book, row, &entry, error);
}

bool bt_book_strike(BtBook *book, gint64 observation_id, int seq, const char *reason,
                    GError **error) {
  return bt__check_reason(reason, error) && bt__begin(book, error) &&
         bt__end(book, strike(book, observation_id, seq, reason, error), error);
}

static bool amend(BtBook *book, gint64 observation_id, int seq, const BtEvent *event,
                  const char *reason, GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  const BtRubric *rubric = row ? bt__observation_rubric(book, &row->header, error) : NULL;
  if (!rubric || !check_details(event, error))
    return false;
  g_autoptr(GString) details = g_string_new(NULL);
  BtEntryText text = {.details = details};
  BtEntry entry = {.kind = BT_RECORD_AMEND, .seq = seq, .reason = reason};
  bt__entry_from_event(&entry, rubric, event, &text);
  return bt__append_correction(book, row, &entry, error);
}

bool bt_book_amend(BtBook *book, gint64 observation_id, int seq, const BtEvent *event,
                   const char *reason, GError **error) {
  return bt__check_reason(reason, error) && bt__begin(book, error) &&
         bt__end(book, amend(book, observation_id, seq, event, reason, error), error);
}

// Closing ---------------------------------------------------------------------

static bool finish(BtBook *book, gint64 observation_id, char **receipt, GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  return row && check_open(row, error) &&
         bt__observation_close(book, &row->header, &row->chain, source_of(&row->header), receipt,
                               error);
}

bool bt_book_finish(BtBook *book, gint64 observation_id, char **receipt, GError **error) {
  g_autofree char *text = NULL;
  bool done =
      bt__begin(book, error) && bt__end(book, finish(book, observation_id, &text, error), error);
  if (done && receipt)
    *receipt = g_steal_pointer(&text);
  return done;
}

// Naming the observation of record --------------------------------------------

static const BtSql name_sql = {"name the observation of record",
                               "UPDATE session SET of_record = ?2 WHERE code = ?1"};

static bool may_decide(const BtObservationRow *row, GError **error) {
  bool own = row->header.mode == BT_MODE_SELF;
  if (row->closed && !own)
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT, "the observation of session \"%s\" by \"%s\" %s",
              row->header.session, row->header.assessor,
              own ? "is the trainee's own, which never decides a result; name another"
                  : "is open; finish it first");
  return false;
}

static bool name_record(BtBook *book, gint64 observation_id, const char *reason, GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  if (!row || !may_decide(row, error))
    return false;
  const BtMember body[] = {MEMBER_INT("observation", observation_id), MEMBER_TEXT("reason", reason),
                           MEMBER_TEXT("session", row->header.session)};
  return bt__run(book->db, &name_sql, error,
                 ARGS(TEXT(row->header.session), INT(observation_id))) &&
         bt__book_note(book, "record_named", body, G_N_ELEMENTS(body), error);
}

bool bt_book_name_record(BtBook *book, gint64 observation_id, const char *reason, GError **error) {
  return bt__check_reason(reason, error) && bt__begin(book, error) &&
         bt__end(book, name_record(book, observation_id, reason, error), error);
}
