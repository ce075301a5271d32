// SPDX-License-Identifier: GPL-3.0-or-later
//
// What a back end of the canvas must be able to do.
#ifndef BENCHTALLY_REPORT_CANVAS_PRIVATE_H
#define BENCHTALLY_REPORT_CANVAS_PRIVATE_H

#include "report/canvas.h"

typedef struct {
  void (*path)(BtCanvas *canvas, const BtPoint *points, gsize n, const BtStroke *stroke);
  void (*area)(BtCanvas *canvas, const BtPoint *points, gsize n, BtColour fill);
  // `stroke` NULL: none.
  void (*circle)(BtCanvas *canvas, BtPoint centre, double radius, BtColour fill,
                 const BtStroke *stroke);
  void (*text)(BtCanvas *canvas, BtPoint at, const char *text, const BtType *type);
  void (*link)(BtCanvas *canvas, const char *target, const char *title);
  void (*link_end)(BtCanvas *canvas);
  void (*end)(BtCanvas *canvas); // frees it
} BtCanvasKind;

// The first member of every back end's own struct.
struct BtCanvas {
  const BtCanvasKind *kind;
};

#endif
