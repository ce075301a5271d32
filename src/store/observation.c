// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/observation.h"

#include <string.h>

// Rows ------------------------------------------------------------------------

static const BtSql one_observation = {
    "look the observation up",
    "SELECT o.id, o.records, o.events, o.strikes, o.amends, o.head_link, s.code, s.trainee, "
    "o.assessor, s.rubric, s.edition, s.started_ms, o.mode, o.closed_ms, o.receipt "
    "FROM observation AS o JOIN session AS s ON s.code = o.session WHERE o.id = ?1"};
static const BtSql find_observation = {
    "look the observation up",
    "SELECT id FROM observation WHERE session = ?1 AND assessor = ?2 AND mode = ?3"};

void bt__observation_row_free(BtObservationRow *row) {
  if (!row)
    return;
  g_free((gpointer)row->header.session);
  g_free((gpointer)row->header.trainee);
  g_free((gpointer)row->header.assessor);
  g_free((gpointer)row->header.rubric);
  g_free(row->receipt);
  g_free(row);
}

static bool read_chain(BtQuery *query, BtChain *chain) {
  *chain = (BtChain){.id = bt__int(query, 0),
                     .records = bt__int(query, 1),
                     .events = bt__int(query, 2),
                     .strikes = bt__int(query, 3),
                     .amends = bt__int(query, 4)};
  const guint8 *head = bt__blob(query, 5, BT_SHA256_BYTES);
  if (head)
    memcpy(chain->head, head, BT_SHA256_BYTES);
  return head != NULL;
}

static BtObservationRow *read_row(BtQuery *query) {
  BtObservationRow *row = g_new0(BtObservationRow, 1);
  int mode = bt_mode_from_name(bt__text(query, 12));
  row->header = (BtHeader){.session = g_strdup(bt__text_needed(query, 6)),
                           .trainee = g_strdup(bt__text_needed(query, 7)),
                           .assessor = g_strdup(bt__text_needed(query, 8)),
                           .rubric = g_strdup(bt__text_needed(query, 9)),
                           .edition = (int)bt__int(query, 10),
                           .started_ms = bt__int(query, 11),
                           .mode = mode < 0 ? BT_MODE_LIVE : (BtMode)mode};
  row->closed = !bt__is_null(query, 13);
  row->closed_ms = bt__int(query, 13);
  row->receipt = bt__text_dup(query, 14);
  if (read_chain(query, &row->chain) && mode >= 0)
    return row;
  bt__observation_row_free(row);
  return NULL;
}

BtObservationRow *bt__observation_row(BtBook *book, gint64 id, GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &one_observation, error, ARGS(INT(id)));
  int found = query ? bt__step(query, error) : -1;
  BtObservationRow *row = found == 1 ? read_row(query) : NULL;
  if (found == 0)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "no observation %" G_GINT64_FORMAT " in the book; `benchtally sessions` lists them",
                id);
  else if (found == 1 && !row)
    g_set_error(error, BT_ERROR, BT_ERROR_DATABASE,
                "%s: observation %" G_GINT64_FORMAT " was changed; restore the latest backup; "
                "`benchtally verify` tells more",
                book->path, id);
  return row;
}

gint64 bt__observation_find(BtBook *book, const BtHeader *header, GError **error) {
  gint64 id = 0;
  int row = bt__number(
      book->db, &find_observation, &id, error,
      ARGS(TEXT(header->session), TEXT(header->assessor), TEXT(bt_mode_name(header->mode))));
  return row < 0 ? -1 : id;
}

const BtRubric *bt__observation_rubric(BtBook *book, const BtHeader *header, GError **error) {
  g_autoptr(GError) cause = NULL;
  const BtRubric *rubric = bt_book_rubric(book, header->rubric, header->edition, &cause);
  if (cause)
    g_propagate_error(error, g_steal_pointer(&cause));
  else if (!rubric)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "edition %d of the rubric \"%s\" is not in the book; put it in with `benchtally "
                "rubric add`",
                header->edition, header->rubric);
  return rubric;
}

// Sessions --------------------------------------------------------------------

static const BtSql one_session = {
    "look the session up",
    "SELECT trainee, rubric, edition, started_ms FROM session WHERE code = ?1"};
static const BtSql add_session = {"add the session",
                                  "INSERT INTO session(code, trainee, rubric, edition, started_ms) "
                                  "VALUES (?1, ?2, ?3, ?4, ?5)"};

