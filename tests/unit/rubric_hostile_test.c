// SPDX-License-Identifier: GPL-3.0-or-later
//
// Hostile files end in a clear fault in under a second and 20 MB; so does the heaviest rubric that
// the caps let through. Each is read in a child of its own, whose time and memory are its own.
#include <benchtally/rubric.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SLOWER        20 // a sanitizer's own cost in time; its memory is not ours to bound
#define MEMORY_COUNTS 0
#else
#define SLOWER        1
#define MEMORY_COUNTS 1
#endif

#define MEMORY_KIB_MAX (20 * 1024)

// In the child: exit status 0 when reading ended as it should, with the first fault at line
// `line` holding `phrase` (NULL: it must be accepted).
static int read_in_child(const GString *text, int line, const char *phrase) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtRubric) rubric = bt_rubric_read(text->str, text->len, "hostile.yaml", faults);
  if (!phrase) {
    for (guint i = 0; i < faults->len && i < 3; i++) {
      g_autofree char *shown = bt_fault_format(faults->pdata[i]);
      print_error("%s\n", shown);
    }
    return rubric ? 0 : 1;
  }
  if (rubric || faults->len == 0)
    return 1;
  const BtFault *first = faults->pdata[0];
  g_autofree char *shown = bt_fault_format(first);
  if (first->line == line && strstr(shown, phrase))
    return 0;
  print_error("expected line %d, %s; found %s\n", line, phrase, shown);
  return 1;
}

static void check_bounds(const GString *text, int line, const char *phrase) {
  struct rusage after; // of the whole child: program, text and all
  pid_t child = fork();
  assert_true(child >= 0);
  if (child == 0)
    _exit(read_in_child(text, line, phrase));
  int status = 0;
  assert_int_equal(wait4(child, &status, 0, &after), child);
  assert_true(WIFEXITED(status));
  assert_int_equal(WEXITSTATUS(status), 0);
  gint64 cpu_ms = (after.ru_utime.tv_sec + after.ru_stime.tv_sec) * 1000 +
                  (after.ru_utime.tv_usec + after.ru_stime.tv_usec) / 1000;
  if (cpu_ms >= 1000 * SLOWER)
    fail_msg("%ld ms of processor time", (long)cpu_ms);
  if (g_getenv("RUBRIC_HOSTILE_FIGURES"))
    print_message("%ld ms, %ld KiB: %s\n", (long)cpu_ms, after.ru_maxrss,
                  phrase ? phrase : "accepted");
  if (MEMORY_COUNTS && after.ru_maxrss >= MEMORY_KIB_MAX)
    fail_msg("%ld KiB of memory", after.ru_maxrss);
}

static GString *repeat(const char *unit, gsize bytes) {
  GString *text = g_string_sized_new(bytes + 64);
  while (text->len + strlen(unit) <= bytes)
    g_string_append(text, unit);
  return text;
}

static void repeated(const char *unit, gsize bytes, int line, const char *phrase) {
  GString *text = repeat(unit, bytes);
  check_bounds(text, line, phrase);
  g_string_free(text, TRUE);
}

#define TEN_MB (10 * 1000 * 1000)

static void larger_than_the_cap(void **state) {
  (void)state;
  repeated("[", TEN_MB, 0, "the rubric has 10000000 bytes; expected at most 1 MiB");
  repeated("a: b\n", BT_RUBRIC_BYTES_MAX + 5, 0, "expected at most 1 MiB");
}

static void deep(void **state) {
  (void)state;
  repeated("[", BT_RUBRIC_BYTES_MAX, 1, "lists and mappings nest too deep; expected at most 16");
  repeated("{", BT_RUBRIC_BYTES_MAX, 1, "lists and mappings nest too deep");
  repeated("{a: ", BT_RUBRIC_BYTES_MAX, 1, "lists and mappings nest too deep");
  repeated("- ", BT_RUBRIC_BYTES_MAX, 1, "lists and mappings nest too deep");
  repeated("? ", BT_RUBRIC_BYTES_MAX, 1, "lists and mappings nest too deep");
}

static void deep_by_indentation(void **state) {
  (void)state;
  GString *text = g_string_new(NULL);
  for (int i = 0; text->len < BT_RUBRIC_BYTES_MAX - 2000; i++)
    g_string_append_printf(text, "%*sa:\n", i, "");
  check_bounds(text, 17, "lists and mappings nest too deep");
  g_string_free(text, TRUE);
}

static void alias_bomb(void **state) {
  (void)state;
  GString *text = g_string_new("a0: &a0 [x, x, x, x, x, x, x, x, x]\n");
  for (int i = 1; i < 300; i++) {
    g_string_append_printf(text, "a%d: &a%d [", i, i);
    for (int j = 0; j < 9; j++)
      g_string_append_printf(text, "%s*a%d", j ? ", " : "", i - 1);
    g_string_append(text, "]\n");
  }
  check_bounds(text, 1, "an anchor (&a0) stands here");
  g_string_free(text, TRUE);
}

static void wide(void **state) {
  (void)state;
  GString *text = g_string_new(NULL);
  for (int i = 0; text->len < BT_RUBRIC_BYTES_MAX - 20; i++)
    g_string_append_printf(text, "k%d: v\n", i);
  check_bounds(text, 501, "a mapping has over 500 keys");
  g_string_free(text, TRUE);
  repeated("- a\n", BT_RUBRIC_BYTES_MAX, 501, "a list has over 500 items");
}

