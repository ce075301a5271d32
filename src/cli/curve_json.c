// SPDX-License-Identifier: GPL-3.0-or-later
//
// Curves as JSON, with every digit.
#include <string.h>

#include "cli/curve.h"
#include "cli/figure.h"

static json_t *number_or_null(double value) {
  return bt_is_missing(value) ? json_null() : json_real(value);
}

static json_t *attempt_or_null(gsize attempt) {
  return attempt ? json_integer((json_int_t)attempt) : json_null();
}

static json_t *to_mark_json(const BtToMark *to_mark) {
  g_autofree char *words = bt_to_mark_words(to_mark);
  return json_pack("{s:o, s:o, s:o, s:s}", "at", attempt_or_null(to_mark->at), "low",
                   attempt_or_null(to_mark->low), "high", attempt_or_null(to_mark->high), "words",
                   words);
}

static json_t *chart_json(const BtCusum *chart, const BtCurveTerms *terms) {
  json_t *object = json_pack("{s:f, s:f, s:f}", "limit", chart->limit, "on_pass", chart->on_pass,
                             "on_not_yet", chart->on_not_yet);
  BtEstimate at = bt_cusum_signals(chart, terms->adequate, terms->within);
  BtEstimate off = bt_cusum_signals(chart, terms->inadequate, terms->within);
  BtEstimate run_at = bt_cusum_run(chart, terms->adequate);
  BtEstimate run_off = bt_cusum_run(chart, terms->inadequate);
  json_object_set_new(object, "signals_at_standard",
                      cli_json_figure("chance of a signal within the attempts", &at));
  json_object_set_new(object, "signals_not_at_standard",
                      cli_json_figure("chance of a signal within the attempts", &off));
  json_object_set_new(object, "run_at_standard", cli_json_figure("average run length", &run_at));
  json_object_set_new(object, "run_not_at_standard",
                      cli_json_figure("average run length", &run_off));
  return object;
}

static json_t *charts_json(const BtPractices *all) {
  const BtCurveTerms *terms = &all->terms;
  const BtSequentialTest *test = &all->test;
  json_t *object = json_pack("{s:f, s:f, s:I, s:f}", "p0", terms->adequate, "p1", terms->inadequate,
                             "within", (json_int_t)terms->within, "error", terms->error);
  if (all->to.why_not) {
    json_object_set_new(object, "why", json_string(all->to.why_not));
    return object;
  }
  json_object_set_new(object, "lc_cusum", chart_json(&all->to, terms));
  json_object_set_new(object, "cusum", chart_json(&all->from, terms));
  if (!test->why_not)
    json_object_set_new(object, "sequential_test",
                        json_pack("{s:f, s:f, s:f, s:f, s:f}", "P", test->p, "Q", test->q, "s",
                                  test->s, "h0", test->accept, "h1", test->reject));
  return object;
}

static json_t *drift_json(const BtDrift *drift) {
  if (drift->why_not)
    return json_pack("{s:s, s:I}", "why", drift->why_not, "n", (json_int_t)drift->n);
  json_t *object =
      json_pack("{s:I, s:f, s:f, s:f, s:f}", "n", (json_int_t)drift->n, "mean", drift->mean, "sd",
                drift->sd, "slack_sd", BT_DRIFT_SLACK, "limit_sd", BT_DRIFT_LIMIT);
  json_object_set_new(object, "run", cli_json_figure("average run length", &drift->run));
  return object;
}

static json_t *cohort_json(const BtCohortCurve *cohort) {
  if (cohort->why_not)
    return json_pack("{s:s, s:I, s:I}", "why", cohort->why_not, "n", (json_int_t)cohort->n,
                     "trainees", (json_int_t)cohort->trainees);
  json_t *object =
      json_pack("{s:I, s:I, s:b, s:f, s:f, s:f, s:f, s:b}", "n", (json_int_t)cohort->n, "trainees",
                (json_int_t)cohort->trainees, "common_gain", cohort->common_gain, "start_sd",
                cohort->start_sd, "gain_sd", cohort->gain_sd, "correlation", cohort->correlation,
                "residual_sd", cohort->residual_sd, "at_boundary", cohort->at_boundary);
  json_object_set_new(object, "start", cli_json_figure("mean start (REML)", &cohort->start));
  json_object_set_new(object, "gain",
                      cli_json_figure("mean gain with each doubling (REML)", &cohort->gain));
  json_object_set_new(object, "to_mark", to_mark_json(&cohort->to_mark));
  return object;
}

// One trainee -----------------------------------------------------------------

static json_t *fit_json(const BtCurveFit *fit, BtCurveForm form) {
  json_t *object = json_pack("{s:s, s:f}", "form", bt_curve_form_name(form), "df", fit->df);
  json_t *cautions = json_array();
  for (int i = 0; i < BT_CURVE_CAUTIONS; i++) {
    if (fit->cautions & (1u << i))
      json_array_append_new(cautions, json_string(bt_curve_caution((BtCurveCaution)(1u << i))));
  }
  json_object_set_new(object, "cautions", cautions);
  json_object_set_new(object, "residual_ss",
                      fit->why_not ? json_null() : json_real(fit->residual_ss));
  json_object_set_new(object, "start", cli_json_figure("start", &fit->start));
  json_object_set_new(object, "rate", cli_json_figure("rate", &fit->rate));
  json_object_set_new(object, "plateau", cli_json_figure("plateau", &fit->plateau));
  json_object_set_new(object, "aicc", cli_json_figure("AICc (Hurvich and Tsai 1989)", &fit->aicc));
  return object;
}

