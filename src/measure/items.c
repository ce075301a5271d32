// SPDX-License-Identifier: GPL-3.0-or-later
//
// Item statistics. Everything comes from the sums of each person and of each item, so that leaving
// one item out costs one pass over the persons.
#include <benchtally/reliability.h>

#define MATHLIB_STANDALONE 1
#include <Rmath.h>
#include <benchtally/proportion.h>

#define FEW_PERSONS  "fewer than two persons have values"
#define FEW_ITEMS    "fewer than two items have values"
#define NO_SPREAD    "all persons have the same total"
#define NO_VALUE     "nobody has a value for it"
#define SAME_FOR_ALL "everyone has the same value on it"
#define SAME_OTHERS  "everyone has the same values on the other items"
#define FEW_PAIRS    "fewer than three persons have a value for it and for another item"
#define NOT_BINARY   "not all values are 0 or 1"
#define FEW_COMPLETE "fewer than two persons have a value for every item"
#define NO_ITEM_OUT  ((gsize)-1)

typedef struct {
  gsize n;
  double sum, squares; // about the mean of the whole table
} Margin;

typedef struct {
  const BtRatings *table;
  double mean;
  Margin *person, *item;
  bool binary;
} Margins;

static double cell(const Margins *margins, gsize person, gsize item) {
  return margins->table->cell[person * margins->table->raters + item];
}

static double mean_of(const BtRatings *table, bool *binary) {
  double sum = 0;
  gsize n = 0;
  *binary = true;
  for (gsize i = 0; i < table->subjects * table->raters; i++) {
    if (bt_is_missing(table->cell[i]))
      continue;
    sum += table->cell[i];
    n++;
    *binary &= table->cell[i] == 0 || table->cell[i] == 1;
  }
  return n ? sum / (double)n : 0;
}

static void add(Margin *margin, double value) {
  margin->n++;
  margin->sum += value;
  margin->squares += value * value;
}

static Margins margins_of(const BtRatings *table) {
  Margins margins = {.table = table,
                     .person = g_new0(Margin, table->subjects),
                     .item = g_new0(Margin, table->raters)};
  margins.mean = mean_of(table, &margins.binary);
  for (gsize p = 0; p < table->subjects; p++) {
    for (gsize i = 0; i < table->raters; i++) {
      double value = cell(&margins, p, i);
      if (bt_is_missing(value))
        continue;
      add(&margins.person[p], value - margins.mean);
      add(&margins.item[i], value - margins.mean);
    }
  }
  return margins;
}

// Alpha -----------------------------------------------------------------------

// What the study of persons by items rests on, one item perhaps left out.
typedef struct {
  double persons, items, n;
  double of_persons, of_items, of_all, of_mean; // uncorrected sums of squares
  double person_sizes, item_sizes;              // sum of n^2 over n
  double items_each;                            // harmonic mean
} TwoWay;

static void add_persons(TwoWay *way, const Margins *margins, gsize out) {
  double inverse = 0;
  for (gsize p = 0; p < margins->table->subjects; p++) {
    Margin person = margins->person[p];
    double value = out == NO_ITEM_OUT ? BT_MISSING : cell(margins, p, out);
    if (!bt_is_missing(value)) {
      person.n--;
      person.sum -= value - margins->mean;
    }
    if (person.n == 0)
      continue;
    way->persons++;
    way->of_persons += person.sum * person.sum / (double)person.n;
    way->person_sizes += (double)person.n * (double)person.n;
    inverse += 1 / (double)person.n;
  }
  way->items_each = way->persons / inverse;
}

static TwoWay two_way(const Margins *margins, gsize out) {
  TwoWay way = {0};
  double sum = 0;
  for (gsize i = 0; i < margins->table->raters; i++) {
    const Margin *item = &margins->item[i];
    if (i == out || item->n == 0)
      continue;
    way.items++;
    way.n += (double)item->n;
    way.of_items += item->sum * item->sum / (double)item->n;
    way.of_all += item->squares;
    way.item_sizes += (double)item->n * (double)item->n;
    sum += item->sum;
  }
  add_persons(&way, margins, out);
  way.of_mean = sum * sum / way.n;
  way.person_sizes /= way.n;
  way.item_sizes /= way.n;
  return way;
}

