// SPDX-License-Identifier: GPL-3.0-or-later
//
// Every route with every role, and with things of others. What should be is read from API.md.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include "fault/book_asserts.h"
#include "fault/book_fixture.h"
#include "serve/guard.h"
#include "serve/route.h"
#include "serve/server.h"
#include "serve/session.h"

// The contract ----------------------------------------------------------------

// A route as API.md has it.
typedef struct {
  char *method, *pattern;
  unsigned roles;
} Promised;

static void promised_free(gpointer data) {
  Promised *promised = data;
  g_free(promised->method);
  g_free(promised->pattern);
  g_free(promised);
}

// "/api/people/CODE/account?x=" as "/api/people/*/account": words in capitals stand for something.
static char *pattern_of(const char *path) {
  g_auto(GStrv) whole = g_strsplit(path, "?", 2);
  g_auto(GStrv) segments = g_strsplit(whole[0], "/", -1);
  for (char **segment = segments; *segment; segment++) {
    if (g_ascii_isupper(**segment)) {
      g_free(*segment);
      *segment = g_strdup("*");
    }
  }
  return g_strjoinv("/", segments);
}

static bool has_word(const char *text, const char *word) {
  g_autofree char *pattern = g_strdup_printf("\\b%s\\b", word);
  return g_regex_match_simple(pattern, text, 0, 0);
}

static unsigned roles_of(const char *who) {
  if (has_word(who, "its assessor") || has_word(who, "as the result"))
    return BT_FOR_DAT;
  return (has_word(who, "all") ? BT_FOR_ALL : 0) | (has_word(who, "D") ? BT_FOR_D : 0) |
         (has_word(who, "A") ? BT_FOR_A : 0) | (has_word(who, "T") ? BT_FOR_T : 0);
}

static void add_promised(GPtrArray *list, const char *method, const char *path, unsigned roles) {
  Promised *promised = g_new(Promised, 1);
  *promised = (Promised){g_strdup(method), pattern_of(path), roles};
  g_ptr_array_add(list, promised);
}

// A row of a table: "| `GET /a`, `GET /b` | D A | ...".
static void read_row(GPtrArray *list, const char *line) {
  g_auto(GStrv) cells = g_strsplit(line, "|", -1);
  g_autoptr(GRegex) regex = g_regex_new("`(GET|POST) (/[^ `]*)`", 0, 0, NULL);
  g_autoptr(GMatchInfo) match = NULL;
  for (g_regex_match(regex, cells[1], 0, &match); g_match_info_matches(match);
       g_match_info_next(match, NULL)) {
    g_autofree char *method = g_match_info_fetch(match, 1);
    g_autofree char *path = g_match_info_fetch(match, 2);
    add_promised(list, method, path, roles_of(cells[2]));
  }
}

// The lines of pages: "`/` home by role, `/capture` A D ...", between middle dots.
static void read_pages(GPtrArray *list, const char *lines) {
  g_auto(GStrv) pages = g_strsplit(lines, "\xc2\xb7", -1);
  for (char **page = pages; *page; page++) {
    g_auto(GStrv) parts = g_strsplit(*page, "`", 3);
    const char *who = parts[2];
    bool files = strstr(who, "nobody needs") != NULL;
    unsigned for_whom = strstr(who, "by role") ? BT_FOR_DAT : files ? BT_FOR_ALL : roles_of(who);
    add_promised(list, "GET", parts[1], for_whom);
  }
}

static GPtrArray *read_contract(void) {
  g_autofree char *text = NULL;
  GPtrArray *list = g_ptr_array_new_with_free_func(promised_free);
  assert_true(g_file_get_contents(BENCHTALLY_SOURCE_DIR "/src/serve/API.md", &text, NULL, NULL));
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  for (char **line = lines; *line; line++) {
    if (g_str_has_prefix(*line, "| `"))
      read_row(list, *line);
  }
  const char *pages = strstr(text, "\n`/` home");
  g_auto(GStrv) sections = g_strsplit(pages, "\n## ", 2);
  read_pages(list, sections[0]);
  return list;
}

static const BtRoute *route_of(const char *method, const char *pattern) {
  for (const BtRoute *route = bt__routes; route->method; route++) {
    if (strcmp(route->method, method) == 0 && strcmp(route->pattern, pattern) == 0)
      return route;
  }
  return NULL;
}

