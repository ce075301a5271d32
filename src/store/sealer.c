// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/sealer.h"

#include <pthread.h>
#include <string.h>

#define BATCH_RECORDS 512

typedef struct {
  BtEntry entry; // its strings stand in the batch's text
  BtChain *chain;
  gint64 line;
} Slot;

typedef struct {
  Slot slots[BATCH_RECORDS];
  int used;
  GStringChunk *text;
} Batch;

struct BtSealer {
  BtBook *book;
  BtSealedWrite write;
  gpointer user_data;
  Batch batches[2];
  Batch *filling;
  bool under_way; // the other batch is with the thread
  GThread *thread;
  pthread_mutex_t lock; // of the two places; pthread's, which the thread sanitizer can follow
  pthread_cond_t changed;
  Batch *to_seal, *sealed; // what lies ready for the thread, and for the caller; NULL: nothing
  bool stopped;            // the thread is to end; what lies ready is dropped
};

static void lay_down(BtSealer *sealer, Batch **place, Batch *batch) {
  pthread_mutex_lock(&sealer->lock);
  *place = batch;
  pthread_cond_broadcast(&sealer->changed);
  pthread_mutex_unlock(&sealer->lock);
}

// Waits until something lies there. NULL when the work was stopped.
static Batch *take_up(BtSealer *sealer, Batch **place) {
  pthread_mutex_lock(&sealer->lock);
  while (!*place && !sealer->stopped)
    pthread_cond_wait(&sealer->changed, &sealer->lock);
  Batch *batch = sealer->stopped ? NULL : *place;
  *place = NULL;
  pthread_mutex_unlock(&sealer->lock);
  return batch;
}

// The thread ------------------------------------------------------------------

static void seal(Slot *slot, GString *scratch) {
  BtEntry *entry = &slot->entry;
  bt__entry_seal(scratch, entry, NULL, slot->chain->head, entry->body_sha256, entry->link_sha256);
  memcpy(slot->chain->head, entry->link_sha256, BT_SHA256_BYTES);
}

static gpointer seal_batches(gpointer data) {
  BtSealer *sealer = data;
  g_autoptr(GString) scratch = g_string_sized_new(1024);
  for (;;) {
    Batch *batch = take_up(sealer, &sealer->to_seal);
    if (!batch)
      return NULL;
    for (int i = 0; i < batch->used; i++)
      seal(&batch->slots[i], scratch);
    lay_down(sealer, &sealer->sealed, batch);
  }
}

static bool start(BtSealer *sealer, GError **error) {
  g_autoptr(GError) cause = NULL;
  sealer->thread = g_thread_try_new("sealer", seal_batches, sealer, &cause);
  if (!sealer->thread)
    g_set_error(error, BT_ERROR, BT_ERROR_DATABASE,
                "%s: could not begin to take events in: %s; close other programs and try again",
                sealer->book->path, cause->message);
  return sealer->thread != NULL;
}

BtSealer *bt__sealer_new(BtBook *book, BtSealedWrite write, gpointer user_data, GError **error) {
  BtSealer *sealer = g_new0(BtSealer, 1);
  sealer->book = book;
  sealer->write = write;
  sealer->user_data = user_data;
  for (int i = 0; i < 2; i++)
    sealer->batches[i].text = g_string_chunk_new(64 * 1024);
  sealer->filling = &sealer->batches[0];
  pthread_mutex_init(&sealer->lock, NULL);
  pthread_cond_init(&sealer->changed, NULL);
  if (start(sealer, error))
    return sealer;
  bt__sealer_free(sealer);
  return NULL;
}

static void stop(BtSealer *sealer) {
  pthread_mutex_lock(&sealer->lock);
  sealer->stopped = true;
  pthread_cond_broadcast(&sealer->changed);
  pthread_mutex_unlock(&sealer->lock);
  g_thread_join(sealer->thread);
}

void bt__sealer_free(BtSealer *sealer) {
  if (!sealer)
    return;
  if (sealer->thread)
    stop(sealer);
  for (int i = 0; i < 2; i++)
    g_string_chunk_free(sealer->batches[i].text);
  pthread_cond_destroy(&sealer->changed);
  pthread_mutex_destroy(&sealer->lock);
  g_free(sealer);
}

// Batches ---------------------------------------------------------------------

static bool write_batch(BtSealer *sealer, Batch *batch, GError **error) {
  for (int i = 0; i < batch->used; i++) {
    if (!sealer->write(&batch->slots[i].entry, batch->slots[i].line, sealer->user_data, error))
      return false;
  }
  batch->used = 0;
  g_string_chunk_clear(batch->text);
  return true;
}

// Gives the full batch to the thread, then writes the one that comes back.
static bool hand_over(BtSealer *sealer, GError **error) {
  Batch *back = sealer->under_way ? take_up(sealer, &sealer->sealed) : NULL;
  Batch *other = sealer->filling == &sealer->batches[0] ? &sealer->batches[1] : &sealer->batches[0];
  lay_down(sealer, &sealer->to_seal, sealer->filling);
  sealer->under_way = true;
  sealer->filling = other;
  return !back || write_batch(sealer, back, error);
}

static const char *keep(GStringChunk *text, const char *string) {
  return string ? g_string_chunk_insert(text, string) : NULL;
}

// Of an event's strings only these do not outlive the call: the others are the rubric's or static.
static void fill(Slot *slot, GStringChunk *text, const BtEntry *entry) {
  slot->entry = *entry;
  slot->entry.value = keep(text, entry->value);
  slot->entry.note = keep(text, entry->note);
  slot->entry.details = keep(text, entry->details);
  slot->entry.id = keep(text, entry->id);
}

bool bt__sealer_add(BtSealer *sealer, BtChain *chain, const BtEntry *entry, gint64 line,
                    GError **error) {
  if (sealer->filling->used == BATCH_RECORDS && !hand_over(sealer, error))
    return false;
  Slot *slot = &sealer->filling->slots[sealer->filling->used++];
  fill(slot, sealer->filling->text, entry);
  slot->chain = chain;
  slot->line = line;
  slot->entry.observation_id = chain->id;
  slot->entry.number = ++chain->records;
  slot->entry.by = sealer->book->actor;
  bt__salt(sealer->book, slot->entry.salt);
  chain->events += entry->kind == BT_RECORD_EVENT;
  return true;
}

bool bt__sealer_finish(BtSealer *sealer, GError **error) {
  if (!hand_over(sealer, error))
    return false;
  Batch *last = take_up(sealer, &sealer->sealed);
  sealer->under_way = false;
  return write_batch(sealer, last, error);
}
