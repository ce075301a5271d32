// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the parts of the reliability command share.
#ifndef BENCHTALLY_CLI_RELIABILITY_H
#define BENCHTALLY_CLI_RELIABILITY_H

#include <benchtally/study_reliability.h>

#include "cli/cli.h"

typedef struct {
  bool json, has_cut;
  BtComponentMethod method;
  double target;        // of reliability, within 0..1
  double cut;           // when has_cut
  double least, most;   // of the scale
  char **fixed, **same; // names of such facets (BtPlan); NULL: none
} ReliabilityRequest;

// A study with the numbers of conditions that plans are made of.
typedef struct {
  const BtGStudy *gstudy;
  BtPlan observed; // as the scores are, or one of each
  int across;      // the facet that plans vary first; -1: there is none to vary
  int down;        // the second; -1: none
  double target;
} Planning;

// Plans of a study that go out from this one.
Planning reliability_planning(const BtGStudy *gstudy, const BtPlan *observed, double target);

// On a table of scores; gives the exit status.
int reliability_of_table(Cli *cli, const ReliabilityRequest *request, const char *path,
                         const char *design);

// Text ------------------------------------------------------------------------

// "2 assessors", "1 session", "3 r". Caller frees.
char *reliability_count_words(double count, const char *facet);
// "12 items and 2 occasions (fixed)": the facets beside the object. Caller frees.
char *reliability_conditions_words(const BtGStudy *gstudy, const BtPlan *plan);

void reliability_put_components(GString *out, const BtGStudy *gstudy);
void reliability_put_coefficients(GString *out, const char *title, const BtDStudy *reached);
// The answer to "how many for the target?": a sentence, then the table it comes from.
void reliability_put_answer(GString *out, const Planning *planning);
void reliability_put_plans(GString *out, const Planning *planning);
// `names` holds one an item.
void reliability_put_items(GString *out, const BtItems *items, const char *const *names);
void reliability_put_decision(GString *out, const BtDecision *beta, const BtDecision *normal);

void reliability_put_assessors(GString *out, const BtStudyReliability *found);

// JSON, which the caller decrefs ----------------------------------------------

json_t *reliability_json_components(const BtGStudy *gstudy);
json_t *reliability_json_coefficients(const BtDStudy *reached);
json_t *reliability_json_plans(const Planning *planning);
json_t *reliability_json_reach(const Planning *planning);
json_t *reliability_json_items(const BtItems *items, const char *const *names);
json_t *reliability_json_decision(const BtDecision *decision, const char *form);
json_t *reliability_json_assessors(const BtStudyReliability *found);

#endif
