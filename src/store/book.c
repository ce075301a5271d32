// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/book.h>

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <sodium.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/names.h"
#include "store/schema.h"
#include "store/store.h"

// Time and chance -------------------------------------------------------------

static gint64 real_now_ms(gpointer user_data) {
  (void)user_data;
  return g_get_real_time() / 1000;
}

gint64 bt__now_ms(BtBook *book) {
  return book->now_ms(book->clock_data);
}

void bt__salt(BtBook *book, guint8 salt[BT_SALT_BYTES]) {
  if (book->salts_left < BT_SALT_BYTES) {
    randombytes_buf(book->salts, sizeof book->salts);
    book->salts_left = sizeof book->salts;
  }
  book->salts_left -= BT_SALT_BYTES;
  memcpy(salt, book->salts + book->salts_left, BT_SALT_BYTES);
}

void bt_book_set_clock(BtBook *book, gint64 (*now_ms)(gpointer user_data), gpointer user_data) {
  book->now_ms = now_ms ? now_ms : real_now_ms;
  book->clock_data = user_data;
}

void bt_book_set_actor(BtBook *book, const char *actor) {
  g_free(book->actor);
  book->actor = g_utf8_make_valid(actor, -1);
}

// Transactions ----------------------------------------------------------------

bool bt__begin(BtBook *book, GError **error) {
  if (book->in_group)
    return bt__db_mark(book->db, error);
  if (book->mode != BT_BOOK_READ)
    return bt__db_begin(book->db, error);
  g_set_error(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY, "%s: the book was opened for reading only",
              book->path);
  return false;
}

bool bt__end(BtBook *book, bool done, GError **error) {
  if (done)
    return book->in_group ? bt__db_keep(book->db, error) : bt__db_commit(book->db, error);
  if (book->in_group)
    bt__db_undo(book->db);
  else
    bt__db_rollback(book->db);
  return false;
}

bool bt_book_group_begin(BtBook *book, GError **error) {
  g_assert(!book->in_group);
  book->in_group = bt__begin(book, error);
  return book->in_group;
}

bool bt_book_group_commit(BtBook *book, GError **error) {
  g_assert(book->in_group);
  book->in_group = false;
  if (bt__db_in_transaction(book->db))
    return bt__db_commit(book->db, error);
  g_set_error(error, BT_ERROR, BT_ERROR_DISK,
              "%s: a fault took the changes back; nothing was kept; try again", book->path);
  return false;
}

bool bt_book_hold(BtBook *book, GError **error) {
  return bt__db_begin_reading(book->db, error);
}

void bt_book_release(BtBook *book) {
  bt__db_rollback(book->db);
}

// Opening ---------------------------------------------------------------------

static const BtSql wal_sql = {"open the book", "PRAGMA journal_mode = WAL"};

// A file's -wal that holds something must be read with its -shm; without it the file is all there
// is.
static bool has_wal(const char *path) {
  g_autofree char *wal = g_strconcat(path, "-wal", NULL);
  struct stat about;
  return stat(wal, &about) == 0 && about.st_size > 0;
}

// A reader needs the -shm file, which it cannot make in a folder that it cannot write. Where nobody
// has left a -wal either, the file can be read as it stands.
static BtDb *open_to_read(const char *path, GError **error) {
  g_autoptr(GError) cause = NULL;
  gint64 id = 0;
  gint64 version = 0;
  bool empty = false;
  BtDb *db = bt__db_open(path, BT_DB_READ, &cause);
  if (db && bt__schema_read(db, &id, &version, &empty, &cause))
    return db;
  bt__db_close(db);
  bool no_shm = g_error_matches(cause, BT_ERROR, BT_ERROR_FILE) ||
                g_error_matches(cause, BT_ERROR, BT_ERROR_BOOK_READ_ONLY);
  if (no_shm && g_access(path, R_OK) == 0) {
    if (!has_wal(path))
      return bt__db_open(path, BT_DB_IMMUTABLE, error);
    g_set_error(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY,
                "%s: its folder cannot be written and %s-wal holds records that are not yet in the "
                "file; copy both files to a folder of your own and open that",
                path, path);
    return NULL;
  }
  g_propagate_error(error, g_steal_pointer(&cause));
  return NULL;
}

static bool check_file(const char *path, BtBookMode mode, GError **error) {
  struct stat about;
  if (stat(path, &about) == 0) {
    if (S_ISREG(about.st_mode))
      return true;
    g_set_error(error, BT_ERROR, BT_ERROR_NOT_A_BOOK, "%s: this is no file; name a book", path);
    return false;
  }
  if (mode == BT_BOOK_CREATE && errno == ENOENT)
    return true;
  if (errno == ENOENT)
    g_set_error(
        error, BT_ERROR, BT_ERROR_FILE,
        "%s: there is no such book; check the name; `benchtally rubric add` and `benchtally "
        "person add` begin a new one",
        path);
  else
    g_set_error(error, BT_ERROR, BT_ERROR_FILE, "%s: the book cannot be opened: %s; check the name",
                path, g_strerror(errno));
  return false;
}

