// SPDX-License-Identifier: GPL-3.0-or-later
//
// The ledger in words: what a trainee reads of each kind of row, of each reason, of each list. The
// rubric and the logs are small enough to score by hand; the words are compared whole.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>
#include <unistd.h>

#include <benchtally/log.h>
#include <benchtally/rubric.h>
#include <benchtally/words.h>

static const char rubric_text[] =
    "benchtally: 1\n"
    "rubric: words\n"
    "edition: 1\n"
    "title: A plate on a practice bone\n"
    "cautions: [A test; no surgery is taught here.]\n"
    "clock: {target: 10 min, limit: 20 min, quiet: 4 min, points: 4}\n"
    "sites: {shaft: Shaft, end: Far end}\n"
    "actions:\n"
    "  reduce: {title: Bone reduced, key: r, sites: [shaft]}\n"
    "  plate: {title: Plate laid on, key: p, sites: [shaft, end]}\n"
    "  screw:\n"
    "    title: Screw placed\n"
    "    key: s\n"
    "    sites: [shaft]\n"
    "    details:\n"
    "      length: {unit: mm, range: 8..60 mm}\n"
    "      use: {one_of: [neutral, lag]}\n"
    "  check: {title: Bone checked, key: c, sites: [shaft]}\n"
    "  graft: {title: Graft packed, key: g, sites: [shaft]}\n"
    "phases:\n"
    "  - id: work\n"
    "    title: The work\n"
    "    target: 5 min\n"
    "    limit: 15 min\n"
    "    points: 2\n"
    "    checkpoints:\n"
    "      - {id: reduced, title: Fracture reduced, match: {action: reduce}, points: 2}\n"
    "      - {id: plated, title: Plate on the shaft, match: {action: plate, site: shaft}, points: "
    "2}\n"
    "      - id: screwed\n"
    "        title: Screws in the plate\n"
    "        match: {action: screw, site: shaft}\n"
    "        times: {least: 2, most: 3}\n"
    "        expect: {length: 14..18 mm, use: [neutral, lag]}\n"
    "        points: 6\n"
    "        critical: right\n"
    "        coach: Measure before you choose.\n"
    "      - {id: grafted, title: Gap filled, match: {action: graft}, points: 1}\n"
    "  - id: look\n"
    "    title: The last look\n"
    "    checkpoints:\n"
    "      - {id: checked, title: Checked at the end, match: {action: check}, points: 1}\n"
    "order:\n"
    "  - {id: reduce-plate, first: reduced, then: plated, lose: 3, critical: true, why: A plate "
    "fixes what it "
    "finds.}\n"
    "injects:\n"
    "  - {id: gap, title: A piece is missing, adds: [grafted]}\n"
    "errors:\n"
    "  - {id: plunge, title: Drill plunges, severity: major, lose: 2, cap: 3}\n"
    "  - {id: skin, title: Glove torn, severity: critical, lose: 1}\n"
    "  - {id: needless, title: Plate where none is needed, severity: minor, lose: 1, match: "
    "{action: plate, "
    "site: end}, only: unplanned}\n"
    "measures:\n"
    "  - {id: gap-left, title: Gap left, unit: mm, good: 1 mm, poor: 3 mm, fail: 4 mm, points: 4}\n"
    "ratings:\n"
    "  - {id: flow, title: Flow of the work, points: 4, scale: {1: Halting, 3: Steady, 5: "
    "Smooth}}\n"
    "score:\n"
    "  technique_points: 6\n"
    "  weights: {steps: 40, order: 20, time: 10, technique: 10, product: 10, rating: 10}\n"
    "  pass: 70\n"
    "  floors: {steps: 60}\n";

#define HEAD                                                                                       \
  "session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,note,"    \
  "length,use\n"
#define ROW "s1,t1,a1,words,1,2026-03-04T09:00:00Z,live,"

static BtRubric *rubric;
static BtObservation *observation;
static BtLedger *ledger;
static GPtrArray *observations;

static int read_rubric(void **state) {
  (void)state;
  g_autoptr(GPtrArray) found = bt_faults_new();
  rubric = bt_rubric_read(rubric_text, strlen(rubric_text), NULL, found);
  for (guint i = 0; i < found->len; i++) {
    g_autofree char *text = bt_fault_format(g_ptr_array_index(found, i));
    print_message("%s\n", text);
  }
  return rubric ? 0 : -1;
}

static int drop_rubric(void **state) {
  (void)state;
  bt_rubric_free(rubric);
  return 0;
}

