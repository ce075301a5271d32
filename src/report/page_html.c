// SPDX-License-Identifier: GPL-3.0-or-later
//
// The page as HTML: semantic elements in reading order, one style sheet within, dark screens and
// paper thought of.
#include "report/page.h"

#include "report/page_style.h"

static void put(GString *out, const char *text) {
  g_autofree char *escaped = g_markup_escape_text(text, -1);
  g_string_append(out, escaped);
}

static const char *class_of(BtColour colour) {
  return colour == BT_OCHRE ? "ochre" : colour == BT_PLUM ? "plum" : "";
}

static void put_span(GString *out, const BtPage *page, const BtSpan *span) {
  if (span->target && g_hash_table_contains(page->ids, span->target)) {
    g_string_append_printf(out, "<a href=\"#%s\">", span->target);
    put(out, span->text);
    g_string_append(out, "</a>");
  } else if (span->strong) {
    g_string_append_printf(out, "<strong class=\"%s\">", class_of(span->colour));
    put(out, span->text);
    g_string_append(out, "</strong>");
  } else {
    put(out, span->text);
  }
}

static void put_text(GString *out, const BtPage *page, const BtText *text) {
  for (guint i = 0; i < text->len; i++)
    put_span(out, page, g_ptr_array_index(text, i));
}

static void put_id(GString *out, const char *id) {
  if (id)
    g_string_append_printf(out, " id=\"%s\"", id);
}

static void put_head_row(GString *out, const BtBlock *table) {
  g_string_append(out, "<thead><tr>");
  for (gsize i = 0; i < table->n_columns; i++) {
    g_string_append_printf(out, "<th scope=\"col\"%s>",
                           table->columns[i].number ? " class=\"number\"" : "");
    put(out, table->columns[i].title);
    g_string_append(out, "</th>");
  }
  g_string_append(out, "</tr></thead>\n<tbody>\n");
}

// The table lies in a region of its own that can be moved with the keyboard where a screen is too
// narrow for it.
static void put_table(GString *out, const BtPage *page, const BtBlock *table, guint number) {
  g_string_append_printf(out,
                         "<div class=\"table\" role=\"region\" tabindex=\"0\" "
                         "aria-labelledby=\"table-%u\">\n<table>\n<caption id=\"table-%u\">",
                         number, number);
  put(out, table->title);
  g_string_append(out, "</caption>\n");
  put_head_row(out, table);
  for (guint i = 0; i < table->rows->len; i++) {
    const BtPageRow *row = g_ptr_array_index(table->rows, i);
    g_string_append(out, "<tr");
    put_id(out, row->id);
    g_string_append_c(out, '>');
    for (gsize j = 0; j < table->n_columns; j++) {
      g_string_append(out, table->columns[j].number ? "<td class=\"number\">" : "<td>");
      put_text(out, page, bt__cell(row, j));
      g_string_append(out, "</td>");
    }
    g_string_append(out, "</tr>\n");
  }
  g_string_append(out, "</tbody>\n</table>\n</div>\n");
}

static void put_figure(GString *out, const BtFigure *figure) {
  g_string_append(out, "<figure");
  put_id(out, figure->id);
  g_string_append(out, ">\n<figcaption>");
  put(out, figure->title);
  g_string_append(out, "</figcaption>\n");
  BtCanvas *canvas =
      bt__canvas_svg(out, figure->id, figure->width, figure->height, figure->title, figure->words);
  figure->draw(canvas, figure->data);
  bt__canvas_free(canvas);
  g_string_append(out, "</figure>\n");
}

static void put_words(GString *out, const BtPage *page, const BtBlock *block) {
  static const char *const classes[] = {[BT_LOOK_PLAIN] = "",
                                        [BT_LOOK_LEAD] = " class=\"lead\"",
                                        [BT_LOOK_SMALL] = " class=\"small\"",
                                        [BT_LOOK_CAUTION] = " class=\"caution\""};
  if (block->look == BT_LOOK_ITEM) {
    g_string_append(out, "<li");
    put_id(out, block->id);
    g_string_append_c(out, '>');
    put_text(out, page, block->text);
    g_string_append(out, "</li>\n");
    return;
  }
  g_string_append_printf(out, "<p%s", classes[block->look]);
  put_id(out, block->id);
  g_string_append_c(out, '>');
  put_text(out, page, block->text);
  g_string_append(out, "</p>\n");
}

static bool is_item(const BtPage *page, guint index) {
  if (index >= page->blocks->len)
    return false;
  const BtBlock *block = g_ptr_array_index(page->blocks, index);
  return block->kind == BT_BLOCK_TEXT && block->look == BT_LOOK_ITEM;
}

static void put_block(GString *out, const BtPage *page, guint index) {
  const BtBlock *block = g_ptr_array_index(page->blocks, index);
  switch (block->kind) {
  case BT_BLOCK_HEADING:
    g_string_append(out, "<h2");
    put_id(out, block->id);
    g_string_append_c(out, '>');
    put(out, block->title);
    g_string_append(out, "</h2>\n");
    break;
  case BT_BLOCK_TEXT:
    if (is_item(page, index) && (index == 0 || !is_item(page, index - 1)))
      g_string_append(out, "<ul>\n");
    put_words(out, page, block);
    if (is_item(page, index) && !is_item(page, index + 1))
      g_string_append(out, "</ul>\n");
    break;
  case BT_BLOCK_TABLE:
    put_table(out, page, block, index);
    break;
  case BT_BLOCK_FIGURE:
    put_figure(out, &block->figure);
    break;
  }
}

char *bt__page_html(const BtPage *page) {
  GString *out = g_string_new("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n"
                              "<meta charset=\"utf-8\">\n"
                              "<meta name=\"viewport\" content=\"width=device-width, "
                              "initial-scale=1\">\n<title>");
  put(out, page->title);
  g_string_append_printf(out, "</title>\n<style>\n%s</style>\n</head>\n<body>\n<main>\n<h1>",
                         bt__page_style);
  put(out, page->title);
  g_string_append(out, "</h1>\n");
  for (guint i = 0; i < page->blocks->len; i++)
    put_block(out, page, i);
  g_string_append(out, "</main>\n<footer>\n<p>");
  put(out, page->footer);
  g_string_append(out, "</p>\n</footer>\n</body>\n</html>\n");
  return g_string_free(out, FALSE);
}
