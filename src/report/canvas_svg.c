// SPDX-License-Identifier: GPL-3.0-or-later
//
// SVG 1.1 within a page or alone. Colours stand twice: as attributes, so that the image is whole by
// itself, and as class names, so that a page can change them for dark screens.
#include "report/canvas_private.h"

#include <string.h>

typedef struct {
  BtCanvas canvas;
  GString *out; // borrowed
  bool linked;
} Svg;

static const char *colour_name(BtColour colour) {
  switch (colour) {
  case BT_PAPER:
    return "paper";
  case BT_INK:
    return "ink";
  case BT_SLATE:
    return "slate";
  case BT_LINE:
    return "line";
  case BT_WASH:
    return "wash";
  case BT_LAGOON:
    return "lagoon";
  case BT_OCHRE:
    return "ochre";
  case BT_PLUM:
    return "plum";
  case BT_MOSS:
    return "moss";
  case BT_STEEL:
    return "steel";
  case BT_SAND:
    return "sand";
  }
  return "ink";
}

// To hundredths, which no eye can tell apart, without needless zeros and whatever the locale says.
static void put_number(GString *out, double value) {
  char text[G_ASCII_DTOSTR_BUF_SIZE];
  g_ascii_formatd(text, sizeof text, "%.2f", value);
  char *end = text + strlen(text) - 1;
  while (*end == '0')
    *end-- = '\0';
  if (*end == '.')
    *end = '\0';
  g_string_append(out, strcmp(text, "-0") == 0 ? "0" : text);
}

static void put_attribute(GString *out, const char *name, double value) {
  g_string_append_printf(out, " %s=\"", name);
  put_number(out, value);
  g_string_append_c(out, '"');
}

static void put_escaped(GString *out, const char *text) {
  g_autofree char *escaped = g_markup_escape_text(text, -1);
  g_string_append(out, escaped);
}

static void put_points(GString *out, const BtPoint *points, gsize n) {
  g_string_append(out, " points=\"");
  for (gsize i = 0; i < n; i++) {
    if (i > 0)
      g_string_append_c(out, ' ');
    put_number(out, points[i].x);
    g_string_append_c(out, ',');
    put_number(out, points[i].y);
  }
  g_string_append_c(out, '"');
}

static void put_stroke(GString *out, const BtStroke *stroke) {
  g_string_append_printf(out, " stroke=\"#%06x\"", (guint)stroke->colour);
  put_attribute(out, "stroke-width", stroke->width);
  if (stroke->dashed)
    g_string_append(out, " stroke-dasharray=\"4 3\"");
}

static void svg_path(BtCanvas *canvas, const BtPoint *points, gsize n, const BtStroke *stroke) {
  GString *out = ((Svg *)canvas)->out;
  g_string_append_printf(out, "<polyline class=\"s-%s\" fill=\"none\"",
                         colour_name(stroke->colour));
  put_points(out, points, n);
  put_stroke(out, stroke);
  g_string_append(out, "/>\n");
}

static void svg_area(BtCanvas *canvas, const BtPoint *points, gsize n, BtColour fill) {
  GString *out = ((Svg *)canvas)->out;
  g_string_append_printf(out, "<polygon class=\"f-%s\" fill=\"#%06x\"", colour_name(fill),
                         (guint)fill);
  put_points(out, points, n);
  g_string_append(out, "/>\n");
}

static void svg_circle(BtCanvas *canvas, BtPoint centre, double radius, BtColour fill,
                       const BtStroke *stroke) {
  GString *out = ((Svg *)canvas)->out;
  g_string_append_printf(out, "<circle class=\"f-%s", colour_name(fill));
  if (stroke)
    g_string_append_printf(out, " s-%s", colour_name(stroke->colour));
  g_string_append_printf(out, "\" fill=\"#%06x\"", (guint)fill);
  put_attribute(out, "cx", centre.x);
  put_attribute(out, "cy", centre.y);
  put_attribute(out, "r", radius);
  if (stroke)
    put_stroke(out, stroke);
  g_string_append(out, "/>\n");
}

static void svg_text(BtCanvas *canvas, BtPoint at, const char *text, const BtType *type) {
  static const char *const anchors[] = {
      [BT_ANCHOR_START] = NULL, [BT_ANCHOR_MIDDLE] = "middle", [BT_ANCHOR_END] = "end"};
  GString *out = ((Svg *)canvas)->out;
  g_string_append_printf(out, "<text class=\"f-%s\" fill=\"#%06x\"", colour_name(type->colour),
                         (guint)type->colour);
  put_attribute(out, "x", at.x);
  put_attribute(out, "y", at.y);
  put_attribute(out, "font-size", type->size);
  if (type->bold)
    g_string_append(out, " font-weight=\"bold\"");
  if (anchors[type->anchor])
    g_string_append_printf(out, " text-anchor=\"%s\"", anchors[type->anchor]);
  g_string_append_c(out, '>');
  put_escaped(out, text);
  g_string_append(out, "</text>\n");
}

static void svg_link(BtCanvas *canvas, const char *target, const char *title) {
  Svg *svg = (Svg *)canvas;
  g_string_append(svg->out, "<a href=\"");
  put_escaped(svg->out, target);
  g_string_append(svg->out, "\"><title>");
  put_escaped(svg->out, title);
  g_string_append(svg->out, "</title>\n");
  svg->linked = true;
}

static void svg_link_end(BtCanvas *canvas) {
  Svg *svg = (Svg *)canvas;
  if (svg->linked)
    g_string_append(svg->out, "</a>\n");
  svg->linked = false;
}

static void svg_end(BtCanvas *canvas) {
  Svg *svg = (Svg *)canvas;
  svg_link_end(canvas);
  g_string_append(svg->out, "</svg>\n");
  g_free(svg);
}

BtCanvas *bt__canvas_svg(GString *out, const char *id, double width, double height,
                         const char *title, const char *words) {
  static const BtCanvasKind kind = {.path = svg_path,
                                    .area = svg_area,
                                    .circle = svg_circle,
                                    .text = svg_text,
                                    .link = svg_link,
                                    .link_end = svg_link_end,
                                    .end = svg_end};
  Svg *svg = g_new(Svg, 1);
  *svg = (Svg){.canvas = {&kind}, .out = out};
  g_string_append(out, "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 ");
  put_number(out, width);
  g_string_append_c(out, ' ');
  put_number(out, height);
  g_string_append_c(out, '"');
  put_attribute(out, "width", width);
  put_attribute(out, "height", height);
  g_string_append_printf(out, " font-family=\"sans-serif\" aria-labelledby=\"%s-t %s-d\">\n", id,
                         id);
  g_string_append_printf(out, "<title id=\"%s-t\">", id);
  put_escaped(out, title);
  g_string_append_printf(out, "</title>\n<desc id=\"%s-d\">", id);
  put_escaped(out, words);
  g_string_append(out, "</desc>\n");
  return &svg->canvas;
}
