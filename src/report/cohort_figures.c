// SPDX-License-Identifier: GPL-3.0-or-later
//
// What is told of an edition as a whole, found once for all sheets.
#include "report/cohort_record.h"

#include <benchtally/measure.h>

// Attempts --------------------------------------------------------------------

static int by_attempt(gconstpointer a, gconstpointer b) {
  const BtCurvePoint *x = *(BtCurvePoint *const *)a, *y = *(BtCurvePoint *const *)b;
  return x->attempt - y->attempt;
}

// The points that have a value, borrowed, by attempt. Caller frees.
static GPtrArray *points_by_attempt(const GArray *points) {
  GPtrArray *list = g_ptr_array_new();
  for (guint i = 0; i < points->len; i++) {
    BtCurvePoint *point = &g_array_index(points, BtCurvePoint, i);
    if (!bt_is_missing(point->value))
      g_ptr_array_add(list, point);
  }
  g_ptr_array_sort(list, by_attempt);
  return list;
}

static GArray *attempts_of(const GArray *points) {
  GArray *attempts = g_array_new(FALSE, FALSE, sizeof(BtCohortAttempt));
  g_autoptr(GPtrArray) list = points_by_attempt(points);
  g_autofree gint64 *total_milli = g_new(gint64, list->len + 1);
  for (guint i = 0; i < list->len;) {
    BtCohortAttempt one = {.attempt = ((BtCurvePoint *)g_ptr_array_index(list, i))->attempt};
    for (; i < list->len; i++) {
      const BtCurvePoint *point = g_ptr_array_index(list, i);
      if (point->attempt != one.attempt)
        break;
      total_milli[one.n++] = (gint64)(point->value * 1000 + 0.5);
    }
    one.low_milli = bt_quantile(total_milli, (gsize)one.n, 1, 4);
    one.median_milli = bt_quantile(total_milli, (gsize)one.n, 1, 2);
    one.high_milli = bt_quantile(total_milli, (gsize)one.n, 3, 4);
    g_array_append_val(attempts, one);
  }
  return attempts;
}

// Editions --------------------------------------------------------------------

BtCohortEdition *bt__cohort_edition_new(BtStudy *study) {
  const BtCurveTerms terms = BT_CURVE_TERMS;
  BtCohortEdition *edition = g_new(BtCohortEdition, 1);
  edition->study = study;
  edition->reliability = bt_study_reliability(study, -1, BT_BY_ANOVA);
  edition->views = bt_views_new(study, false);
  edition->steps = bt_views_agreement(edition->views, BT_VIEW_STEP, -1);
  edition->errors = bt_views_agreement(edition->views, BT_VIEW_ERROR, -1);
  edition->total = bt_views_icc(edition->views, BT_VIEW_TOTAL_PERCENT, -1);
  edition->practices = bt_study_practices(study, &terms);
  edition->attempts = attempts_of(edition->practices->points);
  return edition;
}

void bt__cohort_edition_free(BtCohortEdition *edition) {
  g_array_unref(edition->attempts);
  bt_practices_free(edition->practices);
  bt_views_free(edition->views);
  bt_study_reliability_free(edition->reliability);
  bt_study_free(edition->study); // last: the others look at it
  g_free(edition);
}
