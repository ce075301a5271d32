// SPDX-License-Identifier: GPL-3.0-or-later
//
// People: codes, roles, levels and cohorts; names in a table of their own.
#include <string.h>

#include "store/store.h"

static const char *const role_names[] = {"trainee", "assessor", "director"};

const char *bt_role_name(BtRole role) {
  return role_names[role];
}

int bt_role_from_name(const char *name) {
  return bt_word_index(name, role_names, G_N_ELEMENTS(role_names));
}

void bt_person_free(BtPerson *person) {
  if (!person)
    return;
  g_free(person->code);
  g_free(person->name);
  g_free(person->level);
  g_free(person->cohort);
  g_free(person);
}

void bt__refusal_clear(BtRefusal *refusal) {
  g_clear_pointer(&refusal->wrong, g_free);
  g_clear_pointer(&refusal->expected, g_free);
}

void bt__refusal_to_error(const BtRefusal *refusal, GError **error) {
  g_set_error(error, BT_ERROR, (gint)refusal->code, "%s; %s", refusal->wrong, refusal->expected);
}

// Reading ---------------------------------------------------------------------

#define PERSON_COLUMNS                                                                             \
  "SELECT p.code, n.name, p.role, p.level, p.cohort "                                              \
  "FROM person AS p LEFT JOIN person_name AS n ON n.code = p.code "
static const BtSql list_people = {"list the people", PERSON_COLUMNS "ORDER BY p.code"};
static const BtSql list_role = {"list the people",
                                PERSON_COLUMNS "WHERE p.role = ?1 ORDER BY p.code"};
static const BtSql one_person = {"look a person up", PERSON_COLUMNS "WHERE p.code = ?1"};

static BtPerson *read_person(BtQuery *query) {
  BtPerson *person = g_new(BtPerson, 1);
  int role = bt_role_from_name(bt__text(query, 2));
  *person = (BtPerson){.code = bt__text_dup(query, 0),
                       .name = bt__text_dup(query, 1),
                       .role = role < 0 ? BT_ROLE_TRAINEE : (BtRole)role,
                       .level = bt__text_dup(query, 3),
                       .cohort = bt__text_dup(query, 4)};
  return person;
}

static void free_person(gpointer person) {
  bt_person_free(person);
}

GPtrArray *bt_book_people(BtBook *book, int role, GError **error) {
  g_autoptr(GPtrArray) people = g_ptr_array_new_with_free_func(free_person);
  g_autoptr(BtQuery) query =
      role < 0 ? bt__query(book->db, &list_people, error, NO_ARGS)
               : bt__query(book->db, &list_role, error, ARGS(TEXT(bt_role_name((BtRole)role))));
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    g_ptr_array_add(people, read_person(query));
  return row == 0 ? g_steal_pointer(&people) : NULL;
}

BtPerson *bt_book_person(BtBook *book, const char *code, GError **error) {
  g_autoptr(BtQuery) query = bt__query(book->db, &one_person, error, ARGS(TEXT(code)));
  return query && bt__step(query, error) == 1 ? read_person(query) : NULL;
}

// Adding ----------------------------------------------------------------------

static const BtSql add_person = {
    "add the person", "INSERT INTO person(code, role, level, cohort) VALUES (?1, ?2, ?3, ?4)"};
static const BtSql change_person = {
    "amend the person", "UPDATE person SET role = ?2, level = ?3, cohort = ?4 WHERE code = ?1"};
static const BtSql drop_name = {"amend the person's name",
                                "DELETE FROM person_name WHERE code = ?1"};
static const BtSql add_name = {"add the person's name",
                               "INSERT INTO person_name(code, name, salt) VALUES (?1, ?2, ?3)"};

// NULL for an empty field: a level that is not given and an empty one are the same.
static const char *or_null(const char *text) {
  return text && *text ? text : NULL;
}

static bool same_person(const BtPerson *a, const BtPerson *b) {
  return a->role == b->role && g_strcmp0(or_null(a->name), or_null(b->name)) == 0 &&
         g_strcmp0(or_null(a->level), or_null(b->level)) == 0 &&
         g_strcmp0(or_null(a->cohort), or_null(b->cohort)) == 0;
}

