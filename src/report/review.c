// SPDX-License-Identifier: GPL-3.0-or-later
//
// The review as a page: the answer first, then what it rests on.
#include "report/review.h"

#include "report/advice.h"
#include "words/words.h"

#define COST_MOST 3
#define WELL_MOST 4

// Head ------------------------------------------------------------------------

static char *title_of(const BtReview *review) {
  const BtAttempt *attempt = review->attempt;
  g_autofree char *date = bt_date_format(attempt->row->started_ms);
  return g_strdup_printf("%s: attempt %d, %s", attempt->rubric->title, attempt->row->attempt, date);
}

static char *footer_of(const BtReview *review) {
  return g_strdup_printf("A training record of work on a plastic model, no certificate of clinical "
                         "competence. Session %s, trainee %s",
                         review->attempt->row->session, review->attempt->row->trainee);
}

static void say_who(const BtReview *review, BtPage *page) {
  const BtSessionRow *row = review->attempt->row;
  static const char *const seen[] = {
      [BT_MODE_LIVE] = "in the lab", [BT_MODE_VIDEO] = "from video", [BT_MODE_SELF] = "by oneself"};
  g_autofree char *trainee = bt__review_person(review, row->trainee);
  g_autofree char *assessor = bt__review_person(review, row->assessor);
  BtText *text = bt__page_text(page, BT_LOOK_SMALL, NULL);
  bt__sayf(text, "Trainee %s. ", trainee);
  if (row->mode == BT_MODE_SELF)
    bt__say(text, "The trainee's own record; it decides nothing. ");
  else
    bt__sayf(text, "Assessed by %s, %s. ", assessor, seen[row->mode]);
  bt__sayf(text, "Rubric %s, edition %d. Session %s.", row->rubric, row->edition, row->session);
  if (!row->of_record && row->mode != BT_MODE_SELF)
    bt__say(text, " Another observation of this session is the one that counts.");
}

// What cost most --------------------------------------------------------------

static void say_costs(const BtReview *review, BtPage *page) {
  bt__page_heading(page, "cost", "What cost most");
  g_autoptr(GPtrArray) advice = bt__attempt_advice(review->attempt, review->lines, COST_MOST);
  if (advice->len == 0)
    bt__say(bt__page_text(page, BT_LOOK_PLAIN, NULL), "No points were lost.");
  for (guint i = 0; i < advice->len; i++) {
    const BtAdvice *item = g_ptr_array_index(advice, i);
    g_autofree char *words = bt__advice_sentence(item);
    g_autofree char *target = bt__line_id(item->line);
    BtText *text = bt__page_text(page, BT_LOOK_ITEM, NULL);
    bt__say(text, words);
    bt__say(text, " ");
    bt__say_link(text, "In the ledger", target);
  }
}

// What went well --------------------------------------------------------------

static void steps_of_phase(const BtLedger *ledger, const BtPhase *phase, const BtRubric *rubric,
                           gint64 *given_mp, gint64 *possible_mp) {
  *given_mp = *possible_mp = 0;
  for (int i = 0; i < phase->n_checkpoints; i++) {
    int checkpoint = phase->first_checkpoint + i;
    const BtStepRow *row = &g_array_index(ledger->steps, BtStepRow, (guint)checkpoint);
    if (row->why_out != BT_IN_SCORE)
      continue;
    *given_mp += row->given_mp;
    *possible_mp += rubric->checkpoints[checkpoint].points_mp;
  }
}

static int well_phases(const BtReview *review, BtPage *page, int most) {
  const BtAttempt *attempt = review->attempt;
  int said = 0;
  for (int i = 0; i < attempt->rubric->n_phases && said < most; i++) {
    const BtPhase *phase = &attempt->rubric->phases[i];
    gint64 given_mp, possible_mp, spent_ms = attempt->ledger->charged_ms[i];
    steps_of_phase(attempt->ledger, phase, attempt->rubric, &given_mp, &possible_mp);
    bool in_time = phase->target_ms == 0 || spent_ms <= phase->target_ms;
    if (possible_mp == 0 || given_mp < possible_mp || !in_time)
      continue;
    g_autofree char *spent = bt_clock_format(spent_ms);
    g_autofree char *points = bt_decimal_format(possible_mp);
    BtText *text = bt__page_text(page, BT_LOOK_ITEM, NULL);
    bt__sayf(text, "%s: all %s points of its steps, in %s.", phase->title, points, spent);
    said++;
  }
  return said;
}

