// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the record says in sentences: the trend, the place among others, what to practise next.
#ifndef BENCHTALLY_REPORT_ADVICE_H
#define BENCHTALLY_REPORT_ADVICE_H

#include "words/ledger_parts.h"
#include "report/record.h"

// A loss of an attempt that is worth practising.
typedef struct {
  const BtAttempt *attempt; // borrowed
  const GPtrArray *lines;   // its ledger; borrowed
  const BtLedgerLine *line; // of these
  const char *coach;        // borrowed; NULL when the rubric says nothing
  gint64 share_milli;       // what it cost of the total, thousandths of a percent
} BtAdvice;

// The greatest losses over the latest attempts, critical ones first, at most `most` in all and two
// of one exercise. Of BtAdvice; caller frees.
GPtrArray *bt__advice(const BtTraineeRecord *record, guint most);
// Those of one attempt, whose ledger in words is `lines`, at most `most`. Of BtAdvice; caller
// frees.
GPtrArray *bt__attempt_advice(const BtAttempt *attempt, const GPtrArray *lines, guint most);
// "Six cortices on each side (4:10): cost 2 of 6 points. Measure depth ..." Caller frees.
char *bt__advice_sentence(const BtAdvice *advice);
// As above for a rule that was broken: what came too early, when, and what was missing then. Caller
// frees.
char *bt__order_advice(const BtScored *scored, const BtOrderRow *row, const BtLedgerLine *line);

// How the totals of an exercise move, with how sure that is. Caller frees.
char *bt__trend_sentence(const BtExercise *exercise);
// Where the others stand at this attempt; "" when there are too few. Caller frees.
char *bt__others_sentence(const BtAttempt *attempt);

// A filled disc for pass, an open ring for not yet, a half disc for undecided; static. "" for -1.
const char *bt__outcome_mark(int outcome);
// The mark and the word; "no result" for -1. Caller frees.
char *bt__outcome_text(int outcome);

#endif
