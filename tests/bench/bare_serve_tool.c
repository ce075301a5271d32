// SPDX-License-Identifier: GPL-3.0-or-later
//
// bare_serve_tool DATABASE: the least that a durable service can be: libmicrohttpd with a thread a
// connection, and one writer that puts each body into a table and groups its commits. It prints its
// port. What our service costs is measured against it.
#include <glib.h>
#include <microhttpd.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define GROUP_MOST 256

typedef struct {
  GString *body;
  bool done;
  GCond finished;
} Job;

static struct {
  sqlite3 *db;
  sqlite3_stmt *insert;
  GMutex lock;
  GCond wanted;
  GQueue waiting;
} writer;

static void run(const char *sql) {
  if (sqlite3_exec(writer.db, sql, NULL, NULL, NULL) != SQLITE_OK)
    g_error("%s: %s", sql, sqlite3_errmsg(writer.db));
}

static void insert(const Job *job) {
  sqlite3_bind_text(writer.insert, 1, job->body->str, (int)job->body->len, SQLITE_STATIC);
  if (sqlite3_step(writer.insert) != SQLITE_DONE)
    g_error("%s", sqlite3_errmsg(writer.db));
  sqlite3_reset(writer.insert);
}

static guint take(Job **jobs) {
  guint n = 0;
  g_mutex_lock(&writer.lock);
  while (g_queue_is_empty(&writer.waiting))
    g_cond_wait(&writer.wanted, &writer.lock);
  while (n < GROUP_MOST && !g_queue_is_empty(&writer.waiting))
    jobs[n++] = g_queue_pop_head(&writer.waiting);
  g_mutex_unlock(&writer.lock);
  return n;
}

static gpointer write_on(gpointer data) {
  (void)data;
  for (;;) {
    Job *jobs[GROUP_MOST];
    guint n = take(jobs);
    run("BEGIN IMMEDIATE");
    for (guint i = 0; i < n; i++)
      insert(jobs[i]);
    run("COMMIT");
    g_mutex_lock(&writer.lock);
    for (guint i = 0; i < n; i++) {
      jobs[i]->done = true;
      g_cond_signal(&jobs[i]->finished);
    }
    g_mutex_unlock(&writer.lock);
  }
  return NULL;
}

static void keep(Job *job) {
  g_mutex_lock(&writer.lock);
  g_queue_push_tail(&writer.waiting, job);
  g_cond_signal(&writer.wanted);
  while (!job->done)
    g_cond_wait(&job->finished, &writer.lock);
  g_mutex_unlock(&writer.lock);
}

static enum MHD_Result handle(void *data, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *upload,
                              size_t *size, void **at) {
  (void)data, (void)url, (void)method, (void)version;
  static char done[] = "{\"acks\":[]}";
  if (!*at) {
    Job *job = g_new0(Job, 1);
    job->body = g_string_new(NULL);
    g_cond_init(&job->finished);
    *at = job;
    return MHD_YES;
  }
  Job *job = *at;
  if (*size > 0) {
    g_string_append_len(job->body, upload, (gssize)*size);
    *size = 0;
    return MHD_YES;
  }
  keep(job);
  struct MHD_Response *response =
      MHD_create_response_from_buffer(sizeof done - 1, done, MHD_RESPMEM_PERSISTENT);
  enum MHD_Result result = MHD_queue_response(connection, MHD_HTTP_OK, response);
  MHD_destroy_response(response);
  return result;
}

static void end(void *data, struct MHD_Connection *connection, void **at,
                enum MHD_RequestTerminationCode why) {
  (void)data, (void)connection, (void)why;
  Job *job = *at;
  if (job) {
    g_string_free(job->body, TRUE);
    g_free(job);
  }
}

static void open_database(const char *path) {
  if (sqlite3_open(path, &writer.db) != SQLITE_OK)
    g_error("cannot open %s", path);
  run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
      "CREATE TABLE entry(id INTEGER PRIMARY KEY, body TEXT NOT NULL)");
  if (sqlite3_prepare_v2(writer.db, "INSERT INTO entry(body) VALUES (?1)", -1, &writer.insert,
                         NULL) != SQLITE_OK)
    g_error("%s", sqlite3_errmsg(writer.db));
}

int main(int argc, char **argv) {
  if (argc != 2)
    g_error("bare_serve_tool DATABASE");
  open_database(argv[1]);
  g_thread_new("writer", write_on, NULL);
  struct MHD_Daemon *daemon = MHD_start_daemon(
      MHD_USE_THREAD_PER_CONNECTION | MHD_USE_INTERNAL_POLLING_THREAD | MHD_USE_POLL, 0, NULL, NULL,
      handle, NULL, MHD_OPTION_NOTIFY_COMPLETED, end, NULL, MHD_OPTION_END);
  if (!daemon)
    g_error("cannot listen");
  printf("%u\n", MHD_get_daemon_info(daemon, MHD_DAEMON_INFO_BIND_PORT)->port);
  fflush(stdout);
  pause();
  return 0;
}
