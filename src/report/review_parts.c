// SPDX-License-Identifier: GPL-3.0-or-later
//
// The review's pictures with their tables, values, ledger, log and end.
#include "report/review.h"

#include "report/advice.h"
#include "words/words.h"

static void add_figure(BtPage *page, BtFigure figure) {
  bt__page_figure(page, &figure);
  g_free(figure.id);
  g_free(figure.title);
  g_free(figure.words);
}

// "m:ss" that leads to the event.
static void say_moment(BtText *text, int seq, gint64 at_ms) {
  g_autofree char *at = bt_clock_format(at_ms);
  g_autofree char *target = bt__event_id(seq);
  bt__say_link(text, at, target);
}

// The moments of some events, each a link.
static void say_moments(BtText *text, const BtReview *review, const GArray *seqs) {
  for (guint i = 0; i < seqs->len; i++) {
    int seq = g_array_index(seqs, int, i);
    gint64 at_ms = bt__event_at_ms(review->attempt->observation, seq);
    if (at_ms < 0)
      continue;
    if (text->len > 0)
      bt__say(text, ", ");
    say_moment(text, seq, at_ms);
  }
}

// Time ------------------------------------------------------------------------

static const BtPageColumn time_columns[] = {{"Phase", 5, false},
                                            {"Time", 2, true},
                                            {"Target", 2, true},
                                            {"Limit", 2, true},
                                            {"Points", 3, true}};

static void say_clock(BtText *text, gint64 ms) {
  g_autofree char *words = ms > 0 ? bt_clock_format(ms) : NULL;
  bt__say(text, words);
}

// What was given of what was possible; what can only be lost stands alone.
static void say_points(BtText *text, gint64 given_mp, gint64 possible_mp) {
  g_autofree char *given = bt_decimal_format(given_mp);
  if (possible_mp == 0) {
    bt__say(text, given);
    return;
  }
  g_autofree char *possible = bt_decimal_format(possible_mp);
  bt__sayf(text, "%s of %s", given, possible);
}

static const BtTimeRow *time_row(const BtLedger *ledger, int phase) {
  for (guint i = 0; i < ledger->time->len; i++) {
    const BtTimeRow *row = &g_array_index(ledger->time, BtTimeRow, i);
    if (row->phase == phase)
      return row;
  }
  return NULL;
}

static void add_time_row(BtPage *page, BtBlock *table, const BtReview *review, int phase) {
  const BtRubric *rubric = review->attempt->rubric;
  const BtLedger *ledger = review->attempt->ledger;
  const BtTimeRow *points = ledger->component[BT_TIME].assessed ? time_row(ledger, phase) : NULL;
  bool whole = phase < 0;
  BtPageRow *row = bt__page_row(page, table, NULL);
  bt__say(bt__cell(row, 0), whole ? "The whole session" : rubric->phases[phase].title);
  say_clock(bt__cell(row, 1), whole ? ledger->total_ms : ledger->charged_ms[phase]);
  say_clock(bt__cell(row, 2), whole ? rubric->clock.target_ms : rubric->phases[phase].target_ms);
  say_clock(bt__cell(row, 3), whole ? rubric->clock.limit_ms : rubric->phases[phase].limit_ms);
  if (points)
    say_points(bt__cell(row, 4), points->given_mp, points->points_mp);
}

static void add_times(const BtReview *review, BtPage *page) {
  bt__page_heading(page, "time", "Time against target");
  add_figure(page, bt__time_figure(review));
  BtBlock *table = bt__page_table(page, "Active time in each phase; pauses are left out",
                                  time_columns, G_N_ELEMENTS(time_columns));
  for (int i = 0; i < review->attempt->rubric->n_phases; i++)
    add_time_row(page, table, review, i);
  add_time_row(page, table, review, -1);
  g_autofree char *why = NULL;
  BtScored scored = bt__review_scored(review);
  if ((why = bt__why_not_assessed(&scored, BT_TIME)) != NULL)
    bt__sayf(bt__page_text(page, BT_LOOK_SMALL, NULL), "Time earns no points here: %s.", why);
}

// Progress --------------------------------------------------------------------

static const BtPageColumn progress_columns[] = {{"Attempt", 2, true},
                                                {"Date", 3, false},
                                                {"Outcome", 3, false},
                                                {"Total %", 2, true},
                                                {"Middle half of the others %", 5, false}};

