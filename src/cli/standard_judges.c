// SPDX-License-Identifier: GPL-3.0-or-later
//
// Pass marks from what judges say of items: Angoff and Ebel.
#include <string.h>

#include "cli/figure.h"
#include "cli/standard.h"

// Text and JSON of a panel ----------------------------------------------------

static void put_panel(GString *out, const BtPanel *panel, const GPtrArray *judges) {
  static const char *const heads[] = {"judge", ">mark %", ">from the rest", "", NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint j = 0; j < judges->len; j++) {
    bool set = !bt_is_missing(panel->cut[j]), compared = !bt_is_missing(panel->from_rest[j]);
    g_autofree char *mark = set ? g_strdup_printf("%.1f", panel->cut[j]) : g_strdup("none");
    g_autofree char *away = compared ? g_strdup_printf("%+.1f", panel->from_rest[j]) : NULL;
    g_ptr_array_add(rows, cli_row(4, g_ptr_array_index(judges, j), mark, away,
                                  panel->far[j] ? "far from the rest" : ""));
  }
  g_string_append_c(out, '\n');
  cli_table(out, heads, rows, cli_bold());
}

static json_t *panel_json(const BtPanel *panel, const GPtrArray *judges) {
  json_t *list = json_array();
  for (guint j = 0; j < judges->len; j++) {
    json_t *judge =
        json_pack("{s:s, s:b}", "judge", g_ptr_array_index(judges, j), "far", panel->far[j]);
    bool set = !bt_is_missing(panel->cut[j]), compared = !bt_is_missing(panel->from_rest[j]);
    json_object_set_new(judge, "cut", set ? json_real(panel->cut[j]) : json_null());
    json_object_set_new(judge, "from_rest",
                        compared ? json_real(panel->from_rest[j]) : json_null());
    json_array_append_new(list, judge);
  }
  return list;
}

static void put_spread(GString *out, const BtPanel *panel) {
  BtEstimate median = bt_estimate(panel->median, panel->judges, "no judge set a mark");
  cli_put_figure_row(out, "judges' median", STANDARD_WIDTH, &median, STANDARD_DECIMALS);
  if (panel->judges > 1)
    g_string_append_printf(out, "  %-*s  %.2f (standard deviation %.2f)\n", STANDARD_WIDTH,
                           "judges' variance", panel->variance, sqrt(panel->variance));
}

static void add_spread(json_t *figures, const BtPanel *panel, const GPtrArray *judges) {
  BtEstimate median = bt_estimate(panel->median, panel->judges, "no judge set a mark");
  json_object_set_new(figures, "median", cli_json_figure("median of the judges", &median));
  json_object_set_new(figures, "judges_variance", json_real(panel->variance));
  json_object_set_new(figures, "judges", panel_json(panel, judges));
}

// Angoff ----------------------------------------------------------------------

typedef struct {
  BtTable *table;
  gsize rows, rounds;
  gsize *judge, *item; // of each row
  gsize *round;        // of each row, from 0, in their order
  double *percent;
  double *points;            // one an item
  GPtrArray *judges, *items; // names, borrowed from the table
  GPtrArray *round_names;
} AngoffTable;

