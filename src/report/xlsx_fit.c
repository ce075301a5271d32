// SPDX-License-Identifier: GPL-3.0-or-later
//
// Heights of rows whose texts wrap. The width of a letter is that of a plain sans serif as wide as
// DejaVu, so that a narrower one leaves a little air rather than a cut line.
#include "report/xlsx_private.h"

#define USUAL_WIDTH  8.43 // characters
#define USUAL_HEIGHT 15.0 // points
#define CHARACTER    7.0  // pixels of a character of column width
#define LETTER       0.54 // width of a letter as a share of its size, in pixels a point
#define BOLD         1.14 // as much wider are bold letters
#define LINE         1.3  // height of a line as a share of its size
#define HEIGHT_MOST  409.0

void bt__xlsx_note_fit(BtXlsxSheet *sheet, int row, int column, BtStyle style, const char *text) {
  bool wraps = false, bold = false;
  double size = bt__xlsx_style_size(style, &wraps, &bold);
  if ((!wraps && size <= 11) || column >= BT_XLSX_COLUMNS)
    return;
  const BtFitted fitted = {row, column, style, wraps ? g_strdup(text) : NULL};
  g_array_append_val(sheet->fitted, fitted);
}

static int letter_columns(gunichar c) {
  return g_unichar_iszerowidth(c) ? 0 : g_unichar_iswide(c) ? 2 : 1;
}

// Lines that `text` takes when it is wrapped at spaces after `most` letters.
static int lines_of(const char *text, int most) {
  int lines = 1, at = 0, word = 0;
  for (const char *p = text;; p = g_utf8_next_char(p)) {
    gunichar c = g_utf8_get_char(p);
    if (c != 0 && c != ' ' && c != '\n') {
      word += letter_columns(c);
      continue;
    }
    if (at > 0 && at + word > most) {
      lines++;
      at = 0;
    }
    lines += word > most ? (word - 1) / most : 0; // a long word is broken
    at += word + 1;
    word = 0;
    if (c == '\n') {
      lines++;
      at = 0;
    }
    if (c == 0)
      return lines;
  }
}

static double height_of(const BtXlsxSheet *sheet, const BtFitted *fitted) {
  bool wraps = false, bold = false;
  double size = bt__xlsx_style_size(fitted->style, &wraps, &bold);
  double letter = size * LETTER * (bold ? BOLD : 1);
  double width = sheet->widths[fitted->column] > 0 ? sheet->widths[fitted->column] : USUAL_WIDTH;
  int most = (int)((width * CHARACTER - 10) / letter);
  int lines = fitted->text ? lines_of(fitted->text, MAX(1, most)) : 1;
  return MIN(HEIGHT_MOST, lines * size * LINE + 3);
}

void bt__xlsx_fit_rows(BtXlsxSheet *sheet) {
  g_autoptr(GHashTable) heights = g_hash_table_new_full(NULL, NULL, NULL, g_free);
  for (guint i = 0; i < sheet->fitted->len; i++) {
    const BtFitted *fitted = &g_array_index(sheet->fitted, BtFitted, i);
    double height = height_of(sheet, fitted);
    if (height <= USUAL_HEIGHT + 1)
      continue;
    double *known = g_hash_table_lookup(heights, GINT_TO_POINTER(fitted->row));
    if (!known) {
      known = g_new0(double, 1);
      g_hash_table_insert(heights, GINT_TO_POINTER(fitted->row), known);
    }
    if (height <= *known)
      continue;
    *known = height;
    bt__xlsx_height(sheet, fitted->row, height);
  }
}
