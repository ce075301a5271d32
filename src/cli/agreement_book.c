// SPDX-License-Identifier: GPL-3.0-or-later
//
// Agreement of the assessors of a book, over the sessions of one rubric.
#include "cli/agreement.h"
#include "cli/figure.h"

#define SESSIONS_SHOWN 5

// What is told.
typedef struct {
  const AgreementRequest *request;
  const BtRubric *rubric;
  const BtViews *views;
  const BtViewEvents *events;
  GArray *disagreements; // of BtDisagreement
} Told;

static GArray *items_of(const Told *told, BtViewOf what) {
  GArray *items = g_array_new(FALSE, FALSE, sizeof(AgreementItem));
  const BtRubric *rubric = told->rubric;
  int n = what == BT_VIEW_STEP ? rubric->n_checkpoints : rubric->n_errors;
  for (int i = 0; i < n; i++) {
    const char *id = what == BT_VIEW_STEP ? rubric->checkpoints[i].id : rubric->errors[i].id;
    AgreementItem item = {id, bt_views_agreement(told->views, what, i)};
    g_array_append_val(items, item);
  }
  return items;
}

// What is scored, in their order: the total and the time, then each rating and measure.
typedef struct {
  BtViewOf what;
  int item;
  const char *id, *title, *unit;
  int decimals;
} Score;

static GArray *scores_of(const BtRubric *rubric) {
  GArray *list = g_array_new(FALSE, FALSE, sizeof(Score));
  Score total = {BT_VIEW_TOTAL_PERCENT, -1, "total", "Total", "percent of the points", 1};
  Score time = {BT_VIEW_TOTAL_S, -1, "time", "Time", "seconds", 0};
  g_array_append_val(list, total);
  g_array_append_val(list, time);
  for (int i = 0; i < rubric->n_ratings; i++) {
    Score rating = {BT_VIEW_RATING, i, rubric->ratings[i].id, rubric->ratings[i].title,
                    "of the scale", 1};
    g_array_append_val(list, rating);
  }
  for (int i = 0; i < rubric->n_measures; i++) {
    const BtMeasure *of = &rubric->measures[i];
    Score measure = {BT_VIEW_MEASURE, i, of->id, of->title, of->unit, 2};
    g_array_append_val(list, measure);
  }
  return list;
}

// The scores as ratings; caller frees `cell`.
static BtRatings ratings_of(const Told *told, const Score *score) {
  gsize cells = told->views->sessions * told->views->assessors;
  double *cell = g_new(double, cells + 1);
  bt_views_fill(told->views, score->what, score->item, cell);
  return (BtRatings){told->views->sessions, told->views->assessors, cell};
}

// How many things each session was seen otherwise (of guint, sessions long); caller frees.
static guint *counts_of(const Told *told) {
  guint *count = g_new0(guint, told->views->sessions + 1);
  for (guint i = 0; i < told->disagreements->len; i++)
    count[g_array_index(told->disagreements, BtDisagreement, i).session]++;
  return count;
}

// Text ------------------------------------------------------------------------

static void put_left_out(GString *text, gsize n, const char *singular, const char *plural) {
  if (n > 0)
    g_string_append_printf(text, "; %" G_GSIZE_FORMAT " %s", n, n == 1 ? singular : plural);
}

static void put_basis(GString *out, const Told *told) {
  const BtViews *views = told->views;
  g_autoptr(GString) text = g_string_new(NULL);
  g_autofree char *sessions = bt_count_of((gint64)views->sessions, "session", NULL);
  g_autofree char *names = g_strjoinv(", ", (char **)views->assessor);
  g_string_append_printf(text, "%s, edition %d: %s observed by two or more", told->rubric->title,
                         told->rubric->edition, sessions);
  if (views->assessors > 0)
    g_string_append_printf(text, " (%s)", names);
  put_left_out(text, views->alone, "by one alone", "by one alone");
  put_left_out(text, views->own_left_out, "trainee's own record left out",
               "trainees' own records left out");
  put_left_out(text, views->again_left_out, "second view by the same assessor left out",
               "second views by the same assessor left out");
  cli_put_paragraph(out, 0, "%s.", text->str);
}