static void many_entries(void **state) {
  (void)state;
  GString *text = g_string_new(NULL);
  for (int i = 0; i < 500; i++) {
    g_string_append_printf(text, "k%d: [", i);
    for (int j = 0; j < 480; j++)
      g_string_append(text, "a,");
    g_string_append(text, "]\n");
  }
  // A line brings a key, a list and 480 items: 1 + 82 * 482 < 40,000 < 1 + 83 * 482.
  check_bounds(text, 83, "the file has over 40,000 entries");
  g_string_free(text, TRUE);
}

static void one_long_thing(void **state) {
  (void)state;
  repeated("\"", BT_RUBRIC_BYTES_MAX - 1, 1, "");
  repeated("a", BT_RUBRIC_BYTES_MAX, 1, "characters; expected at most 2,000");
  repeated("# c\n", BT_RUBRIC_BYTES_MAX, 0, "the file is empty");
  repeated("\n", BT_RUBRIC_BYTES_MAX, 0, "the file is empty");
  repeated(" ", BT_RUBRIC_BYTES_MAX, 0, "the file is empty");
  repeated("\t", BT_RUBRIC_BYTES_MAX, 1, "tab");
  repeated("a: ", BT_RUBRIC_BYTES_MAX, 1, "");
  repeated("---\n", BT_RUBRIC_BYTES_MAX, 2, "a second document begins here");
  repeated("%a b\n", BT_RUBRIC_BYTES_MAX, 1, "");
  repeated("!", BT_RUBRIC_BYTES_MAX, 1, "");
  repeated("&a ", BT_RUBRIC_BYTES_MAX, 1, "");
  repeated("'\n\n", BT_RUBRIC_BYTES_MAX, 5, "the file goes on after its end");
}

// Thousands of faults are counted, not kept.
static void many_faults(void **state) {
  (void)state;
  GString *text = g_string_new("benchtally: 1\nphases:\n");
  for (int p = 0; p < 80; p++) {
    g_string_append_printf(text, "- id: p%d\n  checkpoints:\n", p);
    for (int i = 0; i < 6; i++)
      g_string_append(text, "  - {a: b, c: d, e: f, g: h, match: {x: y, z: u}, times: {q: r}}\n");
  }
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtRubric) rubric = bt_rubric_read(text->str, text->len, NULL, faults);
  assert_null(rubric);
  assert_int_equal(faults->len, BT_FAULTS_KEPT + 1);
  const BtFault *last = faults->pdata[BT_FAULTS_KEPT];
  assert_int_equal(last->line, 0);
  assert_non_null(strstr(last->wrong, "more faults not shown"));
  check_bounds(text, 1, "");
  g_string_free(text, TRUE);
}

static void append_checkpoints(GString *text, const char *phase, int from, int to) {
  g_string_append_printf(text, "  - id: %s\n    title: P\n    checkpoints:\n", phase);
  for (int i = from; i < to; i++)
    g_string_append_printf(text,
                           "      - {id: c%d, title: C, match: {action: cut, details: {at: "
                           "[%d..%d mm, %d mm]}}, points: 1}\n",
                           i, i, i + 300, 2000 + i);
}

// As many checkpoints, rules and injects as the caps let through, each comparing with each.
static void heaviest_rubric_accepted(void **state) {
  (void)state;
  GString *text = g_string_new("benchtally: 1\nrubric: heavy\nedition: 1\ntitle: Heavy\n"
                               "cautions: [None.]\nactions:\n  cut: {title: Cut, details: {at: "
                               "{unit: mm}}}\nphases:\n");
  append_checkpoints(text, "one", 0, 250);
  append_checkpoints(text, "two", 250, 500);
  g_string_append(text, "injects:\n");
  for (int i = 0; i < 400; i++)
    g_string_append_printf(text,
                           "  - {id: i%d, title: I, order: [{id: r%d, first: one, then: two, lose: "
                           "1, why: So.}]}\n",
                           i, i);
  g_string_append(text, "order:\n");
  for (int i = 0; i < 100; i++)
    g_string_append_printf(text, "  - {id: b%d, first: c%d, then: [c%d, two], lose: 1, why: So.}\n",
                           i, i, i + 1);
  g_string_append(text, "score: {weights: {steps: 1}, pass: 50}\n");
  check_bounds(text, 0, NULL);
  g_string_free(text, TRUE);
}

static void a_file_too_large_is_not_read(void **state) {
  (void)state;
  g_autofree char *path = NULL;
  int file = g_file_open_tmp("rubric-XXXXXX.yaml", &path, NULL);
  assert_true(file >= 0);
  assert_int_equal(ftruncate(file, TEN_MB), 0);
  close(file);
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  assert_null(bt_rubric_read_file(path, faults, &error));
  assert_true(g_error_matches(error, BT_ERROR, BT_ERROR_FILE));
  assert_int_equal(faults->len, 0);
  unlink(path);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(larger_than_the_cap),
      cmocka_unit_test(deep),
      cmocka_unit_test(deep_by_indentation),
      cmocka_unit_test(alias_bomb),
      cmocka_unit_test(wide),
      cmocka_unit_test(many_entries),
      cmocka_unit_test(one_long_thing),
      cmocka_unit_test(many_faults),
      cmocka_unit_test(heaviest_rubric_accepted),
      cmocka_unit_test(a_file_too_large_is_not_read),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
