// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/line_reader.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define BLOCK_BYTES (64 * 1024)

bool bt__line_reader_open(BtLineReader *reader, const char *path, GError **error) {
  *reader = (BtLineReader){.path = path};
  reader->fd = open(path, O_RDONLY | O_CLOEXEC);
  if (reader->fd < 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_FILE, "%s: cannot be opened: %s", path,
                g_strerror(errno));
    return false;
  }
  struct stat status;
  if (fstat(reader->fd, &status) == 0 && S_ISREG(status.st_mode))
    reader->all_bytes = status.st_size;
  reader->size = 2 * BLOCK_BYTES;
  reader->buffer = g_malloc(reader->size);
  return true;
}

void bt__line_reader_close(BtLineReader *reader) {
  if (reader->fd >= 0)
    close(reader->fd);
  reader->fd = -1;
  g_clear_pointer(&reader->buffer, g_free);
}

// Makes room for one more block: what is ahead moves to the front, and only a line that is longer
// than the buffer makes that grow.
static void make_room(BtLineReader *reader) {
  if (reader->size - reader->end >= BLOCK_BYTES)
    return;
  memmove(reader->buffer, reader->buffer + reader->begin, reader->end - reader->begin);
  reader->end -= reader->begin;
  reader->begin = 0;
  if (reader->size - reader->end >= BLOCK_BYTES)
    return;
  reader->size *= 2;
  reader->buffer = g_realloc(reader->buffer, reader->size);
}

static bool read_block(BtLineReader *reader, GError **error) {
  make_room(reader);
  ssize_t n;
  do {
    n = read(reader->fd, reader->buffer + reader->end, BLOCK_BYTES);
  } while (n < 0 && errno == EINTR);
  if (n < 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_FILE, "%s: cannot be read: %s", reader->path,
                g_strerror(errno));
    return false;
  }
  reader->end += (gsize)n;
  reader->all_read = n == 0;
  return true;
}

// Length of the line at `text` with its ending; 0 when the ending, or the byte behind a CR that
// could be the first half of it, has not been read. `from` bytes are known to hold no ending.
static gsize line_length(const char *text, gsize from, gsize length) {
  const char *lf = memchr(text + from, '\n', length - from);
  gsize before_lf = lf ? (gsize)(lf - text) : length;
  const char *cr = memchr(text + from, '\r', before_lf - from);
  if (!cr || cr + 1 == lf)
    return lf ? before_lf + 1 : 0;
  return cr + 1 < text + length ? (gsize)(cr - text) + 1 : 0;
}

static void skip_byte_order_mark(BtLineReader *reader) {
  if (reader->end - reader->begin >= 3 &&
      memcmp(reader->buffer + reader->begin, "\xEF\xBB\xBF", 3) == 0) {
    reader->begin += 3;
    reader->done_bytes += 3;
  }
}

// Makes sure that something stands ahead, unless the file is at its end.
static bool fill(BtLineReader *reader, GError **error) {
  bool at_start = reader->line == 0 && reader->end == 0;
  while (reader->end - reader->begin < 3 && !reader->all_read) {
    if (!read_block(reader, error))
      return false;
  }
  if (at_start)
    skip_byte_order_mark(reader);
  return true;
}

BtLineResult bt__line_reader_next(BtLineReader *reader, const char **line, gsize *length,
                                  GError **error) {
  if (!fill(reader, error))
    return BT__LINE_FAILED;
  gsize searched = 0;
  gsize n = 0;
  for (;;) {
    gsize ahead = reader->end - reader->begin;
    n = line_length(reader->buffer + reader->begin, searched, ahead);
    if (n == 0 && reader->all_read)
      n = ahead;
    if (n > BT__LINE_BYTES_MAX || (n == 0 && ahead > BT__LINE_BYTES_MAX))
      return BT__LINE_TOO_LONG;
    if (n > 0 || reader->all_read)
      break;
    searched = ahead > 0 ? ahead - 1 : 0; // the last byte may be a CR
    if (!read_block(reader, error))
      return BT__LINE_FAILED;
  }
  if (n == 0)
    return BT__LINE_END;
  *line = reader->buffer + reader->begin;
  *length = n;
  reader->begin += n;
  reader->done_bytes += (gint64)n;
  reader->line++;
  return BT__LINE;
}

bool bt__line_reader_peek(BtLineReader *reader, const char **ahead, gsize *n, GError **error) {
  if (!fill(reader, error))
    return false;
  *ahead = reader->buffer + reader->begin;
  *n = MIN(*n, reader->end - reader->begin);
  return true;
}

bool bt__is_utf8(const char *text, gsize length) {
  const guint64 ones = G_GUINT64_CONSTANT(0x0101010101010101);
  const guint64 high = G_GUINT64_CONSTANT(0x8080808080808080);
  gsize i = 0;
  for (; i + 8 <= length; i += 8) {
    guint64 word;
    memcpy(&word, text + i, 8);
    // The high bit of a byte stands when it is no ASCII, or when taking one from it borrows: NUL.
    if ((word | (word - ones)) & high)
      break;
  }
  return bt_utf8_fault(text + i, length - i) < 0;
}
