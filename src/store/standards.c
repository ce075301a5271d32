// SPDX-License-Identifier: GPL-3.0-or-later
//
// Standards: pass marks as they were set, and their adoptions. Nothing here changes what a session
// scores.
#include <jansson.h>
#include <string.h>

#include "store/store.h"

void bt_standard_free(BtStandard *standard) {
  if (!standard)
    return;
  g_free(standard->rubric);
  g_free(standard->method);
  g_free(standard->judges_note);
  g_free(standard->set_on);
  g_free(standard->figures_json);
  g_free(standard->added_by);
  g_free(standard->adopted_by);
  g_free(standard->adopted_reason);
  g_free(standard);
}

// Checking --------------------------------------------------------------------

#define NOTE_BYTES_MAX    1000
#define FIGURES_BYTES_MAX (1024 * 1024)

static bool is_date(const char *text) {
  g_autofree char *midnight = g_strconcat(text, "T00:00:00Z", NULL);
  gint64 ms = 0;
  return strlen(text) == 10 && bt_rfc3339_parse(midnight, &ms);
}

static bool is_plain(const char *text) {
  return g_utf8_validate(text, -1, NULL) && strlen(text) <= NOTE_BYTES_MAX &&
         !strpbrk(text, "\r\n");
}

static bool are_figures(const char *json) {
  gsize length = strlen(json);
  if (length > FIGURES_BYTES_MAX)
    return false;
  json_t *figures = json_loadb(json, length, JSON_REJECT_DUPLICATES, NULL);
  char *again = json_is_object(figures) ? json_dumps(figures, JSON_COMPACT | JSON_SORT_KEYS) : NULL;
  bool canonical = again && strcmp(again, json) == 0;
  free(again);
  json_decref(figures);
  return canonical;
}

// What of the standard cannot be kept, and what was expected; NULL: nothing.
static const char *fault_of(const BtStandard *standard) {
  if (!bt_code_valid(standard->method))
    return "the method is no plain word; use one such as angoff, borderline or hofstee";
  if (standard->cut_milli < 0 || standard->cut_milli > 100 * 1000)
    return "the pass mark is no percentage; use 0 to 100";
  if (standard->se_milli < -1 || standard->se_milli > 100 * 1000)
    return "the standard error is no percentage; use 0 to 100, or none";
  if (standard->judges < 0)
    return "the number of judges is below 0; use 0 where none sat";
  if (standard->judges_note && !is_plain(standard->judges_note))
    return "the note of who sat is not plain text; use one line of at most 1,000 bytes of UTF-8";
  if (!is_date(standard->set_on))
    return "the day it was set is no date; write it as 2026-03-04";
  if (!are_figures(standard->figures_json))
    return "the figures of the method are no canonical JSON object";
  return NULL;
}

static bool check_standard(BtBook *book, const BtStandard *standard, GError **error) {
  const char *fault = fault_of(standard);
  if (fault) {
    g_set_error(error, BT_ERROR, BT_ERROR_OPTION, "a standard of \"%s\": %s", standard->rubric,
                fault);
    return false;
  }
  g_autoptr(GError) cause = NULL;
  g_autofree char *known = bt__edition_sha256(book, standard->rubric, standard->edition, &cause);
  if (cause)
    g_propagate_error(error, g_steal_pointer(&cause));
  else if (!known)
    g_set_error(
        error, BT_ERROR, BT_ERROR_UNKNOWN,
        "edition %d of the rubric \"%s\" is not in the book; `benchtally rubric list` shows "
        "those that are",
        standard->edition, standard->rubric);
  return known != NULL;
}

// Adding ----------------------------------------------------------------------

static const BtSql add_standard = {
    "put the standard on record",
    "INSERT INTO standard(rubric, edition, method, cut_milli, se_milli, judges, judges_note, "
    "set_on, figures, added_ms, added_by) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)"};

static bool insert_standard(BtBook *book, const BtStandard *standard, gint64 now_ms,
                            GError **error) {
  return bt__run(book->db, &add_standard, error,
                 ARGS(TEXT(standard->rubric), INT(standard->edition), TEXT(standard->method),
                      INT(standard->cut_milli), INT_IF(standard->se_milli >= 0, standard->se_milli),
                      INT(standard->judges), TEXT(standard->judges_note), TEXT(standard->set_on),
                      TEXT(standard->figures_json), INT(now_ms), TEXT(book->actor)));
}

static bool note_standard(BtBook *book, const BtStandard *standard, gint64 id, gint64 now_ms,
                          GError **error) {
  char figures_sha256[BT_SHA256_HEX + 1];
  bt__text_sha256(standard->figures_json, figures_sha256);
  const BtMember body[] = {
      MEMBER_INT("added_ms", now_ms),
      MEMBER_INT("cut_milli", standard->cut_milli),
      MEMBER_INT("edition", standard->edition),
      MEMBER_TEXT("figures_sha256", figures_sha256),
      MEMBER_INT("judges", standard->judges),
      MEMBER_TEXT("judges_note", standard->judges_note),
      MEMBER_TEXT("method", standard->method),
      MEMBER_TEXT("rubric", standard->rubric),
      MEMBER_INT_IF("se_milli", standard->se_milli >= 0, standard->se_milli),
      MEMBER_TEXT("set_on", standard->set_on),
      MEMBER_INT("standard", id),
  };
  return bt__book_note(book, "standard_added", body, G_N_ELEMENTS(body), error);
}

