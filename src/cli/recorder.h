// SPDX-License-Identifier: GPL-3.0-or-later
//
// The recorder: what `record` knows and does, apart from the screen. Keys go in, records go to the
// book, and the state says what to draw. An event is in `observation`, and so on the screen, only
// once the book has it on the disk.
#ifndef BENCHTALLY_CLI_RECORDER_H
#define BENCHTALLY_CLI_RECORDER_H

#include <benchtally/book.h>

#include "cli/raw_event.h"

typedef struct Recorder Recorder;

// Keys beyond characters; those that Unicode lacks stand in a private area of it.
enum {
  KEY_OF_INTERRUPT = 3, // Ctrl-C
  KEY_OF_ENTER = '\n',
  KEY_OF_ESCAPE = 27,
  KEY_OF_BACKSPACE = 127,
  KEY_OF_DOWN = 0xE000,
  KEY_OF_UP,
  KEY_OF_PAGE_DOWN,
  KEY_OF_PAGE_UP,
  KEY_OF_PASTE, // pasted text begins
  KEY_OF_PASTE_END,
  KEY_OF_NOTHING, // one that means nothing here, a function key
  KEY_OF_HANGUP   // the terminal is gone
};

typedef struct {
  gunichar key; // 0: none was left; the arrows reach it
  int value;    // what is answered
  char *label;
} Choice;

// The value of the choice taken, or -1 with the text typed.
typedef void (*Answer)(Recorder *recorder, int value, const char *text);

// What the recorder asks just now: one of several choices (one key each), or a text closed with
// Enter.
typedef struct Question {
  char *title;
  GArray *choices;      // of Choice; NULL: a text is asked
  int marked;           // the choice that Enter takes; -1: none
  GString *text;        // typed so far
  bool numeric;         // only what a number can hold
  bool may_skip;        // Enter alone is an answer: value -1, text ""
  bool must_answer;     // Esc does not leave it: an entry would be lost
  int short_answer_max; // numeric: one digit is enough when no number above this is asked; 0: Enter
                        // ends it
  Answer answer;
  struct Question *behind; // comes back when this one is left; NULL
} Question;

typedef enum { RECORDER_RUNS, RECORDER_LEFT, RECORDER_CLOSED } RecorderState;

struct Recorder {
  BtBook *book;
  gint64 observation_id;
  const BtRubric *rubric;
  BtObservation *observation; // the effective log as the book has it
  BtLedger *ledger;           // of `observation`; made anew after each change
  RecorderState state;
  char *receipt; // once closed

  gint64 (*now_ms)(void); // monotonic
  gint64 clock_zero_ms;   // now_ms() at 0:00 of the session's clock

  gunichar *action_keys; // by action; 0: no key was left for it
  Question *question;    // NULL: a key of the main screen is expected
  bool pasting;
  char *message; // what the last key led to; NULL
  bool message_warns;
  char *remark; // what the rubric says of the last entry's place; NULL

  bool next_is_redo;
  gint64 ago_ms;     // the next entry happened so long ago
  bool every_detail; // ask for every detail, not only those the rubric always wants
  bool just_undone;  // the last key undid an entry

  RawEvent *pending;        // the event being put together
  RawEvent *waiting;        // work that waits for the clock's resume to be logged; NULL
  void (*then)(Recorder *); // what follows once `pending` is in the book; NULL
  int pending_action, pending_detail;
  int amended_seq;    // the event a correction is about; 0
  int amended_what;   // which RawField of it, or RAW_FIELDS + which detail
  int *last_site;     // by action: the site used last, offered first; -1
  int asked_item;     // the rating or measure asked at the end
  int first_expected; // how far the list of what is expected is scrolled
};

// A recorder for an open observation of `book`; NULL with `error` when it cannot be read. Caller
// frees. `now_ms` is a monotonic clock; `at_ms` the session's clock now.
Recorder *recorder_new(BtBook *book, gint64 observation_id, gint64 (*now_ms)(void), gint64 at_ms,
                       GError **error);
