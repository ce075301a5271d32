// SPDX-License-Identifier: GPL-3.0-or-later
//
// Who looked at what, and which trainee said to make no observation of one's own.
#include "store/store.h"

bool bt_book_note_access(BtBook *book, const char *what, const char *trainee, const char *session,
                         GError **error) {
  const BtMember body[] = {MEMBER_TEXT("session", session), MEMBER_TEXT("trainee", trainee),
                           MEMBER_TEXT("what", what)};
  return bt__begin(book, error) &&
         bt__end(book, bt__book_note(book, "access", body, G_N_ELEMENTS(body), error), error);
}

static const BtSql own_session = {"look the session up",
                                  "SELECT 1 FROM session WHERE code = ?1 AND trainee = ?2"};
static const BtSql find_look = {"look whether it was said",
                                "SELECT 1 FROM look WHERE session = ?1"};
static const BtSql add_look = {"keep what was said",
                               "INSERT INTO look(session, trainee, looked_ms) VALUES (?1, ?2, ?3)"};

int bt_book_looked(BtBook *book, const char *session, GError **error) {
  gint64 one = 0;
  return bt__number(book->db, &find_look, &one, error, ARGS(TEXT(session)));
}

static bool set_looked(BtBook *book, const char *session, const char *trainee, GError **error) {
  gint64 one = 0;
  int own = bt__number(book->db, &own_session, &one, error, ARGS(TEXT(session), TEXT(trainee)));
  if (own == 0)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN, "no session \"%s\" of %s in the book", session,
                trainee);
  int said = own == 1 ? bt_book_looked(book, session, error) : -1;
  if (said != 0)
    return said == 1;
  gint64 now_ms = bt__now_ms(book);
  const BtMember body[] = {MEMBER_INT("looked_ms", now_ms), MEMBER_TEXT("session", session),
                           MEMBER_TEXT("trainee", trainee)};
  return bt__run(book->db, &add_look, error, ARGS(TEXT(session), TEXT(trainee), INT(now_ms))) &&
         bt__book_note(book, "session_looked", body, G_N_ELEMENTS(body), error);
}

bool bt_book_set_looked(BtBook *book, const char *session, const char *trainee, GError **error) {
  return bt__begin(book, error) && bt__end(book, set_looked(book, session, trainee, error), error);
}
