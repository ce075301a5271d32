// SPDX-License-Identifier: GPL-3.0-or-later
//
// Verification: every row recomputed and held against the chains. What the book's own chain says is
// read first; then each table is compared with it, both ways.
#ifndef STORE_VERIFY_H
#define STORE_VERIFY_H

#include <jansson.h>

#include "store/observation.h"

// What the book's own chain says was done with an observation.
typedef struct {
  json_t *opened;     // the body of its opening record
  GPtrArray *results; // of json_t: the bodies of closings and corrections, in order
  bool seen;          // its row stands in the table
} BtVouched;

typedef struct {
  BtBook *book;
  BtVerifyReport *report;
  GHashTable *people;       // code -> json_t: the body that added it
  GHashTable *editions;     // "rubric edition" -> json_t
  GHashTable *observations; // gint64 * -> BtVouched
  GHashTable *sessions;     // code -> json_t: the body that opened its first observation
  GHashTable *named;        // session -> json_t: the body that named its observation of record
  GHashTable *standards;    // id -> json_t
  GHashTable *adoptions;    // number -> json_t
  GHashTable *accounts;     // code -> json_t: the body that set it last
  GHashTable *looks;        // session -> json_t
} BtVerifier;

void bt__finding(BtVerifier *verifier, const char *format, ...) G_GNUC_PRINTF(2, 3);

// Members of a body, which may be NULL; NULL and -1 when it is absent.
const char *bt__body_text(const json_t *body, const char *name);
gint64 bt__body_int(const json_t *body, const char *name);
// Whether the body has this very number there.
bool bt__body_is(const json_t *body, const char *name, gint64 number);

// Whether the column says what the body does; an empty column and an absent member are the same.
bool bt__same_text(BtQuery *query, int column, const json_t *body, const char *name);
bool bt__same_int(BtQuery *query, int column, const json_t *body, const char *name);
// Whether the column's text has the SHA-256 that the body keeps of it.
bool bt__same_hash(BtQuery *query, int column, const json_t *body, const char *name);

// Notes that `first` to `last` of somebody's records (`what`) are missing; nothing when last <
// first.
void bt__find_missing(BtVerifier *verifier, const char *whose, const char *what, gint64 first,
                      gint64 last);

// A chain as it is walked. One record that was changed makes one finding, not two: the link of the
// next may stand on the previous link as stored or as it should be.
typedef struct {
  gint64 number; // of the last record met
  bool broken;   // the record before is missing, so the next link cannot be judged
  guint8 stored[BT_SHA256_BYTES], recomputed[BT_SHA256_BYTES];
} BtWalk;

// Notes what is missing between the last record met and this one.
void bt__walk_to(BtVerifier *verifier, BtWalk *walk, const char *whose, gint64 number);
// Whether the record fits: its link over the body's hash as stored or as recomputed. Goes on to it.
bool bt__walk_step(BtWalk *walk, GString *scratch, const BtLink *link,
                   const guint8 body_recomputed[BT_SHA256_BYTES],
                   const guint8 link_stored[BT_SHA256_BYTES]);

// Compares every row of a table with what the chain says, then the chain with the rows. The first
// column is the key in `expected`; `what` names a row to people. `verify_row` is called with the
// body that the chain has for the row.
typedef void (*BtVerifyRow)(BtVerifier *verifier, BtQuery *query, const char *key,
                            const json_t *body);
bool bt__verify_table(BtVerifier *verifier, const BtSql *sql, BtVerifyRow verify_row,
                      GHashTable *expected, const char *what, GError **error);

// The parts; each false with `error` only when reading failed.
bool bt__verify_book_chain(BtVerifier *verifier, GError **error);
bool bt__verify_people(BtVerifier *verifier, GError **error);
bool bt__verify_editions(BtVerifier *verifier, GError **error);
bool bt__verify_standards(BtVerifier *verifier, GError **error);
bool bt__verify_access(BtVerifier *verifier, GError **error);
bool bt__verify_sessions(BtVerifier *verifier, GError **error);
bool bt__verify_observations(BtVerifier *verifier, GError **error);
bool bt__verify_results(BtVerifier *verifier, const BtObservationRow *row, const char *label,
                        const BtVouched *vouched, GError **error);

#endif
