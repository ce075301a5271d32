// SPDX-License-Identifier: GPL-3.0-or-later
//
// The sum of squares of a curve over its rate. Given the rate, start and plateau are those of a
// straight line in exp(-rate t), so the search is along one axis, and the profile of each figure
// comes out of one walk along it: at a rate whose sum of squares is S, the values of a figure with
// at most `most_ss` are within sqrt((most_ss - S) share) of its least-squares value.
#include "measure/curve_parts.h"

#include <math.h>

#define LEAST_BEND  0.001 // rate x time of the last attempt: less is a straight line
#define MOST_BEND   10.0  // rate x time of the second attempt: more is a step
#define OF_LINE     1e-3  // of the least rate looked at: as good as a line
#define HALVINGS    40
#define GOLDEN      0.6180339887498949
#define GOLDEN_CUTS 40
#define ROUNDING    1e-12

BtCurveSlice bt__curve_slice(const BtCurveData *data, double rate) {
  double n = (double)data->n, mean_w = 0, mean_y = 0, ww = 0, wy = 0;
  for (gsize i = 0; i < data->n; i++) {
    data->left[i] = exp(-rate * data->t[i]);
    mean_w += data->left[i] / n;
    mean_y += data->value[i] / n;
  }
  for (gsize i = 0; i < data->n; i++) {
    double w = data->left[i] - mean_w;
    ww += w * w;
    wy += w * (data->value[i] - mean_y);
  }
  double drop = wy / ww; // start less plateau
  BtCurveSlice slice = {.rate = rate,
                        .plateau = mean_y - drop * mean_w,
                        .start = mean_y + drop * (1 - mean_w),
                        .plateau_share = 1 / n + mean_w * mean_w / ww,
                        .start_share = 1 / n + (1 - mean_w) * (1 - mean_w) / ww};
  for (gsize i = 0; i < data->n; i++) {
    double off = data->value[i] - slice.plateau - drop * data->left[i];
    slice.residual_ss += off * off;
  }
  return slice;
}

void bt__curve_times(const BtCurveData *data, double *second, double *last) {
  *second = INFINITY;
  *last = 0;
  for (gsize i = 0; i < data->n; i++) {
    *last = fmax(*last, data->t[i]);
    if (data->t[i] > 0)
      *second = fmin(*second, data->t[i]);
  }
}

BtCurveSearch bt__curve_search(const BtCurveData *data) {
  BtCurveSearch search = {.best = 0};
  double second, last;
  bt__curve_times(data, &second, &last);
  double from = log(LEAST_BEND / last), to = log(MOST_BEND / second);
  for (int i = 0; i < BT__CURVE_SLICES; i++) {
    double rate = exp(from + (to - from) * i / (BT__CURVE_SLICES - 1));
    search.slice[i] = bt__curve_slice(data, rate);
    if (search.slice[i].residual_ss < search.slice[search.best].residual_ss)
      search.best = i;
  }
  return search;
}

// The region ------------------------------------------------------------------

typedef struct {
  const BtCurveData *data;
  double most_ss;
} Bound;

// The rate between `out`, outside of the region, and `in`, at which it begins.
static double edge(const Bound *bound, double out, double in) {
  for (int i = 0; i < HALVINGS; i++) {
    double middle = sqrt(out * in);
    if (bt__curve_slice(bound->data, middle).residual_ss <= bound->most_ss)
      in = middle;
    else
      out = middle;
  }
  return in;
}

// How far a figure reaches at a rate, upwards or downwards (turned over, so that more is further).
typedef double Reach(const BtCurveSlice *slice, double most_ss);

// Nothing outside of the region; its edge is found to rounding.
static double width(const BtCurveSlice *slice, double most_ss, double share) {
  double left = most_ss - slice->residual_ss;
  return left < -ROUNDING * most_ss ? -INFINITY : sqrt(fmax(0, left) * share);
}

static double plateau_up(const BtCurveSlice *slice, double most_ss) {
  return slice->plateau + width(slice, most_ss, slice->plateau_share);
}