void recorder_free(Recorder *recorder); // NULL is allowed

// One recorder at a time writes an observation. A lock beside the book at `path`, held until the
// process ends or the descriptor is closed; -1 with `error` (BOOK_BUSY, FILE).
int recorder_lock(const char *path, gint64 observation_id, const char *session, GError **error);

// The session's clock.
gint64 recorder_at_ms(const Recorder *recorder);
bool recorder_started(const Recorder *recorder);
bool recorder_finished(const Recorder *recorder);
bool recorder_paused(const Recorder *recorder);
// Unpaused time since the start.
gint64 recorder_active_ms(const Recorder *recorder);
// When an entry made now is: earlier by "ago", but never before the start.
gint64 recorder_entry_ms(const Recorder *recorder);
// Whether the checkpoint counts and has been seen too few times yet; *done is how often.
bool recorder_still_expected(const Recorder *recorder, int checkpoint, int *done);
// The phase of the work logged last; -1: none.
int recorder_phase(const Recorder *recorder);

// A key was pressed.
void recorder_key(Recorder *recorder, gunichar key);

// Between the recorder's own files --------------------------------------------

void recorder_say(Recorder *recorder, bool warns, const char *format, ...) G_GNUC_PRINTF(3, 4);
// Asks for one of several; add choices with recorder_choice. Replaces the question that stands.
Question *recorder_ask_choice(Recorder *recorder, Answer answer, const char *format, ...)
    G_GNUC_PRINTF(3, 4);
// The next choice, answered as `value`; key 0 gives the next free of 1-9, a-z, A-Z.
void recorder_choice(Question *question, gunichar key, int value, const char *label);
Question *recorder_ask_text(Recorder *recorder, Answer answer, const char *format, ...)
    G_GNUC_PRINTF(3, 4);
void recorder_ask_nothing(Recorder *recorder);
// Whether to go, leaving the session open; the question that stands comes back otherwise.
void recorder_ask_leave(Recorder *recorder);
// A key for the question that stands.
void recorder_question_key(Recorder *recorder, gunichar key);
void recorder_question_free(Question *question); // NULL is allowed

// Begins a new entry of this action at the clock's time less "ago".
void recorder_begin_entry(Recorder *recorder, const char *action);
// Takes the pending entry to the book and says so; then does what `then` says. False: it was
// refused, or the book could not take it and whether to try again is asked.
bool recorder_log_pending(Recorder *recorder);
void recorder_drop_pending(Recorder *recorder);
// Resolves the pending entry; the faults are said. False: refused.
bool recorder_resolve_pending(Recorder *recorder, int seq, BtEvent *event, BtDetailValue *details);
// Reads the observation and the ledger anew from the book after a correction.
bool recorder_reread(Recorder *recorder);
const BtEvent *recorder_event(const Recorder *recorder, int seq);
// "#14 12:41 Screw placed, Radius, length 16 mm". Caller frees.
char *recorder_event_line(const Recorder *recorder, const BtEvent *event);
// What the event just logged, scored as `ledger`, changed from `before`: "before ...". NULL:
// nothing worth a word. Caller frees.
char *recorder_remark(const BtRubric *rubric, const BtLedger *before, const BtLedger *ledger,
                      int seq);

void recorder_work_key(Recorder *recorder, int action);
void recorder_ask_work(Recorder *recorder);
void recorder_ask_error(Recorder *recorder);
void recorder_ask_inject(Recorder *recorder);
void recorder_ask_unseen(Recorder *recorder);
void recorder_ask_note(Recorder *recorder);

void recorder_undo(Recorder *recorder);
void recorder_ask_strike(Recorder *recorder);
void recorder_ask_amend(Recorder *recorder);

void recorder_ask_finish(Recorder *recorder);
void recorder_ask_judgements(Recorder *recorder);
void recorder_ask_close(Recorder *recorder);

#endif
