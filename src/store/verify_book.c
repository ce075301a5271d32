// SPDX-License-Identifier: GPL-3.0-or-later
//
// The book's own chain, and the tables it vouches for row by row: the head, people, editions,
// sessions.
#include <string.h>

#include "store/verify.h"

// What the chain says ---------------------------------------------------------

static void keep(GHashTable *bodies, const char *key, json_t *body) {
  if (key)
    g_hash_table_insert(bodies, g_strdup(key), json_incref(body));
}

static void forget(GHashTable *bodies, const char *key) {
  if (key)
    g_hash_table_remove(bodies, key);
}

static void keep_numbered(GHashTable *bodies, const char *name, json_t *body) {
  g_autofree char *key = g_strdup_printf("%" G_GINT64_FORMAT, bt__body_int(body, name));
  keep(bodies, key, body);
}

static BtVouched *vouched_of(BtVerifier *verifier, gint64 id) {
  BtVouched *vouched = g_hash_table_lookup(verifier->observations, &id);
  if (!vouched) {
    vouched = g_new0(BtVouched, 1);
    vouched->results = g_ptr_array_new_with_free_func((GDestroyNotify)json_decref);
    g_hash_table_insert(verifier->observations, g_memdup2(&id, sizeof id), vouched);
  }
  return vouched;
}

static void remember_opening(BtVerifier *verifier, json_t *body) {
  BtVouched *vouched = vouched_of(verifier, bt__body_int(body, "observation"));
  const char *session = bt__body_text(body, "session");
  if (!vouched->opened)
    vouched->opened = json_incref(body);
  if (session && !g_hash_table_contains(verifier->sessions, session))
    keep(verifier->sessions, session, body);
}

static void remember(BtVerifier *verifier, const char *kind, json_t *body) {
  if (strcmp(kind, "person_added") == 0 || strcmp(kind, "person_amended") == 0) {
    keep(verifier->people, bt__body_text(body, "code"), body);
  } else if (strcmp(kind, "edition_added") == 0) {
    g_autofree char *key = g_strdup_printf("%s %" G_GINT64_FORMAT, bt__body_text(body, "rubric"),
                                           bt__body_int(body, "edition"));
    keep(verifier->editions, key, body);
  } else if (strcmp(kind, "standard_added") == 0) {
    keep_numbered(verifier->standards, "standard", body);
  } else if (strcmp(kind, "standard_adopted") == 0) {
    keep_numbered(verifier->adoptions, "adoption", body);
  } else if (strcmp(kind, "account_set") == 0) {
    keep(verifier->accounts, bt__body_text(body, "code"), body);
  } else if (strcmp(kind, "account_removed") == 0) {
    forget(verifier->accounts, bt__body_text(body, "code"));
  } else if (strcmp(kind, "session_looked") == 0) {
    keep(verifier->looks, bt__body_text(body, "session"), body);
  } else if (strcmp(kind, "observation_opened") == 0) {
    remember_opening(verifier, body);
  } else if (strcmp(kind, "observation_closed") == 0 ||
             strcmp(kind, "observation_corrected") == 0) {
    BtVouched *vouched = vouched_of(verifier, bt__body_int(body, "observation"));
    g_ptr_array_add(vouched->results, json_incref(body));
  } else if (strcmp(kind, "record_named") == 0) {
    keep(verifier->named, bt__body_text(body, "session"), body);
  }
}

// The chain -------------------------------------------------------------------

static const BtSql read_chain = {"read the book's own chain",
                                 "SELECT number, kind, wall_ms, body, body_sha256, link_sha256 "
                                 "FROM book_entry ORDER BY number"};
static const BtSql read_book = {"read the head of the book",
                                "SELECT uuid, created_ms, records, head_link FROM book "
                                "WHERE one = 1"};
static const BtSql count_books = {"read the head of the book", "SELECT count(*) FROM book"};

static const char own_chain[] = "the book's own chain";

