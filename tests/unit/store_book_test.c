// SPDX-License-Identifier: GPL-3.0-or-later
//
// A book from its making to a corrected result: people, editions, recording, import, lists.
// clang-format off
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
// clang-format on

#include <sys/stat.h>

#include "fault/book_asserts.h"
#include "fault/book_fixture.h"

static int setup(void **state) {
  Fixture *fixture = g_new0(Fixture, 1);
  fixture_setup(fixture);
  *state = fixture;
  return 0;
}

static int teardown(void **state) {
  fixture_teardown(*state);
  g_free(*state);
  return 0;
}

static BtBook *filled_book(const Fixture *fixture) {
  BtBook *book = fixture_open(fixture, BT_BOOK_CREATE);
  fixture_fill(book);
  return book;
}

#define ONE_SESSION FIXTURE_EVENTS(FIXTURE_ROW("S-001", "T-01", "A-01", "live"))

static void import_one(const Fixture *fixture, BtBook *book) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  if (!fixture_import(fixture, book, ONE_SESSION, NULL, faults, &error)) {
    g_autofree char *words =
        faults->len ? bt_fault_format(faults->pdata[0]) : g_strdup(error->message);
    fail_msg("%s", words);
  }
}

// The only fault of an import that is refused. Caller frees.
static char *refused_import(const Fixture *fixture, BtBook *book, const char *text) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  assert_false(fixture_import(fixture, book, text, NULL, faults, &error));
  assert_null(error);
  assert_int_equal(bt_faults_count_errors(faults), 1);
  return bt_fault_format(faults->pdata[0]);
}

static void assert_holds(const char *text, const char *part) {
  if (!strstr(text, part))
    fail_msg("\"%s\" does not say \"%s\"", text, part);
}

// People and editions ---------------------------------------------------------

static void the_same_person_again_is_no_error(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GError) error = NULL;
  BtPerson person = {
      .code = (char *)"T-01", .name = (char *)"Ana Beech", .level = (char *)"year 2"};
  bool added = true;
  assert_true(bt_book_add_person(book, &person, &added, &error));
  assert_false(added);
  person.name = (char *)"Una Birch";
  assert_false(bt_book_add_person(book, &person, &added, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
}

// A level moves on, a name is corrected: what is not named stays, and the chain vouches for it.
static void a_person_is_amended_on_the_chain(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  BtPerson person = {.code = (char *)"T-9",
                     .name = (char *)"Una Ash",
                     .role = BT_ROLE_TRAINEE,
                     .level = (char *)"year 1"};
  bool changed = false;
  g_autoptr(GError) error = NULL;
  assert_true(bt_book_add_person(book, &person, NULL, &error));
  const BtPerson older = {.code = (char *)"T-9", .level = (char *)"year 2"};
  assert_true(bt_book_amend_person(book, &older, &changed, &error));
  assert_true(changed);
  assert_true(bt_book_amend_person(book, &older, &changed, &error));
  assert_false(changed);
  g_autoptr(BtPerson) now = bt_book_person(book, "T-9", &error);
  assert_string_equal(now->name, "Una Ash");
  assert_string_equal(now->level, "year 2");
  const BtPerson nameless = {.code = (char *)"T-9", .name = (char *)""};
  assert_true(bt_book_amend_person(book, &nameless, &changed, &error));
  g_autoptr(BtPerson) then = bt_book_person(book, "T-9", &error);
  assert_null(then->name);
  assert_sound(book);
  const BtPerson nobody = {.code = (char *)"T-99", .level = (char *)"year 2"};
  assert_false(bt_book_amend_person(book, &nobody, &changed, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_UNKNOWN));
}

static void a_new_book_is_for_its_owner_alone(void **state) {
  const Fixture *fixture = *state;
  mode_t before = umask(0);
  bt_book_close(filled_book(*state));
  umask(before);
  struct stat about;
  assert_int_equal(stat(fixture->path, &about), 0);
  assert_int_equal(about.st_mode & 0777, 0600);
}

static void people_are_listed_by_code(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GPtrArray) people = bt_book_people(book, -1, NULL);
  g_autoptr(GPtrArray) trainees = bt_book_people(book, BT_ROLE_TRAINEE, NULL);
  assert_int_equal(people->len, 4);
  assert_int_equal(trainees->len, 2);
  const BtPerson *first = people->pdata[0];
  assert_string_equal(first->code, "A-01");
  assert_string_equal(first->name, "Dr Rowan");
  assert_null(((const BtPerson *)people->pdata[1])->name);
}

