// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/study_agreement.h>

#include <string.h>

#define STATES 2 // done and not done; seen and not seen

// Which views -----------------------------------------------------------------

static const char *assessor_of(const BtStudyRow *row) {
  return row->row->mode == BT_MODE_SELF ? BT_OWN_RECORD : row->row->assessor;
}

// The views of one session, each assessor once.
typedef struct {
  const char *session;
  GPtrArray *rows; // of BtStudyRow
} Seen;

static void free_seen(gpointer data) {
  Seen *seen = data;
  g_ptr_array_unref(seen->rows);
  g_free(seen);
}

static bool has_assessor(const Seen *seen, const char *assessor) {
  for (guint i = 0; i < seen->rows->len; i++) {
    if (g_str_equal(assessor_of(g_ptr_array_index(seen->rows, i)), assessor))
      return true;
  }
  return false;
}

// Every session of the study (of Seen), in its order; counts what is left out.
static GPtrArray *sessions_of(BtViews *views, bool with_own) {
  GPtrArray *list = g_ptr_array_new_with_free_func(free_seen);
  g_autoptr(GHashTable) by_code = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < views->study->rows->len; i++) {
    BtStudyRow *row = g_ptr_array_index(views->study->rows, i);
    if (row->row->mode == BT_MODE_SELF && !with_own) {
      views->own_left_out++;
      continue;
    }
    Seen *seen = g_hash_table_lookup(by_code, row->row->session);
    if (!seen) {
      seen = g_new(Seen, 1);
      *seen = (Seen){row->row->session, g_ptr_array_new()};
      g_hash_table_insert(by_code, row->row->session, seen);
      g_ptr_array_add(list, seen);
    }
    if (has_assessor(seen, assessor_of(row)))
      views->again_left_out++; // of one assessor the study has live before video
    else
      g_ptr_array_add(seen->rows, row);
  }
  return list;
}

