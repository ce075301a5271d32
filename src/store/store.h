// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the files of the store share.
#ifndef STORE_STORE_H
#define STORE_STORE_H

#include <benchtally/book.h>

#include "store/json.h"
#include "store/sql.h"

#define BT_SALT_BYTES 16

typedef struct BtNames BtNames;

struct BtBook {
  BtDb *db;
  char *path;
  BtBookMode mode;
  bool in_group; // each call stands or falls by itself within one transaction
  char *actor;
  gint64 (*now_ms)(gpointer user_data);
  gpointer clock_data;
  GHashTable *rubrics; // "id edition" -> BtRubric *
  GHashTable *names;   // BtRubric * -> BtNames *
  GString *text;       // for building what is hashed
  guint8 salts[4096];  // random bytes, fetched in a block
  gsize salts_left;
};

gint64 bt__now_ms(BtBook *book);
void bt__salt(BtBook *book, guint8 salt[BT_SALT_BYTES]);

// A transaction that writes, or, in a group, a part of one. False with `error` when the handle is
// read-only or the book is busy.
bool bt__begin(BtBook *book, GError **error);
// Commits when `done`, else rolls back; what to return.
bool bt__end(BtBook *book, bool done, GError **error);

// Whether a reason was given that can be kept; OPTION.
bool bt__check_reason(const char *reason, GError **error);

// The book's own chain --------------------------------------------------------

typedef struct {
  gint64 records;
  guint8 head[BT_SHA256_BYTES];
} BtHead;

// Adds a record to the book's own chain; within the caller's transaction. `members` (n of them,
// sorted, none named "by" or "salt") are its body.
bool bt__book_note(BtBook *book, const char *kind, const BtMember *members, gsize n,
                   GError **error);
// A new book's row and its first record.
bool bt__book_found(BtBook *book, GError **error);

// The link over {body, kind, number, previous, wall_ms}.
typedef struct {
  const guint8 *body_sha256, *previous;
  const char *kind;
  gint64 number, wall_ms;
} BtLink;
void bt__link_sha256(GString *scratch, const BtLink *link, guint8 sha256[BT_SHA256_BYTES]);

// SHA-256 of a text, in hex: what the chain keeps of one that is long.
void bt__text_sha256(const char *text, char hex[BT_SHA256_HEX + 1]);

// SHA-256 of a name with its salt: what the book's chain keeps of a name.
void bt__name_sha256(const char *name, const guint8 salt[BT_SALT_BYTES],
                     guint8 sha256[BT_SHA256_BYTES]);

// People ----------------------------------------------------------------------

// A refusal in two halves, as a fault has it. Strings owned; `wrong` NULL: not refused.
typedef struct {
  BtErrorCode code;
  char *wrong, *expected;
} BtRefusal;
void bt__refusal_clear(BtRefusal *refusal);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BtRefusal, bt__refusal_clear)
// Makes an error of it, "wrong; expected".
void bt__refusal_to_error(const BtRefusal *refusal, GError **error);

// Adds a person within the caller's transaction; false with `error`, CONFLICT when the code is
// another's.
bool bt__add_person(BtBook *book, const BtPerson *person, bool *added, GError **error);

// Whether the trainee and the assessor of `header` may be that: true with *refusal filled when they
// may not. False with `error` when the book could not be read.
bool bt__check_people(BtBook *book, const BtHeader *header, BtRefusal *refusal, GError **error);

// The word of `known` (rows of one column) nearest to `word`, or NULL. Caller frees.
char *bt__nearest(BtBook *book, const BtSql *known, const char *word);

// Editions --------------------------------------------------------------------

// SHA-256 of the edition's text in hex; NULL without `error` when there is none. Caller frees.
char *bt__edition_sha256(BtBook *book, const char *rubric, int edition, GError **error);
// Ids of the rubrics in the book, NULL-terminated. Caller frees with g_strfreev.
char **bt__rubric_ids(BtBook *book);

#endif
