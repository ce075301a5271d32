// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/reliability.h"

#include <math.h>
#include <string.h>

#include "cli/figure.h"

#define DECIMALS   2
#define FORM_WIDTH 32
#define DOWN_MOST  4 // rows of the table of plans
#define SAID_MOST  3 // ... and of them told in the sentence

static const double across_counts[] = {1, 2, 3, 4, 6, 8, 10, 12};

// Words -----------------------------------------------------------------------

// What a facet's name takes in the plural; letters and names that end in s take nothing.
static const char *plural_of(const char *facet) {
  return strlen(facet) == 1 || g_str_has_suffix(facet, "s") ? "" : "s";
}

char *reliability_count_words(double count, const char *facet) {
  const char *plural = count == 1 ? "" : plural_of(facet);
  // A harmonic mean of whole numbers may stand a hair beside the whole number that it is.
  bool whole = fabs(count - nearbyint(count)) < 1e-9 * count;
  return g_strdup_printf("%.*f %s%s", whole ? 0 : 1, count, facet, plural);
}

static char *number(double value, int decimals) {
  return g_strdup_printf("%.*f", decimals, value);
}

char *reliability_conditions_words(const BtGStudy *gstudy, const BtPlan *plan) {
  GString *out = g_string_new(NULL);
  for (int i = 0; i < gstudy->design->facets; i++) {
    if (i == gstudy->design->object)
      continue;
    g_autofree char *words = reliability_count_words(plan->conditions[i], gstudy->design->name[i]);
    g_string_append_printf(out, "%s%s%s", out->len ? " and " : "", words,
                           plan->fixed & 1U << i ? " (fixed)" : "");
  }
  return g_string_free(out, FALSE);
}

// Components ------------------------------------------------------------------

static double used_in_all(const BtGStudy *gstudy) {
  double sum = 0;
  for (int i = 0; i < gstudy->design->effects; i++)
    sum += gstudy->effect[i].used;
  return sum;
}

static char **component_row(const BtGStudy *gstudy, int i, double all) {
  const BtEffect *effect = &gstudy->effect[i];
  g_autofree char *name = bt_design_name(gstudy->design, gstudy->design->effect[i]);
  g_autofree char *groups = g_strdup_printf("%" G_GSIZE_FORMAT, effect->groups);
  // Where scores are few for the design the count of it comes out at nothing or below.
  g_autofree char *df = effect->df > 0 ? number(effect->df, 0) : NULL;
  g_autofree char *squares = number(effect->mean_square.value, 4);
  g_autofree char *component = number(effect->component.value, 4);
  g_autofree char *error = effect->component.has_se ? number(effect->component.se, 4) : NULL;
  g_autofree char *share = all > 0 ? number(100 * effect->used / all, 1) : NULL;
  return cli_row(7, name, groups, df, effect->mean_square.why_not ? "" : squares, component, error,
                 share);
}

// Names the components that came out below zero, and both ways to go on.
static void put_negative(GString *out, const BtGStudy *gstudy) {
  g_autoptr(GString) names = g_string_new(NULL);
  for (int i = 0; i < gstudy->design->effects; i++) {
    if (gstudy->effect[i].component.value >= 0)
      continue;
    g_autofree char *name = bt_design_name(gstudy->design, gstudy->design->effect[i]);
    g_string_append_printf(names, "%s%s (%.4f)", names->len ? ", " : "", name,
                           gstudy->effect[i].component.value);
  }
  if (names->len)
    cli_put_paragraph(out, 2,
                      "Below zero, which no variance is: %s. Chance does that where a component is "
                      "small or its conditions are few. It stands as it was estimated; the plans "
                      "take it as 0 and leave the others as they are (Brennan 2001), where "
                      "Cronbach and others (1972) would put the 0 into the others too.",
                      names->str);
}

