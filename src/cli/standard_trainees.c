// SPDX-License-Identifier: GPL-3.0-or-later
//
// Pass marks from what trainees did: contrasting groups, borderline regression, Hofstee.
#include <string.h>

#include "cli/figure.h"
#include "cli/standard.h"

// A mark that nobody can reach, or nobody miss, is none: a line drawn out too far gives such.
static BtEstimate on_scale(const BtEstimate *cut) {
  return cut->why_not || (cut->value >= 0 && cut->value <= 100)
             ? *cut
             : bt_not_estimable("the scores put it outside 0 to 100 %", cut->n);
}

// The index of a rating of the rubric, -1: told.
static int rating_of(const BtRubric *rubric, const char *id, int *status) {
  g_autoptr(GPtrArray) ids = g_ptr_array_new();
  for (int i = 0; i < rubric->n_ratings; i++) {
    if (strcmp(rubric->ratings[i].id, id) == 0)
      return i;
    g_ptr_array_add(ids, rubric->ratings[i].id);
  }
  g_autofree char *meant =
      bt_did_you_mean(id, (const char *const *)ids->pdata, ids->len, "its file names those it has");
  *status =
      cli_usage_error("--rating: the rubric %s has no rating \"%s\"; %s", rubric->id, id, meant);
  return -1;
}

static int most_of_rating(const BtRubric *rubric, const char *id) {
  return rubric->ratings[bt_rubric_find_rating(rubric, id)].n;
}

// The book's rating of each score; BT_MISSING. Caller frees; NULL: told.
static double *ratings_in_book(const StandardScores *scores, const char *id, int *status) {
  int rating = rating_of(scores->study->rubric, id, status);
  if (rating < 0)
    return NULL;
  double *value = g_new(double, scores->n + 1);
  for (gsize i = 0; i < scores->n; i++)
    value[i] = scores->of_book->row[i]->rating[rating];
  return value;
}

static void put_whose(GString *out, const StandardScores *scores) {
  g_autofree char *all = bt_count_of((gint64)scores->n, "score", NULL);
  g_autofree char *trainees = bt_count_of((gint64)scores->trainees, "trainee", NULL);
  g_string_append_printf(out, "%s of %s", all, trainees);
  if (scores->left_out)
    g_string_append_printf(out, "; %" G_GSIZE_FORMAT " left out, for want of what is needed",
                           scores->left_out);
  g_string_append_c(out, '\n');
}

// The mark with limits by resampling, or, where that gave none, by formula.
static BtEstimate with_limits(const BtEstimate *resampled, const BtEstimate *formula) {
  return resampled->has_limits ? *resampled : *formula;
}

// Contrasting groups ----------------------------------------------------------

// Whether `text` is one of the groups named competent.
static bool is_named(char **names, const char *text) {
  for (char **name = names; *name; name++) {
    if (strcmp(g_strstrip(*name), text) == 0)
      return true;
  }
  return false;
}

// By the column "group" of a table or a level of the book: `text` of each score, NULL without.
static int group_by_name(const StandardRequest *request, StandardScores *scores,
                         const char *const *text, bool *competent) {
  g_auto(GStrv) names = g_strsplit(request->competent ? request->competent : "competent", ",", -1);
  g_autofree bool *keep = g_new0(bool, scores->n + 1);
  g_autoptr(GPtrArray) seen = g_ptr_array_new();
  bool any = false;
  for (gsize i = 0, kept = 0; i < scores->n; i++) {
    keep[i] = text[i] != NULL;
    if (!keep[i])
      continue;
    if (!g_ptr_array_find_with_equal_func(seen, text[i], g_str_equal, NULL))
      g_ptr_array_add(seen, (gpointer)text[i]);
    competent[kept] = is_named(names, text[i]);
    any |= competent[kept++];
  }
  standard_scores_keep(scores, keep, NULL);
  if (any || scores->n == 0)
    return 0;
  g_ptr_array_add(seen, NULL);
  g_autofree char *list = g_strjoinv("\", \"", (char **)seen->pdata);
  return cli_usage_error(
      "no group is \"%s\"; name those that are competent with --competent; there "
      "are \"%s\"",
      request->competent ? request->competent : "competent", list);
}