// Reads and scores a log given as rows from the time on ("0:00,start,,,,,,,").
static void score(const char *const *rows) {
  g_autoptr(GString) csv = g_string_new(HEAD);
  for (; *rows; rows++)
    g_string_append_printf(csv, ROW "%s\n", *rows);
  g_autofree char *path = NULL;
  int fd = g_file_open_tmp("report-ledger-XXXXXX.csv", &path, NULL);
  assert_true(fd >= 0);
  assert_int_equal(write(fd, csv->str, csv->len), csv->len);
  close(fd);
  g_autoptr(GPtrArray) found = bt_faults_new();
  observations = bt_log_read_observations(path, rubric, found, NULL);
  unlink(path);
  for (guint i = 0; i < found->len; i++) {
    g_autofree char *text = bt_fault_format(g_ptr_array_index(found, i));
    print_message("%s\n", text);
  }
  assert_non_null(observations);
  observation = g_ptr_array_index(observations, 0);
  ledger = bt_score(rubric, observation);
}

static int drop_score(void **state) {
  (void)state;
  g_clear_pointer(&ledger, bt_ledger_free);
  g_clear_pointer(&observations, g_ptr_array_unref);
  return 0;
}

static const char *const clean[] = {
    "0:00,start,,,,,,,",           "1:00,reduce,shaft,,,,,,",
    "2:00,plate,shaft,,,,,,",      "3:00,screw,shaft,,,,,16,neutral",
    "4:00,screw,shaft,,,,,18,lag", "4:30,check,shaft,,,,,,",
    "5:00,finish,,,,,,,",          "6:00,measure,,gap-left,2,,,,",
    "6:10,rate,,flow,4,,,,",       NULL};

static void assert_sentence(const char *wanted) {
  g_autofree char *sentence = bt_outcome_sentence(rubric, observation, ledger);
  assert_string_equal(sentence, wanted);
}

// Compares one row of the ledger: expected, happened, why.
static void assert_line(const char *id, const char *expected, const char *happened,
                        const char *why) {
  g_autoptr(GPtrArray) lines = bt_ledger_lines(rubric, observation, ledger);
  for (guint i = 0; i < lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(lines, i);
    if (!g_str_equal(line->id, id))
      continue;
    assert_string_equal(line->expected, expected);
    assert_string_equal(line->happened, happened);
    assert_string_equal(line->why, why);
    return;
  }
  fail_msg("no row %s", id);
}

static void assert_noted(const char *wanted) {
  g_autofree char *text = bt_ledger_text(rubric, observation, ledger, 2000, true);
  if (!strstr(text, wanted))
    fail_msg("not noted: %s\n%s", wanted, text);
}

// Rows ------------------------------------------------------------------------

// Steps 11/11, order 3/3, time 6/6, technique 6/6, product 4 x (3 - 2)/(3 - 1) = 2 of 4, rating
// 4 x 3/4 = 3 of 4: (40 + 20 + 10 + 10 + 5 + 7.5) / 100 = 92.5 %.
static void a_clean_session_reads_as_done(void **state) {
  (void)state;
  score(clean);
  assert_sentence("Pass: 92.5 % of the points; 70 needed.");
  assert_line("reduced", "once", "1:00", "Done as expected.");
  assert_line("screwed", "2 to 3 times; length 14 to 18 mm; use neutral or lag", "3:00, 4:00",
              "Done as expected.");
  assert_line("grafted", "once", "not done",
              "Asked for only with a complication that was not brought in.");
  assert_line("reduce-plate", "the first done before the second begins", "the second at 2:00",
              "Kept.");
  assert_line("clock", "10:00 or less; no points from 20:00", "took 5:00", "Within the target.");
  assert_line("technique", "6, in proportion to work done", "11 of 11 step points",
              "Errors found are taken from these points.");
  assert_line("plunge", "none; major, 2 lost each, at most 3", "not found", "Not found.");
  assert_line("gap-left", "1 mm or less; no points from 3 mm; critical over 4 mm", "2 mm",
              "Between good and poor, so part of the points.");
  assert_line("flow", "5 of 5: Smooth", "4 of 5",
              "Points in proportion to the place on the scale.");
}

