// SPDX-License-Identifier: GPL-3.0-or-later
//
// One entry resolved against its rubric: the scoring law, section 10, "On entry".
#include <benchtally/log.h>

#include <string.h>

#include "log/wording.h"

typedef struct {
  const BtRubric *rubric;
  const BtRawEvent *raw;
  BtEvent *event;
  BtDetailValue *details;
  BtFieldFault on_fault;
  gpointer user_data;
  bool refused;
} Entry;

static void report(Entry *entry, BtField field, int detail, bool warning, char *wrong,
                   char *expected) {
  entry->refused |= !warning;
  if (entry->on_fault) {
    entry->on_fault(field, detail, warning, wrong, expected, entry->user_data);
  } else {
    g_free(wrong);
    g_free(expected);
  }
}

static void refuse(Entry *entry, BtField field, char *wrong, char *expected) {
  report(entry, field, -1, false, wrong, expected);
}

static bool filled(const char *text) {
  return text && *text;
}

// An unknown `word` in `field`: refused, with the nearest of the things there are.
static void refuse_unknown(Entry *entry, BtField field, const char *what, const char *word,
                           const void *things, int n, gsize size) {
  g_autofree const char **ids = bt__ids(things, n, size);
  g_autofree char *quoted = bt_quoted(word);
  char *expected = n > 0 ? bt__meant_or_any(word, ids, (gsize)n)
                         : g_strdup_printf("the rubric has no %s at all", what);
  refuse(entry, field, g_strdup_printf("unknown %s %s", what, quoted), expected);
}

// Numbers ---------------------------------------------------------------------

// A number, bare or followed by `unit` (NULL: only bare), with or without a space between.
static bool read_number(const char *text, const char *unit, gint64 *milli) {
  if (bt_decimal_parse(text, milli))
    return true;
  char number[32];
  gsize n = strspn(text, "-.0123456789");
  if (!unit || n >= sizeof number)
    return false;
  memcpy(number, text, n);
  number[n] = '\0';
  const char *rest = text + n + strspn(text + n, " ");
  return strcmp(rest, unit) == 0 && bt_decimal_parse(number, milli);
}

static char *number_wanted(const char *unit) {
  if (!unit)
    return g_strdup("expected a plain number of at most three decimals, with a point");
  return g_strdup_printf("expected a number of at most three decimals, with a point, bare or in %s",
                         unit);
}

// Action and time -------------------------------------------------------------

static void resolve_time(Entry *entry) {
  const char *time = entry->raw->time;
  if (filled(time) && bt_clock_parse(time, &entry->event->at_ms))
    return;
  g_autofree char *quoted = filled(time) ? bt_quoted(time) : NULL;
  refuse(entry, BT_FIELD_TIME,
         quoted ? g_strdup_printf("%s is no time", quoted) : g_strdup("no time"),
         g_strdup("expected a time on the session's clock, like 4:05, 1:04:05 or 245"));
}

static void refuse_action(Entry *entry, const char *action) {
  const BtRubric *rubric = entry->rubric;
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (int i = 0; i < rubric->n_actions; i++)
    g_ptr_array_add(names, rubric->actions[i].id);
  for (int i = BT_EVENT_START; i <= BT_EVENT_NOTE; i++)
    g_ptr_array_add(names, (gpointer)bt_event_kind_name((BtEventKind)i));
  const char *const *words = (const char *const *)names->pdata;
  g_autofree char *quoted = bt_quoted(action);
  refuse(entry, BT_FIELD_ACTION, g_strdup_printf("unknown action %s", quoted),
         bt__meant_or_any(action, words, names->len));
}

// False when what follows could not be judged.
static bool resolve_action(Entry *entry) {
  const char *action = entry->raw->action;
  if (!filled(action)) {
    refuse(entry, BT_FIELD_ACTION, g_strdup("no action"),
           g_strdup("expected an action of the rubric, or start, finish, error ..."));
    return false;
  }
  entry->event->action = bt_rubric_find_action(entry->rubric, action);
  if (entry->event->action >= 0)
    return true;
  entry->event->kind = bt_event_kind_from_name(action);
  if (entry->event->kind != BT_EVENT_WORK)
    return true;
  refuse_action(entry, action);
  return false;
}

// Site ------------------------------------------------------------------------

static bool lists_site(const BtAction *action, int site) {
  for (int i = 0; i < action->n_sites; i++) {
    if (action->sites[i] == site)
      return true;
  }
  return false;
}