static void a_file_of_people_is_taken_whole_or_not(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  int added = -1;
  int already = -1;
  g_autofree char *good = fixture_file(*state, "people.csv",
                                       "code,name,role,level\r\nT-01,Ana Beech,trainee,year 2\r\n"
                                       "T-09,\"Oak, Finn\",trainee,\r\n");
  assert_true(bt_book_add_people_file(book, good, &added, &already, faults, &error));
  assert_int_equal(added, 1);
  assert_int_equal(already, 1);
  g_autofree char *bad =
      fixture_file(*state, "bad.csv", "code,name,role\r\nT-10,Ash,trainee\r\nT-11,Fir,pupil\r\n");
  assert_false(bt_book_add_people_file(book, bad, &added, &already, faults, &error));
  assert_null(error);
  assert_int_equal(faults->len, 1);
  assert_int_equal(((const BtFault *)faults->pdata[0])->line, 3);
  assert_null(bt_book_person(book, "T-10", &error));
  assert_sound(book);
}

static void an_edition_is_frozen(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GError) error = NULL;
  g_autoptr(BtRubric) rubric = fixture_read_rubric();
  bool added = true;
  assert_true(bt_book_add_rubric(book, rubric, &added, &error));
  assert_false(added);
  rubric->sha256[0] = rubric->sha256[0] == 'a' ? 'b' : 'a';
  assert_false(bt_book_add_rubric(book, rubric, &added, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
}

// Recording -------------------------------------------------------------------

static const BtHeader live = {.session = "S-100",
                              .trainee = "T-01",
                              .assessor = "A-01",
                              .rubric = "splint",
                              .edition = 1,
                              .started_ms = FIXTURE_STARTED_MS,
                              .mode = BT_MODE_LIVE};

static gint64 begin(BtBook *book, const BtHeader *header) {
  gint64 id = 0;
  g_autoptr(GError) error = NULL;
  if (!bt_book_begin(book, header, &id, &error))
    fail_msg("%s", error->message);
  return id;
}

static int append(BtBook *book, gint64 id, gint64 at_ms, BtEventKind kind, const char *uuid) {
  const BtDetailValue details[] = {{.detail = 0, .milli = 16000},
                                   {.detail = 2, .word = 1, .text = "lag"}};
  bool work = kind == BT_EVENT_WORK;
  const BtEvent event = {.at_ms = at_ms,
                         .kind = kind,
                         .action = work ? 1 : -1,
                         .site = work ? 0 : -1,
                         .item = -1,
                         .component = -1,
                         .details = work ? details : NULL,
                         .n_details = work ? 2 : 0};
  int seq = 0;
  g_autoptr(GError) error = NULL;
  if (!bt_book_append(book, id, &event, uuid, &seq, &error))
    fail_msg("%s", error->message);
  return seq;
}

static void an_event_comes_back_as_it_went_in(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  gint64 id = begin(book, &live);
  assert_int_equal(append(book, id, 0, BT_EVENT_START, NULL), 1);
  assert_int_equal(append(book, id, 65250, BT_EVENT_WORK, NULL), 2);
  const BtRubric *rubric = NULL;
  g_autoptr(BtObservation) observation = bt_book_load(book, id, &rubric, NULL);
  assert_non_null(observation);
  assert_int_equal(observation->events->len, 2);
  const BtEvent *event = &g_array_index(observation->events, BtEvent, 1);
  assert_int_equal(event->at_ms, 65250);
  assert_int_equal(event->action, 1);
  assert_int_equal(event->site, 0);
  assert_int_equal(event->n_details, 2);
  assert_int_equal(event->details[0].milli, 16000);
  assert_string_equal(event->details[1].text, "lag");
  assert_int_equal(event->details[1].word, 1);
  assert_string_equal(rubric->id, "splint");
}

static void an_event_sent_twice_is_kept_once(void **state) {
  static const char uuid[] = "01890a5d-ac96-774b-bcce-b302099a8057";
  g_autoptr(BtBook) book = filled_book(*state);
  gint64 id = begin(book, &live);
  assert_int_equal(append(book, id, 0, BT_EVENT_START, uuid), 1);
  assert_int_equal(append(book, id, 0, BT_EVENT_START, uuid), 1);
  assert_int_equal(append(book, id, 5, BT_EVENT_NOTE, NULL), 2);
  const BtEvent other = {.at_ms = 9, .kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1};
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_append(book, id, &other, uuid, NULL, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
}

static void corrections_rule_the_effective_log(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GError) error = NULL;
  gint64 id = begin(book, &live);
  append(book, id, 0, BT_EVENT_START, NULL);
  append(book, id, 1000, BT_EVENT_NOTE, NULL);
  append(book, id, 2000, BT_EVENT_WORK, NULL);
  const BtEvent moved = {
      .at_ms = 2500, .kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1};
  assert_true(bt_book_strike(book, id, 2, "logged twice", &error));
  assert_true(bt_book_amend(book, id, 3, &moved, "was a note", &error));
  assert_int_equal(append(book, id, 3000, BT_EVENT_FINISH, NULL), 4);
  g_autoptr(BtObservation) observation = bt_book_load(book, id, NULL, &error);
  assert_int_equal(observation->events->len, 3);
  assert_int_equal(g_array_index(observation->events, BtEvent, 1).seq, 3);
  assert_int_equal(g_array_index(observation->events, BtEvent, 1).at_ms, 2500);
  assert_false(bt_book_strike(book, id, 2, "again", &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
  g_clear_error(&error);
  assert_false(bt_book_amend(book, id, 9, &moved, "no such", &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_UNKNOWN));
  g_clear_error(&error);
  assert_false(bt_book_strike(book, id, 1, "", &error));
  g_autoptr(GPtrArray) history = bt_book_history(book, id, NULL);
  assert_int_equal(history->len, 7); // opening, 4 events, 2 corrections
  assert_false(((const BtRecord *)history->pdata[2])->effective);
  assert_string_equal(((const BtRecord *)history->pdata[3])->details, "length 16 mm, use lag");
  assert_false(((const BtRecord *)history->pdata[3])->effective);
  assert_string_equal(((const BtRecord *)history->pdata[5])->reason, "was a note");
  assert_true(((const BtRecord *)history->pdata[5])->effective);
  assert_sound(book);
}

static void a_receipt_is_the_last_link_in_groups(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GError) error = NULL;
  g_autofree char *receipt = NULL;
  gint64 id = begin(book, &live);
  append(book, id, 0, BT_EVENT_START, NULL);
  assert_true(bt_book_finish(book, id, &receipt, &error));
  assert_int_equal(strlen(receipt), 23);
  g_autoptr(GPtrArray) history = bt_book_history(book, id, NULL);
  const char *link = ((const BtRecord *)history->pdata[2])->link_sha256;
  assert_memory_equal(receipt, link, 5);
  assert_memory_equal(receipt + 18, link + 15, 5);
  const BtEvent late = {.kind = BT_EVENT_NOTE, .action = -1, .site = -1, .item = -1};
  assert_false(bt_book_append(book, id, &late, NULL, NULL, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
  assert_sound(book);
}

static void a_correction_after_closing_adds_a_result(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GError) error = NULL;
  import_one(*state, book);
  g_autoptr(GPtrArray) before = bt_book_sessions(book, NULL, NULL);
  gint64 id = ((const BtSessionRow *)before->pdata[0])->id;
  g_autofree char *json = bt_book_result_json(book, id, NULL);
  assert_true(bt_book_strike(book, id, 2, "seen on the video: not reduced", &error));
  g_autofree char *json_after = bt_book_result_json(book, id, NULL);
  assert_string_not_equal(json, json_after);
  g_autoptr(GPtrArray) after = bt_book_sessions(book, NULL, NULL);
  const BtSessionRow *row = after->pdata[0];
  assert_int_equal(row->corrections, 1);
  assert_int_equal(row->events, FIXTURE_FILE_EVENTS - 1);
  assert_true(row->given_mp[BT_STEPS] <
              ((const BtSessionRow *)before->pdata[0])->given_mp[BT_STEPS]);
  assert_sound(book);
}

static void people_who_may_not_are_refused(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  gint64 id = 0;
  BtHeader header = live;
  g_autoptr(GError) unknown = NULL;
  header.trainee = "T-O1";
  assert_false(bt_book_begin(book, &header, &id, &unknown));
  assert_true(g_error_matches(unknown, BT_ERROR, BT_ERROR_UNKNOWN));
  assert_holds(unknown->message, "did you mean \"T-01\"?");
  g_autoptr(GError) wrong_role = NULL;
  header.trainee = "A-01";
  assert_false(bt_book_begin(book, &header, &id, &wrong_role));
  assert_true(g_error_matches(wrong_role, BT_ERROR, BT_ERROR_CONFLICT));
  g_autoptr(GError) self = NULL;
  header = live;
  header.mode = BT_MODE_SELF;
  assert_false(bt_book_begin(book, &header, &id, &self));
  assert_holds(self->message, "in mode self both are the trainee");
}

// Import ----------------------------------------------------------------------

static void an_import_closes_and_scores(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  import_one(*state, book);
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, NULL);
  assert_int_equal(rows->len, 1);
  const BtSessionRow *row = rows->pdata[0];
  assert_true(row->closed && row->of_record);
  assert_int_equal(row->events, FIXTURE_FILE_EVENTS);
  assert_int_equal(row->attempt, 1);
  // By the scoring law: reduced 2 of 2; one of two screws has an expected length: 2 of 4.
  assert_int_equal(row->given_mp[BT_STEPS], 4000);
  assert_int_equal(row->possible_mp[BT_STEPS], 6000);
  assert_int_equal(row->given_mp[BT_ORDER], 2000);
  assert_int_equal(row->total_ms, 5 * 60 * 1000);
  assert_sound(book);
}

static void importing_again_adds_nothing(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  import_one(*state, book);
  char before[BT_SHA256_HEX + 1], after[BT_SHA256_HEX + 1];
  gint64 records = 0;
  assert_true(bt_book_head(book, before, &records, NULL));
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtImportCount count = {0};
  assert_true(fixture_import(*state, book, ONE_SESSION, &count, faults, NULL));
  assert_int_equal(count.observations, 0);
  assert_int_equal(count.events, 0);
  assert_int_equal(count.observations_already, 1);
  assert_int_equal(count.events_already, FIXTURE_FILE_EVENTS);
  assert_true(bt_book_head(book, after, &records, NULL));
  assert_string_equal(before, after);
}

static void a_closed_observation_takes_no_other_rows(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  import_one(*state, book);
  g_autofree char *more = refused_import(
      *state, book,
      ONE_SESSION FIXTURE_ROW("S-001", "T-01", "A-01", "live") "6:00,note,,,,,late,,\n");
  assert_holds(more, "events.csv:9: ");
  assert_holds(more, "after the 7 events");
  g_autoptr(GString) changed = g_string_new(ONE_SESSION);
  g_string_replace(changed, "2:00", "2:01", 1);
  g_autofree char *different = refused_import(*state, book, changed->str);
  assert_holds(different, "events.csv:4: ");
  assert_holds(different, "event 3");
  g_string_truncate(changed, 0);
  g_string_append(changed, FIXTURE_ROW("S-001", "T-01", "A-01", "live") "0:00,start,,,,,,,\n");
  g_autofree char *fewer = refused_import(*state, book, changed->str);
  assert_holds(fewer, "has 7 events there, 1 in this file");
  assert_holds(fewer, "benchtally amend");
}

static void an_unknown_person_is_a_fault_with_its_line(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autofree char *text = refused_import(
      *state, book, ONE_SESSION FIXTURE_EVENTS(FIXTURE_ROW("S-002", "T-20", "A-01", "live")));
  assert_holds(text, "events.csv:9: ");
  assert_holds(text, "no trainee \"T-20\"");
  assert_holds(text, "benchtally person add T-20 --role trainee");
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, NULL);
  assert_int_equal(rows->len, 0);
  assert_sound(book);
}

static void sessions_may_be_scattered_over_a_file(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtImportCount count = {0};
  static const char text[] = FIXTURE_ROW("S-001", "T-01", "A-01", "live") "0:00,start,,,,,,,\n" //
      FIXTURE_ROW("S-002", "T-02", "A-01", "live") "0:00,start,,,,,,,\n"                        //
      FIXTURE_ROW("S-001", "T-01", "A-01", "live") "2:00,finish,,,,,,,\n"                       //
      FIXTURE_ROW("S-002", "T-02", "A-01", "live") "1:00,finish,,,,,,,\n";
  assert_true(fixture_import(*state, book, text, &count, faults, NULL));
  assert_int_equal(count.sessions, 2);
  assert_int_equal(count.observations, 2);
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, NULL);
  assert_int_equal(((const BtSessionRow *)rows->pdata[0])->total_ms, 120000);
  assert_int_equal(((const BtSessionRow *)rows->pdata[1])->total_ms, 60000);
  assert_sound(book);
}

