// SPDX-License-Identifier: GPL-3.0-or-later
#include <string.h>

#include "cli/cli.h"

static const char *const kind_words[] = {"opened", "logged", "struck", "amended", "closed"};

static void append_words(GString *words, const char *text) {
  if (text && *text)
    g_string_append_printf(words, "%s%s", words->len ? ", " : "", text);
}

// "length 16 mm, use lag", "plunge", "3", "note" ... all that an event holds beyond action and
// site.
static char *what_text(const BtRecord *record) {
  GString *words = g_string_new(NULL);
  append_words(words, record->item);
  append_words(words, record->value);
  append_words(words, record->details);
  if (record->redo && *record->redo) {
    g_autofree char *redo = strcmp(record->redo, "yes") == 0
                                ? g_strdup("redo")
                                : g_strdup_printf("redo of %s", record->redo);
    append_words(words, redo);
  }
  if (record->note && *record->note)
    g_string_append_printf(words, "%s\"%s\"", words->len ? " " : "", record->note);
  return g_string_free(words, FALSE);
}

// Log order, as the engine reads it: by time, then by number.
static int compare_records(gconstpointer a, gconstpointer b) {
  const BtRecord *first = *(const BtRecord *const *)a, *second = *(const BtRecord *const *)b;
  gint64 first_ms = 0, second_ms = 0;
  bool timed = bt_clock_parse(first->time, &first_ms) && bt_clock_parse(second->time, &second_ms);
  if (timed && first_ms != second_ms)
    return first_ms < second_ms ? -1 : 1;
  return (first->seq > second->seq) - (first->seq < second->seq);
}

// Keeps what counts now, in log order.
static void keep_effective(GPtrArray *records) {
  for (guint i = records->len; i-- > 0;) {
    if (!((BtRecord *)records->pdata[i])->effective)
      g_ptr_array_remove_index(records, i);
  }
  g_ptr_array_sort(records, compare_records);
}

static void append_effective(GString *out, const GPtrArray *records) {
  static const char *const heads[] = {">event", ">time", "action", "site", "what", NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint i = 0; i < records->len; i++) {
    const BtRecord *record = records->pdata[i];
    g_autofree char *event = g_strdup_printf("%d", record->seq);
    g_autofree char *what = what_text(record);
    g_ptr_array_add(rows, cli_row(5, event, record->time, record->action, record->site, what));
  }
  cli_table(out, heads, rows, cli_bold());
}

// "amended", or "logged, corrected later" where a later record took its place.
static char *kind_text(const BtRecord *record) {
  bool an_event = record->kind == BT_RECORD_EVENT || record->kind == BT_RECORD_AMEND;
  return g_strconcat(kind_words[record->kind],
                     an_event && !record->effective ? ", corrected later" : "", NULL);
}

static void append_history(GString *out, const GPtrArray *records) {
  static const char *const heads[] = {">record", "written", "by",   "",     ">event",
                                      ">time",   "action",  "site", "what", NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint i = 0; i < records->len; i++) {
    const BtRecord *record = records->pdata[i];
    g_autofree char *number = g_strdup_printf("%d", record->number);
    g_autofree char *written = bt_rfc3339_format(record->wall_ms - record->wall_ms % 1000);
    g_autofree char *kind = kind_text(record);
    g_autofree char *event = record->seq > 0 ? g_strdup_printf("%d", record->seq) : g_strdup("");
    g_autofree char *held = what_text(record);
    g_autofree char *what =
        record->reason ? g_strdup_printf("%s%sreason: %s", held, *held ? "; " : "", record->reason)
                       : g_strdup(held);
    g_ptr_array_add(rows, cli_row(9, number, written, record->by, kind, event, record->time,
                                  record->action, record->site, what));
  }
  cli_table(out, heads, rows, cli_bold());
}

static void append_head(GString *out, const BtSessionRow *row) {
  g_autofree char *date = bt_date_format(row->started_ms);
  g_string_append_printf(out, "Session %s: %s, %s edition %d, %s, observed by %s (%s)%s\n\n",
                         row->session, row->trainee, row->rubric, row->edition, date, row->assessor,
                         bt_mode_name(row->mode), row->closed ? "" : ", still open");
}

static json_t *record_json(const BtRecord *record) {
  g_autofree char *written = bt_rfc3339_format(record->wall_ms);
  return json_pack("{sb si si ss ss ss? ss? ss? ss? ss? ss? ss? ss? ss? ss? ss? ss}", //
                   "effective", record->effective, "event", record->seq, "record", record->number,
                   "kind", kind_words[record->kind], "written", written, "by", record->by, "source",
                   record->source, "time", record->time, "action", record->action, "site",
                   record->site, "item", record->item, "value", record->value, "details",
                   record->details, "redo", record->redo, "note", record->note, "reason",
                   record->reason, "link_sha256", record->link_sha256);
}

static void append_json(GString *out, const GPtrArray *records) {
  json_t *list = json_array();
  for (guint i = 0; i < records->len; i++)
    json_array_append_new(list, record_json(records->pdata[i]));
  cli_append_json(out, list);
}

int cli_log(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean all = FALSE, json = FALSE;
  g_autofree char *assessor = NULL, *mode = NULL;
  const GOptionEntry entries[] = {
      {"all", 0, 0, G_OPTION_ARG_NONE, &all,
       "Every record, corrections and what they replaced included", NULL},
      {"assessor", 0, 0, G_OPTION_ARG_STRING, &assessor, "Whose observation", "CODE"},
      {"mode", 0, 0, G_OPTION_ARG_STRING, &mode, "live, video or self", "MODE"},
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  g_autoptr(BtSessionRow) row =
      book ? cli_find_observation(book, argv[1], assessor, mode, &status) : NULL;
  if (!row)
    return status;
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) records = bt_book_history(book, row->id, &error);
  if (!records)
    return cli_error(g_steal_pointer(&error));
  if (!all)
    keep_effective(records);
  if (json) {
    append_json(cli->out, records);
    return 0;
  }
  append_head(cli->out, row);
  if (all)
    append_history(cli->out, records);
  else
    append_effective(cli->out, records);
  if (row->receipt)
    g_string_append_printf(cli->out, "\nReceipt: %s\n", row->receipt);
  return 0;
}
