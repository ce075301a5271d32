// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/sql.h"

#include <glib/gstdio.h>
#include <sqlite3.h>
#include <string.h>
#include <unistd.h>

#define BUSY_MS 5000

struct BtDb {
  sqlite3 *handle;
  char *path;
  int busy_ms;
  bool writes;
  GHashTable *queries; // BtSql * -> BtQuery *
};

struct BtQuery {
  BtDb *db;
  const BtSql *sql;
  sqlite3_stmt *statement;
  int bind_status; // the first failure of a binding
  bool in_use;
  bool hidden_text; // in what was read of the row that stands ready
};

// Errors ----------------------------------------------------------------------

// A writer that cannot open a file beside a book that is there lacks the right to write in its
// folder.
static int meaning_of(const BtDb *db, int status) {
  bool folder = (status & 0xff) == SQLITE_CANTOPEN && db->writes && g_access(db->path, F_OK) == 0;
  return folder ? SQLITE_READONLY : status;
}

static BtErrorCode code_of(int status) {
  switch (status & 0xff) {
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    return BT_ERROR_BOOK_BUSY;
  case SQLITE_READONLY:
    return BT_ERROR_BOOK_READ_ONLY;
  case SQLITE_CANTOPEN:
  case SQLITE_PERM:
    return BT_ERROR_FILE;
  case SQLITE_FULL:
  case SQLITE_IOERR:
    return BT_ERROR_DISK;
  case SQLITE_NOTADB:
    return BT_ERROR_NOT_A_BOOK;
  case SQLITE_CONSTRAINT:
    return BT_ERROR_CONFLICT;
  default:
    return BT_ERROR_DATABASE;
  }
}

// What happened and what to do about it, for people.
static char *words_of(BtDb *db, int status) {
  switch (status & 0xff) {
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    return g_strdup("another program is writing to the book; try again when it has finished");
  case SQLITE_READONLY:
    return g_strdup("the book or its folder cannot be written; check their permissions");
  case SQLITE_CANTOPEN:
  case SQLITE_PERM:
    return g_strdup(
        "the file cannot be opened; check that it and its folder exist and may be read");
  case SQLITE_FULL:
    return g_strdup("the disk is full; nothing was kept");
  case SQLITE_IOERR:
    return g_strdup_printf("the disk reported a fault (%s); nothing was kept",
                           sqlite3_errstr(sqlite3_extended_errcode(db->handle)));
  case SQLITE_NOTADB:
    return g_strdup("the file is no book");
  case SQLITE_CORRUPT:
    return g_strdup("the book is damaged; restore the latest backup; `benchtally verify` tells "
                    "more");
  case SQLITE_CONSTRAINT:
    return g_strdup_printf("the book's own rules refuse it (%s)", sqlite3_errmsg(db->handle));
  case SQLITE_NOMEM:
    return g_strdup("memory ran out");
  default:
    return g_strdup_printf("%s (SQLite %d)", sqlite3_errmsg(db->handle), status);
  }
}

static void set_error(BtDb *db, int status, const char *purpose, GError **error) {
  status = meaning_of(db, status);
  g_autofree char *words = words_of(db, status);
  g_set_error(error, BT_ERROR, (gint)code_of(status), "%s: could not %s: %s", db->path, purpose,
              words);
}

// Handles ---------------------------------------------------------------------

static void free_query(gpointer data) {
  BtQuery *query = data;
  sqlite3_finalize(query->statement);
  g_free(query);
}

// What SQLite is to open. An absolute name, since ":memory:", "file:..." and "" mean something else
// to it. Caller frees.
static char *name_for_sqlite(const BtDb *db, BtDbMode mode) {
  if (mode == BT_DB_SCRATCH)
    return g_strdup(":memory:");
  g_autofree char *absolute = g_canonicalize_filename(db->path, NULL);
  if (mode != BT_DB_IMMUTABLE)
    return g_steal_pointer(&absolute);
  g_autofree char *escaped = g_uri_escape_string(absolute, "/", FALSE);
  return g_strdup_printf("file://%s?immutable=1", escaped);
}

static int open_handle(BtDb *db, BtDbMode mode) {
  static const int flags_of[] = {
      [BT_DB_READ] = SQLITE_OPEN_READONLY,
      [BT_DB_WRITE] = SQLITE_OPEN_READWRITE,
      [BT_DB_CREATE] = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
      [BT_DB_SCRATCH] = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
      [BT_DB_IMMUTABLE] = SQLITE_OPEN_READONLY | SQLITE_OPEN_URI,
  };
  g_autofree char *name = name_for_sqlite(db, mode);
  return sqlite3_open_v2(name, &db->handle,
                         flags_of[mode] | SQLITE_OPEN_EXRESCODE | SQLITE_OPEN_NOMUTEX, NULL);
}

