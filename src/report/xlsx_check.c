// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reading a finished workbook back. libxlsxwriter does not see it when a temporary file could not
// take all of a sheet; the zip is then sound and the sheet in it cut short.
#include "report/xlsx.h"

#include <minizip/unzip.h>

typedef struct {
  int sheets, charts;
} PartCount;

static void fault(GError **error, const char *part, const char *what) {
  g_set_error(error, BT_ERROR, BT_ERROR_EXPORT, "part %s of the workbook %s", part, what);
}

// Feeds the open part to an XML parser; true when it is whole and well formed.
static bool part_is_whole(unzFile zip, const char *part, GError **error) {
  static const GMarkupParser no_callbacks = {NULL, NULL, NULL, NULL, NULL};
  g_autoptr(GMarkupParseContext) context = g_markup_parse_context_new(&no_callbacks, 0, NULL, NULL);
  char block[16384];
  for (;;) {
    int n = unzReadCurrentFile(zip, block, sizeof block);
    if (n < 0) {
      fault(error, part, "cannot be read back");
      return false;
    }
    if (n == 0)
      break;
    if (!g_markup_parse_context_parse(context, block, n, NULL)) {
      fault(error, part, "is not well formed");
      return false;
    }
  }
  if (!g_markup_parse_context_end_parse(context, NULL)) {
    fault(error, part, "is cut short");
    return false;
  }
  return true;
}

static bool check_part(unzFile zip, PartCount *count, GError **error) {
  char part[256];
  unz_file_info info; // minizip 1.1 fills it in unasked
  if (unzGetCurrentFileInfo(zip, &info, part, sizeof part, NULL, 0, NULL, 0) != UNZ_OK ||
      unzOpenCurrentFile(zip) != UNZ_OK) {
    fault(error, "(unnamed)", "cannot be opened");
    return false;
  }
  bool whole = part_is_whole(zip, part, error);
  bool sums = unzCloseCurrentFile(zip) == UNZ_OK;
  if (whole && !sums)
    fault(error, part, "does not match its stored sum");
  count->sheets += g_str_has_prefix(part, "xl/worksheets/sheet");
  count->charts += g_str_has_prefix(part, "xl/charts/chart");
  return whole && sums;
}

static bool check_parts(unzFile zip, PartCount *count, GError **error) {
  int step = unzGoToFirstFile(zip);
  for (; step == UNZ_OK; step = unzGoToNextFile(zip)) {
    if (!check_part(zip, count, error))
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