static void add_progress_row(BtPage *page, BtBlock *table, const BtAttempt *attempt) {
  const BtSessionRow *row = attempt->row;
  BtPageRow *line = bt__page_row(page, table, NULL);
  g_autofree char *date = bt_date_format(row->started_ms);
  g_autofree char *outcome = bt__outcome_text((int)attempt->ledger->outcome);
  bt__sayf(bt__cell(line, 0), "%d", row->attempt);
  bt__say(bt__cell(line, 1), date);
  bt__say(bt__cell(line, 2), outcome);
  if (attempt->ledger->total_percent_milli >= 0) {
    g_autofree char *total = bt_decimal_format_cut(attempt->ledger->total_percent_milli, 1);
    bt__say(bt__cell(line, 3), total);
  }
  if (bt__middle_half_shown(&attempt->others)) {
    g_autofree char *low = bt_decimal_format_cut(attempt->others.low_milli, 1);
    g_autofree char *high = bt_decimal_format_cut(attempt->others.high_milli, 1);
    bt__sayf(bt__cell(line, 4), "%s to %s (%d trainees)", low, high, attempt->others.n);
  } else {
    bt__say(bt__cell(line, 4), "too few others to say");
  }
}

static void add_progress(const BtReview *review, BtPage *page) {
  bt__page_heading(page, "progress", "Progress in this exercise");
  const BtExercise exercise = {.rubric = review->attempt->rubric, .attempts = review->attempts};
  g_autofree char *trend = bt__trend_sentence(&exercise);
  bt__say(bt__page_text(page, BT_LOOK_PLAIN, NULL), trend);
  if (review->attempts->len > 1)
    add_figure(page, bt__progress_figure(review));
  BtBlock *table = bt__page_table(page, "This trainee's attempts up to this one", progress_columns,
                                  G_N_ELEMENTS(progress_columns));
  for (guint i = 0; i < review->attempts->len; i++)
    add_progress_row(page, table, g_ptr_array_index(review->attempts, i));
}

// Pictures --------------------------------------------------------------------

void bt__review_pictures(const BtReview *review, BtPage *page) {
  bt__page_heading(page, "timeline", "The session in time");
  add_figure(page, bt__timeline_figure(review));
  bt__page_heading(page, "sequence", "The order of the work");
  if (review->order)
    add_figure(page, bt__order_figure(review));
  else
    bt__say(bt__page_text(page, BT_LOOK_PLAIN, NULL),
            "No order rule of this rubric applied to what was done.");
  add_times(review, page);
}

// Values ----------------------------------------------------------------------

static const BtPageColumn error_columns[] = {{"Error", 6, false},
                                             {"Severity", 2, false},
                                             {"Seen", 1.3, true},
                                             {"When", 4, false},
                                             {"Points lost", 2, true}};

static void add_error_row(BtPage *page, BtBlock *table, const BtReview *review,
                          const BtTechniqueRow *found) {
  const BtErrorKind *kind = &review->attempt->rubric->errors[found->error];
  BtPageRow *row = bt__page_row(page, table, NULL);
  g_autofree char *target = g_strdup_printf("technique-%s", kind->id);
  g_autofree char *lost = bt_decimal_format(found->lost_mp);
  bt__say_link(bt__cell(row, 0), kind->title, target);
  if (kind->severity == BT_SEVERE_CRITICAL)
    bt__say_strong(bt__cell(row, 1), BT_PLUM, bt_severity_name(kind->severity));
  else
    bt__say(bt__cell(row, 1), bt_severity_name(kind->severity));
  bt__sayf(bt__cell(row, 2), "%d", found->count);
  say_moments(bt__cell(row, 3), review, found->events);
  bt__say(bt__cell(row, 4), lost);
}

static void add_errors(const BtReview *review, BtPage *page) {
  const GArray *technique = review->attempt->ledger->technique;
  bt__page_heading(page, "errors", "Technique errors");
  BtBlock *table = NULL;
  for (guint i = 0; i < technique->len; i++) {
    const BtTechniqueRow *found = &g_array_index(technique, BtTechniqueRow, i);
    if (found->count == 0)
      continue;
    if (!table)
      table = bt__page_table(page, "Each kind that was seen", error_columns,
                             G_N_ELEMENTS(error_columns));
    add_error_row(page, table, review, found);
  }
  BtScored scored = bt__review_scored(review);
  g_autofree char *why = bt__why_not_assessed(&scored, BT_TECHNIQUE);
  BtText *text = table && !why ? NULL : bt__page_text(page, BT_LOOK_PLAIN, NULL);
  if (why)
    bt__sayf(text, "Technique was not assessed: %s.", why);
  else if (text)
    bt__say(text, "None was seen.");
}

