// SPDX-License-Identifier: GPL-3.0-or-later
//
// One view of the book over many reads.
#include "store/store.h"

static const BtSql hold = {"read the book", "BEGIN"};
static const BtSql release = {"read the book", "COMMIT"};

bool bt_book_hold(BtBook *book, GError **error) {
  return bt__run(book->db, &hold, error, NO_ARGS);
}

void bt_book_release(BtBook *book) {
  // There is nothing to commit; a failure would end the view all the same.
  bool released = bt__run(book->db, &release, NULL, NO_ARGS);
  (void)released;
}
