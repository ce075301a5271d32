// SPDX-License-Identifier: GPL-3.0-or-later
//
// The looks of cells, in one table.
#include "report/xlsx_private.h"

typedef struct {
  double size;
  BtColour colour;
  bool bold, wrap, right, rule; // rule: a hairline below
  BtColour fill;                // 0: none
  const char *number;           // number form; NULL: general
} Look;

static const Look looks[BT_STYLES] = {
    [BT_STYLE_TITLE] = {.size = 20, .colour = BT_INK, .bold = true},
    [BT_STYLE_SUBTITLE] = {.size = 11, .colour = BT_SLATE},
    [BT_STYLE_HEADING] = {.size = 13, .colour = BT_INK, .bold = true},
    [BT_STYLE_TEXT] = {.size = 11, .colour = BT_INK, .wrap = true},
    [BT_STYLE_STRONG] = {.size = 11, .colour = BT_INK, .bold = true, .wrap = true},
    [BT_STYLE_LABEL] = {.size = 10, .colour = BT_SLATE, .wrap = true},
    [BT_STYLE_CAUTION] = {.size = 10, .colour = BT_INK, .wrap = true, .fill = BT_WASH},
    [BT_STYLE_ATTENTION] = {.size = 11, .colour = BT_OCHRE, .bold = true, .wrap = true},
    [BT_STYLE_ACCENT] = {.size = 11, .colour = BT_LAGOON, .bold = true, .wrap = true},
    [BT_STYLE_DRAWN] = {.size = 8, .colour = BT_SLATE},
    [BT_STYLE_HEADER] =
        {.size = 10, .colour = BT_INK, .bold = true, .wrap = true, .fill = BT_WASH, .rule = true},
    [BT_STYLE_HEADER_RIGHT] = {.size = 10,
                               .colour = BT_INK,
                               .bold = true,
                               .wrap = true,
                               .right = true,
                               .fill = BT_WASH,
                               .rule = true},
    [BT_STYLE_CELL] = {.size = 10, .colour = BT_INK, .wrap = true, .rule = true},
    [BT_STYLE_CELL_STRONG] =
        {.size = 10, .colour = BT_INK, .bold = true, .wrap = true, .rule = true},
    [BT_STYLE_COUNT] = {.size = 10, .colour = BT_INK, .right = true, .rule = true, .number = "0"},
    [BT_STYLE_DECIMAL] =
        {.size = 10, .colour = BT_INK, .right = true, .rule = true, .number = "0.0??"},
    [BT_STYLE_PERCENT] =
        {.size = 10, .colour = BT_INK, .right = true, .rule = true, .number = "0.0"},
    [BT_STYLE_DATE] =
        {.size = 10, .colour = BT_INK, .right = true, .rule = true, .number = "d mmm yyyy"},
    [BT_STYLE_DURATION] = {.size = 10,
                           .colour = BT_INK,
                           .right = true,
                           .rule = true,
                           .number = "[<0.0416666666]m:ss;[h]:mm:ss"},
    [BT_STYLE_FIGURE] =
        {.size = 10, .colour = BT_INK, .right = true, .rule = true, .number = "0.00"},
    [BT_STYLE_HEAT_1] = {.size = 10,
                         .colour = BT_INK,
                         .right = true,
                         .rule = true,
                         .fill = (BtColour)BT_SHADE_1,
                         .number = "0.0"},
    [BT_STYLE_HEAT_2] = {.size = 10,
                         .colour = BT_INK,
                         .right = true,
                         .rule = true,
                         .fill = (BtColour)BT_SHADE_2,
                         .number = "0.0"},
    [BT_STYLE_HEAT_3] = {.size = 10,
                         .colour = BT_INK,
                         .bold = true,
                         .right = true,
                         .rule = true,
                         .fill = (BtColour)BT_SHADE_3,
                         .number = "0.0"},
};

double bt__xlsx_style_size(BtStyle style, bool *wraps, bool *bold) {
  *bold = looks[style].bold;
  *wraps = looks[style].wrap;
  return looks[style].size;
}

static void dress(lxw_format *format, const Look *look, bool header) {
  format_set_font_size(format, look->size);
  format_set_font_color(format, (lxw_color_t)look->colour);
  format_set_align(format, LXW_ALIGN_VERTICAL_TOP);
  if (look->bold)
    format_set_bold(format);
  if (look->wrap)
    format_set_text_wrap(format);
  if (look->right)
    format_set_align(format, LXW_ALIGN_RIGHT);
  else if (!look->number)
    format_set_align(format, LXW_ALIGN_LEFT);
  if (look->rule && !look->right)
    format_set_indent(format, 1); // so that a text stands off the number to its left
  if (look->rule) {
    format_set_bottom(format, header ? LXW_BORDER_MEDIUM : LXW_BORDER_HAIR);
    format_set_bottom_color(format, (lxw_color_t)(header ? BT_INK : BT_LINE));
  }
  if (look->fill) {
    format_set_pattern(format, LXW_PATTERN_SOLID);
    format_set_bg_color(format, (lxw_color_t)look->fill);
  }
  if (look->number)
    format_set_num_format(format, look->number);
}

void bt__xlsx_make_formats(BtXlsx *xlsx) {
  for (int i = 0; i < BT_STYLES; i++) {
    xlsx->formats[i] = workbook_add_format(xlsx->workbook);
    if (!xlsx->formats[i]) {
      bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: not enough memory for its styles", xlsx->path);
      return;
    }
    dress(xlsx->formats[i], &looks[i], i == BT_STYLE_HEADER || i == BT_STYLE_HEADER_RIGHT);
  }
  xlsx->band = workbook_add_format(xlsx->workbook);
  if (xlsx->band)
    format_set_bg_color(xlsx->band, BT_WASH);
}
