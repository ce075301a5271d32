// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the files of the engine share. One BtScoring lives for one call of bt_score and is handed
// along. Section numbers are those of the scoring law.
//
// A *work index* numbers the events of work up to the end, in log order, from 0; a *log index* all
// events of the effective log, in log order. Everything is allocated in the call's arena.
#ifndef BENCHTALLY_SCORE_PARTS_H
#define BENCHTALLY_SCORE_PARTS_H

#include <stddef.h>

#include <gmp.h>

#include <benchtally/score.h>

// Arena -----------------------------------------------------------------------

typedef struct BtArenaBlock BtArenaBlock;
typedef struct {
  BtArenaBlock *newest; // NULL while the caller's own room does
  char *room;
  gsize used, size; // of `room`
} BtArena;

// An arena that uses the caller's `room` first: most calls need no more. A zeroed BtArena is one
// without.
void bt__arena_begin(BtArena *arena, max_align_t *room, gsize bytes);
// Zeroed room for `n` things of `size` bytes, until the arena is cleared. Never NULL but for no
// bytes.
void *bt__arena_alloc(BtArena *arena, gsize n, gsize size);
void bt__arena_clear(BtArena *arena);
#define bt__arena_new(arena, Type, n) ((Type *)bt__arena_alloc((arena), (gsize)(n), sizeof(Type)))

// The log (sections 2 and 3) --------------------------------------------------

// The time of an inject that holds from the beginning: before every other.
#define BT__BEGINNING_MS G_MININT64
#define BT__NEVER_MS     G_MAXINT64

typedef struct {
  const BtEvent *event;
  gint64 active_ms;
  const int *matches; // checkpoints it matches, in force or not, in rubric order
  const int *kinds;   // error kinds whose match it meets, in rubric order
  int n_matches, n_kinds;
  int place; // the same number for events of one action and one site
} BtWork;

typedef struct {
  int inject;
  gint64 at_ms;    // BT__BEGINNING_MS: from the beginning
  int before_work; // takes effect before this work index
} BtInjected;

typedef struct {
  const BtRubric *rubric;
  BtLedger *ledger;
  BtArena arena;
  // Stand in for every list of a row that is empty, so that most cost nothing.
  GArray *no_events, *no_shorts;

  const BtEvent **log; // all events, in log order
  int n_log;
  BtWork *work;
  int n_work, n_places;
  int *work_by_seq;     // work indices by sequence number; NULL if no redo names one
  BtInjected *injected; // in the order they take effect
  int n_injected;
  gint64 *inject_ms; // per inject: when it happened; BT__NEVER_MS
  bool started, finished;
  gint64 total_ms;

  bool *unseen; // per checkpoint
  bool any_unseen;
  bool component_unseen[BT_COMPONENTS];
  gint64 *suspended_ms; // per rule: the first inject that suspends it; BT__NEVER_MS
  int *matched;         // per checkpoint: how many events of work match it

  // Product and rating, which no combination of options changes.
  BtComponentScore product, rating;
  bool has_all_measures, has_all_ratings;
  const BtEvent **measured, **rated; // per measure, per rating: the event that counts; NULL
  bool measure_failed;
} BtScoring;

// Sections 2 and 3: fills everything of `s` from `log` on, and the ledger's clock, injects and the
// lists that do not depend on binding.
void bt__read_log(BtScoring *s, const BtObservation *observation);

// Matching (sections 4 and 5) -------------------------------------------------

// The value `event` logged for `detail` of its action; NULL if it was not logged.
const BtDetailValue *bt__logged(const BtEvent *event, int detail);
bool bt__matches(const BtMatch *match, const BtEvent *event);
// Do the details marked `tells_apart` agree wherever both events (of one action) logged them?
bool bt__not_told_apart(const BtAction *action, const BtEvent *a, const BtEvent *b);

typedef struct {
  bool conforms;
  bool not_verified; // an expected detail was not logged, and need not be
} BtState;
BtState bt__state_for(const BtCheckpoint *checkpoint, const BtEvent *event);

// Fills matches and kinds of every event of work.
void bt__match_work(BtScoring *s);
// The work index of the event with this sequence number, -1 if it is no work up to the end. Only
// when some redo names a number.
int bt__find_work(const BtScoring *s, int seq);

// Binding (sections 3 and 4) --------------------------------------------------

typedef enum { BT__UNPLANNED, BT__BOUND, BT__REDO, BT__EXTRA, BT__OVERTAKEN } BtPlace;

// Where an event of work stands.
typedef struct {
  BtPlace place;
  int checkpoint;   // -1: unplanned
  int stands_for;   // the plain event it stands in for; itself if it is plain
  int last;         // of a bound event: what stands in for it now; itself at first
  BtState state;    // of a bound event: as `last` leaves it
  int next_bound;   // the next event bound to the same checkpoint; -1
  int before_there; // the event bound before it at the same place; -1
  bool taken_as_redo, redo_of_nothing;
} BtPlaced;

