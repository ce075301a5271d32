// SPDX-License-Identifier: GPL-3.0-or-later
//
// The ledger as plain text for a terminal: the answer, the parts, every row, what else was noted.
#include "words/ledger_parts.h"
#include "words/words.h"

#include <string.h>

#define COLUMNS_DEFAULT  80
#define COLUMNS_LEAST    60
#define POINTS_COLUMNS   20 // mark, "given of possible" and a gap
#define NOTE_INDENT      2
#define COMPONENT_INDENT 17

// Wrapping --------------------------------------------------------------------

static int char_columns(gunichar c) {
  return g_unichar_iszerowidth(c) ? 0 : g_unichar_iswide(c) ? 2 : 1;
}

static int text_columns(const char *text, gsize length) {
  int columns = 0;
  for (const char *p = text; p < text + length; p = g_utf8_next_char(p))
    columns += char_columns(g_utf8_get_char(p));
  return columns;
}

static void pad(GString *out, int columns) {
  for (int i = 0; i < columns; i++)
    g_string_append_c(out, ' ');
}

// Appends `text` wrapped at spaces. The first line starts at column `at`, the others are indented
// by `indent`. A control character in it (a note can hold one) becomes a space.
static void wrap(GString *out, const char *text, int at, int indent, int columns) {
  bool first_word = true;
  const char *p = text;
  while (*p) {
    while (*p == ' ' || g_ascii_iscntrl(*p))
      p++;
    const char *end = p;
    while (*end && *end != ' ' && !g_ascii_iscntrl(*end))
      end++;
    if (end == p)
      break;
    int width = text_columns(p, (gsize)(end - p));
    if (!first_word && at + 1 + width > columns) {
      g_string_append_c(out, '\n');
      pad(out, indent);
      at = indent;
    } else if (!first_word) {
      g_string_append_c(out, ' ');
      at++;
    }
    g_string_append_len(out, p, end - p);
    at += width;
    first_word = false;
    p = end;
  }
  g_string_append_c(out, '\n');
}

static void paragraph(GString *out, const char *text, int indent, int columns) {
  pad(out, indent);
  wrap(out, text, indent, indent, columns);
}

// Head ------------------------------------------------------------------------

static void write_head(GString *out, const BtScored *scored, int columns) {
  const BtHeader *header = &scored->observation->header;
  g_autofree char *title =
      g_strdup_printf("%s, edition %d", scored->rubric->title, scored->rubric->edition);
  paragraph(out, title, 0, columns);
  g_autofree char *date = bt_date_format(header->started_ms);
  g_autofree char *who =
      g_strdup_printf("Session %s, %s: trainee %s, assessor %s, %s", header->session, date,
                      header->trainee, header->assessor, bt_mode_name(header->mode));
  paragraph(out, who, 0, columns);
  g_string_append_c(out, '\n');
  g_autofree char *sentence =
      bt_outcome_sentence(scored->rubric, scored->observation, scored->ledger);
  paragraph(out, sentence, 0, columns);
}

static void write_component(GString *out, const BtScored *scored, BtComponent component,
                            int columns) {
  const BtComponentScore *score = &scored->ledger->component[component];
  int weight = scored->rubric->score.weight[component];
  if (weight == 0 && score->possible_mp == 0)
    return;
  g_string_append_printf(out, "  %-10s", bt__component_title(component));
  g_autofree char *why = bt__why_not_assessed(scored, component);
  if (why) {
    g_autofree char *text = g_strdup_printf("not assessed: %s", why);
    pad(out, COMPONENT_INDENT - 12);
    wrap(out, text, COMPONENT_INDENT, COMPONENT_INDENT, columns);
    return;
  }
  g_autofree char *given = bt_decimal_format(score->given_mp);
  g_autofree char *possible = bt_decimal_format(score->possible_mp);
  g_autofree char *percent = bt__percent_text(score->given_mp, score->possible_mp);
  g_string_append_printf(out, "%8s of %-8s %6s %%   weight %d\n", given, possible, percent, weight);
}

static void write_components(GString *out, const BtScored *scored, int columns) {
  g_string_append(out, "\nWhat each part gave\n");
  for (int i = 0; i < BT_COMPONENTS; i++)
    write_component(out, scored, (BtComponent)i, columns);
}

// Rows ------------------------------------------------------------------------

static const char *mark_of(const BtLedgerLine *line) {
  return line->critical ? "!" : line->lost ? "-" : " ";
}

static char *points_text(const BtLedgerLine *line) {
  if (!line->counts)
    return g_strdup("not scored");
  g_autofree char *given = bt_decimal_format(line->given_mp);
  if (line->possible_mp == 0)
    return g_steal_pointer(&given);
  g_autofree char *possible = bt_decimal_format(line->possible_mp);
  return g_strdup_printf("%s of %s", given, possible);
}

static void labelled(GString *out, const char *label, const char *text, int columns) {
  pad(out, POINTS_COLUMNS);
  g_string_append(out, label);
  int at = POINTS_COLUMNS + text_columns(label, strlen(label));
  wrap(out, text, at, POINTS_COLUMNS + 2, columns);
}

static void write_title(GString *out, const BtLedgerLine *line, const char *title, int columns) {
  g_autofree char *points = points_text(line);
  g_string_append_printf(out, "%s %-*s", mark_of(line), POINTS_COLUMNS - 2, points);
  wrap(out, title, POINTS_COLUMNS, POINTS_COLUMNS + 2, columns);
}