static char *sites_of(const BtRubric *rubric, const BtAction *action) {
  if (action->n_sites == 0)
    return g_strdup("the rubric gives it no site");
  GString *out = g_string_new("the rubric has it at ");
  for (int i = 0; i < action->n_sites; i++)
    g_string_append_printf(out, "%s%s", i ? ", " : "", rubric->sites[action->sites[i]].id);
  return g_string_free(out, FALSE);
}

static void check_site_of_work(Entry *entry) {
  const BtAction *action = &entry->rubric->actions[entry->event->action];
  int site = entry->event->site;
  if (site < 0 ? action->n_sites == 0 : lists_site(action, site))
    return;
  char *wrong = site < 0 ? g_strdup_printf("%s without a site", action->id)
                         : g_strdup_printf("%s at \"%s\", where it is not expected", action->id,
                                           entry->rubric->sites[site].id);
  report(entry, BT_FIELD_SITE, -1, true, wrong, sites_of(entry->rubric, action));
}

// An error or a note may say where; of the other built-in actions a site would mean nothing.
static bool takes_site(BtEventKind kind) {
  return kind == BT_EVENT_WORK || kind == BT_EVENT_ERROR || kind == BT_EVENT_NOTE;
}

static void resolve_site(Entry *entry) {
  const char *site = entry->raw->site;
  BtEvent *event = entry->event;
  if (filled(site) && !takes_site(event->kind)) {
    refuse(entry, BT_FIELD_SITE,
           g_strdup_printf("%s takes no site", bt_event_kind_name(event->kind)),
           g_strdup("leave it empty"));
    return;
  }
  if (filled(site)) {
    event->site = bt_rubric_find_site(entry->rubric, site);
    if (event->site < 0) {
      refuse_unknown(entry, BT_FIELD_SITE, "site", site, entry->rubric->sites,
                     entry->rubric->n_sites, sizeof(BtSite));
      return;
    }
  }
  if (event->kind == BT_EVENT_WORK)
    check_site_of_work(entry);
}

// Item ------------------------------------------------------------------------

// The item is the thing at `index` of the n things there are, or is refused (-1).
static bool take_item(Entry *entry, const char *item, int index, const char *what,
                      const void *things, int n, gsize size) {
  entry->event->item = index;
  if (index < 0)
    refuse_unknown(entry, BT_FIELD_ITEM, what, item, things, n, size);
  return index >= 0;
}

static void resolve_inject(Entry *entry, const char *item) {
  const BtRubric *rubric = entry->rubric;
  (void)take_item(entry, item, bt_rubric_find_inject(rubric, item), "inject", rubric->injects,
                  rubric->n_injects, sizeof(BtInject));
}

static void resolve_error(Entry *entry, const char *item) {
  const BtRubric *rubric = entry->rubric;
  int index = bt_rubric_find_error(rubric, item);
  if (take_item(entry, item, index, "error", rubric->errors, rubric->n_errors,
                sizeof(BtErrorKind)) &&
      rubric->errors[index].has_match)
    refuse(entry, BT_FIELD_ITEM,
           g_strdup_printf("error %s is found from the work logged, not entered by hand", item),
           g_strdup("log what was done, and leave this entry out"));
}

static void resolve_measure_item(Entry *entry, const char *item) {
  const BtRubric *rubric = entry->rubric;
  (void)take_item(entry, item, bt_rubric_find_measure(rubric, item), "measure", rubric->measures,
                  rubric->n_measures, sizeof(BtMeasure));
}

static void resolve_rating_item(Entry *entry, const char *item) {
  const BtRubric *rubric = entry->rubric;
  (void)take_item(entry, item, bt_rubric_find_rating(rubric, item), "rating", rubric->ratings,
                  rubric->n_ratings, sizeof(BtRating));
}

static void refuse_unseen(Entry *entry, const char *item) {
  const BtRubric *rubric = entry->rubric;
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (int i = 0; i < rubric->n_checkpoints; i++)
    g_ptr_array_add(names, rubric->checkpoints[i].id);
  for (int i = 0; i < BT_COMPONENTS; i++)
    g_ptr_array_add(names, (gpointer)bt_component_name((BtComponent)i));
  const char *const *words = (const char *const *)names->pdata;
  g_autofree char *quoted = bt_quoted(item);
  refuse(entry, BT_FIELD_ITEM,
         g_strdup_printf("%s is neither a checkpoint nor a component", quoted),
         bt__meant_or_any(item, words, names->len));
}

static void resolve_unseen(Entry *entry, const char *item) {
  entry->event->item = bt_rubric_find_checkpoint(entry->rubric, item);
  if (entry->event->item < 0)
    entry->event->component = bt_component_from_name(item);
  if (entry->event->item < 0 && entry->event->component < 0)
    refuse_unseen(entry, item);
}

