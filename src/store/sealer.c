// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/sealer.h"

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
  GAsyncQueue *to_seal, *sealed; // of Batch *
  Batch stop;                    // handed over to end the thread
};

// The thread -------------------------------------------------------------------------------------

static void seal(Slot *slot, GString *scratch) {
  BtEntry *entry = &slot->entry;
  bt__entry_seal(scratch, entry, NULL, slot->chain->head, entry->body_sha256, entry->link_sha256);
  memcpy(slot->chain->head, entry->link_sha256, BT_SHA256_BYTES);
}

static gpointer seal_batches(gpointer data) {
  BtSealer *sealer = data;
  g_autoptr(GString) scratch = g_string_sized_new(1024);
  for (;;) {
    Batch *batch = g_async_queue_pop(sealer->to_seal);
    if (batch == &sealer->stop)
      return NULL;
    for (int i = 0; i < batch->used; i++)
      seal(&batch->slots[i], scratch);
    g_async_queue_push(sealer->sealed, batch);
  }
}

BtSealer *bt__sealer_new(BtBook *book, BtSealedWrite write, gpointer user_data) {
  BtSealer *sealer = g_new0(BtSealer, 1);
  sealer->book = book;
  sealer->write = write;
  sealer->user_data = user_data;
  for (int i = 0; i < 2; i++)
    sealer->batches[i].text = g_string_chunk_new(64 * 1024);
  sealer->filling = &sealer->batches[0];
  sealer->to_seal = g_async_queue_new();
  sealer->sealed = g_async_queue_new();
  sealer->thread = g_thread_new("sealer", seal_batches, sealer);
  return sealer;
}

void bt__sealer_free(BtSealer *sealer) {
  if (!sealer)
    return;
  g_async_queue_push(sealer->to_seal, &sealer->stop);
  g_thread_join(sealer->thread);
  for (int i = 0; i < 2; i++)
    g_string_chunk_free(sealer->batches[i].text);
  g_async_queue_unref(sealer->to_seal);
  g_async_queue_unref(sealer->sealed);
  g_free(sealer);
}

// Batches ----------------------------------------------------------------------------------------

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
  Batch *back = sealer->under_way ? g_async_queue_pop(sealer->sealed) : NULL;
  Batch *other = sealer->filling == &sealer->batches[0] ? &sealer->batches[1] : &sealer->batches[0];
  g_async_queue_push(sealer->to_seal, sealer->filling);
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
  Batch *last = g_async_queue_pop(sealer->sealed);
  sealer->under_way = false;
  return write_batch(sealer, last, error);
}
