// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/readers.h"

#include <pthread.h>

struct BtReaders {
  char *path;
  pthread_mutex_t lock;
  pthread_cond_t returned;
  GPtrArray *idle; // of BtBook
  guint most, open;
};

BtReaders *bt__readers_new(const char *path, guint most, GError **error) {
  BtBook *first = bt_book_open(path, BT_BOOK_READ, error);
  if (!first)
    return NULL;
  BtReaders *readers = g_new0(BtReaders, 1);
  readers->path = g_strdup(path);
  readers->idle = g_ptr_array_new_with_free_func((GDestroyNotify)bt_book_close);
  readers->most = most;
  readers->open = 1;
  g_ptr_array_add(readers->idle, first);
  pthread_mutex_init(&readers->lock, NULL);
  pthread_cond_init(&readers->returned, NULL);
  return readers;
}

void bt__readers_free(BtReaders *readers) {
  if (!readers)
    return;
  g_assert(readers->idle->len == readers->open);
  g_ptr_array_unref(readers->idle);
  pthread_mutex_destroy(&readers->lock);
  pthread_cond_destroy(&readers->returned);
  g_free(readers->path);
  g_free(readers);
}

// An idle handle, the one used last first; NULL: one more may be opened.
static BtBook *take_idle(BtReaders *readers) {
  pthread_mutex_lock(&readers->lock);
  while (readers->idle->len == 0 && readers->open == readers->most)
    pthread_cond_wait(&readers->returned, &readers->lock);
  BtBook *book = NULL;
  if (readers->idle->len > 0)
    book = g_ptr_array_steal_index(readers->idle, readers->idle->len - 1);
  else
    readers->open++;
  pthread_mutex_unlock(&readers->lock);
  return book;
}

BtBook *bt__readers_lend(BtReaders *readers, GError **error) {
  BtBook *book = take_idle(readers);
  if (book)
    return book;
  book = bt_book_open(readers->path, BT_BOOK_READ, error);
  if (!book) {
    pthread_mutex_lock(&readers->lock);
    readers->open--;
    pthread_cond_signal(&readers->returned);
    pthread_mutex_unlock(&readers->lock);
  }
  return book;
}

void bt__readers_take_back(BtReaders *readers, BtBook *book) {
  pthread_mutex_lock(&readers->lock);
  g_ptr_array_add(readers->idle, book);
  pthread_cond_signal(&readers->returned);
  pthread_mutex_unlock(&readers->lock);
}
