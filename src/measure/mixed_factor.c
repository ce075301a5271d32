// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/mixed_factor.h"

#include <math.h>
#include <string.h>

// The system is [D B'; B C], D being block diagonal; the complement is C - B D^-1 B'. A group's B
// are the entries of its columns below its own.
struct BtMixedFactor {
  gsize groups, lead, rest; // lead, rest: columns
  int width;
  const cs_dl *system;     // as factorised last
  double (*inverse)[2][2]; // of each group's block of D
  gsize *first_times;      // groups + 1
  double *times;           // rows of B D^-1, `width` numbers each, group by group
  double lead_log;         // logarithm of the determinant of D

  cs_dl *complement;  // upper triangle, sorted
  guint32 *place;     // of each pair of rows of a group's B in the complement, group by group
  gsize *first_place; // groups + 1
  cs_dls *symbolic;   // NULL when no column is left
  cs_dln *lower;
  bool selected_known;
  double *selected;     // of the complement's inverse: entries where the complement has some
  guint32 *lower_place; // where the lower factor has them
};

// Layout ----------------------------------------------------------------------

static gsize column_end(const cs_dl *a, gsize column) {
  return (gsize)a->p[column + 1];
}

static gsize entries(const cs_dl *a) {
  return (gsize)a->p[a->n];
}

// Where a sorted column holds a row that it does hold.
static gsize find_row(const cs_dl *a, gsize column, cs_long_t row) {
  gsize low = (gsize)a->p[column], high = column_end(a, column);
  while (high - low > 1) {
    gsize middle = low + (high - low) / 2;
    if (a->i[middle] <= row)
      low = middle;
    else
      high = middle;
  }
  return low;
}

// The rows of a group's B, numbered among the rest; the group's `j`th column holds their values
// from group_values on.
static gsize group_rows(const BtMixedFactor *factor, const cs_dl *system, gsize group) {
  gsize column = group * (gsize)factor->width;
  return column_end(system, column) - (gsize)system->p[column] - (gsize)factor->width;
}

static gsize group_values(const BtMixedFactor *factor, const cs_dl *system, gsize group, int j) {
  return (gsize)system->p[group * (gsize)factor->width + (gsize)j] + (gsize)factor->width;
}

static cs_long_t rest_row(const BtMixedFactor *factor, const cs_dl *system, gsize at) {
  return system->i[at] - (cs_long_t)factor->lead;
}

// Which of the rest go together in some group: each row of the data is in one, so this holds what
// goes together in a row too.
static cs_dl *pattern_of_groups(const BtMixedFactor *factor, const cs_dl *system) {
  cs_dl *entered = cs_dl_spalloc((cs_long_t)factor->groups, (cs_long_t)factor->rest, 1, 1, 1);
  for (gsize g = 0; g < factor->groups; g++) {
    gsize at = group_values(factor, system, g, 0);
    for (gsize k = 0; k < group_rows(factor, system, g); k++)
      cs_dl_entry(entered, (cs_long_t)g, rest_row(factor, system, at + k), 1);
  }
  entered->m = (cs_long_t)factor->groups;
  entered->n = (cs_long_t)factor->rest;
  cs_dl *met = cs_dl_compress(entered), *turned = cs_dl_transpose(met, 1);
  cs_dl *pattern = cs_dl_multiply(turned, met);
  cs_dl_spfree(entered);
  cs_dl_spfree(met);
  cs_dl_spfree(turned);
  return pattern;
}

// The upper triangle of a symmetric pattern, with its columns sorted.
static cs_dl *sorted_upper(const cs_dl *pattern) {
  cs_dl *sorted = cs_dl_transpose(pattern, 1);
  cs_long_t kept = 0;
  for (cs_long_t column = 0; column < sorted->n; column++) {
    cs_long_t at = sorted->p[column], end = sorted->p[column + 1];
    sorted->p[column] = kept;
    for (; at < end; at++) {
      if (sorted->i[at] <= column)
        sorted->i[kept++] = sorted->i[at];
    }
  }
  sorted->p[sorted->n] = kept;
  return sorted;
}

