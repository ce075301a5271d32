// SPDX-License-Identifier: GPL-3.0-or-later
//
// Results: each as it was issued, none missing, none added; the latest is scored again.
#include <string.h>

#include "store/result.h"
#include "store/verify.h"

static const BtSql read_results = {"read the results",
                                   "SELECT " BT_RESULT_COLUMNS
                                   " FROM result WHERE observation_id = ?1 ORDER BY number"};

static const json_t *body_of(const BtVouched *vouched, gint64 number) {
  for (guint i = 0; i < vouched->results->len; i++) {
    const json_t *body = vouched->results->pdata[i];
    if (bt__body_is(body, "result", number))
      return body;
  }
  return NULL;
}

// Whether the row is as it was issued.
static bool verify_result(BtVerifier *verifier, const BtResult *result, bool shaped,
                          const char *label, const BtVouched *vouched) {
  const json_t *body = body_of(vouched, result->number);
  char sha256[BT_SHA256_HEX + 1];
  bt__result_sha256(result, sha256);
  if (!body)
    bt__finding(verifier, "%s: result %" G_GINT64_FORMAT " was put in from outside", label,
                result->number);
  else if (!shaped || g_strcmp0(sha256, bt__body_text(body, "result_sha256")) != 0)
    bt__finding(verifier, "%s: result %" G_GINT64_FORMAT " was changed", label, result->number);
  else
    return true;
  return false;
}

// The engine is pure, so the same log gives the same result, to the byte.
static bool score_again(BtVerifier *verifier, const BtObservationRow *row, const char *label,
                        guint number, const char *json, GError **error) {
  const BtRubric *rubric = NULL;
  GError *cause = NULL;
  g_autoptr(BtObservation) observation =
      bt_book_load(verifier->book, row->chain.id, &rubric, &cause);
  if (!observation && (g_error_matches(cause, BT_ERROR, BT_ERROR_DATABASE) ||
                       g_error_matches(cause, BT_ERROR, BT_ERROR_UNKNOWN))) {
    bt__finding(verifier, "%s: result %u cannot be scored again: %s", label, number,
                cause->message);
    g_error_free(cause);
    return true;
  }
  if (!observation) {
    g_propagate_error(error, cause);
    return false;
  }
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  g_autofree char *again = bt_ledger_to_json(rubric, observation, ledger);
  if (strcmp(again, json) != 0)
    bt__finding(verifier, "%s: result %u: scoring again gives another", label, number);
  return true;
}

bool bt__verify_results(BtVerifier *verifier, const BtObservationRow *row, const char *label,
                        const BtVouched *vouched, GError **error) {
  g_autofree char *json = NULL; // of the last result, when it may be scored again
  guint findings_before = verifier->report->findings->len;
  gint64 last = 0;
  g_autoptr(BtQuery) query =
      bt__query(verifier->book->db, &read_results, error, ARGS(INT(row->chain.id)));
  int step = query ? bt__step(query, error) : -1;
  for (; step == 1; step = bt__step(query, error)) {
    BtResult result;
    bool shaped = bt__result_read(query, &result);
    if (result.number > last)
      bt__find_missing(verifier, label, "result", last + 1, result.number - 1);
    last = result.number;
    bool sound = verify_result(verifier, &result, shaped, label, vouched);
    bool current = memcmp(result.head_link, row->chain.head, BT_SHA256_BYTES) == 0;
    g_free(json);
    json = sound && current && result.engine_version == BT_ENGINE_VERSION ? g_strdup(result.json)
                                                                          : NULL;
  }
  if (step < 0)
    return false;
  if (vouched->results->len > last)
    bt__find_missing(verifier, label, "result", last + 1, vouched->results->len);
  bool sound = verifier->report->findings->len == findings_before;
  return !json || !sound || score_again(verifier, row, label, vouched->results->len, json, error);
}
