// SPDX-License-Identifier: GPL-3.0-or-later
//
// From the located tree to a BtRubric: the state of one reading, tables of keys, names, and readers
// of single values. A reader says what is wrong at its place and goes on, so that one run finds all
// faults; what could not be read is left in a state (index -1, empty id) that later steps pass
// over.
#ifndef BENCHTALLY_RUBRIC_READER_H
#define BENCHTALLY_RUBRIC_READER_H

#include "rubric/yaml_tree.h"

// Kinds of things with names --------------------------------------------------

typedef enum {
  BT_NAME_SITE,
  BT_NAME_ACTION,
  BT_NAME_PHASE,
  BT_NAME_CHECKPOINT,
  BT_NAME_RULE,
  BT_NAME_ERROR,
  BT_NAME_MEASURE,
  BT_NAME_RATING,
  BT_NAME_CHOICE,
  BT_NAME_INJECT,
  BT_NAME_COMPETENCY,
  BT_NAME_KINDS
} BtNameKind;

#define BT_NAMES(kind) (1u << (kind))

typedef struct {
  BtReport report;
  BtRubric *rubric;
  const BtNode *root;
  GPtrArray *at[BT_NAME_KINDS];    // the node of each thing, by the thing's index
  GPtrArray *names[BT_NAME_KINDS]; // its id, "" when it has none
  bool lost[BT_NAME_KINDS];        // some name of this kind could not be read
  GHashTable *unsure;              // matches with a fault, not to be compared with others
  GHashTable *shared_ids;          // ids of the one name-space: what has them already
} BtReader;

// The node of the thing with this index.
const BtNode *bt__at(const BtReader *reader, BtNameKind kind, int index);
// The place of the value of `key` in `map`, or of `map` itself when it has no such key.
BtPlace bt__place_of(const BtNode *map, const char *key);

// The place of item `index` of a list; of the value itself when it is no list. Where items were
// left out there is a fault already, and the place may be that of a neighbour.
BtPlace bt__item_place(const BtNode *value, int index);

// Declares the thing whose id is `id` (NULL: it has none); `thing` is its node. Its index is the
// count of those before it. Returns the id, owned by the rubric.
char *bt__declare(BtReader *reader, BtNameKind kind, const BtNode *id, const BtNode *thing);
// The index of the thing that `node` names, of one of `kinds` (BT_NAMES(...) | ...); *kind (may be
// NULL) is its kind. -1 when it names none, which is reported unless a name that could not be read
// may be the cause.
int bt__find(BtReader *reader, const BtNode *node, unsigned kinds, BtNameKind *kind);
// The same for each item of a list of at least one, none twice: indices, owned by the rubric. What
// was not found is left out.
void bt__find_all(BtReader *reader, const BtNode *list, BtNameKind kind, int **indices, int *n);
// "a checkpoint", "a base rule" ...
const char *bt__kind_name(BtNameKind kind);

// Tables of keys --------------------------------------------------------------

// Reads `value` into `field`, whose type the reader's comment states.
typedef void (*BtRead)(BtReader *reader, const BtNode *value, void *field);

typedef struct {
  const char *name;
  const char *needed; // NULL: may be left out; else what is expected when it is
  BtRead read;        // NULL: read elsewhere
  gsize offset;       // of the field in the struct
} BtKey;

// Reads the mapping `node` into `thing` by a table, in the order of the table. `what` names it in
// messages ("a checkpoint"). False when it is no mapping.
bool bt__read_map(BtReader *reader, const BtNode *node, const char *what, const BtKey *keys,
                  gsize n_keys, void *thing);

// True when a key that `node` has, but the table has not, was probably meant for `name`: then that
// is the one fault to report.
bool bt__misspelt(const BtNode *node, const char *name, const BtKey *keys, gsize n_keys);

typedef struct {
  BtNameKind kind;
  const BtKey *keys;
  gsize n_keys;
  gsize size;        // of a thing, which begins with its id
  const void *blank; // what it is before anything was read
} BtThings;

// How many things there will be for `node`: the length of the list, 0 when it is none.
int bt__length(const BtNode *node);
// Reads a list of things into the array `things`, from index `begin` on; it has room for
// bt__length(node) of them there.
void bt__read_list(BtReader *reader, const BtNode *node, const BtThings *how, void *things,
                   int begin);
// The same into a new block of the rubric.
void *bt__read_new_list(BtReader *reader, const BtNode *node, const BtThings *how, int *n);

