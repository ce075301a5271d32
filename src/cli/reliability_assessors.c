// SPDX-License-Identifier: GPL-3.0-or-later
//
// Severity of assessors, and totals with it taken out.
#include "cli/figure.h"
#include "cli/reliability.h"

static char *percent(const BtEstimate *estimate) {
  return estimate->why_not ? g_strdup("-") : g_strdup_printf("%.1f", estimate->value);
}

static char *limits(const BtEstimate *estimate) {
  return estimate->why_not || !estimate->has_limits
             ? g_strdup("")
             : g_strdup_printf("%.1f to %.1f", estimate->low, estimate->high);
}

static void put_table(GString *out, const BtStudyReliability *found) {
  static const char *const heads[] = {"  assessor", ">scores", ">shared", ">raw mean %",
                                      ">severity",  "limits",  NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint i = 0; i < found->assessor->len; i++) {
    const BtAssessorSeverity *assessor = &found->severity->assessor[i];
    g_autofree char *code =
        g_strconcat("  ", (const char *)g_ptr_array_index(found->assessor, i), NULL);
    g_autofree char *n = g_strdup_printf("%" G_GSIZE_FORMAT, assessor->n);
    g_autofree char *shared = g_strdup_printf("%" G_GSIZE_FORMAT, assessor->shared);
    g_autofree char *raw = percent(&assessor->raw_mean);
    g_autofree char *severity = percent(&assessor->severity);
    g_autofree char *between = limits(&assessor->severity);
    g_ptr_array_add(rows, cli_row(6, code, n, shared, raw, severity, between));
  }
  cli_table(out, heads, rows, cli_bold());
}

// Those whom the fair mean puts on the other side of the pass mark.
static void put_other_side(GString *out, const BtStudyReliability *found) {
  g_autoptr(GString) names = g_string_new(NULL);
  for (guint i = 0; i < found->fair->len; i++) {
    const BtFairTotal *total = &g_array_index(found->fair, BtFairTotal, i);
    const BtFairMean *mean = &total->percent;
    if (mean->fair_mean.why_not || (mean->raw_mean.value >= found->cut_percent) ==
                                       (mean->fair_mean.value >= found->cut_percent))
      continue;
    g_string_append_printf(names, "%s%s (%.1f raw, %.1f fair)", names->len ? ", " : "",
                           total->row->row->trainee, mean->raw_mean.value, mean->fair_mean.value);
  }
  cli_put_paragraph(out, 2,
                    "Fair totals stand beside the raw ones and decide nothing. Across the pass "
                    "mark from the raw mean of the latest session: %s.",
                    names->len ? names->str : "nobody");
}

// Who is not of the group that was compared.
static void put_left_out(GString *out, const BtStudyReliability *found) {
  const BtSeverityStudy *severity = found->severity;
  g_autoptr(GString) names = g_string_new(NULL);
  if (severity->left_out == 0)
    return;
  for (guint i = 0; i < found->assessor->len; i++) {
    if (severity->assessor[i].left_out)
      g_string_append_printf(names, "%s%s", names->len ? ", " : "",
                             (const char *)g_ptr_array_index(found->assessor, i));
  }
  cli_put_paragraph(out, 2, "Left out of severity: %s (scored no session that the others scored).",
                    names->str);
}

void reliability_put_assessors(GString *out, const BtStudyReliability *found) {
  const BtSeverityStudy *severity = found->severity;
  g_string_append(out, "\nAssessors (severity: points given less than the mean assessor would)\n");
  put_table(out, found);
  if (severity->why_not) {
    cli_put_paragraph(out, 2, "Severity is not estimable: %s.", severity->why_not);
    put_left_out(out, found);
    return;
  }
  cli_put_paragraph(
      out, 2, "From sessions that several assessors saw; 95 %% limits (Student's t). %s",
      severity->random ? "Drawn towards the mean, the more so the fewer scores (mixed model, REML)."
                       : "Each by what the scores alone show (least squares).");
  put_left_out(out, found);
  put_other_side(out, found);
}

json_t *reliability_json_assessors(const BtStudyReliability *found) {
  const BtSeverityStudy *severity = found->severity;
  json_t *assessors = json_array(), *fair = json_array();
  for (guint i = 0; i < found->assessor->len; i++) {
    const BtAssessorSeverity *assessor = &severity->assessor[i];
    json_array_append_new(assessors,
                          json_pack("{s:s, s:I, s:I, s:o, s:o}", "assessor",
                                    (const char *)g_ptr_array_index(found->assessor, i), "scores",
                                    (json_int_t)assessor->n, "shared", (json_int_t)assessor->shared,
                                    "raw_mean", cli_json_figure("raw mean", &assessor->raw_mean),
                                    "severity",
                                    cli_json_figure(severity->random ? "severity, random effects"
                                                                     : "severity, fixed effects",
                                                    &assessor->severity)));
  }
  for (guint i = 0; i < found->fair->len; i++) {
    const BtFairTotal *total = &g_array_index(found->fair, BtFairTotal, i);
    json_array_append_new(
        fair, json_pack("{s:s, s:s, s:o, s:o}", "trainee", total->row->row->trainee, "session",
                        total->row->row->session, "raw_mean",
                        cli_json_figure("raw mean", &total->percent.raw_mean), "fair_mean",
                        cli_json_figure("fair mean", &total->percent.fair_mean)));
  }
  return json_pack("{s:s?, s:o, s:o}", "why_not", severity->why_not, "assessors", assessors,
                   "latest_sessions", fair);
}