static void the_table_is_what_the_contract_promises(void **state) {
  (void)state;
  gsize n = 0;
  g_autoptr(GPtrArray) contract = read_contract();
  for (guint i = 0; i < contract->len; i++) {
    const Promised *promised = contract->pdata[i];
    const BtRoute *route = route_of(promised->method, promised->pattern);
    if (!route)
      fail_msg("API.md has %s %s, the table has not", promised->method, promised->pattern);
    unsigned for_whom = route->flags & (BT_FOR_DAT | BT_FOR_ALL);
    if (for_whom != promised->roles)
      fail_msg("%s %s: for %x, by API.md for %x", route->method, route->pattern, for_whom,
               promised->roles);
  }
  for (const BtRoute *route = bt__routes; route->method; route++)
    n++;
  assert_int_equal(n, contract->len);
}

// A server --------------------------------------------------------------------

enum { NOBODY, T_01, T_02, A_01, A_02, D_01, PEOPLE };
static const char *const codes[] = {NULL, "T-01", "T-02", "A-01", "A-02", "D-01"};
static const int roles[] = {
    -1, BT_ROLE_TRAINEE, BT_ROLE_TRAINEE, BT_ROLE_ASSESSOR, BT_ROLE_ASSESSOR, BT_ROLE_DIRECTOR};

typedef struct {
  Fixture fixture;
  BtServer *server;
} Lab;

static void key_of(int person, char key[BT_KEY_HEX + 1]) {
  memset(key, '0' + person, BT_KEY_HEX);
  key[BT_KEY_HEX] = '\0';
}

static void let_in(BtBook *book, int person) {
  char key[BT_KEY_HEX + 1], sha256[BT_SHA256_HEX + 1];
  key_of(person, key);
  bt__session_key_sha256(key, sha256);
  g_assert(bt_book_set_account(book, codes[person], "no argon2id string", NULL, NULL));
  g_assert(bt_book_login_add(book, sha256, codes[person], NULL));
}

static gint64 observe(BtBook *book, const char *session, const char *trainee, const char *assessor,
                      BtMode mode, bool closed) {
  gint64 id = 0;
  int seq = 0;
  const BtHeader header = {.session = session,
                           .trainee = trainee,
                           .assessor = assessor,
                           .rubric = "splint",
                           .edition = 1,
                           .started_ms = FIXTURE_STARTED_MS,
                           .mode = mode};
  const BtEvent start = {
      .kind = BT_EVENT_START, .action = -1, .site = -1, .item = -1, .component = -1};
  g_assert(bt_book_begin(book, &header, &id, NULL));
  g_assert(bt_book_append(book, id, &start, NULL, &seq, NULL));
  g_assert(!closed || bt_book_finish(book, id, NULL, NULL));
  return id;
}

// Observation 1: of S-1 (T-01) by A-01, closed. 2: of S-1 by A-02 from video, open. 3: of S-2
// (T-02) by A-01, open.
static void fill(BtBook *book) {
  const BtPerson director = {.code = (char *)"D-01", .role = BT_ROLE_DIRECTOR};
  fixture_fill(book);
  g_assert(bt_book_add_person(book, &director, NULL, NULL));
  for (int person = T_01; person < PEOPLE; person++)
    let_in(book, person);
  g_assert(observe(book, "S-1", "T-01", "A-01", BT_MODE_LIVE, true) == 1);
  g_assert(observe(book, "S-1", "T-01", "A-02", BT_MODE_VIDEO, false) == 2);
  g_assert(observe(book, "S-2", "T-02", "A-01", BT_MODE_LIVE, false) == 3);
}

static int setup(void **state) {
  Lab *lab = g_new0(Lab, 1);
  g_autoptr(GError) error = NULL;
  fixture_setup(&lab->fixture);
  BtBook *book = fixture_open(&lab->fixture, BT_BOOK_CREATE);
  fill(book);
  bt_book_close(book);
  const BtServeOptions options = {
      .book_path = lab->fixture.path, .reports_program = "/nonexistent", .address = "127.0.0.1"};
  lab->server = bt_serve_start(&options, &error);
  if (!lab->server)
    g_error("%s", error->message);
  *state = lab;
  return 0;
}

static int teardown(void **state) {
  Lab *lab = *state;
  bt_serve_stop(lab->server);
  fixture_teardown(&lab->fixture);
  g_free(lab);
  return 0;
}

static BtAnswer *ask_with(Lab *lab, int person, const char *method, const char *uri,
                          const char *body, bool with_token) {
  g_autoptr(BtRequest) request = bt__request_new(lab->server);
  char key[BT_KEY_HEX + 1], token[BT_SHA256_HEX + 1];
  request->method = g_strdup(method);
  request->segments = bt__path_segments(uri);
  request->query = bt__query_of(uri);
  request->address = g_strdup("192.0.2.9");
  request->content_type = g_strdup("application/json");
  g_string_assign(request->body, body ? body : "{}");
  if (person != NOBODY) {
    key_of(person, key);
    bt__session_token(key, token);
    request->key = g_strdup(key);
    request->token = with_token ? g_strdup(token) : NULL;
  }
  return bt__serve(request);
}

