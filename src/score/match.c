// SPDX-License-Identifier: GPL-3.0-or-later
//
// What an event of work matches (section 4) and whether it conforms (section 5).
#include "score/score_parts.h"

#include <string.h>

const BtDetailValue *bt__logged(const BtEvent *event, int detail) {
  for (int i = 0; i < event->n_details; i++) {
    if (event->details[i].detail == detail)
      return &event->details[i];
  }
  return NULL;
}

static bool holds_index(const int *list, int n, int index) {
  for (int i = 0; i < n; i++) {
    if (list[i] == index)
      return true;
  }
  return false;
}

static bool is_allowed(const BtAllowed *allowed, const BtDetailValue *value) {
  for (int i = 0; i < allowed->n_ranges; i++) {
    if (bt_range_holds(&allowed->ranges[i], value->milli))
      return true;
  }
  return holds_index(allowed->words, allowed->n_words, value->word);
}

bool bt__matches(const BtMatch *match, const BtEvent *event) {
  if (match->action != event->action)
    return false;
  if (match->n_sites > 0 && !holds_index(match->sites, match->n_sites, event->site))
    return false;
  for (int i = 0; i < match->n_details; i++) {
    const BtDetailValue *value = bt__logged(event, match->details[i].detail);
    if (!value || !is_allowed(&match->details[i], value))
      return false;
  }
  return true;
}

// Measured and whole values agree when the number is the same, words when the text is.
static bool same_value(const BtDetail *detail, const BtDetailValue *a, const BtDetailValue *b) {
  if (detail->kind != BT_DETAIL_WORD)
    return a->milli == b->milli;
  return a->word == b->word && (a->word >= 0 || g_strcmp0(a->text, b->text) == 0);
}

bool bt__not_told_apart(const BtAction *action, const BtEvent *a, const BtEvent *b) {
  for (int i = 0; i < action->n_details; i++) {
    if (!action->details[i].tells_apart)
      continue;
    const BtDetailValue *in_a = bt__logged(a, i), *in_b = bt__logged(b, i);
    if (in_a && in_b && !same_value(&action->details[i], in_a, in_b))
      return false;
  }
  return true;
}

BtState bt__state_for(const BtCheckpoint *checkpoint, const BtEvent *event) {
  BtState state = {.conforms = true};
  for (int i = 0; i < checkpoint->n_expect; i++) {
    const BtDetailValue *value = bt__logged(event, checkpoint->expect[i].detail);
    if (value) {
      state.conforms = state.conforms && is_allowed(&checkpoint->expect[i], value);
    } else if (checkpoint->verify_required) {
      state.conforms = false;
    } else {
      state.not_verified = true;
    }
  }
  return state;
}

// Candidates by action: those of action a are list[start[a]] .. list[start[a + 1] - 1].
typedef struct {
  int *start, *list;
} ByAction;

static ByAction by_action_new(BtScoring *s, int n) {
  return (ByAction){bt__arena_new(&s->arena, int, s->rubric->n_actions + 2),
                    bt__arena_new(&s->arena, int, n)};
}

// Counting sort. Start counts two places up, so that filling leaves start[a] where it belongs.
static void add_up(ByAction *by, int n_actions) {
  for (int a = 1; a <= n_actions; a++)
    by->start[a + 1] += by->start[a];
}

static ByAction checkpoints_by_action(BtScoring *s) {
  const BtRubric *rubric = s->rubric;
  ByAction by = by_action_new(s, rubric->n_checkpoints);
  for (int c = 0; c < rubric->n_checkpoints; c++)
    by.start[rubric->checkpoints[c].match.action + 2]++;
  add_up(&by, rubric->n_actions);
  for (int c = 0; c < rubric->n_checkpoints; c++)
    by.list[by.start[rubric->checkpoints[c].match.action + 1]++] = c;
  return by;
}

