// SPDX-License-Identifier: GPL-3.0-or-later
//
// The book's own chain: what was added, opened, closed, corrected and exported, in order.
#include <string.h>

#include "store/store.h"
#include "store/uuid.h"

static const BtSql read_head = {"read the head of the book",
                                "SELECT records, head_link FROM book WHERE one = 1"};
static const BtSql write_head = {"write the head of the book",
                                 "UPDATE book SET records = ?1, head_link = ?2 WHERE one = 1"};
static const BtSql add_record = {
    "add to the book's own chain",
    "INSERT INTO book_entry(number, kind, wall_ms, body, body_sha256, link_sha256) "
    "VALUES (?1, ?2, ?3, ?4, ?5, ?6)"};
static const BtSql add_book = {
    "found the book",
    "INSERT INTO book(one, uuid, created_ms, records, head_link) VALUES (1, ?1, ?2, 0, ?3)"};

void bt__link_sha256(GString *scratch, const BtLink *link, guint8 sha256[BT_SHA256_BYTES]) {
  const BtMember members[] = {
      MEMBER_HEX("body", link->body_sha256, BT_SHA256_BYTES),
      MEMBER_TEXT("kind", link->kind),
      MEMBER_INT("number", link->number),
      MEMBER_HEX("previous", link->previous, BT_SHA256_BYTES),
      MEMBER_INT("wall_ms", link->wall_ms),
  };
  g_string_truncate(scratch, 0);
  bt__json_object(scratch, members, G_N_ELEMENTS(members));
  bt_sha256(scratch->str, scratch->len, sha256);
}

void bt__text_sha256(const char *text, char hex[BT_SHA256_HEX + 1]) {
  guint8 sha256[BT_SHA256_BYTES];
  bt_sha256(text, strlen(text), sha256);
  bt_hex(sha256, sizeof sha256, hex);
}

void bt__name_sha256(const char *name, const guint8 salt[BT_SALT_BYTES],
                     guint8 sha256[BT_SHA256_BYTES]) {
  const BtMember members[] = {MEMBER_TEXT("name", name), MEMBER_HEX("salt", salt, BT_SALT_BYTES)};
  g_autoptr(GString) text = g_string_new(NULL);
  bt__json_object(text, members, G_N_ELEMENTS(members));
  bt_sha256(text->str, text->len, sha256);
}

bool bt__check_reason(const char *reason, GError **error) {
  if (reason && *reason && g_utf8_validate(reason, -1, NULL))
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_OPTION, "this needs a reason; it is kept with the record");
  return false;
}

static bool get_head(BtBook *book, BtHead *head, GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &read_head, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  const guint8 *link = row == 1 ? bt__blob(query, 1, BT_SHA256_BYTES) : NULL;
  if (link) {
    head->records = bt__int(query, 0);
    memcpy(head->head, link, BT_SHA256_BYTES);
  } else if (row >= 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_DATABASE,
                "%s: the head of the book is missing; restore the latest backup; `benchtally "
                "verify` tells more",
                book->path);
  }
  return link != NULL;
}

// The body with who acted and a salt put in their places among `members`.
static char *build_body(BtBook *book, const BtMember *members, gsize n) {
  guint8 salt[BT_SALT_BYTES];
  bt__salt(book, salt);
  const BtMember own[] = {MEMBER_TEXT("by", book->actor), MEMBER_HEX("salt", salt, sizeof salt)};
  g_autofree BtMember *all = g_new(BtMember, n + G_N_ELEMENTS(own));
  gsize filled = 0;
  gsize next_own = 0;
  for (gsize i = 0; i < n; i++) {
    while (next_own < G_N_ELEMENTS(own) && strcmp(own[next_own].name, members[i].name) < 0)
      all[filled++] = own[next_own++];
    all[filled++] = members[i];
  }
  while (next_own < G_N_ELEMENTS(own))
    all[filled++] = own[next_own++];
  GString *body = g_string_new(NULL);
  bt__json_object(body, all, filled);
  return g_string_free(body, FALSE);
}

bool bt__book_note(BtBook *book, const char *kind, const BtMember *members, gsize n,
                   GError **error) {
  BtHead head;
  if (!get_head(book, &head, error))
    return false;
  g_autofree char *body = build_body(book, members, n);
  guint8 body_sha256[BT_SHA256_BYTES];
  bt_sha256(body, strlen(body), body_sha256);
  gint64 wall_ms = bt__now_ms(book);
  const BtLink link = {body_sha256, head.head, kind, head.records + 1, wall_ms};
  guint8 sha256[BT_SHA256_BYTES];
  bt__link_sha256(book->text, &link, sha256);
  return bt__run(book->db, &add_record, error,
                 ARGS(INT(link.number), TEXT(kind), INT(wall_ms), TEXT(body),
                      BLOB(body_sha256, BT_SHA256_BYTES), BLOB(sha256, BT_SHA256_BYTES))) &&
         bt__run(book->db, &write_head, error,
                 ARGS(INT(link.number), BLOB(sha256, BT_SHA256_BYTES)));
}

bool bt__book_found(BtBook *book, GError **error) {
  static const guint8 no_link[BT_SHA256_BYTES] = {0};
  char uuid[BT_UUID_LENGTH + 1];
  gint64 now_ms = bt__now_ms(book);
  bt__uuid_v7(now_ms, uuid);
  const BtMember body[] = {MEMBER_TEXT("book", uuid), MEMBER_INT("created_ms", now_ms)};
  return bt__run(book->db, &add_book, error,
                 ARGS(TEXT(uuid), INT(now_ms), BLOB(no_link, BT_SHA256_BYTES))) &&
         bt__book_note(book, "book_created", body, G_N_ELEMENTS(body), error);
}

static const BtSql read_public_head = {
    "read the head of the book",
    "SELECT number, link_sha256 FROM book_entry "
    "WHERE kind NOT IN ('export', 'access') ORDER BY number DESC LIMIT 1"};

bool bt_book_head(BtBook *book, char head[BT_SHA256_HEX + 1], gint64 *records, GError **error) {
  memset(head, '0', BT_SHA256_HEX);
  head[BT_SHA256_HEX] = '\0';
  *records = 0;
  g_autoptr(BtQuery) query = bt__query(book->db, &read_public_head, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  const guint8 *link = row == 1 ? bt__blob(query, 1, BT_SHA256_BYTES) : NULL;
  if (link) {
    bt_hex(link, BT_SHA256_BYTES, head);
    *records = bt__int(query, 0);
  }
  return row >= 0;
}

bool bt_book_note_export(BtBook *book, const char *what, const char *trainee, const char *sha256,
                         GError **error) {
  const BtMember body[] = {MEMBER_TEXT("sha256", sha256), MEMBER_TEXT("trainee", trainee),
                           MEMBER_TEXT("what", what)};
  return bt__begin(book, error) &&
         bt__end(book, bt__book_note(book, "export", body, G_N_ELEMENTS(body), error), error);
}
