// SPDX-License-Identifier: GPL-3.0-or-later
//
// The review of a session, and its pictures.
#include <benchtally/review.h>
#include <string.h>

#include "serve/access.h"
#include "serve/route.h"

// The hash by which the content policy knows the page's own style sheet. Caller frees.
static char *style_sha256(const char *html) {
  static const char begin[] = "<style>", end[] = "</style>";
  const char *from = strstr(html, begin);
  const char *to = from ? strstr(from, end) : NULL;
  if (!to)
    return NULL;
  guint8 digest[BT_SHA256_BYTES];
  from += sizeof begin - 1;
  bt_sha256(from, (gsize)(to - from), digest);
  return g_base64_encode(digest, sizeof digest);
}

static BtAnswer *text_answer(const char *type, char *text) {
  return bt__answer(200, type, g_bytes_new_take(text, strlen(text)));
}

// The review of a session that the trainee may see; observation 0: that of record. NULL: *refusal
// says why.
static BtReview *make_review(BtRequest *request, const char *what, const BtSessionRow *row,
                             gint64 observation_id, BtAnswer **refusal) {
  g_autoptr(GError) error = NULL;
  BtReview *review = NULL;
  if (bt__request_note(request, what, row->trainee, row->session, &error)) {
    BtBook *book = bt__request_book(request, &error);
    review = book ? bt_review_new(book, row->session, observation_id, &error) : NULL;
  }
  if (!review)
    *refusal = bt__answer_error(g_steal_pointer(&error));
  return review;
}

// The observation of record of the rows that may be seen; NULL: *refusal says why.
static const BtSessionRow *of_record(BtRequest *request, const GPtrArray *rows, BtSight sight,
                                     BtAnswer **refusal) {
  for (guint i = 0; i < rows->len; i++) {
    const BtSessionRow *row = rows->pdata[i];
    if (row->of_record && bt__may_see(request->login, row, sight))
      return row;
  }
  *refusal = sight == BT_SIGHT_CLEAR
                 ? bt__answer_refusal(409, "open", "nothing of this session is closed yet")
                 : bt__answer_refusal(403, "blind",
                                      "close your own observation of this session first, or say "
                                      "that you will make none");
  return NULL;
}

BtAnswer *bt__handle_review(BtRequest *request) {
  BtAnswer *refusal = NULL;
  BtSight sight;
  g_autoptr(GPtrArray) rows = bt__visible_session(request, request->place[0], &sight, &refusal);
  const BtSessionRow *row = rows ? of_record(request, rows, sight, &refusal) : NULL;
  if (row) // its progress tells of earlier sessions
    refusal = bt__check_sights(request, row->trainee, row->rubric, row->started_ms);
  if (refusal)
    return refusal;
  g_autoptr(BtReview) review = row ? make_review(request, "review", row, 0, &refusal) : NULL;
  if (!review)
    return refusal;
  char *html = bt_review_html(review);
  char *sha256 = style_sha256(html);
  BtAnswer *answer = text_answer("text/html; charset=utf-8", html);
  answer->style_sha256 = sha256;
  return answer;
}

// Pictures --------------------------------------------------------------------

static BtAnswer *picture_answer(BtRequest *request, const BtSessionRow *row,
                                BtReviewPicture which) {
  BtAnswer *refusal = NULL;
  g_autoptr(BtReview) review = make_review(request, "picture", row, row->id, &refusal);
  return review ? text_answer("image/svg+xml", bt_review_picture(review, which)) : refusal;
}

BtAnswer *bt__handle_timeline(BtRequest *request) {
  BtAnswer *refusal = NULL;
  g_autoptr(BtSessionRow) row = bt__visible_observation(request, bt__place_id(request), &refusal);
  return row ? picture_answer(request, row, BT_PICTURE_TIMELINE) : refusal;
}

BtAnswer *bt__handle_progress(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  const char *trainee = request->place[0];
  const char *rubric = bt__param(request, "rubric");
  if (bt__is_trainee(request) && strcmp(trainee, request->login->code) != 0)
    return bt__answer_no_such("trainee");
  if (!rubric)
    return bt__answer_refusal(422, "wrong", "name the rubric: ?rubric=ID");
  BtAnswer *refusal = bt__check_sights(request, trainee, rubric, G_MAXINT64);
  if (refusal)
    return refusal;
  const BtSessionFilter filter = {.trainee = trainee, .rubric = rubric, .of_record_only = true};
  BtBook *book = bt__request_book(request, &error);
  g_autoptr(GPtrArray) rows = book ? bt_book_sessions(book, &filter, &error) : NULL;
  if (!rows)
    return bt__answer_error(g_steal_pointer(&error));
  return rows->len ? picture_answer(request, rows->pdata[rows->len - 1], BT_PICTURE_PROGRESS)
                   : bt__answer_refusal(404, "unknown", "there is no closed session to show yet");
}
