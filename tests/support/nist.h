// SPDX-License-Identifier: GPL-3.0-or-later
//
// Digits attained against values certified by NIST (Statistical Reference Datasets): the base-10
// logarithm of the relative error, its sign turned (LRE; McCullough 1998, Am Stat 52:358-366), 15
// at most; of the error itself where the certified value is 0.
#ifndef BENCHTALLY_TESTS_NIST_H
#define BENCHTALLY_TESTS_NIST_H

#include "support/published.h"

#define NIST_MOST 15.0

static inline double nist_digits(double value, double certified) {
  double error = fabs(value - certified);
  if (certified != 0)
    error /= fabs(certified);
  if (!(error > 0))
    return isnan(error) ? 0 : NIST_MOST;
  return CLAMP(-log10(error), 0, NIST_MOST);
}

// The digits of one certified value; *least becomes the fewest so far.
static inline void nist_look(json_t *example, const char *name, double value, double *least) {
  double certified = published_value(example, "expected", name);
  if (isnan(certified))
    certified = published_value(example, "recomputed", name);
  if (isnan(certified))
    fail_msg("no certified value \"%s\"", name);
  *least = fmin(*least, nist_digits(value, certified));
}

// Tells the digits attained and asks for what is needed of them.
static inline void nist_ask(json_t *example, const char *what, double attained, double needed) {
  const char *id = json_string_value(json_object_get(example, "id"));
  print_message("%-16s %-24s %4.1f digits (asked for: %.1f)\n", id, what, attained, needed);
  if (!(attained >= needed))
    fail_msg("%s: %s: only %.1f digits of %.1f", id, what, attained, needed);
}

#endif