static void put_score(GString *out, const Told *told, const Score *score,
                      const BtRatings *ratings) {
  BtScoreAgreement agreement = bt_views_icc(told->views, score->what, score->item);
  g_string_append_printf(out, "\n%s (%s)\n", score->title, score->unit);
  agreement_put_icc(out, &agreement.icc, agreement.same_raters);
  agreement_put_differences(out, ratings, told->views->assessor, score->decimals,
                            told->request->wide);
}

static bool shared_by_two(const BtRatings *ratings) {
  return bt_agreement(ratings, 0, 0, NULL).paired > 0;
}

static void put_scores(GString *out, const Told *told) {
  g_autoptr(GArray) scores = scores_of(told->rubric);
  g_autoptr(GString) missing = g_string_new(NULL);
  for (guint i = 0; i < scores->len; i++) {
    const Score *score = &g_array_index(scores, Score, i);
    BtRatings ratings = ratings_of(told, score);
    if (shared_by_two(&ratings))
      put_score(out, told, score, &ratings);
    else
      g_string_append_printf(missing, "%s%s", missing->len ? "; " : "", score->title);
    g_free((gpointer)ratings.cell);
  }
  if (missing->len == 0)
    return;
  g_string_append_c(out, '\n');
  cli_put_paragraph(out, 0, "In no session given by two assessors: %s.", missing->str);
}

static void put_events(GString *out, const Told *told) {
  const BtViewEvents *events = told->events;
  g_autofree char *tolerance = bt_clock_format_exact(told->request->tolerance_ms);
  g_string_append(out, "\nTimed entries\n");
  if (events->entries == 0) {
    g_string_append(out, "  None were logged in these sessions.\n");
    return;
  }
  g_autofree char *percent = agreement_percent(events->share.value);
  cli_put_paragraph(out, 2,
                    "%s %% of %" G_GSIZE_FORMAT " entries have their counterpart in the other "
                    "record within %s: the same action and site, error or inject, in the same "
                    "order (2 x matched / entries of both).",
                    percent, events->entries, tolerance);
  cli_put_figure_row(out, "share matched", 15, &events->share, 2);
  cli_put_figure_row(out, "apart, s", 15, &events->median_off_s, 1);
  cli_put_figure_row(out, "first - second", 15, &events->off_s.bias, 1);
  if (!events->off_s.lower.why_not)
    g_string_append_printf(out, "  95 of 100 matched times differ by %.1f to %.1f s.\n",
                           events->off_s.lower.value, events->off_s.upper.value);
}

// The sessions that were seen most differently.
static void put_sessions(GString *out, const Told *told) {
  g_autofree guint *count = counts_of(told);
  gsize n = told->views->sessions;
  if (told->disagreements->len == 0) {
    g_string_append(out, "\nNo checkpoint or error was seen otherwise in any session.\n");
    return;
  }
  g_string_append_printf(out, "\nSeen otherwise: %u\n", told->disagreements->len);
  gsize most = 0, named = n;
  for (int shown = 0; shown < SESSIONS_SHOWN; shown++) {
    for (most = 0; most < n && count[most] == 0;)
      most++;
    for (gsize s = most; s < n; s++)
      most = count[s] > count[most] ? s : most;
    if (most == n)
      break;
    g_string_append_printf(out, "  %s: %u\n", told->views->session[most], count[most]);
    named = named == n ? most : named;
    count[most] = 0;
  }
  cli_put_paragraph(out, 0, "For two assessors to sit down with: benchtally agreement --session %s",
                    told->views->session[named]);
}

