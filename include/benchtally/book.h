// SPDX-License-Identifier: GPL-3.0-or-later
//
// The book: one SQLite file that holds everything, append-only, chained. One writer at a time; any
// number of readers.
//
// Every function that takes an `error` may give DATABASE, BOOK_BUSY or, where it writes, DISK and
// BOOK_READ_ONLY; what else it may give stands beside it. A call that fails leaves the book as it
// was. No argument may be NULL unless it says so, save `error`.
#ifndef BENCHTALLY_BOOK_H
#define BENCHTALLY_BOOK_H

#include <benchtally/log.h>
#include <benchtally/model.h>
#include <benchtally/score.h>

G_BEGIN_DECLS

typedef struct BtBook BtBook;

typedef enum {
  BT_BOOK_READ,  // a read-only handle; the book must exist
  BT_BOOK_WRITE, // must exist
  BT_BOOK_CREATE // made, with its folder, when it does not exist
} BtBookMode;

// Opens the book at `path`. NULL with `error`: NOT_A_BOOK (also for one newer than this program),
// FILE, BOOK_BUSY, BOOK_READ_ONLY, DATABASE. Older books are migrated forward when opened for
// writing (for reading: NOT_A_BOOK says how). Caller frees with bt_book_close.
BT_API BT_MUST_USE BtBook *bt_book_open(const char *path, BtBookMode mode, GError **error);
BT_API void bt_book_close(BtBook *book); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtBook, bt_book_close)
BT_API const char *bt_book_path(const BtBook *book); // as it was opened; borrowed from the book

// The wall clock the book stamps records with, in ms since the epoch; NULL restores the real one.
// For tests and replays.
BT_API void bt_book_set_clock(BtBook *book, gint64 (*now_ms)(gpointer user_data),
                              gpointer user_data);
// Who is acting; stands in every record of the book's own chain. Copied. Default: the login name of
// the process.
BT_API void bt_book_set_actor(BtBook *book, const char *actor);

// Until the release, all reads see the book as it was at the hold, whatever another program writes,
// and many small ones cost less. For read-only handles; not nested. Errors: DATABASE, BOOK_BUSY.
BT_API BT_MUST_USE bool bt_book_hold(BtBook *book, GError **error);
BT_API void bt_book_release(BtBook *book);

// Between the two, each call that writes stands or falls by itself, and what stood becomes durable
// with the commit, together: one flush of the disk for many events. Until then nothing may be told
// as kept. Not nested; with a handle that writes. When the commit fails nothing of the group was
// kept: close the handle and open the book again.
BT_API BT_MUST_USE bool bt_book_group_begin(BtBook *book, GError **error);
BT_API BT_MUST_USE bool bt_book_group_commit(BtBook *book, GError **error);

// People ----------------------------------------------------------------------

typedef enum { BT_ROLE_TRAINEE, BT_ROLE_ASSESSOR, BT_ROLE_DIRECTOR } BtRole;
BT_API const char *bt_role_name(BtRole role);   // "trainee", "assessor", "director"; static
BT_API int bt_role_from_name(const char *name); // -1 if it is none, or NULL

typedef struct {
  char *code; // the key everywhere else
  char *name; // for people; NULL when none was given
  BtRole role;
  char *level;  // "PGY-2", "year 3" ...; NULL
  char *cohort; // NULL
} BtPerson;
BT_API void bt_person_free(BtPerson *person); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtPerson, bt_person_free)

// Adds a person. CONFLICT when the code is taken by another; the very same person again is no error
// (*added false).
BT_API BT_MUST_USE bool bt_book_add_person(BtBook *book, const BtPerson *person, bool *added,
                                           GError **error);
// Changes what the book says of the person with this code: a field that is NULL stays as it was, an
// empty one is taken away; the role stays. The change is on the book's chain; a former name is not
// kept. UNKNOWN: no such person. *changed is false when all of it was so already.
BT_API BT_MUST_USE bool bt_book_amend_person(BtBook *book, const BtPerson *changes, bool *changed,
                                             GError **error);
// Adds the people of a CSV file (columns code, name, role, level, cohort; the last two may be
// missing): all or none. False with `error`, or with faults in `faults` and no `error`.
BT_API BT_MUST_USE bool bt_book_add_people_file(BtBook *book, const char *path, int *added,
                                                int *already, GPtrArray *faults, GError **error);
