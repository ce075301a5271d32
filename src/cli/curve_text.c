// SPDX-License-Identifier: GPL-3.0-or-later
//
// Curves as text.
#include <math.h>
#include <string.h>

#include "cli/curve.h"
#include "cli/figure.h"

#define FORM_WIDTH  9
#define DECIMALS    1
#define RATE_DIGITS 3

static bool of_times(const CurveSet *set) {
  return set->practices->falling;
}

// "71.3", "12:30", "-"; caller frees.
static char *value_text(const CurveSet *set, double value) {
  if (bt_is_missing(value))
    return g_strdup("-");
  if (of_times(set))
    return bt_clock_format((gint64)llround(value * 1000));
  return cli_percent_text(value);
}

static char *mark_text(const CurveSet *set) {
  g_autofree char *value = value_text(set, set->practices->terms.mark);
  return g_strdup_printf("%s%s", value, of_times(set) ? "" : " %");
}

static char *estimate_text(const BtEstimate *estimate, int decimals, bool sign) {
  char form[8], text[G_ASCII_DTOSTR_BUF_SIZE];
  if (estimate->why_not)
    return g_strdup("-");
  g_snprintf(form, sizeof form, "%%%s.%df", sign ? "+" : "", decimals);
  return g_strdup(g_ascii_formatd(text, sizeof text, form, estimate->value));
}

// What they are of ------------------------------------------------------------

static void put_exercise(GString *out, const CurveSet *set) {
  const char *of = of_times(set) ? "time" : "total, in percent";
  g_autofree char *part =
      set->checkpoint ? g_strdup_printf("checkpoint %s, percent done", set->checkpoint) : NULL;
  g_autofree char *edition =
      set->edition ? g_strdup_printf(" edition %d", set->edition) : g_strdup("");
  g_autofree char *mark = mark_text(set);
  bool marked = !bt_is_missing(set->practices->terms.mark);
  const char *name = set->title ? set->title : set->exercise;
  cli_put_paragraph(out, 0, "%s%s%s%s%s%s.", name ? name : "", name ? edition : "",
                    name ? ": " : "Of the table: ", part ? part : of, marked ? ", mark " : "",
                    marked ? mark : "");
  if (set->practices->terms.by_mark)
    cli_put_paragraph(out, 0, "What is at the mark is taken as a pass, whatever else decided.");
}

// The cohort ------------------------------------------------------------------

static void put_counts(GString *out, const char *all, guint reached, guint left, guint of) {
  g_autofree char *signalled =
      left ? g_strdup_printf("; signal for %u who had shown it", left) : g_strdup("");
  cli_put_paragraph(out, 0, "%u of %s at standard; not yet shown by %u%s.", reached, all,
                    of - reached - left, signalled);
}

static void put_cohort_sentence(GString *out, const CurveSet *set) {
  const GPtrArray *practice = set->practices->practice;
  guint reached = 0, left = 0;
  for (guint i = 0; i < practice->len; i++) {
    const BtPractice *one = g_ptr_array_index(practice, i);
    reached += one->way.at_standard;
    left += !one->way.at_standard && one->way.left > 0;
  }
  g_autofree char *all = bt_count_of(practice->len, "trainee", NULL);
  if (practice->len == 0)
    cli_put_paragraph(out, 0, "No attempt is on record: there is no curve yet.");
  else if (!set->decided)
    cli_put_paragraph(out, 0,
                      "%s. Which attempts passed is not known (no column \"passed\", no "
                      "--standard), so no standard is followed.",
                      all);
  else
    put_counts(out, all, reached, left, practice->len);
}

// "reached at 9", "signal at 12", "8 more passes", "-"; caller frees.
static char *short_state(const BtPractice *practice, const CurveSet *set) {
  const BtWay *way = &practice->way;
  if (!set->decided || practice->decided == 0 || set->practices->to.why_not)
    return g_strdup("-");
  if (way->at_standard)
    return g_strdup_printf("reached at %d", practice->decided_at[way->reached - 1]);
  if (way->left > 0)
    return g_strdup_printf("signal at %d", practice->decided_at[way->left - 1]);
  return bt_count_of((gint64)way->passes_needed, "more pass", "more passes");
}

