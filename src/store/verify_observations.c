// SPDX-License-Identifier: GPL-3.0-or-later
//
// Observations: each chain from its opening to its last record, its row, and its results.
#include <string.h>

#include "store/result.h"
#include "store/verify.h"

// An observation as its records are walked.
typedef struct {
  BtVerifier *verifier;
  const BtObservationRow *row;
  const BtOpening *opening;
  const char *label; // "session S-014, assessor A-02 (live)"
  BtWalk walk;
  gint64 events, strikes, amends;
  bool closed;
  gint64 closed_ms;
  guint8 close_link[BT_SHA256_BYTES];
} Chain;

// Records ---------------------------------------------------------------------

static const BtSql read_entries = {"read the records",
                                   "SELECT " BT_ENTRY_COLUMNS
                                   " FROM entry WHERE observation_id = ?1 ORDER BY number"};

// "record 12 (screw at 3:05)".
static char *name_entry(const BtEntry *entry) {
  g_autofree char *time = entry->has_at ? bt_clock_format_exact(entry->at_ms) : NULL;
  if (entry->kind == BT_RECORD_EVENT && entry->action && time)
    return g_strdup_printf("record %" G_GINT64_FORMAT " (%s at %s)", entry->number, entry->action,
                           time);
  if (entry->kind == BT_RECORD_STRIKE || entry->kind == BT_RECORD_AMEND)
    return g_strdup_printf("record %" G_GINT64_FORMAT " (%s of event %" G_GINT64_FORMAT ")",
                           entry->number, bt__record_kind_name(entry->kind), entry->seq);
  return g_strdup_printf("record %" G_GINT64_FORMAT " (%s)", entry->number,
                         bt__record_kind_name(entry->kind));
}

static void count(Chain *chain, const BtEntry *entry) {
  chain->events += entry->kind == BT_RECORD_EVENT;
  chain->strikes += entry->kind == BT_RECORD_STRIKE;
  chain->amends += entry->kind == BT_RECORD_AMEND;
  if (entry->kind != BT_RECORD_CLOSE)
    return;
  chain->closed = true;
  chain->closed_ms = entry->wall_ms;
  memcpy(chain->close_link, entry->link_sha256, BT_SHA256_BYTES);
}

static bool body_fits(const BtEntry *entry, const guint8 body_sha256[BT_SHA256_BYTES]) {
  return memcmp(entry->body_sha256, body_sha256, BT_SHA256_BYTES) == 0 &&
         (!entry->details || bt__details_canonical(entry->details));
}

static void verify_entry(Chain *chain, BtQuery *query) {
  BtEntry entry;
  bool shaped = bt__entry_read(query, &entry);
  bt__walk_to(chain->verifier, &chain->walk, chain->label, entry.number);
  guint8 body_sha256[BT_SHA256_BYTES];
  guint8 ignored[BT_SHA256_BYTES];
  GString *scratch = chain->verifier->book->text;
  bt__entry_seal(scratch, &entry, entry.number == 1 ? chain->opening : NULL, chain->walk.stored,
                 body_sha256, ignored);
  const BtLink link = {entry.body_sha256, NULL, bt__record_kind_name(entry.kind), entry.number,
                       entry.wall_ms};
  bool fits = bt__walk_step(&chain->walk, scratch, &link, body_sha256, entry.link_sha256);
  if (!shaped || !fits || !body_fits(&entry, body_sha256)) {
    g_autofree char *name = name_entry(&entry);
    bt__finding(chain->verifier, "%s: %s was changed", chain->label, name);
  }
  count(chain, &entry);
  chain->verifier->report->records_checked++;
}

static bool walk_entries(Chain *chain, GError **error) {
  g_autoptr(BtQuery) query =
      bt__query(chain->verifier->book->db, &read_entries, error, ARGS(INT(chain->row->chain.id)));
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    verify_entry(chain, query);
  return row == 0;
}

// The observation's row -------------------------------------------------------

static bool has_receipt_of(const char *receipt, const guint8 link[BT_SHA256_BYTES]) {
  g_autofree char *expected = bt__receipt(link);
  return g_strcmp0(receipt, expected) == 0;
}