static int groups_of_table(const StandardRequest *request, StandardScores *scores,
                           bool **competent) {
  static const char *const columns[] = {"trainee", "group", "score", NULL};
  int status = 0;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtTable) table = standard_table(request->table, columns, faults, &status);
  if (!table)
    return status;
  standard_scores_of_table(table, scores, faults);
  if ((status = standard_told(faults)))
    return status;
  g_autofree const char **text = g_new(const char *, scores->n + 1);
  for (gsize i = 0; i < scores->n; i++)
    text[i] = bt_table_text(table, scores->row[i], bt_table_column(table, "group"));
  *competent = g_new0(bool, scores->n + 1);
  return group_by_name(request, scores, text, *competent);
}

static int groups_by_rating(const StandardRequest *request, StandardScores *scores,
                            bool *competent) {
  int status = 0;
  g_autofree double *rating = ratings_in_book(scores, request->rating, &status);
  if (!rating)
    return status;
  g_autofree bool *keep = g_new0(bool, scores->n + 1);
  for (gsize i = 0; i < scores->n; i++)
    keep[i] = !bt_is_missing(rating[i]);
  standard_scores_keep(scores, keep, rating);
  for (gsize i = 0; i < scores->n; i++)
    competent[i] = rating[i] >= request->competent_from;
  return 0;
}

static int groups_of_book(Cli *cli, const StandardRequest *request, StandardScores *scores,
                          bool **competent) {
  bool by_rating = request->rating && !bt_is_missing(request->competent_from);
  bool by_level = request->group_by && request->competent;
  if (by_rating == by_level)
    return cli_usage_error("say which trainees are competent: --table FILE; or from the book "
                           "--group-by level --competent \"year 4,year 5\"; or --rating ID "
                           "--competent-from N");
  bool cohort = by_level && strcmp(request->group_by, "cohort") == 0;
  if (by_level && !cohort && strcmp(request->group_by, "level") != 0)
    return cli_usage_error("--group-by %s: expected level or cohort", request->group_by);
  int status = standard_scores_of_book(cli, request, scores);
  if (status)
    return status;
  *competent = g_new0(bool, scores->n + 1);
  if (by_rating)
    return groups_by_rating(request, scores, *competent);
  g_autofree const char **text = g_new(const char *, scores->n + 1);
  for (gsize i = 0; i < scores->n; i++) {
    const BtPerson *trainee = scores->of_book->row[i]->trainee;
    text[i] = !trainee ? NULL : cohort ? trainee->cohort : trainee->level;
  }
  return group_by_name(request, scores, text, *competent);
}

static void put_group(GString *out, const char *name, const BtGroupScores *group) {
  g_string_append_printf(out, "  %-*s  n %" G_GSIZE_FORMAT, STANDARD_WIDTH, name, group->n);
  if (!bt_is_missing(group->mean))
    g_string_append_printf(out, ", mean %.2f", group->mean);
  if (!bt_is_missing(group->sd))
    g_string_append_printf(out, ", standard deviation %.2f", group->sd);
  g_string_append_c(out, '\n');
}

static void put_wrong(GString *out, const BtWronglyTold *wrong) {
  g_autofree char *passes = bt_count_of((gint64)wrong->false_pass, "false pass", "false passes");
  g_string_append_printf(out, "    %s, %" G_GSIZE_FORMAT " false not yet", passes,
                         wrong->false_not_yet);
  if (!wrong->false_pass_share.why_not && !wrong->false_not_yet_share.why_not)
    g_string_append_printf(out, "; by the curves %.1f %% and %.1f %%",
                           100 * wrong->false_pass_share.value,
                           100 * wrong->false_not_yet_share.value);
  g_string_append_c(out, '\n');
}

static json_t *group_json(const BtGroupScores *group) {
  json_t *object = json_pack("{s:I}", "n", (json_int_t)group->n);
  json_object_set_new(object, "mean",
                      bt_is_missing(group->mean) ? json_null() : json_real(group->mean));
  json_object_set_new(object, "sd", bt_is_missing(group->sd) ? json_null() : json_real(group->sd));
  return object;
}

