// SPDX-License-Identifier: GPL-3.0-or-later
//
// JSON Lines: one object an event, with the keys that are the columns of the CSV form. A value is a
// text, a number of at most three decimals, or true for the redo mark; null is an empty field.
#include <jansson.h>
#include <string.h>

#include "log/csv_header.h"
#include "log/form.h"
#include "log/readers.h"
#include "log/wording.h"

typedef struct {
  BtFaultList *faults;
  BtLogRow record;
  GPtrArray *detail_names, *detail_values; // borrowed texts
  GStringChunk *numbers;                   // those of the current object, as text
} JsonlReader;

static void refuse(JsonlReader *reader, int column, char *wrong, char *expected) {
  bt_fault_list_add(reader->faults, reader->record.line, column, false, wrong, expected);
}

static void place_of_key(const BtLogRow *record, int field, gint64 *line, int *column) {
  (void)field;
  *line = record->line;
  *column = 0; // the faults name the key
}

// Values ----------------------------------------------------------------------

// A number as the text that the CSV form would have; NULL when it has more than three decimals.
static const char *number_text(JsonlReader *reader, const json_t *value) {
  g_autofree char *text = NULL;
  if (json_is_integer(value)) {
    text = g_strdup_printf("%" JSON_INTEGER_FORMAT, json_integer_value(value));
  } else {
    double number = json_real_value(value);
    double limit = (double)BT_VALUE_MILLI_MAX / 1000;
    if (number < -limit || number > limit)
      return NULL;
    gint64 milli = (gint64)(number * 1000 + (number < 0 ? -0.5 : 0.5));
    // A decimal of at most three places is the nearest double to its thousandths.
    if ((double)milli / 1000 != number)
      return NULL;
    text = bt_decimal_format(milli);
  }
  return g_string_chunk_insert(reader->numbers, text);
}

// The text of a value. False: it has none, which was reported.
static bool value_text(JsonlReader *reader, const char *key, const json_t *value,
                       const char **text) {
  *text = NULL;
  bool redo = strcmp(key, "redo") == 0;
  if (json_is_string(value))
    *text = json_string_value(value);
  else if (json_is_number(value))
    *text = number_text(reader, value);
  else if (json_is_null(value) || (redo && json_is_false(value)))
    return true;
  else if (redo && json_is_true(value))
    *text = "yes";
  if (*text)
    return true;
  refuse(reader, 0,
         g_strdup_printf(json_is_number(value)
                             ? "%s: a number of more than three decimals, or too large"
                             : "%s: neither a text nor a number",
                         key),
         g_strdup(redo ? "expected true, or the number of an earlier row"
                       : "expected a text, or a number of at most three decimals"));
  return false;
}

static bool take_value(JsonlReader *reader, const char *key, const json_t *value) {
  const char *text = NULL;
  if (strlen(key) > BT__COLUMN_NAME_BYTES_MAX) {
    g_autofree char *quoted = bt_quoted(key);
    refuse(reader, 0, g_strdup_printf("the key %s is too long", quoted),
           g_strdup_printf("expected at most %d bytes", BT__COLUMN_NAME_BYTES_MAX));
    return false;
  }
  if (!value_text(reader, key, value, &text))
    return false;
  int column = bt__column_from_name(key);
  if (column >= 0) {
    reader->record.field[column] = text;
  } else {
    g_ptr_array_add(reader->detail_names, (gpointer)key);
    g_ptr_array_add(reader->detail_values, (gpointer)text);
  }
  return true;
}

// Objects ---------------------------------------------------------------------

static void begin_record(JsonlReader *reader, gint64 line) {
  reader->record = (BtLogRow){.line = line, .place = place_of_key};
  g_ptr_array_set_size(reader->detail_names, 0);
  g_ptr_array_set_size(reader->detail_values, 0);
  g_string_chunk_clear(reader->numbers);
}

// The object as a record, which borrows from it. False: it has faults.
static bool read_object(JsonlReader *reader, json_t *object) {
  bool sound = true;
  const char *key = NULL;
  json_t *value = NULL;
  json_object_foreach(object, key, value) sound &= take_value(reader, key, value);
  reader->record.detail_names = (const char *const *)reader->detail_names->pdata;
  reader->record.detail_values = (const char *const *)reader->detail_values->pdata;
  reader->record.n_details = (int)reader->detail_names->len;
  return sound;
}

static json_t *parse_line(JsonlReader *reader, const char *line, gsize length) {
  if (!bt__is_utf8(line, length)) {
    glong before = g_utf8_strlen(line, bt_utf8_fault(line, length));
    refuse(reader, (int)before + 1, bt__utf8_wrong(line, length), bt__utf8_expected());
    return NULL;
  }
  json_error_t fault;
  json_t *object = json_loadb(line, length, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY, &fault);
  if (!object) {
    refuse(reader, MAX(fault.column, 0), g_strdup_printf("no JSON: %s", fault.text),
           g_strdup("expected one whole object on each line"));
  } else if (!json_is_object(object)) {
    refuse(reader, 0, g_strdup("no object"), g_strdup("expected one object on each line"));
    g_clear_pointer(&object, json_decref);
  }
  return object;
}

// The length without blanks and the line's ending at its end.
static gsize stripped(const char *line, gsize length) {
  while (length > 0 && g_ascii_isspace(line[length - 1]))
    length--;
  return length;
}

// False with `error`: the sink stopped.
static bool read_line(JsonlReader *reader, BtIntake *intake, const char *line, gsize length,
                      gint64 number, GError **error) {
  length = stripped(line, length);
  if (length == 0)
    return true;
  begin_record(reader, number);
  json_t *object = parse_line(reader, line, length);
  if (!object)
    return true;
  bool going = !read_object(reader, object) || bt__intake_add(intake, &reader->record, error);
  json_decref(object);
  return going;
}

bool bt__jsonl_read(BtLineReader *lines, BtIntake *intake, BtFaultList *faults, GError **error) {
  JsonlReader reader = {.faults = faults,
                        .detail_names = g_ptr_array_new(),
                        .detail_values = g_ptr_array_new(),
                        .numbers = g_string_chunk_new(256)};
  const char *line = NULL;
  gsize length = 0;
  BtLineResult result;
  bool going = true;
  while (going && (result = bt__line_reader_next(lines, &line, &length, error)) == BT__LINE) {
    going = read_line(&reader, intake, line, length, lines->line, error);
    bt__intake_progress(intake, lines->done_bytes, lines->all_bytes);
  }
  if (going && result == BT__LINE_TOO_LONG)
    bt__refuse_long_line(faults, lines->line + 1);
  g_ptr_array_unref(reader.detail_names);
  g_ptr_array_unref(reader.detail_values);
  g_string_chunk_free(reader.numbers);
  return going && result != BT__LINE_FAILED;
}
