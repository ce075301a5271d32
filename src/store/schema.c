// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/schema.h"

#include <string.h>

#define REFUSE(table, what, verb)                                                                  \
  "CREATE TRIGGER " table "_no_" what " BEFORE " verb " ON " table                                 \
  " BEGIN SELECT RAISE(ABORT, 'a row of " table " is never changed or removed'); END;"
#define APPEND_ONLY(table) REFUSE(table, "update", "UPDATE") REFUSE(table, "delete", "DELETE")

#define COMPONENT(name)                                                                            \
  "  " name "_assessed INTEGER NOT NULL,"                                                          \
  "  " name "_given_mp INTEGER NOT NULL,"                                                          \
  "  " name "_possible_mp INTEGER NOT NULL,"

// Names of people stand in person_name alone; everything else knows codes.
static const char book_tables[] =
    "CREATE TABLE book(" // one row: the book's identity and the state of its own chain
    "  one INTEGER PRIMARY KEY CHECK(one = 1),"
    "  uuid TEXT NOT NULL,"
    "  created_ms INTEGER NOT NULL,"
    "  records INTEGER NOT NULL," // how many the chain has
    "  head_link BLOB NOT NULL"   // SHA-256 of its last link
    ") STRICT;"
    "CREATE TABLE book_entry(" // the book's own chain
    "  number INTEGER PRIMARY KEY,"
    "  kind TEXT NOT NULL,"
    "  wall_ms INTEGER NOT NULL,"
    "  body TEXT NOT NULL," // canonical JSON, salt included
    "  body_sha256 BLOB NOT NULL,"
    "  link_sha256 BLOB NOT NULL"
    ") STRICT;"
    "CREATE TABLE person("
    "  code TEXT PRIMARY KEY,"
    "  role TEXT NOT NULL CHECK(role IN ('trainee', 'assessor', 'director')),"
    "  level TEXT,"
    "  cohort TEXT"
    ") STRICT, WITHOUT ROWID;"
    "CREATE TABLE person_name("
    "  code TEXT PRIMARY KEY REFERENCES person(code),"
    "  name TEXT NOT NULL,"
    "  salt BLOB NOT NULL" // goes with the name, so that its hash tells nothing without it
    ") STRICT, WITHOUT ROWID;"
    "CREATE TABLE edition("
    "  rubric TEXT NOT NULL,"
    "  edition INTEGER NOT NULL,"
    "  title TEXT NOT NULL,"
    "  sha256 TEXT NOT NULL," // of the text, hex
    "  text TEXT NOT NULL,"
    "  added_ms INTEGER NOT NULL,"
    "  PRIMARY KEY(rubric, edition)"
    ") STRICT;";

static const char standard_tables[] =
    "CREATE TABLE standard("
    "  id INTEGER PRIMARY KEY,"
    "  rubric TEXT NOT NULL,"
    "  edition INTEGER NOT NULL,"
    "  method TEXT NOT NULL,"
    "  cut_milli INTEGER NOT NULL," // thousandths of a percent
    "  se_milli INTEGER,"
    "  judges INTEGER NOT NULL,"
    "  judges_note TEXT,"
    "  set_on TEXT NOT NULL,"
    "  figures TEXT NOT NULL," // canonical JSON object
    "  added_ms INTEGER NOT NULL,"
    "  added_by TEXT NOT NULL,"
    "  FOREIGN KEY(rubric, edition) REFERENCES edition(rubric, edition)"
    ") STRICT;"
    "CREATE TABLE adoption(" // of a standard for its edition; the last one rules
    "  number INTEGER PRIMARY KEY,"
    "  standard_id INTEGER NOT NULL REFERENCES standard(id),"
    "  adopted_ms INTEGER NOT NULL,"
    "  adopted_by TEXT NOT NULL,"
    "  reason TEXT NOT NULL"
    ") STRICT;"
    "CREATE INDEX adoption_by_standard ON adoption(standard_id);";

// Who may use the web service. Logins come and go and are on no chain; the key to one is with its
// owner alone.
static const char account_tables[] = "CREATE TABLE account("
                                     "  code TEXT PRIMARY KEY REFERENCES person(code),"
                                     "  secret TEXT NOT NULL," // argon2id
                                     "  set_ms INTEGER NOT NULL"
                                     ") STRICT, WITHOUT ROWID;"
                                     "CREATE TABLE login("
                                     "  key_sha256 TEXT PRIMARY KEY," // hex
                                     "  code TEXT NOT NULL REFERENCES account(code),"
                                     "  made_ms INTEGER NOT NULL,"
                                     "  seen_ms INTEGER NOT NULL,"
                                     "  expires_ms INTEGER NOT NULL"
                                     ") STRICT, WITHOUT ROWID;";

