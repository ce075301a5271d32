// SPDX-License-Identifier: GPL-3.0-or-later
//
// The request guard: what is let in, and for each trick why not.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <string.h>

#include "serve/door.h"
#include "serve/guard.h"
#include "serve/hosts.h"
#include "serve/session.h"

#define HEADERS_MOST 8

// A request of a method, an address and up to eight headers, "Name: value".
typedef struct {
  const char *method, *uri;
  const char *headers[HEADERS_MOST];
} Case;

static GHashTable *hosts(void) {
  return bt__hosts_of("192.0.2.7");
}

static BtHeaderLine line_of(const char *header) {
  const char *colon = strchr(header, ':');
  const char *value = colon + 1 + strspn(colon + 1, " ");
  return (BtHeaderLine){header, value, (gsize)(colon - header), strlen(value)};
}

// The status the guard refuses it with; 200: let in.
static int guard(const Case *it) {
  BtHeaderLine lines[HEADERS_MOST];
  gsize n = 0;
  g_autoptr(GHashTable) names = hosts();
  for (; n < HEADERS_MOST && it->headers[n]; n++)
    lines[n] = line_of(it->headers[n]);
  const BtRawRequest raw = {it->method, it->uri, lines, n};
  const BtRefused *refused = bt__guard(&raw, names);
  return refused ? refused->status : 200;
}

static void assert_all(const Case *cases, gsize n, int status) {
  for (gsize i = 0; i < n; i++) {
    int got = guard(&cases[i]);
    if (got != status)
      fail_msg("%s %s (%s): %d, expected %d", cases[i].method, cases[i].uri,
               cases[i].headers[1] ? cases[i].headers[1] : "", got, status);
  }
}

#define HOST "Host: 192.0.2.7:8480"

static void plain_requests_are_let_in(void **state) {
  (void)state;
  static const Case cases[] = {
      {"GET", "/", {HOST}},
      {"GET", "/api/sessions?trainee=T-01&from_ms=5", {HOST}},
      {"GET", "/api/people/%C3%A9", {HOST}},
      {"GET", "/", {"Host: localhost"}},
      {"GET", "/", {"host: LOCALHOST:9"}},
      {"GET", "/", {"Host: 192.0.2.7", "Origin: http://192.0.2.7"}},
      {"POST", "/api/login", {HOST, "Content-Length: 12"}},
      {"POST", "/api/login", {HOST, "Transfer-Encoding: chunked"}},
      {"GET", "/", {HOST, "Content-Length: 0"}},
  };
  assert_all(cases, G_N_ELEMENTS(cases), 200);
}

static void lengths_that_two_readers_could_read_differently_are_refused(void **state) {
  (void)state;
  static const Case cases[] = {
      {"POST", "/", {HOST, "Content-Length: 2", "Content-Length: 2"}},
      {"POST", "/", {HOST, "Content-Length: 2", "content-length: 3"}},
      {"POST", "/", {HOST, "Content-Length: 2", "Transfer-Encoding: chunked"}},
      {"POST", "/", {HOST, "Transfer-Encoding: chunked", "Transfer-Encoding: chunked"}},
      {"POST", "/", {HOST, "Transfer-Encoding: gzip, chunked"}},
      {"POST", "/", {HOST, "Transfer-Encoding: xchunked"}},
      {"POST", "/", {HOST, "Content-Length: +2"}},
      {"POST", "/", {HOST, "Content-Length: 2, 2"}},
      {"POST", "/", {HOST, "Content-Length: 0x2"}},
      {"POST", "/", {HOST, "Content-Length: "}},
      {"POST", "/", {HOST, "Content-Length: 99999999999999999999"}},
      {"GET", "/", {HOST, "Content-Length: 1"}},
      {"GET", "/", {HOST, "Transfer-Encoding: chunked"}},
  };
  assert_all(cases, G_N_ELEMENTS(cases), 400);
}

static void other_hosts_and_sites_are_refused(void **state) {
  (void)state;
  static const Case wrong[] = {
      {"GET", "/", {NULL}},
      {"GET", "/", {HOST, HOST}},
      {"GET", "/", {"Host: rebound.example"}},
      {"GET", "/", {"Host: localhost.rebound.example"}},
      {"GET", "/", {"Host: 0.0.0.0"}},
      {"GET", "/", {"Host: "}},
      {"GET", "/", {"Host: [::1"}},
  };
  static const Case other[] = {
      {"POST", "/api/login", {HOST, "Origin: http://rebound.example"}},
      {"POST", "/api/login", {HOST, "Origin: null"}},
      {"POST", "/api/login", {HOST, "Origin: http://192.0.2.7:1"}},
  };
  assert_all(wrong, G_N_ELEMENTS(wrong), 400);
  assert_all(other, G_N_ELEMENTS(other), 403);
}

static void paths_with_tricks_are_refused(void **state) {
  (void)state;
  static const char *const uris[] = {
      "",          "x",          "*",         "//",          "/a//b",        "/../a",
      "/a/..",     "/%2e%2e/a",  "/.%2e/a",   "/a\\b",       "/a%5cb",       "/a%2fb",
      "/a%2Fb",    "/a%00",      "/%ff",      "/\xff",       "/%c0%af",      "/a%0ab",
      "/a%",       "/a%zz",      "http://x/", "/a?b=%ff",    "/a?b=%00",     "/a?b=%",
      "/a?b=%0d1", "/%ed%a0%80", "/a%7f",     "/a?b=%c0%af", "/\xed\xa0\x80"};
  for (gsize i = 0; i < G_N_ELEMENTS(uris); i++)
    assert_all(&(Case){"GET", uris[i], {HOST}}, 1, 400);
}