static void angoff_table_clear(AngoffTable *t) {
  g_free(t->judge);
  g_free(t->item);
  g_free(t->round);
  g_free(t->percent);
  g_free(t->points);
  g_clear_pointer(&t->judges, g_ptr_array_unref);
  g_clear_pointer(&t->items, g_ptr_array_unref);
  g_clear_pointer(&t->round_names, g_ptr_array_unref);
  bt_table_free(t->table);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(AngoffTable, angoff_table_clear)

// One weight an item, the same in all of its rows; 1 each without the column.
static void read_points(AngoffTable *t, GPtrArray *faults) {
  int column = bt_table_column(t->table, "points");
  t->points = g_new(double, t->items->len + 1);
  for (guint i = 0; i < t->items->len; i++)
    t->points[i] = column < 0 ? 1 : BT_MISSING;
  g_autofree double *points = column < 0 ? NULL : bt_table_numbers(t->table, column, faults);
  for (gsize row = 0; points && row < t->rows; row++) {
    double *its = &t->points[t->item[row]];
    if (!(points[row] > 0))
      bt_table_fault(t->table, row, column, faults, "a number above 0 is expected");
    else if (!bt_is_missing(*its) && *its != points[row])
      bt_table_fault(t->table, row, column, faults, "another row gives this item %g points", *its);
    *its = points[row];
  }
}

// Rounds are numbered 1, 2 ... in the column, if there is one.
static void read_rounds(AngoffTable *t, GPtrArray *faults) {
  int column = bt_table_column(t->table, "round");
  t->round = g_new0(gsize, t->rows + 1);
  t->rounds = 1;
  g_autofree double *round = column < 0 ? NULL : bt_table_numbers(t->table, column, faults);
  for (gsize row = 0; round && row < t->rows; row++) {
    if (!(round[row] >= 1 && round[row] <= 9) || round[row] != floor(round[row])) {
      bt_table_fault(t->table, row, column, faults, "a whole number from 1 to 9 is expected");
      continue;
    }
    t->round[row] = (gsize)round[row] - 1;
    t->rounds = MAX(t->rounds, t->round[row] + 1);
  }
}

// Each judge says one thing of an item in a round.
static void check_once(const AngoffTable *t, GPtrArray *faults) {
  g_autofree bool *said = g_new0(bool, t->judges->len * t->items->len * t->rounds);
  for (gsize row = 0; row < t->rows; row++) {
    gsize place = (t->round[row] * t->items->len + t->item[row]) * t->judges->len + t->judge[row];
    if (said[place])
      bt_table_fault(t->table, row, bt_table_column(t->table, "item"), faults,
                     "this judge has said something of this item already");
    said[place] = true;
  }
}

static int read_angoff(const char *path, AngoffTable *t) {
  static const char *const columns[] = {"judge", "item", "percent", NULL};
  int status = 0;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  if (!(t->table = standard_table(path, columns, faults, &status)))
    return status;
  t->rows = bt_table_rows(t->table);
  t->judge = bt_table_levels(t->table, bt_table_column(t->table, "judge"), &t->judges, faults);
  t->item = bt_table_levels(t->table, bt_table_column(t->table, "item"), &t->items, faults);
  t->percent = standard_percents(t->table, "percent", false, faults);
  if (t->judge && t->item && t->percent) {
    read_points(t, faults);
    read_rounds(t, faults);
    check_once(t, faults);
  }
  return standard_told(faults);
}

static BtAngoff angoff_of_round(const AngoffTable *t, gsize round) {
  gsize judges = t->judges->len, cells = judges * t->items->len;
  g_autofree double *cell = g_new(double, cells + 1);
  for (gsize c = 0; c < cells; c++)
    cell[c] = BT_MISSING;
  for (gsize row = 0; row < t->rows; row++) {
    if (t->round[row] == round)
      cell[t->item[row] * judges + t->judge[row]] = t->percent[row];
  }
  BtRatings ratings = {t->items->len, judges, cell};
  return bt_angoff(&ratings, t->points);
}

static void put_rounds(StandardResult *result, const BtPanel *before, const BtPanel *after,
                       const AngoffTable *t) {
  BtPanelChange change = bt_panel_change(before->cut, after->cut, t->judges->len);
  g_string_append_printf(result->text, "\nRound %" G_GSIZE_FORMAT " against the one before\n",
                         t->rounds);
  cli_put_figure_row(result->text, "change of the mark", STANDARD_WIDTH, &change.change,
                     STANDARD_DECIMALS);
  cli_put_paragraph(result->text, 2,
                    "%" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT
                    " judges moved; their standard deviation went from %.1f to %.1f.",
                    change.moved, change.judges, change.sd_before, change.sd_after);
  json_t *rounds = json_pack("{s:I, s:I, s:I, s:f, s:f}", "rounds", (json_int_t)t->rounds, "judges",
                             (json_int_t)change.judges, "moved", (json_int_t)change.moved,
                             "sd_before", change.sd_before, "sd_after", change.sd_after);
  json_object_set_new(rounds, "change", cli_json_figure("later less earlier", &change.change));
  json_object_set_new(result->figures, "rounds", rounds);
}

static void put_angoff(StandardResult *result, const BtAngoff *angoff, const AngoffTable *t) {
  const struct {
    const char *form, *key, *source;
    const BtEstimate *estimate;
    int decimals;
  } rows[] = {
      {"mark, these items", "cut_judges", "error over judges (Jaeger 1991)", &angoff->panel.mean,
       STANDARD_DECIMALS},
      {"mark, items drawn", "cut_judges_and_items",
       "error over judges and items (Brennan and Lockwood 1980)", &angoff->both, STANDARD_DECIMALS},
      {"agreement (ICC)", "agreement", "ICC(2,1) of judges over items", &angoff->agreement, 2},
      {"judges' component", "judge_variance", "variance component, squared percent",
       &angoff->judge_variance, 2},
      {"items' component", "item_variance", "variance component, squared percent",
       &angoff->item_variance, 2},
      {"what is left", "residual_variance", "variance component, squared percent",
       &angoff->residual_variance, 2}};
  g_autofree char *judges = bt_count_of((gint64)angoff->judges, "judge", NULL);
  g_autofree char *items = bt_count_of((gint64)angoff->items, "item", NULL);
  g_string_append_printf(result->text, "%s, %s\n", judges, items);
  result->figures = json_pack("{s:I, s:I}", "items", (json_int_t)angoff->items, "holes",
                              (json_int_t)angoff->holes);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    cli_put_figure_row(result->text, rows[i].form, STANDARD_WIDTH, rows[i].estimate,
                       rows[i].decimals);
    json_object_set_new(result->figures, rows[i].key,
                        cli_json_figure(rows[i].source, rows[i].estimate));
  }
  put_spread(result->text, &angoff->panel);
  if (angoff->holes)
    cli_put_paragraph(result->text, 2,
                      "%" G_GSIZE_FORMAT " ratings were not given; each stands at what its judge "
                      "and its item tell (least squares).",
                      angoff->holes);
  put_panel(result->text, &angoff->panel, t->judges);
  add_spread(result->figures, &angoff->panel, t->judges);
}

