// SPDX-License-Identifier: GPL-3.0-or-later
//
// People from a CSV file: columns code, name, role, level, cohort; all or none.
#include <csv.h>
#include <string.h>

#include "store/store.h"

#define PEOPLE_BYTES_MAX (4 * 1024 * 1024)

typedef enum { CODE, NAME, ROLE, LEVEL, COHORT, COLUMNS } Column;
static const char *const column_names[COLUMNS] = {"code", "name", "role", "level", "cohort"};
static const bool column_needed[COLUMNS] = {[CODE] = true, [NAME] = true, [ROLE] = true};

typedef struct {
  BtBook *book;
  BtFaultList faults;
  GPtrArray *fields; // of char *: those of the record being read
  int *columns;      // of each field its Column; NULL before the header
  int n_columns;
  bool header_sound;
  int line;         // where the record begins
  int lines_inside; // line ends within its quoted fields
  int added, already;
  GError *error;
} Reader;

static void add_fault(Reader *reader, char *wrong, const char *expected) {
  bt_fault_list_add(&reader->faults, reader->line, 0, false, wrong, g_strdup(expected));
}

// Header ----------------------------------------------------------------------

static void refuse_column(Reader *reader, const char *name) {
  g_autofree char *expected =
      bt_did_you_mean(name, column_names, COLUMNS, "expected code, name, role, level and cohort");
  add_fault(reader, g_strdup_printf("no column \"%s\" in a file of people", name), expected);
}

static void read_header(Reader *reader) {
  bool seen[COLUMNS] = {false};
  reader->n_columns = (int)reader->fields->len;
  reader->columns = g_new(int, reader->fields->len + 1);
  for (guint i = 0; i < reader->fields->len; i++) {
    const char *name = reader->fields->pdata[i];
    int column = bt_word_index(name, column_names, COLUMNS);
    reader->columns[i] = column;
    if (!*name) // a sheet often ends in columns without a name
      continue;
    if (column < 0)
      refuse_column(reader, name);
    else if (seen[column])
      add_fault(reader, g_strdup_printf("the column \"%s\" stands twice", name), "keep one");
    else
      seen[column] = true;
  }
  for (int i = 0; i < COLUMNS; i++) {
    if (column_needed[i] && !seen[i])
      add_fault(reader, g_strdup_printf("the column \"%s\" is missing", column_names[i]),
                "expected code, name, role and, where known, level and cohort");
  }
  reader->header_sound = reader->faults.errors == 0;
}

// Rows ------------------------------------------------------------------------

static void add_person(Reader *reader, BtPerson *person) {
  bool added = false;
  GError *cause = NULL;
  if (bt__add_person(reader->book, person, &added, &cause)) {
    reader->added += added;
    reader->already += !added;
  } else if (g_error_matches(cause, BT_ERROR, BT_ERROR_CONFLICT) ||
             g_error_matches(cause, BT_ERROR, BT_ERROR_OPTION)) {
    add_fault(reader, g_strdup(cause->message), NULL);
    g_error_free(cause);
  } else {
    reader->error = cause;
  }
}

static void read_row(Reader *reader) {
  char *field[COLUMNS] = {NULL};
  if ((int)reader->fields->len != reader->n_columns) {
    add_fault(reader, g_strdup_printf("%u fields", reader->fields->len),
              "expected as many as the first line has");
    return;
  }
  for (int i = 0; i < reader->n_columns; i++) {
    if (reader->columns[i] >= 0)
      field[reader->columns[i]] = reader->fields->pdata[i];
  }
  int role = field[ROLE] ? bt_role_from_name(field[ROLE]) : -1;
  if (role < 0) {
    add_fault(reader, g_strdup_printf("the role \"%s\"", field[ROLE] ? field[ROLE] : ""),
              "expected trainee, assessor or director");
    return;
  }
  BtPerson person = {.code = field[CODE],
                     .name = field[NAME],
                     .role = (BtRole)role,
                     .level = field[LEVEL],
                     .cohort = field[COHORT]};
  add_person(reader, &person);
}

// libcsv ----------------------------------------------------------------------

static void on_field(void *data, size_t length, void *user_data) {
  Reader *reader = user_data;
  char *text = g_strndup(data, length);
  for (const char *p = text; *p; p++)
    reader->lines_inside += *p == '\n';
  g_ptr_array_add(reader->fields, text);
}

// An empty line, or one of nothing but commas.
static bool is_blank(const GPtrArray *fields) {
  for (guint i = 0; i < fields->len; i++) {
    if (*(char *)fields->pdata[i])
      return false;
  }
  return true;
}

static void on_record(int end, void *user_data) {
  Reader *reader = user_data;
  if (!reader->error && !is_blank(reader->fields)) {
    if (!reader->columns)
      read_header(reader);
    else if (reader->header_sound)
      read_row(reader);
  }
  g_ptr_array_set_size(reader->fields, 0);
  reader->line += (end == '\n') + reader->lines_inside; // of "\r\n" the second is counted
  reader->lines_inside = 0;
}

static void parse(Reader *reader, const char *text, gsize length) {
  struct csv_parser parser;
  if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_REPALL_NL) != 0)
    g_error("out of memory");
  if (csv_parse(&parser, text, length, on_field, on_record, reader) != length ||
      csv_fini(&parser, on_field, on_record, reader) != 0)
    add_fault(reader, g_strdup("the quotes of this line do not close"),
              "double a quote that is part of a field");
  csv_free(&parser);
}

// The file --------------------------------------------------------------------

static bool check_text(Reader *reader, const char *text, gsize length) {
  gssize at = bt_utf8_fault(text, length);
  for (gssize i = 0; i < at; i++)
    reader->line += text[i] == '\n';
  if (at >= 0)
    add_fault(reader, g_strdup("this line is not UTF-8"),
              "save the file as UTF-8 (a spreadsheet calls it CSV UTF-8)");
  return at < 0;
}

static bool read_text(Reader *reader, const char *text, gsize length) {
  bool mark = length >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0; // a BOM
  if (!check_text(reader, text, length))
    return false;
  parse(reader, text + (mark ? 3 : 0), length - (mark ? 3 : 0));
  if (!reader->columns && !reader->error)
    add_fault(reader, g_strdup("the file is empty"), "expected a first line with the columns");
  return reader->faults.errors == 0 && !reader->error;
}

bool bt_book_add_people_file(BtBook *book, const char *path, int *added, int *already,
                             GPtrArray *faults, GError **error) {
  g_autofree char *text = NULL;
  gsize length = 0;
  if (!bt_file_read(path, PEOPLE_BYTES_MAX, &text, &length, error) || !bt__begin(book, error))
    return false;
  Reader reader = {.book = book,
                   .faults = {.file = path, .faults = faults},
                   .fields = g_ptr_array_new_with_free_func(g_free),
                   .line = 1};
  bool done = bt__end(book, read_text(&reader, text, length), reader.error ? NULL : error);
  bt_fault_list_finish(&reader.faults);
  if (reader.error)
    g_propagate_error(error, reader.error);
  g_ptr_array_unref(reader.fields);
  g_free(reader.columns);
  if (added)
    *added = done ? reader.added : 0;
  if (already)
    *already = done ? reader.already : 0;
  return done;
}
