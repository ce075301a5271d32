// SPDX-License-Identifier: GPL-3.0-or-later
//
// The page as PDF. It is made in memory, since cairo does not say when a disk is full.
#include "report/page.h"

#include <string.h>

#include <cairo-pdf.h>

#include <benchtally/base.h>

#include "report/page_flow.h"
#include "report/typeface.h"

#define FOOT_UP    30.0 // of the footer's base line from the lower edge
#define FOOT_FONT  BT_TYPEFACE " 7"
#define RULE_WIDTH 0.5
#define SECOND_MS  1000

typedef struct {
  const BtPage *page;
  BtFlow *flow;
  PangoContext *context;
  cairo_surface_t *surface;
  cairo_t *cr;
} Print;

static cairo_status_t take(void *closure, const unsigned char *data, unsigned int length) {
  g_byte_array_append(closure, data, length);
  return CAIRO_STATUS_SUCCESS;
}

// Links -----------------------------------------------------------------------

static void link_range(const Print *print, const BtPiece *piece, const char *target, int from,
                       int to) {
  PangoRectangle box;
  int *ranges = NULL, n = 0;
  pango_layout_line_get_extents(piece->line, NULL, &box);
  pango_layout_line_get_x_ranges(piece->line, from, to, &ranges, &n);
  for (int i = 0; i < n; i++) {
    char x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE], width[G_ASCII_DTOSTR_BUF_SIZE],
        height[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(x, sizeof x, "%.2f", piece->x + (double)ranges[2 * i] / PANGO_SCALE);
    g_ascii_formatd(y, sizeof y, "%.2f", piece->y + (double)box.y / PANGO_SCALE);
    g_ascii_formatd(width, sizeof width, "%.2f",
                    (double)(ranges[2 * i + 1] - ranges[2 * i]) / PANGO_SCALE);
    g_ascii_formatd(height, sizeof height, "%.2f", (double)box.height / PANGO_SCALE);
    g_autofree char *attributes =
        g_strdup_printf("rect=[%s %s %s %s] dest='%s'", x, y, width, height, target);
    cairo_tag_begin(print->cr, CAIRO_TAG_LINK, attributes);
    cairo_tag_end(print->cr, CAIRO_TAG_LINK);
  }
  g_free(ranges);
}

static void link_line(const Print *print, const BtPiece *piece) {
  int from = 0, begin = piece->line->start_index, end = begin + piece->line->length;
  for (guint i = 0; piece->text && i < piece->text->len; i++) {
    const BtSpan *span = g_ptr_array_index(piece->text, i);
    int to = from + (int)strlen(span->text);
    if (span->target && from < end && to > begin &&
        g_hash_table_contains(print->page->ids, span->target))
      link_range(print, piece, span->target, MAX(from, begin), MIN(to, end));
    from = to;
  }
}

// Pieces ----------------------------------------------------------------------

static void print_line(const Print *print, const BtPiece *piece) {
  bt__set_colour(print->cr, BT_INK);
  cairo_move_to(print->cr, piece->x, piece->y);
  pango_cairo_show_layout_line(print->cr, piece->line);
  link_line(print, piece);
}

static void print_rule(const Print *print, const BtPiece *piece) {
  bt__set_colour(print->cr, BT_LINE);
  cairo_set_line_width(print->cr, RULE_WIDTH);
  cairo_move_to(print->cr, print->flow->left, piece->y);
  cairo_line_to(print->cr, print->flow->right, piece->y);
  cairo_stroke(print->cr);
}

static void print_figure(const Print *print, const BtPiece *piece) {
  cairo_save(print->cr);
  cairo_translate(print->cr, piece->x, piece->y);
  BtCanvas *canvas = bt__canvas_cairo(print->cr, piece->width / piece->figure->width);
  piece->figure->draw(canvas, piece->figure->data);
  bt__canvas_free(canvas);
  cairo_restore(print->cr);
}

