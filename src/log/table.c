// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/table.h>

#include <math.h>
#include <string.h>

#include "log/csv_names.h"
#include "log/csv_records.h"
#include "log/form.h"

struct BtTable {
  char *path;
  char **names; // n_columns of them, NULL-terminated
  gsize n_columns, n_rows;
  GPtrArray *cells;   // of const char *, row by row; NULL for an empty cell
  GArray *lines;      // of gint64: where each row begins
  GStringChunk *text; // holds the cells
};

static BtTable *table_new(const char *path) {
  BtTable *table = g_new0(BtTable, 1);
  table->path = g_strdup(path);
  table->cells = g_ptr_array_new();
  table->lines = g_array_new(FALSE, FALSE, sizeof(gint64));
  table->text = g_string_chunk_new(4096);
  return table;
}

void bt_table_free(BtTable *table) {
  if (!table)
    return;
  g_free(table->path);
  g_strfreev(table->names);
  g_ptr_array_unref(table->cells);
  g_array_unref(table->lines);
  g_string_chunk_free(table->text);
  g_free(table);
}

// Reading ---------------------------------------------------------------------

// The columns of `wanted` that the header has not.
static bool check_missing(const char *const *fields, int n, const char *const *wanted, gint64 line,
                          BtFaultList *faults) {
  bool sound = true;
  g_autofree char *list = g_strjoinv(", ", (char **)wanted);
  g_autofree char *otherwise = g_strdup_printf("the first row names the columns: %s", list);
  for (const char *const *name = wanted; *name; name++) {
    if (bt__csv_names_hold(fields, n, *name))
      continue;
    // Said once, instead of a fault for each column.
    if (sound && bt__csv_names_other_separator(fields, n, line, faults))
      return false;
    bt__csv_names_missing(*name, fields, n, wanted, otherwise, line, faults);
    sound = false;
  }
  return sound;
}

// False: the header has faults, so that no row can be understood.
static bool read_header(BtTable *table, BtCsvRecords *records, const char *const *wanted) {
  g_autofree const char **fields = bt__csv_fields_list(&records->fields);
  int n = (int)records->fields.n;
  gint64 line = records->first_line;
  if (!bt__csv_names_check(fields, n, line, records->faults))
    return false;
  bool sound = bt__csv_names_differ(fields, n, line, records->faults);
  sound &= check_missing(fields, n, wanted, line, records->faults);
  if (!sound)
    return false;
  table->names = g_strdupv((char **)fields);
  table->n_columns = records->fields.n;
  return true;
}

static void read_row(BtTable *table, BtCsvRecords *records) {
  if (!bt__csv_records_check(records, (const char *const *)table->names, (guint)table->n_columns))
    return;
  for (guint i = 0; i < records->fields.n; i++) {
    g_autofree char *cell = g_strstrip(g_strdup(bt__csv_field(&records->fields, i)));
    g_ptr_array_add(table->cells, *cell ? g_string_chunk_insert_const(table->text, cell) : NULL);
  }
  g_array_append_val(table->lines, records->first_line);
  table->n_rows++;
}

// False with `error`: FILE. What else is wrong is a fault.
static bool read_records(BtTable *table, BtCsvRecords *records, const char *const *columns,
                         GError **error) {
  BtCsvResult result;
  while ((result = bt__csv_records_next(records, error)) == BT__CSV_RECORD) {
    if (table->names)
      read_row(table, records);
    else if (!read_header(table, records, columns))
      return true;
  }
  if (result == BT__CSV_END && table->n_rows == 0 && records->faults->errors == 0)
    bt_fault_list_add(
        records->faults, 0, 0, false,
        g_strdup(table->names ? "there is a header but no row below it" : "the file is empty"),
        g_strdup("expected a row that names the columns, then the rows of the table"));
  return result != BT__CSV_FAILED;
}

static bool read_lines(BtTable *table, BtLineReader *lines, const char *const *columns,
                       BtFaultList *faults, GError **error) {
  const char *ahead = NULL;
  gsize n = 2;
  if (!bt__line_reader_peek(lines, &ahead, &n, error))
    return false;
  if (!bt__form_check(ahead, n, faults))
    return true;
  BtCsvRecords records;
  bt__csv_records_init(&records, lines, faults);
  bool read = read_records(table, &records, columns, error);
  bt__csv_records_clear(&records);
  return read;
}

BtTable *bt_table_read(const char *path, const char *const *columns, GPtrArray *faults,
                       GError **error) {
  BtLineReader lines;
  if (!bt__line_reader_open(&lines, path, error))
    return NULL;
  BtFaultList list = {.file = path, .faults = faults};
  g_autoptr(BtTable) table = table_new(path);
  bool read = read_lines(table, &lines, columns, &list, error);
  bt__line_reader_close(&lines);
  bt_fault_list_finish(&list);
  return read && list.errors == 0 ? g_steal_pointer(&table) : NULL;
}