static void put_sources(GString *out) {
  g_string_append_c(out, '\n');
  cli_put_paragraph(
      out, 0,
      "What was not seen, or did not count, in one of the records is left out of what they agreed "
      "on; a judgement that one alone made still tells how often the thing is done (Gwet 2014). A "
      "dash, or no limits: not estimable, as where all are alike; --json says why. Limits hold 95 "
      "of 100 times: of shares Wilson 1927, over all checkpoints with sessions as clusters. Kappa "
      "where "
      "two assessors share a checkpoint Cohen 1960 (error Fleiss, Cohen and Everitt 1969), of more "
      "and over all Fleiss 1971; AC1 Gwet 2008; holes by Gwet 2014. Where nearly all did a "
      "checkpoint, or nearly none, kappa falls though agreement is high: there read the share "
      "agreed and AC1. ICC(2,1) one assessor, ICC(2,k) the mean of all, ICC(3) severity taken out, "
      "ICC(1) where assessors changed from session to session: Shrout and Fleiss 1979. "
      "Differences: Bland and Altman 1986.");
  cli_put_paragraph(out, 0, "Training records, no certificate of clinical competence.");
}

static void put_nothing(GString *out, const Told *told) {
  cli_put_paragraph(out, 0,
                    "Agreement is not estimable: no session of %s has the records of two "
                    "assessors yet. A second assessor in the lab, or at the video of a past "
                    "session, makes one.",
                    told->rubric->id);
  put_basis(out, told);
}

static void put_text(GString *out, const Told *told) {
  BtAgreement steps = bt_views_agreement(told->views, BT_VIEW_STEP, -1);
  BtAgreement errors = bt_views_agreement(told->views, BT_VIEW_ERROR, -1);
  g_autoptr(GArray) checkpoints = items_of(told, BT_VIEW_STEP);
  g_autoptr(GArray) kinds = items_of(told, BT_VIEW_ERROR);
  agreement_put_sentence(out, &steps, "assessors", "the checkpoints they both saw");
  put_basis(out, told);
  g_string_append_c(out, '\n');
  agreement_put_items(out, "checkpoint", ">done %", checkpoints, told->request->wide);
  if (kinds->len > 0) {
    g_string_append_c(out, '\n');
    agreement_put_sentence(out, &errors, "assessors", "the kinds of error they both looked for");
    agreement_put_items(out, "error", ">seen %", kinds, told->request->wide);
  }
  put_scores(out, told);
  put_events(out, told);
  put_sessions(out, told);
  put_sources(out);
}

// JSON ------------------------------------------------------------------------

static json_t *group_json(const Told *told, BtViewOf what) {
  BtAgreement all = bt_views_agreement(told->views, what, -1);
  g_autoptr(GArray) items = items_of(told, what);
  json_t *each = json_array();
  for (guint i = 0; i < items->len; i++) {
    const AgreementItem *item = &g_array_index(items, AgreementItem, i);
    json_array_append_new(each, agreement_json(item->name, &item->agreement));
  }
  return json_pack("{s:o s:o}", "all", agreement_json(NULL, &all), "each", each);
}

static json_t *scores_json(const Told *told) {
  g_autoptr(GArray) scores = scores_of(told->rubric);
  json_t *list = json_array();
  for (guint i = 0; i < scores->len; i++) {
    const Score *score = &g_array_index(scores, Score, i);
    BtScoreAgreement agreement = bt_views_icc(told->views, score->what, score->item);
    BtRatings ratings = ratings_of(told, score);
    json_t *differences = agreement_json_differences(&ratings, told->views->assessor);
    json_array_append_new(list, json_pack("{s:s s:s s:o s:o}", "id", score->id, "unit", score->unit,
                                          "icc",
                                          agreement_json_icc(&agreement.icc, agreement.same_raters),
                                          "differences", differences));
    g_free((gpointer)ratings.cell);
  }
  return list;
}

