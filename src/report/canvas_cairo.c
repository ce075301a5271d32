// SPDX-License-Identifier: GPL-3.0-or-later
//
// Cairo with Pango's text, for PDF.
#include "report/canvas_private.h"

#include <pango/pangocairo.h>

#include "report/typeface.h"

typedef struct {
  BtCanvas canvas;
  cairo_t *cr; // borrowed
  bool linked;
} Cairo;

static cairo_t *cr_of(BtCanvas *canvas) {
  return ((Cairo *)canvas)->cr;
}

static void trace(cairo_t *cr, const BtPoint *points, gsize n) {
  cairo_new_path(cr);
  for (gsize i = 0; i < n; i++)
    cairo_line_to(cr, points[i].x, points[i].y);
}

static void stroke_path(cairo_t *cr, const BtStroke *stroke) {
  static const double dashes[] = {4, 3};
  bt__set_colour(cr, stroke->colour);
  cairo_set_line_width(cr, stroke->width);
  cairo_set_dash(cr, dashes, stroke->dashed ? (int)G_N_ELEMENTS(dashes) : 0, 0);
  cairo_stroke(cr);
}

static void cairo_path(BtCanvas *canvas, const BtPoint *points, gsize n, const BtStroke *stroke) {
  trace(cr_of(canvas), points, n);
  stroke_path(cr_of(canvas), stroke);
}

static void cairo_area(BtCanvas *canvas, const BtPoint *points, gsize n, BtColour fill) {
  cairo_t *cr = cr_of(canvas);
  trace(cr, points, n);
  bt__set_colour(cr, fill);
  cairo_fill(cr);
}

static void cairo_circle(BtCanvas *canvas, BtPoint centre, double radius, BtColour fill,
                         const BtStroke *stroke) {
  cairo_t *cr = cr_of(canvas);
  cairo_new_path(cr);
  cairo_arc(cr, centre.x, centre.y, radius, 0, 2 * G_PI);
  cairo_close_path(cr);
  bt__set_colour(cr, fill);
  cairo_fill_preserve(cr);
  if (stroke)
    stroke_path(cr, stroke);
  else
    cairo_new_path(cr);
}

static void cairo_text(BtCanvas *canvas, BtPoint at, const char *text, const BtType *type) {
  cairo_t *cr = cr_of(canvas);
  PangoLayout *layout = bt__layout_new(cr, type->size, type->bold);
  pango_layout_set_text(layout, text, -1);
  int width = 0;
  pango_layout_get_size(layout, &width, NULL);
  double wide = (double)width / PANGO_SCALE;
  double shift = type->anchor == BT_ANCHOR_START    ? 0
                 : type->anchor == BT_ANCHOR_MIDDLE ? wide / 2
                                                    : wide;
  double base = (double)pango_layout_get_baseline(layout) / PANGO_SCALE;
  bt__set_colour(cr, type->colour);
  cairo_move_to(cr, at.x - shift, at.y - base);
  pango_cairo_show_layout(cr, layout);
  g_object_unref(layout);
}

static void cairo_link(BtCanvas *canvas, const char *target, const char *title) {
  (void)title; // PDF readers show the page that it leads to
  g_autofree char *attributes = g_strdup_printf("dest='%s'", *target == '#' ? target + 1 : target);
  cairo_tag_begin(cr_of(canvas), CAIRO_TAG_LINK, attributes);
  ((Cairo *)canvas)->linked = true;
}

static void cairo_link_end(BtCanvas *canvas) {
  Cairo *cairo = (Cairo *)canvas;
  if (cairo->linked)
    cairo_tag_end(cairo->cr, CAIRO_TAG_LINK);
  cairo->linked = false;
}

static void cairo_end(BtCanvas *canvas) {
  cairo_link_end(canvas);
  cairo_restore(cr_of(canvas));
  g_free(canvas);
}

BtCanvas *bt__canvas_cairo(cairo_t *cr, double scale) {
  static const BtCanvasKind kind = {.path = cairo_path,
                                    .area = cairo_area,
                                    .circle = cairo_circle,
                                    .text = cairo_text,
                                    .link = cairo_link,
                                    .link_end = cairo_link_end,
                                    .end = cairo_end};
  Cairo *cairo = g_new(Cairo, 1);
  *cairo = (Cairo){.canvas = {&kind}, .cr = cr};
  cairo_save(cr);
  cairo_scale(cr, scale, scale);
  return &cairo->canvas;
}