// What of `header` contradicts the session as the book has it, in words; NULL: nothing. Caller
// frees.
static char *contradiction(BtQuery *query, const BtHeader *header) {
  const char *trainee = bt__text_needed(query, 0);
  const char *rubric = bt__text_needed(query, 1);
  if (strcmp(trainee, header->trainee) != 0)
    return g_strdup_printf("trainee \"%s\", here \"%s\"", trainee, header->trainee);
  if (strcmp(rubric, header->rubric) != 0)
    return g_strdup_printf("rubric \"%s\", here \"%s\"", rubric, header->rubric);
  if (bt__int(query, 2) != header->edition)
    return g_strdup_printf("edition %d, here %d", (int)bt__int(query, 2), header->edition);
  if (bt__int(query, 3) == header->started_ms)
    return NULL;
  g_autofree char *there = bt_rfc3339_format(bt__int(query, 3));
  g_autofree char *here = bt_rfc3339_format(header->started_ms);
  return g_strdup_printf("start %s, here %s", there, here);
}

bool bt__session_enter(BtBook *book, const BtHeader *header, bool *added, BtRefusal *refusal,
                       GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &one_session, error, ARGS(TEXT(header->session)));
  int row = query ? bt__step(query, error) : -1;
  *added = row == 0;
  if (row == 0)
    return bt__run(book->db, &add_session, error,
                   ARGS(TEXT(header->session), TEXT(header->trainee), TEXT(header->rubric),
                        INT(header->edition), INT(header->started_ms)));
  g_autofree char *differs = row == 1 ? contradiction(query, header) : NULL;
  if (differs) {
    refusal->code = BT_ERROR_CONFLICT;
    refusal->wrong =
        g_strdup_printf("session \"%s\" is in the book with %s", header->session, differs);
    refusal->expected = g_strdup("another session needs a code of its own");
  }
  return row == 1;
}

// Opening ---------------------------------------------------------------------

static const BtSql add_observation = {
    "open the observation",
    "INSERT INTO observation(session, assessor, mode, records, events, strikes, amends, head_link) "
    "VALUES (?1, ?2, ?3, 0, 0, 0, 0, ?4)"};
static const BtSql save_observation = {
    "bring the observation up to date",
    "UPDATE observation SET records = ?2, events = ?3, strikes = ?4, amends = ?5, head_link = ?6 "
    "WHERE id = ?1"};

static bool note_opening(BtBook *book, const BtOpening *opening, gint64 id, GError **error) {
  const BtHeader *header = &opening->header;
  const BtMember body[] = {
      MEMBER_TEXT("assessor", header->assessor),
      MEMBER_INT("edition", header->edition),
      MEMBER_TEXT("mode", bt_mode_name(header->mode)),
      MEMBER_INT("observation", id),
      MEMBER_TEXT("rubric", header->rubric),
      MEMBER_TEXT("rubric_sha256", opening->rubric_sha256),
      MEMBER_TEXT("session", header->session),
      MEMBER_INT("started_ms", header->started_ms),
      MEMBER_TEXT("trainee", header->trainee),
  };
  return bt__book_note(book, "observation_opened", body, G_N_ELEMENTS(body), error);
}

static bool open_chain(BtBook *book, const BtOpening *opening, const char *source, BtChain *chain,
                       GError **error) {
  static const guint8 no_link[BT_SHA256_BYTES] = {0};
  const BtHeader *header = &opening->header;
  if (!bt__run(book->db, &add_observation, error,
               ARGS(TEXT(header->session), TEXT(header->assessor), TEXT(bt_mode_name(header->mode)),
                    BLOB(no_link, BT_SHA256_BYTES))))
    return false;
  *chain = (BtChain){.id = bt__last_id(book->db)};
  BtEntry entry = {.kind = BT_RECORD_OPEN, .wall_ms = bt__now_ms(book), .source = source};
  return bt__chain_append(book, chain, &entry, opening, error) &&
         bt__chain_save(book, chain, error) && note_opening(book, opening, chain->id, error);
}

