// SPDX-License-Identifier: GPL-3.0-or-later
//
// Codes, near words, counts, files and the list of errors.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include <benchtally/base.h>

static void a_code_is_plain_short_and_does_not_start_like_an_option(void **state) {
  (void)state;
  g_autofree char *longest = g_strnfill(64, 'x');
  g_autofree char *too_long = g_strnfill(65, 'x');
  const char *const good[] = {"S1", "a", "trainee-07", "2026.03_a", "_x", longest};
  const char *const bad[] = {"",         "-x",  ".x",  "a b", "a/b",
                             "\xC3\xA9", "a\n", "a=b", "@x",  too_long};
  for (gsize i = 0; i < G_N_ELEMENTS(good); i++)
    assert_true(bt_code_valid(good[i]));
  for (gsize i = 0; i < G_N_ELEMENTS(bad); i++)
    assert_false(bt_code_valid(bad[i]));
}

static void the_nearest_word_is_found_when_it_is_near_enough(void **state) {
  (void)state;
  static const char *const words[] = {"plate", "screw", "radius-shaft", "ulna-shaft", "mm", "S"};
  static const struct {
    const char *word, *closest;
  } rows[] = {{"plat", "plate"},
              {"scrw", "screw"},
              {"Screw", "screw"},
              {"srcew", "screw"},
              {"SCREW", "screw"},
              {"Radius_Shaft", "radius-shaft"},
              {"radius shaft", "radius-shaft"},
              {"ulnashaft", "ulna-shaft"},
              {"MM", "mm"},
              {"s", "S"},
              // Over a third of the word would have to change.
              {"wire", NULL},
              {"pl", NULL},
              {"x", NULL},
              {"cm", NULL},
              {"", NULL},
              {"osteotomy", NULL}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    const char *closest = bt_closest_word(rows[i].word, words, G_N_ELEMENTS(words));
    if (rows[i].closest)
      assert_string_equal(closest, rows[i].closest);
    else
      assert_null(closest);
  }
  assert_null(bt_closest_word("plate", words, 0));
}

static void a_word_longer_than_any_id_is_near_to_nothing(void **state) {
  (void)state;
  g_autofree char *word = g_strnfill(65, 'x');
  const char *words[] = {word, "x"};
  assert_null(bt_closest_word(word, words, 2));
}

static void a_count_takes_the_right_form(void **state) {
  (void)state;
  g_autofree char *one = bt_count_of(1, "event", NULL);
  g_autofree char *none = bt_count_of(0, "event", NULL);
  g_autofree char *two = bt_count_of(2, "entry", "entries");
  assert_string_equal(one, "1 event");
  assert_string_equal(none, "0 events");
  assert_string_equal(two, "2 entries");
}

static void a_file_is_read_whole_up_to_its_limit(void **state) {
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("bt-base-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "file", NULL);
  g_autofree char *text = NULL;
  g_autoptr(GError) error = NULL;
  gsize length = 0;
  assert_true(bt_file_write(path, "a\0b", 3, NULL));
  assert_true(bt_file_read(path, 3, &text, &length, NULL));
  assert_int_equal(length, 3);
  assert_memory_equal(text, "a\0b\0", 4);
  assert_false(bt_file_read(path, 2, &text, &length, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_FILE));
  assert_non_null(strstr(error->message, path));
  assert_non_null(strstr(error->message, "3 bytes"));
  assert_non_null(strstr(error->message, "at most 2"));
  assert_int_equal(g_remove(path), 0);
  assert_int_equal(g_rmdir(folder), 0);
}

static void a_missing_file_and_a_folder_are_named_in_the_error(void **state) {
  (void)state;
  static const char *const paths[] = {"/nowhere/at/all", "/"};
  for (gsize i = 0; i < G_N_ELEMENTS(paths); i++) {
    g_autoptr(GError) error = NULL;
    g_autofree char *text = NULL;
    gsize length = 0;
    assert_false(bt_file_read(paths[i], 100, &text, &length, &error));
    assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_FILE));
    assert_true(g_str_has_prefix(error->message, paths[i]));
  }
}

static void a_write_that_fails_leaves_nothing_and_says_disk(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  assert_false(bt_file_write("/nowhere/at/all", "x", 1, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_DISK));
  assert_non_null(strstr(error->message, "/nowhere/at/all"));
}

static void a_write_replaces_the_whole_file(void **state) {
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("bt-base-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "file", NULL);
  g_autofree char *text = NULL;
  gsize length = 0;
  assert_true(bt_file_write(path, "a longer text", 13, NULL));
  assert_true(bt_file_write(path, "short", 5, NULL));
  assert_true(bt_file_read(path, 100, &text, &length, NULL));
  assert_string_equal(text, "short");
  assert_int_equal(g_remove(path), 0);
  assert_int_equal(g_rmdir(folder), 0); // which fails if anything else was left in it
}

static void every_error_has_a_name_and_an_exit_status(void **state) {
  (void)state;
  assert_int_equal(bt_error_exit_status(NULL), 0);
  for (int code = BT_ERROR_CHECK_FAILED; code <= BT_ERROR_EXPORT; code++) {
    g_autoptr(GError) error = g_error_new_literal(BT_ERROR, code, "x");
    int expected = code == BT_ERROR_CHECK_FAILED ? 1 : code <= BT_ERROR_NOT_A_BOOK ? 2 : 3;
    assert_int_equal(bt_error_exit_status(error), expected);
    assert_string_not_equal(bt_error_name(code), "UNKNOWN_CODE");
  }
  assert_string_equal(bt_error_name(BT_ERROR_BOOK_BUSY), "BOOK_BUSY");
  assert_string_equal(bt_error_name(-1), "UNKNOWN_CODE");
  assert_string_equal(bt_error_name(BT_ERROR_EXPORT + 1), "UNKNOWN_CODE");
  g_autoptr(GError) foreign = g_error_new_literal(G_FILE_ERROR, G_FILE_ERROR_NOENT, "x");
  g_autoptr(GError) beyond = g_error_new_literal(BT_ERROR, 99, "x");
  assert_int_equal(bt_error_exit_status(foreign), 3);
  assert_int_equal(bt_error_exit_status(beyond), 3);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_code_is_plain_short_and_does_not_start_like_an_option),
      cmocka_unit_test(the_nearest_word_is_found_when_it_is_near_enough),
      cmocka_unit_test(a_word_longer_than_any_id_is_near_to_nothing),
      cmocka_unit_test(a_count_takes_the_right_form),
      cmocka_unit_test(a_file_is_read_whole_up_to_its_limit),
      cmocka_unit_test(a_missing_file_and_a_folder_are_named_in_the_error),
      cmocka_unit_test(a_write_that_fails_leaves_nothing_and_says_disk),
      cmocka_unit_test(a_write_replaces_the_whole_file),
      cmocka_unit_test(every_error_has_a_name_and_an_exit_status),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