static BtAnswer *ask(Lab *lab, int person, const char *method, const char *uri, const char *body) {
  return ask_with(lab, person, method, uri, body, true);
}

static char *body_of(const BtAnswer *answer) {
  gsize length = 0;
  const char *bytes = g_bytes_get_data(answer->body, &length);
  return g_strndup(bytes, length);
}

static void assert_status(Lab *lab, int person, const char *method, const char *uri,
                          const char *body, int status) {
  g_autoptr(BtAnswer) answer = ask(lab, person, method, uri, body);
  if (answer->status == status)
    return;
  g_autofree char *words = body_of(answer);
  fail_msg("%s asks %s %s %s: %d, expected %d: %s", person ? codes[person] : "nobody", method, uri,
           body ? body : "", answer->status, status, words);
}

// Every route, every role -----------------------------------------------------

// An address of the route's pattern whose things do not exist.
static char *address_of(const BtRoute *route) {
  g_auto(GStrv) parts = g_strsplit(route->pattern, "*", -1);
  return g_strjoinv("99", parts);
}

static void assert_role(Lab *lab, const BtRoute *route, int person) {
  g_autofree char *uri = address_of(route);
  bool page = route->flags & BT_IS_PAGE, all = route->flags & BT_FOR_ALL;
  bool may = all || (person && bt__route_is_for(route, (BtRole)roles[person]));
  g_autoptr(BtAnswer) answer = ask(lab, person, route->method, uri, NULL);
  g_autofree char *words = answer->stream.read ? g_strdup("") : body_of(answer);
  bool form = strstr(words, "login.js") != NULL;
  int refused = person ? 403 : page ? 200 : 401;
  if (!may && (answer->status != refused || (!person && page && !form)))
    fail_msg("%s may not, yet %s %s gives %d: %s", person ? codes[person] : "nobody", route->method,
             uri, answer->status, words);
  if (may && ((answer->status == 401 && !all) || strstr(words, "\"error\":\"role\"") ||
              strstr(words, "\"error\":\"token\"") || form || answer->status >= 500))
    fail_msg("%s may, yet %s %s gives %d: %s", person ? codes[person] : "nobody", route->method,
             uri, answer->status, words);
}

static void each_role_may_what_is_for_it_and_no_more(void **state) {
  Lab *lab = *state;
  for (const BtRoute *route = bt__routes; route->method; route++) {
    for (int person = NOBODY; person < PEOPLE; person++) {
      if (strcmp(route->pattern, "/api/logout") != 0 &&
          strcmp(route->pattern, "/exports/cohort.xlsx") != 0)
        assert_role(lab, route, person);
    }
  }
  assert_status(lab, NOBODY, "POST", "/api/logout", NULL, 401);
  assert_status(lab, NOBODY, "GET", "/exports/cohort.xlsx", NULL, 401);
  assert_status(lab, A_01, "GET", "/exports/cohort.xlsx", NULL, 403);
  assert_status(lab, T_01, "GET", "/exports/cohort.xlsx", NULL, 403);
}

static void no_change_without_its_token(void **state) {
  Lab *lab = *state;
  int n = 0;
  for (const BtRoute *route = bt__routes; route->method; route++) {
    for (int person = T_01; person < PEOPLE; person++) {
      if (strcmp(route->method, "POST") != 0 || !bt__route_is_for(route, (BtRole)roles[person]))
        continue;
      g_autofree char *uri = address_of(route);
      g_autoptr(BtAnswer) answer = ask_with(lab, person, "POST", uri, NULL, false);
      g_autofree char *words = body_of(answer);
      if (answer->status != 403 || !strstr(words, "\"error\":\"token\""))
        fail_msg("%s without a token: %d", uri, answer->status);
      n++;
    }
  }
  assert_true(n > 15);
}

// Things of others ------------------------------------------------------------

typedef struct {
  int person;
  const char *method, *uri, *body;
  int status;
} Try;

#define BEGIN(session, trainee, mode)                                                              \
  "{\"session\":" session ",\"trainee\":\"" trainee "\",\"rubric\":\"splint\",\"edition\":1,"      \
  "\"mode\":\"" mode "\",\"started_ms\":1772615100000,\"cautions_read\":true}"