static ByAction kinds_by_action(BtScoring *s) {
  const BtRubric *rubric = s->rubric;
  ByAction by = by_action_new(s, rubric->n_errors);
  for (int k = 0; k < rubric->n_errors; k++) {
    if (rubric->errors[k].has_match)
      by.start[rubric->errors[k].match.action + 2]++;
  }
  add_up(&by, rubric->n_actions);
  for (int k = 0; k < rubric->n_errors; k++) {
    if (rubric->errors[k].has_match)
      by.list[by.start[rubric->errors[k].match.action + 1]++] = k;
  }
  return by;
}

static void match_checkpoints(BtScoring *s, BtWork *work, const ByAction *by, int *found) {
  int a = work->event->action;
  for (int i = by->start[a]; i < by->start[a + 1]; i++) {
    int c = by->list[i];
    if (bt__matches(&s->rubric->checkpoints[c].match, work->event)) {
      found[work->n_matches++] = c;
      s->matched[c]++;
    }
  }
  work->matches = bt__arena_new(&s->arena, int, work->n_matches);
  memcpy((int *)work->matches, found, sizeof *found * (gsize)work->n_matches);
}

static void match_kinds(BtScoring *s, BtWork *work, const ByAction *by, int *found) {
  int a = work->event->action;
  for (int i = by->start[a]; i < by->start[a + 1]; i++) {
    int k = by->list[i];
    if (bt__matches(&s->rubric->errors[k].match, work->event))
      found[work->n_kinds++] = k;
  }
  work->kinds = bt__arena_new(&s->arena, int, work->n_kinds);
  memcpy((int *)work->kinds, found, sizeof *found * (gsize)work->n_kinds);
}

// Numbers the places (action and site) in order of appearance.
static void number_places(BtScoring *s) {
  int n_sites = s->rubric->n_sites + 1;
  int *number = bt__arena_new(&s->arena, int, s->rubric->n_actions *n_sites);
  for (int w = 0; w < s->n_work; w++) {
    const BtEvent *event = s->work[w].event;
    int *known = &number[event->action * n_sites + event->site + 1];
    if (*known == 0)
      *known = ++s->n_places;
    s->work[w].place = *known - 1;
  }
}

static int compare_seq(gconstpointer a, gconstpointer b, gpointer work) {
  const BtWork *all = work;
  return all[*(const int *)a].event->seq - all[*(const int *)b].event->seq;
}

static void index_by_seq(BtScoring *s) {
  bool named = false;
  for (int w = 0; w < s->n_work; w++)
    named = named || s->work[w].event->redo > 0;
  if (!named)
    return;
  s->work_by_seq = bt__arena_new(&s->arena, int, s->n_work);
  for (int w = 0; w < s->n_work; w++)
    s->work_by_seq[w] = w;
  g_qsort_with_data(s->work_by_seq, s->n_work, sizeof(int), compare_seq, s->work);
}

int bt__find_work(const BtScoring *s, int seq) {
  int low = 0, high = s->n_work;
  while (low < high) {
    int middle = low + (high - low) / 2;
    if (s->work[s->work_by_seq[middle]].event->seq < seq)
      low = middle + 1;
    else
      high = middle;
  }
  bool found = low < s->n_work && s->work[s->work_by_seq[low]].event->seq == seq;
  return found ? s->work_by_seq[low] : -1;
}

void bt__match_work(BtScoring *s) {
  const BtRubric *rubric = s->rubric;
  s->matched = bt__arena_new(&s->arena, int, rubric->n_checkpoints);
  int *found = bt__arena_new(&s->arena, int, MAX(rubric->n_checkpoints, rubric->n_errors));
  ByAction checkpoints = checkpoints_by_action(s), kinds = kinds_by_action(s);
  for (int w = 0; w < s->n_work; w++) {
    match_checkpoints(s, &s->work[w], &checkpoints, found);
    match_kinds(s, &s->work[w], &kinds, found);
  }
  number_places(s);
  index_by_seq(s);
}
