// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/verify.h"

#include <string.h>

#include "store/schema.h"

void bt_verify_report_clear(BtVerifyReport *report) {
  if (report->findings)
    g_ptr_array_unref(report->findings);
  *report = (BtVerifyReport){0};
}

void bt__finding(BtVerifier *verifier, const char *format, ...) {
  va_list args;
  va_start(args, format);
  g_ptr_array_add(verifier->report->findings, g_strdup_vprintf(format, args));
  va_end(args);
}

const char *bt__body_text(const json_t *body, const char *name) {
  return json_string_value(json_object_get(body, name));
}

gint64 bt__body_int(const json_t *body, const char *name) {
  const json_t *value = json_object_get(body, name);
  return json_is_integer(value) ? json_integer_value(value) : -1;
}

bool bt__body_is(const json_t *body, const char *name, gint64 number) {
  const json_t *value = json_object_get(body, name);
  return json_is_integer(value) && json_integer_value(value) == number;
}

bool bt__same_text(BtQuery *query, int column, const json_t *body, const char *name) {
  return g_strcmp0(bt__text(query, column), bt__body_text(body, name)) == 0;
}

bool bt__same_int(BtQuery *query, int column, const json_t *body, const char *name) {
  if (bt__is_null(query, column))
    return json_object_get(body, name) == NULL;
  return bt__body_is(body, name, bt__int(query, column));
}

bool bt__same_hash(BtQuery *query, int column, const json_t *body, const char *name) {
  char sha256[BT_SHA256_HEX + 1];
  bt__text_sha256(bt__text_needed(query, column), sha256);
  return g_strcmp0(sha256, bt__body_text(body, name)) == 0;
}

void bt__find_missing(BtVerifier *verifier, const char *whose, const char *what, gint64 first,
                      gint64 last) {
  if (first == last)
    bt__finding(verifier, "%s: %s %" G_GINT64_FORMAT " is missing", whose, what, first);
  else if (first < last)
    bt__finding(verifier,
                "%s: %s %" G_GINT64_FORMAT " is missing, and so are those up to %" G_GINT64_FORMAT,
                whose, what, first, last);
}

// Chains ----------------------------------------------------------------------

// After more than one that is missing the record that follows is suspect too: it may be the one
// that has no place.
void bt__walk_to(BtVerifier *verifier, BtWalk *walk, const char *whose, gint64 number) {
  gint64 next = walk->number + 1;
  walk->broken = number > next;
  if (!walk->broken)
    return;
  bt__find_missing(verifier, whose, "record", next, number - 1);
  if (number - 1 > next)
    bt__finding(verifier, "%s: record %" G_GINT64_FORMAT " cannot be tied to what came before",
                whose, number);
}

bool bt__walk_step(BtWalk *walk, GString *scratch, const BtLink *link,
                   const guint8 body_recomputed[BT_SHA256_BYTES],
                   const guint8 link_stored[BT_SHA256_BYTES]) {
  const guint8 *const bodies[] = {link->body_sha256, body_recomputed};
  const guint8 *const previous[] = {walk->stored, walk->recomputed};
  guint8 first[BT_SHA256_BYTES];
  bool fits = walk->broken;
  for (int i = 0; i < 4; i++) {
    BtLink candidate = *link;
    candidate.body_sha256 = bodies[i / 2];
    candidate.previous = previous[i % 2];
    guint8 sha256[BT_SHA256_BYTES];
    bt__link_sha256(scratch, &candidate, sha256);
    if (i == 0)
      memcpy(first, sha256, sizeof first);
    fits = fits || memcmp(sha256, link_stored, sizeof sha256) == 0;
    if (fits)
      break;
  }
  walk->number = link->number;
  memcpy(walk->stored, link_stored, BT_SHA256_BYTES);
  memcpy(walk->recomputed, first, BT_SHA256_BYTES);
  return fits;
}

// The file itself -------------------------------------------------------------

static const BtSql integrity = {"check the file", "PRAGMA integrity_check(5)"};

static bool verify_file(BtVerifier *verifier, GError **error) {
  g_autoptr(BtQuery) query = bt__query(verifier->book->db, &integrity, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error)) {
    if (strcmp(bt__text(query, 0), "ok") != 0)
      bt__finding(verifier, "the file is damaged; restore the latest backup: %s",
                  bt__text(query, 0));
  }
  return row == 0;
}

// All -------------------------------------------------------------------------

static void free_body(gpointer body) {
  json_decref(body);
}

static void free_vouched(gpointer data) {
  BtVouched *vouched = data;
  json_decref(vouched->opened);
  g_ptr_array_unref(vouched->results);
  g_free(vouched);
}

static GHashTable *new_bodies(void) {
  return g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_body);
}

static bool verify_all(BtVerifier *verifier, GError **error) {
  return verify_file(verifier, error) &&
         bt__schema_verify(verifier->book->db, verifier->report->findings, error) &&
         bt__verify_book_chain(verifier, error) && bt__verify_people(verifier, error) &&
         bt__verify_editions(verifier, error) && bt__verify_standards(verifier, error) &&
         bt__verify_sessions(verifier, error) && bt__verify_access(verifier, error) &&
         bt__verify_observations(verifier, error);
}

// A book too damaged to be read is found wanting, not a failure of the check.
static bool is_damage(const GError *cause) {
  return g_error_matches(cause, BT_ERROR, BT_ERROR_DATABASE) ||
         g_error_matches(cause, BT_ERROR, BT_ERROR_NOT_A_BOOK);
}

bool bt_book_verify(BtBook *book, BtVerifyReport *report, GError **error) {
  *report = (BtVerifyReport){.findings = g_ptr_array_new_with_free_func(g_free)};
  if (!bt__db_begin_reading(book->db, error))
    return false;
  BtVerifier verifier = {
      .book = book,
      .report = report,
      .people = new_bodies(),
      .editions = new_bodies(),
      .sessions = new_bodies(),
      .named = new_bodies(),
      .standards = new_bodies(),
      .adoptions = new_bodies(),
      .accounts = new_bodies(),
      .looks = new_bodies(),
      .observations = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, free_vouched)};
  GError *cause = NULL;
  bool done = verify_all(&verifier, &cause);
  if (!done && is_damage(cause)) {
    bt__finding(&verifier, "%s", cause->message);
    g_clear_error(&cause);
    done = true;
  }
  if (cause)
    g_propagate_error(error, cause);
  bt__db_rollback(book->db);
  g_hash_table_unref(verifier.people);
  g_hash_table_unref(verifier.editions);
  g_hash_table_unref(verifier.sessions);
  g_hash_table_unref(verifier.named);
  g_hash_table_unref(verifier.standards);
  g_hash_table_unref(verifier.adoptions);
  g_hash_table_unref(verifier.accounts);
  g_hash_table_unref(verifier.looks);
  g_hash_table_unref(verifier.observations);
  return done;
}