void reliability_put_components(GString *out, const BtGStudy *gstudy) {
  static const char *const heads[] = {
      "  where scores differ", ">n", ">df", ">mean square", ">variance", ">error", ">%", NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  double all = used_in_all(gstudy);
  for (int i = 0; i < gstudy->design->effects; i++) {
    char **row = component_row(gstudy, i, all);
    char *indented = g_strconcat("  ", row[0], NULL);
    g_free(row[0]);
    row[0] = indented;
    g_ptr_array_add(rows, row);
  }
  cli_table(out, heads, rows, cli_bold());
  put_negative(out, gstudy);
}

// Plans -----------------------------------------------------------------------

void reliability_put_coefficients(GString *out, const char *title, const BtDStudy *reached) {
  g_string_append_printf(out, "%s\n", title);
  cli_put_figure_row(out, "pass decisions (Phi)", FORM_WIDTH, &reached->decision, DECIMALS);
  cli_put_figure_row(out, "ranking (E rho^2)", FORM_WIDTH, &reached->ranking, DECIMALS);
  cli_put_figure_row(out, "standard error, pass decisions", FORM_WIDTH, &reached->sem_absolute,
                     DECIMALS);
  cli_put_figure_row(out, "standard error, ranking", FORM_WIDTH, &reached->sem_relative, DECIMALS);
}

static BtPlan plan_of(const Planning *planning, double across, double down) {
  BtPlan plan = planning->observed;
  if (planning->across >= 0)
    plan.conditions[planning->across] = across;
  if (planning->down >= 0)
    plan.conditions[planning->down] = down;
  return plan;
}

static BtReach reach_of(const Planning *planning, double down) {
  BtPlan plan = plan_of(planning, 1, down);
  return bt_dstudy_reach(planning->gstudy, &plan, planning->across, false, planning->target);
}

// "With 2 assessors, 5 sessions reach 0.80"; once that was said, "with 3 assessors, 4".
static void add_reach(GString *text, const Planning *planning, int down, bool said) {
  const BtDesign *design = planning->gstudy->design;
  const char *across = design->name[planning->across];
  BtReach reach = reach_of(planning, down);
  g_autofree char *needed = reliability_count_words((double)reach.least, across);
  if (planning->down >= 0) {
    g_autofree char *with = reliability_count_words(down, design->name[planning->down]);
    g_string_append_printf(text, "%s %s, ", text->len ? "; with" : "With", with);
  }
  if (reach.least && said)
    g_string_append_printf(text, "%" G_GSIZE_FORMAT, reach.least);
  else if (reach.least)
    g_string_append_printf(text, "%s reach%s %.2f", needed, reach.least == 1 ? "es" : "",
                           planning->target);
  else
    g_string_append_printf(text, "%s number of %s%s reaches %.2f (%.2f at most)",
                           planning->down < 0 ? "No" : "no", across, plural_of(across),
                           planning->target, reach.limit);
}

void reliability_put_answer(GString *out, const Planning *planning) {
  const BtGStudy *gstudy = planning->gstudy;
  if (planning->across < 0)
    return;
  BtPlan one = plan_of(planning, 1, 1);
  if (bt_dstudy(gstudy, &one).universe <= 0) {
    cli_put_paragraph(out, 0,
                      "No number of anything reaches %.2f: these scores show no lasting difference "
                      "between one %s and another.",
                      planning->target, gstudy->design->name[gstudy->design->object]);
    return;
  }
  g_autoptr(GString) text = g_string_new(NULL);
  bool said = false, fewer = planning->down < 0;
  gsize before = G_MAXSIZE;
  for (int down = 1; down <= (planning->down < 0 ? 1 : SAID_MOST); down++) {
    gsize least = reach_of(planning, down).least;
    if (least > 0 && least == before)
      continue;
    fewer |= down > 1;
    add_reach(text, planning, down, said);
    said |= least > 0;
    before = least;
  }
  if (!fewer)
    g_string_append(text, "; with more of them it takes as many");
  cli_put_paragraph(out, 0, "%s.", text->str);
}

// One row of the table of plans; `*` marks what reaches the target.
static char **plan_row(const Planning *planning, int down) {
  GStrvBuilder *cells = g_strv_builder_new();
  const BtDesign *design = planning->gstudy->design;
  g_autofree char *with = planning->down < 0
                              ? g_strdup("")
                              : reliability_count_words(down, design->name[planning->down]);
  g_autofree char *head = g_strconcat("  ", with, NULL);
  g_strv_builder_add(cells, head);
  for (gsize i = 0; i < G_N_ELEMENTS(across_counts); i++) {
    BtPlan plan = plan_of(planning, across_counts[i], down);
    BtEstimate decision = bt_dstudy(planning->gstudy, &plan).decision;
    g_autofree char *cell = decision.why_not
                                ? g_strdup("-")
                                : g_strdup_printf("%.2f%s", decision.value,
                                                  decision.value >= planning->target ? "*" : " ");
    g_strv_builder_add(cells, cell);
  }
  BtReach reach = reach_of(planning, down);
  g_autofree char *needed =
      reach.least ? g_strdup_printf("%" G_GSIZE_FORMAT, reach.least) : g_strdup("none");
  g_strv_builder_add(cells, needed);
  char **row = g_strv_builder_end(cells);
  g_strv_builder_unref(cells);
  return row;
}

void reliability_put_plans(GString *out, const Planning *planning) {
  if (planning->across < 0)
    return;
  const BtDesign *design = planning->gstudy->design;
  g_autofree char *last = g_strdup_printf(">for %.2f", planning->target);
  const char *heads[] = {"  ", ">1", ">2", ">3", ">4", ">6", ">8", ">10", ">12", last, NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  int most = planning->down < 0 ? 1 : DOWN_MOST;
  for (int down = 1; down <= most; down++)
    g_ptr_array_add(rows, plan_row(planning, down));
  const char *across = design->name[planning->across];
  const char *below = planning->down < 0 ? "" : design->name[planning->down];
  g_string_append_printf(out, "Phi by number of %s%s%s%s%s (* reaches %.2f)\n", across,
                         plural_of(across), *below ? " and of " : "", below,
                         *below ? plural_of(below) : "", planning->target);
  cli_table(out, heads, rows, cli_bold());
  for (int i = 0; i < design->facets; i++) {
    if (i == design->object || i == planning->across || i == planning->down)
      continue;
    g_autofree char *words =
        reliability_count_words(planning->observed.conditions[i], design->name[i]);
    cli_put_paragraph(out, 2, "Everywhere with %s%s.", words,
                      planning->observed.fixed & 1U << i ? ", fixed" : "");
  }
}

Planning reliability_planning(const BtGStudy *gstudy, const BtPlan *observed, double target) {
  Planning planning = {
      .gstudy = gstudy, .observed = *observed, .across = -1, .down = -1, .target = target};
  const BtDesign *design = gstudy->design;
  for (int i = 0; i < design->facets; i++) {
    if (i == design->object || observed->fixed & 1U << i)
      continue;
    if (planning.across < 0)
      planning.across = i;
    else if (planning.down < 0)
      planning.down = i;
  }
  // What others are nested in stands across: more of it brings more of those too.
  if (planning.down >= 0 && design->within[planning.across] & 1U << planning.down) {
    int inner = planning.across;
    planning.across = planning.down;
    planning.down = inner;
  }
  return planning;
}

// Items -----------------------------------------------------------------------

static char *estimate_text(const BtEstimate *estimate) {
  return estimate->why_not ? g_strdup("-") : number(estimate->value, DECIMALS);
}

void reliability_put_items(GString *out, const BtItems *items, const char *const *names) {
  static const char *const heads[] = {
      "  item", ">n", ">mean", ">discrimination", ">alpha without it", NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (gsize i = 0; i < items->items; i++) {
    const BtItem *item = &items->item[i];
    g_autofree char *name = g_strconcat("  ", names[i], NULL);
    g_autofree char *n = g_strdup_printf("%" G_GSIZE_FORMAT, item->difficulty.n);
    g_autofree char *mean = estimate_text(&item->difficulty);
    g_autofree char *with_others = estimate_text(&item->discrimination);
    g_autofree char *without = estimate_text(&item->alpha_without);
    g_ptr_array_add(rows, cli_row(5, name, n, mean, with_others, without));
  }
  cli_put_figure_row(out, "alpha (Cronbach 1951)", FORM_WIDTH, &items->alpha, DECIMALS);
  if (!items->kr20.why_not)
    cli_put_figure_row(out, "KR-20, the same for 0 and 1", FORM_WIDTH, &items->kr20, DECIMALS);
  if (!items->kr21.why_not)
    cli_put_figure_row(out, "KR-21, items equally hard", FORM_WIDTH, &items->kr21, DECIMALS);
  cli_table(out, heads, rows, cli_bold());
  if (items->complete < items->persons)
    cli_put_paragraph(out, 2,
                      "%" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT
                      " have a value for every item; nobody is left out: alpha is for the %.1f "
                      "items a person had (harmonic mean; Brennan 2001, section 7.1), its limits "
                      "are near only.",
                      items->complete, items->persons, items->items_each);
  cli_put_paragraph(out, 2,
                    "Discrimination is the correlation with the person's other items. - : not "
                    "estimable (all the same, or too few).");
}

// Pass decisions --------------------------------------------------------------

void reliability_put_decision(GString *out, const BtDecision *beta, const BtDecision *normal) {
  cli_put_figure_row(out, "decided alike twice", FORM_WIDTH, &beta->consistency, DECIMALS);
  cli_put_figure_row(out, "the same beyond chance (kappa)", FORM_WIDTH, &beta->kappa, DECIMALS);
  cli_put_figure_row(out, "decided as the true score", FORM_WIDTH, &beta->accuracy, DECIMALS);
  cli_put_figure_row(out, "pass, true score below", FORM_WIDTH, &beta->false_pass, DECIMALS);
  cli_put_figure_row(out, "not yet, true score at or above", FORM_WIDTH, &beta->false_not_yet,
                     DECIMALS);
  if (!beta->consistency.why_not)
    cli_put_paragraph(out, 2,
                      "Livingston and Lewis (1995): as firm as %.1f whole items; true scores beta "
                      "(%.2f, %.2f) on %.2f to %.2f%s%s.",
                      beta->effective_length, beta->alpha, beta->beta, beta->true_low,
                      beta->true_high, beta->why_two ? ", two parameters because " : "",
                      beta->why_two ? beta->why_two : "");
  if (!normal->consistency.why_not)
    cli_put_paragraph(out, 2,
                      "By the normal table (Subkoviak 1988): %.2f decided alike, kappa %.2f.",
                      normal->consistency.value, normal->kappa.value);
}