static const BtPageColumn value_columns[] = {
    {"What", 5, false}, {"Value", 3, false}, {"Wanted", 5, false}, {"Points", 2, true}};

// The rows of a component whose values were taken from the model or judged.
static void add_values(const BtReview *review, BtPage *page, BtComponent component,
                       const char *heading, const char *caption) {
  BtBlock *table = NULL;
  for (guint i = 0; i < review->lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(review->lines, i);
    if (line->component != component)
      continue;
    if (!table) {
      bt__page_heading(page, bt_component_name(component), heading);
      table = bt__page_table(page, caption, value_columns, G_N_ELEMENTS(value_columns));
    }
    BtPageRow *row = bt__page_row(page, table, NULL);
    g_autofree char *target = bt__line_id(line);
    bt__say_link(bt__cell(row, 0), line->what, target);
    bt__say(bt__cell(row, 1), line->happened);
    bt__say(bt__cell(row, 2), line->expected);
    say_points(bt__cell(row, 3), line->given_mp, line->possible_mp);
  }
}

void bt__review_values(const BtReview *review, BtPage *page) {
  add_errors(review, page);
  add_values(review, page, BT_PRODUCT, "The finished model",
             "Measures taken from the model against their tolerance");
  add_values(review, page, BT_RATING, "Ratings", "Judgements of the whole");
}

// Ledger ----------------------------------------------------------------------

static const BtPageColumn ledger_columns[] = {{"Rule", 7, false},
                                              {"What happened", 4.5, false},
                                              {"At", 1.5, true},
                                              {"Points", 2.6, true},
                                              {"Why", 5, false}};

static void say_state(BtText *text, const BtLedgerLine *line) {
  if (line->critical)
    bt__say_strong(text, BT_PLUM, "critical. ");
  else if (line->lost)
    bt__say_strong(text, BT_OCHRE, "lost. ");
}

static void add_line(BtPage *page, BtBlock *table, const BtLedgerLine *line) {
  g_autofree char *id = bt__line_id(line);
  BtPageRow *row = bt__page_row(page, table, id);
  bt__say(bt__cell(row, 0), line->what);
  if (line->expected && *line->expected)
    bt__sayf(bt__cell(row, 0), " (%s)", line->expected);
  bt__say(bt__cell(row, 1), line->happened);
  if (line->at_ms >= 0 && line->first_event > 0)
    say_moment(bt__cell(row, 2), line->first_event, line->at_ms);
  if (line->counts)
    say_points(bt__cell(row, 3), line->given_mp, line->possible_mp);
  else
    bt__say(bt__cell(row, 3), "not in the score");
  say_state(bt__cell(row, 4), line);
  bt__say(bt__cell(row, 4), line->why);
}

static void add_component(const BtReview *review, BtPage *page, BtComponent component) {
  const BtComponentScore *score = &review->attempt->ledger->component[component];
  g_autofree char *given = bt_decimal_format(score->given_mp);
  g_autofree char *possible = bt_decimal_format(score->possible_mp);
  BtScored scored = bt__review_scored(review);
  g_autofree char *why = bt__why_not_assessed(&scored, component);
  g_autofree char *caption =
      why ? g_strdup_printf("%s: not assessed, %s", bt__component_title(component), why)
          : g_strdup_printf("%s: %s of %s points, weight %d", bt__component_title(component), given,
                            possible, review->attempt->rubric->score.weight[component]);
  BtBlock *table = NULL;
  for (guint i = 0; i < review->lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(review->lines, i);
    if (line->component != component)
      continue;
    if (!table)
      table = bt__page_table(page, caption, ledger_columns, G_N_ELEMENTS(ledger_columns));
    add_line(page, table, line);
  }
  if (!table && review->attempt->rubric->score.weight[component] > 0)
    bt__sayf(bt__page_text(page, BT_LOOK_SMALL, NULL), "%s.", caption);
}

static const BtPageColumn log_columns[] = {
    {"At", 1.6, true}, {"No.", 1.2, true}, {"What was logged", 8, false}, {"Counted as", 4, false}};