static json_t *events_json(const Told *told) {
  const BtViewEvents *events = told->events;
  return json_pack(
      "{s:I s:I s:I s:o s:o s:o}", "tolerance_ms", (json_int_t)told->request->tolerance_ms,
      "entries", (json_int_t)events->entries, "matched", (json_int_t)events->matched, "share",
      cli_json_figure("2 x matched / entries of both", &events->share), "median_apart_s",
      cli_json_figure("median distance of matched times", &events->median_off_s), "differences_s",
      agreement_json_limits(&events->off_s));
}

static const char *state_name(const BtStudyRow *row, const BtDisagreement *about) {
  static const char *const names[] = {[BT_STEP_NOT_DONE] = "not_done",
                                      [BT_STEP_DONE] = "done",
                                      [BT_STEP_NOT_SEEN] = "not_seen",
                                      [BT_STEP_OUT] = "out"};
  if (about->what == BT_VIEW_STEP)
    return names[row->step[about->item]];
  int count = row->errors[about->item];
  return count < 0 ? "not_seen" : count > 0 ? "happened" : "did_not_happen";
}

static json_t *disagreements_json(const Told *told) {
  const BtViews *views = told->views;
  json_t *list = json_array();
  for (guint i = 0; i < told->disagreements->len; i++) {
    const BtDisagreement *of = &g_array_index(told->disagreements, BtDisagreement, i);
    bool step = of->what == BT_VIEW_STEP;
    json_t *said = json_object();
    for (gsize a = 0; a < views->assessors; a++) {
      const BtStudyRow *row = views->view[of->session * views->assessors + a];
      if (row)
        json_object_set_new(said, views->assessor[a], json_string(state_name(row, of)));
    }
    json_array_append_new(
        list,
        json_pack("{s:s s:s s:s s:b s:o}", "session", views->session[of->session], "about",
                  step ? "checkpoint" : "error", "id",
                  step ? told->rubric->checkpoints[of->item].id : told->rubric->errors[of->item].id,
                  "counted", of->counted, "said", said));
  }
  return list;
}

static json_t *told_json(const Told *told) {
  const BtViews *views = told->views;
  json_t *assessors = json_array();
  for (gsize a = 0; a < views->assessors; a++)
    json_array_append_new(assessors, json_string(views->assessor[a]));
  json_t *left_out =
      json_pack("{s:I s:I s:I}", "alone", (json_int_t)views->alone, "own_records",
                (json_int_t)views->own_left_out, "second_views", (json_int_t)views->again_left_out);
  return json_pack("{s:s s:i s:I s:o s:o s:o s:o s:o s:o s:o}", "rubric", told->rubric->id,
                   "edition", told->rubric->edition, "sessions", (json_int_t)views->sessions,
                   "assessors", assessors, "left_out", left_out, "checkpoints",
                   group_json(told, BT_VIEW_STEP), "errors", group_json(told, BT_VIEW_ERROR),
                   "scores", scores_json(told), "entries", events_json(told), "disagreements",
                   disagreements_json(told));
}

int agreement_of_book(Cli *cli, const AgreementRequest *request) {
  int status = 0;
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  if (!bt_book_hold(book, &error))
    return cli_error(g_steal_pointer(&error));
  BtStudyScope scope = {.rubric = request->rubric, .edition = request->edition};
  g_autoptr(BtStudy) study = bt_study_read(book, &scope, NULL, NULL, &error);
  g_autoptr(BtViews) views = study ? bt_views_new(study, request->with_own) : NULL;
  g_autoptr(BtViewEvents) events =
      views ? bt_views_events(book, views, request->tolerance_ms, &error) : NULL;
  bt_book_release(book);
  if (!events)
    return cli_error(g_steal_pointer(&error));
  g_autoptr(GArray) disagreements = bt_views_disagreements(views);
  Told told = {request, study->rubric, views, events, disagreements};
  if (request->json)
    cli_put_json(cli->out, told_json(&told));
  else if (views->sessions == 0)
    put_nothing(cli->out, &told);
  else
    put_text(cli->out, &told);
  return 0;
}
