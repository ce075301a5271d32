// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/page.h"

// Words -----------------------------------------------------------------------

static void free_span(gpointer data) {
  BtSpan *span = data;
  g_free(span->text);
  g_free(span->target);
  g_free(span);
}

static BtText *new_text(void) {
  return g_ptr_array_new_with_free_func(free_span);
}

static void add_span(BtText *text, const char *words, BtSpan span) {
  if (!words || !*words)
    return;
  span.text = g_utf8_make_valid(words, -1);
  g_ptr_array_add(text, g_memdup2(&span, sizeof span));
}

void bt__say(BtText *text, const char *words) {
  add_span(text, words, (BtSpan){.colour = BT_INK});
}

void bt__say_strong(BtText *text, BtColour colour, const char *words) {
  add_span(text, words, (BtSpan){.colour = colour, .strong = true});
}

void bt__say_link(BtText *text, const char *words, const char *target) {
  if (words && *words)
    add_span(text, words, (BtSpan){.colour = BT_LAGOON, .target = g_strdup(target)});
}

void bt__sayf(BtText *text, const char *form, ...) {
  va_list arguments;
  va_start(arguments, form);
  g_autofree char *words = g_strdup_vprintf(form, arguments);
  va_end(arguments);
  bt__say(text, words);
}

// Blocks ----------------------------------------------------------------------

static void free_row(gpointer data) {
  BtPageRow *row = data;
  g_free(row->id);
  g_ptr_array_unref(row->cells);
  g_free(row);
}

static void free_block(gpointer data) {
  BtBlock *block = data;
  g_free(block->id);
  g_free(block->title);
  g_clear_pointer(&block->text, g_ptr_array_unref);
  g_clear_pointer(&block->rows, g_ptr_array_unref);
  g_free(block->figure.id);
  g_free(block->figure.title);
  g_free(block->figure.words);
  g_free(block);
}

static void free_text(gpointer text) {
  g_ptr_array_unref(text);
}

BtPage *bt__page_new(const char *title, const char *footer, gint64 created_ms) {
  BtPage *page = g_new(BtPage, 1);
  *page = (BtPage){.title = g_utf8_make_valid(title, -1),
                   .footer = g_utf8_make_valid(footer, -1),
                   .created_ms = created_ms,
                   .blocks = g_ptr_array_new_with_free_func(free_block),
                   .ids = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};
  return page;
}

void bt__page_free(BtPage *page) {
  if (!page)
    return;
  g_free(page->title);
  g_free(page->footer);
  g_ptr_array_unref(page->blocks);
  g_hash_table_unref(page->ids);
  g_free(page);
}

static void note_id(BtPage *page, const char *id) {
  if (id)
    g_hash_table_add(page->ids, g_strdup(id));
}

static BtBlock *add_block(BtPage *page, BtBlock block) {
  BtBlock *added = g_memdup2(&block, sizeof block);
  g_ptr_array_add(page->blocks, added);
  note_id(page, added->id);
  return added;
}

void bt__page_heading(BtPage *page, const char *id, const char *title) {
  add_block(page, (BtBlock){.kind = BT_BLOCK_HEADING,
                            .id = g_strdup(id),
                            .title = g_utf8_make_valid(title, -1)});
}

BtText *bt__page_text(BtPage *page, BtLook look, const char *id) {
  return add_block(
             page,
             (BtBlock){.kind = BT_BLOCK_TEXT, .look = look, .id = g_strdup(id), .text = new_text()})
      ->text;
}

BtBlock *bt__page_table(BtPage *page, const char *caption, const BtPageColumn *columns,
                        gsize n_columns) {
  return add_block(page, (BtBlock){.kind = BT_BLOCK_TABLE,
                                   .title = g_utf8_make_valid(caption, -1),
                                   .columns = columns,
                                   .n_columns = n_columns,
                                   .rows = g_ptr_array_new_with_free_func(free_row)});
}

BtPageRow *bt__page_row(BtPage *page, BtBlock *table, const char *id) {
  BtPageRow *row = g_new(BtPageRow, 1);
  *row = (BtPageRow){g_strdup(id), g_ptr_array_new_with_free_func(free_text)};
  for (gsize i = 0; i < table->n_columns; i++)
    g_ptr_array_add(row->cells, new_text());
  g_ptr_array_add(table->rows, row);
  note_id(page, id);
  return row;
}

BtText *bt__cell(const BtPageRow *row, gsize column) {
  return g_ptr_array_index(row->cells, column);
}

void bt__page_figure(BtPage *page, const BtFigure *figure) {
  BtBlock *block = add_block(page, (BtBlock){.kind = BT_BLOCK_FIGURE, .figure = *figure});
  block->figure.id = g_strdup(figure->id);
  block->figure.title = g_utf8_make_valid(figure->title, -1);
  block->figure.words = g_utf8_make_valid(figure->words, -1);
  note_id(page, figure->id);
}