// "Not done." after "not done".
static bool says_it_again(const BtLedgerLine *line) {
  gsize length = strlen(line->happened);
  return g_ascii_strncasecmp(line->why, line->happened, length) == 0 &&
         strcmp(line->why + length, ".") == 0;
}

static void write_line(GString *out, const BtLedgerLine *line, int columns) {
  write_title(out, line, line->what, columns);
  labelled(out, "expected: ", line->expected, columns);
  labelled(out, "happened: ", line->happened, columns);
  if (!says_it_again(line))
    labelled(out, "", line->why, columns);
}

// A row that lost nothing: its title and when, or how much. Only a remark takes words.
static void write_good_line(GString *out, const BtLedgerLine *line, int columns) {
  g_autofree char *at = line->at_ms < 0 ? NULL : bt_clock_format(line->at_ms);
  const char *happened = line->component == BT_ORDER && at ? at : line->happened;
  g_autofree char *title = g_strdup_printf("%s (%s)", line->what, happened);
  write_title(out, line, title, columns);
  if (line->remarked || !line->counts)
    labelled(out, "", line->why, columns);
}

// A kind of error that was not found takes a line of its own only where there are no others.
static bool worth_a_row(const BtLedgerLine *line) {
  return line->component != BT_TECHNIQUE || line->lost || line->possible_mp > 0;
}

static void write_not_found(GString *out, const GPtrArray *lines, int columns) {
  g_autoptr(GString) names = g_string_new(NULL);
  for (guint i = 0; i < lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(lines, i);
    if (!worth_a_row(line))
      bt__join(names, "; ", line->what);
  }
  if (names->len == 0)
    return;
  g_autofree char *text = g_strdup_printf("Looked for and not found: %s.", names->str);
  paragraph(out, text, NOTE_INDENT, columns);
}

// A step or a rule without points and without an event: told with those that share its reason.
static bool idle(const BtLedgerLine *line) {
  return (line->component == BT_STEPS || line->component == BT_ORDER) && !line->counts &&
         !line->lost && line->first_event == 0;
}

// "Another way was taken: "Wire loop". Wire drilled; wire tied." for every reason among the idle
// rows of the component.
static void write_idle(GString *out, const GPtrArray *lines, BtComponent component, int columns) {
  g_autoptr(GPtrArray) reasons = g_ptr_array_new();
  g_autoptr(GHashTable) titles =
      g_hash_table_new_full(g_str_hash, g_str_equal, NULL, (GDestroyNotify)g_free);
  for (guint i = 0; i < lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(lines, i);
    if (line->component != component || !idle(line))
      continue;
    const char *earlier = g_hash_table_lookup(titles, line->why);
    if (!earlier)
      g_ptr_array_add(reasons, line->why);
    g_hash_table_insert(titles, line->why,
                        earlier ? g_strjoin("; ", earlier, line->what, NULL)
                                : g_strdup(line->what));
  }
  for (guint i = 0; i < reasons->len; i++) {
    const char *why = g_ptr_array_index(reasons, i);
    g_autofree char *text =
        g_strdup_printf("Not scored: %s. %s", (char *)g_hash_table_lookup(titles, why), why);
    paragraph(out, text, NOTE_INDENT, columns);
  }
}

static void write_component_rows(GString *out, const GPtrArray *lines, BtComponent component,
                                 int columns, bool full) {
  bool any = false;
  for (guint i = 0; i < lines->len; i++) {
    const BtLedgerLine *line = g_ptr_array_index(lines, i);
    if (line->component != component || !worth_a_row(line))
      continue;
    if (!any)
      g_string_append_printf(out, "\n%s\n", bt__component_title(component));
    any = true;
    if (full || line->lost)
      write_line(out, line, columns);
    else if (!idle(line))
      write_good_line(out, line, columns);
  }
  if (!full)
    write_idle(out, lines, component, columns);
}

static void write_notes(GString *out, const BtScored *scored, const GPtrArray *lines, int columns) {
  g_string_append(out, "\nAlso noted\n");
  write_not_found(out, lines, columns);
  g_autoptr(GPtrArray) notes = bt__ledger_notes(scored);
  for (guint i = 0; i < notes->len; i++)
    paragraph(out, g_ptr_array_index(notes, i), NOTE_INDENT, columns);
}

char *bt_ledger_text(const BtRubric *rubric, const BtObservation *observation,
                     const BtLedger *ledger, int columns, bool full) {
  const BtScored scored = {rubric, observation, ledger};
  columns = columns <= 0 ? COLUMNS_DEFAULT : MAX(columns, COLUMNS_LEAST);
  g_autoptr(GPtrArray) lines = bt_ledger_lines(rubric, observation, ledger);
  GString *out = g_string_new(NULL);
  write_head(out, &scored, columns);
  write_components(out, &scored, columns);
  for (int i = 0; i < BT_COMPONENTS; i++)
    write_component_rows(out, lines, (BtComponent)i, columns, full);
  write_notes(out, &scored, lines, columns);
  g_string_append_c(out, '\n');
  paragraph(
      out,
      "Rows marked - lost points; ! is critical. A training record, no certificate of clinical "
      "competence.",
      0, columns);
  return g_string_free(out, FALSE);
}