// Limits of Feldt (1965): (1 - alpha) / (1 - estimate) follows F. Exact for complete normal scores,
// near enough with few holes.
static BtEstimate with_limits(double alpha, double persons, double items, double error_df) {
  double df = persons - 1, tail = (1 - BT_LEVEL) / 2;
  double low = 1 - (1 - alpha) * qf(tail, df, error_df, FALSE, FALSE);
  double high = 1 - (1 - alpha) * qf(tail, df, error_df, TRUE, FALSE);
  return items < 2 ? bt_not_estimable(FEW_ITEMS, (gsize)persons)
                   : bt_estimate_limits(alpha, low, high, (gsize)persons, NO_SPREAD);
}

// The components by Henderson's method 1, whose three equations have a plain solution (Brennan
// 2001, section 7.1.1), and alpha from them; below zero when that is what they say.
static BtEstimate alpha_of(const Margins *margins, gsize out) {
  TwoWay way = two_way(margins, out);
  if (way.persons < 2)
    return bt_not_estimable(FEW_PERSONS, (gsize)way.persons);
  if (way.items < 2 || way.n <= way.persons)
    return bt_not_estimable(FEW_ITEMS, (gsize)way.persons);
  double a = way.n - way.person_sizes, b = way.n - way.item_sizes;
  double item_and_error = (way.of_all - way.of_persons) / (way.n - way.persons);
  double person_and_error = (way.of_all - way.of_items) / (way.n - way.items);
  double error = (a * person_and_error + b * item_and_error - (way.of_all - way.of_mean)) /
                 (way.n + 1 - way.person_sizes - way.item_sizes);
  double person = person_and_error - error;
  double observed = person + error / way.items_each;
  // Less than rounding leaves of values this size is no spread.
  if (!(observed > way.of_all / way.n * 1e-12))
    return bt_not_estimable(NO_SPREAD, (gsize)way.persons);
  return with_limits(person / observed, way.persons, way.items,
                     way.n - way.persons - way.items + 1);
}

BtEstimate bt_alpha_of_variances(gsize items, double item_variances, double total_variance,
                                 gsize persons) {
  if (items < 2)
    return bt_not_estimable(FEW_ITEMS, persons);
  if (!(total_variance > 0))
    return bt_not_estimable(NO_SPREAD, persons);
  double k = (double)items, n = (double)persons;
  double alpha = k / (k - 1) * (1 - item_variances / total_variance);
  return persons < 2 ? bt_estimate(alpha, persons, NO_SPREAD)
                     : with_limits(alpha, n, k, (n - 1) * (k - 1));
}

// Kuder and Richardson (1937), formula 21.
static BtEstimate kr21_of(const Margins *margins, gsize complete) {
  double k = (double)margins->table->raters, n = (double)complete, sum = 0, squares = 0;
  if (!margins->binary)
    return bt_not_estimable(NOT_BINARY, complete);
  if (complete < 2)
    return bt_not_estimable(FEW_COMPLETE, complete);
  for (gsize p = 0; p < margins->table->subjects; p++) {
    if (margins->person[p].n == margins->table->raters)
      sum += margins->person[p].sum;
  }
  for (gsize p = 0; p < margins->table->subjects; p++) {
    double away = margins->person[p].sum - sum / n;
    if (margins->person[p].n == margins->table->raters)
      squares += away * away;
  }
  double mean = sum / n + k * margins->mean, variance = squares / (n - 1);
  if (k < 2 || !(squares > 0))
    return bt_not_estimable(k < 2 ? FEW_ITEMS : NO_SPREAD, complete);
  return bt_estimate(k / (k - 1) * (1 - mean * (k - mean) / (k * variance)), complete, NO_SPREAD);
}

// Each item -------------------------------------------------------------------

static BtEstimate difficulty_of(const Margins *margins, gsize i) {
  const Margin *item = &margins->item[i];
  double n = (double)item->n;
  if (item->n == 0)
    return bt_not_estimable(NO_VALUE, 0);
  double mean = margins->mean + item->sum / n;
  if (margins->binary)
    return bt_proportion_wilson((gsize)(mean * n + 0.5), item->n);
  double variance = (item->squares - item->sum * item->sum / n) / (n - 1);
  return variance > 0 ? bt_estimate_se(mean, sqrt(variance / n), item->n, NO_VALUE)
                      : bt_estimate(mean, item->n, NO_VALUE); // no word on the error
}

// What each person did on each item against the others who have it; a person's mean of these does
// not depend on which items were to be had.
static double against_item(const Margins *margins, gsize p, gsize i) {
  return cell(margins, p, i) - margins->mean - margins->item[i].sum / (double)margins->item[i].n;
}

