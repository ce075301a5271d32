// SPDX-License-Identifier: GPL-3.0-or-later
//
// Rank correlation.
#include <benchtally/association.h>

#include <stdlib.h>
#include <string.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include "measure/agreement_parts.h"

#define EXACT_TAU_MOST 50 // subjects; the recurrence is of their fourth power
#define EXACT_RHO_MOST 9  // subjects: 362,880 arrangements
#define TAIL           ((1 - BT_LEVEL) / 2)
#define TOO_FEW        "fewer than two subjects have both values"
#define ONE_VALUE      "one of the two is the same for all"

typedef struct {
  double x, y;
} Point;

static int by_x_then_y(const void *a, const void *b) {
  const Point *p = a, *q = b;
  return p->x != q->x ? (p->x > q->x) - (p->x < q->x) : (p->y > q->y) - (p->y < q->y);
}

// The subjects with both values; caller frees.
static Point *points_of(const double *x, const double *y, gsize n, gsize *used) {
  Point *point = g_new(Point, n + 1);
  *used = 0;
  for (gsize i = 0; i < n; i++) {
    if (!bt_is_missing(x[i]) && !bt_is_missing(y[i]))
      point[(*used)++] = (Point){x[i], y[i]};
  }
  return point;
}

// Sums over groups of t equal neighbours, for variances under ties (Kendall 1970, chapter 4).
typedef struct {
  gint64 pairs;        // t (t - 1) / 2
  double twos, threes; // t (t - 1), t (t - 1) (t - 2)
  double fives;        // t (t - 1) (2 t + 5)
} Ties;

static void add_group(Ties *ties, gsize size) {
  double t = (double)size;
  ties->pairs += (gint64)(size * (size - 1) / 2);
  ties->twos += t * (t - 1);
  ties->threes += t * (t - 1) * (t - 2);
  ties->fives += t * (t - 1) * (2 * t + 5);
}

// Groups of neighbours that `compare` as equal.
static Ties ties_of(const Point *point, gsize n, bool (*same)(const Point *, const Point *)) {
  Ties ties = {0};
  gsize size = 1;
  for (gsize i = 1; i <= n; i++) {
    if (i < n && same(&point[i - 1], &point[i])) {
      size++;
    } else {
      add_group(&ties, size);
      size = 1;
    }
  }
  return ties;
}

static bool same_x(const Point *a, const Point *b) {
  return a->x == b->x;
}

static bool same_y(const Point *a, const Point *b) {
  return a->y == b->y;
}

static bool same_both(const Point *a, const Point *b) {
  return a->x == b->x && a->y == b->y;
}

// Sorts by y and returns how many pairs stood the other way round; `spare` is as long.
static gint64 sort_counting(Point *point, gsize n, Point *spare) {
  if (n < 2)
    return 0;
  gsize half = n / 2, a = 0, b = half, to = 0;
  gint64 inversions =
      sort_counting(point, half, spare) + sort_counting(point + half, n - half, spare);
  while (a < half && b < n) {
    if (point[b].y < point[a].y) {
      inversions += (gint64)(half - a);
      spare[to++] = point[b++];
    } else {
      spare[to++] = point[a++];
    }
  }
  memcpy(spare + to, point + a, (half - a) * sizeof *point);
  memcpy(point, spare, (to + half - a) * sizeof *point);
  return inversions;
}

typedef struct {
  BtPairs pairs;
  Ties x, y;
} Counted;

// `point` comes back sorted by y.
static Counted count_pairs(Point *point, gsize n) {
  Counted counted = {.pairs.n = n};
  if (n == 0)
    return counted;
  g_autofree Point *spare = g_new(Point, n);
  qsort(point, n, sizeof *point, by_x_then_y);
  counted.x = ties_of(point, n, same_x);
  Ties both = ties_of(point, n, same_both);
  gint64 inversions = sort_counting(point, n, spare);
  counted.y = ties_of(point, n, same_y);
  gint64 all = (gint64)n * ((gint64)n - 1) / 2;
  BtPairs *pairs = &counted.pairs;
  pairs->tied_x = counted.x.pairs;
  pairs->tied_y = counted.y.pairs;
  pairs->tied = both.pairs;
  pairs->discordant = inversions;
  pairs->concordant = all - pairs->tied_x - pairs->tied_y + pairs->tied - inversions;
  return counted;
}

