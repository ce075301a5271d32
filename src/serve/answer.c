// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/answer.h"

#include <stdarg.h>
#include <string.h>

static const char media_type[] = "application/json";

void bt__answer_free(BtAnswer *answer) {
  if (!answer)
    return;
  if (answer->stream.close)
    answer->stream.close(answer->stream.source);
  g_clear_pointer(&answer->body, g_bytes_unref);
  g_free(answer->etag);
  g_free(answer->cookie);
  g_free(answer->file_name);
  g_free(answer->style_sha256);
  g_free(answer);
}

BtAnswer *bt__answer(int status, const char *type, GBytes *body) {
  BtAnswer *answer = g_new0(BtAnswer, 1);
  *answer = (BtAnswer){.status = status, .type = type, .body = body};
  return answer;
}

BtAnswer *bt__answer_json(int status, json_t *object) {
  char *text = json_dumps(object, JSON_COMPACT);
  json_decref(object);
  g_assert(text);
  return bt__answer(status, media_type, g_bytes_new_with_free_func(text, strlen(text), free, text));
}

BtAnswer *bt__answer_done(void) {
  return bt__answer(200, media_type, g_bytes_new_static("{}", 2));
}

// Refusals --------------------------------------------------------------------

// A text of the library may quote what was sent to it.
static json_t *text_of(const char *text) {
  g_autofree char *valid = g_utf8_make_valid(text, -1);
  return json_string(valid);
}

BtAnswer *bt__answer_refusal(int status, const char *code, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *message = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  return bt__answer_json(status, json_pack("{ssso}", "error", code, "message", text_of(message)));
}

static const struct {
  BtErrorCode code;
  int status;
  const char *name;
} statuses[] = {
    {BT_ERROR_OPTION, 422, "wrong"},        {BT_ERROR_RUBRIC, 422, "wrong"},
    {BT_ERROR_LOG, 422, "wrong"},           {BT_ERROR_UNKNOWN, 404, "unknown"},
    {BT_ERROR_CONFLICT, 409, "conflict"},   {BT_ERROR_BOOK_BUSY, 503, "busy"},
    {BT_ERROR_BOOK_READ_ONLY, 503, "disk"}, {BT_ERROR_DATABASE, 503, "book"},
    {BT_ERROR_DISK, 503, "disk"},           {BT_ERROR_EXPORT, 500, "export"},
};

BtAnswer *bt__answer_error(GError *error) {
  int status = 500;
  const char *name = "machine";
  for (gsize i = 0; i < G_N_ELEMENTS(statuses); i++) {
    if (g_error_matches(error, BT_ERROR, (gint)statuses[i].code)) {
      status = statuses[i].status;
      name = statuses[i].name;
    }
  }
  BtAnswer *answer =
      bt__answer_refusal(status, name, "%s", error ? error->message : "the work was not done");
  answer->retry_after_s = status == 503 ? 1 : 0;
  g_clear_error(&error);
  return answer;
}

static json_t *fault_json(const BtFault *fault) {
  return json_pack("{sisisoso*}", "line", fault->line, "column", fault->column, "wrong",
                   text_of(fault->wrong), "expected",
                   fault->expected ? text_of(fault->expected) : NULL);
}

BtAnswer *bt__answer_faults(const char *message, const GPtrArray *faults) {
  json_t *list = json_array();
  for (guint i = 0; i < faults->len; i++) {
    const BtFault *fault = faults->pdata[i];
    if (!fault->warning)
      json_array_append_new(list, fault_json(fault));
  }
  return bt__answer_json(
      422, json_pack("{ssssso}", "error", "faults", "message", message, "faults", list));
}

BtAnswer *bt__answer_no_such(const char *what) {
  return bt__answer_refusal(404, "unknown", "there is no such %s, or none that you may see", what);
}