static void note_places(BtMixedFactor *factor, const cs_dl *system) {
  factor->first_place = g_new(gsize, factor->groups + 1);
  factor->first_times = g_new(gsize, factor->groups + 1);
  factor->first_place[0] = factor->first_times[0] = 0;
  for (gsize g = 0; g < factor->groups; g++) {
    gsize n = group_rows(factor, system, g);
    factor->first_place[g + 1] = factor->first_place[g] + n * (n + 1) / 2;
    factor->first_times[g + 1] = factor->first_times[g] + n * (gsize)factor->width;
  }
  factor->times = g_new(double, factor->first_times[factor->groups]);
  guint32 *place = factor->place = g_new(guint32, factor->first_place[factor->groups]);
  for (gsize g = 0; g < factor->groups; g++) {
    gsize at = group_values(factor, system, g, 0);
    for (gsize l = 0; l < group_rows(factor, system, g); l++) {
      for (gsize k = 0; k <= l; k++)
        *place++ = (guint32)find_row(factor->complement, (gsize)rest_row(factor, system, at + l),
                                     rest_row(factor, system, at + k));
    }
  }
}

BtMixedFactor *bt__mixed_factor_new(const cs_dl *system, gsize groups, int width) {
  BtMixedFactor *factor = g_new0(BtMixedFactor, 1);
  factor->groups = groups;
  factor->width = width;
  factor->lead = groups * (gsize)width;
  factor->rest = (gsize)system->n - factor->lead;
  factor->inverse = g_malloc0_n(groups + 1, sizeof *factor->inverse);
  cs_dl *pattern = groups > 0 ? pattern_of_groups(factor, system) : NULL;
  factor->complement = sorted_upper(pattern ? pattern : system);
  cs_dl_spfree(pattern);
  note_places(factor, system);
  if (factor->rest > 0)
    factor->symbolic = cs_dl_schol(1, factor->complement); // 1: approximate minimum degree
  factor->selected = g_new(double, entries(factor->complement) + 1);
  return factor;
}

void bt__mixed_factor_free(BtMixedFactor *factor) {
  if (!factor)
    return;
  g_free(factor->inverse);
  cs_dl_spfree(factor->complement);
  g_free(factor->times);
  g_free(factor->first_times);
  g_free(factor->place);
  g_free(factor->first_place);
  cs_dl_sfree(factor->symbolic);
  cs_dl_nfree(factor->lower);
  g_free(factor->selected);
  g_free(factor->lower_place);
  g_free(factor);
}

// Elimination -----------------------------------------------------------------

static bool invert_group(BtMixedFactor *factor, gsize group) {
  const cs_dl *system = factor->system;
  double(*inverse)[2] = factor->inverse[group];
  const double *first = &system->x[system->p[group * (gsize)factor->width]];
  double determinant = first[0];
  if (factor->width == 2) {
    const double *second = &system->x[system->p[2 * group + 1]];
    determinant = first[0] * second[1] - first[1] * first[1];
    inverse[1][1] = first[0] / determinant;
    inverse[0][0] = second[1] / determinant;
    inverse[0][1] = inverse[1][0] = -first[1] / determinant;
  } else {
    inverse[0][0] = 1 / determinant;
  }
  factor->lead_log += log(determinant);
  return determinant > 0;
}

// The rows of B D^-1 of a group.
static const double *group_times(const BtMixedFactor *factor, gsize group) {
  return &factor->times[factor->first_times[group]];
}

static void find_times(BtMixedFactor *factor, gsize group) {
  const double(*inverse)[2] = (const double(*)[2])factor->inverse[group];
  const double *value = factor->system->x;
  double *times = &factor->times[factor->first_times[group]];
  gsize first = group_values(factor, factor->system, group, 0), second = 0;
  if (factor->width == 2)
    second = group_values(factor, factor->system, group, 1);
  for (gsize k = 0; k < group_rows(factor, factor->system, group); k++) {
    if (factor->width == 1) {
      *times++ = value[first + k] * inverse[0][0];
      continue;
    }
    for (int j = 0; j < 2; j++)
      *times++ = value[first + k] * inverse[0][j] + value[second + k] * inverse[1][j];
  }
}