// What has become of a checkpoint.
typedef struct {
  bool taken;                  // stands in no choice, or in the option taken
  gint64 added_ms, dropped_ms; // added: BT__BEGINNING_MS for the base set; BT__NEVER_MS
  int first_bound, last_bound; // work indices; -1. Kept when they are overtaken
  int n_bound, n_conforming;
  int n_verified; // conforming and nothing missing
} BtHeld;

typedef struct {
  const int *options; // the option taken of each choice
  BtPlaced *placed;   // per work index
  BtHeld *held;       // per checkpoint
  int *newest_there;  // per place: the latest event bound there; -1
  int *failing_there; // per place: how many events bound there do not conform
  int phase;          // last worked on; -1
} BtBinding;

void bt__binding_init(BtScoring *s, BtBinding *binding);
// Binds the whole log anew under `options` (kept, not copied).
void bt__bind(const BtScoring *s, BtBinding *binding, const int *options);

bool bt__in_force(const BtHeld *held);
BtWhyOut bt__why_out(const BtScoring *s, const BtBinding *binding, int checkpoint);

// Scores of one combination of options ----------------------------------------

typedef struct {
  bool listed; // it is judged: its inject happened; no inject suspended it
  bool applies, broken;
  int then_work; // the first event of `then`; -1
} BtJudgement;

typedef struct {
  BtComponentScore component[BT_COMPONENTS];
  bool sound[BT_COMPONENTS]; // assessed, if only it has possible points
  // Steps
  gint64 *phase_given_mp, *phase_possible_mp;
  int critical_short;       // critical failures of steps
  bool critical_unverified; // a critical checkpoint met only by events not verified
  bool critical_unseen;
  // Order
  BtJudgement *judgements; // per rule
  bool critical_rule, rule_unseen;
  // Time
  gint64 *charged_ms; // per phase
  gint64 unassigned_ms;
  // Technique
  int *found; // per kind
  int *kinds; // scratch: the kinds of one event
  gint64 at_stake_mp;
  bool critical_error;
  // Total
  int line; // of section 11 that decided
  BtOutcome outcome;
  bool has_total;
  mpq_t total;
  gint64 percent_milli; // the total, cut; -1: none
} BtTally;

void bt__tally_init(BtScoring *s, BtTally *tally);
void bt__tally_clear(BtTally *tally);

// Each fills its part of `tally`; `bt__x_rows` fills the rows of the ledger.
void bt__score_steps(const BtScoring *s, const BtBinding *binding, BtTally *tally);
void bt__steps_rows(BtScoring *s, const BtBinding *binding);
void bt__score_order(const BtScoring *s, const BtBinding *binding, BtTally *tally);
void bt__order_rows(BtScoring *s, const BtBinding *binding, const BtTally *tally);
void bt__order_figures(BtScoring *s, const BtBinding *binding, const BtTally *tally);
void bt__score_time(const BtScoring *s, const BtBinding *binding, BtTally *tally);
void bt__time_rows(BtScoring *s, const BtTally *tally);
void bt__score_technique(const BtScoring *s, const BtBinding *binding, BtTally *tally);
void bt__technique_rows(BtScoring *s, const BtBinding *binding, const BtTally *tally);
// Product and rating: rows, and their part of `s`.
void bt__score_values(BtScoring *s);
bool bt__measure_failed(const BtMeasure *measure, const BtValueRow *row);

// The given of a checkpoint that holds `n_conforming` conforming events.
gint64 bt__step_given_mp(const BtCheckpoint *checkpoint, int n_conforming);
bool bt__critical_short(const BtCheckpoint *checkpoint, const BtHeld *held);
bool bt__critical_unverified(const BtCheckpoint *checkpoint, const BtHeld *held);

// Judges a rule; `all_seen`: as if nothing were unseen.
BtJudgement bt__judge(const BtScoring *s, const BtBinding *binding, const BtRule *rule,
                      bool all_seen);

// Is the rule critical, and its breach a matter of what was not seen?
bool bt__hangs_on_unseen(const BtScoring *s, const BtBinding *binding, const BtTally *tally,
                         int rule);

// Total and outcome (section 11). `tally` is complete but for its last part.
void bt__score_outcome(const BtScoring *s, BtTally *tally);
// The reasons of the line that decided; every other row stands in the ledger already.
void bt__outcome_reasons(BtScoring *s, const BtBinding *binding, const BtTally *tally);

// Choices (section 6): the binding and the tally of the combination to take; both in the arena, the
// tally to be cleared by the caller.
void bt__take_choices(BtScoring *s, const BtBinding **binding, BtTally **tally);

// Lists -----------------------------------------------------------------------

// A new list of sequence numbers with room for `n`; for none a share of the one empty list.
GArray *bt__events_new(BtScoring *s, int n);
void bt__list(BtScoring *s, BtList list, const BtEvent *event);

// round(a * b * c / (d * e)), half away from zero; nothing negative, d * e > 0; exact in 128 bits.
gint64 bt__round_product(gint64 a, gint64 b, gint64 c, gint64 d, gint64 e);

#endif