static json_t *cut_json(const BtContrasting *found, int c, const char *form) {
  const BtWronglyTold *wrong = &found->wrong[c];
  json_t *object = json_object();
  json_object_set_new(object, "formula", cli_json_figure(form, &found->cut[c]));
  json_object_set_new(object, "resampled",
                      cli_json_figure("percentiles of draws", &found->resampled[c]));
  if (found->cut[c].why_not)
    return object;
  json_object_set_new(object, "false_pass", json_integer((json_int_t)wrong->false_pass));
  json_object_set_new(object, "false_not_yet", json_integer((json_int_t)wrong->false_not_yet));
  json_object_set_new(object, "false_pass_share",
                      cli_json_figure("normal curve", &wrong->false_pass_share));
  json_object_set_new(object, "false_not_yet_share",
                      cli_json_figure("normal curve", &wrong->false_not_yet_share));
  return object;
}

static void put_separated(GString *out, const BtContrasting *found) {
  if (found->separated)
    cli_put_paragraph(out, 2,
                      "The groups do not overlap: plain logistic regression has no answer, and the "
                      "last mark is Firth's (1993), which always has one. Any mark above %.1f, up "
                      "to %.1f %%, tells the two groups apart without a fault; halfway is %.1f.",
                      found->gap_low, found->gap_high, (found->gap_low + found->gap_high) / 2);
}

static void put_contrasting(StandardResult *result, const BtContrasting *found,
                            const StandardScores *scores) {
  static const char *const keys[] = {"midpoint", "crossing", "logistic"};
  static const char *const names[] = {"midpoint", "crossing", "even chance"};
  const char *const forms[] = {
      "midpoint of the means (Welch 1947)", "crossing of two normal curves of equal weight",
      found->separated ? "even chance, logistic, Firth (1993)" : "even chance, logistic, delta"};
  GString *out = result->text;
  put_whose(out, scores);
  put_group(out, "not yet competent", &found->not_competent);
  put_group(out, "competent", &found->competent);
  result->figures =
      json_pack("{s:o, s:o, s:b}", "not_competent", group_json(&found->not_competent), "competent",
                group_json(&found->competent), "separated", found->separated);
  for (int c = 0; c < BT_CONTRASTING_CUTS; c++) {
    cli_put_figure_row(out, names[c], STANDARD_WIDTH, &found->resampled[c], STANDARD_DECIMALS);
    if (!found->cut[c].why_not)
      put_wrong(out, &found->wrong[c]);
    if (!found->resampled[c].why_not && !found->resampled[c].has_limits)
      cli_put_paragraph(out, 4,
                        "No limits: too few of the draws have such a mark (one in twenty may lack "
                        "it), or there were none.");
    json_object_set_new(result->figures, keys[c], cut_json(found, c, forms[c]));
  }
  if (found->other_crossing >= 0 && found->other_crossing <= 100) // none is missing, and fails both
    cli_put_paragraph(out, 2,
                      "The curves also cross at %.1f, which is not between the means and is no "
                      "mark.",
                      found->other_crossing);
  put_separated(out, found);
  if (scores->n > 0)
    cli_put_paragraph(out, 2,
                      "The fewest told wrongly by any mark: %" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT
                      ", from %.1f %% on.",
                      found->fewest_wrong, scores->n, found->fewest_wrong_at);
  json_object_set_new(
      result->figures, "fewest_wrong",
      json_pack("{s:I, s:f}", "n", (json_int_t)found->fewest_wrong, "cut", found->fewest_wrong_at));
  json_object_set_new(
      result->figures, "log_odds",
      json_pack("{s:f, s:f}", "intercept", found->intercept, "slope", found->slope));
  if (found->separated)
    json_object_set_new(result->figures, "gap",
                        json_pack("[f, f]", found->gap_low, found->gap_high));
}

