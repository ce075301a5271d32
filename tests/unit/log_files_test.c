// SPDX-License-Identifier: GPL-3.0-or-later
//
// Files of events in: forms, encodings, line ends, grouping, and how much is kept of what is wrong.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <csv.h>
#include <glib/gstdio.h>

#include <benchtally/log.h>

#include "support/log_rubric.h"

#define HEADER                                                                                     \
  "session,trainee,assessor,rubric,edition,started,mode,time,action,site,note,length,hole,use\n"
#define S1 "S1,T1,A1,forearm,1,2026-03-04T09:05:00Z,live,"
#define S2 "S2,T2,A1,forearm,1,2026-03-04T10:05:00Z,live,"

typedef struct {
  BtRubric *rubric;
  char *folder, *path;
  GPtrArray *faults;
} Bench;

static int set_up(void **state) {
  Bench *bench = g_new0(Bench, 1);
  bench->rubric = log_rubric_new();
  bench->folder = g_dir_make_tmp("bt-log-XXXXXX", NULL);
  bench->path = g_build_filename(bench->folder, "events", NULL);
  bench->faults = bt_faults_new();
  *state = bench;
  return 0;
}

static int tear_down(void **state) {
  Bench *bench = *state;
  (void)g_remove(bench->path);
  assert_int_equal(g_rmdir(bench->folder), 0);
  bt_rubric_free(bench->rubric);
  g_ptr_array_unref(bench->faults);
  g_free(bench->folder);
  g_free(bench->path);
  g_free(bench);
  return 0;
}

static GPtrArray *read_bytes(Bench *bench, const char *text, gsize length) {
  g_autoptr(GError) error = NULL;
  assert_true(g_file_set_contents(bench->path, text, (gssize)length, NULL));
  g_ptr_array_set_size(bench->faults, 0);
  GPtrArray *observations =
      bt_log_read_observations(bench->path, bench->rubric, bench->faults, &error);
  assert_null(error);
  return observations;
}

static GPtrArray *read_text(Bench *bench, const char *text) {
  return read_bytes(bench, text, strlen(text));
}

// Everything that an event holds, as one line.
static void append_event(GString *out, const BtEvent *event) {
  g_string_append_printf(
      out, "%d %d kind %d action %d site %d item %d component %d value %d redo %d", event->seq,
      (int)event->at_ms, (int)event->kind, event->action, event->site, event->item,
      event->component, (int)event->value_milli, event->redo);
  for (int i = 0; i < event->n_details; i++)
    g_string_append_printf(out, " [%d %d %d %s]", event->details[i].detail,
                           (int)event->details[i].milli, event->details[i].word,
                           event->details[i].text ? event->details[i].text : "-");
  g_string_append_printf(out, " note %s\n", event->note ? event->note : "-");
}

static char *dump(const GPtrArray *observations) {
  GString *out = g_string_new(NULL);
  for (guint i = 0; observations && i < observations->len; i++) {
    const BtObservation *observation = observations->pdata[i];
    const BtHeader *header = &observation->header;
    g_string_append_printf(out, "%s %s %s %s %d %" G_GINT64_FORMAT " %d\n", header->session,
                           header->trainee, header->assessor, header->rubric, header->edition,
                           header->started_ms, (int)header->mode);
    for (guint e = 0; e < observation->events->len; e++)
      append_event(out, &g_array_index(observation->events, BtEvent, e));
  }
  return g_string_free(out, FALSE);
}

static const BtObservation *observation_at(const GPtrArray *observations, guint i) {
  assert_non_null(observations);
  assert_true(i < observations->len);
  return observations->pdata[i];
}

static const BtEvent *event_at(const GPtrArray *observations, guint observation, guint event) {
  const BtObservation *holder = observation_at(observations, observation);
  assert_true(event < holder->events->len);
  return &g_array_index(holder->events, BtEvent, event);
}

static void assert_fault(const Bench *bench, guint i, int line, int column, const char *words) {
  assert_true(i < bench->faults->len);
  const BtFault *fault = bench->faults->pdata[i];
  g_autofree char *said = bt_fault_format(fault);
  if (fault->line != line || fault->column != column || !strstr(said, words))
    fail_msg("expected %d:%d %s, but: %s", line, column, words, said);
}

static const char plain[] = HEADER S1
    "0:00,start,,,,,\n" S1 "1:05,screw,ulna-shaft,good,16,3,lag\n" S1 "2:00,finish,,,,,\n";

