// SPDX-License-Identifier: GPL-3.0-or-later
//
// The one thread that writes. What waits is written together and becomes durable together; each
// piece of work stands or falls by itself, and its sender goes on when it is on the disk.
#ifndef SERVE_WRITER_H
#define SERVE_WRITER_H

#include <benchtally/book.h>

typedef struct BtWriter BtWriter;

// False with `error`: it was not done. Every call that writes stands by itself.
typedef bool (*BtWork)(BtBook *book, gpointer data, GError **error);

// NULL with `error` when the book cannot be opened to write.
BtWriter *bt__writer_new(const char *path, GError **error);
// Does what waits, then ends. NULL is allowed.
void bt__writer_free(BtWriter *writer);

// Has the work done in the name of `actor`; returns when it is on the disk. False with `error`.
bool bt__writer_do(BtWriter *writer, const char *actor, BtWork work, gpointer data, GError **error);

#endif
