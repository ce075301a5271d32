// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/csv_records.h"

#include <string.h>

#include "log/form.h"

static void init_parser(BtCsvRecords *records) {
  if (csv_init(&records->parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
    g_error("the CSV parser could not be made");
  csv_set_blk_size(&records->parser, 4096);
}

static void begin_record(BtCsvRecords *records) {
  bt__csv_fields_reset(&records->fields);
  g_string_truncate(records->earlier, 0);
  records->not_utf8 = false;
  records->complete = false;
}

void bt__csv_records_init(BtCsvRecords *records, BtLineReader *lines, BtFaultList *faults) {
  *records = (BtCsvRecords){.lines = lines, .faults = faults, .earlier = g_string_new(NULL)};
  init_parser(records);
}

void bt__csv_records_clear(BtCsvRecords *records) {
  csv_free(&records->parser);
  g_string_free(records->earlier, TRUE);
  bt__csv_fields_clear(&records->fields);
}

static BtCsvWalk walk_to(const BtCsvRecords *records, guint field) {
  BtCsvWalk walk = bt__csv_walk(records->first_line, (int)field);
  bt__csv_walk_on(&walk, records->earlier->str, records->earlier->len);
  bt__csv_walk_on(&walk, records->line, records->length);
  return walk;
}

BtCsvPlace bt__csv_records_place(const BtCsvRecords *records, guint field) {
  return walk_to(records, field).place;
}

// Callbacks of the parser -----------------------------------------------------

static void on_field(void *text, size_t length, void *user_data) {
  BtCsvRecords *records = user_data;
  bt__csv_fields_add(&records->fields, text, length);
}

static bool is_blank(const BtCsvFields *fields) {
  return fields->used == fields->n;
}

// A line ends at most one record.
static void on_record(int terminator, void *user_data) {
  (void)terminator;
  BtCsvRecords *records = user_data;
  if (is_blank(&records->fields))
    begin_record(records);
  else
    records->complete = true;
}

// Lines -----------------------------------------------------------------------

// A quote where none may stand. What follows on other lines is still read, unless the record began
// on an earlier one: then it is unsure where the text was meant to end.
static void refuse_quote(BtCsvRecords *records, gsize at) {
  bool in_quotes = records->parser.quoted;
  int column = (int)g_utf8_strlen(records->line, (gssize)at) + 1;
  bt_fault_list_add(
      records->faults, records->lines->line, column, false,
      g_strdup(in_quotes ? "text behind a closing quote" : "a quote inside an unquoted field"),
      g_strdup("put quotes round the whole field, and double each quote that belongs to it"));
  records->broken = records->earlier->len > 0;
  csv_free(&records->parser);
  init_parser(records);
  begin_record(records);
}

// The quote that was opened last swallowed the rest.
static void refuse_open_quote(BtCsvRecords *records, const char *wrong) {
  BtCsvPlace opened = walk_to(records, 0).opened;
  bt_fault_list_add(records->faults, opened.line, opened.column, false, g_strdup(wrong),
                    g_strdup("close it, or double a quote that belongs to the text"));
  records->broken = true;
}

static void read_line(BtCsvRecords *records) {
  if (records->earlier->len == 0)
    records->first_line = records->lines->line;
  records->not_utf8 |= !bt__is_utf8(records->line, records->length);
  bt__csv_fields_expect(&records->fields, records->earlier->len + records->length);
  gsize parsed =
      csv_parse(&records->parser, records->line, records->length, on_field, on_record, records);
  if (parsed < records->length) {
    refuse_quote(records, parsed);
    return;
  }
  bool ended = strchr("\r\n", records->line[records->length - 1]) && !records->parser.quoted;
  if (ended)
    return;
  g_string_append_len(records->earlier, records->line, (gssize)records->length);
  records->length = 0;
  if (records->earlier->len > BT__RECORD_BYTES_MAX)
    refuse_open_quote(records, "a quote opens here and is not closed within 1 MiB");
}

static void finish(BtCsvRecords *records) {
  records->at_end = true;
  if (csv_fini(&records->parser, on_field, on_record, records) != 0)
    refuse_open_quote(records, "a quote opens here and is never closed");
}

BtCsvResult bt__csv_records_next(BtCsvRecords *records, GError **error) {
  if (records->complete)
    begin_record(records);
  while (!records->complete && !records->broken && !records->at_end) {
    switch (bt__line_reader_next(records->lines, &records->line, &records->length, error)) {
    case BT__LINE:
      read_line(records);
      break;
    case BT__LINE_END:
      finish(records);
      break;
    case BT__LINE_TOO_LONG:
      bt__refuse_long_line(records->faults, records->lines->line + 1);
      records->broken = true;
      break;
    case BT__LINE_FAILED:
      return BT__CSV_FAILED;
    }
  }
  return records->broken ? BT__CSV_BROKEN : records->complete ? BT__CSV_RECORD : BT__CSV_END;
}

// Rows ------------------------------------------------------------------------

static bool check_count(BtCsvRecords *records, guint wanted) {
  guint n = records->fields.n;
  if (n == wanted)
    return true;
  bt_fault_list_add(records->faults, records->first_line, 0, false,
                    g_strdup_printf("the row has %u fields, the header %u", n, wanted),
                    g_strdup(n > wanted ? "put quotes round a text with a comma in it"
                                        : "expected a comma for every empty field too"));
  return false;
}

static bool check_utf8(BtCsvRecords *records, const char *const *names) {
  bool sound = true;
  for (guint i = 0; i < records->fields.n; i++) {
    const char *text = bt__csv_field(&records->fields, i);
    gsize length = bt__csv_field_length(&records->fields, i);
    if (bt__is_utf8(text, length))
      continue;
    BtCsvPlace place = {records->first_line, 0};
    if (bt_fault_list_keeps(records->faults, false))
      place = bt__csv_records_place(records, i);
    g_autofree char *wrong = bt__utf8_wrong(text, length);
    bt_fault_list_add(records->faults, place.line, place.column, false,
                      g_strdup_printf("%s: %s", names[i], wrong), bt__utf8_expected());
    sound = false;
  }
  return sound;
}

bool bt__csv_records_check(BtCsvRecords *records, const char *const *names, guint n) {
  return check_count(records, n) && (!records->not_utf8 || check_utf8(records, names));
}
