// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/pages.h"

#include <gio/gio.h>

#include "serve/page_files.h" // made from pages/pages.gresource.xml

#define FOLDER "/benchtally/pages/"

typedef struct {
  const char *type;
  GBytes *bytes;
  char *etag;
} PageFile;

struct BtPages {
  GHashTable *files; // name -> PageFile
};

static const struct {
  const char *ending, *type;
} types[] = {{".html", "text/html; charset=utf-8"},
             {".css", "text/css; charset=utf-8"},
             {".js", "text/javascript; charset=utf-8"},
             {".svg", "image/svg+xml"},
             {".json", "application/json"},
             {".woff2", "font/woff2"},
             {".png", "image/png"}};

static const char *type_of(const char *name) {
  for (gsize i = 0; i < G_N_ELEMENTS(types); i++) {
    if (g_str_has_suffix(name, types[i].ending))
      return types[i].type;
  }
  return "application/octet-stream";
}

static void free_file(gpointer data) {
  PageFile *file = data;
  g_bytes_unref(file->bytes);
  g_free(file->etag);
  g_free(file);
}

static PageFile *read_file(GResource *resource, const char *name) {
  g_autofree char *path = g_strconcat(FOLDER, name, NULL);
  PageFile *file = g_new0(PageFile, 1);
  guint8 sha256[BT_SHA256_BYTES];
  char hex[33];
  gsize length = 0;
  file->type = type_of(name);
  file->bytes = g_resource_lookup_data(resource, path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  const void *data = g_bytes_get_data(file->bytes, &length);
  bt_sha256(data, length, sha256);
  bt_hex(sha256, 16, hex);
  file->etag = g_strdup_printf("\"%s\"", hex);
  return file;
}

BtPages *bt__pages_new(void) {
  BtPages *pages = g_new0(BtPages, 1);
  pages->files = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_file);
  GResource *resource = bt__page_files_get_resource();
  g_auto(GStrv) names =
      g_resource_enumerate_children(resource, FOLDER, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  for (char **name = names; name && *name; name++)
    g_hash_table_insert(pages->files, g_strdup(*name), read_file(resource, *name));
  return pages;
}

void bt__pages_free(BtPages *pages) {
  if (!pages)
    return;
  g_hash_table_unref(pages->files);
  g_free(pages);
}

BtAnswer *bt__pages_answer(const BtPages *pages, const char *name, const char *known_etag) {
  const PageFile *file = g_hash_table_lookup(pages->files, name);
  if (!file)
    return NULL;
  bool known = known_etag && g_str_equal(known_etag, file->etag);
  BtAnswer *answer = bt__answer(known ? 304 : 200, file->type,
                                known ? g_bytes_new_static("", 0) : g_bytes_ref(file->bytes));
  answer->etag = g_strdup(file->etag);
  return answer;
}
