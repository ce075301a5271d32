// SPDX-License-Identifier: GPL-3.0-or-later
//
// Tidy CSV (RFC 4180). libcsv takes the text apart, line by line, so that the line of everything is
// known. Blanks around an unquoted field are no part of it.
#include <csv.h>
#include <string.h>

#include "log/csv_fields.h"
#include "log/csv_header.h"
#include "log/csv_place.h"
#include "log/readers.h"

typedef struct {
  struct csv_parser parser;
  BtLineReader *lines;
  BtIntake *intake;
  BtFaultList *faults;
  GError *error; // the sink stopped
  bool stopped;  // nothing more can be read

  // The record being read.
  gint64 first_line;
  GString *earlier; // its lines before the current one
  const char *line; // the current one
  gsize length;
  bool not_utf8;
  BtCsvFields fields; // so far

  BtCsvHeader header;
  bool has_header;
  BtLogRow record;
  const char **detail_values;
} CsvReader;

static BtCsvWalk walk_to(const CsvReader *reader, int column) {
  BtCsvWalk walk = bt__csv_walk(reader->first_line, column);
  bt__csv_walk_on(&walk, reader->earlier->str, reader->earlier->len);
  bt__csv_walk_on(&walk, reader->line, reader->length);
  return walk;
}

static void place_of_field(const BtLogRow *record, int field, gint64 *line, int *column) {
  const CsvReader *reader = record->reader;
  const BtCsvHeader *header = &reader->header;
  int index =
      field < BT__COLUMNS ? header->column_of[field] : header->detail_column[field - BT__COLUMNS];
  if (index < 0)
    return;
  BtCsvPlace place = walk_to(reader, index).place;
  *line = place.line;
  *column = place.column;
}

// Records ---------------------------------------------------------------------

static void read_header(CsvReader *reader) {
  g_autoptr(GPtrArray) fields = g_ptr_array_new();
  for (guint i = 0; i < reader->fields.n; i++)
    g_ptr_array_add(fields, (gpointer)bt__csv_field(&reader->fields, i));
  reader->has_header = bt__csv_header_read(&reader->header, (const char *const *)fields->pdata,
                                           (int)fields->len, reader->first_line, reader->faults);
  reader->stopped = !reader->has_header;
  if (reader->stopped)
    return;
  reader->detail_values = g_new0(const char *, (gsize)reader->header.n_details + 1);
  reader->record = (BtLogRow){.detail_names = reader->header.detail_names,
                              .detail_values = reader->detail_values,
                              .n_details = reader->header.n_details,
                              .place = place_of_field,
                              .reader = reader};
}

static bool check_count(CsvReader *reader) {
  int n = (int)reader->fields.n;
  int wanted = reader->header.n_columns;
  if (n == wanted)
    return true;
  bt_fault_list_add(reader->faults, reader->first_line, 0, false,
                    g_strdup_printf("the row has %d fields, the header %d", n, wanted),
                    g_strdup(n > wanted ? "put quotes round a text with a comma in it"
                                        : "expected a comma for every empty field too"));
  return false;
}

static bool check_utf8(CsvReader *reader) {
  bool sound = true;
  for (guint i = 0; i < reader->fields.n; i++) {
    const char *text = bt__csv_field(&reader->fields, i);
    gsize length = bt__csv_field_length(&reader->fields, i);
    if (bt__is_utf8(text, length))
      continue;
    BtCsvPlace place = {reader->first_line, 0};
    if (bt_fault_list_keeps(reader->faults, false))
      place = walk_to(reader, (int)i).place;
    g_autofree char *wrong = bt__utf8_wrong(text, length);
    bt_fault_list_add(reader->faults, place.line, place.column, false,
                      g_strdup_printf("%s: %s", reader->header.names[i], wrong),
                      bt__utf8_expected());
    sound = false;
  }
  return sound;
}

static void read_row(CsvReader *reader) {
  if (!check_count(reader) || (reader->not_utf8 && !check_utf8(reader)))
    return;
  BtLogRow *record = &reader->record;
  record->line = reader->first_line;
  for (guint i = 0; i < reader->fields.n; i++) {
    const char *text = bt__csv_field(&reader->fields, i);
    int field = reader->header.field[i];
    if (field < BT__COLUMNS)
      record->field[field] = text;
    else
      reader->detail_values[field - BT__COLUMNS] = text;
  }
  reader->stopped = !bt__intake_add(reader->intake, record, &reader->error);
}

// Callbacks of the parser -----------------------------------------------------

static void on_field(void *text, size_t length, void *user_data) {
  CsvReader *reader = user_data;
  bt__csv_fields_add(&reader->fields, text, length);
}

static void begin_record(CsvReader *reader) {
  bt__csv_fields_reset(&reader->fields);
  g_string_truncate(reader->earlier, 0);
  reader->not_utf8 = false;
}

