// SPDX-License-Identifier: GPL-3.0-or-later
//
// Plain tables: what is read from a CSV file by the names of its columns, and how each thing that
// can be wrong with one is told.
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include <benchtally/estimate.h>
#include <benchtally/model.h>
#include <benchtally/table.h>

static const char *const wanted[] = {"subject", "rater", "score", NULL};

typedef struct {
  char *path;
  GPtrArray *faults;
} Bench;

static int set_up(void **state) {
  Bench *bench = g_new0(Bench, 1);
  int fd = g_file_open_tmp("table-XXXXXX.csv", &bench->path, NULL);
  assert_true(fd >= 0);
  assert_true(g_close(fd, NULL));
  bench->faults = bt_faults_new();
  *state = bench;
  return 0;
}

static int tear_down(void **state) {
  Bench *bench = *state;
  g_unlink(bench->path);
  g_free(bench->path);
  g_ptr_array_unref(bench->faults);
  g_free(bench);
  return 0;
}

static BtTable *read_bytes(Bench *bench, const char *text, gsize length) {
  g_autoptr(GError) error = NULL;
  g_ptr_array_set_size(bench->faults, 0);
  assert_true(g_file_set_contents(bench->path, text, (gssize)length, NULL));
  BtTable *table = bt_table_read(bench->path, wanted, bench->faults, &error);
  assert_null(error);
  assert_true((table == NULL) == (bench->faults->len > 0));
  return table;
}

static BtTable *read_text(Bench *bench, const char *text) {
  return read_bytes(bench, text, strlen(text));
}

// `place` is what stands between the file's name and the words: ":3", ":3:7" or "".
static void assert_fault(const Bench *bench, guint i, const char *place, const char *words) {
  assert_true(i < bench->faults->len);
  g_autofree char *said = bt_fault_format(bench->faults->pdata[i]);
  g_autofree char *expected = g_strdup_printf("%s%s: %s", bench->path, place, words);
  assert_string_equal(said, expected);
}

static void assert_refused(Bench *bench, const char *text, const char *place, const char *words) {
  assert_null(read_text(bench, text));
  assert_int_equal(bench->faults->len, 1);
  assert_fault(bench, 0, place, words);
}

static void cells_are_found_by_the_names_of_their_columns(void **state) {
  g_autoptr(BtTable) table = read_text(*state, "\xEF\xBB\xBF"
                                               "score,rater,subject,remark\r\n"
                                               "12.5, Ada ,s1,\"first, of two\"\r\n"
                                               "\"\",Ada,\" s2 \",\r\n");
  assert_int_equal(bt_table_rows(table), 2);
  assert_int_equal(bt_table_columns(table), 4);
  assert_int_equal(bt_table_column(table, "score"), 0);
  assert_int_equal(bt_table_column(table, "subject"), 2);
  assert_int_equal(bt_table_column(table, "Score"), -1);
  assert_string_equal(bt_table_name(table, 3), "remark");
  assert_string_equal(bt_table_text(table, 0, 0), "12.5");
  assert_string_equal(bt_table_text(table, 0, 1), "Ada");
  assert_string_equal(bt_table_text(table, 0, 3), "first, of two");
  assert_string_equal(bt_table_text(table, 1, 2), "s2");
  assert_null(bt_table_text(table, 1, 0));
  assert_null(bt_table_text(table, 1, 3));
  assert_null(bt_table_text(table, 0, -1));
}

static void a_missing_column_is_told_with_what_may_be_meant(void **state) {
  Bench *bench = *state;
  assert_refused(bench, "subject,rater,scores\ns1,a,1\n", ":1",
                 "there is no column score; is \"scores\" meant to be it?");
  assert_null(read_text(bench, "who,rater,7\ns1,a,1\n"));
  assert_int_equal(bench->faults->len, 2);
  assert_fault(bench, 0, ":1",
               "there is no column subject; the first row names the columns: subject, rater, "
               "score");
  assert_fault(bench, 1, ":1",
               "there is no column score; the first row names the columns: subject, rater, score");
}

static void a_doubled_column_is_refused_wanted_or_not(void **state) {
  assert_refused(*state, "subject,rater,score,score\ns1,a,1,2\n", ":1",
                 "two columns are named \"score\"; rename or remove one");
  assert_refused(*state, "subject,rater,score,note,note\ns1,a,1,,\n", ":1",
                 "two columns are named \"note\"; rename or remove one");
}

static void another_separator_is_told_in_the_words_of_the_event_reader(void **state) {
  assert_refused(*state, "subject;rater;score\ns1;a;1\n", ":1",
                 "the fields are separated by semicolons; save the file as CSV with commas");
  assert_refused(*state, "subject;rater;score\ns1;a;1,5\n", ":1",
                 "the fields are separated by semicolons; save the file as CSV with commas");
  assert_refused(*state, "subject\trater\tscore\ns1\ta\t1\n", ":1",
                 "the fields are separated by tabs; save the file as CSV with commas");
}

