// SPDX-License-Identifier: GPL-3.0-or-later
//
// A document for people as a list of blocks: headings, texts, tables, figures. Made once, laid out
// twice: as one HTML page and as PDF. What a text leads to is named by ids ("event-12"); both back
// ends make the same links.
#ifndef BENCHTALLY_REPORT_PAGE_H
#define BENCHTALLY_REPORT_PAGE_H

#include <benchtally/error.h>

#include "report/canvas.h"

typedef enum { BT_PAPER_A4, BT_PAPER_LETTER } BtPaper;

// Words -----------------------------------------------------------------------

typedef struct {
  char *text;
  char *target; // the id that it leads to; NULL
  bool strong;
  BtColour colour;
} BtSpan;

typedef GPtrArray BtText; // of BtSpan

// Append to a text. `words` is copied; NULL or "" adds nothing.
void bt__say(BtText *text, const char *words);
void bt__say_strong(BtText *text, BtColour colour, const char *words);
void bt__say_link(BtText *text, const char *words, const char *target);
void bt__sayf(BtText *text, const char *form, ...) G_GNUC_PRINTF(2, 3);

// Blocks ----------------------------------------------------------------------

typedef enum {
  BT_LOOK_PLAIN,
  BT_LOOK_LEAD, // the answer, large
  BT_LOOK_SMALL,
  BT_LOOK_CAUTION, // between rules
  BT_LOOK_ITEM     // of a list; neighbours make one list
} BtLook;

typedef struct {
  const char *title; // static
  double share;      // of the width, any unit
  bool number;       // set to the right
} BtPageColumn;

typedef struct {
  char *id;         // NULL: nothing leads here
  GPtrArray *cells; // of BtText, one a column
} BtPageRow;

typedef struct {
  char *id, *title, *words; // what it is called, and what it shows for who cannot see it
  double width, height;
  void (*draw)(BtCanvas *canvas, gconstpointer data);
  gconstpointer data; // borrowed
} BtFigure;

typedef enum { BT_BLOCK_HEADING, BT_BLOCK_TEXT, BT_BLOCK_TABLE, BT_BLOCK_FIGURE } BtBlockKind;

typedef struct {
  BtBlockKind kind;
  char *id;                    // HEADING, TEXT; NULL
  char *title;                 // HEADING; TABLE: its caption
  BtLook look;                 // TEXT
  BtText *text;                // TEXT
  const BtPageColumn *columns; // TABLE; static
  gsize n_columns;
  GPtrArray *rows; // TABLE: of BtPageRow
  BtFigure figure; // FIGURE
} BtBlock;

typedef struct {
  char *title;       // of the document, and its first heading
  char *footer;      // at the foot of every sheet of paper
  gint64 created_ms; // from the record, never from the clock
  GPtrArray *blocks; // of BtBlock
  GHashTable *ids;   // all that can be led to
} BtPage;

BtPage *bt__page_new(const char *title, const char *footer, gint64 created_ms);
void bt__page_free(BtPage *page); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtPage, bt__page_free)

void bt__page_heading(BtPage *page, const char *id, const char *title);
// A text to fill; `id` may be NULL. Borrowed from the page.
BtText *bt__page_text(BtPage *page, BtLook look, const char *id);
// A table to fill by rows; `columns` is static. Borrowed from the page.
BtBlock *bt__page_table(BtPage *page, const char *caption, const BtPageColumn *columns,
                        gsize n_columns);
// A row with empty cells; `id` may be NULL. Borrowed from the table.
BtPageRow *bt__page_row(BtPage *page, BtBlock *table, const char *id);
BtText *bt__cell(const BtPageRow *row, gsize column);
// Copies the strings of `figure`; its data must outlive the page.
void bt__page_figure(BtPage *page, const BtFigure *figure);

// Back ends -------------------------------------------------------------------

// One self-contained page (HTML 5, no script, nothing fetched). Caller frees.
char *bt__page_html(const BtPage *page);
// The same as PDF; NULL with `error` (EXPORT: no typeface; what cairo says). Caller frees.
BT_MUST_USE GByteArray *bt__page_pdf(const BtPage *page, BtPaper paper, GError **error);

#endif