static void a_plain_file_gives_its_observation(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) observations = read_text(bench, plain);
  g_autofree char *text = dump(observations);
  assert_int_equal(bench->faults->len, 0);
  assert_string_equal(
      text, "S1 T1 A1 forearm 1 1772615100000 0\n"
            "1 0 kind 1 action -1 site -1 item -1 component -1 value 0 redo 0 note -\n"
            "2 65000 kind 0 action 2 site 1 item -1 component -1 value 0 redo 0"
            " [0 16000 -1 -] [1 3000 -1 -] [2 0 2 lag] note good\n"
            "3 120000 kind 2 action -1 site -1 item -1 component -1 value 0 redo 0 note -\n");
}

// Reads `plain` with `ending` for every line end, `before` in front, without its last line end if
// `cut`.
static void assert_same_as_plain(Bench *bench, const char *before, const char *ending, bool cut) {
  g_autoptr(GPtrArray) first = read_text(bench, plain);
  g_autofree char *expected = dump(first);
  g_auto(GStrv) lines = g_strsplit(plain, "\n", -1);
  g_autofree char *body = g_strjoinv(ending, lines);
  g_autofree char *text = g_strconcat(before, body, NULL);
  g_autoptr(GPtrArray) again = read_bytes(bench, text, strlen(text) - (cut ? strlen(ending) : 0));
  g_autofree char *got = dump(again);
  assert_string_equal(got, expected);
}

static void line_ends_and_a_byte_order_mark_make_no_difference(void **state) {
  static const char *const endings[] = {"\n", "\r\n", "\r"};
  for (gsize i = 0; i < G_N_ELEMENTS(endings); i++) {
    assert_same_as_plain(*state, "", endings[i], false);
    assert_same_as_plain(*state, "", endings[i], true);
    assert_same_as_plain(*state, "\xEF\xBB\xBF", endings[i], false);
  }
}

static void lines_are_counted_whatever_ends_them(void **state) {
  Bench *bench = *state;
  static const char *const endings[] = {"\n", "\r\n", "\r"};
  for (gsize i = 0; i < G_N_ELEMENTS(endings); i++) {
    g_auto(GStrv) lines =
        g_strsplit(HEADER "\n" S1 "0:00,note,,\"a\nb\",,,\n" S1 "1:5,mark,,,,,\n", "\n", -1);
    g_autofree char *text = g_strjoinv(endings[i], lines);
    g_autoptr(GPtrArray) observations = read_text(bench, text);
    assert_null(observations);
    assert_fault(bench, 0, 5, 46, "\"1:5\" is no time");
    assert_int_equal(bench->faults->len, 1);
  }
}

static void columns_may_stand_in_any_order(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) observations = read_text(
      bench, "use,action,time,mode,started,edition,rubric,assessor,trainee,session,site\n"
             "lag,screw,1:05,video,2026-03-04T10:05:00+01:00,1,forearm,A1,T1,S1,ulna-shaft\n");
  const BtObservation *observation = observation_at(observations, 0);
  assert_string_equal(observation->header.session, "S1");
  assert_int_equal(observation->header.mode, BT_MODE_VIDEO);
  assert_int_equal(observation->header.started_ms, G_GINT64_CONSTANT(1772615100000));
  assert_int_equal(event_at(observations, 0, 0)->details[0].word, 2);
}

// RFC 4180, section 2, rules 5 to 7, with its own fields aaa, b CRLF bb, ccc and b""bb as notes.
static void the_examples_of_rfc_4180_are_read(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) observations =
      read_text(bench, HEADER S1 "0:01,note,,\"aaa\",,,\r\n" S1 "0:02,note,,\"b\r\nbb\",,,\r\n" S1
                                 "0:03,note,,\"b\"\"bb\",,,\r\n" S1 "0:04,note,,\"c,c\",,,\r\n" S1
                                 "0:05,note,,\"\",,,\r\n" S1 "0:06,note,,\"\"\"\",,,");
  assert_string_equal(event_at(observations, 0, 0)->note, "aaa");
  assert_string_equal(event_at(observations, 0, 1)->note, "b\r\nbb");
  assert_string_equal(event_at(observations, 0, 2)->note, "b\"bb");
  assert_string_equal(event_at(observations, 0, 3)->note, "c,c");
  assert_null(event_at(observations, 0, 4)->note);
  assert_string_equal(event_at(observations, 0, 5)->note, "\"");
}

