// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/page_flow.h"

#include <math.h>

#include "report/typeface.h"

#define MARGIN        51.0 // 18 mm
#define MARGIN_BOTTOM 62.0 // with the footer
#define GAP           6.0
#define CELL_GAP      8.0
#define ROW_GAP       3.0
#define HEADING_ROOM  90.0 // less is left to the next sheet
#define KEEP_SHARE    3.0  // rows taller than a third of a sheet may be cut by one

#define FONT_TITLE     BT_TYPEFACE " Bold 15"
#define FONT_HEADING   BT_TYPEFACE " Bold 11"
#define FONT_LEAD      BT_TYPEFACE " 11"
#define FONT_PLAIN     BT_TYPEFACE " 9"
#define FONT_CELL      BT_TYPEFACE " 8"
#define FONT_CELL_HEAD BT_TYPEFACE " Bold 8"

typedef struct {
  PangoLayoutLine *line;
  double x, top, bottom, base; // within the cell
} Line;

typedef struct {
  const BtText *text; // NULL: plain words
  double x, width;
  GArray *lines; // of Line
  guint next;    // the first one not yet placed
} Cell;

typedef struct {
  BtFlow *flow;
  PangoContext *context;
  double y;
  const BtBlock *table; // whose head stands on every sheet; NULL outside
} Work;

// Layouts ---------------------------------------------------------------------

static PangoAttribute *over(PangoAttribute *attribute, gsize from, gsize to) {
  attribute->start_index = (guint)from;
  attribute->end_index = (guint)to;
  return attribute;
}

static PangoAttribute *colour_of(const BtSpan *span) {
  guint rgb = (guint)span->colour;
  return pango_attr_foreground_new((guint16)((rgb >> 16) * 257), (guint16)((rgb >> 8 & 0xff) * 257),
                                   (guint16)((rgb & 0xff) * 257));
}

static void set_spans(PangoLayout *layout, const BtText *text) {
  g_autoptr(GString) words = g_string_new(NULL);
  PangoAttrList *looks = pango_attr_list_new();
  for (guint i = 0; i < text->len; i++) {
    const BtSpan *span = g_ptr_array_index(text, i);
    gsize from = words->len;
    g_string_append(words, span->text);
    if (span->colour != BT_INK)
      pango_attr_list_insert(looks, over(colour_of(span), from, words->len));
    if (span->strong)
      pango_attr_list_insert(looks,
                             over(pango_attr_weight_new(PANGO_WEIGHT_BOLD), from, words->len));
  }
  pango_layout_set_text(layout, words->str, (int)words->len);
  pango_layout_set_attributes(layout, looks);
  pango_attr_list_unref(looks);
}

PangoLayout *bt__flow_layout(BtFlow *flow, PangoContext *context, const BtText *text,
                             const char *words, const char *font) {
  PangoLayout *layout = pango_layout_new(context);
  g_ptr_array_add(flow->layouts, layout);
  PangoFontDescription *description = pango_font_description_from_string(font);
  // "9" is meant in points of the document, whatever a screen's resolution.
  pango_font_description_set_absolute_size(description,
                                           pango_font_description_get_size(description));
  pango_layout_set_font_description(layout, description);
  pango_font_description_free(description);
  if (text)
    set_spans(layout, text);
  else
    pango_layout_set_text(layout, words, -1);
  return layout;
}

static double points(int units) {
  return (double)units / PANGO_SCALE;
}

static GArray *lines_of(PangoLayout *layout) {
  GArray *lines = g_array_new(FALSE, FALSE, sizeof(Line));
  PangoLayoutIter *at = pango_layout_get_iter(layout);
  do {
    PangoRectangle box;
    pango_layout_iter_get_line_extents(at, NULL, &box);
    const Line line = {.line = pango_layout_iter_get_line_readonly(at),
                       .x = points(box.x),
                       .top = points(box.y),
                       .bottom = points(box.y + box.height),
                       .base = points(pango_layout_iter_get_baseline(at))};
    g_array_append_val(lines, line);
  } while (pango_layout_iter_next_line(at));
  pango_layout_iter_free(at);
  return lines;
}

// A cell at `x`, `width` wide, with nothing placed yet.
static Cell cell_of(const Work *work, const BtText *text, const char *words, const char *font,
                    double x, double width, bool right) {
  PangoLayout *layout = bt__flow_layout(work->flow, work->context, text, words, font);
  pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
  pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
  if (right)
    pango_layout_set_alignment(layout, PANGO_ALIGN_RIGHT);
  return (Cell){.text = text, .x = x, .width = width, .lines = lines_of(layout)};
}

// Placing ---------------------------------------------------------------------

static void place(Work *work, BtPiece piece) {
  piece.sheet = work->flow->sheets - 1;
  g_array_append_val(work->flow->pieces, piece);
}

static void place_rule(Work *work) {
  place(work, (BtPiece){.kind = BT_PIECE_RULE, .x = work->flow->left, .y = work->y});
}

