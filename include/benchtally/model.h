// SPDX-License-Identifier: GPL-3.0-or-later
//
// The model: plain data. A rubric says what is expected, an observation what happened; both are
// read-only once made. Things of a rubric are known by their index in its arrays; -1 is "none".
#ifndef BENCHTALLY_MODEL_H
#define BENCHTALLY_MODEL_H

#include <stdbool.h>

#include <glib.h>

#include <benchtally/base.h>

G_BEGIN_DECLS

// Faults ----------------------------------------------------------------------

// A fault or a warning at a place of a file.
typedef struct {
  char *file;     // as the user named it; NULL when the text came from no file
  int line;       // from 1; 0 when the whole file is meant
  int column;     // from 1, in characters; 0 when the whole line is meant
  bool warning;   // true: worth knowing, but not refused
  char *wrong;    // what is wrong
  char *expected; // what was expected, or what to do; may be NULL
} BtFault;

// A new fault owned by the caller; `wrong` and `expected` are taken over (g_free).
BT_API BtFault *bt_fault_new(const char *file, int line, int column, bool warning, char *wrong,
                             char *expected);
BT_API void bt_fault_free(BtFault *fault); // NULL is allowed
// "file:line:column: wrong; expected", warnings with "warning: " before `wrong`. Caller frees.
BT_API char *bt_fault_format(const BtFault *fault);
// A new GPtrArray of BtFault that frees its elements.
BT_API GPtrArray *bt_faults_new(void);
// How many of `faults` are no warnings: for programs that show them, to say whether the file was
// refused.
BT_API guint bt_faults_count_errors(const GPtrArray *faults);

// More than these of one file are counted, not kept: nobody reads on, and a hostile file must not
// fill the memory.
#define BT_FAULTS_KEPT   100
#define BT_WARNINGS_KEPT 20 // what is right need not be read to the end

// The faults of one file, as they are found. Made as a plain struct, the counts 0.
typedef struct {
  const char *file;  // borrowed; NULL when the text came from no file
  GPtrArray *faults; // borrowed; of BtFault; may hold those of other files
  gint64 errors, warnings;
} BtFaultList;

// Whether one more would be kept: if not, its place need not be sought.
BT_API bool bt_fault_list_keeps(const BtFaultList *list, bool warning);
// Adds a fault; `wrong` and `expected` (may be NULL) are taken over (g_free). A line beyond what a
// fault can hold is given as the greatest it can.
BT_API void bt_fault_list_add(BtFaultList *list, gint64 line, int column, bool warning, char *wrong,
                              char *expected);
// Says how many more there were, if there were more than are kept. Call it once, at the end.
BT_API void bt_fault_list_finish(BtFaultList *list);

// Rubric ----------------------------------------------------------------------

typedef enum {
  BT_STEPS,
  BT_ORDER,
  BT_TIME,
  BT_TECHNIQUE,
  BT_PRODUCT,
  BT_RATING,
  BT_COMPONENTS // how many there are
} BtComponent;

// "steps", "order" ...; static.
BT_API const char *bt_component_name(BtComponent component);
// -1 if `name` is no component.
BT_API int bt_component_from_name(const char *name);

typedef struct {
  gint64 lo_milli, hi_milli; // closed
  bool has_lo, has_hi;
} BtRange;

// Whether the value lies in the range, its ends included.
BT_API bool bt_range_holds(const BtRange *range, gint64 milli);
// "14..18", "..18", "14..", "14" in plain decimals, without the unit. Caller frees.
BT_API char *bt_range_format(const BtRange *range);

typedef enum { BT_DETAIL_MEASURED, BT_DETAIL_WHOLE, BT_DETAIL_WORD } BtDetailKind;

typedef struct {
  char *name;
  char *title; // for people; the name when the rubric gives none
  BtDetailKind kind;
  char *unit;    // MEASURED: "mm", "ga" ...; else NULL
  BtRange range; // MEASURED, WHOLE; whole numbers are thousandths too
  char **words;  // WORD: NULL-terminated
  int n_words;
  bool tells_apart; // its value tells two events of one site apart (a hole number)
  bool always;      // the recorder asks for it
} BtDetail;

typedef struct {
  char *id, *title;
} BtSite;

#define BT_DETAILS_MAX 64 // of an action: as many as one entry of a book has room for

typedef struct {
  char *id, *title;
  gunichar key; // keyboard shortcut while recording; 0 when the rubric gives none
  int *sites;   // indices; none means the action has no place
  int n_sites;
  BtDetail *details;
  int n_details;
} BtAction;

// "This detail has one of these values."
typedef struct {
  int detail;      // index into the action's details
  BtRange *ranges; // MEASURED, WHOLE: any of these
  int n_ranges;
  int *words; // WORD: any of these indices into the detail's words
  int n_words;
} BtAllowed;