// What is there ---------------------------------------------------------------

gsize bt_table_rows(const BtTable *table) {
  return table->n_rows;
}

gsize bt_table_columns(const BtTable *table) {
  return table->n_columns;
}

const char *bt_table_name(const BtTable *table, gsize column) {
  return table->names[column];
}

int bt_table_column(const BtTable *table, const char *name) {
  return bt_word_index(name, (const char *const *)table->names, table->n_columns);
}

const char *bt_table_text(const BtTable *table, gsize row, int column) {
  return column < 0 ? NULL : table->cells->pdata[row * table->n_columns + (gsize)column];
}

// Columns ---------------------------------------------------------------------

// `wrong` and `expected` (may be NULL) are taken over.
static void refuse_cell(const BtTable *table, gsize row, int column, BtFaultList *faults,
                        char *wrong, char *expected) {
  gint64 line = g_array_index(table->lines, gint64, row);
  char *named =
      column < 0 ? g_strdup(wrong) : g_strdup_printf("column %s: %s", table->names[column], wrong);
  bt_fault_list_add(faults, line, 0, false, named, expected);
  g_free(wrong);
}

void bt_table_fault(const BtTable *table, gsize row, int column, GPtrArray *faults,
                    const char *format, ...) {
  BtFaultList list = {.file = table->path, .faults = faults};
  va_list arguments;
  va_start(arguments, format);
  refuse_cell(table, row, column, &list, g_strdup_vprintf(format, arguments), NULL);
  va_end(arguments);
}

// A plain or exponential decimal. g_ascii_strtod also reads hexadecimal, infinities and NaN.
static bool parse_number(const char *text, double *number) {
  if (text[strspn(text, "0123456789.eE+-")])
    return false;
  char *end = NULL;
  *number = g_ascii_strtod(text, &end);
  return end > text && !*end && isfinite(*number);
}

// What to do about a cell that is no number. Caller frees.
static char *number_expected(const char *text) {
  double number;
  g_auto(GStrv) parts = g_strsplit(text, ",", 3);
  g_autofree char *pointed = g_strjoinv(".", parts);
  if (g_strv_length(parts) == 2 && parse_number(pointed, &number))
    return g_strdup_printf("write decimals with a point: %s", pointed);
  return g_strdup("expected a number such as 12 or 7.5, or an empty cell where there is none");
}

double *bt_table_numbers(const BtTable *table, int column, GPtrArray *faults) {
  BtFaultList list = {.file = table->path, .faults = faults};
  g_autofree double *numbers = g_new(double, table->n_rows);
  for (gsize row = 0; row < table->n_rows; row++) {
    const char *text = bt_table_text(table, row, column);
    numbers[row] = NAN; // BT_MISSING, of a layer further on
    if (!text || parse_number(text, &numbers[row]))
      continue;
    g_autofree char *quoted = bt_quoted(text);
    refuse_cell(table, row, column, &list, g_strdup_printf("%s is no number", quoted),
                number_expected(text));
  }
  bt_fault_list_finish(&list);
  return list.errors == 0 ? g_steal_pointer(&numbers) : NULL;
}

gsize *bt_table_levels(const BtTable *table, int column, GPtrArray **values, GPtrArray *faults) {
  BtFaultList list = {.file = table->path, .faults = faults};
  g_autofree gsize *levels = g_new0(gsize, table->n_rows);
  g_autoptr(GPtrArray) different = g_ptr_array_new();
  g_autoptr(GHashTable) place_of = g_hash_table_new(g_str_hash, g_str_equal); // from 1
  for (gsize row = 0; row < table->n_rows; row++) {
    const char *text = bt_table_text(table, row, column);
    if (!text) {
      refuse_cell(table, row, column, &list, g_strdup("the cell is empty"),
                  g_strdup("expected a value in every row"));
      continue;
    }
    gsize place = GPOINTER_TO_SIZE(g_hash_table_lookup(place_of, text));
    if (place == 0) {
      g_ptr_array_add(different, (gpointer)text);
      place = different->len;
      g_hash_table_insert(place_of, (gpointer)text, GSIZE_TO_POINTER(place));
    }
    levels[row] = place - 1;
  }
  bt_fault_list_finish(&list);
  *values = list.errors == 0 ? g_steal_pointer(&different) : NULL;
  return list.errors == 0 ? g_steal_pointer(&levels) : NULL;
}