// A row of nothing but commas, as a sheet leaves them below and between what was typed.
static bool is_blank(const BtCsvFields *fields) {
  return fields->used == fields->n;
}

static void on_record(int terminator, void *user_data) {
  (void)terminator;
  CsvReader *reader = user_data;
  if (reader->stopped)
    return;
  if (!is_blank(&reader->fields))
    (reader->has_header ? read_row : read_header)(reader);
  begin_record(reader);
}

// Lines -----------------------------------------------------------------------

static void init_parser(CsvReader *reader) {
  if (csv_init(&reader->parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
    g_error("the CSV parser could not be made");
  csv_set_blk_size(&reader->parser, 4096);
}

// A quote where none may stand. What follows on other lines is still read, unless the record began
// on an earlier one: then it is unsure where the text was meant to end.
static void refuse_quote(CsvReader *reader, gsize at) {
  bool in_quotes = reader->parser.quoted;
  int column = (int)g_utf8_strlen(reader->line, (gssize)at) + 1;
  bt_fault_list_add(
      reader->faults, reader->lines->line, column, false,
      g_strdup(in_quotes ? "text behind a closing quote" : "a quote inside an unquoted field"),
      g_strdup("put quotes round the whole field, and double each quote that belongs to it"));
  reader->stopped = reader->earlier->len > 0;
  csv_free(&reader->parser);
  init_parser(reader);
  begin_record(reader);
}

static void refuse_long_record(CsvReader *reader) {
  BtCsvPlace opened = walk_to(reader, 0).opened;
  bt_fault_list_add(reader->faults, opened.line, opened.column, false,
                    g_strdup("a quote opens here and is not closed within 1 MiB"),
                    g_strdup("close it, or double a quote that belongs to the text"));
  reader->stopped = true;
}

static void read_line(CsvReader *reader) {
  if (reader->earlier->len == 0)
    reader->first_line = reader->lines->line;
  reader->not_utf8 |= !bt__is_utf8(reader->line, reader->length);
  bt__csv_fields_expect(&reader->fields, reader->earlier->len + reader->length);
  gsize parsed =
      csv_parse(&reader->parser, reader->line, reader->length, on_field, on_record, reader);
  if (reader->stopped)
    return;
  if (parsed < reader->length) {
    refuse_quote(reader, parsed);
    return;
  }
  bool ended = strchr("\r\n", reader->line[reader->length - 1]) && !reader->parser.quoted;
  if (ended)
    return;
  g_string_append_len(reader->earlier, reader->line, (gssize)reader->length);
  reader->length = 0;
  if (reader->earlier->len > BT__RECORD_BYTES_MAX)
    refuse_long_record(reader);
}

static void finish(CsvReader *reader) {
  if (csv_fini(&reader->parser, on_field, on_record, reader) != 0) {
    BtCsvPlace opened = walk_to(reader, 0).opened;
    bt_fault_list_add(reader->faults, opened.line, opened.column, false,
                      g_strdup("a quote opens here and is never closed"),
                      g_strdup("close it, or double a quote that belongs to the text"));
  } else if (!reader->has_header && reader->faults->errors == 0) {
    bt_fault_list_add(reader->faults, 0, 0, false, g_strdup("the file is empty"),
                      g_strdup("expected a header row, then one row an event"));
  } else if (bt__intake_records(reader->intake) == 0 && reader->faults->errors == 0) {
    bt_fault_list_add(reader->faults, 0, 0, false, g_strdup("there is a header but no event"),
                      g_strdup("expected one row an event"));
  }
}

static void clear(CsvReader *reader) {
  csv_free(&reader->parser);
  bt__csv_header_clear(&reader->header);
  g_free(reader->detail_values);
  g_string_free(reader->earlier, TRUE);
  bt__csv_fields_clear(&reader->fields);
}

static BtLineResult read_lines(CsvReader *reader, GError **error) {
  BtLineResult result = BT__LINE;
  while (!reader->stopped) {
    result = bt__line_reader_next(reader->lines, &reader->line, &reader->length, error);
    if (result != BT__LINE)
      return result;
    read_line(reader);
    bt__intake_progress(reader->intake, reader->lines->done_bytes, reader->lines->all_bytes);
  }
  return result;
}

bool bt__csv_read(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error) {
  CsvReader reader = {
      .lines = lines, .intake = intake, .faults = faults, .earlier = g_string_new(NULL)};
  init_parser(&reader);
  BtLineResult result = read_lines(&reader, error);
  if (result == BT__LINE_TOO_LONG)
    bt__refuse_long_line(faults, lines->line + 1);
  else if (result == BT__LINE_END)
    finish(&reader);
  clear(&reader);
  if (reader.error)
    g_propagate_error(error, reader.error);
  return result != BT__LINE_FAILED && !reader.error;
}
