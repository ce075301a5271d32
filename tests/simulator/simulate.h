// SPDX-License-Identifier: GPL-3.0-or-later
//
// A developer's tool: it makes up a residency. Trainees have known learning curves, assessors known
// severities; what the program later estimates can be held against them. Every number here is
// invented; nothing is fitted to real people.
#ifndef BENCHTALLY_SIMULATE_H
#define BENCHTALLY_SIMULATE_H

#include <benchtally/log.h>
#include <benchtally/model.h>

// Random numbers: SplitMix64 (Steele, Lea, Flood 2014), so that a seed gives the same residency
// everywhere.
typedef struct {
  guint64 state;
} Random;
guint64 random_next(Random *random);
// Uniform in [0, 1).
double random_unit(Random *random);
// True with probability `p`.
bool random_chance(Random *random, double p);
// Whole number in 0 .. n-1.
int random_below(Random *random, int n);
// Normal with mean 0 and standard deviation 1 (Box and Muller 1958).
double random_normal(Random *random);
// A generator of its own for (this seed, a, b, c): one thing made up does not shift the others.
Random random_branch(guint64 seed, guint64 a, guint64 b, guint64 c);

// Mastery of one trainee at one exercise, 0 .. 1, by attempt: plateau - (plateau - start) *
// exp(-rate * (attempt - 1)).
typedef struct {
  double start, plateau, rate;
} Curve;
double curve_at(const Curve *curve, int attempt);

typedef struct {
  const char *code, *name;
  double severity;  // in steps of a rating scale: above 0 rates lower (a hawk)
  double attention; // share of events that are seen
} Assessor;

// Something that truly happened; what an assessor logs of it may differ.
typedef struct {
  gint64 at_ms;
  BtEventKind kind;
  int action, site, item;
  bool redo;
  char *details[8]; // by detail of the action; NULL: none
  double value;     // MEASURE: the true value; RATE: the true mastery
} Deed;

// All that happens in one attempt, in order of time. Free with performance_free.
GArray *performance_new(const BtRubric *rubric, double mastery, Random *random);
void performance_free(GArray *deeds);

// Appends the rows that one assessor logs of it to `csv`; `details` are the detail columns of the
// file.
void observe(const BtRubric *rubric, const GArray *deeds, const Assessor *assessor,
             const BtHeader *header, const GPtrArray *details, Random *random, GString *csv);

#endif
