// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the parts of the curve command share.
#ifndef BENCHTALLY_CLI_CURVE_H
#define BENCHTALLY_CLI_CURVE_H

#include <benchtally/study_curve.h>
#include <jansson.h>

#include "cli/cli.h"

typedef struct {
  BtCurveTerms terms;
  char **trainees; // NULL or empty: the whole cohort; borrowed
  bool json, wide;
} CurveRequest;

// The curves of one exercise and what they are of. Strings are borrowed.
typedef struct {
  const char *exercise;   // id of the rubric, or the table's name for it; NULL: the table has one
  const char *title;      // "Plating both bones of the forearm"; NULL: of a table
  int edition;            // 0: of a table
  const char *checkpoint; // NULL: not of one
  bool decided;           // it is known which attempts passed
  BtPractices *practices;
} CurveSet;

// Appends one exercise as text, or gives it as JSON (caller decrefs).
void curve_put_text(GString *out, const CurveSet *set, const CurveRequest *request);
json_t *curve_json(const CurveSet *set, const CurveRequest *request);

// Whether a trainee is asked for.
bool curve_asked(const CurveRequest *request, const char *trainee);
// Each trainee asked for must be in some set. False: told, *status set.
bool curve_all_there(const CurveSet *sets, gsize n, const CurveRequest *request, int *status);
// Prints the sets; gives the exit status.
int curve_print(Cli *cli, const CurveSet *sets, gsize n, const CurveRequest *request);

// From a table. Gives the exit status.
int curve_of_table(Cli *cli, const CurveRequest *request, const char *path);

#endif
