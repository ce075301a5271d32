// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/study_standard.h>

#include <benchtally/study_reliability.h>

#define DAY_MS (G_GINT64_CONSTANT(24) * 60 * 60 * 1000)

static BtFormer former(const BtStudyRow *row) {
  if (row->outcome == BT_UNDECIDED)
    return BT_WAS_UNDECIDED;
  if (row->outcome == BT_PASS)
    return BT_WAS_PASS;
  return row->total_decides ? BT_WAS_NOT_YET : BT_WAS_HELD;
}

static bool in_time(const BtStudyRow *row, gint64 from_ms, gint64 before_ms) {
  return row->row->of_record && row->row->started_ms >= from_ms &&
         (before_ms == 0 || row->row->started_ms < before_ms);
}

BtStudyScores *bt_study_scores(const BtStudy *study, gint64 from_ms, gint64 before_ms) {
  guint rows = study->rows->len;
  BtStudyScores *scores = g_new0(BtStudyScores, 1);
  scores->row = g_new(const BtStudyRow *, rows + 1);
  scores->score = g_new(double, rows + 1);
  scores->trainee = g_new(gsize, rows + 1);
  scores->was = g_new(BtFormer, rows + 1);
  const char *before = NULL;
  for (guint i = 0; i < rows; i++) {
    const BtStudyRow *row = g_ptr_array_index(study->rows, i);
    if (!in_time(row, from_ms, before_ms))
      continue;
    if (bt_is_missing(row->total_percent)) {
      scores->without_total++;
      continue;
    }
    scores->trainees += g_strcmp0(before, row->row->trainee) != 0; // rows come by trainee
    before = row->row->trainee;
    scores->row[scores->n] = row;
    scores->score[scores->n] = row->total_percent;
    scores->trainee[scores->n] = scores->trainees - 1;
    scores->was[scores->n++] = former(row);
  }
  return scores;
}

void bt_study_scores_free(BtStudyScores *scores) {
  if (!scores)
    return;
  g_free(scores->row);
  g_free(scores->score);
  g_free(scores->trainee);
  g_free(scores->was);
  g_free(scores);
}

static gint64 latest_of_record_ms(const BtStudy *study) {
  gint64 latest_ms = 0;
  for (guint i = 0; i < study->rows->len; i++) {
    const BtStudyRow *row = g_ptr_array_index(study->rows, i);
    if (row->row->of_record)
      latest_ms = MAX(latest_ms, row->row->started_ms);
  }
  return latest_ms;
}

static double measurement_error(const BtStudy *study, double cut_percent) {
  g_autoptr(BtStudyReliability) found = bt_study_reliability(study, cut_percent, BT_BY_ANOVA);
  return found->sem_percent.why_not ? -1 : found->sem_percent.value;
}

BtStudyEffect *bt_study_effect(const BtStudy *study, double cut_percent, double zone_percent) {
  BtStudyEffect *effect = g_new0(BtStudyEffect, 1);
  effect->to_ms = latest_of_record_ms(study);
  effect->from_ms = effect->to_ms ? effect->to_ms - BT_LAST_YEAR_DAYS * DAY_MS : 0;
  effect->scores = bt_study_scores(study, effect->from_ms, effect->to_ms + 1);
  effect->zone = zone_percent < 0 ? measurement_error(study, cut_percent) : zone_percent;
  const BtStudyScores *scores = effect->scores;
  effect->effect = bt_past_effect(scores->score, scores->was, scores->n, cut_percent, effect->zone);
  effect->pass_rate = bt_pass_rate(scores->score, scores->n, cut_percent);
  return effect;
}

void bt_study_effect_free(BtStudyEffect *effect) {
  if (!effect)
    return;
  bt_study_scores_free(effect->scores);
  bt_past_effect_clear(&effect->effect);
  g_free(effect);
}
