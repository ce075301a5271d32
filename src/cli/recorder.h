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

// Keys beyond characters; the arrows stand in a private area of Unicode.
enum {
  KEY_OF_ENTER = '\n',
  KEY_OF_ESCAPE = 27,
  KEY_OF_BACKSPACE = 127,
  KEY_OF_DOWN = 0xE000,
  KEY_OF_UP = 0xE001
};

typedef struct {
  gunichar key;
  char *label;
} Choice;

// What the recorder asks just now: one of several choices (one key each), or a text closed with
// Enter.
typedef struct {
  char *title;
  GArray *choices;      // of Choice; NULL: a text is asked
  GString *text;        // typed so far
  bool numeric;         // only what a number can hold
  bool may_skip;        // Enter alone is an answer: `text` is "" and `choice` -1
  int short_answer_max; // numeric: one digit is enough when no number above this is asked; 0: Enter
                        // ends it
  // `choice` is an index, or -1 with the text.
  void (*answer)(Recorder *recorder, int choice, const char *text);
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

  Question *question; // NULL: a key of the main screen is expected
  char *message;      // what the last key led to; NULL
  bool message_warns;

  bool next_is_redo;
  gint64 ago_ms;     // the next entry happened so long ago
  bool every_detail; // ask for every detail, not only those the rubric always wants

  RawEvent *pending; // the event being put together
  int pending_action, pending_detail;
  int amended_seq;    // the event a correction is about; 0
  int last_site[64];  // by action: the site used last, offered first
  int asked_item;     // the rating or measure asked at the end
  int first_expected; // how far the list of what is expected is scrolled
};

// A recorder for an open observation of `book`; NULL with `error` when it cannot be read. Caller
// frees. `now_ms` is a monotonic clock; `at_ms` the session's clock now.
Recorder *recorder_new(BtBook *book, gint64 observation_id, gint64 (*now_ms)(void), gint64 at_ms,
                       GError **error);
void recorder_free(Recorder *recorder); // NULL is allowed

// The session's clock.
gint64 recorder_at_ms(const Recorder *recorder);
bool recorder_started(const Recorder *recorder);
bool recorder_finished(const Recorder *recorder);
bool recorder_paused(const Recorder *recorder);
// Unpaused time since the start.
gint64 recorder_active_ms(const Recorder *recorder);

// A key was pressed.
void recorder_key(Recorder *recorder, gunichar key);

// Between the recorder's own files --------------------------------------------

void recorder_say(Recorder *recorder, bool warns, const char *format, ...) G_GNUC_PRINTF(3, 4);
// Asks for one of several; add choices with recorder_choice. Replaces the question that stands.
Question *recorder_ask_choice(Recorder *recorder, void (*answer)(Recorder *, int, const char *),
                              const char *format, ...) G_GNUC_PRINTF(3, 4);
// The next choice; key 0 gives the next free of 1-9, a-z.
void recorder_choice(Question *question, gunichar key, const char *label);
Question *recorder_ask_text(Recorder *recorder, void (*answer)(Recorder *, int, const char *),
                            const char *format, ...) G_GNUC_PRINTF(3, 4);
void recorder_ask_nothing(Recorder *recorder);

// Begins a new entry of this action at the clock's time less "ago".
void recorder_begin_entry(Recorder *recorder, const char *action);
// Takes the pending entry to the book; says so. On a fault of the book asks whether to try again.
void recorder_log_pending(Recorder *recorder);
void recorder_drop_pending(Recorder *recorder);
// Resolves the pending entry; the faults are said. False: refused.
bool recorder_resolve_pending(Recorder *recorder, int seq, BtEvent *event, BtDetailValue *details);
// Reads the observation and the ledger anew from the book after a correction.
bool recorder_reread(Recorder *recorder);
const BtEvent *recorder_event(const Recorder *recorder, int seq);
// "#14 12:41 Screw placed, Radius, length 16 mm". Caller frees.
char *recorder_event_line(const Recorder *recorder, const BtEvent *event);

void recorder_work_key(Recorder *recorder, int action);
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

// Draws the whole screen (recorder_screen.c).
void recorder_screen_open(void);
void recorder_screen_close(void);
void recorder_screen_draw(const Recorder *recorder);
// The cautions of the rubric, to be acknowledged; false: left.
bool recorder_screen_cautions(const BtRubric *rubric, const BtHeader *header);
// Waits up to 200 ms for a key; 0: none came.
gunichar recorder_screen_key(void);

#endif