typedef struct {
  int action;
  int *sites;  // any of these
  int n_sites; // 0: the match names no site, any will do
  BtAllowed *details;
  int n_details;
} BtMatch;

typedef enum { BT_CRITICAL_NO, BT_CRITICAL_DONE, BT_CRITICAL_RIGHT } BtCritical;

typedef struct {
  char *id, *title;
  int phase; // index
  BtMatch match;
  int least, most; // 1 <= least <= most
  BtAllowed *expect;
  int n_expect;
  bool verify_required;
  gint64 points_mp;
  BtCritical critical;
  int extra_kind;     // index into errors: each extra event counts as found for it; -1
  char *coach;        // what to practise; may be NULL
  int choice, option; // the choice and option it stands in; -1, -1
  int line;           // of the rubric file
} BtCheckpoint;

typedef struct {
  char *id, *title;
  gint64 target_ms, limit_ms;          // 0: none
  gint64 points_mp;                    // 0: the phase has no time points
  int first_checkpoint, n_checkpoints; // its checkpoints are neighbours in the rubric's array
} BtPhase;

typedef struct {
  char *id;
  int *first, *then; // checkpoints, ascending; a phase stands for its checkpoints
  int n_first, n_then;
  char *first_text, *then_text; // for people: titles, "Reduce the radius", "Phase: Fix the radius"
  bool by_start;                // judged by `start` instead of `finish`
  gint64 lose_mp;
  bool critical;
  char *why;
  int inject; // the inject it belongs to; -1 for a base rule
} BtRule;

typedef struct {
  int *checkpoints;
  int n_checkpoints;
} BtOption;

typedef struct {
  char *id, *title;
  BtOption *options;
  int n_options;
} BtChoice;

typedef struct {
  char *id, *title;
  int *adds, *drops; // checkpoints
  int n_adds, n_drops;
  int *suspends; // base rules
  int n_suspends;
} BtInject;

typedef enum { BT_MINOR, BT_MAJOR, BT_SEVERE_CRITICAL } BtSeverity;
// "minor", "major", "critical"; static.
BT_API const char *bt_severity_name(BtSeverity severity);

typedef struct {
  char *id, *title;
  BtSeverity severity;
  gint64 lose_mp;
  gint64 cap_mp; // -1: no limit
  bool has_match;
  BtMatch match;
  bool only_unplanned;
  gunichar key; // shortcut in the recorder's list of errors; 0: none
  char *coach;  // may be NULL
} BtErrorKind;

typedef struct {
  char *id, *title, *unit;
  gint64 good_milli, poor_milli, fail_milli;
  bool has_fail;
  gint64 points_mp;
} BtMeasure;

typedef struct {
  char *id, *title;
  gint64 points_mp;
  int n;          // the scale is 1..n
  char **anchors; // n of them; NULL where the rubric describes none
} BtRating;

typedef struct {
  char *id, *title;
  char **from; // ids of checkpoints, phases, rules, errors, measures, ratings; NULL-terminated
} BtCompetency;

typedef struct {
  bool present;
  gint64 target_ms, limit_ms, quiet_ms; // 0: none
  gint64 points_mp;
} BtClock;

typedef struct {
  gint64 technique_points_mp;
  int weight[BT_COMPONENTS];
  gint64 pass_milli;                 // percent, thousandths
  gint64 floor_milli[BT_COMPONENTS]; // percent, thousandths; -1: none
  bool optional[BT_COMPONENTS];
} BtScoreRules;

// A rubric that passed the check: every index is in range, every promise of the format holds.
typedef struct BtRubric {
  char *id;
  int edition;
  char *title;
  char **cautions; // NULL-terminated
  BtClock clock;
  BtSite *sites;
  BtAction *actions;
  BtPhase *phases;
  BtCheckpoint *checkpoints; // all, in rubric order
  BtRule *rules;             // base rules first, then those of each inject, in rubric order
  BtChoice *choices;
  BtInject *injects;
  BtErrorKind *errors;
  BtMeasure *measures;
  BtRating *ratings;
  BtCompetency *competencies;
  int n_sites, n_actions, n_phases, n_checkpoints, n_rules, n_choices, n_injects, n_errors,
      n_measures, n_ratings, n_competencies;
  BtScoreRules score;
  char *text; // the file's text
  gsize text_length;
  char sha256[BT_SHA256_HEX + 1]; // of the text
  GPtrArray *owned;               // every block above, freed with the rubric
} BtRubric;

// An empty rubric, for whoever builds one. Caller frees.
BT_API BtRubric *bt_rubric_new(void);
BT_API void bt_rubric_free(BtRubric *rubric); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtRubric, bt_rubric_free)

