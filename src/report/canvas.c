// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/canvas_private.h"

#include <math.h>

#define HATCH_GAP  6.0
#define HEAD_LONG  6.0
#define HEAD_WIDE  3.0
#define WIDE_SHARE 0.57 // of the size: what a letter of DejaVu Sans takes on average, a bit over

void bt__draw_line(BtCanvas *canvas, BtPoint from, BtPoint to, const BtStroke *stroke) {
  bt__draw_path(canvas, (BtPoint[]){from, to}, 2, stroke);
}

void bt__draw_path(BtCanvas *canvas, const BtPoint *points, gsize n, const BtStroke *stroke) {
  canvas->kind->path(canvas, points, n, stroke);
}

void bt__draw_area(BtCanvas *canvas, const BtPoint *points, gsize n, BtColour fill) {
  canvas->kind->area(canvas, points, n, fill);
}

void bt__draw_rect(BtCanvas *canvas, BtPoint corner, double width, double height, BtColour fill) {
  const BtPoint points[] = {corner,
                            {corner.x + width, corner.y},
                            {corner.x + width, corner.y + height},
                            {corner.x, corner.y + height}};
  bt__draw_area(canvas, points, G_N_ELEMENTS(points), fill);
}

void bt__draw_frame(BtCanvas *canvas, BtPoint corner, double width, double height,
                    const BtStroke *stroke) {
  const BtPoint points[] = {corner,
                            {corner.x + width, corner.y},
                            {corner.x + width, corner.y + height},
                            {corner.x, corner.y + height},
                            corner};
  bt__draw_path(canvas, points, G_N_ELEMENTS(points), stroke);
}

// The line x + y = sum within the rectangle, from its lower left to its upper right end.
void bt__draw_hatch(BtCanvas *canvas, BtPoint corner, double width, double height,
                    const BtStroke *stroke) {
  for (double sum = HATCH_GAP; sum < width + height; sum += HATCH_GAP) {
    double low = fmin(sum, height), high = fmax(0, sum - width);
    bt__draw_line(canvas, (BtPoint){corner.x + sum - low, corner.y + low},
                  (BtPoint){corner.x + sum - high, corner.y + high}, stroke);
  }
}

void bt__draw_disc(BtCanvas *canvas, BtPoint centre, double radius, BtColour fill) {
  canvas->kind->circle(canvas, centre, radius, fill, NULL);
}

void bt__draw_ring(BtCanvas *canvas, BtPoint centre, double radius, const BtStroke *stroke) {
  canvas->kind->circle(canvas, centre, radius, BT_PAPER, stroke);
}

void bt__draw_arrow(BtCanvas *canvas, BtPoint from, BtPoint to, const BtStroke *stroke) {
  double dx = to.x - from.x, dy = to.y - from.y, length = hypot(dx, dy);
  if (length < HEAD_LONG) {
    bt__draw_line(canvas, from, to, stroke);
    return;
  }
  double along_x = dx / length, along_y = dy / length;
  BtPoint neck = {to.x - HEAD_LONG * along_x, to.y - HEAD_LONG * along_y};
  const BtPoint head[] = {to,
                          {neck.x - HEAD_WIDE * along_y, neck.y + HEAD_WIDE * along_x},
                          {neck.x + HEAD_WIDE * along_y, neck.y - HEAD_WIDE * along_x}};
  bt__draw_line(canvas, from, neck, stroke);
  bt__draw_area(canvas, head, G_N_ELEMENTS(head), stroke->colour);
}

void bt__draw_text(BtCanvas *canvas, BtPoint at, const char *text, const BtType *type) {
  if (text && *text && g_utf8_validate(text, -1, NULL))
    canvas->kind->text(canvas, at, text, type);
}

void bt__draw_link(BtCanvas *canvas, const char *target, const char *title) {
  canvas->kind->link(canvas, target, title);
}

void bt__draw_link_end(BtCanvas *canvas) {
  canvas->kind->link_end(canvas);
}

void bt__canvas_free(BtCanvas *canvas) {
  if (canvas)
    canvas->kind->end(canvas);
}

double bt__text_width(const char *text, double size) {
  double letters = 0;
  for (const char *at = text; *at; at = g_utf8_next_char(at))
    letters += g_unichar_iswide(g_utf8_get_char(at)) ? 2 : 1;
  return letters * WIDE_SHARE * size;
}

char *bt__text_fit(const char *text, double size, double width) {
  if (bt__text_width(text, size) <= width)
    return g_strdup(text);
  static const char dots[] = "\u2026";
  GString *fit = g_string_new(NULL);
  double room = width - bt__text_width(dots, size);
  for (const char *at = text; *at; at = g_utf8_next_char(at)) {
    gsize before = fit->len;
    g_string_append_unichar(fit, g_utf8_get_char(at));
    if (bt__text_width(fit->str, size) <= room)
      continue;
    g_string_truncate(fit, before);
    break;
  }
  while (fit->len > 0 && fit->str[fit->len - 1] == ' ')
    g_string_truncate(fit, fit->len - 1);
  g_string_append(fit, dots);
  return g_string_free(fit, FALSE);
}
