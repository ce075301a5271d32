// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards and their adoptions, each as the book's own chain says it was put on record.
#include "store/verify.h"

static const BtSql read_standards = {
    "read the standards",
    "SELECT CAST(id AS TEXT), rubric, edition, method, cut_milli, se_milli, judges, judges_note, "
    "set_on, figures, added_ms, added_by FROM standard"};
static const BtSql read_adoptions = {"read the adoptions of standards",
                                     "SELECT CAST(number AS TEXT), standard_id, adopted_ms, "
                                     "adopted_by, reason FROM adoption"};

static void verify_standard(BtVerifier *verifier, BtQuery *query, const char *id,
                            const json_t *body) {
  if (!bt__same_text(query, 1, body, "rubric") || !bt__same_int(query, 2, body, "edition"))
    bt__finding(verifier, "standard %s: the rubric or its edition was changed", id);
  if (!bt__same_text(query, 3, body, "method") || !bt__same_int(query, 4, body, "cut_milli") ||
      !bt__same_int(query, 5, body, "se_milli") || !bt__same_hash(query, 9, body, "figures_sha256"))
    bt__finding(verifier, "standard %s: the method or its figures were changed", id);
  if (!bt__same_int(query, 6, body, "judges") || !bt__same_text(query, 7, body, "judges_note") ||
      !bt__same_text(query, 8, body, "set_on"))
    bt__finding(verifier, "standard %s: who set it, or when, was changed", id);
  if (!bt__same_int(query, 10, body, "added_ms") || !bt__same_text(query, 11, body, "by"))
    bt__finding(verifier, "standard %s: who put it on record, or when, was changed", id);
}

static void verify_adoption(BtVerifier *verifier, BtQuery *query, const char *number,
                            const json_t *body) {
  if (!bt__same_int(query, 1, body, "standard") || !bt__same_int(query, 2, body, "adopted_ms") ||
      !bt__same_text(query, 3, body, "by") || !bt__same_text(query, 4, body, "reason"))
    bt__finding(verifier, "adoption %s was changed", number);
}

bool bt__verify_standards(BtVerifier *verifier, GError **error) {
  return bt__verify_table(verifier, &read_standards, verify_standard, verifier->standards,
                          "standard", error) &&
         bt__verify_table(verifier, &read_adoptions, verify_adoption, verifier->adoptions,
                          "adoption", error);
}
