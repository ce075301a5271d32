// SPDX-License-Identifier: GPL-3.0-or-later
//
// The review of one session: what came of it, why, what to practise; for the trainee who leaves the
// lab. The same page as HTML and as PDF.
#ifndef BENCHTALLY_REVIEW_H
#define BENCHTALLY_REVIEW_H

#include <benchtally/book.h>

G_BEGIN_DECLS

typedef struct BtReview BtReview;

typedef enum { BT_REVIEW_A4, BT_REVIEW_LETTER } BtReviewPaper;

// Gathers the review of a session's observation of record, or of the observation `observation_id`
// (0: that of record). Borrows the book, which must stay open. NULL with `error`: UNKNOWN (no such
// session), CONFLICT (nothing of it is closed), DATABASE. Caller frees.
BT_API BT_MUST_USE BtReview *bt_review_new(BtBook *book, const char *session, gint64 observation_id,
                                           GError **error);
BT_API void bt_review_free(BtReview *review); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtReview, bt_review_free)

// Whose session it is; borrowed from the review.
BT_API const char *bt_review_trainee(const BtReview *review);

// Its pictures one by one, each a whole SVG image. Caller frees.
typedef enum {
  BT_PICTURE_TIMELINE,
  BT_PICTURE_TIME,
  BT_PICTURE_PROGRESS,
  BT_PICTURE_ORDER
} BtReviewPicture;
BT_API BT_MUST_USE char *bt_review_picture(const BtReview *review, BtReviewPicture which);

// One self-contained page: no script, nothing fetched. Same book, same bytes. Caller frees.
BT_API BT_MUST_USE char *bt_review_html(const BtReview *review);
// The same as PDF. NULL with `error`: EXPORT (the typeface is missing). Caller frees.
BT_API BT_MUST_USE GByteArray *bt_review_pdf(const BtReview *review, BtReviewPaper paper,
                                             GError **error);

G_END_DECLS
#endif