static const char session_tables[] =
    "CREATE TABLE session("
    "  code TEXT PRIMARY KEY,"
    "  trainee TEXT NOT NULL REFERENCES person(code),"
    "  rubric TEXT NOT NULL,"
    "  edition INTEGER NOT NULL,"
    "  started_ms INTEGER NOT NULL,"
    "  of_record INTEGER REFERENCES observation(id)," // the one that the director named
    "  FOREIGN KEY(rubric, edition) REFERENCES edition(rubric, edition)"
    ") STRICT, WITHOUT ROWID;"
    "CREATE INDEX session_by_trainee ON session(trainee, rubric, started_ms);"
    "CREATE TABLE look(" // the trainee's word that no observation of one's own will be made
    "  session TEXT PRIMARY KEY REFERENCES session(code),"
    "  trainee TEXT NOT NULL,"
    "  looked_ms INTEGER NOT NULL"
    ") STRICT, WITHOUT ROWID;"
    "CREATE TABLE observation("
    "  id INTEGER PRIMARY KEY,"
    "  session TEXT NOT NULL REFERENCES session(code),"
    "  assessor TEXT NOT NULL REFERENCES person(code),"
    "  mode TEXT NOT NULL CHECK(mode IN ('live', 'video', 'self')),"
    "  records INTEGER NOT NULL," // how many its chain has
    "  events INTEGER NOT NULL,"  // the highest sequence number given
    "  strikes INTEGER NOT NULL,"
    "  amends INTEGER NOT NULL,"
    "  head_link BLOB NOT NULL," // SHA-256 of its last link: a cut of the chain's tail shows
    "  closed_ms INTEGER,"
    "  receipt TEXT,"
    "  UNIQUE(session, assessor, mode)"
    ") STRICT;"
    "CREATE TABLE entry(" // the records of all observations, each a chain
    "  observation_id INTEGER NOT NULL REFERENCES observation(id),"
    "  number INTEGER NOT NULL," // in the chain, from 1
    // Written out with OR, since IN builds a table for every row that goes in.
    "  kind TEXT NOT NULL CHECK(kind = 'event' OR kind = 'open' OR kind = 'close'"
    "    OR kind = 'strike' OR kind = 'amend'),"
    "  seq INTEGER NOT NULL," // of the event meant; 0 for open and close
    "  at_ms INTEGER,"
    "  action TEXT,"
    "  site TEXT,"
    "  item TEXT,"
    "  value TEXT,"
    "  redo INTEGER," // -1: of whatever fits; above 0: of that event
    "  note TEXT,"
    "  details TEXT," // canonical JSON object: thousandths, or words
    "  reason TEXT,"
    "  wall_ms INTEGER NOT NULL,"
    "  \"by\" TEXT NOT NULL,"
    "  source TEXT NOT NULL CHECK(source = 'import' OR source = 'live' OR source = 'video'"
    "    OR source = 'self'),"
    "  id TEXT," // UUID
    "  salt BLOB NOT NULL,"
    "  body_sha256 BLOB NOT NULL,"
    "  link_sha256 BLOB NOT NULL,"
    "  PRIMARY KEY(observation_id, number)"
    ") STRICT, WITHOUT ROWID;"
    "CREATE UNIQUE INDEX entry_by_id ON entry(id) WHERE id IS NOT NULL;"
    "CREATE TABLE result("
    "  observation_id INTEGER NOT NULL REFERENCES observation(id),"
    "  number INTEGER NOT NULL," // from 1; the latest counts
    "  engine_version INTEGER NOT NULL,"
    "  head_link BLOB NOT NULL," // of the observation, as it was scored
    "  issued_ms INTEGER NOT NULL,"
    "  outcome TEXT NOT NULL,"
    "  total TEXT," // fraction
    "  total_percent_milli INTEGER NOT NULL,"
    "  total_ms INTEGER NOT NULL," COMPONENT("steps") COMPONENT("order") COMPONENT("time")
        COMPONENT("technique") COMPONENT("product")
            COMPONENT("rating") "  json TEXT NOT NULL,"
                                "  PRIMARY KEY(observation_id, number)"
                                ") STRICT;";

static const char guards[] =
    APPEND_ONLY("book_entry") APPEND_ONLY("edition") APPEND_ONLY("standard") APPEND_ONLY("adoption")
        APPEND_ONLY("look") APPEND_ONLY("entry") APPEND_ONLY("result");

static const BtSql version_1[] = {
    {"lay out the book", book_tables},
    {"lay out the standards", standard_tables},
    {"lay out the accounts", account_tables},
    {"lay out the sessions", session_tables},
    {"guard the records", guards},
    {"mark the book", "PRAGMA application_id = 0x424c4142; PRAGMA user_version = 1"},
};