BtPairs bt_pairs(const double *x, const double *y, gsize n) {
  gsize used = 0;
  g_autofree Point *point = points_of(x, y, n, &used);
  return count_pairs(point, used).pairs;
}

BtEstimate bt_gamma(const BtPairs *pairs) {
  double c = (double)pairs->concordant, d = (double)pairs->discordant;
  return bt_estimate((c - d) / (c + d), pairs->n, ONE_VALUE);
}

BtEstimate bt_somers_d(const BtPairs *pairs) {
  double n = (double)pairs->n, differ = n * (n - 1) / 2 - (double)pairs->tied_x;
  return bt_estimate((double)(pairs->concordant - pairs->discordant) / differ, pairs->n, ONE_VALUE);
}

// Limits of a correlation by Fisher's transformation with this standard error on its scale; at the
// ends, where there are none, the figure is bare.
static BtEstimate fisher_limits(double value, double se, gsize n, const char *why_not) {
  if (fabs(value) > 1 - 1e-12) // but for rounding
    return bt_estimate(value > 0 ? 1 : -1, n, why_not);
  double half = qnorm(TAIL, 0, 1, FALSE, FALSE) * se, middle = atanh(value);
  return bt_estimate_limits(value, tanh(middle - half), tanh(middle + half), n, why_not);
}

// Kendall ---------------------------------------------------------------------

// The chance that `n` values in random order have at most `inversions` (at most half of what there
// can be), from the shares of arrangements with each number of inversions (Kendall 1938).
static double chance_of_at_most(gint64 inversions, gsize n) {
  gsize top = n * (n - 1) / 2;
  g_autofree double *share = g_new0(double, top + 1), *before = g_new0(double, top + 1);
  share[0] = 1;
  for (gsize k = 2; k <= n; k++) {
    memcpy(before, share, (top + 1) * sizeof *share);
    double window = 0;
    for (gsize i = 0; i <= k * (k - 1) / 2; i++) {
      window += before[i] - (i >= k ? before[i - k] : 0);
      share[i] = window / (double)k;
    }
  }
  double sum = 0;
  for (gint64 i = 0; i <= inversions; i++)
    sum += share[i];
  return sum;
}

static double exact_tau_chance(const BtPairs *pairs) {
  gint64 fewer = MIN(pairs->concordant, pairs->discordant);
  return MIN(1, 2 * chance_of_at_most(fewer, pairs->n));
}

static double normal_tau_chance(const Counted *counted) {
  double n = (double)counted->pairs.n;
  const Ties *x = &counted->x, *y = &counted->y;
  double variance = (n * (n - 1) * (2 * n + 5) - x->fives - y->fives) / 18 +
                    x->twos * y->twos / (2 * n * (n - 1));
  if (n > 2)
    variance += x->threes * y->threes / (9 * n * (n - 1) * (n - 2));
  double s = (double)(counted->pairs.concordant - counted->pairs.discordant);
  return variance > 0 ? 2 * pnorm(-fabs(s) / sqrt(variance), 0, 1, TRUE, FALSE) : 1;
}

BtAssociation bt_kendall_tau(const double *x, const double *y, gsize n) {
  gsize used = 0;
  g_autofree Point *point = points_of(x, y, n, &used);
  if (used < 2)
    return (BtAssociation){bt_not_estimable(TOO_FEW, used), 1, false};
  Counted counted = count_pairs(point, used);
  const BtPairs *pairs = &counted.pairs;
  double all = (double)used * ((double)used - 1) / 2;
  double root = sqrt((all - (double)pairs->tied_x) * (all - (double)pairs->tied_y));
  double tau = (double)(pairs->concordant - pairs->discordant) / root;
  BtAssociation result = {.estimate =
                              fisher_limits(tau, sqrt(0.437 / ((double)used - 4)), used, ONE_VALUE),
                          .by_chance = 1};
  if (result.estimate.why_not)
    return result;
  result.exact = pairs->tied_x == 0 && pairs->tied_y == 0 && used <= EXACT_TAU_MOST;
  result.by_chance = result.exact ? exact_tau_chance(pairs) : normal_tau_chance(&counted);
  return result;
}

