// SPDX-License-Identifier: GPL-3.0-or-later
//
// A small book for tests: an invented rubric with one phase, two trainees, two assessors.
#ifndef FAULT_BOOK_FIXTURE_H
#define FAULT_BOOK_FIXTURE_H

#include <glib/gstdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <benchtally/book.h>
#include <benchtally/rubric.h>

static const char fixture_rubric[] =
    "benchtally: 1\n"
    "rubric: splint\n"
    "edition: 1\n"
    "title: A plate on a plastic shaft\n"
    "cautions: [A training record; no certificate of clinical competence.]\n"
    "clock: {target: 10 min, limit: 20 min, quiet: 90 s, points: 4}\n"
    "sites: {shaft: Shaft, end: Far end}\n"
    "actions:\n"
    "  reduce: {title: Reduced, key: r, sites: [shaft]}\n"
    "  screw:\n"
    "    title: Screw placed\n"
    "    key: s\n"
    "    sites: [shaft, end]\n"
    "    details:\n"
    "      length: {unit: mm, range: 8..60 mm}\n"
    "      hole: {whole: 1..12, tells_apart: true}\n"
    "      use: {one_of: [neutral, lag]}\n"
    "phases:\n"
    "  - id: fix\n"
    "    title: Fix\n"
    "    target: 5 min\n"
    "    limit: 9 min\n"
    "    points: 3\n"
    "    checkpoints:\n"
    "      - {id: reduced, title: Reduced first, match: {action: reduce, site: shaft}, points: 2}\n"
    "      - id: screws\n"
    "        title: Two screws\n"
    "        match: {action: screw, site: shaft}\n"
    "        times: 2\n"
    "        expect: {length: 14..18 mm}\n"
    "        points: 4\n"
    "order:\n"
    "  - {id: first, first: reduced, then: screws, lose: 2, why: A screw holds what it finds.}\n"
    "errors:\n"
    "  - {id: plunge, title: Drill plunges, severity: major, lose: 1}\n"
    "measures:\n"
    "  - {id: gap, title: Widest gap, unit: mm, good: 1 mm, poor: 3 mm, points: 2}\n"
    "ratings:\n"
    "  - {id: flow, title: Economy of movement, points: 2, scale: {1: Halting, 3: Steady}}\n"
    "score:\n"
    "  technique_points: 3\n"
    "  weights: {steps: 40, order: 20, time: 10, technique: 10, product: 10, rating: 10}\n"
    "  pass: 60\n"
    "  optional: [rating]\n";

#define FIXTURE_STARTED_MS G_GINT64_CONSTANT(1772615100000) // 2026-03-04T09:05:00Z

#define FIXTURE_COLUMNS                                                                            \
  "session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,note,"    \
  "length,use\n"
#define FIXTURE_ROW(session, trainee, assessor, mode)                                              \
  session "," trainee "," assessor ",splint,1,2026-03-04T09:05:00Z," mode ","
// Seven events: a start, three of work (one with a comma in its note), a measure, a finish, a
// rating.
#define FIXTURE_EVENTS(row)                                                                        \
  row "0:00,start,,,,,,,\n" row "1:00,reduce,shaft,,,,,,\n" row                                    \
      "2:00,screw,shaft,,,,\"near, then far\",16,neutral\n" row                                    \
      "3:05,screw,shaft,,,,,20.5,lag\n" row "4:00,measure,,gap,0.5,,,,\n" row                      \
      "5:00,finish,,,,,,,\n" row "5:10,rate,,flow,3,,,,\n"
#define FIXTURE_FILE_EVENTS 7

typedef struct {
  char *folder, *path;
} Fixture;

static inline BtRubric *fixture_read_rubric(void) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtRubric *rubric = bt_rubric_read(fixture_rubric, sizeof fixture_rubric - 1, "splint", faults);
  for (guint i = 0; i < faults->len; i++) {
    g_autofree char *text = bt_fault_format(faults->pdata[i]);
    g_printerr("%s\n", text);
  }
  g_assert(rubric);
  return rubric;
}

static inline void fixture_fill(BtBook *book) {
  static const struct {
    const char *code, *name;
    BtRole role;
  } people[] = {{"T-01", "Ana Beech", BT_ROLE_TRAINEE},
                {"T-02", "Ivo Elm", BT_ROLE_TRAINEE},
                {"A-01", "Dr Rowan", BT_ROLE_ASSESSOR},
                {"A-02", NULL, BT_ROLE_ASSESSOR}};
  g_autoptr(GError) error = NULL;
  g_autoptr(BtRubric) rubric = fixture_read_rubric();
  bool done = bt_book_add_rubric(book, rubric, NULL, &error);
  for (gsize i = 0; done && i < G_N_ELEMENTS(people); i++) {
    const BtPerson person = {.code = (char *)people[i].code,
                             .name = (char *)people[i].name,
                             .role = people[i].role,
                             .level = i == 0 ? (char *)"year 2" : NULL,
                             .cohort = i == 1 ? (char *)"2026" : NULL};
    done = bt_book_add_person(book, &person, NULL, &error);
  }
  if (!done)
    g_error("%s", error->message);
}

// Times that rise by a second a call, so that books of two runs are alike.
static inline gint64 fixture_clock(gpointer user_data) {
  gint64 *now_ms = user_data;
  *now_ms += 1000;
  return *now_ms;
}

static inline BtBook *fixture_open(const Fixture *fixture, BtBookMode mode) {
  g_autoptr(GError) error = NULL;
  BtBook *book = bt_book_open(fixture->path, mode, &error);
  if (!book)
    g_error("%s", error->message);
  bt_book_set_actor(book, "tester");
  return book;
}

static inline char *fixture_file(const Fixture *fixture, const char *name, const char *text) {
  char *path = g_build_filename(fixture->folder, name, NULL);
  if (!g_file_set_contents(path, text, -1, NULL))
    g_error("cannot write %s", path);
  return path;
}

// Imports `text` (the columns' line is put before it); whether it was taken in.
static inline bool fixture_import(const Fixture *fixture, BtBook *book, const char *text,
                                  BtImportCount *count, GPtrArray *faults, GError **error) {
  g_autofree char *whole = g_strconcat(FIXTURE_COLUMNS, text, NULL);
  g_autofree char *path = fixture_file(fixture, "events.csv", whole);
  return bt_book_import(book, path, count, faults, NULL, NULL, error);
}

static inline void fixture_setup(Fixture *fixture) {
  fixture->folder = g_dir_make_tmp("benchtally-XXXXXX", NULL);
  fixture->path = g_build_filename(fixture->folder, "book.db", NULL);
}

static inline void fixture_teardown(Fixture *fixture) {
  GDir *folder = g_dir_open(fixture->folder, 0, NULL);
  for (const char *name; folder && (name = g_dir_read_name(folder));) {
    g_autofree char *path = g_build_filename(fixture->folder, name, NULL);
    (void)g_remove(path);
  }
  if (folder)
    g_dir_close(folder);
  (void)g_rmdir(fixture->folder);
  g_free(fixture->folder);
  g_free(fixture->path);
}

#endif