// A zeroed block / a copied string, owned by the rubric; NULL for no bytes / NULL text.
BT_API void *bt_rubric_alloc(BtRubric *rubric, gsize n, gsize size);
BT_API char *bt_rubric_strdup(BtRubric *rubric, const char *text);

// Index of the thing with this id, or -1.
BT_API int bt_rubric_find_site(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_action(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_phase(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_checkpoint(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_rule(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_inject(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_error(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_measure(const BtRubric *rubric, const char *id);
BT_API int bt_rubric_find_rating(const BtRubric *rubric, const char *id);
BT_API int bt_action_find_detail(const BtAction *action, const char *name);

// Events ----------------------------------------------------------------------

// The columns of the log that are no details, in their order: session trainee ... note, and id.
BT_API const char *const *bt_log_columns(void); // NULL-terminated, static

typedef enum {
  BT_EVENT_WORK, // an action of the rubric
  BT_EVENT_START,
  BT_EVENT_FINISH,
  BT_EVENT_PAUSE,
  BT_EVENT_RESUME,
  BT_EVENT_INJECT,
  BT_EVENT_ERROR,
  BT_EVENT_RATE,
  BT_EVENT_MEASURE,
  BT_EVENT_UNSEEN,
  BT_EVENT_NOTE
} BtEventKind;

// "start", "finish" ...; NULL for WORK. Static.
BT_API const char *bt_event_kind_name(BtEventKind kind);
// BT_EVENT_WORK when `name` is no built-in action.
BT_API BtEventKind bt_event_kind_from_name(const char *name);

typedef struct {
  int detail;       // index into the action's details
  gint64 milli;     // MEASURED, WHOLE: the value in thousandths
  int word;         // WORD: index into the detail's words; -1 for another text
  const char *text; // WORD: the text as logged
} BtDetailValue;

// A number above 0 names the sequence of the event redone.
#define BT_REDO_NO  0
#define BT_REDO_YES (-1) // redo of whatever fits

// One entry of an effective log, resolved against its rubric.
typedef struct {
  int seq;      // from 1, in the order logged
  gint64 at_ms; // on the observation's clock
  BtEventKind kind;
  int action;         // WORK: index; else -1
  int site;           // WORK, ERROR, NOTE: index, or -1 for no site
  int item;           // INJECT, ERROR, RATE, MEASURE: index; UNSEEN of a checkpoint: index; else -1
  int component;      // UNSEEN of a component; else -1
  gint64 value_milli; // MEASURE: thousandths of the unit; RATE: of a rating point (3 -> 3000)
  int redo;
  const BtDetailValue *details; // WORK
  int n_details;
  const char *note; // NULL: none
} BtEvent;

// The id of what an event of INJECT, ERROR, RATE, MEASURE or UNSEEN is about; NULL for the other
// kinds. Borrowed from the rubric.
BT_API const char *bt_event_item_id(const BtRubric *rubric, const BtEvent *event);

typedef enum { BT_MODE_LIVE, BT_MODE_VIDEO, BT_MODE_SELF } BtMode;
BT_API const char *bt_mode_name(BtMode mode);   // "live", "video", "self"; static
BT_API int bt_mode_from_name(const char *name); // -1 if it is none, or NULL

// What is known of an observation before its first event. Strings belong to whoever made the
// struct.
typedef struct {
  const char *session, *trainee, *assessor, *rubric;
  int edition;
  gint64 started_ms; // wall clock
  BtMode mode;
} BtHeader;

// One assessor's timed record of a session, with the log that remains after corrections. Owns all
// it points to.
typedef struct BtObservation {
  BtHeader header;
  GArray *events;     // of BtEvent, in the order logged (by seq); gaps where events were struck
  GStringChunk *text; // holds the strings
  GPtrArray *blocks;  // holds the detail arrays
} BtObservation;

// A new observation without events; `header` is copied. Caller frees.
BT_API BtObservation *bt_observation_new(const BtHeader *header);
BT_API void bt_observation_free(BtObservation *observation); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtObservation, bt_observation_free)
// Adds a copy of `event`, its details and strings included.
BT_API void bt_observation_add(BtObservation *observation, const BtEvent *event);

// Ledger (SCORING.md section 12) ----------------------------------------------

typedef enum { BT_PASS, BT_UNDECIDED, BT_NOT_YET } BtOutcome;
// Static both.
BT_API const char *bt_outcome_name(BtOutcome outcome);  // data: "pass", "undecided", "not_yet"
BT_API const char *bt_outcome_words(BtOutcome outcome); // people: "Pass", "Undecided", "Not yet"
BT_API int bt_outcome_from_name(const char *name);      // -1 if it is none, or NULL

typedef enum {
  BT_REASON_CRITICAL_ERROR,
  BT_REASON_CRITICAL_RULE,
  BT_REASON_MEASURE_FAIL,
  BT_REASON_NOT_FINISHED,
  BT_REASON_NOT_ASSESSED,
  BT_REASON_NOTHING_POSSIBLE,
  BT_REASON_CRITICAL_UNSEEN,
  BT_REASON_RULE_UNSEEN,
  BT_REASON_NOTHING_COUNTS,
  BT_REASON_CRITICAL_SHORT,
  BT_REASON_CRITICAL_NOT_VERIFIED,
  BT_REASON_BELOW_PASS,
  BT_REASON_BELOW_FLOOR
} BtReasonCode;
BT_API const char *bt_reason_name(BtReasonCode code); // "critical_error" ...; static

typedef enum {
  BT_IN_SCORE,
  BT_OUT_NOT_TAKEN,
  BT_OUT_NOT_ADDED,
  BT_OUT_DROPPED,
  BT_OUT_UNSEEN
} BtWhyOut;
BT_API const char *bt_why_out_name(BtWhyOut why); // "dropped" ...; NULL for IN_SCORE; static

// Lists of sequence numbers are GArrays of int, in log order; never NULL.
typedef struct {
  BtReasonCode code;
  const char *id; // of the rule, kind, measure, component or checkpoint; NULL. Belongs to the
                  // rubric (or static).
  GArray *events;
} BtReason;

typedef struct {
  int checkpoint; // index
  GArray *bound, *redone, *conforming, *not_verified, *extra;
  gint64 given_mp;
  bool critical_failure;
  BtWhyOut why_out;
} BtStepRow;

typedef struct {
  int checkpoint; // index
  int done, least;
  int late_event; // sequence number; 0: none came
} BtShort;

typedef struct {
  int rule; // index
  bool applies, broken;
  int then_event; // sequence number; 0: none
  GArray *shorts; // of BtShort
  gint64 given_mp;
} BtOrderRow;

typedef struct {
  int event;     // sequence number
  bool too_late; // else too early
} BtDisplaced;

typedef struct {
  int from, to; // sequence numbers
  gint64 ms;
} BtQuiet;

typedef struct {
  int phase; // index; -1: the clock
  gint64 spent_ms, points_mp, given_mp;
} BtTimeRow;

typedef struct {
  int error; // index
  int count;
  gint64 lost_mp;
  GArray *events;
} BtTechniqueRow;

typedef struct {
  int item; // index of the measure or rating
  bool has_value;
  gint64 value_milli; // measure: thousandths; rating: thousandths of the number
  gint64 given_mp;
} BtValueRow;

typedef struct {
  int inject; // index
  int event;  // sequence number
} BtInjectRow;

typedef struct {
  bool assessed;
  gint64 given_mp, possible_mp;
} BtComponentScore;

// Which of SCORING.md's last line of lists an event stands in.
typedef enum {
  BT_LIST_UNPLANNED,
  BT_LIST_EXTRA,
  BT_LIST_OVERTAKEN,
  BT_LIST_IGNORED,
  BT_LIST_AFTER_END,
  BT_LIST_BEFORE_START,
  BT_LIST_WHILE_PAUSED,
  BT_LIST_TAKEN_AS_REDO,
  BT_LIST_REDO_OF_NOTHING,
  BT_LIST_UNSEEN,
  BT_LISTS
} BtList;
BT_API const char *bt_list_name(BtList list); // "unplanned" ...; static

typedef struct BtLedger {
  BtOutcome outcome;
  GArray *reasons; // of BtReason
  // The total as an exact fraction in lowest terms, "num/den"; NULL when nothing counts.
  char *total;
  gint64 total_percent_milli; // the total in percent, cut to thousandths; -1 when nothing counts
  bool finished;
  BtComponentScore component[BT_COMPONENTS];
  GArray *steps;                           // of BtStepRow, one a checkpoint, in rubric order
  GArray *order;                           // of BtOrderRow
  gint64 concordance_num, concordance_den; // in lowest terms; den 0: no pairs
  GArray *displaced;                       // of BtDisplaced
  gint64 total_ms;
  gint64 *charged_ms; // one a phase
  gint64 unassigned_ms;
  GArray *quiet; // of BtQuiet
  GArray *time;  // of BtTimeRow
  gint64 at_stake_mp;
  GArray *technique;        // of BtTechniqueRow, one a kind
  GArray *product, *rating; // of BtValueRow, one a measure / rating
  int *option_taken;        // one a choice
  GArray *injects;          // of BtInjectRow, in log order
  GArray *list[BT_LISTS];
} BtLedger;

// Used by the engine; everything empty. Caller frees.
BT_API BtLedger *bt_ledger_new(const BtRubric *rubric);
BT_API void bt_ledger_free(BtLedger *ledger); // NULL is allowed
G_DEFINE_AUTOPTR_CLEANUP_FUNC(BtLedger, bt_ledger_free)

G_END_DECLS
#endif