#define FIGURES(name) name "_assessed, " name "_given_mp, " name "_possible_mp"

// The figures of a result apart from its text of several kilobytes, which lists of sessions and the
// cohort do not read.
static const BtSql version_2[] = {
    {"bring the book to version 2",
     "CREATE INDEX result_figures ON result(observation_id, number, outcome, total_percent_milli,"
     " total_ms, " FIGURES("steps") ", " FIGURES("order") ", " FIGURES("time") ", " FIGURES(
         "technique") ", " FIGURES("product") ", " FIGURES("rating") ")"},
    {"mark the book", "PRAGMA user_version = 2"},
};

// migrations[n] makes version n + 1 of version n.
static const struct {
  const BtSql *steps;
  gsize n;
} migrations[] = {
    {version_1, G_N_ELEMENTS(version_1)},
    {version_2, G_N_ELEMENTS(version_2)},
};

int bt__schema_version(void) {
  return G_N_ELEMENTS(migrations);
}

static const BtSql read_application_id = {"open the book", "PRAGMA application_id"};
static const BtSql read_version = {"open the book", "PRAGMA user_version"};
static const BtSql count_schema = {"open the book", "SELECT count(*) FROM sqlite_schema"};

bool bt__schema_read(BtDb *db, gint64 *application_id, gint64 *version, bool *empty,
                     GError **error) {
  gint64 things = 0;
  bool done = bt__number(db, &count_schema, &things, error, NO_ARGS) == 1 &&
              bt__number(db, &read_application_id, application_id, error, NO_ARGS) == 1 &&
              bt__number(db, &read_version, version, error, NO_ARGS) == 1;
  *empty = things == 0 && *application_id == 0;
  return done;
}

bool bt__schema_migrate(BtDb *db, gint64 from, GError **error) {
  for (gsize i = (gsize)from; i < G_N_ELEMENTS(migrations); i++) {
    for (gsize step = 0; step < migrations[i].n; step++) {
      if (!bt__db_script(db, &migrations[i].steps[step], error))
        return false;
    }
  }
  return true;
}

// Verification ----------------------------------------------------------------

static const BtSql list_schema = {
    "read the book's layout",
    "SELECT type || ' ' || name, sql FROM sqlite_schema WHERE name NOT GLOB 'sqlite_stat[0-9]'"};

// Name ("trigger entry_no_update") -> SQL of everything in the schema.
static GHashTable *read_layout(BtDb *db, GError **error) {
  g_autoptr(GHashTable) layout = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  g_autoptr(BtQuery) query = bt__query(db, &list_schema, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error)) {
    const char *sql = bt__text(query, 1);
    g_hash_table_insert(layout, bt__text_dup(query, 0), g_strdup(sql ? sql : ""));
  }
  return row == 0 ? g_steal_pointer(&layout) : NULL;
}

static GHashTable *expected_layout(GError **error) {
  BtDb *fresh = bt__db_open("the layout of a new book", BT_DB_SCRATCH, error);
  if (!fresh)
    return NULL;
  GHashTable *layout = bt__schema_migrate(fresh, 0, error) ? read_layout(fresh, error) : NULL;
  bt__db_close(fresh);
  return layout;
}

static void compare_layouts(GHashTable *expected, GHashTable *found, GPtrArray *findings) {
  GHashTableIter iter;
  gpointer name = NULL;
  gpointer sql = NULL;
  g_hash_table_iter_init(&iter, expected);
  while (g_hash_table_iter_next(&iter, &name, &sql)) {
    const char *its_sql = g_hash_table_lookup(found, name);
    if (!its_sql)
      g_ptr_array_add(findings,
                      g_strdup_printf("the book's layout: the %s is missing", (const char *)name));
    else if (strcmp(its_sql, sql) != 0)
      g_ptr_array_add(findings,
                      g_strdup_printf("the book's layout: the %s was changed", (const char *)name));
  }
  g_hash_table_iter_init(&iter, found);
  while (g_hash_table_iter_next(&iter, &name, &sql)) {
    if (!g_hash_table_contains(expected, name))
      g_ptr_array_add(findings,
                      g_strdup_printf("the book's layout: the %s does not belong to a book",
                                      (const char *)name));
  }
}

bool bt__schema_verify(BtDb *db, GPtrArray *findings, GError **error) {
  g_autoptr(GHashTable) expected = expected_layout(error);
  g_autoptr(GHashTable) found = expected ? read_layout(db, error) : NULL;
  if (!found)
    return false;
  compare_layouts(expected, found, findings);
  return true;
}
