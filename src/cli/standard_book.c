// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards on record: listing them, adopting one.
#include <stdlib.h>
#include <string.h>

#include "cli/figure.h"
#include "cli/standard.h"

char *standard_day_words(const char *day) {
  gint64 ms = 0;
  g_autofree char *time = g_strconcat(day, "T00:00:00Z", NULL);
  return bt_rfc3339_parse(time, &ms) ? bt_date_format(ms) : g_strdup(day);
}

// Listing ---------------------------------------------------------------------

// "adopted 4 Mar 2026" (the one in force), "adopted 4 Mar 2026, then superseded", or "-"; caller
// frees.
static char *state_of(const BtStandard *standard) {
  if (!standard->adopted_by)
    return g_strdup("-");
  g_autofree char *day = bt_date_format(standard->adopted_ms);
  return g_strdup_printf(standard->in_force ? "adopted %s" : "adopted %s, then superseded", day);
}

static void put_list(GString *out, const GPtrArray *standards, bool wide) {
  static const char *const heads[] = {">id",    "rubric",  ">edition", "method", ">mark %",
                                      ">error", ">judges", "set on",   "state",  NULL};
  static const int least_needed[] = {6, 5, 7, -1};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint i = 0; i < standards->len; i++) {
    const BtStandard *standard = g_ptr_array_index(standards, i);
    g_autofree char *id = g_strdup_printf("%" G_GINT64_FORMAT, standard->id);
    g_autofree char *edition = g_strdup_printf("%d", standard->edition);
    g_autofree char *mark = bt_decimal_format(standard->cut_milli);
    g_autofree char *error =
        standard->se_milli < 0 ? g_strdup("-") : bt_decimal_format(standard->se_milli);
    g_autofree char *judges = g_strdup_printf("%d", standard->judges);
    g_autofree char *state = state_of(standard), *day = standard_day_words(standard->set_on);
    g_ptr_array_add(rows, cli_row(9, id, standard->rubric, edition, standard->method, mark, error,
                                  standard->judges ? judges : "-", day, state));
  }
  cli_table_fit(out, heads, rows, cli_bold(), wide ? G_MAXINT : cli_columns(), least_needed);
}

static void put_list_json(GString *out, const GPtrArray *standards) {
  json_t *list = json_array();
  for (guint i = 0; i < standards->len; i++) {
    const BtStandard *s = g_ptr_array_index(standards, i);
    g_autofree char *adopted = s->adopted_by ? bt_rfc3339_format(s->adopted_ms) : NULL;
    json_t *object = json_pack(
        "{s:I, s:s, s:i, s:s, s:I, s:i, s:s?, s:s, s:s, s:s?, s:s?, s:s?, s:b}", "id",
        (json_int_t)s->id, "rubric", s->rubric, "edition", s->edition, "method", s->method,
        "cut_milli", (json_int_t)s->cut_milli, "judges", s->judges, "note", s->judges_note,
        "set_on", s->set_on, "added_by", s->added_by, "adopted", adopted, "adopted_by",
        s->adopted_by, "reason", s->adopted_reason, "in_force", s->in_force);
    json_object_set_new(object, "se_milli",
                        s->se_milli < 0 ? json_null() : json_integer(s->se_milli));
    json_object_set_new(object, "figures", json_loads(s->figures_json, 0, NULL));
    json_array_append_new(list, object);
  }
  cli_append_json(out, list);
}

int cli_standard_list(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean json = FALSE, wide = FALSE;
  g_autofree char *rubric = NULL;
  const GOptionEntry entries[] = {
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &rubric, "Only those of this rubric", "ID"},
      {"wide", 0, 0, G_OPTION_ARG_NONE, &wide, "Every column, however wide", NULL},
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON, with the figures of each", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, 0, &status))
    return status;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) standards = bt_book_standards(book, rubric, &error);
  if (!standards)
    return cli_error(g_steal_pointer(&error));
  if (json)
    put_list_json(cli->out, standards);
  else if (standards->len == 0)
    cli_put_paragraph(cli->out, 0,
                      "No standard on record yet; `benchtally standard angoff --keep` and its like "
                      "keep one.");
  else
    put_list(cli->out, standards, wide);
  return 0;
}