static void headers_are_headers_and_not_too_long(void **state) {
  (void)state;
  g_autofree char *most = g_strnfill(BT_HEADER_BYTES_MAX, 'a');
  g_autofree char *long_header = g_strconcat("X: ", most, NULL);
  g_autofree char *long_uri = g_strnfill(BT_URI_BYTES_MAX + 1, '/');
  assert_all(&(Case){"GET", "/", {HOST, long_header}}, 1, 431);
  assert_all(&(Case){"GET", long_uri, {HOST}}, 1, 400);
  static const Case cases[] = {
      {"GET", "/", {HOST, "Content-Length : 0"}},
      {"GET", "/", {HOST, "X y: 0"}},
      {"GET", "/", {HOST, ": 0"}},
      {"GET", "/", {HOST, "X: a\rb"}},
      {"GET", "/", {HOST, "X: \xff"}},
      {"GET", "/", {HOST, "X(: 1"}},
  };
  assert_all(cases, G_N_ELEMENTS(cases), 400);
  g_autoptr(GHashTable) names = hosts();
  const BtHeaderLine lines[] = {line_of(HOST), {"X", "a\0b", 1, 3}};
  const BtRawRequest raw = {"GET", "/", lines, 2};
  assert_non_null(bt__guard(&raw, names));
}

static void a_path_is_read_in_segments(void **state) {
  (void)state;
  static const struct {
    const char *uri, *joined;
    guint n;
  } cases[] = {{"/", "", 1},
               {"/capture", "capture", 1},
               {"/api/people/%C3%A9?x=/y", "api|people|\xc3\xa9", 3},
               {"/a/", "a|", 2}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_auto(GStrv) segments = bt__path_segments(cases[i].uri);
    g_autofree char *joined = g_strjoinv("|", segments);
    assert_string_equal(joined, cases[i].joined);
    assert_int_equal(g_strv_length(segments), cases[i].n);
  }
}

// Sessions and the door -------------------------------------------------------

#define KEY "0f1e2d3c4b5a69788796a5b4c3d2e1f00f1e2d3c4b5a69788796a5b4c3d2e1f0"

static void the_key_stands_in_its_cookie_alone(void **state) {
  (void)state;
  static const struct {
    const char *header;
    bool found;
  } cases[] = {{"benchtally=" KEY, true},
               {"a=b; benchtally=" KEY "; c=d", true},
               {"benchtally=" KEY "0", false},
               {"benchtally=", false},
               {"benchtallyx=" KEY, false},
               {"xbenchtally=" KEY, false},
               {"benchtally=short", false},
               {"", false},
               {"benchtally=x; benchtally=" KEY, true}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autofree char *key = bt__session_key_of(cases[i].header);
    if ((key != NULL) != cases[i].found)
      fail_msg("%s", cases[i].header);
  }
}

static void the_token_is_bound_to_the_key(void **state) {
  (void)state;
  char token[BT_SHA256_HEX + 1];
  BtRequest request = {.key = (char *)KEY, .token = token};
  bt__session_token(KEY, token);
  assert_true(bt__session_has_token(&request));
  token[63] ^= 1;
  assert_false(bt__session_has_token(&request));
  bt__session_key_sha256(KEY, token);
  assert_false(bt__session_has_token(&request));
  request.token = NULL;
  assert_false(bt__session_has_token(&request));
}

static void wrong_tries_make_one_wait_and_nobody_else(void **state) {
  (void)state;
  BtDoor *door = bt__door_new();
  for (int i = 0; i < 4; i++)
    bt__door_tried(door, "10.0.0.1", "A-01", false, 1000);
  assert_int_equal(bt__door_wait_s(door, "10.0.0.1", "A-01", 1000), 0);
  bt__door_tried(door, "10.0.0.1", "A-01", false, 1000);
  assert_int_equal(bt__door_wait_s(door, "10.0.0.1", "A-01", 1000), 2);
  assert_int_equal(bt__door_wait_s(door, "10.0.0.2", "A-01", 1000), 0);
  assert_int_equal(bt__door_wait_s(door, "10.0.0.1", "A-02", 1000), 0);
  assert_int_equal(bt__door_wait_s(door, "10.0.0.1", "A-01", 3000), 0);
  for (int i = 0; i < 50; i++)
    bt__door_tried(door, "10.0.0.1", "A-01", false, 5000);
  assert_int_equal(bt__door_wait_s(door, "10.0.0.1", "A-01", 5000), 60);
  bt__door_tried(door, "10.0.0.1", "A-01", true, 70000);
  assert_int_equal(bt__door_wait_s(door, "10.0.0.1", "A-01", 70000), 0);
  bt__door_free(door);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(plain_requests_are_let_in),
      cmocka_unit_test(lengths_that_two_readers_could_read_differently_are_refused),
      cmocka_unit_test(other_hosts_and_sites_are_refused),
      cmocka_unit_test(paths_with_tricks_are_refused),
      cmocka_unit_test(headers_are_headers_and_not_too_long),
      cmocka_unit_test(a_path_is_read_in_segments),
      cmocka_unit_test(the_key_stands_in_its_cookie_alone),
      cmocka_unit_test(the_token_is_bound_to_the_key),
      cmocka_unit_test(wrong_tries_make_one_wait_and_nobody_else),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
