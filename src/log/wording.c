// SPDX-License-Identifier: GPL-3.0-or-later
#include "log/wording.h"

#include <benchtally/base.h>

#define NAMES_SHOWN 12

const char **bt__ids(const void *things, int n, gsize size) {
  const char **ids = g_new(const char *, (gsize)n + 1);
  const char *thing = things;
  for (int i = 0; i < n; i++, thing += size)
    ids[i] = *(const char *const *)(const void *)thing;
  ids[n] = NULL;
  return ids;
}

static char *list_of(const char *const *names, gsize n) {
  GString *out = g_string_new(n == 1 ? "expected " : "expected one of ");
  for (gsize i = 0; i < n && i < NAMES_SHOWN; i++)
    g_string_append_printf(out, "%s%s", i ? ", " : "", names[i]);
  if (n > NAMES_SHOWN)
    g_string_append_printf(out, " and %" G_GSIZE_FORMAT " more", n - NAMES_SHOWN);
  return g_string_free(out, FALSE);
}

char *bt__meant_or_any(const char *word, const char *const *names, gsize n) {
  g_autofree char *any = n > 0 ? list_of(names, n) : NULL;
  return bt_did_you_mean(word, names, n, any);
}
