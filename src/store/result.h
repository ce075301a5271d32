// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef STORE_RESULT_H
#define STORE_RESULT_H

#include "store/observation.h"

// A result's row as the columns have it. Strings are borrowed.
typedef struct {
  gint64 observation_id;
  gint64 number;
  gint64 engine_version;
  guint8 head_link[BT_SHA256_BYTES];
  gint64 issued_ms;
  const char *outcome, *total, *json;
  gint64 total_percent_milli, total_ms;
  gint64 component[BT_COMPONENTS][3]; // assessed, given_mp, possible_mp
} BtResult;

#define BT_RESULT_COLUMN_COUNT 28
#define BT_RESULT_COLUMNS                                                                          \
  "observation_id, number, engine_version, head_link, issued_ms, outcome, total, "                 \
  "total_percent_milli, total_ms, steps_assessed, steps_given_mp, steps_possible_mp, "             \
  "order_assessed, order_given_mp, order_possible_mp, time_assessed, time_given_mp, "              \
  "time_possible_mp, technique_assessed, technique_given_mp, technique_possible_mp, "              \
  "product_assessed, product_given_mp, product_possible_mp, rating_assessed, rating_given_mp, "    \
  "rating_possible_mp, json"
// Reads the row that stands ready; strings live until the next step. False when its shape is wrong.
bool bt__result_read(BtQuery *query, BtResult *result);

// SHA-256, in hex, over every column: what the book's chain keeps of a result.
void bt__result_sha256(const BtResult *result, char hex[BT_SHA256_HEX + 1]);

#endif
