// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/review.h"

#include "words/words.h"

// Which one -------------------------------------------------------------------

static void no_such_session(const char *session, GError **error) {
  g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
              "no session \"%s\" in the book; `benchtally sessions` lists them", session);
}

static const BtSessionRow *chosen(const GPtrArray *rows, const char *session, gint64 observation_id,
                                  GError **error) {
  const BtSessionRow *open = NULL;
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = g_ptr_array_index(rows, i);
    if (!g_str_equal(row->session, session))
      continue;
    bool meant = observation_id ? row->id == observation_id : row->of_record;
    if (meant && row->closed)
      return row;
    open = row;
  }
  if (open)
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "session \"%s\" has nothing to review yet: no observation of it is closed; finish "
                "it first",
                session);
  else
    no_such_session(session, error);
  return NULL;
}

// All rows of the rubric that the session used; NULL with `error`.
static GPtrArray *rows_of(BtBook *book, const char *session, GError **error) {
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &(BtSessionFilter){.session = session}, error);
  if (!rows)
    return NULL;
  if (rows->len == 0) {
    no_such_session(session, error);
    return NULL;
  }
  const BtSessionRow *first = g_ptr_array_index(rows, 0);
  return bt_book_sessions(book, &(BtSessionFilter){.rubric = first->rubric}, error);
}

// Attempts --------------------------------------------------------------------

static void free_attempt(gpointer data) {
  BtAttempt *attempt = data;
  bt_observation_free(attempt->observation);
  bt_ledger_free(attempt->ledger);
  g_free(attempt);
}

static BtAttempt *add_attempt(BtReview *review, BtBook *book, const BtSessionRow *row,
                              GError **error) {
  const BtRubric *rubric = NULL;
  BtObservation *observation = bt_book_load(book, row->id, &rubric, error);
  if (!observation)
    return NULL;
  BtAttempt *attempt = g_new(BtAttempt, 1);
  *attempt = (BtAttempt){.row = row,
                         .rubric = rubric,
                         .observation = observation,
                         .ledger = bt_score(rubric, observation),
                         .others = bt__cohort_at(review->cohort, row)};
  g_ptr_array_add(review->attempts, attempt);
  return attempt;
}

static bool add_attempts(BtReview *review, BtBook *book, const BtSessionRow *row, GError **error) {
  for (guint i = 0; i < review->rows->len; i++) {
    const BtSessionRow *own = g_ptr_array_index(review->rows, i);
    bool earlier = own->of_record && own->closed && own->attempt < row->attempt &&
                   g_str_equal(own->trainee, row->trainee);
    if (earlier && !add_attempt(review, book, own, error))
      return false;
  }
  review->attempt = add_attempt(review, book, row, error);
  return review->attempt != NULL;
}

// The review ------------------------------------------------------------------

BtReview *bt_review_new(BtBook *book, const char *session, gint64 observation_id, GError **error) {
  g_autoptr(BtReview) review = g_new0(BtReview, 1);
  if (!(review->rows = rows_of(book, session, error)) ||
      !(review->people = bt_book_people(book, -1, error)) ||
      !bt_book_head(book, review->head, &review->head_records, error))
    return NULL;
  const BtSessionRow *row = chosen(review->rows, session, observation_id, error);
  if (!row)
    return NULL;
  review->cohort = bt__cohort_new(review->rows);
  review->attempts = g_ptr_array_new_with_free_func(free_attempt);
  if (!add_attempts(review, book, row, error))
    return NULL;
  BtScored scored = bt__review_scored(review);
  review->lines = bt_ledger_lines(scored.rubric, scored.observation, scored.ledger);
  review->timeline = bt__timeline_new(review->attempt);
  review->order = bt__order_picture_new(review);
  return g_steal_pointer(&review);
}

void bt_review_free(BtReview *review) {
  if (!review)
    return;
  bt__order_picture_free(review->order);
  bt__timeline_free(review->timeline);
  g_clear_pointer(&review->lines, g_ptr_array_unref);
  g_clear_pointer(&review->attempts, g_ptr_array_unref);
  bt__cohort_free(review->cohort);
  g_clear_pointer(&review->people, g_ptr_array_unref);
  g_clear_pointer(&review->rows, g_ptr_array_unref);
  g_free(review);
}

const char *bt_review_trainee(const BtReview *review) {
  return review->attempt->row->trainee;
}

BtScored bt__review_scored(const BtReview *review) {
  const BtAttempt *attempt = review->attempt;
  return (BtScored){attempt->rubric, attempt->observation, attempt->ledger};
}

char *bt__review_person(const BtReview *review, const char *code) {
  for (guint i = 0; i < review->people->len; i++) {
    const BtPerson *person = g_ptr_array_index(review->people, i);
    if (g_str_equal(person->code, code) && person->name && *person->name)
      return g_strdup_printf("%s (%s)", person->name, code);
  }
  return g_strdup(code);
}

char *bt__event_id(int seq) {
  return g_strdup_printf("event-%d", seq);
}

char *bt__line_id(const BtLedgerLine *line) {
  return g_strdup_printf("%s-%s", bt_component_name(line->component), line->id);
}

char *bt_review_html(const BtReview *review) {
  g_autoptr(BtPage) page = bt__review_page(review);
  return bt__page_html(page);
}

GByteArray *bt_review_pdf(const BtReview *review, BtReviewPaper paper, GError **error) {
  g_autoptr(BtPage) page = bt__review_page(review);
  return bt__page_pdf(page, paper == BT_REVIEW_LETTER ? BT_PAPER_LETTER : BT_PAPER_A4, error);
}