// More rows than are sealed at once, of sessions that take turns.
static void a_long_file_of_mixed_sessions_is_sound(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GString) text = g_string_new(NULL);
  for (int i = 0; i < 2500; i++)
    g_string_append_printf(text,
                           "S-%03d,T-0%d,A-01,splint,1,2026-03-04T09:05:00Z,live,%d,screw,shaft,,,,"
                           "note %d,16,lag\n",
                           i % 3, 1 + i % 3 % 2, i, i);
  BtImportCount count = {0};
  assert_true(fixture_import(*state, book, text->str, &count, faults, NULL));
  assert_int_equal(count.events, 2500);
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, NULL, NULL);
  assert_int_equal(rows->len, 3);
  g_autoptr(BtObservation) observation =
      bt_book_load(book, ((const BtSessionRow *)rows->pdata[0])->id, NULL, NULL);
  assert_int_equal(observation->events->len, 834);
  assert_string_equal(g_array_index(observation->events, BtEvent, 833).note, "note 2499");
  assert_sound(book);
}

static void an_id_that_is_taken_is_a_fault_with_its_line(void **state) {
  static const char uuid[] = "01890a5d-ac96-774b-bcce-b302099a8057";
  g_autoptr(BtBook) book = filled_book(*state);
  append(book, begin(book, &live), 0, BT_EVENT_START, uuid);
  g_autofree char *text =
      g_strdup_printf("session,trainee,assessor,rubric,edition,started,mode,time,action,id\n" //
                      FIXTURE_ROW("S-001", "T-01", "A-01", "live") "0:00,start,\n"            //
                      FIXTURE_ROW("S-001", "T-01", "A-01", "live") "1:00,finish,%s\n",
                      uuid);
  g_autofree char *path = fixture_file(*state, "ids.csv", text);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  assert_false(bt_book_import(book, path, NULL, faults, NULL, NULL, &error));
  assert_null(error);
  assert_int_equal(faults->len, 1);
  assert_int_equal(((const BtFault *)faults->pdata[0])->line, 3);
  assert_sound(book);
}

