// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/intake.h"

#include <string.h>

#include "log/group.h"
#include "log/id_set.h"
#include "log/wording.h"

#define PROGRESS_BYTES (1024 * 1024)

struct BtIntake {
  const BtLogSink *sink;
  BtFaultList *faults;
  BtGroups groups;
  BtIdSet ids;
  GHashTable *strangers; // "rubric/edition/column": told once that no action has such a detail
  GArray *details;       // of BtDetailValue: room for those of one event
  gint64 records;
  gint64 told_bytes; // at the last progress
  // The record being taken in.
  const BtLogRow *record;
  const BtGroup *group;
};

int bt__column_from_name(const char *name) {
  return bt_word_index(name, bt_log_columns(), BT__COLUMNS);
}

BtIntake *bt__intake_new(const BtLogSink *sink, BtFaultList *faults) {
  BtIntake *intake = g_new0(BtIntake, 1);
  intake->sink = sink;
  intake->faults = faults;
  bt__log_groups_init(&intake->groups);
  intake->strangers = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  intake->details = g_array_new(FALSE, FALSE, sizeof(BtDetailValue));
  return intake;
}

void bt__intake_free(BtIntake *intake) {
  if (!intake)
    return;
  bt__log_groups_clear(&intake->groups);
  bt__id_set_clear(&intake->ids);
  g_hash_table_unref(intake->strangers);
  g_array_unref(intake->details);
  g_free(intake);
}

gint64 bt__intake_records(const BtIntake *intake) {
  return intake->records;
}

void bt__intake_progress(BtIntake *intake, gint64 done_bytes, gint64 all_bytes) {
  bool at_end = done_bytes == all_bytes;
  if (!intake->sink->progress || (done_bytes - intake->told_bytes < PROGRESS_BYTES && !at_end))
    return;
  intake->told_bytes = done_bytes;
  intake->sink->progress(done_bytes, all_bytes, intake->sink->user_data);
}

// Faults ----------------------------------------------------------------------

// A fault of a field of the current record; the field's name stands before `wrong`.
static void add_fault(BtIntake *intake, int field, bool warning, char *wrong, char *expected) {
  const BtLogRow *record = intake->record;
  gint64 line = record->line;
  int column = 0;
  if (bt_fault_list_keeps(intake->faults, warning))
    record->place(record, field, &line, &column);
  const char *name =
      field < BT__COLUMNS ? bt_log_columns()[field] : record->detail_names[field - BT__COLUMNS];
  char *named = g_strdup_printf("%s%s%s", name, *name ? ": " : "", wrong);
  bt_fault_list_add(intake->faults, line, column, warning, named, expected);
  g_free(wrong);
}

static void refuse_text(BtIntake *intake, BtColumn column, const char *what, const char *expected) {
  g_autofree char *quoted = bt_quoted(intake->record->field[column]);
  add_fault(intake, (int)column, false, g_strdup_printf("%s is no %s", quoted, what),
            g_strdup(expected));
}

// Header of an observation ----------------------------------------------------

static bool read_edition(const char *text, int *edition) {
  guint64 number = 0;
  bool read = g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT, &number, NULL);
  *edition = (int)number;
  return read;
}

static bool read_code(BtIntake *intake, BtColumn column) {
  if (bt_code_valid(intake->record->field[column]))
    return true;
  refuse_text(intake, column, "code",
              "expected 1 to 64 letters without accents, digits, '-', '_' and '.'; names of people "
              "stand in the book, not in a log");
  return false;
}

static bool read_header(BtIntake *intake, BtGroup *group) {
  BtHeader *header = &group->header;
  *header = (BtHeader){group->text[BT__SESSION],
                       group->text[BT__TRAINEE],
                       group->text[BT__ASSESSOR],
                       group->text[BT__RUBRIC],
                       0,
                       0,
                       BT_MODE_LIVE};
  bool sound = read_code(intake, BT__SESSION);
  sound &= read_code(intake, BT__TRAINEE);
  sound &= read_code(intake, BT__ASSESSOR);
  sound &= read_code(intake, BT__RUBRIC);
  if (!read_edition(group->text[BT__EDITION], &header->edition)) {
    refuse_text(intake, BT__EDITION, "edition", "expected a whole number from 1");
    sound = false;
  }
  if (!bt_rfc3339_parse(group->text[BT__STARTED], &header->started_ms)) {
    refuse_text(intake, BT__STARTED, "date and time",
                "expected one like 2026-03-04T09:05:00Z or 2026-03-04T10:05:00+01:00");
    sound = false;
  }
  int mode = bt_mode_from_name(group->text[BT__MODE]);
  if (mode < 0) {
    refuse_text(intake, BT__MODE, "mode", "expected live, video or self");
    return false;
  }
  header->mode = (BtMode)mode;
  return sound;
}

