// SPDX-License-Identifier: GPL-3.0-or-later
//
// What an assessor logs of what happened: a little late, not quite everything, with a hand of their
// own in the ratings.
#include "simulator/simulate.h"

#include <math.h>
#include <string.h>

typedef struct {
  const BtRubric *rubric;
  const Assessor *assessor;
  const BtHeader *header;
  const GPtrArray *details;
  Random *random;
  GString *csv;
  gint64 last_ms;
} Observer;

static const char *item_id(const BtRubric *rubric, const Deed *deed) {
  switch (deed->kind) {
  case BT_EVENT_INJECT:
    return rubric->injects[deed->item].id;
  case BT_EVENT_ERROR:
    return rubric->errors[deed->item].id;
  case BT_EVENT_MEASURE:
    return rubric->measures[deed->item].id;
  case BT_EVENT_RATE:
    return rubric->ratings[deed->item].id;
  default:
    return "";
  }
}

// A gap is read off a feeler gauge to a tenth.
static char *measured(const Observer *observer, const Deed *deed) {
  const BtMeasure *measure = &observer->rubric->measures[deed->item];
  double span = fabs((double)(measure->poor_milli - measure->good_milli)) / 1000;
  double value = deed->value + 0.05 * span * random_normal(observer->random);
  gint64 tenths = (gint64)floor(MAX(value, 0.0) * 10 + 0.5);
  return bt_decimal_format(tenths * 100);
}

static char *rated(const Observer *observer, const Deed *deed) {
  const BtRating *rating = &observer->rubric->ratings[deed->item];
  double value = 1 + deed->value * (rating->n - 1) - observer->assessor->severity +
                 0.35 * random_normal(observer->random);
  return g_strdup_printf("%d", (int)CLAMP(floor(value + 0.5), 1, rating->n));
}

static const char *detail_value(const Observer *observer, const Deed *deed, const char *column) {
  if (deed->kind != BT_EVENT_WORK)
    return "";
  int d = bt_action_find_detail(&observer->rubric->actions[deed->action], column);
  return d >= 0 && d < (int)G_N_ELEMENTS(deed->details) && deed->details[d] ? deed->details[d] : "";
}

static void append_row(Observer *observer, const Deed *deed, gint64 at_ms) {
  const BtHeader *header = observer->header;
  const BtRubric *rubric = observer->rubric;
  g_autofree char *started = bt_rfc3339_format(header->started_ms);
  g_autofree char *time = bt_clock_format_exact(at_ms);
  g_autofree char *value = deed->kind == BT_EVENT_MEASURE ? measured(observer, deed)
                           : deed->kind == BT_EVENT_RATE  ? rated(observer, deed)
                                                          : g_strdup("");
  g_string_append_printf(observer->csv, "%s,%s,%s,%s,%d,%s,%s,%s,%s,%s,%s,%s,%s,", header->session,
                         header->trainee, header->assessor, header->rubric, header->edition,
                         started, bt_mode_name(header->mode), time,
                         deed->kind == BT_EVENT_WORK ? rubric->actions[deed->action].id
                                                     : bt_event_kind_name(deed->kind),
                         deed->site >= 0 ? rubric->sites[deed->site].id : "", item_id(rubric, deed),
                         value, deed->redo ? "yes" : "");
  for (guint i = 0; i < observer->details->len; i++)
    g_string_append_printf(observer->csv, ",%s",
                           detail_value(observer, deed, observer->details->pdata[i]));
  g_string_append_c(observer->csv, '\n');
}

static bool notices(const Observer *observer, const Deed *deed) {
  switch (deed->kind) {
  case BT_EVENT_WORK:
    return random_chance(observer->random, observer->assessor->attention);
  case BT_EVENT_ERROR:
    // A dove lets a slip pass.
    return random_chance(observer->random,
                         CLAMP(0.88 + 0.12 * observer->assessor->severity, 0.5, 1.0));
  default:
    return true;
  }
}

void observe(const BtRubric *rubric, const GArray *deeds, const Assessor *assessor,
             const BtHeader *header, const GPtrArray *details, Random *random, GString *csv) {
  Observer observer = {rubric, assessor, header, details, random, csv, 0};
  for (guint i = 0; i < deeds->len; i++) {
    const Deed *deed = &g_array_index(deeds, Deed, i);
    if (!notices(&observer, deed))
      continue;
    gint64 late_ms = deed->kind == BT_EVENT_START ? 0 : 100 * random_below(random, 25);
    observer.last_ms = MAX(observer.last_ms, deed->at_ms + late_ms);
    append_row(&observer, deed, observer.last_ms);
  }
}
