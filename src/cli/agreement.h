// SPDX-License-Identifier: GPL-3.0-or-later
//
// What the parts of the agreement command share.
#ifndef BENCHTALLY_CLI_AGREEMENT_H
#define BENCHTALLY_CLI_AGREEMENT_H

#include <benchtally/study_agreement.h>

#include "cli/cli.h"

typedef struct {
  bool json, wide, with_own;
  BtScale scale;     // of the ratings of a table
  BtWeights weights; // of kappa; NONE: it is not weighted
  gint64 tolerance_ms;
  guint draws; // of the interval of alpha
  guint32 seed;
  const char *rubric; // NULL: the only one
  int edition;        // 0: the latest
} AgreementRequest;

// Each gives the exit status.
int agreement_of_table(Cli *cli, const AgreementRequest *request, const char *path);
int agreement_of_book(Cli *cli, const AgreementRequest *request);
int agreement_of_session(Cli *cli, const AgreementRequest *request, const char *session);

// Text ------------------------------------------------------------------------

// "91.2": a share in percent, cut to one decimal. Caller frees.
char *agreement_percent(double share);
// "Two assessors agreed on 91.2 % of `what` (95 % limits ...); kappa 0.78 (...)." `who`:
// "assessors". Not estimable: says why.
void agreement_put_sentence(GString *out, const BtAgreement *agreement, const char *who,
                            const char *what);

// A table of items, those with least agreement first; `prevalent` heads the share of the category
// ("done %"); "": it is not shown.
typedef struct {
  const char *name;
  BtAgreement agreement;
} AgreementItem;
void agreement_put_items(GString *out, const char *head, const char *prevalent, GArray *items,
                         bool wide);

// The intraclass correlations; those of the same raters only where there were the same.
void agreement_put_icc(GString *out, const BtIcc *icc, bool same_raters);

// Raters by two with their differences: `cell` is raters of `names` by subjects.
void agreement_put_differences(GString *out, const BtRatings *ratings, const char *const *names,
                               int decimals, bool wide);

// JSON, which the caller decrefs ----------------------------------------------

// The figures of an item, with its name as `id` (NULL: none).
json_t *agreement_json(const char *id, const BtAgreement *agreement);
json_t *agreement_json_icc(const BtIcc *icc, bool same_raters);
json_t *agreement_json_differences(const BtRatings *ratings, const char *const *names);
json_t *agreement_json_limits(const BtBlandAltman *limits);

#endif