static void refuse_rubric(BtIntake *intake, const BtHeader *header) {
  const BtLogSink *sink = intake->sink;
  g_auto(GStrv) ids = sink->rubric_ids ? sink->rubric_ids(sink->user_data) : NULL;
  bool known_id = ids && g_strv_contains((const char *const *)ids, header->rubric);
  char *expected = ids && !known_id ? bt__meant_or_any(header->rubric, (const char *const *)ids,
                                                       g_strv_length(ids))
                                    : NULL;
  add_fault(intake, known_id ? BT__EDITION : BT__RUBRIC, false,
            g_strdup_printf("rubric %s has no edition %d here", header->rubric, header->edition),
            expected ? expected : g_strdup("add it before the sessions that use it"));
}

// Begins an observation with the current record. False with `error`: the sink stopped.
static bool begin_group(BtIntake *intake, BtGroup *group, GError **error) {
  const BtLogSink *sink = intake->sink;
  GError *cause = NULL;
  group->sound = read_header(intake, group);
  if (!group->sound)
    return true;
  group->rubric =
      sink->rubric(group->header.rubric, group->header.edition, sink->user_data, &cause);
  if (cause) {
    g_propagate_error(error, cause);
    return false;
  }
  if (!group->rubric) {
    refuse_rubric(intake, &group->header);
    return true;
  }
  group->observation = sink->observation(&group->header, group->rubric, sink->user_data, &cause);
  if (cause)
    g_propagate_error(error, cause);
  return cause == NULL;
}

// Whether the current record says the same as the first of its group in `column`, if not to the
// letter then in meaning.
static bool agrees(const BtGroup *group, const BtLogRow *record, BtColumn column) {
  const char *text = record->field[column];
  if (strcmp(text, group->text[column]) == 0)
    return true;
  gint64 started_ms = 0;
  int edition = 0;
  if (!group->sound)
    return false;
  if (column == BT__STARTED)
    return bt_rfc3339_parse(text, &started_ms) && started_ms == group->header.started_ms;
  return column == BT__EDITION && read_edition(text, &edition) && edition == group->header.edition;
}

static void check_agreement(BtIntake *intake, const BtGroup *group) {
  static const BtColumn columns[] = {BT__TRAINEE, BT__RUBRIC, BT__EDITION, BT__STARTED};
  for (gsize i = 0; i < G_N_ELEMENTS(columns); i++) {
    BtColumn column = columns[i];
    if (agrees(group, intake->record, column))
      continue;
    g_autofree char *now = bt_quoted(intake->record->field[column]);
    g_autofree char *before = bt_quoted(group->text[column]);
    add_fault(
        intake, (int)column, false,
        g_strdup_printf("two sessions mixed under one id: %s here, %s on line %" G_GINT64_FORMAT
                        ", where session %s begins",
                        now, before, group->line, group->text[BT__SESSION]),
        g_strdup("give each session an id of its own"));
    return;
  }
}

// Events ----------------------------------------------------------------------

static bool rubric_has_detail(const BtRubric *rubric, const char *name) {
  for (int i = 0; i < rubric->n_actions; i++) {
    if (bt_action_find_detail(&rubric->actions[i], name) >= 0)
      return true;
  }
  return false;
}

// Columns of the log, and every detail of the rubric: what a stranger could have been meant for.
static char *column_meant(const BtRubric *rubric, const char *name) {
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (const char *const *column = bt_log_columns(); *column; column++)
    g_ptr_array_add(names, (gpointer)*column);
  for (int i = 0; i < rubric->n_actions; i++) {
    for (int d = 0; d < rubric->actions[i].n_details; d++)
      g_ptr_array_add(names, rubric->actions[i].details[d].name);
  }
  return bt_did_you_mean(name, (const char *const *)names->pdata, names->len,
                         "rename it, or leave it empty");
}