// Lists -----------------------------------------------------------------------

static void the_first_closed_live_observation_is_of_record(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  BtHeader video = live;
  video.mode = BT_MODE_VIDEO;
  BtHeader second = live;
  second.assessor = "A-02";
  BtHeader self = live;
  self.mode = BT_MODE_SELF;
  self.assessor = live.trainee;
  gint64 by_video = begin(book, &video);
  gint64 by_self = begin(book, &self);
  gint64 by_first = begin(book, &live);
  gint64 by_second = begin(book, &second);
  const gint64 closing[] = {by_self, by_video, by_second, by_first};
  const gint64 of_record[] = {0, by_video, by_second, by_second};
  gint64 now_ms = FIXTURE_STARTED_MS;
  bt_book_set_clock(book, fixture_clock, &now_ms);
  for (gsize i = 0; i < G_N_ELEMENTS(closing); i++) {
    assert_true(bt_book_finish(book, closing[i], NULL, NULL));
    g_autoptr(GPtrArray) rows =
        bt_book_sessions(book, &(BtSessionFilter){.of_record_only = true}, NULL);
    assert_int_equal(rows->len, of_record[i] != 0);
    if (of_record[i])
      assert_int_equal(((const BtSessionRow *)rows->pdata[0])->id, of_record[i]);
  }
}

