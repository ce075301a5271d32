// SPDX-License-Identifier: GPL-3.0-or-later
//
// Accounts and looks against the book's chain.
#include "store/verify.h"

static const BtSql read_accounts = {"read the accounts",
                                    "SELECT code, secret, set_ms FROM account"};
static const BtSql read_looks = {"read the looks", "SELECT session, trainee, looked_ms FROM look"};

static void verify_account(BtVerifier *verifier, BtQuery *query, const char *code,
                           const json_t *body) {
  if (!bt__same_hash(query, 1, body, "secret_sha256") || !bt__same_int(query, 2, body, "set_ms"))
    bt__finding(verifier, "the account of %s: the secret or its date was changed", code);
}

static void verify_look(BtVerifier *verifier, BtQuery *query, const char *session,
                        const json_t *body) {
  if (!bt__same_text(query, 1, body, "trainee") || !bt__same_int(query, 2, body, "looked_ms"))
    bt__finding(verifier, "the look at session %s was changed", session);
}

bool bt__verify_access(BtVerifier *verifier, GError **error) {
  return bt__verify_table(verifier, &read_accounts, verify_account, verifier->accounts,
                          "the account of", error) &&
         bt__verify_table(verifier, &read_looks, verify_look, verifier->looks,
                          "the look at session", error);
}