// A screw of 12 mm is not as expected; the plate comes 1:00 before the reduction.
static void a_session_with_losses_says_when_and_why(void **state) {
  (void)state;
  score((const char *const[]){
      "0:00,start,,,,,,,", "2:00,plate,shaft,,,,,,", "3:00,reduce,shaft,,,,,,",
      "4:00,screw,shaft,,,,,12,neutral", "4:10,screw,shaft,,,,,,lag", "4:20,error,,plunge,,,,,",
      "4:40,error,,plunge,,,,,", "12:00,check,shaft,,,,,,", "12:00,finish,,,,,,,",
      "13:00,measure,,gap-left,3.5,,,,", "13:10,rate,,flow,1,,,,", NULL});
  assert_line(
      "screwed", "2 to 3 times; length 14 to 18 mm; use neutral or lag",
      "4:00, 4:10; length 12 mm at 4:00",
      "1 of 2 as expected. Not verified: length at 4:10 not logged. This step is critical.");
  assert_line("reduce-plate", "the first done before the second begins",
              "the second at 2:00; the first 0 of 1 by then, next at 3:00",
              "Out of order. A plate fixes what it finds. This rule is critical.");
  assert_line("clock", "10:00 or less; no points from 20:00", "took 12:00",
              "2:00 over the target. Time earns in proportion to work done: 8 of 11 step points.");
  assert_line("plunge", "none; major, 2 lost each, at most 3", "4:20, 4:40",
              "Found 2 times. The most it can cost was reached.");
  assert_line("gap-left", "1 mm or less; no points from 3 mm; critical over 4 mm", "3.5 mm",
              "Too far off for points.");
  assert_line("flow", "5 of 5: Smooth", "1 of 5: Halting",
              "Points in proportion to the place on the scale.");
  assert_noted("Moving 1 event would put everything in order: ");
  assert_noted("Looked for and not found: Glove torn; Plate where none is needed.");
  assert_noted("1 quiet stretch, 7:20 in all: 4:40 to 12:00.");
}

static void points_of_rows_and_their_moment_are_kept(void **state) {
  (void)state;
  score(clean);
  g_autoptr(GPtrArray) lines = bt_ledger_lines(rubric, observation, ledger);
  const BtLedgerLine *first = g_ptr_array_index(lines, 0);
  assert_string_equal(first->what, "Fracture reduced");
  assert_int_equal(first->given_mp, 2000);
  assert_int_equal(first->possible_mp, 2000);
  assert_int_equal(first->at_ms, 60000);
  assert_int_equal(first->first_event, 2);
  assert_true(first->counts);
  assert_false(first->lost);
  gint64 given_mp[BT_COMPONENTS] = {0};
  for (guint i = 0; i < lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(lines, i);
    given_mp[line->component] += line->given_mp;
  }
  for (int i = 0; i < BT_COMPONENTS; i++)
    assert_int_equal(given_mp[i], ledger->component[i].given_mp);
}

// Reasons ---------------------------------------------------------------------

// `clean` with one row replaced (or left out: NULL) and one added at the end.
static void score_changed(guint at, const char *instead, const char *added) {
  g_autoptr(GPtrArray) rows = g_ptr_array_new();
  for (guint i = 0; clean[i]; i++) {
    const char *row = i == at ? instead : clean[i];
    if (row)
      g_ptr_array_add(rows, (gpointer)row);
  }
  if (added)
    g_ptr_array_add(rows, (gpointer)added);
  g_ptr_array_add(rows, NULL);
  score((const char *const *)rows->pdata);
}

#define NO_CHANGE 99

static void each_reason_has_its_sentence(void **state) {
  (void)state;
  static const struct {
    guint at;
    const char *instead, *added, *sentence;
  } cases[] = {
      {NO_CHANGE, NULL, "4:45,error,,skin,,,,,",
       "Not yet: \"Glove torn\" is a critical error (4:45). 90.8 % of the points; 70 needed."},
      {1, "2:30,reduce,shaft,,,,,,", NULL,
       "Not yet: \"Plate on the shaft\" came before \"Fracture reduced\" was done (2:00). 72.5 % "
       "of "
       "the points; 70 needed."},
      {7, "6:00,measure,,gap-left,5,,,,", NULL,
       "Not yet: \"Gap left\" is 5 mm, beyond the critical 4 mm. 87.5 % of the points; 70 needed."},
      {7, NULL, NULL,
       "Undecided: product must be assessed (no value for \"Gap left\"). 97.2 % of the points so "
       "far; "
       "70 needed."},
      {8, NULL, NULL,
       "Undecided: rating must be assessed (no value for \"Flow of the work\"). 94.4 % of the "
       "points "
       "so far; 70 needed."},
      {NO_CHANGE, NULL, "6:20,unseen,,technique,,,,,",
       "Undecided: technique must be assessed (the assessor could not see it). 91.6 % of the "
       "points "
       "so far; 70 needed."},
      {NO_CHANGE, NULL, "6:20,unseen,,screwed,,,,,",
       "Undecided: the critical step \"Screws in the plate\" must be assessed; it was not seen. "
       "92.5 "
       "% of the points so far; 70 needed."},
      {4, "4:00,screw,shaft,,,,,20,lag", NULL,
       "Not yet: the critical step \"Screws in the plate\" was right 1 of 2 times. "},
      {4, NULL, NULL, "Not yet: the critical step \"Screws in the plate\" was done 1 of 2 times. "},
      {4, "4:00,screw,shaft,,,,,,lag", NULL,
       "Undecided: the critical step \"Screws in the plate\" must be verified; a value was not "
       "logged "
       "(4:00). 92.5 % of the points so far; 70 needed."}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    score_changed(cases[i].at, cases[i].instead, cases[i].added);
    g_autofree char *sentence = bt_outcome_sentence(rubric, observation, ledger);
    if (!g_str_has_prefix(sentence, cases[i].sentence))
      fail_msg("case %zu: %s", i, sentence);
    drop_score(NULL);
  }
}

