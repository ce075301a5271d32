// SPDX-License-Identifier: GPL-3.0-or-later
//
// What tests ask of a whole book. Include it after cmocka.h.
#ifndef FAULT_BOOK_ASSERTS_H
#define FAULT_BOOK_ASSERTS_H

#include <benchtally/book.h>

// The book verifies, and without a finding.
static inline void assert_sound(BtBook *book) {
  g_autoptr(GError) error = NULL;
  BtVerifyReport report = {0};
  if (!bt_book_verify(book, &report, &error))
    fail_msg("%s", error->message);
  if (report.findings->len > 0)
    fail_msg("%s", (char *)report.findings->pdata[0]);
  bt_verify_report_clear(&report);
}

#endif