// "7 (5-12)", "7 (5 or more)", "> 30"; caller frees.
static char *short_to_mark(const BtToMark *to_mark) {
  g_autofree char *at = to_mark->at ? g_strdup_printf("%u", (unsigned)to_mark->at)
                                    : g_strdup_printf("> %d", BT_ATTEMPTS_MOST);
  if (to_mark->low == 0)
    return g_steal_pointer(&at);
  return to_mark->high
             ? g_strdup_printf("%s (%u-%u)", at, (unsigned)to_mark->low, (unsigned)to_mark->high)
             : g_strdup_printf("%s (%u or more)", at, (unsigned)to_mark->low);
}

static double last_value(const BtPractice *practice, bool first) {
  double value = BT_MISSING;
  for (gsize i = 0; i < practice->n; i++) {
    if (bt_is_missing(practice->point[i].value))
      continue;
    value = practice->point[i].value;
    if (first)
      break;
  }
  return value;
}

static char **trainee_row(const BtPractice *practice, const CurveSet *set) {
  bool marked = !bt_is_missing(set->practices->terms.mark);
  g_autofree char *n = g_strdup_printf("%u", (unsigned)practice->n);
  g_autofree char *first = value_text(set, last_value(practice, true));
  g_autofree char *last = value_text(set, last_value(practice, false));
  g_autofree char *state = short_state(practice, set);
  g_autofree char *start = NULL, *gain = NULL, *to_mark = NULL;
  if (practice->in_cohort) {
    start = of_times(set) ? value_text(set, practice->in_cohort->start.value)
                          : estimate_text(&practice->in_cohort->start, DECIMALS, false);
    gain = estimate_text(&practice->in_cohort->gain, DECIMALS, true);
    to_mark = marked ? short_to_mark(&practice->in_cohort->to_mark) : NULL;
  }
  return cli_row(8, practice->trainee, n, first, last, start ? start : "-", gain ? gain : "-",
                 to_mark ? to_mark : "-", state);
}

static void put_trainees(GString *out, const CurveSet *set, bool wide) {
  const char *gain = of_times(set) ? ">gain, s per doubling" : ">gain per doubling";
  const char *const heads[] = {"trainee", ">attempts",   ">first",   ">last", ">start",
                               gain,      "at the mark", "standard", NULL};
  static const int least_needed[] = {2, 4, -1};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint i = 0; i < set->practices->practice->len; i++)
    g_ptr_array_add(rows, trainee_row(g_ptr_array_index(set->practices->practice, i), set));
  g_string_append_c(out, '\n');
  cli_table_fit(out, heads, rows, cli_bold(), wide ? G_MAXINT : cli_columns(), least_needed);
}

static void put_to_mark(GString *out, const CurveSet *set, const BtToMark *to_mark) {
  g_autofree char *mark = mark_text(set), *words = bt_to_mark_words(to_mark);
  if (!bt_is_missing(set->practices->terms.mark))
    cli_put_paragraph(out, 2, "The expected value is at the mark (%s) %s.", mark, words);
}

static void put_cohort(GString *out, const CurveSet *set) {
  const BtCohortCurve *cohort = set->practices->cohort;
  g_string_append_printf(out, "\nThe cohort: start, and gain with each doubling of attempts%s\n",
                         of_times(set) ? ", in seconds" : "");
  if (cohort->why_not) {
    cli_put_paragraph(out, 2, "Not estimable: %s. Each trainee's own values stand above.",
                      cohort->why_not);
    return;
  }
  cli_put_figure_row(out, "start", FORM_WIDTH, &cohort->start, DECIMALS);
  cli_put_figure_row(out, "gain", FORM_WIDTH, &cohort->gain, DECIMALS);
  put_to_mark(out, set, &cohort->to_mark);
  if (cohort->common_gain)
    cli_put_paragraph(out, 2,
                      "Too few attempts a trainee for a gain of each one's own: all have the "
                      "cohort's. Starts differ by a standard deviation of %.1f, attempts of one "
                      "trainee by %.1f.",
                      cohort->start_sd, cohort->residual_sd);
  else
    cli_put_paragraph(out, 2,
                      "Trainees differ by standard deviations of %.1f at the start and %.1f in "
                      "gain (correlation %.2f); attempts of one trainee by %.1f.",
                      cohort->start_sd, cohort->gain_sd, cohort->correlation, cohort->residual_sd);
  if (cohort->at_boundary)
    cli_put_paragraph(out, 2,
                      "One of these spreads came out at its end (0, or start and gain as one "
                      "thing): the attempts do not tell trainees apart in it.");
  cli_put_paragraph(out, 2,
                    "Value = start + gain x log2(attempt): a linear mixed model by restricted "
                    "likelihood (REML). A trainee of few attempts is drawn towards the cohort; "
                    "limits take the spreads as known.");
}