int cli_standard_contrasting(Cli *cli, int argc, char **argv) {
  static const char *const which[] = {"crossing", "midpoint", "logistic"};
  static const BtContrastingCut place[] = {BT_CUT_CROSSING, BT_CUT_MIDPOINT, BT_CUT_LOGISTIC};
  int status = 0;
  g_auto(StandardRequest) request = STANDARD_REQUEST;
  g_auto(StandardScores) scores = {0};
  g_autofree bool *competent = NULL;
  if (!standard_parse(cli, &request, STANDARD_BY_GROUPS, argc, argv, &status))
    return status;
  int take = standard_take(&request, which, G_N_ELEMENTS(which), &status);
  if (take < 0 || (status = request.table ? groups_of_table(&request, &scores, &competent)
                                          : groups_of_book(cli, &request, &scores, &competent)))
    return status;
  BtCohortScores cohort = standard_cohort(&scores);
  BtContrasting found = bt_contrasting(&cohort, competent, standard_resampling(&request));
  BtEstimate cut = with_limits(&found.resampled[place[take]], &found.cut[place[take]]);
  g_auto(StandardResult) result = {
      .method = "contrasting",
      .title = "contrasting groups",
      .form = bt_contrasting_cut_name(place[take]),
      .cut = on_scale(&cut),
      .text = g_string_new(NULL),
      .rests_on =
          "Contrasting groups (Livingston and Zieky 1982). The two curves are normal, of equal "
          "weight; the even chance moves with the share of the competent. Limits are percentiles "
          "of seeded draws of trainees with all their scores, within the groups (for the even "
          "chance from all). Levels are those the book has now. A group's mean is no mark by "
          "itself: half of the group lies below it."};
  put_contrasting(&result, &found, &scores);
  return standard_finish(cli, &request, &result, &scores);
}

// Borderline ------------------------------------------------------------------

static int ratings_of_table(const StandardRequest *request, StandardScores *scores,
                            double **rating) {
  static const char *const columns[] = {"trainee", "rating", "score", NULL};
  int status = 0;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtTable) table = standard_table(request->table, columns, faults, &status);
  if (!table)
    return status;
  bool sound = standard_scores_of_table(table, scores, faults);
  g_autofree double *value = bt_table_numbers(table, bt_table_column(table, "rating"), faults);
  *rating = g_new(double, scores->n + 1);
  for (gsize i = 0; sound && value && i < scores->n; i++)
    (*rating)[i] = value[scores->row[i]];
  return standard_told(faults);
}

static int ratings_of(Cli *cli, const StandardRequest *request, StandardScores *scores,
                      double **rating) {
  if (bt_is_missing(request->borderline))
    return cli_usage_error("--borderline is needed: the rating that is borderline, such as 3");
  if (!request->table && !request->rating)
    return cli_usage_error("say where the ratings are: --table FILE, or --rating ID for a rating "
                           "of the book's rubric");
  int status = request->table ? ratings_of_table(request, scores, rating)
                              : standard_scores_of_book(cli, request, scores);
  if (status)
    return status;
  if (!request->table && !(*rating = ratings_in_book(scores, request->rating, &status)))
    return status;
  int most = request->table ? 0 : most_of_rating(scores->study->rubric, request->rating);
  if (most && !(request->borderline >= 1 && request->borderline <= most))
    return cli_usage_error("--borderline %g: the rating %s has a scale of 1 to %d",
                           request->borderline, request->rating, most);
  g_autofree bool *keep = g_new0(bool, scores->n + 1);
  for (gsize i = 0; i < scores->n; i++)
    keep[i] = !bt_is_missing((*rating)[i]);
  standard_scores_keep(scores, keep, *rating);
  return 0;
}

static void put_borderline(StandardResult *result, const BtBorderline *found,
                           const StandardScores *scores, double borderline) {
  const struct {
    const char *form, *key, *source;
    const BtEstimate *estimate;
  } rows[] = {{"line, resampled", "resampled", "percentiles of draws", &found->resampled},
              {"line, by formula", "formula", "fitted mean, Student's t", &found->cut},
              {"points per grade", "slope", "inter-grade discrimination", &found->slope},
              {"group's mean", "group_mean", "mean, Student's t", &found->group_mean},
              {"group's median", "group_median", "median, order statistics", &found->group_median}};
  GString *out = result->text;
  put_whose(out, scores);
  result->figures = json_pack("{s:f, s:f, s:f, s:f, s:b}", "borderline", borderline, "intercept",
                              found->intercept, "r_squared", found->r_squared, "rmse", found->rmse,
                              "beyond", found->beyond);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    cli_put_figure_row(out, rows[i].form, STANDARD_WIDTH, rows[i].estimate, STANDARD_DECIMALS);
    json_object_set_new(result->figures, rows[i].key,
                        cli_json_figure(rows[i].source, rows[i].estimate));
  }
  if (!found->slope.why_not)
    g_string_append_printf(out, "  %-*s  %.2f; scatter around the line (RMSE) %.2f\n",
                           STANDARD_WIDTH, "R squared", found->r_squared, found->rmse);
  if (found->beyond)
    cli_put_paragraph(out, 2,
                      "No rating lies on one side of %g: the line is drawn out beyond what was "
                      "seen.",
                      borderline);
}

