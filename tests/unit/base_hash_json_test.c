// SPDX-License-Identifier: GPL-3.0-or-later
//
// SHA-256 against the example values of FIPS 180-4 that NIST publishes ("SHA-256 examples": one
// block, two blocks, a million times "a"), hex digits, and JSON strings against RFC 8785, section
// 3.2.2.2.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <benchtally/base.h>

static void assert_sha256(const char *text, gsize length, const char *expected) {
  guint8 digest[BT_SHA256_BYTES];
  char hex[BT_SHA256_HEX + 1];
  bt_sha256(text, length, digest);
  bt_hex(digest, sizeof digest, hex);
  assert_string_equal(hex, expected);
}

static void sha256_gives_the_values_that_nist_publishes(void **state) {
  (void)state;
  assert_sha256("abc", 3, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  assert_sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 56,
                "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  assert_sha256("", 0, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  g_autofree char *million = g_strnfill(1000000, 'a');
  assert_sha256(million, 1000000,
                "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

static void hex_digits_are_read_back_and_nothing_else_is(void **state) {
  (void)state;
  const guint8 bytes[] = {0x00, 0x0f, 0xf0, 0xff, 0x5a};
  guint8 again[sizeof bytes] = {1, 1, 1, 1, 1};
  char hex[2 * sizeof bytes + 1];
  bt_hex(bytes, sizeof bytes, hex);
  assert_string_equal(hex, "000ff0ff5a");
  assert_true(bt_hex_parse(hex, again, sizeof bytes));
  assert_memory_equal(again, bytes, sizeof bytes);
  static const char *const bad[] = {"",           "000ff0ff5",   "000ff0ff5a0", "000FF0FF5A",
                                    "000ff0ff5g", "000ff0ff 5a", "0x0ff0ff5a"};
  for (gsize i = 0; i < G_N_ELEMENTS(bad); i++)
    assert_false(bt_hex_parse(bad[i], again, sizeof bytes));
}

static void assert_int(gint64 number, const char *expected) {
  g_autoptr(GString) out = g_string_new("[");
  bt_json_append_int(out, number);
  assert_string_equal(out->str + 1, expected);
}

static void a_json_number_is_whole_and_plain(void **state) {
  (void)state;
  assert_int(0, "0");
  assert_int(-7, "-7");
  assert_int(1000000, "1000000");
  assert_int(G_MAXINT64, "9223372036854775807");
  assert_int(G_MININT64, "-9223372036854775808");
}

static void assert_json(const char *text, const char *expected) {
  g_autoptr(GString) out = g_string_new(NULL);
  bt_json_append_string(out, text);
  assert_string_equal(out->str, expected);
}

static void a_json_string_has_the_escapes_of_rfc_8785_and_no_others(void **state) {
  (void)state;
  // The "string" of the RFC's sample, section 3.2.2: euro $ U+000F U+000A A ' B " \ \ " /
  assert_json("\xE2\x82\xAC$\x0F\nA'B\"\\\\\"/", "\"\xE2\x82\xAC$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"");
  // The seven that have an escape of two characters.
  assert_json("\b\t\n\f\r\"\\", "\"\\b\\t\\n\\f\\r\\\"\\\\\"");
  // Other control characters as four lower-case digits; from U+007F on everything stands as it is.
  assert_json("\x01\x0B\x1F\x7F", "\"\\u0001\\u000b\\u001f\x7F\"");
  assert_json("\xC2\x80\xE2\x80\xA8\xF0\x9F\xA6\xB4", "\"\xC2\x80\xE2\x80\xA8\xF0\x9F\xA6\xB4\"");
  assert_json("</script>", "\"</script>\"");
  assert_json("", "\"\"");
}

static void the_first_byte_that_is_not_utf8_is_found(void **state) {
  (void)state;
  static const struct {
    const char *text;
    gsize length;
    gssize at;
  } rows[] = {{"plain", 5, -1},     {"", 0, -1},           {"gr\xC3\xBC\xC3\x9F", 6, -1},
              {"gr\xFC\xDF", 4, 2}, {"a\0b", 3, 1},        {"\xE2\x82", 2, 0}, // cut short
              {"ok\xC0\xAF", 4, 2}, {"\xED\xA0\x80", 3, 0}}; // overlong; half a pair
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    assert_int_equal(bt_utf8_fault(rows[i].text, rows[i].length), rows[i].at);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(sha256_gives_the_values_that_nist_publishes),
      cmocka_unit_test(hex_digits_are_read_back_and_nothing_else_is),
      cmocka_unit_test(a_json_number_is_whole_and_plain),
      cmocka_unit_test(a_json_string_has_the_escapes_of_rfc_8785_and_no_others),
      cmocka_unit_test(the_first_byte_that_is_not_utf8_is_found),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
