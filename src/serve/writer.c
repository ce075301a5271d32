// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/writer.h"

#include <pthread.h>

#define GROUP_MOST 256 // pieces of work in one transaction

// A piece of work; stands on its sender's stack until `done`.
typedef struct {
  BtWork work;
  gpointer data;
  const char *actor;
  bool kept, done;
  GError *error;
  pthread_cond_t finished;
} BtJob;

struct BtWriter {
  char *path;
  BtBook *book; // the writer thread's alone; NULL after a fault, until it is opened again
  GThread *thread;
  pthread_mutex_t lock;
  pthread_cond_t wanted;
  GQueue waiting; // of BtJob
  bool ending;
};

// One group -------------------------------------------------------------------

static bool open_book(BtWriter *writer, GError **error) {
  if (!writer->book)
    writer->book = bt_book_open(writer->path, BT_BOOK_WRITE, error);
  return writer->book != NULL;
}

static void refuse(BtJob *job, const GError *error) {
  g_clear_error(&job->error);
  job->error = g_error_copy(error);
  job->kept = false;
}

static void refuse_all(BtJob **jobs, guint n, const GError *error) {
  for (guint i = 0; i < n; i++)
    refuse(jobs[i], error);
}

static void do_job(BtBook *book, BtJob *job) {
  bt_book_set_actor(book, job->actor);
  job->kept = job->work(book, job->data, &job->error);
}

static void do_group(BtWriter *writer, BtJob **jobs, guint n) {
  g_autoptr(GError) error = NULL;
  if (!open_book(writer, &error) || !bt_book_group_begin(writer->book, &error)) {
    refuse_all(jobs, n, error);
    return;
  }
  for (guint i = 0; i < n; i++)
    do_job(writer->book, jobs[i]);
  if (bt_book_group_commit(writer->book, &error))
    return;
  refuse_all(jobs, n, error);
  // What the handle remembers of the group is not in the book.
  g_clear_pointer(&writer->book, bt_book_close);
}

// The thread ------------------------------------------------------------------

// Waits for work. 0: the writer is to end.
static guint take_waiting(BtWriter *writer, BtJob **jobs) {
  guint n = 0;
  pthread_mutex_lock(&writer->lock);
  while (g_queue_is_empty(&writer->waiting) && !writer->ending)
    pthread_cond_wait(&writer->wanted, &writer->lock);
  while (n < GROUP_MOST && !g_queue_is_empty(&writer->waiting))
    jobs[n++] = g_queue_pop_head(&writer->waiting);
  pthread_mutex_unlock(&writer->lock);
  return n;
}

static void let_go(BtWriter *writer, BtJob **jobs, guint n) {
  pthread_mutex_lock(&writer->lock);
  for (guint i = 0; i < n; i++) {
    jobs[i]->done = true;
    pthread_cond_signal(&jobs[i]->finished);
  }
  pthread_mutex_unlock(&writer->lock);
}

static gpointer write_on(gpointer data) {
  BtWriter *writer = data;
  BtJob *jobs[GROUP_MOST];
  for (guint n = take_waiting(writer, jobs); n > 0; n = take_waiting(writer, jobs)) {
    do_group(writer, jobs, n);
    let_go(writer, jobs, n);
  }
  return NULL;
}

BtWriter *bt__writer_new(const char *path, GError **error) {
  BtBook *book = bt_book_open(path, BT_BOOK_WRITE, error);
  if (!book)
    return NULL;
  BtWriter *writer = g_new0(BtWriter, 1);
  writer->path = g_strdup(path);
  writer->book = book;
  g_queue_init(&writer->waiting);
  pthread_mutex_init(&writer->lock, NULL);
  pthread_cond_init(&writer->wanted, NULL);
  writer->thread = g_thread_new("writer", write_on, writer);
  return writer;
}

void bt__writer_free(BtWriter *writer) {
  if (!writer)
    return;
  pthread_mutex_lock(&writer->lock);
  writer->ending = true;
  pthread_cond_signal(&writer->wanted);
  pthread_mutex_unlock(&writer->lock);
  g_thread_join(writer->thread);
  bt_book_close(writer->book);
  pthread_mutex_destroy(&writer->lock);
  pthread_cond_destroy(&writer->wanted);
  g_free(writer->path);
  g_free(writer);
}

bool bt__writer_do(BtWriter *writer, const char *actor, BtWork work, gpointer data,
                   GError **error) {
  BtJob job = {.work = work, .data = data, .actor = actor};
  pthread_cond_init(&job.finished, NULL);
  pthread_mutex_lock(&writer->lock);
  g_queue_push_tail(&writer->waiting, &job);
  pthread_cond_signal(&writer->wanted);
  while (!job.done)
    pthread_cond_wait(&job.finished, &writer->lock);
  pthread_mutex_unlock(&writer->lock);
  pthread_cond_destroy(&job.finished);
  if (job.error)
    g_propagate_error(error, job.error);
  return job.kept;
}
