// SPDX-License-Identifier: GPL-3.0-or-later
//
// The workbook wrapper: what the library underneath lets through is stopped here, and nothing is
// left behind when the disk or the limits of the process end the writing.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <locale.h>
#include <math.h>
#include <minizip/unzip.h>
#include <minizip/zip.h>
#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <benchtally/base.h>

#include "report/xlsx.h"

static const BtXlsxProperties properties = {.title = "A test",
                                            .subject = "of the wrapper",
                                            .author = "nobody",
                                            .keywords = "test",
                                            .comments = "none",
                                            .created_ms = G_GINT64_CONSTANT(1772614800000)};

static char *folder;

static int make_folder(void **state) {
  (void)state;
  folder = g_dir_make_tmp("report-xlsx-XXXXXX", NULL);
  return folder ? 0 : -1;
}

static int files_in_folder(void) {
  GDir *dir = g_dir_open(folder, 0, NULL);
  int n = 0;
  while (g_dir_read_name(dir))
    n++;
  g_dir_close(dir);
  return n;
}

static int remove_folder(void **state) {
  (void)state;
  GDir *dir = g_dir_open(folder, 0, NULL);
  for (const char *name = g_dir_read_name(dir); name; name = g_dir_read_name(dir)) {
    g_autofree char *path = g_build_filename(folder, name, NULL);
    unlink(path);
  }
  g_dir_close(dir);
  int gone = rmdir(folder);
  g_clear_pointer(&folder, g_free);
  return gone;
}

static char *target(void) {
  return g_build_filename(folder, "t1.xlsx", NULL);
}

// The text of a part of the finished workbook. Caller frees.
static char *part_text(const char *path, const char *part) {
  unzFile zip = unzOpen(path);
  assert_non_null(zip);
  assert_int_equal(unzLocateFile(zip, part, 1), UNZ_OK);
  assert_int_equal(unzOpenCurrentFile(zip), UNZ_OK);
  GString *text = g_string_new(NULL);
  char block[4096];
  int n;
  while ((n = unzReadCurrentFile(zip, block, sizeof block)) > 0)
    g_string_append_len(text, block, n);
  unzCloseCurrentFile(zip);
  unzClose(zip);
  return g_string_free(text, FALSE);
}

static void write_one_text(const char *text, GError **error, bool *done) {
  g_autofree char *path = target();
  BtXlsx *xlsx = bt__xlsx_new(path, &properties);
  BtXlsxSheet *sheet = bt__xlsx_sheet(xlsx, "Words", false, false);
  bt__xlsx_text(sheet, 1, 2, BT_STYLE_TEXT, text);
  *done = bt__xlsx_close(xlsx, error);
}

static void assert_refused(const char *text, const char *said) {
  g_autoptr(GError) error = NULL;
  bool done = true;
  write_one_text(text, &error, &done);
  assert_false(done);
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_EXPORT));
  assert_non_null(strstr(error->message, "sheet Words, C2"));
  assert_non_null(strstr(error->message, said));
  assert_int_equal(files_in_folder(), 0);
}

static void text_that_is_not_utf8_is_refused_with_its_cell(void **state) {
  (void)state;
  assert_refused("M\xfcller", "byte 2");
  assert_refused("\xed\xa0\x80", "not UTF-8"); // a surrogate half
}

// ECMA-376 lets a cell hold 32,767 characters; a spreadsheet counts them in UTF-16.
static void text_longer_than_a_cell_is_refused_and_one_that_fits_is_not(void **state) {
  (void)state;
  g_autofree char *fits = g_strnfill(32767, 'a');
  g_autofree char *longer = g_strnfill(32768, 'a');
  g_autoptr(GError) error = NULL;
  bool done = false;
  write_one_text(fits, &error, &done);
  assert_true(done);
  assert_null(error);
  g_autofree char *path = target();
  assert_int_equal(unlink(path), 0);
  assert_refused(longer, "32768 characters");
  GString *emoji = g_string_new(NULL);
  for (int i = 0; i < 16384; i++)
    g_string_append(emoji, "\xf0\x9f\xa6\xb4"); // two units each
  assert_refused(emoji->str, "32768 characters");
  g_string_free(emoji, TRUE);
}

static void control_characters_become_pictures_and_escapes_stay_text(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  bool done = false;
  write_one_text("bell\x07 tab\t _x0041_ _x00zz_", &error, &done);
  assert_true(done);
  g_autofree char *path = target();
  g_autofree char *strings = part_text(path, "xl/sharedStrings.xml");
  assert_non_null(strstr(strings, "bell\xe2\x90\x87 tab\t _x005F_x0041_ _x00zz_"));
}