int cli_standard_angoff(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_auto(StandardRequest) request = STANDARD_REQUEST;
  g_auto(AngoffTable) table = {0};
  g_auto(StandardScores) scores = {0};
  if (!standard_parse(cli, &request, STANDARD_BY_JUDGES, argc, argv, &status) ||
      (status = read_angoff(request.table, &table)) ||
      (status = standard_scores_beside(cli, &request, false, &scores)))
    return status;
  g_auto(BtAngoff) angoff = angoff_of_round(&table, table.rounds - 1);
  g_auto(StandardResult) result = {
      .method = "angoff",
      .title = "Angoff",
      .form = "Angoff (1971), error over judges (Jaeger 1991)",
      .cut = angoff.panel.mean,
      .judges = angoff.judges,
      .text = g_string_new(NULL),
      .rests_on =
          "Each judge says of each item what share of just adequate trainees would do it; a "
          "judge's mark is the mean over the items by their points (Angoff 1971). The first error "
          "takes the items as they are (Jaeger 1991), the second as a sample of those that might "
          "have been set (Brennan and Lockwood 1980). About ten judges or more are common "
          "practice."};
  put_angoff(&result, &angoff, &table);
  if (table.rounds > 1) {
    g_auto(BtAngoff) before = angoff_of_round(&table, table.rounds - 2);
    put_rounds(&result, &before.panel, &angoff.panel, &table);
  }
  return standard_finish(cli, &request, &result, &scores);
}

// Ebel ------------------------------------------------------------------------

typedef struct {
  gsize n;
  BtEbelCell *cell;
  GPtrArray *judges; // names, borrowed from the table
  BtTable *table;
} EbelTable;