// Where we differ from RFC 4180 on purpose: sheets typed by hand have blanks behind their commas.
static void blanks_round_a_field_without_quotes_are_no_part_of_it(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) observations =
      read_text(bench, HEADER S1 " 0:01 , note,, two words ,,,\n" S1 "0:02,note,,\" kept \",,,\n");
  assert_int_equal(event_at(observations, 0, 0)->at_ms, 1000);
  assert_string_equal(event_at(observations, 0, 0)->note, "two words");
  assert_string_equal(event_at(observations, 0, 1)->note, " kept ");
}

static void empty_lines_and_empty_nameless_columns_do_no_harm(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) observations = read_text(
      bench, "\n\nsession,trainee,assessor,rubric,edition,started,mode,time,action,,\n\n" S1
             "0:01,mark,,\n\n\n" S1 "0:02,mark,,\n\n");
  assert_int_equal(observation_at(observations, 0)->events->len, 2);
  assert_int_equal(bench->faults->len, 0);
}

static void scattered_rows_are_one_observation_in_their_order(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) observations =
      read_text(bench, HEADER S1 "0:10,start,,,,,\n" S2 "0:20,start,,,,,\n" S1 "0:05,mark,,,,,\n" S2
                                 "0:30,finish,,,,,\n" S1 "0:40,finish,,,,,\n"
                                 "S1,T1,A2,forearm,1,2026-03-04T09:05:00Z,live,0:01,mark,,,,,\n"
                                 "S1,T1,A1,forearm,1,2026-03-04T09:05:00Z,video,0:02,mark,,,,,\n");
  assert_int_equal(observations->len, 4);
  assert_string_equal(observation_at(observations, 0)->header.session, "S1");
  assert_string_equal(observation_at(observations, 1)->header.session, "S2");
  assert_string_equal(observation_at(observations, 2)->header.assessor, "A2");
  assert_int_equal(observation_at(observations, 3)->header.mode, BT_MODE_VIDEO);
  assert_int_equal(observation_at(observations, 0)->events->len, 3);
  for (guint i = 0; i < 3; i++)
    assert_int_equal(event_at(observations, 0, i)->seq, (int)i + 1);
  assert_int_equal(event_at(observations, 0, 1)->at_ms, 5000);
  assert_int_equal(event_at(observations, 1, 1)->seq, 2);
}

static void the_same_moment_written_otherwise_is_no_other_session(void **state) {
  Bench *bench = *state;
  g_autoptr(GPtrArray) observations = read_text(
      bench, HEADER S1 "0:10,start,,,,,\n"
                       "S1,T1,A1,forearm,01,2026-03-04T10:05:00+01:00,live,0:20,mark,,,,,\n");
  assert_int_equal(observation_at(observations, 0)->events->len, 2);
}

static void both_forms_of_one_log_give_the_same_observations(void **state) {
  Bench *bench = *state;
#define J1                                                                                         \
  "{\"session\":\"S1\",\"trainee\":\"T1\",\"assessor\":\"A1\",\"rubric\":\"forearm\",\"edition\":"
#define J2 ",\"started\":\"2026-03-04T09:05:00Z\",\"mode\":\"live\",\"time\":"
  g_autoptr(GPtrArray) csv = read_text(
      bench,
      "session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,"
      "note,length,hole,use\n" S1 "0:00,start,,,,,,,,\n" S1
      "1:15.25,screw,ulna-shaft,,,,\"gr\xC3\xB6\xC3\x9F"
      "er, \"\"16\"\"\",16.5,3,lag\n" S1 "1:20,screw,ulna-shaft,,,yes,,,3,\n" S1
      "1:30,screw,ulna-shaft,,,2,,,,\n" S1 "1:40,measure,,gap,0.125 mm,,,,,\n" S1
      "1:50,rate,,flow,4,,,,,\n");
  g_autofree char *from_csv = dump(csv);
  g_autoptr(GPtrArray) jsonl = read_text(
      bench,
      J1 "1" J2 "0,\"action\":\"start\",\"site\":null}\n"
         "\n" J1 "\"1\"" J2
         "75.25,\"action\":\"screw\",\"site\":\"ulna-shaft\",\"length\":16.5,\"hole\":3,"
         "\"use\":\"lag\",\"note\":\"gr\\u00f6\xC3\x9F"
         "er, \\\"16\\\"\",\"redo\":false}\r\n" J1 "1" J2
         "\"1:20\",\"action\":\"screw\",\"site\":\"ulna-shaft\",\"redo\":true,\"hole\":\"3\"}\n" J1
         "1" J2 "90,\"action\":\"screw\",\"site\":\"ulna-shaft\",\"redo\":2}\n" J1 "1" J2
         "100,\"action\":\"measure\",\"item\":\"gap\",\"value\":0.125}\n" J1 "1" J2
         "110,\"action\":\"rate\",\"item\":\"flow\",\"value\":4}");
  g_autofree char *from_jsonl = dump(jsonl);
  assert_int_equal(bench->faults->len, 0);
  assert_int_equal(observation_at(jsonl, 0)->events->len, 6);
  assert_string_equal(from_jsonl, from_csv);
}

