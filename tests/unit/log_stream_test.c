// SPDX-License-Identifier: GPL-3.0-or-later
//
// The reading as a stream: what the sink is handed, how it stops the reading, and that memory does
// not grow with the file.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include <benchtally/log.h>

#include "support/log_rubric.h"

#define HEADER   "session,trainee,assessor,rubric,edition,started,mode,time,action,site,note,id\n"
#define S1       "S1,T1,A1,forearm,1,2026-03-04T09:05:00Z,live,"
#define A_UUID   "5f0c1e9a-7b52-4d0e-9a43-0c1d2e3f4a5b"
#define ROWS     100000
#define ROWS_PER 45

typedef struct {
  BtRubric *rubric;
  char *folder, *path;
  GPtrArray *faults;
  // What the sink was handed, and where it is to stop.
  int observations, rubrics_asked, calls_of_progress;
  gint64 events, last_line, done_bytes, all_bytes;
  char *last_id;
  gint64 stop_at_event;
  bool stop_at_rubric, stop_at_observation;
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
  g_free(bench->last_id);
  g_free(bench);
  return 0;
}

static bool stop(bool now, GError **error) {
  if (now)
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT, "stopped by the sink");
  return !now;
}

static const BtRubric *rubric_of(const char *id, int edition, gpointer user_data, GError **error) {
  Bench *bench = user_data;
  bench->rubrics_asked++;
  if (!stop(bench->stop_at_rubric, error))
    return NULL;
  return strcmp(id, "forearm") == 0 && edition == 1 ? bench->rubric : NULL;
}

static gpointer begin(const BtHeader *header, const BtRubric *rubric, gpointer user_data,
                      GError **error) {
  Bench *bench = user_data;
  assert_ptr_equal(rubric, bench->rubric);
  assert_string_equal(header->rubric, "forearm");
  bench->observations++;
  return stop(bench->stop_at_observation, error) ? user_data : NULL;
}

static bool take(gpointer observation, const BtEvent *event, const char *id, gint64 line,
                 gpointer user_data, GError **error) {
  Bench *bench = user_data;
  assert_ptr_equal(observation, bench);
  assert_true(event->seq > 0);
  bench->events++;
  bench->last_line = line;
  if (id) {
    g_free(bench->last_id);
    bench->last_id = g_strdup(id);
  }
  return stop(bench->events == bench->stop_at_event, error);
}

static void progress(gint64 done_bytes, gint64 all_bytes, gpointer user_data) {
  Bench *bench = user_data;
  assert_true(done_bytes > bench->done_bytes && done_bytes <= all_bytes);
  bench->calls_of_progress++;
  bench->done_bytes = done_bytes;
  bench->all_bytes = all_bytes;
}

static bool read_file(Bench *bench, GError **error) {
  BtLogSink sink = {.rubric = rubric_of,
                    .observation = begin,
                    .event = take,
                    .progress = progress,
                    .user_data = bench};
  return bt_log_read_file(bench->path, &sink, bench->faults, error);
}

static void write_text(Bench *bench, const char *text) {
  assert_true(g_file_set_contents(bench->path, text, -1, NULL));
}

static void the_sink_is_handed_lines_and_ids(void **state) {
  Bench *bench = *state;
  write_text(bench, HEADER S1 "0:00,note,,\"two\nlines\"," A_UUID "\n" S1 "0:01,mark,,,\n");
  assert_true(read_file(bench, NULL));
  assert_int_equal(bench->observations, 1);
  assert_int_equal(bench->rubrics_asked, 1);
  assert_int_equal(bench->events, 2);
  assert_int_equal(bench->last_line, 4);
  assert_string_equal(bench->last_id, A_UUID);
  assert_int_equal(bench->done_bytes, bench->all_bytes);
}

static void a_sink_that_stops_is_the_error_and_no_fault(void **state) {
  Bench *bench = *state;
  static const char *const files[] = {
      HEADER S1 "0:00,start,,,\n" S1 "0:01,mark,,,\n" S1 "0:02,mark,,,\n",
      "{\"session\":\"S1\",\"trainee\":\"T1\",\"assessor\":\"A1\",\"rubric\":\"forearm\","
      "\"edition\":1,\"started\":\"2026-03-04T09:05:00Z\",\"mode\":\"live\",\"time\":0,"
      "\"action\":\"mark\"}\n"};
  for (int i = 0; i < 6; i++) {
    g_autoptr(GError) error = NULL;
    bench->events = bench->done_bytes = 0;
    bench->stop_at_rubric = i / 2 == 0;
    bench->stop_at_observation = i / 2 == 1;
    bench->stop_at_event = i / 2 == 2 ? 1 : 0;
    write_text(bench, files[i % 2]);
    assert_false(read_file(bench, &error));
    assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_CONFLICT));
    assert_int_equal(bench->events, i / 2 == 2 ? 1 : 0);
    assert_int_equal(bench->faults->len, 0);
  }
}

static void an_unknown_rubric_needs_no_list_of_ids(void **state) {
  Bench *bench = *state;
  write_text(bench, HEADER "S1,T1,A1,hip,1,2026-03-04T09:05:00Z,live,0:00,start,,,\n");
  assert_false(read_file(bench, NULL));
  assert_int_equal(bench->faults->len, 1);
  assert_int_equal(bench->observations, 0);
}

// Row by row, so that making the file takes no more memory than reading it may.
static gint64 write_many_rows(const Bench *bench, bool ids) {
  FILE *file = fopen(bench->path, "w");
  assert_non_null(file);
  fputs(HEADER, file);
  for (int i = 0; i < ROWS; i++) {
    fprintf(file, "S%d,T%d,A1,forearm,1,2026-03-04T09:05:00Z,live,%d,mark,,a note of row %d,",
            i / ROWS_PER, i / ROWS_PER % 97, i % ROWS_PER, i);
    if (ids)
      fprintf(file, "00000000-0000-4000-8000-%012x", (unsigned)i);
    fputc('\n', file);
  }
  gint64 bytes = ftell(file);
  assert_int_equal(fclose(file), 0);
  return bytes;
}

static gint64 bytes_at_most(void) {
  struct rusage usage;
  getrusage(RUSAGE_SELF, &usage);
  return usage.ru_maxrss * (gint64)1024;
}

static void memory_does_not_grow_with_the_file(void **state) {
  Bench *bench = *state;
  gint64 file_bytes = write_many_rows(bench, false);
  gint64 before_bytes = bytes_at_most();
  assert_true(read_file(bench, NULL));
  assert_int_equal(bench->events, ROWS);
  assert_int_equal(bench->observations, (ROWS + ROWS_PER - 1) / ROWS_PER);
  assert_true(bench->calls_of_progress > 5);
  assert_true(file_bytes > 7 * 1024 * 1024);
  assert_true(bytes_at_most() - before_bytes < 4 * 1024 * 1024);
}

static void every_id_of_many_is_told_from_the_others(void **state) {
  Bench *bench = *state;
  (void)write_many_rows(bench, true);
  assert_true(read_file(bench, NULL));
  assert_int_equal(bench->events, ROWS);
  assert_int_equal(bench->faults->len, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
#define BENCH_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
      BENCH_TEST(the_sink_is_handed_lines_and_ids),
      BENCH_TEST(a_sink_that_stops_is_the_error_and_no_fault),
      BENCH_TEST(an_unknown_rubric_needs_no_list_of_ids),
      BENCH_TEST(memory_does_not_grow_with_the_file),
      BENCH_TEST(every_id_of_many_is_told_from_the_others),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