// Where an event stands in the ledger: the first row that rests on it.
static const BtLedgerLine *line_of_event(const BtReview *review, int seq) {
  for (guint i = 0; i < review->lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(review->lines, i);
    if (line->first_event == seq)
      return line;
  }
  return NULL;
}

static void add_event(const BtReview *review, BtPage *page, BtBlock *table,
                      const BtPlaced *placed) {
  g_autofree char *id = bt__event_id(placed->event->seq);
  g_autofree char *at = bt_clock_format(placed->event->at_ms);
  g_autofree char *words = bt__event_text(review->attempt->rubric, placed->event);
  const BtLedgerLine *line = line_of_event(review, placed->event->seq);
  BtPageRow *row = bt__page_row(page, table, id);
  bt__say(bt__cell(row, 0), at);
  bt__sayf(bt__cell(row, 1), "%d", placed->event->seq);
  bt__say(bt__cell(row, 2), words);
  if (placed->event->note && *placed->event->note && placed->event->kind != BT_EVENT_NOTE)
    bt__sayf(bt__cell(row, 2), " (%s)", placed->event->note);
  if (line) {
    g_autofree char *target = bt__line_id(line);
    bt__say_link(bt__cell(row, 3), placed->result, target);
  } else {
    bt__say(bt__cell(row, 3), placed->result);
  }
  if (placed->order) {
    bt__say(bt__cell(row, 3), ", ");
    bt__say_strong(bt__cell(row, 3), BT_OCHRE, placed->order);
  }
}

void bt__review_ledger(const BtReview *review, BtPage *page) {
  bt__page_heading(page, "ledger", "The full ledger");
  for (int i = 0; i < BT_COMPONENTS; i++)
    add_component(review, page, (BtComponent)i);
  BtScored scored = bt__review_scored(review);
  g_autoptr(GPtrArray) notes = bt__ledger_notes(&scored);
  for (guint i = 0; i < notes->len; i++)
    bt__say(bt__page_text(page, BT_LOOK_ITEM, NULL), g_ptr_array_index(notes, i));
  bt__page_heading(page, "log", "The log");
  BtBlock *table = bt__page_table(page, "Every entry, on the session's clock", log_columns,
                                  G_N_ELEMENTS(log_columns));
  const GArray *marks = review->timeline->marks;
  for (guint i = 0; i < marks->len; i++)
    add_event(review, page, table, &g_array_index(marks, BtPlaced, i));
  add_progress(review, page);
}

// End -------------------------------------------------------------------------

static void say_cautions(const BtReview *review, BtPage *page) {
  bt__page_heading(page, "cautions", "Please note");
  bt__say(
      bt__page_text(page, BT_LOOK_CAUTION, NULL),
      "A training record of work on a plastic model. It certifies no clinical competence. Saws, "
      "drills, wires and dust hurt people: eye protection, gloves, suction and supervision as "
      "the lab's own rules say. Plate and screw choices in rubrics are teaching examples; on a "
      "patient the supervising surgeon, the manufacturer's instructions and local protocol "
      "decide.");
  char *const *cautions = review->attempt->rubric->cautions;
  for (gsize i = 0; cautions && cautions[i]; i++)
    bt__say(bt__page_text(page, BT_LOOK_ITEM, NULL), cautions[i]);
}

void bt__review_end(const BtReview *review, BtPage *page) {
  say_cautions(review, page);
  const BtSessionRow *row = review->attempt->row;
  bt__page_heading(page, "receipt", "Where this comes from");
  g_autofree char *closed = bt_rfc3339_format(row->closed_ms);
  bt__sayf(bt__page_text(page, BT_LOOK_PLAIN, NULL),
           "Receipt %s, closed %s. It is the one that was shown when the session was closed; "
           "compare it with the one on paper.",
           row->receipt ? row->receipt : "none", closed);
  BtText *text = bt__page_text(page, BT_LOOK_SMALL, NULL);
  bt__sayf(text,
           "Rubric %s, edition %d, SHA-256 %s. Head of the book %s, record %" G_GINT64_FORMAT
           ". Scoring engine %d. Made by Benchtally %s; check with `benchtally verify` and "
           "`benchtally score %s --json`.",
           row->rubric, row->edition, review->attempt->rubric->sha256, review->head,
           review->head_records, BT_ENGINE_VERSION, BENCHTALLY_VERSION, row->session);
}