static void take_rest(BtMixedFactor *factor) {
  const cs_dl *system = factor->system;
  cs_dl *complement = factor->complement;
  memset(complement->x, 0, entries(complement) * sizeof *complement->x);
  for (gsize c = 0; c < factor->rest; c++) {
    gsize at = (gsize)complement->p[c];
    for (gsize from = (gsize)system->p[factor->lead + c];
         from < column_end(system, factor->lead + c); from++) {
      cs_long_t row = rest_row(factor, system, from);
      if (row < 0)
        continue;
      if (row > (cs_long_t)c)
        break;
      while (complement->i[at] != row)
        at++;
      complement->x[at] = system->x[from];
    }
  }
}

static void take_off_group(BtMixedFactor *factor, gsize group) {
  const double *times = group_times(factor, group);
  const guint32 *place = &factor->place[factor->first_place[group]];
  gsize n = group_rows(factor, factor->system, group), width = (gsize)factor->width;
  double *complement = factor->complement->x;
  for (gsize j = 0; j < width; j++) {
    const double *row = &factor->system->x[group_values(factor, factor->system, group, (int)j)];
    const guint32 *to = place;
    for (gsize l = 0; l < n; l++) {
      double time = times[l * width + j];
      for (gsize k = 0; k <= l; k++)
        complement[*to++] -= row[k] * time;
    }
  }
}

bool bt__mixed_factorise(BtMixedFactor *factor, const cs_dl *system) {
  factor->system = system;
  factor->selected_known = false;
  factor->lead_log = 0;
  take_rest(factor);
  for (gsize g = 0; g < factor->groups; g++) {
    if (!invert_group(factor, g))
      return false;
    find_times(factor, g);
    take_off_group(factor, g);
  }
  if (factor->rest == 0)
    return true;
  cs_dl_nfree(factor->lower);
  factor->lower = cs_dl_chol(factor->complement, factor->symbolic);
  return factor->lower != NULL;
}

static double pivot(const BtMixedFactor *factor, gsize rest_column) {
  const cs_dl *lower = factor->lower->L;
  return lower->x[lower->p[factor->symbolic->pinv[rest_column]]];
}

double bt__mixed_log_determinant(const BtMixedFactor *factor) {
  double sum = factor->lead_log;
  for (gsize i = 0; i < factor->rest; i++)
    sum += 2 * log(pivot(factor, i));
  return sum;
}

double bt__mixed_own_share(const BtMixedFactor *factor, gsize column) {
  const cs_dl *system = factor->system;
  if (column < factor->lead)
    return 1;
  double own = pivot(factor, column - factor->lead);
  return own * own / system->x[find_row(system, column, (cs_long_t)column)];
}

// Solutions -------------------------------------------------------------------

// rest -= B D^-1 lead, for one group's part of the lead.
static void take_lead_off(const BtMixedFactor *factor, gsize group, const double *lead,
                          double *rest) {
  const double *times = group_times(factor, group);
  gsize at = group_values(factor, factor->system, group, 0);
  for (gsize k = 0; k < group_rows(factor, factor->system, group); k++) {
    for (int j = 0; j < factor->width; j++)
      rest[rest_row(factor, factor->system, at + k)] -= *times++ * lead[j];
  }
}

// x = D^-1 (right - B' rest), for one group.
static void solve_group(const BtMixedFactor *factor, gsize group, const double *right,
                        const double *rest, double *x) {
  double left[2] = {0};
  for (int j = 0; j < factor->width; j++) {
    gsize at = group_values(factor, factor->system, group, j);
    left[j] = right[j];
    for (gsize k = 0; k < group_rows(factor, factor->system, group); k++)
      left[j] -= factor->system->x[at + k] * rest[rest_row(factor, factor->system, at + k)];
  }
  for (int j = 0; j < factor->width; j++)
    x[j] = factor->inverse[group][j][0] * left[0] +
           (factor->width == 2 ? factor->inverse[group][j][1] * left[1] : 0);
}