// No finish: the end is the check at 4:30; time is not assessed either.
static void an_unfinished_session_says_what_must_be_assessed(void **state) {
  (void)state;
  score_changed(6, NULL, NULL);
  assert_sentence("Undecided: the session was not finished; time must be assessed (no finish was "
                  "logged). 91.6 % of the points so far; 70 needed.");
  assert_noted("not assessed: no finish was logged");
}

static void below_the_line_the_number_says_it(void **state) {
  (void)state;
  // Steps 10/11; order kept; product and rating nothing. Time: the clock's 4 x 10/11 and all 2 of
  // the phase, whose own steps are whole: 5.636 of 6. Technique: 6 x 10/11 less the cap of 3: 2.455
  // of 6.
  score((const char *const[]){"0:00,start,,,,,,,", "1:00,reduce,shaft,,,,,,",
                              "2:00,plate,shaft,,,,,,", "3:00,screw,shaft,,,,,16,neutral",
                              "4:00,screw,shaft,,,,,18,lag", "4:10,error,,plunge,,,,,",
                              "4:20,error,,plunge,,,,,", "5:00,finish,,,,,,,",
                              "6:00,measure,,gap-left,3,,,,", "6:10,rate,,flow,1,,,,", NULL});
  // 40 x 10/11 + 20 + 10 x 5.636/6 + 10 x 2.455/6 = 36.36 + 20 + 9.39 + 4.09 = 69.84
  assert_sentence("Not yet: 69.8 % of the points; 70 needed.");
}

static void a_floor_is_named_with_its_percentage(void **state) {
  (void)state;
  // Only the screws: 6 of 11, 54.54 %. Without a plate no order rule applies, so 80 of 100 weights
  // count. Time 4 x 6/11 + 2 x 6/10 = 3.382 of 6; technique 6 x 6/11 = 3.273 of 6.
  score((const char *const[]){"0:00,start,,,,,,,", "3:00,screw,shaft,,,,,16,neutral",
                              "3:10,screw,shaft,,,,,16,lag", "5:00,finish,,,,,,,",
                              "6:00,measure,,gap-left,1,,,,", "6:10,rate,,flow,5,,,,", NULL});
  // (21.82 + 5.64 + 5.45 + 10 + 10) / 80 = 66.13 %
  assert_sentence("Not yet: steps at 54.5 %, where 60 is the least. 66.1 % of the points; 70 "
                  "needed.");
  assert_line(
      "reduce-plate", "the first done before the second begins", "not judged",
      "Nothing to compare: what should come later was not done, or what should come first was "
      "not asked for.");
}

// Lists -----------------------------------------------------------------------

static void what_the_score_does_not_hold_is_noted(void **state) {
  (void)state;
  score((const char *const[]){
      "0:00,start,,,,,,,", "1:00,reduce,shaft,,,,,,", "1:30,inject,,gap,,,,,",
      "2:00,plate,shaft,,,,,,", "2:10,plate,end,,,,,,", "2:20,plate,shaft,,,,,,",
      "3:00,screw,shaft,,,,,16,neutral", "3:30,pause,,,,,,,", "3:40,screw,shaft,,,,,18,lag",
      "3:50,resume,,,,,,,", "4:00,resume,,,,,,,", "4:10,screw,shaft,,,yes,,14,lag",
      "4:20,check,shaft,,,yes,,,", "4:30,note,,,,,A remark,,", "5:00,finish,,,,,,,",
      "5:30,check,shaft,,,,,,", NULL});
  assert_noted("Complication brought in at 1:30: \"A piece is missing\".");
  assert_noted("Not asked for by the rubric: Plate laid on, Far end at 2:10.");
  assert_noted("Beyond the number asked for: Plate laid on, Shaft at 2:20.");
  assert_noted("While the clock was paused: Screw placed, Shaft, length 18 mm, use lag at 3:40.");
  assert_noted("Ignored, as the clock or the complication stood so already: resume at 4:00.");
  assert_noted("Logged as a redo, but of nothing that was there: Bone checked, Shaft at 4:20.");
  assert_noted("After the end, so without effect: Bone checked, Shaft at 5:30.");
  assert_noted("Remark at 4:30: A remark");
  assert_noted("not assessed: work was logged while the clock was paused");
  assert_line("screwed", "2 to 3 times; length 14 to 18 mm; use neutral or lag",
              "3:00, 3:40; redone at 4:10", "Done as expected.");
  assert_line("needless", "none; minor, 1 lost each", "2:10", "Found once.");
}