int cli_standard_borderline(Cli *cli, int argc, char **argv) {
  static const char *const which[] = {"regression", "mean", "median"};
  int status = 0;
  g_auto(StandardRequest) request = STANDARD_REQUEST;
  g_auto(StandardScores) scores = {0};
  g_autofree double *rating = NULL;
  if (!standard_parse(cli, &request, STANDARD_BY_RATING, argc, argv, &status))
    return status;
  int take = standard_take(&request, which, G_N_ELEMENTS(which), &status);
  if (take < 0 || (status = ratings_of(cli, &request, &scores, &rating)))
    return status;
  BtCohortScores cohort = standard_cohort(&scores);
  BtBorderline found =
      bt_borderline(&cohort, rating, request.borderline, standard_resampling(&request));
  BtEstimate regression = with_limits(&found.resampled, &found.cut);
  const BtEstimate *cuts[] = {&regression, &found.group_mean, &found.group_median};
  static const char *const forms[] = {"borderline regression", "borderline group, mean",
                                      "borderline group, median"};
  g_auto(StandardResult) result = {
      .method = "borderline",
      .title = forms[take],
      .form = forms[take],
      .cut = on_scale(cuts[take]),
      .text = g_string_new(NULL),
      .rests_on =
          "Scores on the global rating, by a straight line, at the borderline rating (Wood, "
          "Humphrey-Murto and Norman 2006). Limits by resampling are percentiles of seeded draws "
          "of trainees with all their scores; the formula takes all scores as independent. About "
          "50 trainees or more are common practice."};
  put_borderline(&result, &found, &scores, request.borderline);
  return standard_finish(cli, &request, &result, &scores);
}

// Hofstee ---------------------------------------------------------------------

// Each judge has one row.
static void check_judges(const BtTable *table, GPtrArray *faults) {
  int column = bt_table_column(table, "judge");
  g_autoptr(GPtrArray) names = NULL;
  g_autofree gsize *judge = bt_table_levels(table, column, &names, faults);
  for (gsize row = 0; judge && row < bt_table_rows(table); row++) {
    if (judge[row] == row) // so far each row brought a new one
      continue;
    bt_table_fault(table, row, column, faults, "this judge stands in the table already");
    return;
  }
}

static int read_hofstee(const char *path, GArray *judges) {
  static const char *const columns[] = {"judge",         "least_cut",    "most_cut",
                                        "least_not_yet", "most_not_yet", NULL};
  int status = 0;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtTable) table = standard_table(path, columns, faults, &status);
  if (!table)
    return status;
  check_judges(table, faults);
  double *limit[4] = {NULL};
  for (int c = 0; c < 4; c++) {
    limit[c] = standard_percents(table, columns[c + 1], c >= 2, faults);
    for (gsize row = 0; limit[c] && row < bt_table_rows(table); row++) {
      if (bt_is_missing(limit[c][row]))
        bt_table_fault(table, row, bt_table_column(table, columns[c + 1]), faults,
                       "each judge gives all four limits");
      else if (c % 2 == 1 && limit[c - 1] && limit[c - 1][row] > limit[c][row])
        bt_table_fault(table, row, bt_table_column(table, columns[c + 1]), faults,
                       "the greatest lies below the least");
    }
  }
  status = standard_told(faults);
  for (gsize row = 0; status == 0 && row < bt_table_rows(table); row++) {
    BtHofsteeJudge one = {limit[0][row], limit[1][row], limit[2][row] / 100, limit[3][row] / 100};
    g_array_append_val(judges, one);
  }
  for (int c = 0; c < 4; c++)
    g_free(limit[c]);
  return status;
}

