// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

static int add_one(Cli *cli, BtBook *book, const BtPerson *person) {
  bool added = false;
  g_autoptr(GError) error = NULL;
  if (!bt_book_add_person(book, person, &added, &error))
    return cli_error(g_steal_pointer(&error));
  g_string_append_printf(cli->out, "%s: %s\n", person->code,
                         added ? "added" : "already in the book, the same");
  return 0;
}

static int add_from_file(Cli *cli, BtBook *book, const char *path) {
  int added = 0, already = 0;
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(GError) error = NULL;
  bool done = bt_book_add_people_file(book, path, &added, &already, faults, &error);
  cli_print_faults(faults);
  if (error)
    return cli_error(g_steal_pointer(&error));
  if (!done)
    return cli_usage_error("%s: nothing was added", path);
  g_autofree char *people = bt_count_of(added, "person", "people");
  g_string_append_printf(cli->out, "%s: %s added, %d already in the book\n", path, people, already);
  return 0;
}

int cli_person_add(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_autofree char *name = NULL, *role = NULL, *level = NULL, *cohort = NULL, *from = NULL;
  const GOptionEntry entries[] = {
      {"role", 0, 0, G_OPTION_ARG_STRING, &role, "trainee, assessor or director", "ROLE"},
      {"name", 0, 0, G_OPTION_ARG_STRING, &name, "Name for people to read", "NAME"},
      {"level", 0, 0, G_OPTION_ARG_STRING, &level, "Level of training", "LEVEL"},
      {"cohort", 0, 0, G_OPTION_ARG_STRING, &cohort, "Cohort", "COHORT"},
      {"from", 0, 0, G_OPTION_ARG_FILENAME, &from, "Add the people of a CSV file", "FILE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, 1, &status))
    return status;
  if (!from == (argc < 2))
    return cli_usage_error("person add takes either a code or --from FILE");
  int role_number = role ? bt_role_from_name(role) : -1;
  if (!from && role_number < 0)
    return cli_usage_error("--role %s; expected trainee, assessor or director",
                           role ? role : "is missing");
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_CREATE, &status);
  if (!book)
    return status;
  if (from)
    return add_from_file(cli, book, from);
  BtPerson person = {
      .code = argv[1], .name = name, .role = (BtRole)role_number, .level = level, .cohort = cohort};
  return add_one(cli, book, &person);
}

int cli_person_amend(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_autofree char *name = NULL, *level = NULL, *cohort = NULL, *by = NULL;
  const GOptionEntry entries[] = {
      {"name", 0, 0, G_OPTION_ARG_STRING, &name, "The name as it is now", "NAME"},
      {"level", 0, 0, G_OPTION_ARG_STRING, &level, "The level of training as it is now", "LEVEL"},
      {"cohort", 0, 0, G_OPTION_ARG_STRING, &cohort, "The cohort as it is now", "COHORT"},
      {"by", 0, 0, G_OPTION_ARG_STRING, &by, "Who changes it (default: login name)", "CODE"},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 1, 1, &status))
    return status;
  if (!name && !level && !cohort)
    return cli_usage_error("person amend: nothing to change; give --name, --level or --cohort");
  g_autoptr(BtBook) book = cli_open_book_as(cli, by, &status);
  if (!book)
    return status;
  const BtPerson changes = {.code = argv[1], .name = name, .level = level, .cohort = cohort};
  bool changed = false;
  g_autoptr(GError) error = NULL;
  if (!bt_book_amend_person(book, &changes, &changed, &error))
    return cli_error(g_steal_pointer(&error));
  g_string_append_printf(cli->out, "%s: %s\n", argv[1],
                         changed ? "amended" : "already so in the book");
  return 0;
}

static void append_people_json(GString *out, const GPtrArray *people) {
  json_t *list = json_array();
  for (guint i = 0; i < people->len; i++) {
    const BtPerson *person = people->pdata[i];
    json_array_append_new(list, json_pack("{ss ss? ss? ss? ss}", "code", person->code, "cohort",
                                          person->cohort, "level", person->level, "name",
                                          person->name, "role", bt_role_name(person->role)));
  }
  cli_append_json(out, list);
}

static void append_people(GString *out, const GPtrArray *people) {
  static const char *const heads[] = {"code", "role", "level", "cohort", "name", NULL};
  g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
  for (guint i = 0; i < people->len; i++) {
    const BtPerson *person = people->pdata[i];
    g_ptr_array_add(rows, cli_row(5, person->code, bt_role_name(person->role), person->level,
                                  person->cohort, person->name));
  }
  cli_table(out, heads, rows, cli_bold());
}

int cli_person_list(Cli *cli, int argc, char **argv) {
  int status = 0;
  gboolean json = FALSE;
  g_autofree char *role = NULL;
  const GOptionEntry entries[] = {
      {"role", 0, 0, G_OPTION_ARG_STRING, &role, "Only trainees, assessors or directors", "ROLE"},
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, 0, &status))
    return status;
  int role_number = role ? bt_role_from_name(role) : -1;
  if (role && role_number < 0)
    return cli_usage_error("--role %s; expected trainee, assessor or director", role);
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_READ, &status);
  if (!book)
    return status;
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) people = bt_book_people(book, role_number, &error);
  if (!people)
    return cli_error(g_steal_pointer(&error));
  if (json)
    append_people_json(cli->out, people);
  else if (people->len == 0)
    g_string_append(cli->out, "No people in the book yet; `benchtally person add` puts them in.\n");
  else
    append_people(cli->out, people);
  return 0;
}
