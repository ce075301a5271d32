// SPDX-License-Identifier: GPL-3.0-or-later
//
// Scores of a design, put together one by one.
#ifndef BENCHTALLY_TESTS_SCORE_LIST_H
#define BENCHTALLY_TESTS_SCORE_LIST_H

#include <benchtally/reliability.h>

#define SCORE_FACETS 3

typedef struct {
  GArray *score, *level[SCORE_FACETS];
  const gsize *column[SCORE_FACETS];
} ScoreList;

static inline ScoreList score_list_new(void) {
  ScoreList list = {.score = g_array_new(FALSE, FALSE, sizeof(double))};
  for (int i = 0; i < SCORE_FACETS; i++)
    list.level[i] = g_array_new(FALSE, FALSE, sizeof(gsize));
  return list;
}

static inline void score_list_clear(ScoreList *list) {
  g_array_unref(list->score);
  for (int i = 0; i < SCORE_FACETS; i++)
    g_array_unref(list->level[i]);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(ScoreList, score_list_clear)

// A score with its level of the design's first, second and third facet. A missing one is passed
// over.
static inline void put_score(ScoreList *list, double score, gsize first, gsize second,
                             gsize third) {
  gsize levels[SCORE_FACETS] = {first, second, third};
  if (bt_is_missing(score))
    return;
  g_array_append_val(list->score, score);
  for (int i = 0; i < SCORE_FACETS; i++)
    g_array_append_val(list->level[i], levels[i]);
}

// The list as a study takes it; borrowed from the list, and good until the next score.
static inline BtScores scores_of(ScoreList *list) {
  for (int i = 0; i < SCORE_FACETS; i++)
    list->column[i] = (const gsize *)(const void *)list->level[i]->data;
  return (BtScores){list->score->len, (const double *)(const void *)list->score->data,
                    list->column};
}

// The study of the list under a design; caller frees.
static inline BtGStudy *study_of(const char *design, ScoreList *list) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtDesign) parsed = bt_design_parse(design, &error);
  if (error)
    fail_msg("%s", error->message);
  BtScores scores = scores_of(list);
  return bt_gstudy(parsed, &scores, BT_BY_ANOVA);
}

#endif