static void compare_row(Chain *chain) {
  BtVerifier *verifier = chain->verifier;
  const BtObservationRow *row = chain->row;
  const BtChain *counts = &row->chain;
  bool fits = memcmp(counts->head, chain->walk.stored, BT_SHA256_BYTES) == 0;
  if (!fits || counts->records != chain->walk.number)
    bt__finding(verifier, "%s: the last link or the number of records does not fit its chain",
                chain->label);
  if (!fits && counts->records > chain->walk.number)
    bt__find_missing(verifier, chain->label, "record", chain->walk.number + 1, counts->records);
  if (counts->events != chain->events || counts->strikes != chain->strikes ||
      counts->amends != chain->amends)
    bt__finding(verifier, "%s: the count of its events or corrections was changed", chain->label);
  bool same_closing =
      row->closed == chain->closed && (!row->closed || row->closed_ms == chain->closed_ms) &&
      (row->closed ? has_receipt_of(row->receipt, chain->close_link) : row->receipt == NULL);
  if (!same_closing)
    bt__finding(verifier, "%s: the time of closing or the receipt was changed", chain->label);
}

// What the book's chain says of it, which a cut of both chain and row cannot reach.
static void compare_vouched(Chain *chain, const BtVouched *vouched) {
  const BtObservationRow *row = chain->row;
  if (vouched->results->len == 0) {
    if (row->closed)
      bt__finding(chain->verifier, "%s: closed without the book's knowledge", chain->label);
    return;
  }
  const json_t *last = vouched->results->pdata[vouched->results->len - 1];
  char head[BT_SHA256_HEX + 1];
  bt_hex(row->chain.head, BT_SHA256_BYTES, head);
  if (!row->closed || !bt__body_is(last, "records", row->chain.records) ||
      g_strcmp0(bt__body_text(last, "head_link"), head) != 0)
    bt__finding(chain->verifier,
                "%s: it is not as it was when the book noted its closing or its "
                "last correction",
                chain->label);
}

static char *make_label(const BtHeader *header) {
  return g_strdup_printf("session %s, assessor %s (%s)", header->session, header->assessor,
                         bt_mode_name(header->mode));
}

static bool same_opening(const BtObservationRow *row, const json_t *opened) {
  const BtHeader *header = &row->header;
  return g_strcmp0(bt__body_text(opened, "session"), header->session) == 0 &&
         g_strcmp0(bt__body_text(opened, "assessor"), header->assessor) == 0 &&
         g_strcmp0(bt__body_text(opened, "mode"), bt_mode_name(header->mode)) == 0;
}

// The chain's opening is held against what the book's chain says of it, so that a change to the
// session's row is a finding there and not of every record.
static BtOpening opening_of(const BtObservationRow *row, const json_t *opened) {
  BtOpening opening = {.header = row->header};
  const char *trainee = bt__body_text(opened, "trainee");
  const char *rubric = bt__body_text(opened, "rubric");
  int mode = bt__body_text(opened, "mode") ? bt_mode_from_name(bt__body_text(opened, "mode")) : -1;
  if (trainee && rubric && mode >= 0)
    opening.header = (BtHeader){.session = bt__body_text(opened, "session"),
                                .trainee = trainee,
                                .assessor = bt__body_text(opened, "assessor"),
                                .rubric = rubric,
                                .edition = (int)bt__body_int(opened, "edition"),
                                .started_ms = bt__body_int(opened, "started_ms"),
                                .mode = (BtMode)mode};
  opening.rubric_sha256 = bt__body_text(opened, "rubric_sha256");
  return opening;
}

static bool verify_observation(BtVerifier *verifier, gint64 id, GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(verifier->book, id, error);
  if (!row)
    return false;
  BtVouched *vouched = g_hash_table_lookup(verifier->observations, &id);
  BtOpening opening = opening_of(row, vouched ? vouched->opened : NULL);
  g_autofree char *label = make_label(&opening.header);
  verifier->report->observations_checked++;
  if (!vouched || !vouched->opened) {
    bt__finding(verifier, "%s: the observation was put in from outside", label);
    return true;
  }
  vouched->seen = true;
  if (!same_opening(row, vouched->opened))
    bt__finding(verifier, "%s: the session, assessor or mode of the observation was changed",
                label);
  Chain chain = {.verifier = verifier, .row = row, .opening = &opening, .label = label};
  if (!walk_entries(&chain, error))
    return false;
  compare_row(&chain);
  compare_vouched(&chain, vouched);
  return bt__verify_results(verifier, row, label, vouched, error);
}

