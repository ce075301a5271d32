// SPDX-License-Identifier: GPL-3.0-or-later
//
// Results: issued once, kept as issued.
#include "store/result.h"

#include <string.h>

static const BtSql last_result = {
    "look the results up", "SELECT coalesce(max(number), 0) FROM result WHERE observation_id = ?1"};
static const BtSql add_result = {
    "issue the result",
    "INSERT INTO result(" BT_RESULT_COLUMNS ") VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, "
    "?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28)"};
static const BtSql latest_json = {
    "read the result",
    "SELECT json FROM result WHERE observation_id = ?1 ORDER BY number DESC LIMIT 1"};

void bt__result_sha256(const BtResult *result, char hex[BT_SHA256_HEX + 1]) {
  g_autoptr(GString) components = g_string_new(NULL);
  char before = '[';
  for (int i = 0; i < BT_COMPONENTS; i++) {
    const gint64 *score = result->component[i];
    g_string_append_printf(components,
                           "%c[%" G_GINT64_FORMAT ",%" G_GINT64_FORMAT ",%" G_GINT64_FORMAT "]",
                           before, score[0], score[1], score[2]);
    before = ',';
  }
  g_string_append_c(components, ']');
  guint8 json_sha256[BT_SHA256_BYTES];
  bt_sha256(result->json, strlen(result->json), json_sha256);
  const BtMember members[] = {
      MEMBER_RAW("components", components->str),
      MEMBER_INT("engine_version", result->engine_version),
      MEMBER_HEX("head_link", result->head_link, BT_SHA256_BYTES),
      MEMBER_INT("issued_ms", result->issued_ms),
      MEMBER_HEX("json_sha256", json_sha256, BT_SHA256_BYTES),
      MEMBER_INT("number", result->number),
      MEMBER_INT("observation", result->observation_id),
      MEMBER_TEXT("outcome", result->outcome),
      MEMBER_TEXT("total", result->total),
      MEMBER_INT("total_ms", result->total_ms),
      MEMBER_INT("total_percent_milli", result->total_percent_milli),
  };
  g_autoptr(GString) text = g_string_new(NULL);
  bt__json_object(text, members, G_N_ELEMENTS(members));
  guint8 sha256[BT_SHA256_BYTES];
  bt_sha256(text->str, text->len, sha256);
  bt_hex(sha256, sizeof sha256, hex);
}

bool bt__result_read(BtQuery *query, BtResult *result) {
  *result = (BtResult){.observation_id = bt__int(query, 0),
                       .number = bt__int(query, 1),
                       .engine_version = bt__int(query, 2),
                       .issued_ms = bt__int(query, 4),
                       .outcome = bt__text_needed(query, 5),
                       .total = bt__text(query, 6),
                       .total_percent_milli = bt__int(query, 7),
                       .total_ms = bt__int(query, 8),
                       .json = bt__text_needed(query, 27)};
  for (int i = 0; i < 3 * BT_COMPONENTS; i++)
    result->component[i / 3][i % 3] = bt__int(query, 9 + i);
  const guint8 *head = bt__blob(query, 3, BT_SHA256_BYTES);
  if (head)
    memcpy(result->head_link, head, BT_SHA256_BYTES);
  return head && bt__row_whole(query);
}

static bool insert_result(BtBook *book, const BtResult *result, GError **error) {
  BtArg args[BT_RESULT_COLUMN_COUNT] = {
      INT(result->observation_id), INT(result->number),
      INT(result->engine_version), BLOB(result->head_link, BT_SHA256_BYTES),
      INT(result->issued_ms),      TEXT(result->outcome),
      TEXT(result->total),         INT(result->total_percent_milli),
      INT(result->total_ms),
  };
  for (int i = 0; i < 3 * BT_COMPONENTS; i++)
    args[9 + i] = INT(result->component[i / 3][i % 3]);
  args[BT_RESULT_COLUMN_COUNT - 1] = TEXT(result->json);
  return bt__run(book->db, &add_result, error, args, G_N_ELEMENTS(args));
}

bool bt__result_issue(BtBook *book, const BtChain *chain, gint64 *number,
                      char sha256[BT_SHA256_HEX + 1], GError **error) {
  gint64 last = 0;
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, chain->id, &rubric, error);
  if (!observation || bt__number(book->db, &last_result, &last, error, ARGS(INT(chain->id))) != 1)
    return false;
  g_autoptr(BtLedger) ledger = bt_score(rubric, observation);
  g_autofree char *json = bt_ledger_to_json(rubric, observation, ledger);
  BtResult result = {.observation_id = chain->id,
                     .number = last + 1,
                     .engine_version = BT_ENGINE_VERSION,
                     .issued_ms = bt__now_ms(book),
                     .outcome = bt_outcome_name(ledger->outcome),
                     .total = ledger->total,
                     .total_percent_milli = ledger->total_percent_milli,
                     .total_ms = ledger->total_ms,
                     .json = json};
  memcpy(result.head_link, chain->head, BT_SHA256_BYTES);
  for (int i = 0; i < BT_COMPONENTS; i++) {
    const BtComponentScore *score = &ledger->component[i];
    const gint64 columns[3] = {score->assessed, score->given_mp, score->possible_mp};
    memcpy(result.component[i], columns, sizeof columns);
  }
  *number = result.number;
  bt__result_sha256(&result, sha256);
  return insert_result(book, &result, error);
}

char *bt_book_result_json(BtBook *book, gint64 observation_id, GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &latest_json, error, ARGS(INT(observation_id)));
  return query && bt__step(query, error) == 1 ? bt__text_dup(query, 0) : NULL;
}