// How the standard is shown ---------------------------------------------------

static void put_charts(GString *out, const CurveSet *set) {
  const BtPractices *all = set->practices;
  const BtCurveTerms *terms = &all->terms;
  if (!set->decided || all->to.why_not)
    return;
  double finds = bt_cusum_signals(&all->to, terms->adequate, terms->within).value;
  double misses = bt_cusum_signals(&all->to, terms->inadequate, terms->within).value;
  double sees = bt_cusum_signals(&all->from, terms->inadequate, terms->within).value;
  g_string_append(out, "\nHow the standard is shown\n");
  cli_put_paragraph(out, 2,
                    "At standard %.0f %% of attempts are \"not yet\", not at standard %.0f %%. The "
                    "sum (LC-CUSUM; Biau and Porcher 2010) signals at %.2f: %u passes in a row "
                    "from nothing. Within %u attempts it takes %.1f %% of those not at standard "
                    "for those who are, and finds %.1f %% of those who are.",
                    100 * terms->adequate, 100 * terms->inadequate, all->to.limit,
                    (unsigned)bt_cusum_passes_needed(&all->to, 0), (unsigned)terms->within,
                    100 * misses, 100 * finds);
  cli_put_paragraph(out, 2,
                    "From then on the sum (CUSUM; Page 1954) signals at %.2f: %.1f attempts pass "
                    "until it does, on average, for a trainee who is at standard, and within %u "
                    "attempts it sees %.1f %% of those who are no longer. Exact chances; a trainee "
                    "between the two kinds is found now and then by either.",
                    all->from.limit, bt_cusum_run(&all->from, terms->adequate).value,
                    (unsigned)terms->within, 100 * sees);
}

static void put_drift(GString *out, const CurveSet *set) {
  const BtDrift *drift = &set->practices->drift;
  if (!set->decided)
    return;
  if (drift->why_not)
    cli_put_paragraph(out, 2, "No drift of values is looked for: %s.", drift->why_not);
  else
    cli_put_paragraph(out, 2,
                      "Values of trainees at standard lie at %.1f%s (standard deviation %.1f, %u "
                      "attempts). Drift for the worse is looked for from there (tabular CUSUM, "
                      "slack 0.5 and limit 4 standard deviations): by chance alone it signals once "
                      "in %.0f attempts.",
                      drift->mean, of_times(set) ? " s" : "", drift->sd, (unsigned)drift->n,
                      drift->run.value);
}

// One trainee -----------------------------------------------------------------

static const char *outcome_words(const BtCurvePoint *point, const CurveSet *set) {
  if (!set->decided)
    return "-";
  return !point->decided ? "undecided" : point->passed ? "pass" : "not yet";
}

static void put_attempts(GString *out, const BtPractice *practice, const CurveSet *set) {
  static const char *const heads[] = {">attempt", ">value",  "outcome", ">sum",
                                      "chart",    "session", NULL};
  static const int session[] = {5, -1};
  bool of_book = practice->point->session != NULL;
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (gsize i = 0, at = 0; i < practice->n; i++) {
    const BtCurvePoint *point = &practice->point[i];
    bool followed = point->decided && set->decided && practice->way.n > 0;
    bool to = followed && practice->way.watch[at] == BT_TO_STANDARD;
    g_autofree char *number = g_strdup_printf("%d", point->attempt);
    g_autofree char *value = value_text(set, point->value);
    g_autofree char *sum =
        followed ? g_strdup_printf("%.2f", practice->way.sum[at]) : g_strdup("-");
    const char *chart = !followed ? "-" : to ? "to the standard" : "from the standard";
    g_ptr_array_add(rows, cli_row(of_book ? 6 : 5, number, value, outcome_words(point, set), sum,
                                  chart, point->session));
    at += followed;
  }
  const char *const plain[] = {heads[0], heads[1], heads[2], heads[3], heads[4], NULL};
  cli_table_fit(out, of_book ? heads : plain, rows, cli_bold(), cli_columns(),
                of_book ? session : NULL);
}