static void things_of_others_stay_theirs(void **state) {
  static const Try tries[] = {
      {T_01, "GET", "/api/observations/3", NULL, 404},
      {T_01, "GET", "/api/observations/3/result", NULL, 404},
      {T_01, "GET", "/api/observations/3/timeline.svg", NULL, 404},
      {T_01, "POST", "/api/observations/3/entries", "{\"entries\":[]}", 404},
      {T_01, "POST", "/api/observations/3/close", "{\"entries\":1}", 404},
      {T_01, "POST", "/api/observations/1/entries", "{\"entries\":[]}", 403},
      {T_01, "POST", "/api/observations/1/close", "{\"entries\":1}", 403},
      {T_01, "GET", "/api/sessions/S-2/review", NULL, 404},
      {T_01, "POST", "/api/sessions/S-2/look", NULL, 404},
      {T_01, "GET", "/api/trainees/T-02/progress.svg?rubric=splint", NULL, 404},
      {T_01, "GET", "/exports/workbook/T-02.xlsx", NULL, 404},
      {T_02, "GET", "/api/compare?a=1&b=2", NULL, 404},
      {T_01, "POST", "/api/observations", BEGIN("null", "T-01", "live"), 403},
      {T_01, "POST", "/api/observations", BEGIN("\"S-1\"", "T-01", "video"), 403},
      {T_01, "POST", "/api/observations", BEGIN("\"S-2\"", "T-01", "self"), 404},
      {T_01, "POST", "/api/observations", BEGIN("\"S-2\"", "T-02", "self"), 404},
      {T_01, "POST", "/api/observations", BEGIN("\"S-9\"", "T-01", "self"), 404},
      {A_01, "POST", "/api/observations", BEGIN("\"S-1\"", "T-01", "self"), 403},
      {A_02, "POST", "/api/observations/1/entries", "{\"entries\":[]}", 403},
      {A_02, "POST", "/api/observations/3/close", "{\"entries\":1}", 403},
      {D_01, "POST", "/api/observations/1/entries", "{\"entries\":[]}", 403},
      {D_01, "GET", "/api/observations/1", NULL, 200},
      {D_01, "GET", "/api/observations/3", NULL, 200},
      {A_02, "GET", "/api/observations/3", NULL, 200},
      {D_01, "GET", "/api/observations/3/result", NULL, 409},
      {D_01, "GET", "/api/compare?a=1&b=2", NULL, 409},
      {D_01, "GET", "/api/compare?a=1&b=3", NULL, 422},
      {D_01, "GET", "/api/observations/9", NULL, 404},
      {D_01, "GET", "/api/observations/1x", NULL, 404},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(tries); i++)
    assert_status(*state, tries[i].person, tries[i].method, tries[i].uri, tries[i].body,
                  tries[i].status);
}

static void who_has_an_open_observation_sees_no_other_of_the_session(void **state) {
  Lab *lab = *state;
  static const char *const hidden[] = {"/api/observations/1", "/api/observations/1/result",
                                       "/api/observations/1/timeline.svg", "/api/compare?a=1&b=2",
                                       "/api/sessions/S-1/review"};
  for (gsize i = 0; i < G_N_ELEMENTS(hidden); i++)
    assert_status(lab, A_02, "GET", hidden[i], NULL, 403);
  g_autoptr(BtAnswer) blind = ask(lab, A_02, "GET", "/api/sessions", NULL);
  g_autofree char *unseen = body_of(blind);
  assert_null(strstr(unseen, "\"outcome\":\"undecided\""));
  g_autoptr(BtAnswer) board = ask(lab, A_02, "GET", "/api/board", NULL);
  g_autofree char *benches = body_of(board);
  assert_non_null(strstr(benches, "\"id\":2"));
  assert_non_null(strstr(benches, "\"id\":3"));
  assert_status(lab, A_02, "POST", "/api/observations/2/close", "{\"entries\":1}", 200);
  for (gsize i = 0; i < G_N_ELEMENTS(hidden); i++)
    assert_status(lab, A_02, "GET", hidden[i], NULL, 200);
  g_autoptr(BtAnswer) seeing = ask(lab, A_02, "GET", "/api/sessions", NULL);
  g_autofree char *seen = body_of(seeing);
  assert_non_null(strstr(seen, "\"outcome\":\"undecided\""));
}