static void verify_record(BtVerifier *verifier, BtQuery *query, BtWalk *walk) {
  static const guint8 nothing[BT_SHA256_BYTES] = {0};
  gint64 number = bt__int(query, 0);
  const char *kind = bt__text_needed(query, 1);
  const char *text = bt__text_needed(query, 3);
  const guint8 *body_stored = bt__blob(query, 4, BT_SHA256_BYTES);
  const guint8 *link_stored = bt__blob(query, 5, BT_SHA256_BYTES);
  bt__walk_to(verifier, walk, own_chain, number);
  guint8 body_sha256[BT_SHA256_BYTES];
  bt_sha256(text, strlen(text), body_sha256);
  const BtLink link = {body_stored ? body_stored : nothing, NULL, kind, number, bt__int(query, 2)};
  bool fits = bt__walk_step(walk, verifier->book->text, &link, body_sha256,
                            link_stored ? link_stored : nothing);
  bool sound = body_stored && memcmp(body_stored, body_sha256, BT_SHA256_BYTES) == 0;
  if (!fits || !sound || !bt__row_whole(query))
    bt__finding(verifier, "%s: record %" G_GINT64_FORMAT " (%s) was changed", own_chain, number,
                kind);
  json_t *body = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
  remember(verifier, kind, body);
  json_decref(body);
  verifier->report->records_checked++;
}

static void compare_head(BtVerifier *verifier, BtQuery *query, const BtWalk *walk,
                         const json_t *created) {
  gint64 records = bt__int(query, 2);
  const guint8 *head = bt__blob(query, 3, BT_SHA256_BYTES);
  if (!bt__same_text(query, 0, created, "book") || !bt__same_int(query, 1, created, "created_ms") ||
      !bt__row_whole(query))
    bt__finding(verifier, "the head of the book: its identity or its date was changed");
  bool fits = head && memcmp(head, walk->stored, BT_SHA256_BYTES) == 0;
  if (records != walk->number)
    bt__finding(verifier,
                "the head of the book counts %" G_GINT64_FORMAT
                " records, but its chain has %" G_GINT64_FORMAT,
                records, walk->number);
  if (!fits)
    bt__finding(verifier, "the head of the book does not fit the last record of its chain");
  if (!fits && records > walk->number)
    bt__find_missing(verifier, own_chain, "record", walk->number + 1, records);
}