static void numbers_that_are_not_finite_are_refused(void **state) {
  (void)state;
  static const double bad[] = {NAN, INFINITY, -INFINITY};
  for (gsize i = 0; i < G_N_ELEMENTS(bad); i++) {
    g_autofree char *path = target();
    g_autoptr(GError) error = NULL;
    BtXlsx *xlsx = bt__xlsx_new(path, &properties);
    BtXlsxSheet *sheet = bt__xlsx_sheet(xlsx, "Numbers", false, false);
    bt__xlsx_real(sheet, 0, 0, BT_STYLE_DECIMAL, bad[i]);
    bt__xlsx_text(sheet, 9, 9, BT_STYLE_TEXT, "\xff"); // a second error does not hide the first
    assert_false(bt__xlsx_close(xlsx, &error));
    assert_non_null(strstr(error->message, "sheet Numbers, A1"));
    assert_int_equal(files_in_folder(), 0);
  }
}

static void write_numbers(const char *path) {
  g_autoptr(GError) error = NULL;
  BtXlsx *xlsx = bt__xlsx_new(path, &properties);
  BtXlsxSheet *sheet = bt__xlsx_sheet(xlsx, "Numbers", false, false);
  bt__xlsx_milli(sheet, 0, 0, BT_STYLE_DECIMAL, 1234567);
  bt__xlsx_milli(sheet, 1, 0, BT_STYLE_DECIMAL, -300);
  bt__xlsx_date(sheet, 2, 0, G_GINT64_CONSTANT(1772582400000)); // 2026-03-04T00:00:00Z
  bt__xlsx_duration(sheet, 3, 0, 21600000);                     // six hours
  bt__xlsx_text(sheet, 4, 0, BT_STYLE_TEXT, "=1+1");
  assert_true(bt__xlsx_close(xlsx, &error));
  assert_null(error);
}

static void numbers_have_points_whatever_the_locale(void **state) {
  (void)state;
  bool comma = setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
  g_autofree char *path = target();
  write_numbers(path);
  char plain[32];
  snprintf(plain, sizeof plain, "%.1f", 1.5);
  if (comma)
    assert_string_equal(plain, "1,5"); // the caller's locale is as it was
  setlocale(LC_ALL, "C");
  g_autofree char *sheet = part_text(path, "xl/worksheets/sheet1.xml");
  assert_non_null(strstr(sheet, "<v>1234.567</v>"));
  assert_non_null(strstr(sheet, "<v>-0.3</v>"));
  // 46085 days from 1899-12-30 to 2026-03-04: 126 years with 31 leap days, 62 + 1 + 1 days.
  assert_non_null(strstr(sheet, "<v>46085</v>"));
  assert_non_null(strstr(sheet, "<v>0.25</v>"));
  assert_null(strstr(sheet, "<f>")); // text that begins with = is no formula
}

static void the_same_content_gives_the_same_bytes(void **state) {
  (void)state;
  g_autofree char *path = target();
  g_autofree char *first = NULL, *second = NULL;
  gsize n_first = 0, n_second = 0;
  write_numbers(path);
  assert_true(g_file_get_contents(path, &first, &n_first, NULL));
  g_usleep(1100000); // another second on the clock
  write_numbers(path);
  assert_true(g_file_get_contents(path, &second, &n_second, NULL));
  assert_int_equal(n_first, n_second);
  assert_memory_equal(first, second, n_first);
  g_autofree char *core = part_text(path, "docProps/core.xml");
  assert_non_null(strstr(core, "2026-03-04T09:00:00Z")); // created_ms of the properties
}

static void a_document_without_a_date_is_refused(void **state) {
  (void)state;
  BtXlsxProperties undated = properties;
  undated.created_ms = 0;
  g_autofree char *path = target();
  g_autoptr(GError) error = NULL;
  BtXlsx *xlsx = bt__xlsx_new(path, &undated);
  bt__xlsx_sheet(xlsx, "Empty", false, false);
  assert_false(bt__xlsx_close(xlsx, &error));
  assert_non_null(strstr(error->message, "no date"));
}

static void a_missing_folder_is_named(void **state) {
  (void)state;
  g_autofree char *path = g_build_filename(folder, "nowhere", "t1.xlsx", NULL);
  g_autoptr(GError) error = NULL;
  BtXlsx *xlsx = bt__xlsx_new(path, &properties);
  BtXlsxSheet *sheet = bt__xlsx_sheet(xlsx, "Words", false, false);
  bt__xlsx_text(sheet, 0, 0, BT_STYLE_TEXT, "x");
  assert_false(bt__xlsx_close(xlsx, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_FILE));
  assert_non_null(strstr(error->message, "nowhere"));
}

// Full disks ------------------------------------------------------------------