static int rules_kept(const BtLedger *ledger) {
  int kept = 0;
  for (guint i = 0; i < ledger->order->len; i++) {
    const BtOrderRow *row = &g_array_index(ledger->order, BtOrderRow, i);
    if (row->applies && row->broken)
      return 0;
    kept += row->applies;
  }
  return kept;
}

static int errors_found(const BtLedger *ledger) {
  int found = 0;
  for (guint i = 0; i < ledger->technique->len; i++)
    found += g_array_index(ledger->technique, BtTechniqueRow, i).count;
  return found;
}

// The best total so far, when there were others before.
static bool is_best(const BtReview *review) {
  gint64 total_milli = review->attempt->row->total_percent_milli;
  for (guint i = 0; i + 1 < review->attempts->len; i++) {
    const BtAttempt *earlier = g_ptr_array_index(review->attempts, i);
    if (earlier->row->total_percent_milli >= total_milli)
      return false;
  }
  return review->attempts->len > 1 && total_milli >= 0;
}

static void say_well(const BtReview *review, BtPage *page) {
  const BtLedger *ledger = review->attempt->ledger;
  bt__page_heading(page, "well", "What went well");
  int said = 0, kept = rules_kept(ledger);
  if (is_best(review)) {
    bt__sayf(bt__page_text(page, BT_LOOK_ITEM, NULL), "The best total of %u attempts.",
             review->attempts->len);
    said++;
  }
  if (kept > 0 && ledger->displaced->len == 0) {
    g_autofree char *rules = bt_count_of(kept, "rule", NULL);
    bt__sayf(bt__page_text(page, BT_LOOK_ITEM, NULL),
             "The order: %s applied, none was broken, nothing stood out of place.", rules);
    said++;
  }
  if (ledger->component[BT_TECHNIQUE].assessed && ledger->technique->len > 0 &&
      errors_found(ledger) == 0) {
    bt__say(bt__page_text(page, BT_LOOK_ITEM, NULL), "No technique error was seen.");
    said++;
  }
  said += well_phases(review, page, WELL_MOST - MIN(said, WELL_MOST - 1));
  if (said == 0)
    bt__say(bt__page_text(page, BT_LOOK_PLAIN, NULL),
            "No phase earned all its points within its target time yet.");
}

void bt__review_answer(const BtReview *review, BtPage *page) {
  const BtAttempt *attempt = review->attempt;
  g_autofree char *sentence =
      bt_outcome_sentence(attempt->rubric, attempt->observation, attempt->ledger);
  BtText *text = bt__page_text(page, BT_LOOK_LEAD, "outcome");
  bool passed = attempt->ledger->outcome == BT_PASS;
  g_autofree char *mark = g_strdup_printf("%s ", bt__outcome_mark((int)attempt->ledger->outcome));
  bt__say_strong(text, passed ? BT_LAGOON : BT_OCHRE, mark);
  bt__say(text, sentence);
  say_who(review, page);
  say_costs(review, page);
  say_well(review, page);
}

// The whole page --------------------------------------------------------------

BtPage *bt__review_page(const BtReview *review) {
  g_autofree char *title = title_of(review);
  g_autofree char *footer = footer_of(review);
  BtPage *page = bt__page_new(title, footer, review->attempt->row->closed_ms);
  bt__review_answer(review, page);
  bt__review_pictures(review, page);
  bt__review_values(review, page);
  bt__review_ledger(review, page);
  bt__review_end(review, page);
  return page;
}