// Spearman --------------------------------------------------------------------

double bt_ranks(const double *value, gsize n, double *rank) {
  BtRatings column = {n, 1, value};
  g_auto(BtLevels) levels = bt__levels(&column);
  g_autofree double *middle = g_new0(double, levels.n + 1); // first how many, then their rank
  double below = 0, ties = 0;
  for (gsize i = 0; i < n; i++)
    middle[levels.place[i]]++;
  for (gsize level = 0; level < levels.n; level++) {
    double t = middle[level];
    middle[level] = below + (t + 1) / 2;
    below += t;
    ties += t * t * t - t;
  }
  for (gsize i = 0; i < n; i++)
    rank[i] = middle[levels.place[i]];
  return ties;
}

static double correlation(const double *a, const double *b, gsize n) {
  double middle = ((double)n + 1) / 2, aa = 0, bb = 0, ab = 0; // ranks have a known mean
  for (gsize i = 0; i < n; i++) {
    aa += (a[i] - middle) * (a[i] - middle);
    bb += (b[i] - middle) * (b[i] - middle);
    ab += (a[i] - middle) * (b[i] - middle);
  }
  return ab / sqrt(aa * bb);
}

static int squares_from(const int *order, int n) {
  int sum = 0;
  for (int i = 0; i < n; i++)
    sum += (order[i] - i) * (order[i] - i);
  return sum;
}

// The share of arrangements of `n` ranks whose squared differences lie as far from their middle,
// each arrangement made from the one before by one exchange (Heap 1963).
static double exact_rho_chance(int squares, int n) {
  int order[EXACT_RHO_MOST], at[EXACT_RHO_MOST] = {0}, middle = n * (n * n - 1) / 6;
  gint64 all = 1, as_far = 0;
  for (int i = 0; i < n; i++)
    order[i] = i;
  as_far += abs(squares_from(order, n) - middle) >= abs(squares - middle);
  for (int i = 1; i < n;) {
    if (at[i] == i) {
      at[i++] = 0;
      continue;
    }
    int with = i % 2 ? at[i] : 0, kept = order[i];
    order[i] = order[with];
    order[with] = kept;
    as_far += abs(squares_from(order, n) - middle) >= abs(squares - middle);
    all++;
    at[i]++;
    i = 1;
  }
  return (double)as_far / (double)all;
}

static double student_chance(double rho, gsize n) {
  double df = (double)n - 2;
  if (df <= 0)
    return 1;
  return fabs(rho) >= 1 ? 0 : 2 * pt(-fabs(rho) * sqrt(df / (1 - rho * rho)), df, TRUE, FALSE);
}

BtAssociation bt_spearman_rho(const double *x, const double *y, gsize n) {
  gsize used = 0;
  g_autofree Point *point = points_of(x, y, n, &used);
  if (used < 2)
    return (BtAssociation){bt_not_estimable(TOO_FEW, used), 1, false};
  g_autofree double *a = g_new(double, used), *b = g_new(double, used),
                    *value = g_new(double, used);
  for (gsize i = 0; i < used; i++)
    value[i] = point[i].x;
  double ties = bt_ranks(value, used, a);
  for (gsize i = 0; i < used; i++)
    value[i] = point[i].y;
  ties += bt_ranks(value, used, b);
  double rho = correlation(a, b, used);
  double se = sqrt((1 + rho * rho / 2) / ((double)used - 3));
  BtAssociation result = {.estimate = fisher_limits(rho, se, used, ONE_VALUE), .by_chance = 1};
  if (result.estimate.why_not)
    return result;
  result.exact = !(ties > 0) && used <= EXACT_RHO_MOST;
  double squares = 0;
  for (gsize i = 0; i < used; i++)
    squares += (a[i] - b[i]) * (a[i] - b[i]);
  result.by_chance =
      result.exact ? exact_rho_chance((int)lround(squares), (int)used) : student_chance(rho, used);
  return result;
}