// Adopting --------------------------------------------------------------------

// The standard with this number, as the book has it; NULL: told. Caller frees.
static BtStandard *find_standard(BtBook *book, gint64 id, int *status) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) standards = bt_book_standards(book, NULL, &error);
  if (!standards) {
    *status = cli_error(g_steal_pointer(&error));
    return NULL;
  }
  for (guint i = 0; i < standards->len; i++) {
    if (((BtStandard *)g_ptr_array_index(standards, i))->id == id)
      return g_ptr_array_steal_index(standards, i);
  }
  *status = cli_usage_error("no standard %" G_GINT64_FORMAT
                            " in the book; `benchtally standard list` shows those there are",
                            id);
  return NULL;
}

static void put_adopted(GString *out, const BtStandard *standard, const BtStudy *study) {
  double cut = (double)standard->cut_milli / 1000;
  g_autofree char *day = standard_day_words(standard->set_on);
  g_auto(StandardEffect) effect = standard_effect_of_study(study, cut, BT_MISSING);
  cli_put_paragraph(out, 0,
                    "Standard %" G_GINT64_FORMAT
                    " is adopted: a pass mark of %.1f %% for %s, edition %d, by %s, set on %s.",
                    standard->id, cut, standard->rubric, standard->edition,
                    bt_standard_method_name(standard->method), day);
  if (effect.n > 0)
    standard_put_effect(out, &effect);
  else
    g_string_append(out, "\nNo decision of this edition stands in the book yet.\n");
  g_string_append_c(out, '\n');
  standard_put_next_edition(out, standard->rubric, standard->edition, standard->cut_milli);
  g_string_append_c(out, '\n');
  cli_put_paragraph(out, 0, "A training record, no certificate of clinical competence.");
}

static int adopt(Cli *cli, BtBook *book, gint64 id, const char *reason, bool json) {
  int status = 0;
  g_autoptr(GError) error = NULL;
  g_autoptr(BtStandard) standard = find_standard(book, id, &status);
  if (!standard)
    return status;
  BtStudyScope scope = {.rubric = standard->rubric, .edition = standard->edition};
  g_autoptr(BtStudy) study = bt_study_read(book, &scope, NULL, NULL, &error);
  if (!study || !bt_book_adopt_standard(book, id, reason, &error))
    return cli_error(g_steal_pointer(&error));
  if (!json) {
    put_adopted(cli->out, standard, study);
    return 0;
  }
  g_auto(StandardEffect) effect =
      standard_effect_of_study(study, (double)standard->cut_milli / 1000, BT_MISSING);
  json_t *document =
      json_pack("{s:I, s:s, s:i, s:I}", "adopted", (json_int_t)id, "rubric", standard->rubric,
                "edition", standard->edition, "cut_milli", (json_int_t)standard->cut_milli);
  json_object_set_new(document, "effect", standard_json_effect(&effect));
  cli_put_json(cli->out, document);
  return 0;
}

int cli_standard_adopt(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean json = FALSE;
  g_autofree char *reason = NULL, *by = NULL;
  const GOptionEntry entries[] = {
      {"reason", 0, 0, G_OPTION_ARG_STRING, &reason, "Why; it is kept", "TEXT"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &by, "Who adopts it", "CODE"},
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON, with every digit", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status) ||
      !cli_reason_given(reason, "adopting a standard", &status))
    return status;
  gint64 id = 0;
  if (!g_ascii_string_to_signed(argv[1], 10, 1, G_MAXINT64, &id, NULL))
    return cli_usage_error("\"%s\" is no number of a standard; `benchtally standard list` shows "
                           "them",
                           argv[1]);
  g_autoptr(BtBook) book = cli_open_book_as(cli, by, &status);
  return book ? adopt(cli, book, id, reason, json) : status;
}
