// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/typeface.h"

bool bt__typeface_found(GError **error) {
  PangoFontMap *map = pango_cairo_font_map_get_default();
  PangoFontFamily *family = pango_font_map_get_family(map, BT_TYPEFACE);
  if (family && g_ascii_strcasecmp(pango_font_family_get_name(family), BT_TYPEFACE) == 0)
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_EXPORT,
              "the typeface %s is not installed, so no PDF can be made; install the package "
              "fonts-dejavu-core, or make the page with --html",
              BT_TYPEFACE);
  return false;
}

PangoLayout *bt__layout_new(cairo_t *cr, double size, bool bold) {
  PangoLayout *layout = pango_cairo_create_layout(cr);
  PangoFontDescription *font = pango_font_description_new();
  pango_font_description_set_family_static(font, BT_TYPEFACE);
  pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
  if (bold)
    pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
  pango_layout_set_font_description(layout, font);
  pango_font_description_free(font);
  return layout;
}

void bt__set_colour(cairo_t *cr, BtColour colour) {
  guint rgb = (guint)colour;
  cairo_set_source_rgb(cr, (double)(rgb >> 16) / 255, (double)(rgb >> 8 & 0xff) / 255,
                       (double)(rgb & 0xff) / 255);
}
