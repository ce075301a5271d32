// SPDX-License-Identifier: GPL-3.0-or-later
//
// A page laid out on sheets of paper: every piece with its place, before anything is drawn, so that
// each sheet can say how many there are. Lengths in points.
#ifndef BENCHTALLY_REPORT_PAGE_FLOW_H
#define BENCHTALLY_REPORT_PAGE_FLOW_H

#include <pango/pangocairo.h>

#include "report/page.h"

typedef enum {
  BT_PIECE_LINE, // a line of text
  BT_PIECE_RULE, // a thin line from left to right
  BT_PIECE_FIGURE,
  BT_PIECE_PLACE,   // where links to `id` lead
  BT_PIECE_HEADING, // the same, and an entry of the outline
  BT_PIECE_BEGIN,   // of a paragraph, for who hears the document read
  BT_PIECE_END
} BtPieceKind;

typedef struct {
  BtPieceKind kind;
  int sheet;   // from 0
  double x, y; // LINE: of the base line; else the upper left corner
  double width;
  PangoLayoutLine *line;  // LINE; borrowed from a layout of the flow
  const BtText *text;     // LINE: what the layout shows, for its links; NULL
  const BtFigure *figure; // FIGURE
  const char *words;      // PLACE, HEADING: the id; BEGIN, END: the name of the tag
  const char *title;      // HEADING
} BtPiece;

typedef struct {
  double width, height; // of the sheet
  double left, right, top, bottom;
  int sheets;
  GArray *pieces;     // of BtPiece, by sheet
  GPtrArray *layouts; // of PangoLayout
  GPtrArray *words;   // of char *, owned for pieces
} BtFlow;

// Lays the page out with fonts of `context`. Caller frees.
BtFlow *bt__flow_new(const BtPage *page, PangoContext *context, BtPaper paper);
void bt__flow_free(BtFlow *flow); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtFlow, bt__flow_free)

// A layout in the typeface, of `words` or of what `text` says; owned by the flow.
PangoLayout *bt__flow_layout(BtFlow *flow, PangoContext *context, const BtText *text,
                             const char *words, const char *font);

#endif
