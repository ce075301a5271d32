// SPDX-License-Identifier: GPL-3.0-or-later
//
// The book's schema: an ordered table of migrations, from nothing to the version this program
// writes.
#ifndef STORE_SCHEMA_H
#define STORE_SCHEMA_H

#include "store/sql.h"

// "BLAB", big-endian, as SQLite keeps it in the file's header.
#define BT_APPLICATION_ID 0x424c4142

// The version this program writes and reads.
int bt__schema_version(void);

// What the file says of itself. False with `error` when it cannot be read.
bool bt__schema_read(BtDb *db, gint64 *application_id, gint64 *version, bool *empty,
                     GError **error);

// Runs every migration after `from`. Within the caller's transaction.
bool bt__schema_migrate(BtDb *db, gint64 from, GError **error);

// Appends to `findings` (of char *) what of the schema is missing, changed or added. False with
// `error`.
bool bt__schema_verify(BtDb *db, GPtrArray *findings, GError **error);

#endif
