// SPDX-License-Identifier: GPL-3.0-or-later
//
// The one typeface of printed documents, and its colours.
#ifndef BENCHTALLY_REPORT_TYPEFACE_H
#define BENCHTALLY_REPORT_TYPEFACE_H

#include <stdbool.h>

#include <pango/pangocairo.h>

#include <benchtally/error.h>

#include "report/look.h"

#define BT_TYPEFACE "DejaVu Sans"

// Whether the typeface is there; without it a PDF would show empty boxes, and nobody would say so.
// Error: EXPORT, with the package to install.
BT_MUST_USE bool bt__typeface_found(GError **error);

// A layout in the typeface for drawing on `cr`, `size` in the units of `cr`. Caller frees with
// g_object_unref.
PangoLayout *bt__layout_new(cairo_t *cr, double size, bool bold);

void bt__set_colour(cairo_t *cr, BtColour colour);

#endif