static bool add(BtBook *book, const BtStandard *standard, gint64 *id, GError **error) {
  gint64 now_ms = bt__now_ms(book);
  if (!check_standard(book, standard, error) || !insert_standard(book, standard, now_ms, error))
    return false;
  *id = bt__last_id(book->db);
  return note_standard(book, standard, *id, now_ms, error);
}

bool bt_book_add_standard(BtBook *book, const BtStandard *standard, gint64 *id, GError **error) {
  gint64 given = 0;
  bool done = bt__begin(book, error) && bt__end(book, add(book, standard, &given, error), error);
  if (done && id)
    *id = given;
  return done;
}

// Reading ---------------------------------------------------------------------

// The last adoption of any standard of the same edition.
#define IN_FORCE                                                                                   \
  "(SELECT max(l.number) FROM adoption AS l JOIN standard AS t ON t.id = l.standard_id"            \
  " WHERE t.rubric = s.rubric AND t.edition = s.edition)"

static const BtSql list_standards = {
    "list the standards",
    "SELECT s.id, s.rubric, s.edition, s.method, s.cut_milli, s.se_milli, s.judges, s.judges_note,"
    "  s.set_on, s.figures, s.added_ms, s.added_by, a.adopted_ms, a.adopted_by, a.reason,"
    "  a.number IS NOT NULL AND a.number = " IN_FORCE " "
    "FROM standard AS s LEFT JOIN adoption AS a ON a.number ="
    "  (SELECT max(number) FROM adoption AS l WHERE l.standard_id = s.id) "
    "WHERE ?1 IS NULL OR s.rubric = ?1 ORDER BY s.rubric, s.edition, s.id"};

static BtStandard *read_standard(BtQuery *query) {
  BtStandard *standard = g_new(BtStandard, 1);
  *standard = (BtStandard){.id = bt__int(query, 0),
                           .rubric = bt__text_dup(query, 1),
                           .edition = (int)bt__int(query, 2),
                           .method = bt__text_dup(query, 3),
                           .cut_milli = bt__int(query, 4),
                           .se_milli = bt__is_null(query, 5) ? -1 : bt__int(query, 5),
                           .judges = (int)bt__int(query, 6),
                           .judges_note = bt__text_dup(query, 7),
                           .set_on = bt__text_dup(query, 8),
                           .figures_json = bt__text_dup(query, 9),
                           .added_ms = bt__int(query, 10),
                           .added_by = bt__text_dup(query, 11),
                           .adopted_ms = bt__int(query, 12),
                           .adopted_by = bt__text_dup(query, 13),
                           .adopted_reason = bt__text_dup(query, 14),
                           .in_force = bt__int(query, 15) != 0};
  return standard;
}

static void free_standard(gpointer standard) {
  bt_standard_free(standard);
}

GPtrArray *bt_book_standards(BtBook *book, const char *rubric, GError **error) {
  g_autoptr(GPtrArray) standards = g_ptr_array_new_with_free_func(free_standard);
  g_autoptr(BtQuery) query = bt__query(book->db, &list_standards, error, ARGS(TEXT(rubric)));
  int row = query ? bt__step(query, error) : -1;
  for (; row == 1; row = bt__step(query, error))
    g_ptr_array_add(standards, read_standard(query));
  return row == 0 ? g_steal_pointer(&standards) : NULL;
}

// Adopting --------------------------------------------------------------------

static const BtSql find_in_force = {"look the standard up",
                                    "SELECT coalesce((SELECT standard_id FROM adoption "
                                    "WHERE number = " IN_FORCE "), 0) "
                                    "FROM standard AS s WHERE s.id = ?1"};
static const BtSql add_adoption = {
    "adopt the standard",
    "INSERT INTO adoption(standard_id, adopted_ms, adopted_by, reason) VALUES (?1, ?2, ?3, ?4)"};

static bool may_adopt(BtBook *book, gint64 id, GError **error) {
  gint64 in_force = 0;
  int found = bt__number(book->db, &find_in_force, &in_force, error, ARGS(INT(id)));
  if (found == 0)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "no standard %" G_GINT64_FORMAT " in the book; `benchtally standard` lists them",
                id);
  else if (found == 1 && in_force == id)
    g_set_error(error, BT_ERROR, BT_ERROR_CONFLICT,
                "standard %" G_GINT64_FORMAT " is adopted already; nothing was changed", id);
  return found == 1 && in_force != id;
}

static bool adopt(BtBook *book, gint64 id, const char *reason, GError **error) {
  gint64 now_ms = bt__now_ms(book);
  if (!may_adopt(book, id, error) ||
      !bt__run(book->db, &add_adoption, error,
               ARGS(INT(id), INT(now_ms), TEXT(book->actor), TEXT(reason))))
    return false;
  const BtMember body[] = {MEMBER_INT("adopted_ms", now_ms),
                           MEMBER_INT("adoption", bt__last_id(book->db)),
                           MEMBER_TEXT("reason", reason), MEMBER_INT("standard", id)};
  return bt__book_note(book, "standard_adopted", body, G_N_ELEMENTS(body), error);
}

bool bt_book_adopt_standard(BtBook *book, gint64 id, const char *reason, GError **error) {
  return bt__check_reason(reason, error) && bt__begin(book, error) &&
         bt__end(book, adopt(book, id, reason, error), error);
}