static const BtSql settings = {
    "open the book", "PRAGMA foreign_keys = ON;"
                     "PRAGMA recursive_triggers = ON;" // so that REPLACE meets the DELETE triggers
                     "PRAGMA synchronous = FULL;"
                     "PRAGMA trusted_schema = OFF;"
                     "PRAGMA page_size = 8192;" // of a new book; results fit it better
                     "PRAGMA cache_size = -16384;"
                     "PRAGMA temp_store = MEMORY;"
                     "PRAGMA journal_size_limit = 4194304;"};

BtDb *bt__db_open(const char *path, BtDbMode mode, GError **error) {
  BtDb *db = g_new0(BtDb, 1);
  db->path = g_strdup(path);
  db->writes = mode == BT_DB_WRITE || mode == BT_DB_CREATE;
  db->queries = g_hash_table_new_full(NULL, NULL, NULL, free_query);
  int status = open_handle(db, mode);
  if (status == SQLITE_OK && db->writes && sqlite3_db_readonly(db->handle, "main") == 1)
    status = SQLITE_READONLY; // SQLite would fall back to reading
  if (status != SQLITE_OK) {
    set_error(db, status, "open the book", error);
    bt__db_close(db);
    return NULL;
  }
  bt__db_set_busy_ms(db, BUSY_MS);
  sqlite3_db_config(db->handle, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
  if (!bt__db_script(db, &settings, error)) {
    bt__db_close(db);
    return NULL;
  }
  return db;
}

void bt__db_close(BtDb *db) {
  if (!db)
    return;
  g_hash_table_unref(db->queries);
  sqlite3_close(db->handle);
  g_free(db->path);
  g_free(db);
}

void bt__db_set_busy_ms(BtDb *db, int ms) {
  db->busy_ms = ms;
  sqlite3_busy_timeout(db->handle, ms);
}

// Transactions ----------------------------------------------------------------

static const BtSql begin_sql = {"begin to write", "BEGIN IMMEDIATE"};
static const BtSql begin_reading_sql = {"begin to read", "BEGIN DEFERRED"};
static const BtSql commit_sql = {"keep the change", "COMMIT"};
static const BtSql rollback_sql = {"take the change back", "ROLLBACK"};

bool bt__db_script(BtDb *db, const BtSql *script, GError **error) {
  int status = sqlite3_exec(db->handle, script->sql, NULL, NULL, NULL);
  if (status != SQLITE_OK)
    set_error(db, status, script->purpose, error);
  return status == SQLITE_OK;
}

bool bt__db_begin(BtDb *db, GError **error) {
  return bt__db_script(db, &begin_sql, error);
}

bool bt__db_begin_reading(BtDb *db, GError **error) {
  return bt__db_script(db, &begin_reading_sql, error);
}

bool bt__db_commit(BtDb *db, GError **error) {
  if (bt__db_script(db, &commit_sql, error))
    return true;
  bt__db_rollback(db);
  return false;
}

// A failed statement may have rolled back already, as SQLite does when the disk is full.
void bt__db_rollback(BtDb *db) {
  if (!sqlite3_get_autocommit(db->handle))
    (void)bt__db_script(db, &rollback_sql, NULL);
}

// Savepoints ------------------------------------------------------------------

static const BtSql mark_sql = {"begin to write", "SAVEPOINT call"};
static const BtSql keep_sql = {"keep the change", "RELEASE call"};
static const BtSql undo_sql = {"take the change back", "ROLLBACK TO call"};

bool bt__db_in_transaction(const BtDb *db) {
  return sqlite3_get_autocommit(db->handle) == 0;
}

bool bt__db_mark(BtDb *db, GError **error) {
  if (bt__db_in_transaction(db))
    return bt__run(db, &mark_sql, error, NO_ARGS);
  g_set_error(error, BT_ERROR, BT_ERROR_DISK,
              "%s: an earlier fault took the changes back that this one was to be kept with; "
              "nothing was kept; try again",
              db->path);
  return false;
}

bool bt__db_keep(BtDb *db, GError **error) {
  if (bt__run(db, &keep_sql, error, NO_ARGS))
    return true;
  bt__db_undo(db);
  return false;
}

void bt__db_undo(BtDb *db) {
  if (bt__db_in_transaction(db) && bt__run(db, &undo_sql, NULL, NO_ARGS))
    (void)bt__run(db, &keep_sql, NULL, NO_ARGS);
}

// Statements ------------------------------------------------------------------

static int bind_one(sqlite3_stmt *statement, int place, const BtArg *arg,
                    sqlite3_destructor_type keep) {
  switch (arg->kind) {
  case BT_ARG_INT:
    return sqlite3_bind_int64(statement, place, arg->number);
  case BT_ARG_TEXT: // NULL text binds NULL
    return sqlite3_bind_text(statement, place, arg->bytes, -1, keep);
  case BT_ARG_BLOB:
    return sqlite3_bind_blob64(statement, place, arg->bytes, arg->length, keep);
  case BT_ARG_NULL:
    break;
  }
  return sqlite3_bind_null(statement, place);
}

static void bind_all(BtQuery *query, const BtArg *args, gsize n, sqlite3_destructor_type keep) {
  query->bind_status = SQLITE_OK;
  for (gsize i = 0; i < n; i++) {
    int status = bind_one(query->statement, (int)i + 1, &args[i], keep);
    if (query->bind_status == SQLITE_OK)
      query->bind_status = status;
  }
}

static BtQuery *prepare(BtDb *db, const BtSql *sql, GError **error) {
  BtQuery *query = g_hash_table_lookup(db->queries, sql);
  if (query)
    return query;
  sqlite3_stmt *statement = NULL;
  int status =
      sqlite3_prepare_v3(db->handle, sql->sql, -1, SQLITE_PREPARE_PERSISTENT, &statement, NULL);
  if (status != SQLITE_OK) {
    set_error(db, status, sql->purpose, error);
    return NULL;
  }
  query = g_new0(BtQuery, 1);
  *query = (BtQuery){.db = db, .sql = sql, .statement = statement};
  g_hash_table_insert(db->queries, (gpointer)sql, query);
  return query;
}

static BtQuery *start(BtDb *db, const BtSql *sql, GError **error, const BtArg *args, gsize n,
                      sqlite3_destructor_type keep) {
  BtQuery *query = prepare(db, sql, error);
  if (!query)
    return NULL;
  g_assert(!query->in_use);
  query->in_use = true;
  bind_all(query, args, n, keep);
  return query;
}

BtQuery *bt__query(BtDb *db, const BtSql *sql, GError **error, const BtArg *args, gsize n) {
  return start(db, sql, error, args, n, SQLITE_TRANSIENT);
}

int bt__step(BtQuery *query, GError **error) {
  int status = query->bind_status;
  query->hidden_text = false;
  if (status == SQLITE_OK)
    status = sqlite3_step(query->statement);
  if (status == SQLITE_ROW)
    return 1;
  if (status == SQLITE_DONE)
    return 0;
  set_error(query->db, status, query->sql->purpose, error);
  return -1;
}

void bt__query_done(BtQuery *query) {
  if (!query)
    return;
  sqlite3_reset(query->statement);
  sqlite3_clear_bindings(query->statement);
  query->in_use = false;
}

bool bt__run(BtDb *db, const BtSql *sql, GError **error, const BtArg *args, gsize n) {
  g_autoptr(BtQuery) query = start(db, sql, error, args, n, SQLITE_STATIC);
  return query && bt__step(query, error) == 0;
}

int bt__number(BtDb *db, const BtSql *sql, gint64 *value, GError **error, const BtArg *args,
               gsize n) {
  g_autoptr(BtQuery) query = bt__query(db, sql, error, args, n);
  int row = query ? bt__step(query, error) : -1;
  if (row == 1)
    *value = bt__int(query, 0);
  return row;
}

gint64 bt__int(BtQuery *query, int column) {
  return sqlite3_column_int64(query->statement, column);
}

bool bt__is_null(BtQuery *query, int column) {
  return sqlite3_column_type(query->statement, column) == SQLITE_NULL;
}

const char *bt__text(BtQuery *query, int column) {
  const char *text = (const char *)sqlite3_column_text(query->statement, column);
  if (text && strlen(text) != (gsize)sqlite3_column_bytes(query->statement, column))
    query->hidden_text = true;
  return text;
}

const char *bt__text_needed(BtQuery *query, int column) {
  const char *text = bt__text(query, column);
  return text ? text : "";
}

bool bt__row_whole(const BtQuery *query) {
  return !query->hidden_text;
}

char *bt__text_dup(BtQuery *query, int column) {
  return g_strdup(bt__text(query, column));
}

const guint8 *bt__blob(BtQuery *query, int column, int length) {
  const guint8 *bytes = sqlite3_column_blob(query->statement, column);
  return sqlite3_column_bytes(query->statement, column) == length ? bytes : NULL;
}

gint64 bt__last_id(BtDb *db) {
  return sqlite3_last_insert_rowid(db->handle);
}

void bt__db_checkpoint(BtDb *db) {
  sqlite3_busy_timeout(db->handle, 0);
  sqlite3_wal_checkpoint_v2(db->handle, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
  sqlite3_busy_timeout(db->handle, db->busy_ms);
}
