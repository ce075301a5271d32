// SPDX-License-Identifier: GPL-3.0-or-later
//
// Documents to take away, made by a process of their own: a library that dies there takes no
// bench's record with it.
#include <glib/gstdio.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "serve/access.h"
#include "serve/route.h"
#include "serve/server.h"

#define EXPORT_BYTES_MAX (64 * 1024 * 1024)
#define EXPORT_MS_MOST   60000
static const char workbook_type[] =
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

// The process -----------------------------------------------------------------

// Waits, but not forever. Returns its exit status; -1 when it was ended.
static int wait_for(GPid pid) {
  int status = 0;
  for (int waited_ms = 0; waited_ms < EXPORT_MS_MOST; waited_ms += 10) {
    if (waitpid(pid, &status, WNOHANG) == pid)
      return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    g_usleep(10000);
  }
  kill(pid, SIGKILL);
  waitpid(pid, &status, 0);
  return -1;
}

// Runs the program that makes documents.
static bool run_program(const BtServer *server, const char *const *arguments, GError **error) {
  GPid pid = 0;
  g_autoptr(GError) cause = NULL;
  if (!g_spawn_async(NULL, (char **)arguments, NULL,
                     G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_STDOUT_TO_DEV_NULL |
                         G_SPAWN_STDERR_TO_DEV_NULL,
                     NULL, NULL, &pid, &cause)) {
    g_set_error(error, BT_ERROR, BT_ERROR_EXPORT, "%s could not be started: %s",
                server->reports_program, cause->message);
    return false;
  }
  int status = wait_for(pid);
  if (status != 0)
    g_set_error(error, BT_ERROR, status == 2 ? BT_ERROR_UNKNOWN : BT_ERROR_EXPORT,
                status == 2 ? "there is no closed session to write of yet"
                            : "the document could not be made; try again");
  return status == 0;
}

// The bytes of the file `name` that the program makes when it is told `arguments` (NULL-terminated)
// and where to write it; it notes on the book's chain that `by` took it away. NULL with `error`.
static GBytes *make_document(const BtServer *server, const char *by, const char *name,
                             const char *const *arguments, bool into_folder, GError **error) {
  g_autofree char *folder = g_dir_make_tmp("benchtally-XXXXXX", error);
  if (!folder)
    return NULL;
  g_autofree char *path = g_build_filename(folder, name, NULL);
  const char *const rest[] = {"--book", server->book_path,           "--by", by,
                              "--out",  into_folder ? folder : path, NULL};
  g_autoptr(GPtrArray) all = g_ptr_array_new();
  g_ptr_array_add(all, server->reports_program);
  for (const char *const *argument = arguments; *argument; argument++)
    g_ptr_array_add(all, (gpointer)*argument);
  for (gsize i = 0; i < G_N_ELEMENTS(rest); i++)
    g_ptr_array_add(all, (gpointer)rest[i]);
  char *bytes = NULL;
  gsize length = 0;
  bool done = run_program(server, (const char *const *)all->pdata, error) &&
              bt_file_read(path, EXPORT_BYTES_MAX, &bytes, &length, error);
  (void)g_unlink(path);
  (void)g_rmdir(folder);
  return done ? g_bytes_new_take(bytes, length) : NULL;
}

// Takes `bytes` and `error` over.
static BtAnswer *document_answer(GBytes *bytes, const char *name, GError *error) {
  if (!bytes)
    return bt__answer_error(error);
  BtAnswer *answer = bt__answer(200, workbook_type, bytes);
  answer->file_name = g_strdup(name);
  return answer;
}

// The routes ------------------------------------------------------------------

BtAnswer *bt__handle_workbook(BtRequest *request) {
  GError *error = NULL;
  const char *file = request->place[0];
  bool named = g_str_has_suffix(file, ".xlsx");
  g_autofree char *trainee = g_strndup(file, strlen(file) - (named ? strlen(".xlsx") : 0));
  bool own = strcmp(trainee, request->login->code) == 0;
  if (!named || !bt_code_valid(trainee) || (bt__is_trainee(request) && !own))
    return bt__answer_no_such("workbook");
  BtAnswer *refusal = bt__check_sights(request, trainee, NULL, G_MAXINT64);
  if (refusal)
    return refusal;
  bt__request_rest(request);
  const char *const arguments[] = {"workbook", trainee, NULL};
  GBytes *bytes =
      make_document(request->server, request->login->code, file, arguments, true, &error);
  return document_answer(bytes, file, error);
}

BtAnswer *bt__handle_cohort(BtRequest *request) {
  GError *error = NULL;
  const char *rubric = bt__param(request, "rubric");
  if (rubric && !bt_code_valid(rubric))
    return bt__answer_no_such("rubric");
  BtAnswer *refusal = bt__check_sights(request, NULL, rubric, G_MAXINT64);
  if (refusal)
    return refusal;
  bt__request_rest(request);
  const char *const arguments[] = {"cohort", rubric ? "--rubric" : NULL, rubric, NULL};
  GBytes *bytes =
      make_document(request->server, request->login->code, "cohort.xlsx", arguments, false, &error);
  return document_answer(bytes, "cohort.xlsx", error);
}