typedef struct {
  void (*resolve)(Entry *entry, const char *item); // NULL: the kind takes no item
  const char *names;                               // what its item names
} ItemRule;

static const ItemRule item_rules[] = {
    [BT_EVENT_INJECT] = {resolve_inject, "an inject"},
    [BT_EVENT_ERROR] = {resolve_error, "an error"},
    [BT_EVENT_RATE] = {resolve_rating_item, "a rating"},
    [BT_EVENT_MEASURE] = {resolve_measure_item, "a measure"},
    [BT_EVENT_UNSEEN] = {resolve_unseen, "a checkpoint or a component"},
    [BT_EVENT_NOTE] = {NULL, NULL},
};

static void resolve_item(Entry *entry) {
  const char *item = entry->raw->item;
  const ItemRule *rule = &item_rules[entry->event->kind];
  if (rule->resolve && filled(item)) {
    rule->resolve(entry, item);
  } else if (rule->resolve) {
    refuse(entry, BT_FIELD_ITEM, g_strdup_printf("%s without an item", entry->raw->action),
           g_strdup_printf("expected the id of %s", rule->names));
  } else if (filled(item)) {
    refuse(entry, BT_FIELD_ITEM, g_strdup_printf("%s takes no item", entry->raw->action),
           g_strdup("leave it empty"));
  }
}

// Value -----------------------------------------------------------------------

static void resolve_measured_value(Entry *entry, const char *value) {
  if (entry->event->item < 0)
    return;
  const BtMeasure *measure = &entry->rubric->measures[entry->event->item];
  if (read_number(value, measure->unit, &entry->event->value_milli))
    return;
  g_autofree char *quoted = bt_quoted(value);
  refuse(entry, BT_FIELD_VALUE, g_strdup_printf("%s is no value of %s", quoted, measure->id),
         number_wanted(measure->unit));
}

static void resolve_rated_value(Entry *entry, const char *value) {
  if (entry->event->item < 0)
    return;
  const BtRating *rating = &entry->rubric->ratings[entry->event->item];
  gint64 milli = 0;
  if (bt_decimal_parse(value, &milli) && milli % 1000 == 0 && milli >= 1000 &&
      milli <= (gint64)rating->n * 1000) {
    entry->event->value_milli = milli;
    return;
  }
  g_autofree char *quoted = bt_quoted(value);
  refuse(entry, BT_FIELD_VALUE, g_strdup_printf("%s is off the scale of %s", quoted, rating->id),
         g_strdup_printf("expected a whole number from 1 to %d", rating->n));
}

static void resolve_value(Entry *entry) {
  const char *value = entry->raw->value;
  BtEventKind kind = entry->event->kind;
  bool takes_value = kind == BT_EVENT_MEASURE || kind == BT_EVENT_RATE;
  if (!takes_value && filled(value)) {
    refuse(entry, BT_FIELD_VALUE, g_strdup_printf("%s takes no value", entry->raw->action),
           g_strdup("leave it empty; what was done in detail has columns of its own"));
  } else if (takes_value && !filled(value)) {
    refuse(entry, BT_FIELD_VALUE, g_strdup_printf("%s without a value", entry->raw->action),
           g_strdup(kind == BT_EVENT_RATE ? "expected a whole number on the rating's scale"
                                          : "expected a number in the measure's unit"));
  } else if (kind == BT_EVENT_MEASURE) {
    resolve_measured_value(entry, value);
  } else if (kind == BT_EVENT_RATE) {
    resolve_rated_value(entry, value);
  }
}

// Redo ------------------------------------------------------------------------

static void resolve_redo(Entry *entry) {
  const char *redo = entry->raw->redo;
  BtEvent *event = entry->event;
  if (!filled(redo))
    return;
  if (event->kind != BT_EVENT_WORK) {
    refuse(entry, BT_FIELD_REDO, g_strdup_printf("%s cannot be a redo", entry->raw->action),
           g_strdup("leave it empty; only work is redone"));
    return;
  }
  guint64 number = 0;
  if (strcmp(redo, "yes") == 0) {
    event->redo = BT_REDO_YES;
  } else if (g_ascii_string_to_unsigned(redo, 10, 1, G_MAXINT, &number, NULL) &&
             (int)number < event->seq) {
    event->redo = (int)number;
  } else {
    g_autofree char *quoted = bt_quoted(redo);
    refuse(entry, BT_FIELD_REDO,
           g_strdup_printf(number ? "%s is no earlier row" : "%s is no redo mark", quoted),
           g_strdup_printf("this is row %d of its observation; expected nothing, yes, or the "
                           "number of an earlier row",
                           event->seq));
  }
}

