// SPDX-License-Identifier: GPL-3.0-or-later
//
// Taking in a file of events: one transaction, all or nothing. Events go to the book as they are
// read and are not kept here. What grows with the file is one small Incoming an observation: its
// rows may be scattered, so none can be closed before the last row is read.
#include <string.h>

#include "store/sealer.h"

// An observation of the file.
typedef struct {
  BtHeader header; // strings owned
  const BtRubric *rubric;
  BtChain chain;
  bool already;       // it is in the book: its rows are compared, not added
  gint64 last_number; // of the record compared last
  int rows;           // of the file
  BtRefusal refusal;  // why it cannot be taken in
  bool told;
} Incoming;

typedef struct {
  BtBook *book;
  const char *path;
  GPtrArray *incoming; // of Incoming
  BtFaultList faults;  // those that only the book can find
  gint64 wall_ms;
  BtEntryText text;
  BtSealer *sealer;
  BtImportCount count;
  void (*progress)(gint64 done, gint64 all, gpointer user_data);
  gpointer progress_data;
} Import;

static void free_incoming(gpointer data) {
  Incoming *incoming = data;
  g_free((gpointer)incoming->header.session);
  g_free((gpointer)incoming->header.trainee);
  g_free((gpointer)incoming->header.assessor);
  g_free((gpointer)incoming->header.rubric);
  bt__refusal_clear(&incoming->refusal);
  g_free(incoming);
}

// Faults ----------------------------------------------------------------------

// `wrong` and `expected` are taken over.
static void add_fault(Import *import, gint64 line, char *wrong, char *expected) {
  bt_fault_list_add(&import->faults, line, 0, false, wrong, expected);
}

// A refusal is told once, at the first row of its observation.
static void tell_refusal(Import *import, Incoming *incoming, gint64 line) {
  if (incoming->told)
    return;
  incoming->told = true;
  add_fault(import, line, g_steal_pointer(&incoming->refusal.wrong),
            g_steal_pointer(&incoming->refusal.expected));
}

static void refuse_difference(Import *import, Incoming *incoming, gint64 line, char *what) {
  const BtHeader *header = &incoming->header;
  incoming->told = true;
  add_fault(import, line,
            g_strdup_printf("session %s by %s is in the book and %s", header->session,
                            header->assessor, what),
            g_strdup("a closed observation takes no more rows: correct it with `benchtally strike` "
                     "or `benchtally amend`"));
  g_free(what);
}

// Observations ----------------------------------------------------------------

static Incoming *add_incoming(Import *import, const BtHeader *header) {
  Incoming *incoming = g_new0(Incoming, 1);
  incoming->header = *header;
  incoming->header.session = g_strdup(header->session);
  incoming->header.trainee = g_strdup(header->trainee);
  incoming->header.assessor = g_strdup(header->assessor);
  incoming->header.rubric = g_strdup(header->rubric);
  g_ptr_array_add(import->incoming, incoming);
  return incoming;
}

static bool meet_again(Import *import, Incoming *incoming, gint64 id, GError **error) {
  bool new_session = false;
  g_autoptr(BtObservationRow) row = bt__observation_row(import->book, id, error);
  if (!row ||
      !bt__session_enter(import->book, &incoming->header, &new_session, &incoming->refusal, error))
    return false;
  incoming->already = true;
  incoming->chain = row->chain;
  if (!row->closed && !incoming->refusal.wrong) {
    incoming->refusal.wrong =
        g_strdup_printf("session %s by %s is being recorded in the book at this moment",
                        incoming->header.session, incoming->header.assessor);
    incoming->refusal.expected = g_strdup("finish it there, or give this one another session id");
  }
  return true;
}