static void a_board_hides_the_other_bench_of_ones_own_session(void **state) {
  Lab *lab = *state;
  assert_status(lab, D_01, "POST", "/api/observations", BEGIN("\"S-2\"", "T-02", "live"), 201);
  g_autoptr(BtAnswer) board = ask(lab, D_01, "GET", "/api/board", NULL);
  g_autofree char *benches = body_of(board);
  assert_null(strstr(benches, "\"id\":3,"));
  assert_non_null(strstr(benches, "\"id\":4,"));
  g_autoptr(BtAnswer) other = ask(lab, A_02, "GET", "/api/board", NULL);
  g_autofree char *all = body_of(other);
  assert_non_null(strstr(all, "\"id\":3,"));
}

static void a_trainee_looks_after_an_own_observation_or_ones_word(void **state) {
  Lab *lab = *state;
  assert_status(lab, T_01, "GET", "/api/observations/1/result", NULL, 403);
  assert_status(lab, T_01, "GET", "/api/sessions/S-1/review", NULL, 403);
  assert_status(lab, T_01, "GET", "/exports/workbook/T-01.xlsx", NULL, 403);
  assert_status(lab, T_01, "GET", "/api/trainees/T-01/progress.svg?rubric=splint", NULL, 403);
  assert_status(lab, T_01, "POST", "/api/observations", BEGIN("\"S-1\"", "T-01", "self"), 201);
  assert_status(lab, T_01, "POST", "/api/observations", BEGIN("\"S-1\"", "T-01", "self"), 200);
  assert_status(lab, T_01, "GET", "/api/observations/4", NULL, 200);
  assert_status(lab, T_01, "POST", "/api/sessions/S-1/look", NULL, 409);
  assert_status(lab, T_01, "GET", "/api/observations/1/result", NULL, 403);
  assert_status(lab, T_01, "POST", "/api/observations/4/close", "{\"entries\":0}", 200);
  assert_status(lab, T_01, "GET", "/api/observations/1/result", NULL, 200);
  assert_status(lab, T_01, "GET", "/api/sessions/S-1/review", NULL, 200);
  assert_status(lab, T_01, "GET", "/api/trainees/T-01/progress.svg?rubric=splint", NULL, 200);
  assert_status(lab, T_01, "GET", "/api/observations/2", NULL, 403); // still open
  assert_status(lab, T_02, "POST", "/api/sessions/S-2/look", NULL, 200);
  assert_status(lab, T_02, "GET", "/api/observations/3", NULL, 403);
  assert_status(lab, A_01, "POST", "/api/observations/3/close", "{\"entries\":1}", 200);
  assert_status(lab, T_02, "GET", "/api/observations/3", NULL, 200);
}

static void the_last_director_keeps_the_account(void **state) {
  Lab *lab = *state;
  assert_status(lab, D_01, "POST", "/api/people/D-01/account", "{\"remove\":true}", 409);
  assert_status(lab, D_01, "POST", "/api/people/A-01/account", "{\"remove\":true}", 200);
  assert_status(lab, A_01, "GET", "/api/me", NULL, 401);
  assert_status(lab, D_01, "POST", "/api/people/T-01/account", "{\"secret\":\"12345\"}", 422);
}

// Access on the chain ---------------------------------------------------------

static gint64 records_of(Lab *lab) {
  gint64 n = 0;
  BtVerifyReport report = {0};
  BtBook *book = fixture_open(&lab->fixture, BT_BOOK_READ);
  assert_true(bt_book_verify(book, &report, NULL));
  assert_int_equal(report.findings->len, 0);
  n = report.records_checked;
  bt_verify_report_clear(&report);
  bt_book_close(book);
  return n;
}

static void a_look_at_somebodys_record_is_on_the_chain_once(void **state) {
  Lab *lab = *state;
  gint64 before = records_of(lab);
  assert_status(lab, D_01, "GET", "/api/observations/1/result", NULL, 200);
  assert_status(lab, D_01, "GET", "/api/observations/1/result", NULL, 200);
  assert_int_equal(records_of(lab), before + 1);
  assert_status(lab, A_01, "GET", "/api/observations/1/result", NULL, 200);
  assert_int_equal(records_of(lab), before + 2);
}

int main(void) {
#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_table_is_what_the_contract_promises),
      TEST(each_role_may_what_is_for_it_and_no_more),
      TEST(no_change_without_its_token),
      TEST(things_of_others_stay_theirs),
      TEST(who_has_an_open_observation_sees_no_other_of_the_session),
      TEST(a_board_hides_the_other_bench_of_ones_own_session),
      TEST(a_trainee_looks_after_an_own_observation_or_ones_word),
      TEST(the_last_director_keeps_the_account),
      TEST(a_look_at_somebodys_record_is_on_the_chain_once),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