static void put_meeting(GString *out, const BtHofstee *found) {
  if (found->cut.why_not && found->why_not)
    return;
  if (found->meeting == BT_HOFSTEE_MEETS)
    cli_put_paragraph(out, 2, "At the mark %.1f %% of the scores would be not yet.",
                      100 * found->not_yet);
  else
    cli_put_paragraph(
        out, 2,
        "The curve of the scores passes by the judges' limits: %s. Common practice is to take that "
        "limit, %.1f %%, or to ask the judges again; neither is a meeting of what they said and "
        "what the scores are.",
        found->meeting == BT_HOFSTEE_TOO_MANY
            ? "even the least mark leaves more trainees short of it than they would accept"
            : "even the greatest mark leaves fewer trainees short of it than they expect",
        found->instead);
  if (!bt_is_missing(found->whole_cut))
    cli_put_paragraph(out, 2,
                      "Without joining the scores by lines: the least whole mark is %.0f %%, with "
                      "%.1f %% not yet.",
                      found->whole_cut, 100 * found->whole_not_yet);
}

static void put_hofstee(StandardResult *result, const BtHofstee *found,
                        const StandardScores *scores) {
  static const char *const meetings[] = {"meets", "too_many", "too_few"};
  const BtHofsteeJudge *limits = &found->limits;
  put_whose(result->text, scores);
  cli_put_figure_row(result->text, "mark", STANDARD_WIDTH, &found->cut, STANDARD_DECIMALS);
  if (!found->why_not)
    g_string_append_printf(result->text, "  %-*s  mark %.1f to %.1f %%, not yet %.1f to %.1f %%\n",
                           STANDARD_WIDTH, "judges' limits", limits->least_cut, limits->most_cut,
                           100 * limits->least_not_yet, 100 * limits->most_not_yet);
  put_meeting(result->text, found);
  bool met = !found->cut.why_not, missed = !found->why_not && !met;
  result->figures = json_pack("{s:f, s:f, s:f, s:f, s:s}", "least_cut", limits->least_cut,
                              "most_cut", limits->most_cut, "least_not_yet", limits->least_not_yet,
                              "most_not_yet", limits->most_not_yet, "meeting",
                              found->why_not ? "none" : meetings[found->meeting]);
  json_object_set_new(result->figures, "not_yet", met ? json_real(found->not_yet) : json_null());
  json_object_set_new(result->figures, "instead", missed ? json_real(found->instead) : json_null());
  bool whole = !bt_is_missing(found->whole_cut);
  json_object_set_new(result->figures, "whole_cut",
                      whole ? json_real(found->whole_cut) : json_null());
  json_object_set_new(result->figures, "whole_not_yet",
                      whole ? json_real(found->whole_not_yet) : json_null());
}

int cli_standard_hofstee(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_auto(StandardRequest) request = STANDARD_REQUEST;
  g_auto(StandardScores) scores = {0};
  g_autoptr(GArray) judges = g_array_new(FALSE, FALSE, sizeof(BtHofsteeJudge));
  if (!standard_parse(cli, &request, STANDARD_BY_JUDGES, argc, argv, &status) ||
      (status = read_hofstee(request.table, judges)) ||
      (status = standard_scores_beside(cli, &request, true, &scores)))
    return status;
  BtCohortScores cohort = standard_cohort(&scores);
  BtHofstee found = bt_hofstee((const BtHofsteeJudge *)(void *)judges->data, judges->len, &cohort,
                               standard_resampling(&request));
  g_auto(StandardResult) result = {
      .method = "hofstee",
      .title = "Hofstee",
      .form = "Hofstee (1983), curve joined",
      .cut = found.cut,
      .judges = judges->len,
      .text = g_string_new(NULL),
      .rests_on =
          "Where the line from (least mark, most not yet) to (greatest mark, least not yet) meets "
          "the curve of scores below a mark (Hofstee 1983; De Gruijter 1985). Limits are "
          "percentiles of seeded draws of judges and of trainees; with one judge only trainees "
          "vary. A check beside another way rather than a way of its own (common practice)."};
  put_hofstee(&result, &found, &scores);
  return standard_finish(cli, &request, &result, &scores);
}
