// SPDX-License-Identifier: GPL-3.0-or-later
//
// A consistent copy while recording goes on: made beside its place, checked, put on the disk, and
// only then given its name.
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "store/store.h"

static const BtSql copy_sql = {"copy the book", "VACUUM INTO ?1"};
static const BtSql check_sql = {"check the copy", "PRAGMA integrity_check(1)"};
static const BtSql link_sql = {"compare the copy",
                               "SELECT link_sha256 FROM book_entry WHERE number = ?1"};
static const BtSql last_sql = {"compare the copy", "SELECT max(number) FROM book_entry"};

static bool fail(const char *path, const char *what, GError **error) {
  g_set_error(error, BT_ERROR, BT_ERROR_DISK, "%s: the copy %s; nothing was kept", path, what);
  return false;
}

// Checking --------------------------------------------------------------------

static bool is_sound(BtDb *copy, const char *path, GError **error) {
  g_autoptr(BtQuery) query = bt__query(copy, &check_sql, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  if (row == 1 && strcmp(bt__text(query, 0), "ok") == 0)
    return true;
  return row < 0 ? false : fail(path, "does not pass its check", error);
}

static bool read_link(BtDb *db, gint64 number, guint8 link[BT_SHA256_BYTES], GError **error) {
  g_autoptr(BtQuery) query = bt__query(db, &link_sql, error, ARGS(INT(number)));
  int row = query ? bt__step(query, error) : -1;
  const guint8 *blob = row == 1 ? bt__blob(query, 0, BT_SHA256_BYTES) : NULL;
  if (blob)
    memcpy(link, blob, BT_SHA256_BYTES);
  return blob != NULL;
}

// The copy's last link must stand in the book, at the same number.
static bool has_same_head(BtBook *book, BtDb *copy, const char *path, GError **error) {
  gint64 last = 0;
  guint8 here[BT_SHA256_BYTES];
  guint8 there[BT_SHA256_BYTES];
  if (bt__number(copy, &last_sql, &last, error, NO_ARGS) != 1)
    return false;
  if (read_link(book->db, last, here, error) && read_link(copy, last, there, error) &&
      memcmp(here, there, sizeof here) == 0)
    return true;
  return error && *error ? false : fail(path, "does not agree with the book", error);
}

static bool check_copy(BtBook *book, const char *copy_path, const char *path, GError **error) {
  BtDb *copy = bt__db_open(copy_path, BT_DB_IMMUTABLE, error);
  bool sound = copy && is_sound(copy, path, error) && has_same_head(book, copy, path, error);
  bt__db_close(copy);
  return sound;
}

// Files -----------------------------------------------------------------------

static bool flush(const char *path, int flags) {
  int fd = open(path, flags | O_CLOEXEC);
  bool done = fd >= 0 && fsync(fd) == 0;
  if (fd >= 0)
    close(fd);
  return done;
}

// Renames without overwriting. A file system that cannot promise that is asked first.
static bool rename_new(const char *from, const char *to) {
  if (renameat2(AT_FDCWD, from, AT_FDCWD, to, RENAME_NOREPLACE) == 0)
    return true;
  if (errno != EINVAL && errno != ENOSYS)
    return false;
  if (g_access(to, F_OK) == 0) {
    errno = EEXIST;
    return false;
  }
  return g_rename(from, to) == 0;
}

static bool refuse_existing(const char *to, GError **error) {
  g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
              "%s: this file exists and is not overwritten; name another", to);
  return false;
}

static bool give_name(const char *from, const char *to, GError **error) {
  g_autofree char *folder = g_path_get_dirname(to);
  if (!flush(from, O_RDONLY))
    return fail(to, "could not be put on the disk", error);
  if (rename_new(from, to)) {
    (void)flush(folder, O_RDONLY | O_DIRECTORY);
    return true;
  }
  return errno == EEXIST ? refuse_existing(to, error)
                         : fail(to, "could not be given its name", error);
}

// An empty file of our own beside `to`, which VACUUM INTO fills; so no other can slip into its
// place.
static char *make_room(const char *to, GError **error) {
  g_autofree char *absolute = g_canonicalize_filename(to, NULL); // as SQLite must have it
  g_autofree char *path = g_strconcat(absolute, ".XXXXXX", NULL);
  int fd = g_mkstemp_full(path, O_RDWR | O_CLOEXEC, 0600);
  if (fd < 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_DISK, "%s: the copy cannot be made there: %s", to,
                g_strerror(errno));
    return NULL;
  }
  close(fd);
  return g_steal_pointer(&path);
}

static void remove_copy(const char *copy) {
  g_autofree char *journal = g_strconcat(copy, "-journal", NULL);
  (void)g_unlink(copy);
  (void)g_unlink(journal);
}

bool bt_book_backup(BtBook *book, const char *to, GError **error) {
  if (g_access(to, F_OK) == 0)
    return refuse_existing(to, error);
  g_autofree char *copy = make_room(to, error);
  if (!copy)
    return false;
  bool done = bt__run(book->db, &copy_sql, error, ARGS(TEXT(copy))) &&
              check_copy(book, copy, to, error) && give_name(copy, to, error);
  if (!done)
    remove_copy(copy);
  return done;
}