// Details ---------------------------------------------------------------------

static void refuse_detail(Entry *entry, int i, const char *action_id, const BtAction *action) {
  const char *name = entry->raw->detail_names[i];
  g_autofree char *quoted = bt_quoted(name);
  char *wrong = g_strdup_printf("%s has no detail %s", action_id, quoted);
  if (!action || action->n_details == 0) {
    report(entry, BT_FIELD_DETAIL, i, false, wrong, g_strdup("it has no details; leave it empty"));
    return;
  }
  g_autofree const char **names =
      bt__ids(action->details, action->n_details, sizeof *action->details);
  report(entry, BT_FIELD_DETAIL, i, false, wrong,
         bt__meant_or_any(name, names, (gsize)action->n_details));
}

static void warn_outside_range(Entry *entry, int i, const BtDetail *detail, const char *text) {
  g_autofree char *range = bt_range_format(&detail->range);
  g_autofree char *quoted = bt_quoted(text);
  report(entry, BT_FIELD_DETAIL, i, true,
         g_strdup_printf("%s is outside the range of %s", quoted, detail->name),
         g_strdup_printf("the rubric gives %s%s%s", range, detail->unit ? " " : "",
                         detail->unit ? detail->unit : ""));
}

static bool resolve_number_detail(Entry *entry, int i, const BtDetail *detail, const char *text,
                                  BtDetailValue *value) {
  bool whole = detail->kind == BT_DETAIL_WHOLE;
  if (!read_number(text, whole ? NULL : detail->unit, &value->milli) ||
      (whole && value->milli % 1000 != 0)) {
    g_autofree char *quoted = bt_quoted(text);
    report(entry, BT_FIELD_DETAIL, i, false,
           g_strdup_printf("%s is no value of %s", quoted, detail->name),
           whole ? g_strdup("expected a whole number") : number_wanted(detail->unit));
    return false;
  }
  if (!bt_range_holds(&detail->range, value->milli))
    warn_outside_range(entry, i, detail, text);
  return true;
}

static void resolve_word_detail(Entry *entry, int i, const BtDetail *detail, const char *text,
                                BtDetailValue *value) {
  value->text = text;
  const char *const *words = (const char *const *)detail->words;
  value->word = bt_word_index(text, words, (gsize)detail->n_words);
  if (value->word >= 0)
    return;
  g_autofree char *quoted = bt_quoted(text);
  report(entry, BT_FIELD_DETAIL, i, true,
         g_strdup_printf("%s is not among the words of %s", quoted, detail->name),
         bt__meant_or_any(text, words, (gsize)detail->n_words));
}

static void resolve_details(Entry *entry) {
  const BtRawEvent *raw = entry->raw;
  BtEvent *event = entry->event;
  const BtAction *action = event->action >= 0 ? &entry->rubric->actions[event->action] : NULL;
  for (int i = 0; i < raw->n_details; i++) {
    const char *text = raw->detail_values[i];
    if (!filled(text))
      continue;
    int index = action ? bt_action_find_detail(action, raw->detail_names[i]) : -1;
    if (index < 0) {
      refuse_detail(entry, i, raw->action, action);
      continue;
    }
    BtDetailValue *value = &entry->details[event->n_details];
    *value = (BtDetailValue){.detail = index, .word = -1};
    if (action->details[index].kind == BT_DETAIL_WORD)
      resolve_word_detail(entry, i, &action->details[index], text, value);
    else if (!resolve_number_detail(entry, i, &action->details[index], text, value))
      continue;
    event->n_details++;
  }
}

bool bt_event_resolve(const BtRubric *rubric, const BtRawEvent *raw, int seq, BtEvent *event,
                      BtDetailValue *details, BtFieldFault on_fault, gpointer user_data) {
  Entry entry = {rubric, raw, event, details, on_fault, user_data, false};
  *event = (BtEvent){.seq = seq,
                     .kind = BT_EVENT_WORK,
                     .action = -1,
                     .site = -1,
                     .item = -1,
                     .component = -1,
                     .redo = BT_REDO_NO,
                     .details = details,
                     .note = filled(raw->note) ? raw->note : NULL};
  resolve_time(&entry);
  if (!resolve_action(&entry))
    return false;
  resolve_site(&entry);
  resolve_item(&entry);
  resolve_value(&entry);
  resolve_redo(&entry);
  resolve_details(&entry);
  return !entry.refused;
}
