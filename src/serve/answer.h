// SPDX-License-Identifier: GPL-3.0-or-later
//
// What is sent back.
#ifndef SERVE_ANSWER_H
#define SERVE_ANSWER_H

#include <benchtally/model.h>
#include <jansson.h>

// A body that comes bit by bit, until the client or the server goes.
typedef struct {
  // Waits for more and writes at most `most` bytes; 0: nothing came yet; -1: it is at its end.
  gssize (*read)(gpointer source, char *buffer, gsize most);
  void (*close)(gpointer source);
  gpointer source;
} BtAnswerStream;

typedef struct {
  int status;
  const char *type; // the media type; static
  GBytes *body;
  char *etag;            // NULL: the answer is not to be kept
  char *cookie;          // to set; NULL
  char *file_name;       // to be saved under; NULL
  char *style_sha256;    // base64, of the page's own style sheet; NULL: it has none
  int retry_after_s;     // 0: nothing is said
  BtAnswerStream stream; // read NULL: the body is all there is
} BtAnswer;

void bt__answer_free(BtAnswer *answer); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtAnswer, bt__answer_free)

// Takes `body` over. The media type is static.
BtAnswer *bt__answer(int status, const char *type, GBytes *body);
// Takes `object` over.
BtAnswer *bt__answer_json(int status, json_t *object);
// "{}".
BtAnswer *bt__answer_done(void);

// {"error": code, "message": ...}
BtAnswer *bt__answer_refusal(int status, const char *code, const char *format, ...)
    G_GNUC_PRINTF(3, 4);
// The same of an error of the library, with the status that belongs to it. Takes `error` over.
BtAnswer *bt__answer_error(GError *error);
// 422 with the faults (of BtFault) at their places.
BtAnswer *bt__answer_faults(const char *message, const GPtrArray *faults);
// 404, in the words that fit things that are not there and those that one may not know of.
BtAnswer *bt__answer_no_such(const char *what);

#endif