bool bt__observation_open(BtBook *book, const BtHeader *header, const char *source, BtChain *chain,
                          bool *new_session, BtRefusal *refusal, GError **error) {
  *new_session = false;
  if (!bt_code_valid(header->session)) {
    refusal->code = BT_ERROR_OPTION;
    refusal->wrong = g_strdup_printf("\"%s\" is no code for a session", header->session);
    refusal->expected = g_strdup("use 1 to 64 letters, digits, '_', '.' or '-'");
    return true;
  }
  g_autofree char *sha256 = NULL;
  if (!bt__observation_rubric(book, header, error))
    return false;
  sha256 = bt__edition_sha256(book, header->rubric, header->edition, error);
  if (!sha256 || !bt__check_people(book, header, refusal, error))
    return false;
  if (refusal->wrong)
    return true;
  if (!bt__session_enter(book, header, new_session, refusal, error))
    return false;
  const BtOpening opening = {*header, sha256};
  return refusal->wrong || open_chain(book, &opening, source, chain, error);
}

// Chains ----------------------------------------------------------------------

static void count_record(BtChain *chain, const BtEntry *entry) {
  chain->records = entry->number;
  chain->events += entry->kind == BT_RECORD_EVENT;
  chain->strikes += entry->kind == BT_RECORD_STRIKE;
  chain->amends += entry->kind == BT_RECORD_AMEND;
  memcpy(chain->head, entry->link_sha256, BT_SHA256_BYTES);
}

bool bt__chain_append(BtBook *book, BtChain *chain, BtEntry *entry, const BtOpening *opening,
                      GError **error) {
  entry->observation_id = chain->id;
  entry->number = chain->records + 1;
  entry->by = book->actor;
  bt__salt(book, entry->salt);
  bt__entry_seal(book->text, entry, opening, chain->head, entry->body_sha256, entry->link_sha256);
  if (!bt__entry_insert(book, entry, error))
    return false;
  count_record(chain, entry);
  return true;
}

bool bt__chain_save(BtBook *book, const BtChain *chain, GError **error) {
  return bt__run(book->db, &save_observation, error,
                 ARGS(INT(chain->id), INT(chain->records), INT(chain->events), INT(chain->strikes),
                      INT(chain->amends), BLOB(chain->head, BT_SHA256_BYTES)));
}

// Closing ---------------------------------------------------------------------

static const BtSql close_observation = {
    "close the observation", "UPDATE observation SET closed_ms = ?2, receipt = ?3 WHERE id = ?1"};

// The first 20 hex digits of the link in groups of five, to be copied on paper.
char *bt__receipt(const guint8 close_link[BT_SHA256_BYTES]) {
  char hex[21];
  bt_hex(close_link, 10, hex);
  return g_strdup_printf("%.5s %.5s %.5s %.5s", hex, hex + 5, hex + 10, hex + 15);
}

bool bt__observation_note(BtBook *book, const char *kind, const BtHeader *header,
                          const BtChain *chain, gint64 result, const char *result_sha256,
                          GError **error) {
  const BtMember body[] = {
      MEMBER_TEXT("assessor", header->assessor),
      MEMBER_HEX("head_link", chain->head, BT_SHA256_BYTES),
      MEMBER_TEXT("mode", bt_mode_name(header->mode)),
      MEMBER_INT("observation", chain->id),
      MEMBER_INT("records", chain->records),
      MEMBER_INT("result", result),
      MEMBER_TEXT("result_sha256", result_sha256),
      MEMBER_TEXT("session", header->session),
  };
  return bt__book_note(book, kind, body, G_N_ELEMENTS(body), error);
}

bool bt__observation_close(BtBook *book, const BtHeader *header, BtChain *chain, const char *source,
                           char **receipt, GError **error) {
  BtEntry entry = {.kind = BT_RECORD_CLOSE, .wall_ms = bt__now_ms(book), .source = source};
  if (!bt__chain_append(book, chain, &entry, NULL, error) || !bt__chain_save(book, chain, error))
    return false;
  g_autofree char *text = bt__receipt(chain->head);
  gint64 result = 0;
  char sha256[BT_SHA256_HEX + 1];
  if (!bt__run(book->db, &close_observation, error,
               ARGS(INT(chain->id), INT(entry.wall_ms), TEXT(text))) ||
      !bt__result_issue(book, chain, &result, sha256, error) ||
      !bt__observation_note(book, "observation_closed", header, chain, result, sha256, error))
    return false;
  if (receipt)
    *receipt = g_steal_pointer(&text);
  return true;
}
