// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/base.h>

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void set_too_large(int fd, const char *path, gsize max_bytes, GError **error) {
  struct stat status;
  g_autofree char *size =
      fstat(fd, &status) == 0 && S_ISREG(status.st_mode)
          ? g_strdup_printf("%" G_GINT64_FORMAT " bytes", (gint64)status.st_size)
          : g_strdup("too large");
  g_set_error(error, BT_ERROR, BT_ERROR_FILE,
              "%s: %s; such a file may have at most %" G_GSIZE_FORMAT, path, size, max_bytes);
}

static bool read_all(int fd, const char *path, gsize max_bytes, GByteArray *bytes, GError **error) {
  guint8 block[65536];
  for (;;) {
    ssize_t n = read(fd, block, sizeof block);
    if (n == 0)
      return true;
    if (n < 0 && errno == EINTR)
      continue;
    if (n < 0) {
      g_set_error(error, BT_ERROR, BT_ERROR_FILE, "%s: cannot be read: %s", path,
                  g_strerror(errno));
      return false;
    }
    if ((gsize)n > max_bytes - bytes->len) {
      set_too_large(fd, path, max_bytes, error);
      return false;
    }
    g_byte_array_append(bytes, block, (guint)n);
  }
}

bool bt_file_read(const char *path, gsize max_bytes, char **text, gsize *length, GError **error) {
  int fd = open(path, O_RDONLY | O_CLOEXEC);
  if (fd < 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_FILE, "%s: cannot be opened: %s", path,
                g_strerror(errno));
    return false;
  }
  GByteArray *bytes = g_byte_array_new();
  bool done = read_all(fd, path, max_bytes, bytes, error);
  close(fd);
  if (!done) {
    g_byte_array_unref(bytes);
    return false;
  }
  *length = bytes->len;
  g_byte_array_append(bytes, (const guint8 *)"", 1);
  *text = (char *)g_byte_array_free(bytes, FALSE);
  return true;
}

bool bt_file_write(const char *path, const void *data, gsize length, GError **error) {
  g_autoptr(GError) cause = NULL;
  if (g_file_set_contents_full(path, data, (gssize)length,
                               G_FILE_SET_CONTENTS_CONSISTENT | G_FILE_SET_CONTENTS_DURABLE, 0644,
                               &cause))
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_DISK, "%s: could not be written: %s", path, cause->message);
  return false;
}

gssize bt_utf8_fault(const char *text, gsize length) {
  const char *end = NULL;
  return g_utf8_validate_len(text, length, &end) ? -1 : end - text;
}