static gpointer take_observation(const BtHeader *header, const BtRubric *rubric, gpointer user_data,
                                 GError **error) {
  Import *import = user_data;
  Incoming *incoming = add_incoming(import, header);
  incoming->rubric = rubric;
  bool new_session = false;
  gint64 known = bt__observation_find(import->book, header, error);
  bool done = known > 0    ? meet_again(import, incoming, known, error)
              : known == 0 ? bt__observation_open(import->book, header, "import", &incoming->chain,
                                                  &new_session, &incoming->refusal, error)
                           : false;
  import->count.sessions += new_session;
  return done ? incoming : NULL;
}

// Events ----------------------------------------------------------------------

static const BtSql next_event = {"compare with the log",
                                 "SELECT " BT_ENTRY_COLUMNS
                                 " FROM entry WHERE observation_id = ?1 AND number > ?2 "
                                 "AND kind = 'event' ORDER BY number LIMIT 1"};

static char *name_event(const BtEntry *entry) {
  g_autofree char *time = bt_clock_format_exact(entry->at_ms);
  return g_strdup_printf("this row differs from its event %" G_GINT64_FORMAT " there (%s at %s)",
                         entry->seq, entry->action, time);
}

static bool compare(Import *import, Incoming *incoming, const BtEntry *entry, gint64 line,
                    GError **error) {
  g_autoptr(BtQuery) query = bt__query(import->book->db, &next_event, error,
                                       ARGS(INT(incoming->chain.id), INT(incoming->last_number)));
  int row = query ? bt__step(query, error) : -1;
  if (row < 0)
    return false;
  BtEntry known;
  if (row == 0) {
    g_autofree char *events = bt_count_of(incoming->chain.events, "event", NULL);
    refuse_difference(import, incoming, line,
                      g_strdup_printf("this row comes after the %s it has there", events));
    return true;
  }
  (void)bt__entry_read(query, &known);
  incoming->last_number = known.number;
  if (!bt__entry_same_event(&known, entry))
    refuse_difference(import, incoming, line, name_event(&known));
  return true;
}

// A row whose id is taken is a fault of the file; all else that fails, fails the import.
static bool write_event(const BtEntry *entry, gint64 line, gpointer user_data, GError **error) {
  Import *import = user_data;
  GError *cause = NULL;
  if (bt__entry_insert(import->book, entry, &cause))
    return true;
  if (!entry->id || !g_error_matches(cause, BT_ERROR, BT_ERROR_CONFLICT)) {
    g_propagate_error(error, cause);
    return false;
  }
  g_error_free(cause);
  add_fault(import, line,
            g_strdup_printf("the id %s belongs to another event of the book", entry->id),
            g_strdup("every event has an id of its own; leave it empty to get none"));
  return true;
}

static bool add_event(Import *import, Incoming *incoming, BtEntry *entry, gint64 line,
                      GError **error) {
  entry->seq = incoming->chain.events + 1;
  return bt__sealer_add(import->sealer, &incoming->chain, entry, line, error);
}

static bool take_event(gpointer observation, const BtEvent *event, const char *id, gint64 line,
                       gpointer user_data, GError **error) {
  Import *import = user_data;
  Incoming *incoming = observation;
  incoming->rows++;
  if (incoming->refusal.wrong)
    tell_refusal(import, incoming, line);
  if (incoming->told || (import->faults.errors > 0 && !incoming->already))
    return true; // nothing of the file is kept; the rest is read for its faults
  if (event->n_details > BT_DETAILS_MAX) {
    add_fault(import, line, g_strdup_printf("an event with %d details", event->n_details),
              g_strdup_printf("at most %d can be kept", BT_DETAILS_MAX));
    return true;
  }
  BtEntry entry = {
      .kind = BT_RECORD_EVENT, .wall_ms = import->wall_ms, .source = "import", .id = id};
  bt__entry_from_event(&entry, incoming->rubric, event, &import->text);
  return incoming->already ? compare(import, incoming, &entry, line, error)
                           : add_event(import, incoming, &entry, line, error);
}

// The whole file --------------------------------------------------------------

static const BtRubric *find_rubric(const char *id, int edition, gpointer user_data,
                                   GError **error) {
  return bt_book_rubric(((Import *)user_data)->book, id, edition, error);
}

