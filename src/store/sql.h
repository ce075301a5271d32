// SPDX-License-Identifier: GPL-3.0-or-later
//
// The one door to SQL. Statements are constants with a purpose in words, are prepared once a handle
// and bound, never formatted; every failure becomes an error that names the book and the purpose.
#ifndef STORE_SQL_H
#define STORE_SQL_H

#include <benchtally/base.h>

typedef struct BtDb BtDb;
typedef struct BtQuery BtQuery;

// A statement: what it is for ("list the sessions", as after "could not") and its text. Statements
// are told apart by address, so each is a static constant.
typedef struct {
  const char *purpose;
  const char *sql;
} BtSql;

// A value to bind; text and blobs are borrowed. NULL text binds NULL.
typedef struct {
  enum { BT_ARG_NULL, BT_ARG_INT, BT_ARG_TEXT, BT_ARG_BLOB } kind;
  gint64 number;
  const void *bytes;
  gsize length;
} BtArg;
#define INT(value)                                                                                 \
  (BtArg) {                                                                                        \
    .kind = BT_ARG_INT, .number = (value)                                                          \
  }
// NULL when it is not `present`.
#define INT_IF(present, value)                                                                     \
  (BtArg) {                                                                                        \
    .kind = (present) ? BT_ARG_INT : BT_ARG_NULL, .number = (value)                                \
  }
#define TEXT(text)                                                                                 \
  (BtArg) {                                                                                        \
    .kind = BT_ARG_TEXT, .bytes = (text)                                                           \
  }
#define BLOB(data, n)                                                                              \
  (BtArg) {                                                                                        \
    .kind = BT_ARG_BLOB, .bytes = (data), .length = (n)                                            \
  }
#define ARGS(...) (const BtArg[]){__VA_ARGS__}, G_N_ELEMENTS(((const BtArg[]){__VA_ARGS__}))
#define NO_ARGS   NULL, 0

typedef enum {
  BT_DB_READ,     // read-only
  BT_DB_WRITE,    // must exist
  BT_DB_CREATE,   // made when missing
  BT_DB_SCRATCH,  // in memory, gone when closed; the path is its name in errors
  BT_DB_IMMUTABLE // read-only, of a file that nobody can write; no lock and no -shm file is needed
} BtDbMode;

// Opens the database file; `path` is a file's name, whatever it looks like. The journal mode is
// left as it is.
BtDb *bt__db_open(const char *path, BtDbMode mode, GError **error);
void bt__db_close(BtDb *db); // NULL is allowed
// How long a statement waits for another program's lock.
void bt__db_set_busy_ms(BtDb *db, int ms);

// Runs several statements, separated by ';', of a constant text.
bool bt__db_script(BtDb *db, const BtSql *script, GError **error);

// A transaction that writes; at most one at a time.
bool bt__db_begin(BtDb *db, GError **error);
bool bt__db_commit(BtDb *db, GError **error); // rolled back when it fails
void bt__db_rollback(BtDb *db);
// Until the rollback, all that is read is of one moment.
bool bt__db_begin_reading(BtDb *db, GError **error);

// Within a transaction that writes: a mark, up to which what follows is kept or undone. Not nested.
bool bt__db_mark(BtDb *db, GError **error); // DISK: the transaction is gone, as after a full disk
bool bt__db_keep(BtDb *db, GError **error); // undone when it fails
void bt__db_undo(BtDb *db);
bool bt__db_in_transaction(const BtDb *db);

// Prepares (once), binds copies of `args`, and is ready to step. NULL with `error`.
BtQuery *bt__query(BtDb *db, const BtSql *sql, GError **error, const BtArg *args, gsize n);
// 1: a row stands ready; 0: no more; -1 with `error`.
int bt__step(BtQuery *query, GError **error);
void bt__query_done(BtQuery *query); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtQuery, bt__query_done)
// Runs a statement that gives no rows; `args` are not copied.
bool bt__run(BtDb *db, const BtSql *sql, GError **error, const BtArg *args, gsize n);
// Columns of the row that stands ready; text and blobs are borrowed until the next step.
gint64 bt__int(BtQuery *query, int column);
bool bt__is_null(BtQuery *query, int column);
const char *bt__text(BtQuery *query, int column); // NULL for NULL
char *bt__text_dup(BtQuery *query, int column);
// Of a column that the layout never leaves empty; "" where the layout was tampered with and it is.
const char *bt__text_needed(BtQuery *query, int column);
// Whether every text that was read of this row ends where C sees its end: false where one goes on
// behind a NUL, which no program of ours writes.
bool bt__row_whole(const BtQuery *query);
// The blob if it has exactly `length` bytes, else NULL.
const guint8 *bt__blob(BtQuery *query, int column, int length);

gint64 bt__last_id(BtDb *db);
// 1 or 0 by whether the query gives a row whose first column goes to *value; -1 with `error`.
int bt__number(BtDb *db, const BtSql *sql, gint64 *value, GError **error, const BtArg *args,
               gsize n);
// Moves what the log beside the database holds into it, as far as readers allow. Nothing depends on
// it.
void bt__db_checkpoint(BtDb *db);

#endif
