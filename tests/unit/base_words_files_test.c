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

static void a_word_is_found_as_it_is_written(void **state) {
  (void)state;
  static const char *const words[] = {"lag", "plain", "lag"};
  assert_int_equal(bt_word_index("lag", words, 3), 0);
  assert_int_equal(bt_word_index("plain", words, 3), 1);
  assert_int_equal(bt_word_index("plain", words, 1), -1);
  assert_int_equal(bt_word_index("Lag", words, 3), -1);
  assert_int_equal(bt_word_index("", words, 3), -1);
  assert_int_equal(bt_word_index(NULL, words, 3), -1);
}

static void assert_quoted(const char *text, const char *expected) {
  g_autofree char *quoted = bt_quoted(text);
  assert_string_equal(quoted, expected);
}

static void a_text_is_shown_in_quotes_short_and_on_one_line(void **state) {
  (void)state;
  assert_quoted("", "\"\"");
  assert_quoted("two\nlines\x1B[31m", "\"two lines [31m\"");
  assert_quoted("R\xC3\xB6hre", "\"R\xC3\xB6hre\"");
  assert_quoted("cut \xE9", "\"cut \xEF\xBF\xBD\"");
  g_autofree char *sixty = g_strnfill(60, 'x');
  g_autofree char *as_it_is = g_strdup_printf("\"%s\"", sixty);
  assert_quoted(sixty, as_it_is);
  g_autofree char *longer = g_strconcat(sixty, "y", NULL);
  g_autofree char *cut = g_strdup_printf("\"%s...\"", sixty);
  assert_quoted(longer, cut);
}

static void advice_names_what_is_near_or_is_what_was_given(void **state) {
  (void)state;
  static const char *const words[] = {"plate", "screw"};
  g_autofree char *near = bt_did_you_mean("scew", words, 2, "expected a thing");
  g_autofree char *far = bt_did_you_mean("osteotomy", words, 2, "expected a thing");
  assert_string_equal(near, "did you mean \"screw\"?");
  assert_string_equal(far, "expected a thing");
  assert_null(bt_did_you_mean("osteotomy", words, 2, NULL));
}

static void a_uuid_is_read_in_lower_case_and_whole(void **state) {
  (void)state;
  guint64 high = 0, low = 0;
  assert_true(bt_uuid_parse("01890a5d-ac96-774b-bcce-b302099a8057", &high, &low));
  assert_true(high == G_GUINT64_CONSTANT(0x01890a5dac96774b));
  assert_true(low == G_GUINT64_CONSTANT(0xbcceb302099a8057));
  assert_true(bt_uuid_parse("00000000-0000-0000-0000-000000000000", NULL, NULL));
  static const char *const none[] = {"",
                                     "01890A5D-ac96-774b-bcce-b302099a8057",
                                     "01890a5d-ac96-774b-bcce-b302099a805",
                                     "01890a5d-ac96-774b-bcce-b302099a80570",
                                     "01890a5dac96-774b-bcce-b302099a8057-",
                                     "01890a5d-ac96-774b-bcce_b302099a8057",
                                     "01890a5g-ac96-774b-bcce-b302099a8057"};
  for (gsize i = 0; i < G_N_ELEMENTS(none); i++)
    assert_false(bt_uuid_parse(none[i], &high, &low));
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

static void every_error_has_an_exit_status(void **state) {
  (void)state;
  assert_int_equal(bt_error_exit_status(NULL), 0);
  for (int code = BT_ERROR_CHECK_FAILED; code <= BT_ERROR_EXPORT; code++) {
    g_autoptr(GError) error = g_error_new_literal(BT_ERROR, code, "x");
    int expected = code == BT_ERROR_CHECK_FAILED ? 1 : code <= BT_ERROR_NOT_A_BOOK ? 2 : 3;
    assert_int_equal(bt_error_exit_status(error), expected);
  }
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
      cmocka_unit_test(a_word_is_found_as_it_is_written),
      cmocka_unit_test(a_text_is_shown_in_quotes_short_and_on_one_line),
      cmocka_unit_test(advice_names_what_is_near_or_is_what_was_given),
      cmocka_unit_test(a_uuid_is_read_in_lower_case_and_whole),
      cmocka_unit_test(a_count_takes_the_right_form),
      cmocka_unit_test(a_file_is_read_whole_up_to_its_limit),
      cmocka_unit_test(a_missing_file_and_a_folder_are_named_in_the_error),
      cmocka_unit_test(a_write_that_fails_leaves_nothing_and_says_disk),
      cmocka_unit_test(a_write_replaces_the_whole_file),
      cmocka_unit_test(every_error_has_an_exit_status),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