// All -------------------------------------------------------------------------

static const BtSql list_ids = {
    "read the observations",
    "SELECT o.id, s.code, o.session, o.assessor, o.receipt, typeof(o.head_link) = 'blob' AND "
    "length(o.head_link) = 32 AND o.mode IN ('live', 'video', 'self') FROM observation AS o LEFT "
    "JOIN session AS s ON s.code = o.session "
    "ORDER BY o.id"};
static const BtSql stray_entries = {"read the records",
                                    "SELECT number, kind FROM entry WHERE observation_id NOT IN "
                                    "(SELECT id FROM observation) LIMIT 20"};
static const BtSql stray_results = {
    "read the results", "SELECT observation_id, number FROM result WHERE observation_id NOT IN "
                        "(SELECT id FROM observation) LIMIT 20"};

static void report_unseen(BtVerifier *verifier) {
  GHashTableIter iter;
  gpointer value = NULL;
  g_hash_table_iter_init(&iter, verifier->observations);
  while (g_hash_table_iter_next(&iter, NULL, &value)) {
    const BtVouched *vouched = value;
    if (!vouched->seen && vouched->opened)
      bt__finding(verifier, "session %s, assessor %s (%s): the observation is missing",
                  bt__body_text(vouched->opened, "session"),
                  bt__body_text(vouched->opened, "assessor"),
                  bt__body_text(vouched->opened, "mode"));
  }
}

static bool report_strays(BtVerifier *verifier, GError **error) {
  g_autoptr(BtQuery) entries = bt__query(verifier->book->db, &stray_entries, error, NO_ARGS);
  int row = entries ? bt__step(entries, error) : -1;
  for (; row == 1; row = bt__step(entries, error))
    bt__finding(verifier, "record %" G_GINT64_FORMAT " (%s) belongs to no observation",
                bt__int(entries, 0), bt__text_needed(entries, 1));
  g_autoptr(BtQuery) results =
      row == 0 ? bt__query(verifier->book->db, &stray_results, error, NO_ARGS) : NULL;
  row = results ? bt__step(results, error) : -1;
  for (; row == 1; row = bt__step(results, error))
    bt__finding(verifier, "result %" G_GINT64_FORMAT " belongs to no observation",
                bt__int(results, 1));
  return row == 0;
}

// A row that does not lead to its chain is named as the book's own chain knows it.
static void report_adrift(BtVerifier *verifier, BtQuery *query, bool shaped) {
  gint64 id = bt__int(query, 0);
  BtVouched *vouched = g_hash_table_lookup(verifier->observations, &id);
  const char *session = vouched ? bt__body_text(vouched->opened, "session") : NULL;
  const char *assessor = vouched ? bt__body_text(vouched->opened, "assessor") : NULL;
  if (vouched)
    vouched->seen = true;
  bt__finding(verifier, "session %s, assessor %s: the observation %s",
              session ? session : bt__text_needed(query, 2),
              assessor ? assessor : bt__text_needed(query, 3),
              shaped ? "belongs to a session that is missing" : "was changed");
}

static bool has_whole_texts(BtQuery *query) {
  for (int column = 2; column <= 4; column++)
    (void)bt__text(query, column);
  return bt__row_whole(query);
}

bool bt__verify_observations(BtVerifier *verifier, GError **error) {
  g_autoptr(BtQuery) query = bt__query(verifier->book->db, &list_ids, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error)) {
    gint64 id = bt__int(query, 0);
    bool shaped = bt__int(query, 5) != 0 && has_whole_texts(query);
    if (bt__is_null(query, 1) || !shaped)
      report_adrift(verifier, query, shaped);
    else if (!verify_observation(verifier, id, error))
      return false;
  }
  if (row != 0)
    return false;
  report_unseen(verifier);
  return report_strays(verifier, error);
}
