// SPDX-License-Identifier: GPL-3.0-or-later
//
// One recorder at a time: a byte of a file beside the book is locked, one byte an observation. The
// system lets go of it when the process ends, however it ends.
#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <unistd.h>

#include "cli/recorder.h"

int recorder_lock(const char *path, gint64 observation_id, const char *session, GError **error) {
  g_autofree char *name = g_strconcat(path, "-recording", NULL);
  int file = open(name, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
  if (file < 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_FILE, "%s: %s", name, g_strerror(errno));
    return -1;
  }
  struct flock lock = {
      .l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = (off_t)observation_id, .l_len = 1};
  if (fcntl(file, F_OFD_SETLK, &lock) == 0)
    return file;
  if (errno == EACCES || errno == EAGAIN)
    g_set_error(
        error, BT_ERROR, BT_ERROR_BOOK_BUSY,
        "session \"%s\" is being recorded in another window; go on there, or leave it there "
        "first",
        session);
  else
    g_set_error(error, BT_ERROR, BT_ERROR_FILE, "%s: %s", name, g_strerror(errno));
  close(file);
  return -1;
}
