// SPDX-License-Identifier: GPL-3.0-or-later
//
// People and their accounts.
#include <string.h>

#include "serve/route.h"

static json_t *person_json(const BtPerson *person, GHashTable *accounts) {
  json_t *json =
      json_pack("{ssss?ssss?ss?}", "code", person->code, "name", person->name, "role",
                bt_role_name(person->role), "level", person->level, "cohort", person->cohort);
  if (accounts)
    json_object_set_new(json, "account",
                        json_boolean(g_hash_table_contains(accounts, person->code)));
  return json;
}

// An assessor picks trainees from the list, and need not know who has an account.
BtAnswer *bt__handle_people(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  bool all = bt__is_director(request);
  BtBook *book = bt__request_book(request, &error);
  g_autoptr(GPtrArray) people =
      book ? bt_book_people(book, all ? -1 : (int)BT_ROLE_TRAINEE, &error) : NULL;
  g_autoptr(GHashTable) accounts = people && all ? bt_book_accounts(book, -1, &error) : NULL;
  if (error || !people)
    return bt__answer_error(g_steal_pointer(&error));
  json_t *list = json_array();
  for (guint i = 0; i < people->len; i++)
    json_array_append_new(list, person_json(people->pdata[i], accounts));
  return bt__answer_json(200, json_pack("{so}", "people", list));
}

// Adding ----------------------------------------------------------------------

typedef struct {
  BtPerson person;
  bool added;
} Adding;

static bool add_person(BtBook *book, gpointer data, GError **error) {
  Adding *adding = data;
  return bt_book_add_person(book, &adding->person, &adding->added, error);
}

BtAnswer *bt__handle_add_person(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  int role = bt_role_from_name(bt__member(request, "role"));
  Adding adding = {.person = {.code = (char *)bt__member(request, "code"),
                              .name = (char *)bt__member(request, "name"),
                              .role = (BtRole)role,
                              .level = (char *)bt__member(request, "level"),
                              .cohort = (char *)bt__member(request, "cohort")}};
  if (!adding.person.code || role < 0)
    return bt__answer_refusal(422, "wrong",
                              "give a code and the role: trainee, assessor or director");
  if (!bt__request_write(request, add_person, &adding, &error))
    return bt__answer_error(g_steal_pointer(&error));
  return bt__answer_json(adding.added ? 201 : 200, json_object());
}

// Accounts --------------------------------------------------------------------

typedef struct {
  const char *code;
  bool last; // the only director with an account: nobody could give it back
} Removing;

static bool remove_account(BtBook *book, gpointer data, GError **error) {
  Removing *removing = data;
  g_autoptr(GHashTable) directors = bt_book_accounts(book, BT_ROLE_DIRECTOR, error);
  if (!directors)
    return false;
  removing->last =
      g_hash_table_size(directors) == 1 && g_hash_table_contains(directors, removing->code);
  return removing->last || bt_book_remove_account(book, removing->code, NULL, error);
}

static BtAnswer *remove_account_of(BtRequest *request, const char *code) {
  g_autoptr(GError) error = NULL;
  Removing removing = {.code = code};
  if (!bt__request_write(request, remove_account, &removing, &error))
    return bt__answer_error(g_steal_pointer(&error));
  if (removing.last)
    return bt__answer_refusal(409, "conflict",
                              "this is the only director with an account; give another one first");
  return bt__answer_done();
}

BtAnswer *bt__handle_set_account(BtRequest *request) {
  g_autoptr(GError) error = NULL;
  const char *code = request->place[0];
  const char *secret = bt__member(request, "secret");
  BtBook *book = bt__request_book(request, &error);
  g_autoptr(BtPerson) person = book ? bt_book_person(book, code, &error) : NULL;
  bt__request_rest(request);
  if (error)
    return bt__answer_error(g_steal_pointer(&error));
  if (!person)
    return bt__answer_no_such("person");
  if (json_is_true(json_object_get(request->json, "remove")))
    return remove_account_of(request, code);
  if (!secret)
    return bt__answer_refusal(422, "wrong", "give a secret, or say \"remove\": true");
  return bt__set_secret(request, code, person->role, secret, NULL);
}