// Writes a workbook with two sheets, the second of some 900 kB of XML, while no file may grow
// beyond `limit` bytes. In a child, as the limit cannot be taken back. Exit 0: written; 1: a DISK
// error; 2: anything else.
static int write_under_limit(const char *path, rlim_t limit) {
  signal(SIGXFSZ, SIG_IGN);
  struct rlimit cap = {.rlim_cur = limit, .rlim_max = limit};
  BtXlsx *xlsx = bt__xlsx_new(path, &properties);
  BtXlsxSheet *words = bt__xlsx_sheet(xlsx, "Words", false, false);
  BtXlsxSheet *numbers = bt__xlsx_sheet(xlsx, "Numbers", false, false);
  bt__xlsx_text(words, 0, 0, BT_STYLE_TEXT, "x");
  for (int i = 0; i < 20000; i++)
    bt__xlsx_count(numbers, i, i % 7, i * 37 % 1000);
  if (setrlimit(RLIMIT_FSIZE, &cap) != 0 || !freopen("/dev/null", "w", stderr))
    return 2;
  g_autoptr(GError) error = NULL;
  if (bt__xlsx_close(xlsx, &error))
    return 0;
  return error->code == BT_ERROR_DISK && strstr(error->message, path) ? 1 : 2;
}

static int under_limit(const char *path, rlim_t limit) {
  pid_t child = fork();
  if (child == 0)
    _exit(write_under_limit(path, limit));
  int status = 0;
  waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 2;
}

// A limit below the size of the big sheet cuts it short without an error of the library; one below
// the size of the archive fails the archive itself.
static void a_full_disk_is_an_error_and_leaves_the_former_file(void **state) {
  (void)state;
  g_autofree char *path = target();
  assert_int_equal(under_limit(path, RLIM_INFINITY), 0);
  g_autofree char *before = NULL, *after = NULL;
  gsize n_before = 0, n_after = 0;
  assert_true(g_file_get_contents(path, &before, &n_before, NULL));
  static const rlim_t limits[] = {0, 100, 4096, 20000, 65536, 131072, 400000};
  for (gsize i = 0; i < G_N_ELEMENTS(limits); i++) {
    assert_int_equal(under_limit(path, limits[i]), 1);
    assert_int_equal(files_in_folder(), 1);
  }
  assert_true(g_file_get_contents(path, &after, &n_after, NULL));
  assert_int_equal(n_before, n_after);
  assert_memory_equal(before, after, n_before);
}

// Reading back ----------------------------------------------------------------

static void zip_with_part(const char *path, const char *part, const char *text) {
  zipFile zip = zipOpen(path, 0);
  assert_int_equal(zipOpenNewFileInZip(zip, part, NULL, NULL, 0, NULL, 0, NULL, Z_DEFLATED, 6),
                   ZIP_OK);
  zipWriteInFileInZip(zip, text, (unsigned)strlen(text));
  zipCloseFileInZip(zip);
  zipClose(zip, NULL);
}

static bool sound(const char *text, const char *said) {
  g_autofree char *path = target();
  g_autoptr(GError) error = NULL;
  zip_with_part(path, "xl/worksheets/sheet1.xml", text);
  bool whole = bt__xlsx_check_file(path, 1, 0, &error);
  if (!whole)
    assert_non_null(strstr(error->message, said));
  return whole;
}

static void a_part_that_is_cut_short_is_found(void **state) {
  (void)state;
  assert_true(sound("<worksheet><row r=\"1\"/></worksheet>", ""));
  assert_false(sound("<worksheet><row r=\"1\"/>", "cut short"));
  assert_false(sound("<worksheet><row r=\"1\"/></worksh", "cut short"));
  assert_false(sound("<worksheet><row></worksheet>", "not well formed"));
  assert_false(sound("", "cut short"));
}

static void a_sheet_that_is_missing_is_found(void **state) {
  (void)state;
  g_autofree char *path = target();
  g_autoptr(GError) error = NULL;
  zip_with_part(path, "xl/worksheets/sheet1.xml", "<worksheet/>");
  assert_false(bt__xlsx_check_file(path, 2, 0, &error));
  assert_non_null(strstr(error->message, "1 sheets and 0 charts; 2 and 0"));
}

int main(void) {
#define TEST(name) cmocka_unit_test_setup_teardown(name, make_folder, remove_folder)
  const struct CMUnitTest tests[] = {
      TEST(text_that_is_not_utf8_is_refused_with_its_cell),
      TEST(text_longer_than_a_cell_is_refused_and_one_that_fits_is_not),
      TEST(control_characters_become_pictures_and_escapes_stay_text),
      TEST(numbers_that_are_not_finite_are_refused),
      TEST(numbers_have_points_whatever_the_locale),
      TEST(the_same_content_gives_the_same_bytes),
      TEST(a_document_without_a_date_is_refused),
      TEST(a_missing_folder_is_named),
      TEST(a_full_disk_is_an_error_and_leaves_the_former_file),
      TEST(a_part_that_is_cut_short_is_found),
      TEST(a_sheet_that_is_missing_is_found)};
#undef TEST
  return cmocka_run_group_tests(tests, NULL, NULL);
}
