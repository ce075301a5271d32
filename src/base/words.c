// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/base.h>

#include <string.h>

bool bt_code_valid(const char *text) {
  gsize n = strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_.-");
  return n >= 1 && n <= 64 && !text[n] && text[0] != '-' && text[0] != '.';
}

static char folded(char c) {
  return c == '_' || c == ' ' ? '-' : g_ascii_tolower(c);
}

#define WORD_MAX 64
#define EDIT     (WORD_MAX + 1) // more than all the differences of case that two words can have

// Optimal string alignment distance (insert, delete, replace, swap neighbours: EDIT each), where a
// difference of case or of '_' and '-' alone counts 1. Both words are at most WORD_MAX bytes long.
static int distance(const char *a, gsize n_a, const char *b, gsize n_b) {
  int row[3][WORD_MAX + 1];
  for (gsize j = 0; j <= n_b; j++)
    row[1][j] = (int)j * EDIT;
  for (gsize i = 1; i <= n_a; i++) {
    row[2][0] = (int)i * EDIT;
    for (gsize j = 1; j <= n_b; j++) {
      int swap = a[i - 1] == b[j - 1] ? 0 : folded(a[i - 1]) == folded(b[j - 1]) ? 1 : EDIT;
      int best = MIN(row[1][j - 1] + swap, MIN(row[1][j], row[2][j - 1]) + EDIT);
      if (i > 1 && j > 1 && folded(a[i - 1]) == folded(b[j - 2]) &&
          folded(a[i - 2]) == folded(b[j - 1]))
        best = MIN(best, row[0][j - 2] + EDIT);
      row[2][j] = best;
    }
    memmove(row[0], row[1], sizeof row[0]);
    memmove(row[1], row[2], sizeof row[1]);
  }
  return row[1][n_b];
}

const char *bt_closest_word(const char *word, const char *const *words, gsize n) {
  gsize length = strlen(word);
  if (length == 0 || length > WORD_MAX)
    return NULL;
  const char *closest = NULL;
  int least = (int)(length / 3 + 1) * EDIT; // over a third of its length is another word
  for (gsize i = 0; i < n; i++) {
    gsize other = strlen(words[i]);
    if (other == 0 || other > WORD_MAX)
      continue;
    int d = distance(word, length, words[i], other);
    if (d < least) {
      least = d;
      closest = words[i];
    }
  }
  return closest;
}

int bt_word_index(const char *word, const char *const *words, gsize n) {
  for (gsize i = 0; word && i < n; i++) {
    if (strcmp(words[i], word) == 0)
      return (int)i;
  }
  return -1;
}

#define QUOTED_MAX 60 // characters

char *bt_quoted(const char *text) {
  g_autofree char *valid = g_utf8_make_valid(text, -1);
  GString *quoted = g_string_new("\"");
  int n = 0;
  for (const char *p = valid; *p; p = g_utf8_next_char(p)) {
    if (++n > QUOTED_MAX) {
      g_string_append(quoted, "...");
      break;
    }
    gunichar c = g_utf8_get_char(p);
    g_string_append_unichar(quoted, g_unichar_isprint(c) ? c : ' ');
  }
  g_string_append_c(quoted, '"');
  return g_string_free(quoted, FALSE);
}

char *bt_did_you_mean(const char *word, const char *const *words, gsize n, const char *otherwise) {
  const char *closest = bt_closest_word(word, words, n);
  return closest ? g_strdup_printf("did you mean \"%s\"?", closest) : g_strdup(otherwise);
}

bool bt_uuid_parse(const char *text, guint64 *high, guint64 *low) {
  guint64 half[2] = {0, 0};
  int digits = 0;
  for (int i = 0; i < 36; i++) {
    bool dash = i == 8 || i == 13 || i == 18 || i == 23;
    if (dash && text[i] == '-')
      continue;
    if (dash || !g_ascii_isxdigit(text[i]) || g_ascii_isupper(text[i]))
      return false;
    guint64 *part = &half[digits++ / 16];
    *part = *part << 4 | (guint64)g_ascii_xdigit_value(text[i]);
  }
  if (text[36])
    return false;
  if (high)
    *high = half[0];
  if (low)
    *low = half[1];
  return true;
}

char *bt_count_of(gint64 count, const char *singular, const char *plural) {
  if (count == 1)
    return g_strdup_printf("1 %s", singular);
  return plural ? g_strdup_printf("%" G_GINT64_FORMAT " %s", count, plural)
                : g_strdup_printf("%" G_GINT64_FORMAT " %ss", count, singular);
}