static void put_few(GString *out, const BtPractice *practice, const CurveSet *set) {
  const BtTrend *trend = &practice->curve.trend;
  const char *unit = of_times(set) ? "s" : "%";
  g_autofree char *attempts = bt_count_of((gint64)practice->values, "attempt", NULL);
  g_autoptr(GString) text = g_string_new(NULL);
  g_string_append_printf(text, "%s with a value: the three figures of a curve take five.",
                         attempts);
  if (practice->values >= 3)
    g_string_append_printf(text,
                           " Shown instead: the values, and their change, %+.1f %s an attempt "
                           "(median of all pairs; Sen 1968), which chance alone makes as steady "
                           "%d times in 1000.",
                           (double)trend->slope / 1000, unit, trend->by_chance_permille);
  else
    g_string_append(text, " Shown instead: the values.");
  cli_put_paragraph(out, 2, "%s", text->str);
}

// What the rate means, in attempts.
static void put_meaning(GString *out, BtCurveForm form, const BtEstimate *rate) {
  if (rate->why_not)
    return;
  if (form == BT_CURVE_EXPONENTIAL)
    cli_put_paragraph(out, 4, "Half of what is still to come comes in %.1f attempts.",
                      log(2) / rate->value);
  else
    cli_put_paragraph(out, 4, "Each doubling of the attempts leaves %.0f %% of what is to come.",
                      100 * exp2(-rate->value));
}

static void put_fit(GString *out, BtCurveForm form, const BtCurveFit *fit) {
  g_autofree char *name = g_strdup(bt_curve_form_name(form));
  *name = g_ascii_toupper(*name);
  g_string_append_printf(out, "  %s\n", name);
  if (fit->why_not) {
    cli_put_paragraph(out, 4, "Not estimable: %s.", fit->why_not);
    return;
  }
  cli_put_figure_row(out, "  start", FORM_WIDTH, &fit->start, DECIMALS);
  cli_put_figure_row(out, "  rate", FORM_WIDTH, &fit->rate, RATE_DIGITS);
  cli_put_figure_row(out, "  plateau", FORM_WIDTH, &fit->plateau, DECIMALS);
  put_meaning(out, form, &fit->rate);
  for (int i = 0; i < BT_CURVE_CAUTIONS; i++) {
    if (fit->cautions & (1u << i))
      cli_put_paragraph(out, 4, "%s", bt_curve_caution((BtCurveCaution)(1u << i)));
  }
}

static void put_choice(GString *out, const BtCurve *curve) {
  const char *best = bt_curve_form_name(curve->preferred);
  if (curve->why_no_choice)
    return;
  if (curve->fit[curve->preferred].aicc.why_not)
    cli_put_paragraph(out, 2, "Preferred: %s, which goes through every point.", best);
  else if (curve->tie)
    cli_put_paragraph(out, 2,
                      "Preferred: %s, but %u attempts cannot tell it from %s (AICc %.1f and %.1f; "
                      "less than 2 apart is a tie).",
                      best, (unsigned)curve->n, bt_curve_form_name(curve->rival),
                      curve->fit[curve->preferred].aicc.value, curve->fit[curve->rival].aicc.value);
  else
    cli_put_paragraph(out, 2, "Preferred: %s (the least AICc, %.1f, of %u attempts).", best,
                      curve->fit[curve->preferred].aicc.value, (unsigned)curve->n);
}

// The straight line or the mean, where that is what the attempts bear out.
static void put_plain(GString *out, BtCurveForm form, const BtCurveFit *fit) {
  g_string_append(out, form == BT_CURVE_LINE ? "  Straight line\n" : "  No change\n");
  cli_put_figure_row(out, form == BT_CURVE_LINE ? "  start" : "  mean", FORM_WIDTH, &fit->start,
                     DECIMALS);
  if (form == BT_CURVE_LINE)
    cli_put_figure_row(out, "  gain", FORM_WIDTH, &fit->rate, DECIMALS);
  if (form == BT_CURVE_LINE)
    cli_put_paragraph(out, 4, "Gain with each attempt.");
}