// Text ------------------------------------------------------------------------

static void no_line_of_the_text_is_wider_than_asked(void **state) {
  (void)state;
  static const int widths[] = {60, 72, 80, 132, 0};
  score(clean);
  for (gsize i = 0; i < G_N_ELEMENTS(widths); i++) {
    g_autofree char *text = bt_ledger_text(rubric, observation, ledger, widths[i], i % 2 == 0);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **line = lines; *line; line++) {
      if (g_utf8_strlen(*line, -1) > (widths[i] ? widths[i] : 80))
        fail_msg("width %d: %s", widths[i], *line);
    }
  }
}

static void the_text_begins_with_the_answer(void **state) {
  (void)state;
  score(clean);
  g_autofree char *text = bt_ledger_text(rubric, observation, ledger, 0, false);
  assert_true(g_str_has_prefix(text, "A plate on a practice bone, edition 1\n"
                                     "Session s1, 4 Mar 2026: trainee t1, assessor a1, live\n\n"
                                     "Pass: 92.5 % of the points; 70 needed.\n\n"
                                     "What each part gave\n"));
  assert_non_null(strstr(text, "  Product          2 of 4          50.0 %   weight 10\n"));
  assert_non_null(strstr(text, "A training record, no certificate"));
}

static void assert_said(const char *text, const char *wanted) {
  if (!strstr(text, wanted))
    fail_msg("not said: %s\n%s", wanted, text);
}

// What is good takes one line with its time; what lost points or carries a remark takes its words.
static void only_what_was_lost_takes_many_words(void **state) {
  (void)state;
  score((const char *const[]){"0:00,start,,,,,,,", "1:00,reduce,shaft,,,,,,",
                              "2:00,plate,shaft,,,,,,", "3:00,screw,shaft,,,,,16,neutral",
                              "4:00,screw,shaft,,,,,18,lag", "4:10,screw,shaft,,,,,12,lag",
                              "5:00,finish,,,,,,,", "6:00,measure,,gap-left,1,,,,",
                              "6:10,rate,,flow,5,,,,", NULL});
  g_autofree char *text = bt_ledger_text(rubric, observation, ledger, 80, false);
  assert_said(text, "\n  2 of 2            Fracture reduced (1:00)\n"
                    "  2 of 2            Plate on the shaft (2:00)\n");
  assert_said(text,
              "\n  6 of 6            Screws in the plate (3:00, 4:00, 4:10; length 12 mm at 4:10)\n"
              "                    Enough were as expected.\n");
  assert_said(text, "\n- 0 of 1            Checked at the end\n"
                    "                    expected: once\n"
                    "                    happened: not done\n"
                    "  Not scored: Gap filled. Asked for only with a complication that was not\n"
                    "  brought in.\n");
  assert_said(text, "\n  3 of 3            Fracture reduced before Plate on the shaft (2:00)\n");
  assert_said(text, "\n  4 of 4            Gap left (1 mm)\n");
  assert_null(strstr(text, "Done as expected."));
}

int main(void) {
#define TEST(name) cmocka_unit_test_teardown(name, drop_score)
  const struct CMUnitTest tests[] = {TEST(a_clean_session_reads_as_done),
                                     TEST(a_session_with_losses_says_when_and_why),
                                     TEST(points_of_rows_and_their_moment_are_kept),
                                     TEST(each_reason_has_its_sentence),
                                     TEST(an_unfinished_session_says_what_must_be_assessed),
                                     TEST(below_the_line_the_number_says_it),
                                     TEST(a_floor_is_named_with_its_percentage),
                                     TEST(what_the_score_does_not_hold_is_noted),
                                     TEST(no_line_of_the_text_is_wider_than_asked),
                                     TEST(the_text_begins_with_the_answer),
                                     TEST(only_what_was_lost_takes_many_words)};
#undef TEST
  return cmocka_run_group_tests(tests, read_rubric, drop_rubric);
}