static double *person_sums(const Margins *margins) {
  double *sum = g_new0(double, margins->table->subjects);
  for (gsize p = 0; p < margins->table->subjects; p++) {
    for (gsize i = 0; i < margins->table->raters; i++) {
      if (!bt_is_missing(cell(margins, p, i)))
        sum[p] += against_item(margins, p, i);
    }
  }
  return sum;
}

// Limits by Fisher's (1921) transformation.
static BtEstimate correlation(double xx, double yy, double xy, gsize n) {
  double r = CLAMP(xy / sqrt(xx * yy), -1, 1);
  if (n < 4 || fabs(r) >= 1)
    return bt_estimate(r, n, SAME_FOR_ALL);
  double half = qnorm((1 - BT_LEVEL) / 2, 0, 1, FALSE, FALSE) / sqrt((double)n - 3);
  return bt_estimate_limits(r, tanh(atanh(r) - half), tanh(atanh(r) + half), n, SAME_FOR_ALL);
}

// The correlation with the mean of the person's other items: one pass (Welford 1962).
static BtEstimate discrimination_of(const Margins *margins, const double *sums, gsize i) {
  double mean_x = 0, mean_y = 0, xx = 0, yy = 0, xy = 0, size_y = 0;
  gsize n = 0;
  for (gsize p = 0; p < margins->table->subjects; p++) {
    if (bt_is_missing(cell(margins, p, i)) || margins->person[p].n < 2)
      continue;
    double x = against_item(margins, p, i);
    double y = (sums[p] - x) / (double)(margins->person[p].n - 1);
    n++;
    double dx = x - mean_x, dy = y - mean_y;
    mean_x += dx / (double)n;
    mean_y += dy / (double)n;
    xx += dx * (x - mean_x);
    yy += dy * (y - mean_y);
    xy += dx * (y - mean_y);
    size_y += y * y + x * x;
  }
  // Less than rounding leaves of values this size is no spread.
  double least = (size_y + margins->mean * margins->mean * (double)n) * 1e-24;
  if (n < 3)
    return bt_not_estimable(FEW_PAIRS, n);
  if (!(xx > least))
    return bt_not_estimable(SAME_FOR_ALL, n);
  return yy > least ? correlation(xx, yy, xy, n) : bt_not_estimable(SAME_OTHERS, n);
}

// All of it -------------------------------------------------------------------

static void count_persons(BtItems *items, const Margins *margins) {
  double inverse = 0;
  for (gsize p = 0; p < margins->table->subjects; p++) {
    gsize n = margins->person[p].n;
    items->persons += n > 0;
    items->complete += n > 0 && n == margins->table->raters;
    inverse += n ? 1 / (double)n : 0;
  }
  items->items_each = items->persons ? (double)items->persons / inverse : 0;
}

BtItems *bt_items(const BtRatings *table) {
  BtItems *items = g_malloc0(sizeof(BtItems) + table->raters * sizeof(BtItem));
  Margins margins = margins_of(table);
  g_autofree double *sums = person_sums(&margins);
  items->items = table->raters;
  count_persons(items, &margins);
  items->alpha = alpha_of(&margins, NO_ITEM_OUT);
  items->kr20 = margins.binary ? items->alpha : bt_not_estimable(NOT_BINARY, items->persons);
  items->kr21 = kr21_of(&margins, items->complete);
  for (gsize i = 0; i < table->raters; i++)
    items->item[i] = (BtItem){.difficulty = difficulty_of(&margins, i),
                              .discrimination = discrimination_of(&margins, sums, i),
                              .alpha_without = alpha_of(&margins, i)};
  g_free(margins.person);
  g_free(margins.item);
  return items;
}

// Length ----------------------------------------------------------------------

#define NO_LENGTH "it needs a reliability above 0 and below 1"

BtEstimate bt_spearman_brown(double reliability, double factor) {
  if (!(reliability > 0 && reliability < 1) || !(factor > 0))
    return bt_not_estimable(NO_LENGTH, 0);
  return bt_estimate(factor * reliability / (1 + (factor - 1) * reliability), 0, NO_LENGTH);
}

BtEstimate bt_spearman_brown_factor(double reliability, double target) {
  if (!(reliability > 0 && reliability < 1) || !(target > 0 && target < 1))
    return bt_not_estimable(NO_LENGTH, 0);
  return bt_estimate(target * (1 - reliability) / (reliability * (1 - target)), 0, NO_LENGTH);
}
