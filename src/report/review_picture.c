// SPDX-License-Identifier: GPL-3.0-or-later
//
// The review's pictures one by one, for pages that show them beside something else.
#include "report/canvas.h"
#include "report/review.h"

char *bt_review_picture(const BtReview *review, BtReviewPicture which) {
  static BtFigure (*const figures[])(const BtReview *) = {
      [BT_PICTURE_TIMELINE] = bt__timeline_figure,
      [BT_PICTURE_TIME] = bt__time_figure,
      [BT_PICTURE_PROGRESS] = bt__progress_figure,
      [BT_PICTURE_ORDER] = bt__order_figure,
  };
  BtFigure figure = figures[which](review);
  GString *svg = g_string_new(NULL);
  BtCanvas *canvas =
      bt__canvas_svg(svg, figure.id, figure.width, figure.height, figure.title, figure.words);
  figure.draw(canvas, figure.data);
  bt__canvas_free(canvas);
  g_free(figure.id);
  g_free(figure.title);
  g_free(figure.words);
  return g_string_free(svg, FALSE);
}