static char **list_rubric_ids(gpointer user_data) {
  return bt__rubric_ids(((Import *)user_data)->book);
}

static void pass_progress(gint64 done_bytes, gint64 all_bytes, gpointer user_data) {
  const Import *import = user_data;
  import->progress(done_bytes, all_bytes, import->progress_data);
}

static void check_row_count(Import *import, Incoming *incoming) {
  if (incoming->refusal.wrong)
    tell_refusal(import, incoming, 0); // no row of it was sound
  if (incoming->told || !incoming->already || incoming->rows == incoming->chain.events)
    return;
  g_autofree char *there = bt_count_of(incoming->chain.events, "event", NULL);
  refuse_difference(import, incoming, 0,
                    g_strdup_printf("has %s there, %d in this file", there, incoming->rows));
}

// Closes what the file brought.
static bool finish_incoming(Import *import, Incoming *incoming, GError **error) {
  BtImportCount *count = &import->count;
  if (incoming->already) {
    count->observations_already++;
    count->events_already += incoming->rows;
    return true;
  }
  count->observations++;
  count->events += incoming->rows;
  return bt__observation_close(import->book, &incoming->header, &incoming->chain, "import", NULL,
                               error);
}

static int by_line(gconstpointer a, gconstpointer b) {
  const BtFault *first = *(BtFault *const *)a;
  const BtFault *second = *(BtFault *const *)b;
  unsigned int first_line = (unsigned int)first->line - 1; // no line comes last
  unsigned int second_line = (unsigned int)second->line - 1;
  return (first_line > second_line) - (first_line < second_line);
}

// Puts the faults that the book found among those of the reader.
static void merge_faults(Import *import, GPtrArray *faults) {
  if (import->faults.errors == 0)
    return;
  bt_fault_list_finish(&import->faults);
  g_ptr_array_extend_and_steal(faults, g_ptr_array_ref(import->faults.faults));
  g_ptr_array_sort(faults, by_line);
}

static bool read_and_close(Import *import, GPtrArray *faults, GError **error) {
  const BtLogSink sink = {.rubric = find_rubric,
                          .observation = take_observation,
                          .event = take_event,
                          .progress = import->progress ? pass_progress : NULL,
                          .user_data = import,
                          .rubric_ids = list_rubric_ids};
  GError *cause = NULL;
  bool sound = bt_log_read_file(import->path, &sink, faults, &cause);
  if (cause) {
    g_propagate_error(error, cause);
    return false;
  }
  if (!bt__sealer_finish(import->sealer, error))
    return false;
  for (guint i = 0; i < import->incoming->len; i++)
    check_row_count(import, import->incoming->pdata[i]);
  sound = sound && import->faults.errors == 0;
  for (guint i = 0; sound && i < import->incoming->len; i++)
    sound = finish_incoming(import, import->incoming->pdata[i], error);
  return sound;
}

bool bt_book_import(BtBook *book, const char *path, BtImportCount *count, GPtrArray *faults,
                    void (*progress)(gint64 done, gint64 all, gpointer user_data),
                    gpointer user_data, GError **error) {
  if (!bt__begin(book, error))
    return false;
  Import import = {.book = book,
                   .path = path,
                   .incoming = g_ptr_array_new_with_free_func(free_incoming),
                   .faults = {.file = path, .faults = bt_faults_new()},
                   .wall_ms = bt__now_ms(book),
                   .text.details = g_string_sized_new(256),
                   .progress = progress,
                   .progress_data = user_data};
  import.sealer = bt__sealer_new(book, write_event, &import, error);
  bool done = bt__end(book, import.sealer && read_and_close(&import, faults, error), error);
  if (done && count)
    *count = import.count;
  merge_faults(&import, faults);
  if (done)
    bt__db_checkpoint(book->db);
  bt__sealer_free(import.sealer);
  g_ptr_array_unref(import.incoming);
  g_ptr_array_unref(import.faults.faults);
  g_string_free(import.text.details, TRUE);
  return done;
}