static void put_own_curve(GString *out, const BtPractice *practice, const CurveSet *set) {
  const BtCurve *curve = &practice->curve;
  g_string_append_printf(out, "\n%s's own curve%s\n", practice->trainee,
                         of_times(set) ? ", in seconds" : "");
  if (practice->values < BT_CURVE_LEAST) {
    put_few(out, practice, set);
    return;
  }
  put_choice(out, curve);
  for (int form = BT_CURVE_FLAT; form <= BT_CURVE_LINE; form++) {
    if (curve->preferred == (BtCurveForm)form || (curve->tie && curve->rival == (BtCurveForm)form))
      put_plain(out, (BtCurveForm)form, &curve->fit[form]);
  }
  put_fit(out, BT_CURVE_EXPONENTIAL, &curve->fit[BT_CURVE_EXPONENTIAL]);
  put_fit(out, BT_CURVE_POWER, &curve->fit[BT_CURVE_POWER]);
}

static void put_in_cohort(GString *out, const BtPractice *practice, const CurveSet *set) {
  const BtTraineeCurve *own = practice->in_cohort;
  if (!own)
    return;
  g_string_append_printf(out, "\nWith the cohort's strength (%u trainees)%s\n",
                         (unsigned)set->practices->cohort->trainees,
                         of_times(set) ? ", in seconds" : "");
  cli_put_figure_row(out, "start", FORM_WIDTH, &own->start, DECIMALS);
  cli_put_figure_row(out, "gain", FORM_WIDTH, &own->gain, DECIMALS);
  put_to_mark(out, set, &own->to_mark);
}

static void put_state(GString *out, const BtPractice *practice, const CurveSet *set) {
  g_autofree char *words = bt_practice_words(practice, set->practices);
  static const char *const verdicts[] = {"open", "acceptable", "unacceptable"};
  if (set->decided)
    cli_put_paragraph(out, 0, "%s: %s.", practice->trainee, words);
  else
    cli_put_paragraph(out, 0, "%s: which attempts passed is not known.", practice->trainee);
  g_autofree char *missing = bt_count_of((gint64)practice->not_here, "attempt", NULL);
  if (practice->not_here > 0)
    cli_put_paragraph(out, 0,
                      "%s before the latest %s not in this curve: made under another edition, not "
                      "closed, or not in the table.",
                      missing, practice->not_here == 1 ? "is" : "are");
  if (practice->drifted_at > 0)
    cli_put_paragraph(out, 0, "Values since then have drifted for the worse: signal at attempt %d.",
                      practice->drifted_at);
  if (set->decided && practice->verdict != BT_TEST_OPEN)
    cli_put_paragraph(out, 0,
                      "Since then the sequential test (Bolsin and Colson 2000) calls the share of "
                      "\"not yet\" %s, at attempt %d.",
                      verdicts[practice->verdict], practice->verdict_at);
  g_string_append_c(out, '\n');
}

static void put_trainee(GString *out, const BtPractice *practice, const CurveSet *set) {
  put_state(out, practice, set);
  put_exercise(out, set);
  g_string_append_c(out, '\n');
  put_attempts(out, practice, set);
  put_own_curve(out, practice, set);
  put_in_cohort(out, practice, set);
}

void curve_put_text(GString *out, const CurveSet *set, const CurveRequest *request) {
  bool whole = !request->trainees || !*request->trainees;
  for (guint i = 0, shown = 0; !whole && i < set->practices->practice->len; i++) {
    const BtPractice *practice = g_ptr_array_index(set->practices->practice, i);
    if (!curve_asked(request, practice->trainee))
      continue;
    if (shown++ > 0)
      g_string_append_c(out, '\n');
    put_trainee(out, practice, set);
  }
  if (whole) {
    put_cohort_sentence(out, set);
    put_exercise(out, set);
    if (set->practices->practice->len > 0) {
      put_trainees(out, set, request->wide);
      put_cohort(out, set);
    }
  }
  put_charts(out, set);
  put_drift(out, set);
}
