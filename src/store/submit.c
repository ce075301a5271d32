// SPDX-License-Identifier: GPL-3.0-or-later
//
// Entries sent from elsewhere, perhaps more than once.
#include "store/record.h"

static void add_fault(BtField field, int detail, bool warning, char *wrong, char *expected,
                      gpointer user_data) {
  (void)field;
  (void)detail;
  g_ptr_array_add(user_data, bt_fault_new(NULL, 0, 0, warning, wrong, expected));
}

static const BtSql find_meant = {
    "look the event up",
    "SELECT seq FROM entry WHERE id = ?1 AND observation_id = ?2 AND kind = 'event'"};

// The number of the event that a correction is of.
static bool find_seq(BtBook *book, gint64 observation_id, const BtSubmission *submission,
                     gint64 *seq, GError **error) {
  *seq = submission->seq;
  if (*seq > 0 || !submission->of_id)
    return true;
  int found = bt__number(book->db, &find_meant, seq, error,
                         ARGS(TEXT(submission->of_id), INT(observation_id)));
  if (found == 0)
    g_set_error(error, BT_ERROR, BT_ERROR_UNKNOWN,
                "the observation has no event with the id %s; send the event first",
                submission->of_id);
  return found == 1;
}

static bool append(BtBook *book, BtObservationRow *row, BtEntry *entry, int *seq, GError **error) {
  int known = bt__sent_before(book, entry, row->chain.id, seq, error);
  if (known != 0)
    return known == 1;
  if (entry->kind == BT_RECORD_EVENT)
    return bt__append_event(book, row, entry, seq, error);
  *seq = (int)entry->seq;
  return bt__append_correction(book, row, entry, error);
}

// Appends what holds an event, new or amended; it is read as the `seq`th.
static bool append_resolved(BtBook *book, BtObservationRow *row, BtEntry *entry,
                            const BtRawEvent *raw, int *seq, GPtrArray *faults, GError **error) {
  const BtRubric *rubric = bt__observation_rubric(book, &row->header, error);
  if (!rubric)
    return false;
  int as_seq = entry->kind == BT_RECORD_EVENT ? (int)row->chain.events + 1 : (int)entry->seq;
  BtDetailValue details[BT_DETAILS_MAX];
  BtEvent event;
  if (!bt_event_resolve(rubric, raw, as_seq, &event, details, add_fault, faults))
    return false;
  g_autoptr(GString) details_text = g_string_new(NULL);
  BtEntryText text = {.details = details_text};
  bt__entry_from_event(entry, rubric, &event, &text);
  return append(book, row, entry, seq, error);
}

static bool submit(BtBook *book, gint64 observation_id, const BtSubmission *submission, int *seq,
                   GPtrArray *faults, GError **error) {
  g_autoptr(BtObservationRow) row = bt__observation_row(book, observation_id, error);
  BtEntry entry = {.id = submission->id, .reason = submission->reason};
  if (!row || !find_seq(book, observation_id, submission, &entry.seq, error))
    return false;
  entry.kind = !submission->event ? BT_RECORD_STRIKE
               : entry.seq > 0    ? BT_RECORD_AMEND
                                  : BT_RECORD_EVENT;
  if (!submission->event)
    return append(book, row, &entry, seq, error);
  return append_resolved(book, row, &entry, submission->event, seq, faults, error);
}

static bool check_submission(const BtSubmission *submission, GError **error) {
  const BtRawEvent *event = submission->event;
  bool correction = !event || submission->seq > 0 || submission->of_id;
  if (!bt__check_event_id(submission->id, error) ||
      (correction && !bt__check_reason(submission->reason, error)))
    return false;
  if (!event || event->n_details <= BT_DETAILS_MAX)
    return true;
  g_set_error(error, BT_ERROR, BT_ERROR_LOG, "an event with %d details; at most %d can be kept",
              event->n_details, BT_DETAILS_MAX);
  return false;
}

bool bt_book_submit(BtBook *book, gint64 observation_id, const BtSubmission *submission, int *seq,
                    GPtrArray *faults, GError **error) {
  return check_submission(submission, error) && bt__begin(book, error) &&
         bt__end(book, submit(book, observation_id, submission, seq, faults, error), error);
}
