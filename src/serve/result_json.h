// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SERVE_RESULT_JSON_H
#define SERVE_RESULT_JSON_H

#include <benchtally/book.h>
#include <jansson.h>

// The result of an observation with its ledger in words; NULL with `error`. The caller's own.
json_t *bt__result_json(BtBook *book, gint64 observation_id, GError **error);

// A total as JSON: thousandths of a percent, or null when nothing counts.
json_t *bt__total_json(gint64 total_percent_milli);

#endif