void bt__mixed_factor_solve(const BtMixedFactor *factor, const double *right, double *x) {
  gsize width = (gsize)factor->width;
  g_autofree double *rest = g_memdup2(&right[factor->lead], factor->rest * sizeof *right);
  g_autofree double *ordered = g_new(double, factor->rest);
  for (gsize g = 0; g < factor->groups; g++)
    take_lead_off(factor, g, &right[g * width], rest);
  if (factor->rest > 0) {
    cs_dl_ipvec(factor->symbolic->pinv, rest, ordered, (cs_long_t)factor->rest);
    cs_dl_lsolve(factor->lower->L, ordered);
    cs_dl_ltsolve(factor->lower->L, ordered);
    cs_dl_pvec(factor->symbolic->pinv, ordered, &x[factor->lead], (cs_long_t)factor->rest);
  }
  for (gsize g = 0; g < factor->groups; g++)
    solve_group(factor, g, &right[g * width], &x[factor->lead], &x[g * width]);
}

double bt__mixed_quadratic(const BtMixedFactor *factor, const gsize *column, const double *weight,
                           gsize n) {
  gsize width = (gsize)MAX(factor->width, 1);
  g_autofree double *rest = g_new0(double, factor->rest);
  g_autofree double *ordered = g_new(double, factor->rest);
  g_autoptr(GHashTable) groups = g_hash_table_new_full(NULL, NULL, NULL, g_free);
  for (gsize i = 0; i < n; i++) {
    if (column[i] >= factor->lead) {
      rest[column[i] - factor->lead] += weight[i];
      continue;
    }
    gpointer key = GSIZE_TO_POINTER(column[i] / width);
    double *lead = g_hash_table_lookup(groups, key);
    if (!lead)
      g_hash_table_insert(groups, key, lead = g_new0(double, 2));
    lead[column[i] % width] += weight[i];
  }
  double sum = 0;
  GHashTableIter every;
  gpointer key, lead;
  g_hash_table_iter_init(&every, groups);
  while (g_hash_table_iter_next(&every, &key, &lead)) {
    gsize g = GPOINTER_TO_SIZE(key);
    const double *k = lead;
    for (int j = 0; j < factor->width; j++)
      sum += k[j] * (factor->inverse[g][j][0] * k[0] + factor->inverse[g][j][1] * k[1]);
    take_lead_off(factor, g, k, rest);
  }
  if (factor->rest > 0) {
    cs_dl_ipvec(factor->symbolic->pinv, rest, ordered, (cs_long_t)factor->rest);
    cs_dl_lsolve(factor->lower->L, ordered);
  }
  for (gsize i = 0; i < factor->rest; i++)
    sum += ordered[i] * ordered[i];
  return sum;
}

// Entries of the inverse ------------------------------------------------------

// One column of the inverse of L L' where L has entries, from the columns after it (Takahashi,
// Fagan and Chin 1973; Erisman and Tinney 1975): Z_ij = -(1 / L_jj) sum over k > j of L_kj Z_ik for
// i > j, Z_jj = 1 / L_jj^2 - (1 / L_jj) sum of L_kj Z_kj. `of_l` and `sum` are 0 throughout, before
// and after.
static void invert_column(const cs_dl *l, cs_long_t j, double *z, double *of_l, double *sum) {
  cs_long_t begin = l->p[j], end = l->p[j + 1];
  double diagonal = l->x[begin], own = 1 / diagonal;
  for (cs_long_t at = begin + 1; at < end; at++)
    of_l[l->i[at]] = l->x[at];
  for (cs_long_t at = begin + 1; at < end; at++) {
    cs_long_t k = l->i[at];
    sum[k] += of_l[k] * z[l->p[k]];
    for (cs_long_t below = l->p[k] + 1; below < l->p[k + 1]; below++) {
      cs_long_t i = l->i[below];
      sum[i] += of_l[k] * z[below]; // where L has no entry, nothing is read from it
      sum[k] += of_l[i] * z[below];
    }
  }
  for (cs_long_t at = begin + 1; at < end; at++) {
    z[at] = -sum[l->i[at]] / diagonal;
    own -= l->x[at] * z[at];
  }
  z[begin] = own / diagonal;
  for (cs_long_t at = begin + 1; at < end; at++) {
    of_l[l->i[at]] = 0;
    for (cs_long_t below = l->p[l->i[at]]; below < l->p[l->i[at] + 1]; below++)
      sum[l->i[below]] = 0;
  }
}

