// SPDX-License-Identifier: GPL-3.0-or-later
//
// Drawing, once for pages and for print: figures call these functions, and a back end writes SVG or
// PDF. Lengths are in the figure's own units (a CSS pixel, three quarters of a point), y grows
// downwards. No colour stands alone: shapes differ where colours do.
#ifndef BENCHTALLY_REPORT_CANVAS_H
#define BENCHTALLY_REPORT_CANVAS_H

#include <stdbool.h>

#include <cairo.h>
#include <glib.h>

#include "report/look.h"

typedef struct BtCanvas BtCanvas;

typedef struct {
  double x, y;
} BtPoint;

typedef struct {
  BtColour colour;
  double width;
  bool dashed;
} BtStroke;

typedef enum { BT_ANCHOR_START, BT_ANCHOR_MIDDLE, BT_ANCHOR_END } BtAnchor;

typedef struct {
  double size;
  bool bold;
  BtColour colour;
  BtAnchor anchor;
} BtType;

void bt__draw_line(BtCanvas *canvas, BtPoint from, BtPoint to, const BtStroke *stroke);
// Through n >= 2 points.
void bt__draw_path(BtCanvas *canvas, const BtPoint *points, gsize n, const BtStroke *stroke);
// The area between n >= 3 points.
void bt__draw_area(BtCanvas *canvas, const BtPoint *points, gsize n, BtColour fill);
void bt__draw_rect(BtCanvas *canvas, BtPoint corner, double width, double height, BtColour fill);
void bt__draw_frame(BtCanvas *canvas, BtPoint corner, double width, double height,
                    const BtStroke *stroke);
// Thin slanting lines in a rectangle: a stretch in which nothing was logged.
void bt__draw_hatch(BtCanvas *canvas, BtPoint corner, double width, double height,
                    const BtStroke *stroke);
void bt__draw_disc(BtCanvas *canvas, BtPoint centre, double radius, BtColour fill);
// A ring on the paper's colour, so that lines do not run through it.
void bt__draw_ring(BtCanvas *canvas, BtPoint centre, double radius, const BtStroke *stroke);
// A line with a head at its end.
void bt__draw_arrow(BtCanvas *canvas, BtPoint from, BtPoint to, const BtStroke *stroke);
// On its base line. Text that is no UTF-8 is not drawn.
void bt__draw_text(BtCanvas *canvas, BtPoint at, const char *text, const BtType *type);
// What is drawn until the end leads to `target` ("#event-12"); `title` says where, for who cannot
// see it. Not nested.
void bt__draw_link(BtCanvas *canvas, const char *target, const char *title);
void bt__draw_link_end(BtCanvas *canvas);

// How wide a text comes out in about, in either back end: never too narrow by much.
double bt__text_width(const char *text, double size);
// The text, or as much of it as fits into `width` with "..." behind it. Caller frees.
char *bt__text_fit(const char *text, double size, double width);

// Back ends -------------------------------------------------------------------

// An SVG image of width x height that reads as `title` (its name) and `words` (what it shows); `id`
// makes its ids different from those of other images of the same page. Appends to `out`; the caller
// ends it with bt__canvas_free.
BtCanvas *bt__canvas_svg(GString *out, const char *id, double width, double height,
                         const char *title, const char *words);
// Draws on `cr` (borrowed) where its origin is, scaled by `scale`. A link's target is a named
// destination without its "#".
BtCanvas *bt__canvas_cairo(cairo_t *cr, double scale);
void bt__canvas_free(BtCanvas *canvas); // ends the image; NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtCanvas, bt__canvas_free)

#endif