static void the_director_may_name_another(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  g_autoptr(GError) error = NULL;
  BtHeader video = live;
  video.mode = BT_MODE_VIDEO;
  BtHeader self = live;
  self.mode = BT_MODE_SELF;
  self.assessor = live.trainee;
  gint64 by_live = begin(book, &live);
  gint64 by_video = begin(book, &video);
  gint64 by_self = begin(book, &self);
  assert_true(bt_book_finish(book, by_live, NULL, NULL));
  assert_false(bt_book_name_record(book, by_video, "the room was dark", &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
  assert_true(bt_book_finish(book, by_video, NULL, NULL) &&
              bt_book_finish(book, by_self, NULL, NULL));
  assert_false(bt_book_name_record(book, by_self, "says so himself", NULL));
  assert_true(bt_book_name_record(book, by_video, "the room was dark", NULL));
  g_autoptr(GPtrArray) rows =
      bt_book_sessions(book, &(BtSessionFilter){.of_record_only = true}, NULL);
  assert_int_equal(rows->len, 1);
  assert_int_equal(((const BtSessionRow *)rows->pdata[0])->id, by_video);
  assert_sound(book);
}

static void attempts_are_counted_by_start(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  BtHeader later = live;
  later.session = "S-050"; // a lesser code, a later start
  later.started_ms += 60000;
  begin(book, &later);
  begin(book, &live);
  g_autoptr(GPtrArray) rows = bt_book_sessions(book, &(BtSessionFilter){.trainee = "T-01"}, NULL);
  assert_string_equal(((const BtSessionRow *)rows->pdata[0])->session, "S-100");
  assert_int_equal(((const BtSessionRow *)rows->pdata[0])->attempt, 1);
  assert_int_equal(((const BtSessionRow *)rows->pdata[1])->attempt, 2);
  g_autoptr(GPtrArray) one = bt_book_sessions(book, &(BtSessionFilter){.session = "S-050"}, NULL);
  assert_int_equal(one->len, 1);
  assert_int_equal(((const BtSessionRow *)one->pdata[0])->attempt, 2);
}

static void an_export_does_not_move_the_head(void **state) {
  g_autoptr(BtBook) book = filled_book(*state);
  char before[BT_SHA256_HEX + 1], after[BT_SHA256_HEX + 1];
  gint64 records = 0, records_after = 0;
  assert_true(bt_book_head(book, before, &records, NULL));
  assert_true(bt_book_note_export(book, "workbook", "T-01", before, NULL));
  assert_true(bt_book_head(book, after, &records_after, NULL));
  assert_string_equal(before, after);
  assert_int_equal(records, records_after);
  assert_sound(book);
}

#define BOOK_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void) {
  const struct CMUnitTest tests[] = {
      BOOK_TEST(the_same_person_again_is_no_error),
      BOOK_TEST(a_person_is_amended_on_the_chain),
      BOOK_TEST(a_new_book_is_for_its_owner_alone),
      BOOK_TEST(people_are_listed_by_code),
      BOOK_TEST(a_file_of_people_is_taken_whole_or_not),
      BOOK_TEST(an_edition_is_frozen),
      BOOK_TEST(an_event_comes_back_as_it_went_in),
      BOOK_TEST(an_event_sent_twice_is_kept_once),
      BOOK_TEST(corrections_rule_the_effective_log),
      BOOK_TEST(a_receipt_is_the_last_link_in_groups),
      BOOK_TEST(a_correction_after_closing_adds_a_result),
      BOOK_TEST(people_who_may_not_are_refused),
      BOOK_TEST(an_import_closes_and_scores),
      BOOK_TEST(importing_again_adds_nothing),
      BOOK_TEST(a_closed_observation_takes_no_other_rows),
      BOOK_TEST(an_unknown_person_is_a_fault_with_its_line),
      BOOK_TEST(sessions_may_be_scattered_over_a_file),
      BOOK_TEST(a_long_file_of_mixed_sessions_is_sound),
      BOOK_TEST(an_id_that_is_taken_is_a_fault_with_its_line),
      BOOK_TEST(the_first_closed_live_observation_is_of_record),
      BOOK_TEST(the_director_may_name_another),
      BOOK_TEST(attempts_are_counted_by_start),
      BOOK_TEST(an_export_does_not_move_the_head),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