static void every_decimal_of_three_places_survives_json(void **state) {
  Bench *bench = *state;
  g_autoptr(GString) text = g_string_new(NULL);
  for (int milli = 0; milli < 2000; milli++)
    g_string_append_printf(
        text, J1 "1" J2 "0,\"action\":\"measure\",\"item\":\"gap\",\"value\":%s%d.%03d}\n",
        milli % 2 ? "-" : "", 997 + milli / 1000 * 1001, milli % 1000);
  g_autoptr(GPtrArray) observations = read_text(bench, text->str);
  for (int milli = 0; milli < 2000; milli++) {
    gint64 expected = (997 + milli / 1000 * 1001) * 1000 + milli % 1000;
    assert_int_equal(event_at(observations, 0, (guint)milli)->value_milli,
                     milli % 2 ? -expected : expected);
  }
}

// libcsv's own writer puts every field in quotes.
static void append_field(GString *out, const char *field) {
  gsize length = strlen(field);
  gsize at = out->len;
  g_string_set_size(out, at + 2 * length + 2);
  g_string_truncate(out, at + csv_write(out->str + at, 2 * length + 2, field, length));
}

static void what_another_writer_quotes_is_read_back(void **state) {
  Bench *bench = *state;
  static const char *const notes[] = {
      "plain",   "a,b",   "say \"so\"", "two\nlines", "two\r\nlines",  "cr\ronly",
      " blank ", "\ttab", "\"",         "\"\"",       "=1+1",          "+1",
      "-1",      "@x",    "'quoted'",   ";",          "L\xC3\xB6sung", ",",
      "\n"};
  g_autoptr(GString) text = g_string_new(HEADER);
  for (gsize i = 0; i < G_N_ELEMENTS(notes); i++) {
    g_string_append(text, S1 "0:01,note,");
    g_string_append_c(text, ',');
    append_field(text, notes[i]);
    g_string_append(text, ",,,\n");
  }
  g_autoptr(GPtrArray) observations = read_text(bench, text->str);
  assert_int_equal(bench->faults->len, 0);
  for (guint i = 0; i < G_N_ELEMENTS(notes); i++)
    assert_string_equal(event_at(observations, 0, i)->note, notes[i]);
}

static void only_the_first_faults_are_kept_and_the_rest_counted(void **state) {
  Bench *bench = *state;
  g_autoptr(GString) text = g_string_new(HEADER);
  for (int i = 0; i < 250; i++)
    g_string_append(text, S1 "1:5,mark,,,,,\n");
  for (int i = 0; i < 21; i++)
    g_string_append(text, S1 "1:05,reduce,,,,,\n");
  assert_null(read_text(bench, text->str));
  assert_int_equal(bench->faults->len, 100 + 20 + 1);
  assert_fault(bench, 99, 101, 46, "\"1:5\" is no time");
  assert_fault(bench, 120, 0, 0, "150 more faults and 1 more warning not shown");
}

// A sheet leaves rows of nothing but commas below, between and before what was typed.
static void a_row_of_nothing_but_commas_is_no_row(void **state) {
  Bench *bench = *state;
  g_autoptr(GString) text = g_string_new(",,,,,,,\n" HEADER);
  g_string_append(text,
                  S1 "0:01,mark,,,,,\n,,,,,,,,,,,,,,,,,,\n" S1 "0:02,mark,,,,,\n,,,,\n , ,\n");
  g_autoptr(GPtrArray) observations = read_text(bench, text->str);
  assert_non_null(observations);
  assert_int_equal(observation_at(observations, 0)->events->len, 2);
  assert_int_equal(bt_faults_count_errors(bench->faults), 0);
  g_string_append(text, ",,,,,x\n");
  assert_null(read_text(bench, text->str));
}