static json_t *curve_of_one(const BtCurve *curve) {
  json_t *forms = json_array(), *object = json_object();
  for (int form = 0; form < BT_CURVE_FORMS; form++)
    json_array_append_new(forms, fit_json(&curve->fit[form], (BtCurveForm)form));
  json_object_set_new(object, "forms", forms);
  json_object_set_new(object, "n", json_integer((json_int_t)curve->n));
  json_object_set_new(object, "tie", json_boolean(curve->tie));
  json_object_set_new(object, "preferred",
                      curve->why_no_choice ? json_null()
                                           : json_string(bt_curve_form_name(curve->preferred)));
  if (curve->trend.n > 0)
    json_object_set_new(object, "trend",
                        json_pack("{s:i, s:f, s:i, s:i}", "n", curve->trend.n, "slope",
                                  (double)curve->trend.slope / 1000, "kendall_s", curve->trend.s,
                                  "by_chance_permille", curve->trend.by_chance_permille));
  return object;
}

static json_t *attempts_json(const BtPractice *practice, const CurveSet *set) {
  json_t *list = json_array();
  for (gsize i = 0, at = 0; i < practice->n; i++) {
    const BtCurvePoint *point = &practice->point[i];
    bool decided = point->decided && set->decided;
    bool followed = decided && practice->way.n > 0;
    json_t *row = json_pack("{s:i, s:s?, s:o, s:o}", "attempt", point->attempt, "session",
                            point->session, "value", number_or_null(point->value), "passed",
                            decided ? json_boolean(point->passed) : json_null());
    if (followed) {
      json_object_set_new(row, "sum", json_real(practice->way.sum[at]));
      json_object_set_new(
          row, "chart",
          json_string(practice->way.watch[at] == BT_TO_STANDARD ? "lc_cusum" : "cusum"));
      at++;
    }
    json_array_append_new(list, row);
  }
  return list;
}

static int number_at(const BtPractice *practice, gsize place) {
  return place ? practice->decided_at[place - 1] : 0;
}

static json_t *state_json(const BtPractice *practice, const CurveSet *set) {
  static const char *const verdicts[] = {"open", "acceptable", "unacceptable"};
  const BtWay *way = &practice->way;
  g_autofree char *words = bt_practice_words(practice, set->practices);
  if (!set->decided)
    return json_null();
  return json_pack("{s:s, s:b, s:o, s:o, s:o, s:I, s:s, s:o}", "words", words, "at_standard",
                   way->at_standard, "reached",
                   attempt_or_null((gsize)number_at(practice, way->reached)), "signal",
                   attempt_or_null((gsize)number_at(practice, way->left)), "signal_from",
                   attempt_or_null((gsize)number_at(practice, way->left_from)), "passes_needed",
                   (json_int_t)way->passes_needed, "sequential_test", verdicts[practice->verdict],
                   "sequential_test_at", attempt_or_null((gsize)practice->verdict_at));
}

static json_t *trainee_json(const BtPractice *practice, const CurveSet *set) {
  const BtTraineeCurve *own = practice->in_cohort;
  json_t *object = json_pack("{s:s, s:I, s:I, s:o}", "trainee", practice->trainee, "attempts_made",
                             (json_int_t)practice->n, "not_here", (json_int_t)practice->not_here,
                             "drifted_at", attempt_or_null((gsize)practice->drifted_at));
  json_object_set_new(object, "attempts", attempts_json(practice, set));
  json_object_set_new(object, "curve", curve_of_one(&practice->curve));
  json_object_set_new(object, "standard", state_json(practice, set));
  json_t *with_cohort = json_null();
  if (own) {
    with_cohort = json_object();
    json_object_set_new(with_cohort, "start", cli_json_figure("start (REML)", &own->start));
    json_object_set_new(with_cohort, "gain",
                        cli_json_figure("gain with each doubling (REML)", &own->gain));
    json_object_set_new(with_cohort, "to_mark", to_mark_json(&own->to_mark));
  }
  json_object_set_new(object, "with_cohort", with_cohort);
  return object;
}

json_t *curve_json(const CurveSet *set, const CurveRequest *request) {
  const BtPractices *all = set->practices;
  const char *of = set->checkpoint ? "checkpoint" : all->falling ? "time" : "percent";
  json_t *trainees = json_array();
  for (guint i = 0; i < all->practice->len; i++) {
    const BtPractice *practice = g_ptr_array_index(all->practice, i);
    if (curve_asked(request, practice->trainee))
      json_array_append_new(trainees, trainee_json(practice, set));
  }
  json_t *object = json_pack("{s:s?, s:s?, s:s, s:o, s:o}", "exercise", set->exercise, "checkpoint",
                             set->checkpoint, "value", of, "mark", number_or_null(all->terms.mark),
                             "trainees", trainees);
  json_object_set_new(object, "edition", attempt_or_null((gsize)set->edition));
  json_object_set_new(object, "cohort", cohort_json(all->cohort));
  json_object_set_new(object, "charts", charts_json(all));
  json_object_set_new(object, "drift", drift_json(&all->drift));
  return object;
}