static gint by_code(gconstpointer a, gconstpointer b) {
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

// Everyone who observed a session that another observed too; their places, by code.
static GHashTable *list_assessors(BtViews *views, const GPtrArray *sessions) {
  GHashTable *place = g_hash_table_new(g_str_hash, g_str_equal);
  g_autoptr(GPtrArray) codes = g_ptr_array_new();
  for (guint s = 0; s < sessions->len; s++) {
    const Seen *seen = g_ptr_array_index(sessions, s);
    for (guint i = 0; seen->rows->len > 1 && i < seen->rows->len; i++) {
      const char *code = assessor_of(g_ptr_array_index(seen->rows, i));
      if (g_hash_table_add(place, (gpointer)code))
        g_ptr_array_add(codes, (gpointer)code);
    }
  }
  g_ptr_array_sort(codes, by_code);
  views->assessors = codes->len;
  views->assessor = g_new0(const char *, views->assessors + 1);
  for (guint a = 0; a < codes->len; a++) {
    views->assessor[a] = g_ptr_array_index(codes, a);
    g_hash_table_insert(place, (gpointer)views->assessor[a], GUINT_TO_POINTER(a));
  }
  return place;
}

BtViews *bt_views_new(const BtStudy *study, bool with_own) {
  BtViews *views = g_new0(BtViews, 1);
  views->study = study;
  g_autoptr(GPtrArray) sessions = sessions_of(views, with_own);
  g_autoptr(GHashTable) place = list_assessors(views, sessions);
  views->session = g_new0(const char *, sessions->len + 1);
  views->view = g_new0(const BtStudyRow *, sessions->len * views->assessors + 1);
  for (guint s = 0; s < sessions->len; s++) {
    const Seen *seen = g_ptr_array_index(sessions, s);
    views->alone += seen->rows->len == 1;
    if (seen->rows->len < 2)
      continue;
    for (guint i = 0; i < seen->rows->len; i++) {
      const BtStudyRow *row = g_ptr_array_index(seen->rows, i);
      guint a = GPOINTER_TO_UINT(g_hash_table_lookup(place, assessor_of(row)));
      views->view[views->sessions * views->assessors + a] = row;
    }
    views->session[views->sessions++] = seen->session;
  }
  return views;
}

void bt_views_free(BtViews *views) {
  if (!views)
    return;
  g_free(views->session);
  g_free(views->assessor);
  g_free(views->view);
  g_free(views);
}

// Tables ----------------------------------------------------------------------

static double step_value(const BtStudyRow *row, int item) {
  return row->step[item] == BT_STEP_DONE ? 1 : row->step[item] == BT_STEP_NOT_DONE ? 0 : BT_MISSING;
}

static double value_of(const BtStudyRow *row, BtViewOf what, int item) {
  switch (what) {
  case BT_VIEW_STEP:
    return step_value(row, item);
  case BT_VIEW_ERROR:
    return row->errors[item] < 0 ? BT_MISSING : row->errors[item] > 0;
  case BT_VIEW_RATING:
    return row->rating[item];
  case BT_VIEW_MEASURE:
    return row->measure[item];
  case BT_VIEW_TOTAL_PERCENT:
    return row->total_percent;
  case BT_VIEW_TOTAL_S:
    return row->total_s;
  }
  return BT_MISSING;
}

void bt_views_fill(const BtViews *views, BtViewOf what, int item, double *cell) {
  for (gsize i = 0; i < views->sessions * views->assessors; i++)
    cell[i] = views->view[i] ? value_of(views->view[i], what, item) : BT_MISSING;
}

static int items_of(const BtRubric *rubric, BtViewOf what) {
  return what == BT_VIEW_STEP    ? rubric->n_checkpoints
         : what == BT_VIEW_ERROR ? rubric->n_errors
                                 : 1;
}

BtAgreement bt_views_agreement(const BtViews *views, BtViewOf what, int item) {
  gsize items = item < 0 ? (gsize)items_of(views->study->rubric, what) : 1;
  gsize cells = views->sessions * views->assessors, subjects = views->sessions * items;
  g_autofree double *cell = g_new(double, items *cells + 1);
  g_autofree gsize *cluster = g_new(gsize, subjects + 1);
  for (gsize i = 0; i < items; i++)
    bt_views_fill(views, what, item < 0 ? (int)i : item, cell + i * cells);
  for (gsize i = 0; i < subjects; i++)
    cluster[i] = i % views->sessions;
  BtRatings ratings = {subjects, views->assessors, cell};
  return bt_agreement(&ratings, STATES, 1, item < 0 ? cluster : NULL);
}

// Of each session the first two values given, or none; caller frees.
static double *first_two(const double *cell, gsize sessions, gsize assessors) {
  double *two = g_new(double, 2 * sessions + 1);
  for (gsize s = 0; s < sessions; s++) {
    gsize found = 0;
    two[2 * s] = two[2 * s + 1] = BT_MISSING;
    for (gsize a = 0; a < assessors && found < 2; a++) {
      if (!bt_is_missing(cell[s * assessors + a]))
        two[2 * s + found++] = cell[s * assessors + a];
    }
  }
  return two;
}

BtScoreAgreement bt_views_icc(const BtViews *views, BtViewOf what, int item) {
  g_autofree double *cell = g_new(double, views->sessions * views->assessors + 1);
  bt_views_fill(views, what, item, cell);
  g_autofree double *two = first_two(cell, views->sessions, views->assessors);
  BtRatings all = {views->sessions, views->assessors, cell}, any = {views->sessions, 2, two};
  BtIcc by_name = bt_icc(&all), by_place = bt_icc(&any);
  bool same_raters = views->assessors <= 2 || 2 * by_name.subjects >= by_place.subjects;
  return (BtScoreAgreement){same_raters, same_raters ? by_name : by_place};
}

// Disagreements ---------------------------------------------------------------

// Whether a session's views differ on the item, and whether that counts.
static bool differ(const BtViews *views, gsize session, BtViewOf what, int item, bool *counted) {
  bool yes = false, no = false, out = false;
  for (gsize a = 0; a < views->assessors; a++) {
    const BtStudyRow *row = views->view[session * views->assessors + a];
    double value = row ? value_of(row, what, item) : BT_MISSING;
    yes |= value == 1;
    no |= value == 0;
    out |= row && what == BT_VIEW_STEP && row->step[item] == BT_STEP_OUT;
  }
  *counted = yes && no;
  return *counted || (out && (yes || no));
}

GArray *bt_views_disagreements(const BtViews *views) {
  static const BtViewOf kinds[] = {BT_VIEW_STEP, BT_VIEW_ERROR};
  GArray *list = g_array_new(FALSE, FALSE, sizeof(BtDisagreement));
  for (gsize s = 0; s < views->sessions; s++) {
    for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
      for (int item = 0; item < items_of(views->study->rubric, kinds[k]); item++) {
        BtDisagreement found = {.session = s, .what = kinds[k], .item = item};
        if (differ(views, s, kinds[k], item, &found.counted))
          g_array_append_val(list, found);
      }
    }
  }
  return list;
}