// A name or a level of more than one line would break every list that it stands in.
static bool check_field(const char *field, const char *text, GError **error) {
  if (!text || (g_utf8_validate(text, -1, NULL) && strlen(text) <= 200 && !strpbrk(text, "\r\n")))
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_OPTION,
              "the %s is not plain text; use one line of at most 200 bytes of UTF-8", field);
  return false;
}

static bool check_person(const BtPerson *person, GError **error) {
  if (!bt_code_valid(person->code)) {
    g_set_error(error, BT_ERROR, BT_ERROR_OPTION,
                "\"%s\" is no code for a person; use 1 to 64 letters, digits, '_', '.' or '-'",
                person->code);
    return false;
  }
  return check_field("name", person->name, error) && check_field("level", person->level, error) &&
         check_field("cohort", person->cohort, error);
}

// Writes the name with a new salt; a former one goes, and with it what its hash could tell.
static bool put_name(BtBook *book, const BtPerson *person, const guint8 salt[BT_SALT_BYTES],
                     GError **error) {
  const char *name = or_null(person->name);
  return bt__run(book->db, &drop_name, error, ARGS(TEXT(person->code))) &&
         (!name || bt__run(book->db, &add_name, error,
                           ARGS(TEXT(person->code), TEXT(name), BLOB(salt, BT_SALT_BYTES))));
}

// Writes the person by `sql`, with the name, and notes `kind` on the book's chain.
static bool put_person(BtBook *book, const BtSql *sql, const char *kind, const BtPerson *person,
                       GError **error) {
  const char *name = or_null(person->name);
  guint8 salt[BT_SALT_BYTES];
  guint8 name_sha256[BT_SHA256_BYTES];
  bt__salt(book, salt);
  if (name)
    bt__name_sha256(name, salt, name_sha256);
  char hex[BT_SHA256_HEX + 1];
  bt_hex(name_sha256, name ? BT_SHA256_BYTES : 0, hex);
  const BtMember body[] = {
      MEMBER_TEXT("code", person->code),
      MEMBER_TEXT("cohort", or_null(person->cohort)),
      MEMBER_TEXT("level", or_null(person->level)),
      MEMBER_TEXT("name_sha256", or_null(hex)),
      MEMBER_TEXT("role", bt_role_name(person->role)),
  };
  return bt__run(book->db, sql, error,
                 ARGS(TEXT(person->code), TEXT(bt_role_name(person->role)),
                      TEXT(or_null(person->level)), TEXT(or_null(person->cohort)))) &&
         put_name(book, person, salt, error) &&
         bt__book_note(book, kind, body, G_N_ELEMENTS(body), error);
}

bool bt__add_person(BtBook *book, const BtPerson *person, bool *added, GError **error) {
  *added = false;
  if (!check_person(person, error))
    return false;
  g_autoptr(GError) cause = NULL;
  BtPerson *known = bt_book_person(book, person->code, &cause);
  if (cause) {
    g_propagate_error(error, g_steal_pointer(&cause));
    return false;
  }
  bool same = known && same_person(known, person);
  if (known && !same)
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "the code \"%s\" is in the book as a %s with another name, role, level or cohort; "
                "choose another code, or, if it is the same person, change what has changed with "
                "`benchtally person amend %s`",
                person->code, bt_role_name(known->role), person->code);
  *added = !known && put_person(book, &add_person, "person_added", person, error);
  bool done = same || *added;
  bt_person_free(known);
  return done;
}

bool bt_book_add_person(BtBook *book, const BtPerson *person, bool *added, GError **error) {
  bool did = false;
  bool done =
      bt__begin(book, error) && bt__end(book, bt__add_person(book, person, &did, error), error);
  if (added)
    *added = done && did;
  return done;
}

// Amending --------------------------------------------------------------------