static bool make_folder(const char *path, GError **error) {
  g_autofree char *folder = g_path_get_dirname(path);
  if (g_mkdir_with_parents(folder, 0700) == 0)
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_BOOK_READ_ONLY, "%s: the folder cannot be made: %s", folder,
              g_strerror(errno));
  return false;
}

// Names of people stand in a book, so a new one is for its owner's eyes; who shares it, opens it
// with chmod. (SQLite gives the files beside it the same permissions.)
static void make_private(const char *path) {
  int fd = g_open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
  if (fd >= 0)
    close(fd);
}

static bool is_newer(const char *path, gint64 version, GError **error) {
  if (version <= bt__schema_version())
    return false;
  g_set_error(error, BT_ERROR, BT_ERROR_NOT_A_BOOK,
              "%s: the book is of version %d, made by a newer Benchtally; this one reads up to "
              "version %d; install the newer one",
              path, (int)version, bt__schema_version());
  return true;
}

// Brings the book to the present version; the migration stands on its chain.
static bool migrate(BtBook *book, gint64 from, GError **error) {
  int to = bt__schema_version();
  const BtMember body[] = {MEMBER_INT("from", from), MEMBER_INT("to", to)};
  return bt__schema_migrate(book->db, from, error) &&
         (from > 0 ? bt__book_note(book, "book_migrated", body, G_N_ELEMENTS(body), error)
                   : bt__book_found(book, error));
}

// Looks again inside the transaction: another program may have done it meanwhile.
static bool prepare_to_write(BtBook *book, GError **error) {
  gint64 id = 0;
  gint64 version = 0;
  bool empty = false;
  if (!bt__db_begin(book->db, error))
    return false;
  bool done = bt__schema_read(book->db, &id, &version, &empty, error) &&
              (version == bt__schema_version() || migrate(book, version, error));
  return bt__end(book, done, error);
}

// Whether the open file is a book that this program can use in this mode.
static bool check_book(BtBook *book, GError **error) {
  gint64 id = 0;
  gint64 version = 0;
  bool empty = false;
  if (!bt__schema_read(book->db, &id, &version, &empty, error))
    return false;
  bool make = empty && book->mode == BT_BOOK_CREATE;
  if (!make && (id != BT_APPLICATION_ID || version < 1)) {
    g_set_error(error, BT_ERROR, BT_ERROR_NOT_A_BOOK,
                "%s: the file is no book of Benchtally; name another", book->path);
    return false;
  }
  if (is_newer(book->path, version, error))
    return false;
  if (book->mode != BT_BOOK_READ)
    return bt__db_script(book->db, &wal_sql, error) &&
           (version == bt__schema_version() || prepare_to_write(book, error));
  if (version == bt__schema_version())
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_NOT_A_BOOK,
              "%s: the book is of version %d and this program reads version %d; copy the file for "
              "safety, then bring it forward with a command that writes, such as `benchtally "
              "rubric add`",
              book->path, (int)version, bt__schema_version());
  return false;
}

static void free_names(gpointer names) {
  bt__names_free(names);
}

static void free_rubric(gpointer rubric) {
  bt_rubric_free(rubric);
}

static BtBook *new_book(const char *path, BtBookMode mode) {
  BtBook *book = g_new0(BtBook, 1);
  book->path = g_strdup(path);
  book->mode = mode;
  book->text = g_string_sized_new(1024);
  book->names = g_hash_table_new_full(NULL, NULL, NULL, free_names);
  book->rubrics = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_rubric);
  bt_book_set_clock(book, NULL, NULL);
  bt_book_set_actor(book, g_get_user_name());
  return book;
}

BtBook *bt_book_open(const char *path, BtBookMode mode, GError **error) {
  if (!check_file(path, mode, error) || (mode == BT_BOOK_CREATE && !make_folder(path, error)))
    return NULL;
  if (mode == BT_BOOK_CREATE)
    make_private(path);
  g_autoptr(BtBook) book = new_book(path, mode);
  if (mode == BT_BOOK_READ)
    book->db = open_to_read(path, error);
  else
    book->db = bt__db_open(path, mode == BT_BOOK_CREATE ? BT_DB_CREATE : BT_DB_WRITE, error);
  if (!book->db || !check_book(book, error))
    return NULL;
  return g_steal_pointer(&book);
}

void bt_book_close(BtBook *book) {
  if (!book)
    return;
  bt__db_close(book->db);
  g_hash_table_unref(book->names);
  g_hash_table_unref(book->rubrics);
  g_string_free(book->text, TRUE);
  g_free(book->actor);
  g_free(book->path);
  g_free(book);
}

const char *bt_book_path(const BtBook *book) {
  return book->path;
}