static double plateau_down(const BtCurveSlice *slice, double most_ss) {
  return -slice->plateau + width(slice, most_ss, slice->plateau_share);
}

static double start_up(const BtCurveSlice *slice, double most_ss) {
  return slice->start + width(slice, most_ss, slice->start_share);
}

static double start_down(const BtCurveSlice *slice, double most_ss) {
  return -slice->start + width(slice, most_ss, slice->start_share);
}

static double reach_at(const Bound *bound, Reach *reach, double log_rate) {
  BtCurveSlice slice = bt__curve_slice(bound->data, exp(log_rate));
  return reach(&slice, bound->most_ss);
}

// The greatest reach between two rates (golden section).
static double greatest_between(const Bound *bound, Reach *reach, double low, double high) {
  double a = log(low), b = log(high);
  double left = b - GOLDEN * (b - a), right = a + GOLDEN * (b - a);
  double at_left = reach_at(bound, reach, left), at_right = reach_at(bound, reach, right);
  for (int i = 0; i < GOLDEN_CUTS; i++) {
    if (at_left > at_right) {
      b = right;
      right = left;
      at_right = at_left;
      left = b - GOLDEN * (b - a);
      at_left = reach_at(bound, reach, left);
    } else {
      a = left;
      left = right;
      at_left = at_right;
      right = a + GOLDEN * (b - a);
      at_right = reach_at(bound, reach, right);
    }
  }
  return fmax(at_left, at_right);
}

// The greatest over the region: the best of the slices within it, looked at closer.
static double greatest(const Bound *bound, const BtCurveSearch *search, const BtCurveRegion *region,
                       Reach *reach) {
  double low = region->rate_low, high = region->rate_high, before = low;
  double most = -INFINITY, most_low = low, most_high = high;
  bool take_high = false;
  for (int i = 0; i < BT__CURVE_SLICES; i++) {
    const BtCurveSlice *slice = &search->slice[i];
    if (slice->rate <= low || slice->rate >= high || slice->residual_ss > bound->most_ss)
      continue;
    if (take_high)
      most_high = slice->rate;
    take_high = false;
    double reached = reach(slice, bound->most_ss);
    if (reached > most) {
      most = reached;
      most_low = before;
      most_high = high;
      take_high = true;
    }
    before = slice->rate;
  }
  return fmax(most, greatest_between(bound, reach, most_low, most_high));
}

BtCurveRegion bt__curve_region(const BtCurveData *data, const BtCurveSearch *search,
                               double most_ss) {
  const Bound bound = {data, most_ss};
  const BtCurveSlice *slice = search->slice;
  int first = search->best, last = search->best;
  for (int i = 0; i < BT__CURVE_SLICES; i++) {
    if (slice[i].residual_ss <= most_ss) {
      first = MIN(first, i);
      last = MAX(last, i);
    }
  }
  BtCurveRegion region = {.open_low = first == 0, .open_high = last == BT__CURVE_SLICES - 1};
  region.rate_low =
      first == 0 ? slice[0].rate : edge(&bound, slice[first - 1].rate, slice[first].rate);
  region.rate_high = last == BT__CURVE_SLICES - 1
                         ? slice[last].rate
                         : edge(&bound, slice[last + 1].rate, slice[last].rate);
  region.plateau_high = greatest(&bound, search, &region, plateau_up);
  region.plateau_low = -greatest(&bound, search, &region, plateau_down);
  region.start_high = greatest(&bound, search, &region, start_up);
  region.start_low = -greatest(&bound, search, &region, start_down);
  if (region.open_low) { // the start has its limits in the straight line, which no rate is
    double nearly_line = log(slice[0].rate * OF_LINE);
    region.start_high = fmax(region.start_high, reach_at(&bound, start_up, nearly_line));
    region.start_low = fmin(region.start_low, -reach_at(&bound, start_down, nearly_line));
  }
  return region;
}