// All people (BtPerson), or those of `role` (-1: all), by code. Caller frees.
BT_API BT_MUST_USE GPtrArray *bt_book_people(BtBook *book, int role, GError **error);
// One person; NULL without `error` when there is none. Caller frees.
BT_API BT_MUST_USE BtPerson *bt_book_person(BtBook *book, const char *code, GError **error);

// Rubric editions -------------------------------------------------------------

typedef struct {
  char *rubric;
  int edition;
  char *title, *sha256;
  gint64 added_ms;
  int sessions; // how many sessions used it
} BtEdition;
BT_API void bt_edition_free(BtEdition *edition); // NULL is allowed

// Puts an edition in the book; the same text again is no error (*added false). CONFLICT: the number
// is taken by another text.
BT_API BT_MUST_USE bool bt_book_add_rubric(BtBook *book, const BtRubric *rubric, bool *added,
                                           GError **error);
// Every edition in the book (BtEdition), by rubric and number. Caller frees.
BT_API BT_MUST_USE GPtrArray *bt_book_editions(BtBook *book, GError **error);
// The edition (edition 0: the latest), borrowed from the book until it is closed. NULL without
// `error`: none.
BT_API BT_MUST_USE const BtRubric *bt_book_rubric(BtBook *book, const char *id, int edition,
                                                  GError **error);

// Standards -------------------------------------------------------------------

// A pass mark as it was set for an edition of a rubric: by whom, by which method, from which
// figures. A standard is for the next edition: what a session scores is decided by the `pass` of
// its own edition's text alone, whether a standard was adopted or not.
typedef struct {
  gint64 id; // in this book
  char *rubric;
  int edition;
  char *method;       // "angoff", "ebel", "contrasting", "borderline", "hofstee", or another code
  gint64 cut_milli;   // the pass mark, thousandths of a percent: 0 .. 100,000
  gint64 se_milli;    // its standard error, likewise; -1: none
  int judges;         // how many; 0: none
  char *judges_note;  // who sat, in one line; NULL
  char *set_on;       // the day it was set, "2026-03-04"
  char *figures_json; // the method's own figures, an object as canonical JSON
  gint64 added_ms;
  char *added_by;
  // Its latest adoption; 0 and NULL: never adopted.
  gint64 adopted_ms;
  char *adopted_by, *adopted_reason;
  bool in_force; // the one adopted last of its edition's
} BtStandard;
BT_API void bt_standard_free(BtStandard *standard); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtStandard, bt_standard_free)

// Puts a standard on record (its id, and all from added_ms on, are the book's to give); *id, if not
// NULL, is its number. UNKNOWN: the edition is not in the book. OPTION: a field is not as described
// above; `figures_json` must read as jansson writes it with JSON_COMPACT | JSON_SORT_KEYS.
BT_API BT_MUST_USE bool bt_book_add_standard(BtBook *book, const BtStandard *standard, gint64 *id,
                                             GError **error);
// All standards (BtStandard), or those of `rubric` (NULL: any), by rubric, edition and id. Caller
// frees.
BT_API BT_MUST_USE GPtrArray *bt_book_standards(BtBook *book, const char *rubric, GError **error);
// Adopts a standard for its edition, with a reason, which is kept. One adopted before it stays on
// record, with its adoption. UNKNOWN; CONFLICT: it is the one in force already.
BT_API BT_MUST_USE bool bt_book_adopt_standard(BtBook *book, gint64 id, const char *reason,
                                               GError **error);

// Import ----------------------------------------------------------------------

typedef struct {
  int sessions, observations; // new
  gint64 events;              // new
  int observations_already;   // already there, the same to the letter
  gint64 events_already;
} BtImportCount;

// Takes in a file of events: all or nothing. Each observation it brings is closed and its result
// issued. False with `error` (FILE, DISK, DATABASE ...) or with faults in `faults` and no `error`;
// either way the book is as it was. `progress` may be NULL.
BT_API BT_MUST_USE bool bt_book_import(BtBook *book, const char *path, BtImportCount *count,
                                       GPtrArray *faults,
                                       void (*progress)(gint64 done, gint64 all,
                                                        gpointer user_data),
                                       gpointer user_data, GError **error);