static void print_place(const Print *print, const BtPiece *piece) {
  char x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];
  g_ascii_formatd(x, sizeof x, "%.2f", piece->x);
  g_ascii_formatd(y, sizeof y, "%.2f", piece->y);
  g_autofree char *attributes = g_strdup_printf("name='%s' x=%s y=%s", piece->words, x, y);
  cairo_tag_begin(print->cr, CAIRO_TAG_DEST, attributes);
  cairo_tag_end(print->cr, CAIRO_TAG_DEST);
  if (piece->kind != BT_PIECE_HEADING)
    return;
  g_autofree char *target = g_strdup_printf("dest='%s'", piece->words);
  cairo_pdf_surface_add_outline(print->surface, CAIRO_PDF_OUTLINE_ROOT, piece->title, target, 0);
}

static void print_piece(const Print *print, const BtPiece *piece) {
  switch (piece->kind) {
  case BT_PIECE_LINE:
    print_line(print, piece);
    break;
  case BT_PIECE_RULE:
    print_rule(print, piece);
    break;
  case BT_PIECE_FIGURE:
    print_figure(print, piece);
    break;
  case BT_PIECE_PLACE:
  case BT_PIECE_HEADING:
    print_place(print, piece);
    break;
  case BT_PIECE_BEGIN:
    cairo_tag_begin(print->cr, piece->words, NULL);
    break;
  case BT_PIECE_END:
    cairo_tag_end(print->cr, piece->words);
    break;
  }
}

// Sheets ----------------------------------------------------------------------

static void print_foot(const Print *print, int sheet) {
  g_autofree char *words =
      g_strdup_printf("%s \u00b7 %d of %d", print->page->footer, sheet + 1, print->flow->sheets);
  PangoLayout *layout = bt__flow_layout(print->flow, print->context, NULL, words, FOOT_FONT);
  pango_layout_set_width(layout, (int)((print->flow->right - print->flow->left) * PANGO_SCALE));
  bt__set_colour(print->cr, BT_SLATE);
  cairo_move_to(print->cr, print->flow->left, print->flow->height - FOOT_UP - 10);
  pango_cairo_show_layout(print->cr, layout);
}

static void print_sheets(const Print *print) {
  int sheet = 0;
  for (guint i = 0; i < print->flow->pieces->len; i++) {
    const BtPiece *piece = &g_array_index(print->flow->pieces, BtPiece, i);
    for (; sheet < piece->sheet; sheet++) {
      print_foot(print, sheet);
      cairo_show_page(print->cr);
    }
    print_piece(print, piece);
  }
  print_foot(print, sheet);
  cairo_show_page(print->cr);
}

static void describe(const Print *print) {
  g_autofree char *made = bt_rfc3339_format(print->page->created_ms / SECOND_MS * SECOND_MS);
  cairo_pdf_surface_set_metadata(print->surface, CAIRO_PDF_METADATA_TITLE, print->page->title);
  cairo_pdf_surface_set_metadata(print->surface, CAIRO_PDF_METADATA_CREATE_DATE, made);
}

GByteArray *bt__page_pdf(const BtPage *page, BtPaper paper, GError **error) {
  if (!bt__typeface_found(error))
    return NULL;
  g_autoptr(GByteArray) bytes = g_byte_array_new();
  Print print = {.page = page};
  print.surface = cairo_pdf_surface_create_for_stream(take, bytes, 1, 1);
  print.cr = cairo_create(print.surface);
  print.context = pango_cairo_create_context(print.cr);
  print.flow = bt__flow_new(page, print.context, paper);
  cairo_pdf_surface_set_size(print.surface, print.flow->width, print.flow->height);
  describe(&print);
  print_sheets(&print);
  bt__flow_free(print.flow);
  g_object_unref(print.context);
  cairo_status_t status = cairo_status(print.cr);
  cairo_destroy(print.cr);
  cairo_surface_finish(print.surface);
  if (status == CAIRO_STATUS_SUCCESS)
    status = cairo_surface_status(print.surface);
  cairo_surface_destroy(print.surface);
  if (status == CAIRO_STATUS_SUCCESS)
    return g_steal_pointer(&bytes);
  g_set_error(error, BT_ERROR, BT_ERROR_EXPORT, "the PDF could not be made: %s",
              cairo_status_to_string(status));
  return NULL;
}
