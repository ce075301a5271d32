// SPDX-License-Identifier: GPL-3.0-or-later
//
// Sealing in batches: hashing a record costs about as much as writing its row, so while one batch
// is written the next is hashed on a thread of its own. The database is touched by the caller's
// thread alone.
#ifndef STORE_SEALER_H
#define STORE_SEALER_H

#include "store/observation.h"

typedef struct BtSealer BtSealer;

// Writes a sealed record; false with `error` ends the work. `line` is the one given with it.
typedef bool (*BtSealedWrite)(const BtEntry *entry, gint64 line, gpointer user_data,
                              GError **error);

// NULL with `error` when the machine gives no thread.
BtSealer *bt__sealer_new(BtBook *book, BtSealedWrite write, gpointer user_data, GError **error);
// What was not written is dropped. NULL is allowed.
void bt__sealer_free(BtSealer *sealer);

// Takes a copy of the record, the next of `chain`; the caller gives kind, seq, wall_ms, source, id
// and the event's columns. The chain's counts go on at once; its head is valid after the next
// bt__sealer_finish, and until then only the sealer may append to it.
bool bt__sealer_add(BtSealer *sealer, BtChain *chain, const BtEntry *entry, gint64 line,
                    GError **error);

// Returns when all that was added is sealed and written.
bool bt__sealer_finish(BtSealer *sealer, GError **error);

#endif