// Recording live --------------------------------------------------------------

// Opens an observation; *observation_id is its number in the book. CONFLICT: this assessor has one
// of this session already.
BT_API BT_MUST_USE bool bt_book_begin(BtBook *book, const BtHeader *header, gint64 *observation_id,
                                      GError **error);
// Appends an event; on return it is on the disk. event->seq is ignored; *seq is the number given.
// `id` NULL: one is made.
BT_API BT_MUST_USE bool bt_book_append(BtBook *book, gint64 observation_id, const BtEvent *event,
                                       const char *id, int *seq, GError **error);
// Takes event `seq` out of the effective log, with a reason, which is kept. UNKNOWN, CONFLICT
// (struck already).
BT_API BT_MUST_USE bool bt_book_strike(BtBook *book, gint64 observation_id, int seq,
                                       const char *reason, GError **error);
// Replaces event `seq` (a replacement keeps the number). UNKNOWN, CONFLICT (struck).
BT_API BT_MUST_USE bool bt_book_amend(BtBook *book, gint64 observation_id, int seq,
                                      const BtEvent *event, const char *reason, GError **error);
// Closes the observation, issues its result, and gives the receipt: the first 20 hex digits of its
// last link in groups of five ("3f2a9 01bc4 ..."). Caller frees *receipt.
BT_API BT_MUST_USE bool bt_book_finish(BtBook *book, gint64 observation_id, char **receipt,
                                       GError **error);

// An entry as it is sent from elsewhere: an event as it was written down, or a correction of one.
typedef struct {
  const char *id;          // its own, a lower-case UUID
  const BtRawEvent *event; // an event, or all of the new one of an amendment; NULL: a strike
  // Of a correction: the event meant, by its number or (seq 0) by its id, and why. An event has 0,
  // NULL and NULL here.
  int seq;
  const char *of_id;
  const char *reason;
} BtSubmission;
// Appends it; on return it is on the disk, or with a group on its commit. *seq is the number of the
// event. The same entry with the same id again is no error and gives its number again, even when
// the observation is closed by now. False with `error` (UNKNOWN, CONFLICT, LOG), or with faults in
// `faults` and no `error`; warnings stand in `faults` too. A correction of a closed observation
// brings a new result.
BT_API BT_MUST_USE bool bt_book_submit(BtBook *book, gint64 observation_id,
                                       const BtSubmission *submission, int *seq, GPtrArray *faults,
                                       GError **error);

// Reading ---------------------------------------------------------------------

typedef struct {
  gint64 id; // in this book
  char *session, *trainee, *assessor, *rubric;
  int edition;
  gint64 started_ms;
  BtMode mode;
  bool closed;
  gint64 closed_ms;
  bool of_record; // the observation that decides the session's result (SCORING.md section 11)
  int attempt;    // the how-manieth session of this trainee at this rubric, by start; 1-based
  int events, corrections;
  char *receipt; // NULL while open
  // The latest result issued; outcome -1 when none was.
  int outcome;
  gint64 total_percent_milli; // -1: none
  bool assessed[BT_COMPONENTS];
  gint64 given_mp[BT_COMPONENTS], possible_mp[BT_COMPONENTS];
  gint64 total_ms;
} BtSessionRow;
BT_API void bt_session_row_free(BtSessionRow *row); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtSessionRow, bt_session_row_free)

typedef struct {
  const char *trainee, *assessor, *rubric, *session; // NULL: any
  bool of_record_only, open_only;
} BtSessionFilter;

// Observations (BtSessionRow) by trainee, start, session, assessor, mode. `filter` may be NULL.
// Caller frees.
BT_API BT_MUST_USE GPtrArray *bt_book_sessions(BtBook *book, const BtSessionFilter *filter,
                                               GError **error);

// One observation; NULL without `error` when there is none. Caller frees.
BT_API BT_MUST_USE BtSessionRow *bt_book_observation(BtBook *book, gint64 observation_id,
                                                     GError **error);

// Who records the observation, and (if not NULL) of which trainee; caller frees both. NULL without
// `error` when there is none. Cheap, where bt_book_observation looks results up too.
BT_API BT_MUST_USE char *bt_book_recorder(BtBook *book, gint64 observation_id, char **trainee,
                                          GError **error);