static void many_warnings_hide_no_fault_and_refuse_nothing(void **state) {
  Bench *bench = *state;
  g_autoptr(GString) text = g_string_new(HEADER);
  for (int i = 0; i < 150; i++)
    g_string_append(text, S1 "1:05,reduce,,,,,\n");
  g_autoptr(GPtrArray) observations = read_text(bench, text->str);
  assert_int_equal(observation_at(observations, 0)->events->len, 150);
  assert_int_equal(bench->faults->len, 20 + 1);
  assert_int_equal(bt_faults_count_errors(bench->faults), 0);
  g_string_append(text, S1 "1:5,mark,,,,,\n");
  assert_null(read_text(bench, text->str));
  assert_int_equal(bt_faults_count_errors(bench->faults), 1);
}

static void an_unclosed_quote_does_not_swallow_the_file(void **state) {
  Bench *bench = *state;
  g_autoptr(GString) text = g_string_new(HEADER S1 "0:01,note,,\"slow,,,\n");
  for (int i = 0; i < 40000; i++)
    g_string_append(text, S1 "0:02,mark,,,,,\n");
  assert_null(read_text(bench, text->str));
  assert_int_equal(bench->faults->len, 1);
  assert_fault(bench, 0, 2, 57, "a quote opens here and is not closed within 1 MiB");
}

static void a_line_without_end_is_refused_in_both_forms(void **state) {
  Bench *bench = *state;
  g_autofree char *long_text = g_strnfill(2 * 1024 * 1024, 'x');
  g_autofree char *csv = g_strconcat(HEADER, long_text, NULL);
  g_autofree char *jsonl = g_strconcat("{\"a\":\"", long_text, "\"}", NULL);
  assert_null(read_text(bench, csv));
  assert_fault(bench, 0, 2, 0, "a line of more than 1 MiB");
  assert_null(read_text(bench, jsonl));
  assert_fault(bench, 0, 1, 0, "a line of more than 1 MiB");
}

static void a_note_of_nearly_a_mebibyte_is_kept_whole(void **state) {
  Bench *bench = *state;
  g_autofree char *note = g_strnfill(1024 * 1024 - 200, 'x');
  note[1000] = '\n';
  g_autofree char *text = g_strconcat(HEADER, S1 "0:01,note,,\"", note, "\",,,\n", NULL);
  g_autoptr(GPtrArray) observations = read_text(bench, text);
  assert_string_equal(event_at(observations, 0, 0)->note, note);
}

static void a_file_that_cannot_be_read_is_named(void **state) {
  Bench *bench = *state;
  const char *const paths[] = {"/nowhere/events.csv", bench->folder};
  for (gsize i = 0; i < G_N_ELEMENTS(paths); i++) {
    g_autoptr(GError) error = NULL;
    assert_null(bt_log_read_observations(paths[i], bench->rubric, bench->faults, &error));
    assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_FILE));
    assert_true(g_str_has_prefix(error->message, paths[i]));
    assert_int_equal(bench->faults->len, 0);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
#define BENCH_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
      BENCH_TEST(a_plain_file_gives_its_observation),
      BENCH_TEST(line_ends_and_a_byte_order_mark_make_no_difference),
      BENCH_TEST(lines_are_counted_whatever_ends_them),
      BENCH_TEST(columns_may_stand_in_any_order),
      BENCH_TEST(the_examples_of_rfc_4180_are_read),
      BENCH_TEST(blanks_round_a_field_without_quotes_are_no_part_of_it),
      BENCH_TEST(empty_lines_and_empty_nameless_columns_do_no_harm),
      BENCH_TEST(scattered_rows_are_one_observation_in_their_order),
      BENCH_TEST(the_same_moment_written_otherwise_is_no_other_session),
      BENCH_TEST(both_forms_of_one_log_give_the_same_observations),
      BENCH_TEST(every_decimal_of_three_places_survives_json),
      BENCH_TEST(what_another_writer_quotes_is_read_back),
      BENCH_TEST(only_the_first_faults_are_kept_and_the_rest_counted),
      BENCH_TEST(a_row_of_nothing_but_commas_is_no_row),
      BENCH_TEST(many_warnings_hide_no_fault_and_refuse_nothing),
      BENCH_TEST(an_unclosed_quote_does_not_swallow_the_file),
      BENCH_TEST(a_line_without_end_is_refused_in_both_forms),
      BENCH_TEST(a_note_of_nearly_a_mebibyte_is_kept_whole),
      BENCH_TEST(a_file_that_cannot_be_read_is_named),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