static bool verify_head(BtVerifier *verifier, const BtWalk *walk, const json_t *created,
                        GError **error) {
  gint64 books = 0;
  g_autoptr(BtQuery) query = bt__query(verifier->book->db, &read_book, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  if (row < 0 || bt__number(verifier->book->db, &count_books, &books, error, NO_ARGS) != 1)
    return false;
  if (row == 0)
    bt__finding(verifier, "the head of the book is missing");
  else
    compare_head(verifier, query, walk, created);
  if (books > 1)
    bt__finding(verifier, "the head of the book stands there %d times", (int)books);
  return true;
}

// The body of the first record; NULL when it cannot be read. Caller frees.
static json_t *first_body(BtVerifier *verifier) {
  g_autoptr(BtQuery) query = bt__query(verifier->book->db, &read_chain, NULL, NO_ARGS);
  return query && bt__step(query, NULL) == 1 ? json_loads(bt__text_needed(query, 3), 0, NULL)
                                             : NULL;
}

bool bt__verify_book_chain(BtVerifier *verifier, GError **error) {
  BtWalk walk = {0};
  json_t *created = first_body(verifier);
  g_autoptr(BtQuery) query = bt__query(verifier->book->db, &read_chain, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    verify_record(verifier, query, &walk);
  bool done = row == 0 && verify_head(verifier, &walk, created, error);
  json_decref(created);
  return done;
}

// People ----------------------------------------------------------------------

static const BtSql read_people = {"read the people",
                                  "SELECT p.code, p.role, p.level, p.cohort, n.name, n.salt "
                                  "FROM person AS p LEFT JOIN person_name AS n ON n.code = p.code"};
static const BtSql stray_names = {
    "read the names", "SELECT code FROM person_name WHERE code NOT IN (SELECT code FROM person)"};

static void verify_name(BtVerifier *verifier, BtQuery *query, const char *code,
                        const json_t *body) {
  const char *name = bt__text(query, 4);
  const guint8 *salt = bt__blob(query, 5, BT_SALT_BYTES);
  const char *expected = bt__body_text(body, "name_sha256");
  char hex[BT_SHA256_HEX + 1] = "";
  if (name && salt) {
    guint8 sha256[BT_SHA256_BYTES];
    bt__name_sha256(name, salt, sha256);
    bt_hex(sha256, sizeof sha256, hex);
  }
  if (expected && !name)
    bt__finding(verifier, "the name of person %s is missing", code);
  else if (!expected && name)
    bt__finding(verifier, "the name of person %s was put in from outside", code);
  else if (expected && strcmp(expected, hex) != 0)
    bt__finding(verifier, "the name of person %s was changed", code);
}

static void verify_person(BtVerifier *verifier, BtQuery *query, const char *code,
                          const json_t *body) {
  if (!bt__same_text(query, 1, body, "role"))
    bt__finding(verifier, "person %s: the role was changed", code);
  if (!bt__same_text(query, 2, body, "level"))
    bt__finding(verifier, "person %s: the level was changed", code);
  if (!bt__same_text(query, 3, body, "cohort"))
    bt__finding(verifier, "person %s: the cohort was changed", code);
  verify_name(verifier, query, code, body);
}

// Reports what `expected` has and no row did.
static void report_missing(BtVerifier *verifier, GHashTable *expected, GHashTable *seen,
                           const char *what) {
  GHashTableIter iter;
  gpointer key = NULL;
  g_hash_table_iter_init(&iter, expected);
  while (g_hash_table_iter_next(&iter, &key, NULL)) {
    if (!g_hash_table_contains(seen, key))
      bt__finding(verifier, "%s %s is missing", what, (const char *)key);
  }
}

static void verify_row(BtVerifier *verifier, BtQuery *query, BtVerifyRow compare,
                       GHashTable *expected, const char *what, GHashTable *seen) {
  const char *key = bt__text_needed(query, 0);
  const json_t *body = g_hash_table_lookup(expected, key);
  g_hash_table_add(seen, g_strdup(key));
  if (!body) {
    bt__finding(verifier, "%s %s was put in from outside", what, key);
    return;
  }
  compare(verifier, query, key, body);
  if (!bt__row_whole(query))
    bt__finding(verifier, "%s %s: a text was changed: it goes on behind its end", what, key);
}

bool bt__verify_table(BtVerifier *verifier, const BtSql *sql, BtVerifyRow compare,
                      GHashTable *expected, const char *what, GError **error) {
  g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  g_autoptr(BtQuery) query = bt__query(verifier->book->db, sql, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    verify_row(verifier, query, compare, expected, what, seen);
  if (row == 0)
    report_missing(verifier, expected, seen, what);
  return row == 0;
}

bool bt__verify_people(BtVerifier *verifier, GError **error) {
  if (!bt__verify_table(verifier, &read_people, verify_person, verifier->people, "person", error))
    return false;
  g_autoptr(BtQuery) query = bt__query(verifier->book->db, &stray_names, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    bt__finding(verifier, "the name of person %s belongs to nobody", bt__text(query, 0));
  return row == 0;
}

// Editions --------------------------------------------------------------------

static const BtSql read_editions = {
    "read the editions",
    "SELECT rubric || ' ' || edition, title, sha256, text, added_ms FROM edition"};

static void verify_edition(BtVerifier *verifier, BtQuery *query, const char *key,
                           const json_t *body) {
  if (!bt__same_hash(query, 3, body, "sha256"))
    bt__finding(verifier, "rubric edition %s: the text was changed", key);
  if (!bt__same_text(query, 1, body, "title") || !bt__same_text(query, 2, body, "sha256") ||
      !bt__same_int(query, 4, body, "added_ms"))
    bt__finding(verifier, "rubric edition %s: the title, the hash or the date was changed", key);
}

bool bt__verify_editions(BtVerifier *verifier, GError **error) {
  return bt__verify_table(verifier, &read_editions, verify_edition, verifier->editions,
                          "rubric edition", error);
}

// Sessions --------------------------------------------------------------------

static const BtSql read_sessions = {
    "read the sessions",
    "SELECT code, trainee, rubric, edition, started_ms, of_record FROM session"};

static void verify_session(BtVerifier *verifier, BtQuery *query, const char *code,
                           const json_t *body) {
  const json_t *named = g_hash_table_lookup(verifier->named, code);
  if (!bt__same_text(query, 1, body, "trainee"))
    bt__finding(verifier, "session %s: the trainee was changed", code);
  if (!bt__same_text(query, 2, body, "rubric") || !bt__same_int(query, 3, body, "edition"))
    bt__finding(verifier, "session %s: the rubric or its edition was changed", code);
  if (!bt__same_int(query, 4, body, "started_ms"))
    bt__finding(verifier, "session %s: the start was changed", code);
  if (!bt__same_int(query, 5, named, "observation"))
    bt__finding(verifier, "session %s: its observation of record was changed", code);
}

bool bt__verify_sessions(BtVerifier *verifier, GError **error) {
  return bt__verify_table(verifier, &read_sessions, verify_session, verifier->sessions, "session",
                          error);
}
