// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reading a finished workbook back. libxlsxwriter does not see it when a temporary file could not
// take all of a sheet; the zip is then sound and the sheet in it cut short.
#include "report/xlsx.h"

#include <minizip/unzip.h>
#include <string.h>

typedef struct {
  int sheets, charts;
} PartCount;

static void fault(GError **error, const char *part, const char *what) {
  g_set_error(error, BT_ERROR, BT_ERROR_EXPORT, "part %s of the workbook %s", part, what);
}

// Whole XML -------------------------------------------------------------------

#define DEPTH_MOST 64 // far more than any part of a workbook has

typedef struct {
  const char *at;
  gsize length;
} Name;

static Name name_at(const char *p, const char *end) {
  const char *q = p;
  while (q < end && *q != ' ' && *q != '/' && *q != '>')
    q++;
  return (Name){p, (gsize)(q - p)};
}

static bool quotes_pair(const char *p, const char *end) {
  int quotes = 0;
  while ((p = memchr(p, '"', (gsize)(end - p)))) {
    quotes++;
    p++;
  }
  return quotes % 2 == 0;
}

// Follows one tag, from its '<' to its '>' at `end`; false when it cannot stand there.
static bool follow_tag(const char *tag, const char *end, Name open[], int *depth) {
  if (tag[1] == '?')
    return true;
  bool closes = tag[1] == '/';
  Name name = name_at(tag + 1 + closes, end);
  if (name.length == 0 || !quotes_pair(tag, end) || memchr(tag + 1, '<', (gsize)(end - tag - 1)))
    return false;
  if (closes) {
    const Name *top = *depth > 0 ? &open[--*depth] : NULL;
    return top && top->length == name.length && memcmp(top->at, name.at, name.length) == 0;
  }
  if (end[-1] == '/')
    return true;
  if (*depth == DEPTH_MOST)
    return false;
  open[(*depth)++] = name;
  return true;
}

// Follows the tags of a part to its end. The writer escapes '<' and '>' everywhere else, so that
// this finds what a lost piece of the file does: a tag cut, left open, or closed by another.
static const char *xml_fault(const char *text, gsize length) {
  if (length == 0)
    return "is cut short";
  Name open[DEPTH_MOST];
  int depth = 0, tags = 0;
  const char *p = text, *end = text + length;
  while ((p = memchr(p, '<', (gsize)(end - p)))) {
    const char *close = memchr(p, '>', (gsize)(end - p));
    if (!close)
      return "is cut short";
    if (!follow_tag(p, close, open, &depth))
      return "is not well formed";
    tags++;
    p = close + 1;
  }
  return depth > 0 || tags == 0 ? "is cut short" : NULL;
}

// Parts -----------------------------------------------------------------------

// Reads the open part into `text`; false when that fails.
static bool read_part(unzFile zip, gsize size, GByteArray *text) {
  g_byte_array_set_size(text, (guint)size);
  gsize done = 0;
  while (done < size) {
    int n = unzReadCurrentFile(zip, text->data + done, (unsigned)MIN(size - done, 1U << 20));
    if (n <= 0)
      return false;
    done += (gsize)n;
  }
  guint8 beyond;
  return unzReadCurrentFile(zip, &beyond, 1) == 0;
}

static bool part_is_whole(unzFile zip, const char *part, gsize size, GByteArray *text,
                          GError **error) {
  if (!read_part(zip, size, text)) {
    fault(error, part, "cannot be read back");
    return false;
  }
  const char *wrong = xml_fault((const char *)text->data, text->len);
  if (wrong)
    fault(error, part, wrong);
  return !wrong;
}

static bool check_part(unzFile zip, PartCount *count, GByteArray *text, GError **error) {
  char part[256];
  unz_file_info info;
  if (unzGetCurrentFileInfo(zip, &info, part, sizeof part, NULL, 0, NULL, 0) != UNZ_OK ||
      unzOpenCurrentFile(zip) != UNZ_OK) {
    fault(error, "(unnamed)", "cannot be opened");
    return false;
  }
  bool whole = part_is_whole(zip, part, info.uncompressed_size, text, error);
  bool sums = unzCloseCurrentFile(zip) == UNZ_OK;
  if (whole && !sums)
    fault(error, part, "does not match its stored sum");
  count->sheets += g_str_has_prefix(part, "xl/worksheets/sheet");
  count->charts += g_str_has_prefix(part, "xl/charts/chart");
  return whole && sums;
}

static bool check_parts(unzFile zip, PartCount *count, GError **error) {
  g_autoptr(GByteArray) text = g_byte_array_new();
  int step = unzGoToFirstFile(zip);
  for (; step == UNZ_OK; step = unzGoToNextFile(zip)) {
    if (!check_part(zip, count, text, error))
      return false;
  }
  if (step != UNZ_END_OF_LIST_OF_FILE)
    fault(error, "(the list of parts)", "cannot be read back");
  return step == UNZ_END_OF_LIST_OF_FILE;
}

bool bt__xlsx_check_file(const char *path, int sheets, int charts, GError **error) {
  unzFile zip = unzOpen(path);
  if (!zip) {
    fault(error, "(the file)", "is no zip archive");
    return false;
  }
  PartCount count = {0, 0};
  bool sound = check_parts(zip, &count, error);
  unzClose(zip);
  if (sound && (count.sheets != sheets || count.charts != charts)) {
    g_set_error(error, BT_ERROR, BT_ERROR_EXPORT,
                "the workbook holds %d sheets and %d charts; %d and %d were made", count.sheets,
                count.charts, sheets, charts);
    return false;
  }
  return sound;
}