static void a_row_of_another_length_is_refused_where_it_begins(void **state) {
  Bench *bench = *state;
  assert_null(read_text(bench, "subject,rater,score\ns1,a,1\ns2,a\n\ns3,a,1,2\n"));
  assert_int_equal(bench->faults->len, 2);
  assert_fault(bench, 0, ":3",
               "the row has 2 fields, the header 3; expected a comma for every empty field too");
  assert_fault(bench, 1, ":5",
               "the row has 4 fields, the header 3; put quotes round a text with a comma in it");
}

static void bytes_that_are_no_utf8_are_placed(void **state) {
  Bench *bench = *state;
  assert_refused(bench, "subject,rater,score\ns1,Ren\xE9,1\n", ":2:4",
                 "rater: byte 0xE9 is not UTF-8; save the file as UTF-8 (a spreadsheet calls it "
                 "CSV UTF-8)");
  assert_refused(bench, "subject,rater,sc\xF6re\ns1,a,1\n", ":1",
                 "the name of column 3 is too long, or not UTF-8; expected a header row of plain "
                 "names, at most 64 bytes each");
  static const char nul[] = "subject,rater,score\ns1,a\0b,1\n";
  assert_null(read_bytes(bench, nul, sizeof nul - 1));
  assert_fault(bench, 0, ":2:4",
               "rater: a NUL byte; save the file as UTF-8 (a spreadsheet calls it CSV UTF-8)");
}

static void a_file_in_another_form_is_named(void **state) {
  Bench *bench = *state;
  static const char utf16[] = "\xFF\xFEs\0u\0b\0";
  assert_null(read_bytes(bench, utf16, sizeof utf16 - 1));
  assert_fault(bench, 0, ":1",
               "the file is in UTF-16; save the file as UTF-8 (a spreadsheet calls it CSV UTF-8)");
  assert_refused(bench, "PK\x03\x04", "",
                 "the file is a workbook or an archive; save the sheet as CSV UTF-8");
}

static void a_table_without_rows_is_refused(void **state) {
  static const char expected[] =
      "expected a row that names the columns, then the rows of the table";
  g_autofree char *empty = g_strconcat("the file is empty; ", expected, NULL);
  g_autofree char *header = g_strconcat("there is a header but no row below it; ", expected, NULL);
  assert_refused(*state, "", "", empty);
  assert_refused(*state, "\n\n,,\n", "", empty);
  assert_refused(*state, "subject,rater,score\n", "", header);
  assert_refused(*state, "subject,rater,score\n,,\n", "", header);
}

static void a_quote_that_does_not_close_is_placed(void **state) {
  assert_refused(*state, "subject,rater,score\ns1,\"a,1\ns2,a,1\n", ":2:4",
                 "a quote opens here and is never closed; close it, or double a quote that "
                 "belongs to the text");
  assert_refused(*state, "subject,rater,score\ns1,\"a\"b,1\ns2,a,1\n", ":2:7",
                 "text behind a closing quote; put quotes round the whole field, and double each "
                 "quote that belongs to it");
}

static void a_line_break_in_quotes_keeps_the_count_of_lines(void **state) {
  Bench *bench = *state;
  g_autoptr(BtTable) table =
      read_text(bench, "subject,rater,score\n\"s\n1\",a,1\n\ns2,a,two\ns3,\"a\r\nb\",1\n");
  assert_string_equal(bt_table_text(table, 0, 0), "s\n1");
  assert_null(bt_table_numbers(table, 2, bench->faults));
  assert_int_equal(bench->faults->len, 1);
  assert_fault(bench, 0, ":5",
               "column score: \"two\" is no number; expected a number such as 12 or 7.5, or an "
               "empty cell where there is none");
  bt_table_fault(table, 2, 1, bench->faults, "%d is too many", 3);
  assert_fault(bench, 1, ":6", "column rater: 3 is too many");
  bt_table_fault(table, 0, -1, bench->faults, "the row stands twice");
  assert_fault(bench, 2, ":2", "the row stands twice");
}

static void numbers_are_read_and_empty_cells_are_missing(void **state) {
  Bench *bench = *state;
  g_autoptr(BtTable) table = read_text(bench, "subject,rater,score\n"
                                              "a,b,12\na,b,-0.5\na,b,\na,b,1e-05\na,b,+3\n"
                                              "a,b,.25\n");
  g_autofree double *numbers = bt_table_numbers(table, 2, bench->faults);
  assert_non_null(numbers);
  assert_true(numbers[0] == 12 && numbers[1] == -0.5 && numbers[3] == 1e-05 && numbers[4] == 3 &&
              numbers[5] == 0.25);
  assert_true(bt_is_missing(numbers[2]));
}

static void assert_no_number(Bench *bench, const char *cell, const char *advice) {
  g_autofree char *text = g_strdup_printf("subject,rater,score\na,b,\"%s\"\n", cell);
  g_autoptr(BtTable) table = read_text(bench, text);
  assert_non_null(table);
  assert_null(bt_table_numbers(table, 2, bench->faults));
  assert_int_equal(bench->faults->len, 1);
  g_autofree char *words = g_strdup_printf("column score: \"%s\" is no number; %s", cell, advice);
  assert_fault(bench, 0, ":2", words);
}

