// SPDX-License-Identifier: GPL-3.0-or-later
//
// Sessions, observations and their chains, within the caller's transaction.
#ifndef STORE_OBSERVATION_H
#define STORE_OBSERVATION_H

#include "store/entry.h"

// The growing end of an observation's chain.
typedef struct {
  gint64 id;
  gint64 records, events, strikes, amends;
  guint8 head[BT_SHA256_BYTES];
} BtChain;

// An observation's row with that of its session. Owns its strings.
typedef struct {
  BtChain chain;
  BtHeader header; // strings owned by the row
  bool closed;
  gint64 closed_ms;
  char *receipt; // NULL while open
} BtObservationRow;
void bt__observation_row_free(BtObservationRow *row); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtObservationRow, bt__observation_row_free)

// The row; NULL with `error` (UNKNOWN when there is none).
BtObservationRow *bt__observation_row(BtBook *book, gint64 id, GError **error);
// The id of the observation of this session, assessor and mode; 0: none; -1 with `error`.
gint64 bt__observation_find(BtBook *book, const BtHeader *header, GError **error);
// The rubric edition of the observation; DATABASE when it is not in the book.
const BtRubric *bt__observation_rubric(BtBook *book, const BtHeader *header, GError **error);

// Puts the session in the book, or finds that it is there; *refusal says what of it differs.
bool bt__session_enter(BtBook *book, const BtHeader *header, bool *added, BtRefusal *refusal,
                       GError **error);

// Opens an observation: the session's row when it is the first of it (*new_session), its own, and
// the chain's first record. True with *refusal filled when people or session do not fit; false with
// `error`.
bool bt__observation_open(BtBook *book, const BtHeader *header, const char *source, BtChain *chain,
                          bool *new_session, BtRefusal *refusal, GError **error);

// Adds a record. The caller gives kind, seq, wall_ms, source and the event's or correction's
// columns; the rest is filled here. The observation's row is not touched.
bool bt__chain_append(BtBook *book, BtChain *chain, BtEntry *entry, const BtOpening *opening,
                      GError **error);
// Brings the observation's row up to its chain.
bool bt__chain_save(BtBook *book, const BtChain *chain, GError **error);

// The receipt of an observation that was closed by the record of this link. Caller frees.
char *bt__receipt(const guint8 close_link[BT_SHA256_BYTES]);

// Adds the closing record, saves the row, issues the result and notes it on the book's chain.
// *receipt, when not NULL, is freed by the caller.
bool bt__observation_close(BtBook *book, const BtHeader *header, BtChain *chain, const char *source,
                           char **receipt, GError **error);

// Issues a result of the observation as it stands now; `sha256` is that of the result's row.
bool bt__result_issue(BtBook *book, const BtChain *chain, gint64 *number,
                      char sha256[BT_SHA256_HEX + 1], GError **error);

// Notes on the book's chain that an observation was closed or corrected, with its head and result.
bool bt__observation_note(BtBook *book, const char *kind, const BtHeader *header,
                          const BtChain *chain, gint64 result, const char *result_sha256,
                          GError **error);

#endif
