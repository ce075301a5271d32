// SPDX-License-Identifier: GPL-3.0-or-later
//
// A file as a stream of its physical lines, in a buffer that does not grow with the file.
#ifndef BT_LOG_LINE_READER_H
#define BT_LOG_LINE_READER_H

#include <benchtally/base.h>

#define BT__LINE_BYTES_MAX (1024 * 1024)

typedef struct {
  const char *path; // borrowed
  int fd;
  char *buffer;
  gsize size;       // of the buffer
  gsize begin, end; // what is read and not yet given out
  bool all_read;
  gint64 line;       // number of the line given out last, from 1
  gint64 done_bytes; // given out so far
  gint64 all_bytes;  // size of the file; 0 when it has none
} BtLineReader;

typedef enum {
  BT__LINE,          // *line is a line with its ending (LF, CRLF or CR), if it has one
  BT__LINE_END,      // no more lines
  BT__LINE_TOO_LONG, // a line longer than BT__LINE_BYTES_MAX
  BT__LINE_FAILED    // `error` is set: FILE
} BtLineResult;

// Opens `path` (borrowed until closed). False with `error`: FILE.
bool bt__line_reader_open(BtLineReader *reader, const char *path, GError **error);
void bt__line_reader_close(BtLineReader *reader);

// The next line, valid until the next call; a byte-order mark before the first is left out.
BtLineResult bt__line_reader_next(BtLineReader *reader, const char **line, gsize *length,
                                  GError **error);

// What stands ahead, at most `n` bytes: borrowed, *n is what there is. For looking at the kind of
// file. False with `error`: FILE.
bool bt__line_reader_peek(BtLineReader *reader, const char **ahead, gsize *n, GError **error);

// Whether all of `text` is UTF-8 without NUL; quick for plain ASCII.
bool bt__is_utf8(const char *text, gsize length);

#endif