static bool amend_person(BtBook *book, const BtPerson *changes, bool *changed, GError **error) {
  g_autoptr(GError) cause = NULL;
  g_autoptr(BtPerson) known = bt_book_person(book, changes->code, &cause);
  if (!known) {
    if (!cause)
      g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                  "no person \"%s\" in the book; `benchtally person list` shows the codes",
                  changes->code);
    else
      g_propagate_error(error, g_steal_pointer(&cause));
    return false;
  }
  const BtPerson person = {.code = known->code,
                           .role = known->role,
                           .name = changes->name ? changes->name : known->name,
                           .level = changes->level ? changes->level : known->level,
                           .cohort = changes->cohort ? changes->cohort : known->cohort};
  *changed = !same_person(known, &person);
  return check_person(&person, error) &&
         (!*changed || put_person(book, &change_person, "person_amended", &person, error));
}

bool bt_book_amend_person(BtBook *book, const BtPerson *changes, bool *changed, GError **error) {
  bool did = false;
  bool done =
      bt__begin(book, error) && bt__end(book, amend_person(book, changes, &did, error), error);
  if (changed)
    *changed = done && did;
  return done;
}

// Who may be what -------------------------------------------------------------

static const BtSql trainee_codes = {"list the trainees",
                                    "SELECT code FROM person WHERE role = 'trainee'"};
static const BtSql assessor_codes = {"list the assessors",
                                     "SELECT code FROM person WHERE role <> 'trainee'"};

char *bt__nearest(BtBook *book, const BtSql *known, const char *word) {
  g_autoptr(GPtrArray) words = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(BtQuery) query = bt__query(book->db, known, NULL, NO_ARGS);
  while (query && bt__step(query, NULL) == 1)
    g_ptr_array_add(words, bt__text_dup(query, 0));
  if (words->len == 0)
    return NULL;
  return g_strdup(bt_closest_word(word, (const char *const *)words->pdata, words->len));
}

static void refuse_unknown(BtBook *book, const char *code, BtRole role, BtRefusal *refusal) {
  const char *what = bt_role_name(role);
  g_autofree char *near =
      bt__nearest(book, role == BT_ROLE_TRAINEE ? &trainee_codes : &assessor_codes, code);
  refusal->code = BT_ERROR_UNKNOWN;
  refusal->wrong = g_strdup_printf("no %s \"%s\" in the book", what, code);
  if (near)
    refusal->expected =
        g_strdup_printf("did you mean \"%s\"? A new one is added with `benchtally person add %s "
                        "--role %s`",
                        near, code, what);
  else
    refusal->expected =
        g_strdup_printf("add one with `benchtally person add %s --role %s`", code, what);
}

// Whether the person may act as `role`; a director may assess.
static bool check_role(BtBook *book, const char *code, BtRole role, BtRefusal *refusal,
                       GError **error) {
  g_autoptr(GError) cause = NULL;
  BtPerson *person = bt_book_person(book, code, &cause);
  if (cause) {
    g_propagate_error(error, g_steal_pointer(&cause));
    return false;
  }
  if (!person) {
    refuse_unknown(book, code, role, refusal);
  } else if ((person->role == BT_ROLE_TRAINEE) != (role == BT_ROLE_TRAINEE)) {
    refusal->code = BT_ERROR_CONFLICT;
    refusal->wrong = g_strdup_printf("\"%s\" is in the book as %s, not as %s", code,
                                     bt_role_name(person->role), bt_role_name(role));
    refusal->expected = g_strdup("check the code; each role of a person has a code of its own");
  }
  bt_person_free(person);
  return true;
}

bool bt__check_people(BtBook *book, const BtHeader *header, BtRefusal *refusal, GError **error) {
  if (!check_role(book, header->trainee, BT_ROLE_TRAINEE, refusal, error))
    return false;
  if (refusal->wrong)
    return true;
  if (header->mode != BT_MODE_SELF)
    return check_role(book, header->assessor, BT_ROLE_ASSESSOR, refusal, error);
  if (strcmp(header->assessor, header->trainee) != 0) {
    refusal->code = BT_ERROR_CONFLICT;
    refusal->wrong = g_strdup_printf("the assessor of a trainee's own observation is \"%s\", but "
                                     "the trainee is \"%s\"",
                                     header->assessor, header->trainee);
    refusal->expected = g_strdup("in mode self both are the trainee");
  }
  return true;
}
