// SPDX-License-Identifier: GPL-3.0-or-later
//
// What a pass mark would do, told.
#include <math.h>

#include "cli/figure.h"
#include "cli/standard.h"

#define NAMED_MOST 20

void standard_effect_clear(StandardEffect *effect) {
  bt_past_effect_clear(&effect->past);
  for (gsize i = 0; i < effect->n; i++)
    g_free(effect->name[i]);
  g_free(effect->name);
  g_free(effect->score);
}

static StandardEffect effect_new(double cut, gsize n) {
  return (StandardEffect){
      .cut = cut, .n = n, .name = g_new0(char *, n + 1), .score = g_new(double, n + 1)};
}

StandardEffect standard_effect_of_study(const BtStudy *study, double cut, double sem) {
  g_autoptr(BtStudyEffect) found = bt_study_effect(study, cut, bt_is_missing(sem) ? -1 : sem);
  const BtStudyScores *scores = found->scores;
  StandardEffect effect = effect_new(cut, scores->n);
  for (gsize i = 0; i < scores->n; i++) {
    const BtSessionRow *row = scores->row[i]->row;
    effect.name[i] = g_strdup_printf("%s in %s", row->trainee, row->session);
    effect.score[i] = scores->score[i];
  }
  effect.zone = found->zone;
  effect.zone_is = bt_is_missing(sem) ? "one standard error of measurement" : "as given";
  effect.pass_rate = found->pass_rate;
  effect.past = found->effect;
  found->effect.doubtful = NULL; // taken over
  effect.decided = true;
  effect.from_ms = found->from_ms;
  effect.to_ms = found->to_ms;
  return effect;
}

StandardEffect standard_effect_of_scores(const StandardScores *scores, const BtEstimate *cut,
                                         double sem) {
  StandardEffect effect = effect_new(cut->value, scores->n);
  for (gsize i = 0; i < scores->n; i++) {
    effect.name[i] = g_strdup(scores->name[i]);
    effect.score[i] = scores->score[i];
  }
  bool given = !bt_is_missing(sem);
  effect.zone = given ? sem : cut->has_se ? cut->se : -1;
  effect.zone_is = given ? "as given" : "one standard error of the mark";
  effect.pass_rate = bt_pass_rate(scores->score, scores->n, cut->value);
  effect.decided = scores->decided;
  effect.past = bt_past_effect(scores->score, scores->was, scores->n, cut->value, effect.zone);
  return effect;
}

static void put_decisions(GString *out, const StandardEffect *effect) {
  const BtPastEffect *past = &effect->past;
  if (!effect->decided) {
    cli_put_paragraph(out, 2,
                      "What was decided by these scores is not known; a column \"outcome\" (pass, "
                      "not yet, undecided) would tell.");
    return;
  }
  g_autofree char *from = bt_date_format(effect->from_ms), *to = bt_date_format(effect->to_ms);
  g_autofree char *when =
      effect->to_ms ? g_strdup_printf(" of sessions from %s to %s", from, to) : g_strdup("");
  g_autofree char *decided = bt_count_of((gint64)past->decided, "decision", NULL);
  g_autofree char *passes = past->to_not_yet
                                ? bt_count_of((gint64)past->to_not_yet, "pass", "passes")
                                : g_strdup("no pass");
  g_autofree char *not_yets =
      past->to_pass ? g_strdup_printf("%" G_GSIZE_FORMAT, past->to_pass) : g_strdup("no");
  cli_put_paragraph(out, 2,
                    "Of %s%s, %s would have been not yet and %s "
                    "not yet would have been a pass; %" G_GSIZE_FORMAT
                    " stay as they were (%" G_GSIZE_FORMAT " pass, %" G_GSIZE_FORMAT " not yet).",
                    decided, when, passes, not_yets, past->stays_pass + past->stays_not_yet,
                    past->stays_pass, past->stays_not_yet);
  if (past->held)
    cli_put_paragraph(out, 2,
                      "At or above the mark and not yet all the same, for a critical failure or a "
                      "floor: %" G_GSIZE_FORMAT ".",
                      past->held);
  if (past->left_out)
    cli_put_paragraph(out, 2, "Undecided, and not counted: %" G_GSIZE_FORMAT ".", past->left_out);
}

static void put_doubtful(GString *out, const StandardEffect *effect) {
  if (effect->zone < 0) {
    cli_put_paragraph(out, 2,
                      "How near to the mark is doubtful is not known: the standard error of "
                      "measurement is not estimable here; --sem gives one.");
    return;
  }
  const GArray *doubtful = effect->past.doubtful;
  g_autoptr(GString) names = g_string_new(NULL);
  for (guint i = 0; i < doubtful->len && i < NAMED_MOST; i++) {
    gsize place = g_array_index(doubtful, gsize, i);
    g_autofree char *score = cli_percent_text(effect->score[place]);
    g_string_append_printf(names, "%s%s (%s %%)", i ? ", " : ": ", effect->name[place], score);
  }
  cli_put_paragraph(out, 2, "Within %.1f %% of the mark (%s): %u%s%s.", effect->zone,
                    effect->zone_is, doubtful->len, names->str,
                    doubtful->len > NAMED_MOST ? " and others" : "");
}

void standard_put_effect(GString *out, const StandardEffect *effect) {
  g_string_append_printf(out, "\nWhat a mark of %.1f %% would do\n", effect->cut);
  cli_put_figure_row(out, "share at or above", STANDARD_WIDTH, &effect->pass_rate, 2);
  put_decisions(out, effect);
  put_doubtful(out, effect);
}

static json_t *doubtful_json(const StandardEffect *effect) {
  json_t *list = json_array();
  for (guint i = 0; i < effect->past.doubtful->len; i++) {
    gsize place = g_array_index(effect->past.doubtful, gsize, i);
    json_array_append_new(list, json_pack("{s:s, s:f, s:f}", "who", effect->name[place], "score",
                                          effect->score[place], "away",
                                          effect->score[place] - effect->cut));
  }
  return list;
}

json_t *standard_json_effect(const StandardEffect *effect) {
  const BtPastEffect *past = &effect->past;
  json_t *object = json_pack("{s:f}", "cut", effect->cut);
  json_object_set_new(
      object, "pass_rate",
      cli_json_figure("share at or above the mark (Wilson 1927)", &effect->pass_rate));
  json_object_set_new(object, "zone", effect->zone < 0 ? json_null() : json_real(effect->zone));
  json_object_set_new(object, "zone_is", json_string(effect->zone_is));
  json_object_set_new(object, "doubtful", doubtful_json(effect));
  if (effect->to_ms) {
    g_autofree char *from = bt_rfc3339_format(effect->from_ms),
                    *to = bt_rfc3339_format(effect->to_ms);
    json_object_set_new(object, "from", json_string(from));
    json_object_set_new(object, "to", json_string(to));
  }
  json_object_set_new(
      object, "decisions",
      !effect->decided
          ? json_null()
          : json_pack("{s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "decided", (json_int_t)past->decided,
                      "stays_pass", (json_int_t)past->stays_pass, "stays_not_yet",
                      (json_int_t)past->stays_not_yet, "to_pass", (json_int_t)past->to_pass,
                      "to_not_yet", (json_int_t)past->to_not_yet, "held", (json_int_t)past->held,
                      "left_out", (json_int_t)past->left_out));
  return object;
}
