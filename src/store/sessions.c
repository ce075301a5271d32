// SPDX-License-Identifier: GPL-3.0-or-later
//
// The list of observations with their latest results.
#include <string.h>

#include "store/result.h"

void bt_session_row_free(BtSessionRow *row) {
  if (!row)
    return;
  g_free(row->session);
  g_free(row->trainee);
  g_free(row->assessor);
  g_free(row->rubric);
  g_free(row->receipt);
  g_free(row);
}

// The observation of record is the one the director named, else the first closed live one, else the
// first closed video one; a trainee's own never decides (the scoring law, section 11).
#define IS_OF_RECORD                                                                               \
  "(o.closed_ms IS NOT NULL AND o.id = coalesce(s.of_record, ("                                    \
  "  SELECT d.id FROM observation AS d WHERE d.session = s.code"                                   \
  "  AND d.closed_ms IS NOT NULL AND d.mode <> 'self'"                                             \
  "  ORDER BY d.mode = 'video', d.closed_ms, d.id LIMIT 1)))"

// Everything but the two tables is looked up row by row, each over an index: a list of one session
// costs no more in a large book than in a small one.
#define SESSION_ROWS                                                                               \
  "SELECT o.id, s.code, s.trainee, o.assessor, s.rubric, s.edition, s.started_ms, o.mode,"         \
  "  o.closed_ms, o.receipt, o.events - o.strikes, o.strikes + o.amends,"                          \
  "  (SELECT count(*) FROM session AS e WHERE e.trainee = s.trainee AND e.rubric = s.rubric"       \
  "    AND (e.started_ms, e.code) <= (s.started_ms, s.code)),"                                     \
  "  " IS_OF_RECORD ","                                                                            \
  "  r.outcome, r.total_percent_milli, r.total_ms,"                                                \
  "  r.steps_assessed, r.steps_given_mp, r.steps_possible_mp,"                                     \
  "  r.order_assessed, r.order_given_mp, r.order_possible_mp,"                                     \
  "  r.time_assessed, r.time_given_mp, r.time_possible_mp,"                                        \
  "  r.technique_assessed, r.technique_given_mp, r.technique_possible_mp,"                         \
  "  r.product_assessed, r.product_given_mp, r.product_possible_mp,"                               \
  "  r.rating_assessed, r.rating_given_mp, r.rating_possible_mp "                                  \
  "FROM observation AS o JOIN session AS s ON s.code = o.session "                                 \
  "LEFT JOIN result AS r INDEXED BY result_figures ON r.observation_id = o.id AND r.number ="      \
  "  (SELECT max(number) FROM result AS l WHERE l.observation_id = o.id) "
#define FILTERED                                                                                   \
  "(?1 IS NULL OR s.trainee = ?1) AND (?2 IS NULL OR o.assessor = ?2)"                             \
  "  AND (?3 IS NULL OR s.rubric = ?3)"                                                            \
  "  AND (NOT ?5 OR " IS_OF_RECORD ")"                                                             \
  "  AND (NOT ?6 OR o.closed_ms IS NULL) "                                                         \
  "ORDER BY s.trainee, s.started_ms, s.code, o.assessor, o.mode"
static const BtSql list_sessions = {"list the sessions",
                                    SESSION_ROWS "WHERE ?4 IS NULL AND " FILTERED};
// Apart, so that the index of sessions is used.
static const BtSql list_one_session = {"list the observations of a session",
                                       SESSION_ROWS "WHERE o.session = ?4 AND " FILTERED};
static const BtSql one_observation = {"look the observation up", SESSION_ROWS "WHERE o.id = ?1"};

static void read_result(BtQuery *query, BtSessionRow *row) {
  row->outcome = bt_outcome_from_name(bt__text(query, 14));
  row->total_percent_milli = bt__is_null(query, 15) ? -1 : bt__int(query, 15);
  row->total_ms = bt__int(query, 16);
  for (int i = 0; i < BT_COMPONENTS; i++) {
    row->assessed[i] = bt__int(query, 17 + 3 * i) != 0;
    row->given_mp[i] = bt__int(query, 18 + 3 * i);
    row->possible_mp[i] = bt__int(query, 19 + 3 * i);
  }
}

static BtSessionRow *read_row(BtQuery *query) {
  BtSessionRow *row = g_new(BtSessionRow, 1);
  int mode = bt_mode_from_name(bt__text(query, 7));
  *row = (BtSessionRow){.id = bt__int(query, 0),
                        .session = bt__text_dup(query, 1),
                        .trainee = bt__text_dup(query, 2),
                        .assessor = bt__text_dup(query, 3),
                        .rubric = bt__text_dup(query, 4),
                        .edition = (int)bt__int(query, 5),
                        .started_ms = bt__int(query, 6),
                        .mode = mode < 0 ? BT_MODE_LIVE : (BtMode)mode,
                        .closed = !bt__is_null(query, 8),
                        .closed_ms = bt__int(query, 8),
                        .receipt = bt__text_dup(query, 9),
                        .events = (int)bt__int(query, 10),
                        .corrections = (int)bt__int(query, 11),
                        .attempt = (int)bt__int(query, 12),
                        .of_record = bt__int(query, 13) != 0};
  read_result(query, row);
  return row;
}

static void free_row(gpointer row) {
  bt_session_row_free(row);
}

GPtrArray *bt_book_sessions(BtBook *book, const BtSessionFilter *filter, GError **error) {
  static const BtSessionFilter all = {0};
  const BtSessionFilter *by = filter ? filter : &all;
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func(free_row);
  g_autoptr(BtQuery) query =
      bt__query(book->db, by->session ? &list_one_session : &list_sessions, error,
                ARGS(TEXT(by->trainee), TEXT(by->assessor), TEXT(by->rubric), TEXT(by->session),
                     INT(by->of_record_only), INT(by->open_only)));
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    g_ptr_array_add(rows, read_row(query));
  return row == 0 ? g_steal_pointer(&rows) : NULL;
}

static const BtSql read_recorder = {"look the observation up",
                                    "SELECT o.assessor, s.trainee FROM observation AS o "
                                    "JOIN session AS s ON s.code = o.session WHERE o.id = ?1"};

char *bt_book_recorder(BtBook *book, gint64 observation_id, char **trainee, GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &read_recorder, error, ARGS(INT(observation_id)));
  if (!query || bt__step(query, error) != 1)
    return NULL;
  if (trainee)
    *trainee = bt__text_dup(query, 1);
  return bt__text_dup(query, 0);
}

BtSessionRow *bt_book_observation(BtBook *book, gint64 observation_id, GError **error) {
  g_autoptr(BtQuery) query =
      bt__query(book->db, &one_observation, error, ARGS(INT(observation_id)));
  return query && bt__step(query, error) == 1 ? read_row(query) : NULL;
}