static void place_id(Work *work, const char *id) {
  if (id)
    place(work,
          (BtPiece){.kind = BT_PIECE_PLACE, .x = work->flow->left, .y = work->y, .words = id});
}

static void place_table_head(Work *work);

static void next_sheet(Work *work) {
  work->flow->sheets++;
  work->y = work->flow->top;
  if (work->table)
    place_table_head(work);
}

static double room(const Work *work) {
  return work->flow->bottom - work->y;
}

// How much of the sheet the lines still to be placed would take.
static double height_left(const Cell *cell) {
  if (cell->next >= cell->lines->len)
    return 0;
  return g_array_index(cell->lines, Line, cell->lines->len - 1).bottom -
         g_array_index(cell->lines, Line, cell->next).top;
}

// Places the lines that fit; at least one on an empty sheet. Returns their height.
static double place_lines(Work *work, Cell *cell, const char *tag, bool force) {
  if (cell->next >= cell->lines->len)
    return 0;
  double from = g_array_index(cell->lines, Line, cell->next).top, used = 0;
  double space = room(work);
  place(work, (BtPiece){.kind = BT_PIECE_BEGIN, .words = tag});
  while (cell->next < cell->lines->len) {
    const Line *line = &g_array_index(cell->lines, Line, cell->next);
    if (line->bottom - from > space && !force)
      break;
    force = false;
    place(work, (BtPiece){.kind = BT_PIECE_LINE,
                          .x = cell->x + line->x,
                          .y = work->y + line->base - from,
                          .line = line->line,
                          .text = cell->text});
    used = line->bottom - from;
    cell->next++;
  }
  place(work, (BtPiece){.kind = BT_PIECE_END, .words = tag});
  return used;
}

static bool all_placed(const Cell *cells, gsize n) {
  for (gsize i = 0; i < n; i++) {
    if (cells[i].next < cells[i].lines->len)
      return false;
  }
  return true;
}

// Places a row of cells, over several sheets if need be, and frees their lines.
static void place_row(Work *work, Cell *cells, gsize n, const char *id, const char *tag) {
  double height = 0;
  for (gsize i = 0; i < n; i++)
    height = fmax(height, height_left(&cells[i]));
  double sheet = work->flow->bottom - work->flow->top;
  if (height > room(work) && (height < sheet / KEEP_SHARE || room(work) < sheet / KEEP_SHARE))
    next_sheet(work);
  place_id(work, id);
  for (;;) {
    double used = 0;
    bool force = work->y <= work->flow->top + HEADING_ROOM;
    for (gsize i = 0; i < n; i++)
      used = fmax(used, place_lines(work, &cells[i], tag, force));
    work->y += used;
    if (all_placed(cells, n))
      break;
    next_sheet(work);
  }
  for (gsize i = 0; i < n; i++)
    g_array_unref(cells[i].lines);
}

// Blocks ----------------------------------------------------------------------

static double inner_width(const BtFlow *flow) {
  return flow->right - flow->left;
}

static const char *keep(BtFlow *flow, char *words) {
  g_ptr_array_add(flow->words, words);
  return words;
}

static double figure_height(const Work *work, const BtFigure *figure) {
  return figure->height * inner_width(work->flow) / figure->width;
}

// A heading stays with the figure or the first rows of the table that follow it.
static void flow_heading(Work *work, const BtBlock *block, const BtBlock *next, guint number) {
  work->y += 2 * GAP;
  double wanted = HEADING_ROOM;
  if (next && next->kind == BT_BLOCK_TABLE)
    wanted += HEADING_ROOM;
  if (next && next->kind == BT_BLOCK_FIGURE)
    wanted += figure_height(work, &next->figure);
  if (room(work) < wanted)
    next_sheet(work);
  const char *id = block->id ? block->id : keep(work->flow, g_strdup_printf("part-%u", number));
  place(work, (BtPiece){.kind = BT_PIECE_HEADING,
                        .x = work->flow->left,
                        .y = work->y,
                        .words = id,
                        .title = block->title});
  Cell cell = cell_of(work, NULL, block->title, FONT_HEADING, work->flow->left,
                      inner_width(work->flow), false);
  place_row(work, &cell, 1, NULL, "H2");
  work->y += GAP / 2;
}

static void flow_text(Work *work, const BtBlock *block) {
  static const char *const fonts[] = {[BT_LOOK_PLAIN] = FONT_PLAIN,
                                      [BT_LOOK_LEAD] = FONT_LEAD,
                                      [BT_LOOK_SMALL] = FONT_CELL,
                                      [BT_LOOK_CAUTION] = FONT_PLAIN,
                                      [BT_LOOK_ITEM] = FONT_PLAIN};
  bool item = block->look == BT_LOOK_ITEM;
  double indent = item ? 2 * GAP : 0;
  Cell cells[2];
  gsize n = 0;
  if (item)
    cells[n++] = cell_of(work, NULL, "\u2013", FONT_PLAIN, work->flow->left, indent, false);
  cells[n++] = cell_of(work, block->text, NULL, fonts[block->look], work->flow->left + indent,
                       inner_width(work->flow) - indent, false);
  if (block->look == BT_LOOK_CAUTION) {
    place_rule(work);
    work->y += GAP / 2;
  }
  place_row(work, cells, n, block->id, "P");
  work->y += item ? ROW_GAP : GAP;
}