// A filled column that neither the log nor any action of the rubric knows: told once, as it would
// be wrong on every row.
static void refuse_stranger(BtIntake *intake, int detail) {
  const BtRubric *rubric = intake->group->rubric;
  const char *name = intake->record->detail_names[detail];
  if (!g_hash_table_add(intake->strangers,
                        g_strdup_printf("%s/%d/%s", rubric->id, rubric->edition, name)))
    return;
  char *wrong =
      *name ? g_strdup_printf("no column of the log, and no detail in rubric %s", rubric->id)
            : g_strdup("a value in a column without a name");
  add_fault(intake, BT__COLUMNS + detail, false, wrong, column_meant(rubric, name));
}

static void on_field_fault(BtField field, int detail, bool warning, char *wrong, char *expected,
                           gpointer user_data) {
  static const BtColumn columns[] = {
      [BT_FIELD_TIME] = BT__TIME, [BT_FIELD_ACTION] = BT__ACTION, [BT_FIELD_SITE] = BT__SITE,
      [BT_FIELD_ITEM] = BT__ITEM, [BT_FIELD_VALUE] = BT__VALUE,   [BT_FIELD_REDO] = BT__REDO,
      [BT_FIELD_NOTE] = BT__NOTE,
  };
  BtIntake *intake = user_data;
  if (field != BT_FIELD_DETAIL) {
    add_fault(intake, (int)columns[field], warning, wrong, expected);
  } else if (!warning &&
             !rubric_has_detail(intake->group->rubric, intake->record->detail_names[detail])) {
    g_free(wrong);
    g_free(expected);
    refuse_stranger(intake, detail);
  } else {
    add_fault(intake, BT__COLUMNS + detail, warning, wrong, expected);
  }
}

// True when the id, if there is one, is a UUID that stands nowhere else in the file.
static bool check_id(BtIntake *intake) {
  const char *id = intake->record->field[BT__ID];
  guint64 high = 0, low = 0;
  if (!id || !*id)
    return true;
  if (!bt_uuid_parse(id, &high, &low)) {
    refuse_text(
        intake, BT__ID, "event id",
        "expected a UUID in lower case, like 5f0c1e9a-7b52-4d0e-9a43-0c1d2e3f4a5b, or nothing");
    return false;
  }
  gint64 before = bt__id_set_add(&intake->ids, high, low, intake->record->line);
  if (before == 0)
    return true;
  add_fault(intake, BT__ID, false,
            g_strdup_printf("the same id stands on line %" G_GINT64_FORMAT, before),
            g_strdup("every event has an id of its own; leave it empty to get one"));
  return false;
}

static bool add_event(BtIntake *intake, BtGroup *group, GError **error) {
  const BtLogRow *record = intake->record;
  const char *const *field = record->field;
  bool sound = check_id(intake);
  if (!group->rubric)
    return true;
  BtRawEvent raw = {field[BT__TIME],       field[BT__ACTION], field[BT__SITE], field[BT__ITEM],
                    field[BT__VALUE],      field[BT__REDO],   field[BT__NOTE], record->detail_names,
                    record->detail_values, record->n_details};
  if (intake->details->len < (guint)record->n_details)
    g_array_set_size(intake->details, (guint)record->n_details);
  BtEvent event;
  sound &= bt_event_resolve(group->rubric, &raw, group->rows, &event,
                            (BtDetailValue *)(void *)intake->details->data, on_field_fault, intake);
  if (!sound)
    return true;
  const char *id = field[BT__ID] && *field[BT__ID] ? field[BT__ID] : NULL;
  return intake->sink->event(group->observation, &event, id, record->line, intake->sink->user_data,
                             error);
}

static bool has_required(BtIntake *intake) {
  bool complete = true;
  for (int i = 0; i < BT__REQUIRED; i++) {
    const char *text = intake->record->field[i];
    if (text && *text)
      continue;
    add_fault(intake, i, false, g_strdup("empty"), g_strdup("every row needs it"));
    complete = false;
  }
  return complete;
}

bool bt__intake_add(BtIntake *intake, const BtLogRow *record, GError **error) {
  intake->record = record;
  intake->records++;
  if (!has_required(intake))
    return true;
  BtGroup *group = bt__log_groups_find(&intake->groups, record);
  if (!group) {
    group = bt__log_groups_add(&intake->groups, record);
    if (!begin_group(intake, group, error))
      return false;
  } else {
    check_agreement(intake, group);
  }
  intake->group = group;
  group->rows++;
  return add_event(intake, group, error);
}