static void what_is_no_number_is_refused_with_what_to_write(void **state) {
  static const char plain[] =
      "expected a number such as 12 or 7.5, or an empty cell where there is none";
  static const char *const none[] = {"inf",   "-Infinity", "nan",   "NA",    "0x10", "1e999",
                                     "1.5.2", "1 000",     "12 mm", "1,2,3", "-",    "e5",
                                     "85%",   "1e",        ",",     "1_0"};
  for (guint i = 0; i < G_N_ELEMENTS(none); i++)
    assert_no_number(*state, none[i], plain);
  assert_no_number(*state, "1,5", "write decimals with a point: 1.5");
  assert_no_number(*state, "-0,25", "write decimals with a point: -0.25");
}

// Where decimals are written with a comma, a point in a file is still a point.
static void numbers_do_not_depend_on_the_locale(void **state) {
  static const char *const commas[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "nl_NL.UTF-8"};
  bool set = false;
  for (guint i = 0; i < G_N_ELEMENTS(commas) && !set; i++)
    set = setlocale(LC_NUMERIC, commas[i]) != NULL;
  if (!set)
    skip();
  numbers_are_read_and_empty_cells_are_missing(state);
  assert_no_number(*state, "1,5", "write decimals with a point: 1.5");
  setlocale(LC_NUMERIC, "C");
}

static void only_the_first_faults_of_a_column_are_kept(void **state) {
  Bench *bench = *state;
  g_autoptr(GString) text = g_string_new("subject,rater,score\n");
  for (int i = 0; i < BT_FAULTS_KEPT + 7; i++)
    g_string_append(text, ",b,x\n");
  g_autoptr(BtTable) table = read_text(bench, text->str);
  assert_null(bt_table_numbers(table, 2, bench->faults));
  assert_int_equal(bench->faults->len, BT_FAULTS_KEPT + 1);
  assert_fault(bench, BT_FAULTS_KEPT, "", "7 more faults not shown");
}

static void levels_are_numbered_as_they_first_appear(void **state) {
  Bench *bench = *state;
  g_autoptr(BtTable) table =
      read_text(bench, "subject,rater,score\nb,Ada,\na,Ada,\n\" b\",Ben,\nc,Ada,\n");
  g_autoptr(GPtrArray) values = NULL;
  g_autofree gsize *levels = bt_table_levels(table, 0, &values, bench->faults);
  assert_non_null(levels);
  assert_int_equal(values->len, 3);
  assert_string_equal(values->pdata[0], "b");
  assert_string_equal(values->pdata[1], "a");
  assert_string_equal(values->pdata[2], "c");
  assert_true(levels[0] == 0 && levels[1] == 1 && levels[2] == 0 && levels[3] == 2);
}

static void a_level_that_is_empty_is_a_fault(void **state) {
  Bench *bench = *state;
  g_autoptr(BtTable) table = read_text(bench, "subject,rater,score\ns1,a,1\ns2,,1\n");
  GPtrArray *values = NULL;
  assert_null(bt_table_levels(table, 1, &values, bench->faults));
  assert_null(values);
  assert_int_equal(bench->faults->len, 1);
  assert_fault(bench, 0, ":3", "column rater: the cell is empty; expected a value in every row");
}

static void a_file_that_is_not_there_is_an_error(void **state) {
  Bench *bench = *state;
  g_autoptr(GError) error = NULL;
  assert_null(bt_table_read("no/such/table.csv", wanted, bench->faults, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_FILE));
  assert_int_equal(bench->faults->len, 0);
  bt_table_free(NULL);
}

#define JOB(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
  const struct CMUnitTest tests[] = {
      JOB(cells_are_found_by_the_names_of_their_columns),
      JOB(a_missing_column_is_told_with_what_may_be_meant),
      JOB(a_doubled_column_is_refused_wanted_or_not),
      JOB(another_separator_is_told_in_the_words_of_the_event_reader),
      JOB(a_row_of_another_length_is_refused_where_it_begins),
      JOB(bytes_that_are_no_utf8_are_placed),
      JOB(a_file_in_another_form_is_named),
      JOB(a_table_without_rows_is_refused),
      JOB(a_quote_that_does_not_close_is_placed),
      JOB(a_line_break_in_quotes_keeps_the_count_of_lines),
      JOB(numbers_are_read_and_empty_cells_are_missing),
      JOB(what_is_no_number_is_refused_with_what_to_write),
      JOB(numbers_do_not_depend_on_the_locale),
      JOB(only_the_first_faults_of_a_column_are_kept),
      JOB(levels_are_numbered_as_they_first_appear),
      JOB(a_level_that_is_empty_is_a_fault),
      JOB(a_file_that_is_not_there_is_an_error),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