// The columns' cells for one row: of `row`, or the head's.
static void flow_cells(Work *work, const BtBlock *table, const BtPageRow *row) {
  double all = 0;
  for (gsize i = 0; i < table->n_columns; i++)
    all += table->columns[i].share;
  double width = inner_width(work->flow) - CELL_GAP * (double)(table->n_columns - 1);
  double x = work->flow->left;
  g_autofree Cell *cells = g_new(Cell, table->n_columns);
  for (gsize i = 0; i < table->n_columns; i++) {
    const BtPageColumn *column = &table->columns[i];
    double wide = width * column->share / all;
    cells[i] = row ? cell_of(work, bt__cell(row, i), NULL, FONT_CELL, x, wide, column->number)
                   : cell_of(work, NULL, column->title, FONT_CELL_HEAD, x, wide, column->number);
    x += wide + CELL_GAP;
  }
  place_row(work, cells, table->n_columns, row ? row->id : NULL, "P");
  work->y += ROW_GAP / 2;
  place_rule(work);
  work->y += ROW_GAP;
}

static void place_table_head(Work *work) {
  const BtBlock *table = work->table;
  work->table = NULL; // the head itself does not ask for a head
  flow_cells(work, table, NULL);
  work->table = table;
}

static void flow_table(Work *work, const BtBlock *block) {
  if (room(work) < HEADING_ROOM)
    next_sheet(work);
  Cell caption = cell_of(work, NULL, block->title, FONT_CELL, work->flow->left,
                         inner_width(work->flow), false);
  place_row(work, &caption, 1, NULL, "P");
  work->y += ROW_GAP;
  work->table = block;
  place_table_head(work);
  for (guint i = 0; i < block->rows->len; i++)
    flow_cells(work, block, g_ptr_array_index(block->rows, i));
  work->table = NULL;
  work->y += GAP;
}

static void flow_figure(Work *work, const BtBlock *block) {
  const BtFigure *figure = &block->figure;
  double height = figure_height(work, figure);
  if (height + HEADING_ROOM / 2 > room(work))
    next_sheet(work);
  place_id(work, figure->id);
  Cell title = cell_of(work, NULL, figure->title, FONT_CELL_HEAD, work->flow->left,
                       inner_width(work->flow), false);
  place_row(work, &title, 1, NULL, "P");
  work->y += ROW_GAP;
  place(work, (BtPiece){.kind = BT_PIECE_FIGURE,
                        .x = work->flow->left,
                        .y = work->y,
                        .width = inner_width(work->flow),
                        .figure = figure});
  work->y += height + GAP;
}

static void flow_block(Work *work, const BtPage *page, guint number) {
  const BtBlock *block = g_ptr_array_index(page->blocks, number);
  const BtBlock *next =
      number + 1 < page->blocks->len ? g_ptr_array_index(page->blocks, number + 1) : NULL;
  switch (block->kind) {
  case BT_BLOCK_HEADING:
    flow_heading(work, block, next, number);
    break;
  case BT_BLOCK_TEXT:
    flow_text(work, block);
    break;
  case BT_BLOCK_TABLE:
    flow_table(work, block);
    break;
  case BT_BLOCK_FIGURE:
    flow_figure(work, block);
    break;
  }
}

// Whole pages -----------------------------------------------------------------

BtFlow *bt__flow_new(const BtPage *page, PangoContext *context, BtPaper paper) {
  bool letter = paper == BT_PAPER_LETTER;
  BtFlow *flow = g_new0(BtFlow, 1);
  flow->width = letter ? 612.0 : 595.28;
  flow->height = letter ? 792.0 : 841.89;
  flow->left = MARGIN;
  flow->right = flow->width - MARGIN;
  flow->top = MARGIN;
  flow->bottom = flow->height - MARGIN_BOTTOM;
  flow->sheets = 1;
  flow->pieces = g_array_new(FALSE, FALSE, sizeof(BtPiece));
  flow->layouts = g_ptr_array_new_with_free_func(g_object_unref);
  flow->words = g_ptr_array_new_with_free_func(g_free);
  Work work = {.flow = flow, .context = context, .y = flow->top};
  Cell title = cell_of(&work, NULL, page->title, FONT_TITLE, flow->left, inner_width(flow), false);
  place_row(&work, &title, 1, NULL, "H1");
  work.y += GAP;
  for (guint i = 0; i < page->blocks->len; i++)
    flow_block(&work, page, i);
  return flow;
}

void bt__flow_free(BtFlow *flow) {
  if (!flow)
    return;
  g_array_unref(flow->pieces);
  g_ptr_array_unref(flow->layouts);
  g_ptr_array_unref(flow->words);
  g_free(flow);
}