// The pattern of the factor is the same for all values.
static void note_lower_places(BtMixedFactor *factor) {
  const cs_dl *complement = factor->complement;
  const cs_long_t *pinv = factor->symbolic->pinv;
  factor->lower_place = g_new(guint32, entries(complement) + 1);
  for (gsize c = 0; c < factor->rest; c++) {
    for (gsize at = (gsize)complement->p[c]; at < column_end(complement, c); at++) {
      cs_long_t a = pinv[c], b = pinv[complement->i[at]];
      factor->lower_place[at] = (guint32)find_row(factor->lower->L, (gsize)MIN(a, b), MAX(a, b));
    }
  }
}

static void know_selected(BtMixedFactor *factor) {
  if (factor->selected_known || factor->rest == 0)
    return;
  const cs_dl *l = factor->lower->L;
  g_autofree double *z = g_new(double, entries(l));
  g_autofree double *of_l = g_new0(double, factor->rest);
  g_autofree double *sum = g_new0(double, factor->rest);
  for (cs_long_t j = (cs_long_t)factor->rest - 1; j >= 0; j--)
    invert_column(l, j, z, of_l, sum);
  if (!factor->lower_place)
    note_lower_places(factor);
  for (gsize at = 0; at < entries(factor->complement); at++)
    factor->selected[at] = z[factor->lower_place[at]];
  factor->selected_known = true;
}

// a' Z b for two columns of a group's B D^-1, Z being the complement's inverse, symmetric, of which
// each entry off the diagonal stands for two.
static double through_selected(const BtMixedFactor *factor, gsize group, gsize n, const double *a,
                               const double *b) {
  const guint32 *place = &factor->place[factor->first_place[group]];
  gsize width = (gsize)factor->width;
  double sum = 0;
  for (gsize l = 0; l < n; l++) {
    double to_a = 0, to_b = 0;
    for (gsize k = 0; k < l; k++) {
      double z = factor->selected[*place++];
      to_a += z * a[k * width];
      to_b += z * b[k * width];
    }
    double own = factor->selected[*place++];
    sum += a[l * width] * (to_b + own * b[l * width]) + to_a * b[l * width];
  }
  return sum;
}

// Of a group: D^-1 + D^-1 B' Z B D^-1.
static void inverse_of_group(const BtMixedFactor *factor, gsize group, double inverse[2][2]) {
  const double *times = group_times(factor, group);
  gsize n = group_rows(factor, factor->system, group);
  for (int i = 0; i < factor->width; i++) {
    for (int j = i; j < factor->width; j++)
      inverse[i][j] = inverse[j][i] =
          factor->inverse[group][i][j] + through_selected(factor, group, n, times + i, times + j);
  }
}

void bt__mixed_inverse_block(BtMixedFactor *factor, gsize column, int width, double inverse[2][2]) {
  know_selected(factor);
  if (column < factor->lead) {
    inverse_of_group(factor, column / (gsize)factor->width, inverse);
    return;
  }
  gsize rest = column - factor->lead;
  for (int i = 0; i < width; i++) {
    for (int j = i; j < width; j++)
      inverse[i][j] = inverse[j][i] =
          factor->selected[find_row(factor->complement, rest + (gsize)j, (cs_long_t)rest + i)];
  }
}