static void ebel_table_clear(EbelTable *t) {
  g_free(t->cell);
  g_clear_pointer(&t->judges, g_ptr_array_unref);
  bt_table_free(t->table);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(EbelTable, ebel_table_clear)

// Each judge (or the panel) fills a cell of relevance by difficulty once.
static void check_cells(const EbelTable *t, GPtrArray *faults) {
  g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  int relevance = bt_table_column(t->table, "relevance");
  int difficulty = bt_table_column(t->table, "difficulty");
  for (gsize row = 0; row < t->n; row++) {
    const char *first = bt_table_text(t->table, row, relevance);
    const char *second = bt_table_text(t->table, row, difficulty);
    if (!first || !second)
      bt_table_fault(t->table, row, first ? difficulty : relevance, faults,
                     "the cell of the grid is not named");
    else if (!g_hash_table_add(seen, g_strdup_printf("%" G_GSIZE_FORMAT "\n%s\n%s",
                                                     t->cell[row].judge, first, second)))
      bt_table_fault(t->table, row, relevance, faults,
                     "this cell of the grid stands in the table already");
  }
}

static int read_ebel(const char *path, EbelTable *t) {
  static const char *const columns[] = {"relevance", "difficulty", "items", "percent", NULL};
  int status = 0;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  if (!(t->table = standard_table(path, columns, faults, &status)))
    return status;
  t->n = bt_table_rows(t->table);
  int judge_column = bt_table_column(t->table, "judge");
  int items_column = bt_table_column(t->table, "items");
  g_autofree gsize *judge =
      judge_column < 0 ? NULL : bt_table_levels(t->table, judge_column, &t->judges, faults);
  g_autofree double *items = bt_table_numbers(t->table, items_column, faults);
  g_autofree double *percent = standard_percents(t->table, "percent", false, faults);
  if (judge_column < 0) {
    t->judges = g_ptr_array_new();
    g_ptr_array_add(t->judges, (gpointer) "the panel");
  }
  if (!items || !percent || (judge_column >= 0 && !judge))
    return standard_told(faults);
  t->cell = g_new(BtEbelCell, t->n + 1);
  for (gsize row = 0; row < t->n; row++) {
    t->cell[row] = (BtEbelCell){judge ? judge[row] : 0, items[row], percent[row]};
    if (!(items[row] >= 0))
      bt_table_fault(t->table, row, items_column, faults, "a number from 0 on is expected");
  }
  check_cells(t, faults);
  return standard_told(faults);
}

static void put_ebel(StandardResult *result, const BtPanel *panel, const EbelTable *t) {
  double items = 0;
  for (gsize i = 0; i < t->n; i++)
    items += bt_is_missing(t->cell[i].percent) ? 0 : t->cell[i].items;
  g_string_append_printf(result->text, "%" G_GSIZE_FORMAT " cells\n", t->n);
  cli_put_figure_row(result->text, "mark", STANDARD_WIDTH, &panel->mean, STANDARD_DECIMALS);
  if (t->judges->len > 1) {
    put_spread(result->text, panel);
    put_panel(result->text, panel, t->judges);
  } else {
    cli_put_paragraph(result->text, 2,
                      "One grid of the whole panel has no error of its own; a column \"judge\" "
                      "with each judge's grid gives one.");
  }
  result->figures = json_pack("{s:I, s:f}", "cells", (json_int_t)t->n, "items",
                              items / (double)MAX(panel->judges, 1));
  add_spread(result->figures, panel, t->judges);
}

int cli_standard_ebel(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_auto(StandardRequest) request = STANDARD_REQUEST;
  g_auto(EbelTable) table = {0};
  g_auto(StandardScores) scores = {0};
  if (!standard_parse(cli, &request, STANDARD_BY_JUDGES, argc, argv, &status) ||
      (status = read_ebel(request.table, &table)) ||
      (status = standard_scores_beside(cli, &request, false, &scores)))
    return status;
  g_auto(BtPanel) panel = bt_ebel(table.cell, table.n, table.judges->len);
  g_auto(StandardResult) result = {
      .method = "ebel",
      .title = "Ebel",
      .form = "Ebel (1972), error over judges",
      .cut = panel.mean,
      .judges = table.judges->len > 1 ? panel.judges : 0,
      .text = g_string_new(NULL),
      .rests_on = "Items stand in cells by relevance and difficulty; of each cell it is said what "
                  "percentage a just adequate trainee would do. The mark is the mean over the "
                  "items (Ebel 1972; Livingston and Zieky 1982)."};
  put_ebel(&result, &panel, &table);
  return standard_finish(cli, &request, &result, &scores);
}