// Single values ---------------------------------------------------------------

// True when `node` is of this kind and no empty text; else says so, and what was `expected`.
bool bt__is(BtReader *reader, const BtNode *node, BtNodeKind kind, const char *expected);
// Says that the text `node` is not what it must be: `"six" is no number of points`.
void bt__refuse(BtReader *reader, const BtNode *node, const char *no_what, const char *expected);
// The name of the value in messages: its key in quotes, or of what it is an item. Caller frees.
char *bt__name_of(const BtNode *node);
// True when `text` is an id: lower-case words joined by '-', 1..64.
bool bt__id_valid(const char *text);
// The index of the word that `node` is, or -1, which is reported. *said (may be NULL) tells if it
// was read.
int bt__choose(BtReader *reader, const BtNode *node, const char *const *words, gsize n);
// A whole number in lo..hi (at most 1,000,000).
bool bt__whole(BtReader *reader, const BtNode *node, int lo, int hi, int *value);
// A plain number of at most three decimals in lo..hi; `no_what` names it.
bool bt__decimal(BtReader *reader, const BtNode *node, gint64 lo_milli, gint64 hi_milli,
                 const char *no_what, gint64 *milli);

void bt__read_text(BtReader *reader, const BtNode *value, void *field);     // char *
void bt__read_texts(BtReader *reader, const BtNode *value, void *field);    // char **, at least one
void bt__read_points(BtReader *reader, const BtNode *value, void *field);   // gint64, thousandths
void bt__read_percent(BtReader *reader, const BtNode *value, void *field);  // gint64, thousandths
void bt__read_duration(BtReader *reader, const BtNode *value, void *field); // gint64, ms, above 0
void bt__read_flag(BtReader *reader, const BtNode *value, void *field);     // bool
void bt__read_shortcut(BtReader *reader, const BtNode *value, void *field); // gunichar
void bt__read_unit(BtReader *reader, const BtNode *value, void *field);     // char *

// One value or range with `unit` (NULL: whole numbers, without one).
bool bt__read_range(BtReader *reader, const BtNode *node, const char *unit, BtRange *range);
// One value with its unit, in thousandths.
bool bt__read_measured(BtReader *reader, const BtNode *node, const char *unit, gint64 *milli);
// What a match or an expectation allows a detail: one value or a list of them. False when nothing
// could be read.
bool bt__read_allowed(BtReader *reader, const BtNode *node, const BtDetail *detail,
                      BtAllowed *allowed);

// The n `things`, each of which begins with its id, may not share a shortcut, which each has at
// `key_offset` (0: none). `what` names one in messages ("action").
void bt__check_shortcuts(BtReader *reader, BtNameKind kind, const char *what, const void *things,
                         int n, gsize size, gsize key_offset);

// Sections --------------------------------------------------------------------

void bt__read_sites(BtReader *reader, const BtNode *node);
void bt__read_actions(BtReader *reader, const BtNode *node);
void bt__read_errors(BtReader *reader, const BtNode *node);
void bt__read_phases(BtReader *reader, const BtNode *node);
void bt__read_rules(BtReader *reader, const BtNode *base, const BtNode *injects);
void bt__read_choices(BtReader *reader, const BtNode *node);
void bt__read_injects(BtReader *reader, const BtNode *node);
void bt__read_measures(BtReader *reader, const BtNode *node);
void bt__read_ratings(BtReader *reader, const BtNode *node);
void bt__read_competencies(BtReader *reader, const BtNode *node);
void bt__read_match(BtReader *reader, const BtNode *value, void *field);       // BtMatch
void bt__read_clock(BtReader *reader, const BtNode *value, void *field);       // BtClock
void bt__read_score_rules(BtReader *reader, const BtNode *value, void *field); // BtScoreRules

// A phase's or the clock's times belong together: says so when they do not. `map` is its mapping.
void bt__check_times(BtReader *reader, const BtNode *map, gint64 target_ms, gint64 limit_ms,
                     gint64 points_mp);

// What must hold between sections ---------------------------------------------

void bt__check(BtReader *reader);
void bt__check_choices(BtReader *reader);
void bt__check_injects(BtReader *reader);
void bt__check_matches(BtReader *reader);
void bt__check_cycles(BtReader *reader);
void bt__check_score(BtReader *reader);
void bt__check_meant(BtReader *reader);

#endif
