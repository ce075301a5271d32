// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rubric editions: the text as it was added, parsed once a handle.
#include <string.h>

#include <benchtally/rubric.h>

#include "store/names.h"
#include "store/store.h"

void bt_edition_free(BtEdition *edition) {
  if (!edition)
    return;
  g_free(edition->rubric);
  g_free(edition->title);
  g_free(edition->sha256);
  g_free(edition);
}

static const BtSql edition_sha256 = {
    "look the edition up", "SELECT sha256 FROM edition WHERE rubric = ?1 AND edition = ?2"};
static const BtSql add_edition = {
    "add the edition", "INSERT INTO edition(rubric, edition, title, sha256, text, added_ms) "
                       "VALUES (?1, ?2, ?3, ?4, ?5, ?6)"};
static const BtSql list_editions = {
    "list the editions",
    "SELECT rubric, edition, title, sha256, added_ms, "
    "(SELECT count(*) FROM session AS s WHERE s.rubric = e.rubric AND s.edition = e.edition) "
    "FROM edition AS e ORDER BY rubric, edition"};
static const BtSql edition_text = {
    "read the rubric", "SELECT edition, text FROM edition WHERE rubric = ?1 AND edition = ?2"};
static const BtSql latest_text = {"read the rubric",
                                  "SELECT edition, text FROM edition WHERE rubric = ?1 "
                                  "ORDER BY edition DESC LIMIT 1"};
static const BtSql rubric_ids = {"list the rubrics",
                                 "SELECT DISTINCT rubric FROM edition ORDER BY rubric"};

char *bt__edition_sha256(BtBook *book, const char *rubric, int edition, GError **error) {
  g_autoptr(BtQuery) query =
      bt__query(book->db, &edition_sha256, error, ARGS(TEXT(rubric), INT(edition)));
  return query && bt__step(query, error) == 1 ? bt__text_dup(query, 0) : NULL;
}

char **bt__rubric_ids(BtBook *book) {
  GPtrArray *ids = g_ptr_array_new();
  g_autoptr(BtQuery) query = bt__query(book->db, &rubric_ids, NULL, NO_ARGS);
  while (query && bt__step(query, NULL) == 1)
    g_ptr_array_add(ids, bt__text_dup(query, 0));
  g_ptr_array_add(ids, NULL);
  return (char **)g_ptr_array_free(ids, FALSE);
}

// Adding ----------------------------------------------------------------------

static bool insert_edition(BtBook *book, const BtRubric *rubric, GError **error) {
  gint64 now_ms = bt__now_ms(book);
  const BtMember body[] = {
      MEMBER_INT("added_ms", now_ms),      MEMBER_INT("edition", rubric->edition),
      MEMBER_TEXT("rubric", rubric->id),   MEMBER_TEXT("sha256", rubric->sha256),
      MEMBER_TEXT("title", rubric->title),
  };
  return bt__run(book->db, &add_edition, error,
                 ARGS(TEXT(rubric->id), INT(rubric->edition), TEXT(rubric->title),
                      TEXT(rubric->sha256), TEXT(rubric->text), INT(now_ms))) &&
         bt__book_note(book, "edition_added", body, G_N_ELEMENTS(body), error);
}

static bool add_rubric(BtBook *book, const BtRubric *rubric, bool *added, GError **error) {
  g_autoptr(GError) cause = NULL;
  g_autofree char *known = bt__edition_sha256(book, rubric->id, rubric->edition, &cause);
  if (cause) {
    g_propagate_error(error, g_steal_pointer(&cause));
    return false;
  }
  if (known && strcmp(known, rubric->sha256) != 0) {
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "edition %d of \"%s\" is in the book with another text; an edition is frozen, so "
                "give the changed rubric the next number",
                rubric->edition, rubric->id);
    return false;
  }
  *added = !known && insert_edition(book, rubric, error);
  return known || *added;
}

bool bt_book_add_rubric(BtBook *book, const BtRubric *rubric, bool *added, GError **error) {
  bool did = false;
  bool done = bt__begin(book, error) && bt__end(book, add_rubric(book, rubric, &did, error), error);
  if (added)
    *added = done && did;
  return done;
}

// Reading ---------------------------------------------------------------------

static void free_edition(gpointer edition) {
  bt_edition_free(edition);
}

static BtEdition *read_edition(BtQuery *query) {
  BtEdition *edition = g_new(BtEdition, 1);
  *edition = (BtEdition){.rubric = bt__text_dup(query, 0),
                         .edition = (int)bt__int(query, 1),
                         .title = bt__text_dup(query, 2),
                         .sha256 = bt__text_dup(query, 3),
                         .added_ms = bt__int(query, 4),
                         .sessions = (int)bt__int(query, 5)};
  return edition;
}

GPtrArray *bt_book_editions(BtBook *book, GError **error) {
  g_autoptr(GPtrArray) editions = g_ptr_array_new_with_free_func(free_edition);
  g_autoptr(BtQuery) query = bt__query(book->db, &list_editions, error, NO_ARGS);
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    g_ptr_array_add(editions, read_edition(query));
  return row == 0 ? g_steal_pointer(&editions) : NULL;
}

// A rubric that was sound when it was added and is not now was changed, or was read by a kinder
// program.
static BtRubric *parse(BtBook *book, const char *id, const char *text, GError **error) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  BtRubric *rubric = bt_rubric_read(text, strlen(text), id, faults);
  for (guint i = 0; !rubric && i < faults->len; i++) {
    const BtFault *fault = faults->pdata[i];
    if (fault->warning)
      continue;
    g_autofree char *words = bt_fault_format(fault);
    g_set_error(error, BT_ERROR, BT_ERROR_DATABASE,
                "%s: the rubric in the book has a fault (%s); `benchtally verify` tells whether "
                "it was changed",
                book->path, words);
    return NULL;
  }
  return rubric;
}

const BtRubric *bt_book_rubric(BtBook *book, const char *id, int edition, GError **error) {
  g_autofree char *asked = g_strdup_printf("%s %d", id, edition);
  const BtRubric *known = edition > 0 ? g_hash_table_lookup(book->rubrics, asked) : NULL;
  if (known)
    return known;
  g_autoptr(BtQuery) query =
      edition > 0 ? bt__query(book->db, &edition_text, error, ARGS(TEXT(id), INT(edition)))
                  : bt__query(book->db, &latest_text, error, ARGS(TEXT(id)));
  if (!query || bt__step(query, error) != 1)
    return NULL;
  char *key = g_strdup_printf("%s %d", id, (int)bt__int(query, 0));
  known = g_hash_table_lookup(book->rubrics, key);
  BtRubric *rubric = known ? NULL : parse(book, id, bt__text_needed(query, 1), error);
  if (!rubric) {
    g_free(key);
    return known;
  }
  g_hash_table_insert(book->rubrics, key, rubric);
  return rubric;
}