// Makes a closed observation the one that decides its session's result, as a director may, with a
// reason, which is kept. UNKNOWN, CONFLICT (it is open, or a trainee's own, which never decides).
BT_API BT_MUST_USE bool bt_book_name_record(BtBook *book, gint64 observation_id, const char *reason,
                                            GError **error);

// The effective log of an observation with its rubric (borrowed from the book). Caller frees.
BT_API BT_MUST_USE BtObservation *bt_book_load(BtBook *book, gint64 observation_id,
                                               const BtRubric **rubric, GError **error);

// A record of an observation's chain, for its history.
typedef enum {
  BT_RECORD_OPEN,
  BT_RECORD_EVENT,
  BT_RECORD_STRIKE,
  BT_RECORD_AMEND,
  BT_RECORD_CLOSE
} BtRecordKind;
typedef struct {
  int number; // in the chain, from 1
  BtRecordKind kind;
  int seq;        // of the event meant; 0 for open and close
  gint64 wall_ms; // when it was written
  char *by;       // who wrote it
  char *source;   // "live", "video", "import", "self"
  char *reason;   // of a correction
  char *id;       // its UUID; NULL
  bool effective; // EVENT, AMEND: this is what counts now
  char *time, *action, *site, *item, *value, *redo, *note,
      *details;       // as text, "length 16 mm, use lag"; NULL if empty
  char *details_json; // the same as the book has them, numbers in thousandths; NULL if empty
  char link_sha256[BT_SHA256_HEX + 1];
} BtRecord;
BT_API void bt_record_free(BtRecord *record); // NULL is allowed
// The chain of an observation from its opening on (BtRecord), corrected events included. UNKNOWN.
// Caller frees.
BT_API BT_MUST_USE GPtrArray *bt_book_history(BtBook *book, gint64 observation_id, GError **error);

// The latest result issued for the observation as JSON (section 12), byte for byte what was hashed,
// or NULL when none was: for programs that keep a copy, or hold it against a score of their own.
// Caller frees.
BT_API BT_MUST_USE char *bt_book_result_json(BtBook *book, gint64 observation_id, GError **error);

// Link of the newest record of the book's own chain that is no export and no look at a record (so
// that making a document does not change the next one), hex; and that record's number. 64 zeros and
// 0 for an empty chain.
BT_API BT_MUST_USE bool bt_book_head(BtBook *book, char head[BT_SHA256_HEX + 1], gint64 *records,
                                     GError **error);

// Care ------------------------------------------------------------------------

typedef struct {
  gint64 records_checked, observations_checked;
  GPtrArray *findings; // of char *: what is wrong, naming the row; empty when all is well
} BtVerifyReport;
BT_API void bt_verify_report_clear(BtVerifyReport *report); // frees what it holds
// Checks every chain and every row against it. False with `error` only when the checking itself
// failed.
BT_API BT_MUST_USE bool bt_book_verify(BtBook *book, BtVerifyReport *report, GError **error);

// A consistent copy while recording goes on; the copy is checked. An existing file is not
// overwritten (CONFLICT).
BT_API BT_MUST_USE bool bt_book_backup(BtBook *book, const char *to, GError **error);

// Notes an export on the book's chain. `trainee` NULL: it is on several.
BT_API BT_MUST_USE bool bt_book_note_export(BtBook *book, const char *what, const char *trainee,
                                            const char *sha256, GError **error);
// Notes on the book's chain that the actor looked at somebody's record: `what` is a short word for
// what was seen; trainee and session may be NULL.
BT_API BT_MUST_USE bool bt_book_note_access(BtBook *book, const char *what, const char *trainee,
                                            const char *session, GError **error);

// A trainee may see what an assessor recorded of a session after an observation of one's own, or
// after saying that none will be made, which is kept. Saying it again is no error. UNKNOWN: the
// trainee has no such session.
BT_API BT_MUST_USE bool bt_book_set_looked(BtBook *book, const char *session, const char *trainee,
                                           GError **error);
// Whether it was said of the session: 1 or 0; -1 with `error`.
BT_API BT_MUST_USE int bt_book_looked(BtBook *book, const char *session, GError **error);

G_END_DECLS
#endif
