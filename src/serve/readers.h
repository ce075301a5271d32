// SPDX-License-Identifier: GPL-3.0-or-later
//
// Read-only handles of the book, lent to one thread at a time.
#ifndef SERVE_READERS_H
#define SERVE_READERS_H

#include <benchtally/book.h>

typedef struct BtReaders BtReaders;

// At most `most` handles; the first is opened now. NULL with `error`.
BtReaders *bt__readers_new(const char *path, guint most, GError **error);
// Nothing may be lent. NULL is allowed.
void bt__readers_free(BtReaders *readers);

// Waits for a handle when all are lent. NULL with `error` when a new one cannot be opened.
BtBook *bt__readers_lend(BtReaders *readers, GError **error);
void bt__readers_take_back(BtReaders *readers, BtBook *book);

#endif
