// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/proportion.h>
#include <benchtally/standard.h>

#include <string.h>

const char *bt_standard_method_name(const char *id) {
  static const struct {
    const char *id, *name;
  } methods[] = {{"angoff", "Angoff"},
                 {"ebel", "Ebel"},
                 {"contrasting", "contrasting groups"},
                 {"borderline", "borderline regression"},
                 {"hofstee", "Hofstee"}};
  for (gsize i = 0; i < G_N_ELEMENTS(methods); i++) {
    if (strcmp(methods[i].id, id) == 0)
      return methods[i].name;
  }
  return id;
}

BtEstimate bt_pass_rate(const double *score, gsize n, double cut) {
  gsize given = 0, pass = 0;
  for (gsize i = 0; i < n; i++) {
    given += !bt_is_missing(score[i]);
    pass += !bt_is_missing(score[i]) && score[i] >= cut;
  }
  return bt_proportion_wilson(pass, given);
}

static void count(BtPastEffect *effect, BtFormer was, bool reaches) {
  effect->decided++;
  effect->stays_pass += was == BT_WAS_PASS && reaches;
  effect->to_not_yet += was == BT_WAS_PASS && !reaches;
  effect->to_pass += was == BT_WAS_NOT_YET && reaches;
  effect->stays_not_yet += was == BT_WAS_HELD || (was == BT_WAS_NOT_YET && !reaches);
  effect->held += was == BT_WAS_HELD && reaches;
}

BtPastEffect bt_past_effect(const double *score, const BtFormer *was, gsize n, double cut,
                            double zone) {
  BtPastEffect effect = {.doubtful = g_array_new(FALSE, FALSE, sizeof(gsize))};
  for (gsize i = 0; i < n; i++) {
    if (was[i] == BT_WAS_UNDECIDED || bt_is_missing(score[i])) {
      effect.left_out++;
      continue;
    }
    count(&effect, was[i], score[i] >= cut);
    if (fabs(score[i] - cut) <= zone)
      g_array_append_val(effect.doubtful, i);
  }
  return effect;
}

void bt_past_effect_clear(BtPastEffect *effect) {
  g_clear_pointer(&effect->doubtful, g_array_unref);
}
