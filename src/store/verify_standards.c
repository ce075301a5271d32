// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards and their adoptions, each as the book's own chain says it was put on record.
#include <string.h>

#include "store/verify.h"

static const BtSql read_standards = {
    "read the standards",
    "SELECT CAST(id AS TEXT), rubric, edition, method, cut_milli, se_milli, judges, judges_note, "
    "set_on, figures, added_ms, added_by FROM standard"};
static const BtSql read_adoptions = {"read the adoptions of standards",
                                     "SELECT CAST(number AS TEXT), standard_id, adopted_ms, "
                                     "adopted_by, reason FROM adoption"};

static bool same_text(BtQuery *query, int column, const json_t *body, const char *name) {
  return g_strcmp0(bt__text(query, column), bt__body_text(body, name)) == 0;
}

static bool same_int(BtQuery *query, int column, const json_t *body, const char *name) {
  const json_t *value = json_object_get(body, name);
  if (bt__is_null(query, column))
    return value == NULL;
  return json_is_integer(value) && json_integer_value(value) == bt__int(query, column);
}

static bool same_figures(BtQuery *query, const json_t *body) {
  char sha256[BT_SHA256_HEX + 1];
  bt__text_sha256(bt__text(query, 9), sha256);
  return g_strcmp0(sha256, bt__body_text(body, "figures_sha256")) == 0;
}

static void verify_standard(BtVerifier *verifier, BtQuery *query, GHashTable *seen) {
  const char *id = bt__text(query, 0);
  const json_t *body = g_hash_table_lookup(verifier->standards, id);
  g_hash_table_add(seen, g_strdup(id));
  if (!body) {
    bt__finding(verifier, "standard %s was put in from outside", id);
    return;
  }
  if (!same_text(query, 1, body, "rubric") || !same_int(query, 2, body, "edition"))
    bt__finding(verifier, "standard %s: the rubric or its edition was changed", id);
  if (!same_text(query, 3, body, "method") || !same_int(query, 4, body, "cut_milli") ||
      !same_int(query, 5, body, "se_milli") || !same_figures(query, body))
    bt__finding(verifier, "standard %s: the method or its figures were changed", id);
  if (!same_int(query, 6, body, "judges") || !same_text(query, 7, body, "judges_note") ||
      !same_text(query, 8, body, "set_on"))
    bt__finding(verifier, "standard %s: who set it, or when, was changed", id);
  if (!same_int(query, 10, body, "added_ms") || !same_text(query, 11, body, "by"))
    bt__finding(verifier, "standard %s: who put it on record, or when, was changed", id);
}

static void verify_adoption(BtVerifier *verifier, BtQuery *query, GHashTable *seen) {
  const char *number = bt__text(query, 0);
  const json_t *body = g_hash_table_lookup(verifier->adoptions, number);
  g_hash_table_add(seen, g_strdup(number));
  if (!body)
    bt__finding(verifier, "adoption %s was put in from outside", number);
  else if (!same_int(query, 1, body, "standard") || !same_int(query, 2, body, "adopted_ms") ||
           !same_text(query, 3, body, "by") || !same_text(query, 4, body, "reason"))
    bt__finding(verifier, "adoption %s was changed", number);
}

bool bt__verify_standards(BtVerifier *verifier, GError **error) {
  return bt__verify_table(verifier, &read_standards, verify_standard, verifier->standards,
                          "standard", error) &&
         bt__verify_table(verifier, &read_adoptions, verify_adoption, verifier->adoptions,
                          "adoption", error);
}
