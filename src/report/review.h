// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the review of a session shows, gathered, and its parts.
#ifndef BENCHTALLY_REPORT_REVIEW_H
#define BENCHTALLY_REPORT_REVIEW_H

#include <benchtally/review.h>

#include "words/ledger_parts.h"
#include "report/page.h"
#include "report/record.h"
#include "report/timeline.h"

typedef struct BtOrderPicture BtOrderPicture;

struct BtReview {
  GPtrArray *rows;     // of BtSessionRow: all of this rubric in the book
  GPtrArray *people;   // of BtPerson
  BtCohort *cohort;    // of rows
  GPtrArray *attempts; // of BtAttempt: the trainee's own of record up to this one, then this one
  BtAttempt *attempt;  // the one reviewed: the last of `attempts`
  GPtrArray *lines;    // of BtLedgerLine
  BtTimeline *timeline;
  BtOrderPicture *order; // NULL: no rule applies
  char head[BT_SHA256_HEX + 1];
  gint64 head_records;
};

BtScored bt__review_scored(const BtReview *review);
// "Ada Beispiel (T-01)", or the code alone. Caller frees.
char *bt__review_person(const BtReview *review, const char *code);

// The ids of places in the page. Callers free.
char *bt__event_id(int seq);                 // "event-12"
char *bt__line_id(const BtLedgerLine *line); // "steps-radius-plate"

// The whole page. Caller frees; it borrows from the review.
BtPage *bt__review_page(const BtReview *review);

// Parts of the page, each with its heading.
void bt__review_answer(const BtReview *review, BtPage *page); // outcome, what cost most, went well
void bt__review_pictures(const BtReview *review, BtPage *page);
void bt__review_values(const BtReview *review, BtPage *page); // errors, measures, ratings
void bt__review_ledger(const BtReview *review, BtPage *page); // ledger, and the log it rests on
void bt__review_end(const BtReview *review, BtPage *page);    // cautions, receipt

// Figures ---------------------------------------------------------------------

// Each fills in size, title, words and drawing; the caller frees id, title and words.
BtFigure bt__timeline_figure(const BtReview *review);
BtFigure bt__time_figure(const BtReview *review);
BtFigure bt__progress_figure(const BtReview *review);
BtFigure bt__order_figure(const BtReview *review);

// What the order's picture shows: the checkpoints that rules speak of, in the order in which they
// were first done.
BtOrderPicture *bt__order_picture_new(const BtReview *review);
void bt__order_picture_free(BtOrderPicture *picture); // NULL is allowed

#endif
