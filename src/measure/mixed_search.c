// SPDX-License-Identifier: GPL-3.0-or-later
//
// The search for the covariance factors of a mixed model. The optimum within is a root of the
// criterion's gradient, which is exact to rounding where the criterion itself is flat; mostly it is
// found at once. Where it is not, there are three moves: a simplex comes near the optimum;
// variances that the data would rather have at 0 are put there, exactly; and what is left is
// polished as a root again.
#include "measure/mixed_parts.h"

#include <float.h>
#include <gsl/gsl_multimin.h>
#include <gsl/gsl_multiroots.h>
#include <math.h>
#include <string.h>

#define NEAR         1e-3 // size of the simplex that ends the first move
#define NEARER       1e-5 // ... of one with a component pinned
#define NEAREST      1e-8 // ... where no root can be polished
#define SIMPLEX_MOST 2000 // iterations
#define ROOT_MOST    60
#define ROOT_NEAR    1e-11 // gradient per group that ends polishing ...
#define ROOT_ENOUGH  1e-7  // ... and that is good enough where rounding ends it before
#define FAR_FROM_0   0.02  // of a factor
#define WORST        (DBL_MAX / 4)

// One number that is searched for: an entry of a block's factor.
typedef struct {
  gsize block;
  int row, column;
  bool held; // at 0
  double value;
} Entry;

typedef struct {
  BtMixedEngine *engine;
  Entry *entry;
  gsize n;
  const BtMixedPin *pin; // NULL: none
} Search;

static bool on_diagonal(const Entry *entry) {
  return entry->row == entry->column;
}

static void list_entries(Search *search) {
  BtMixedEngine *engine = search->engine;
  search->entry = g_new0(Entry, 3 * engine->blocks);
  for (gsize t = 0; t < engine->blocks; t++) {
    const BtMixedBlock *block = &engine->block[t];
    for (int row = 0; !block->fixed && row < block->width; row++) {
      for (int column = 0; column <= row; column++)
        search->entry[search->n++] =
            (Entry){.block = t, .row = row, .column = column, .value = block->lambda[row][column]};
    }
  }
}

static gsize free_entries(const Search *search) {
  gsize n = 0;
  for (gsize i = 0; i < search->n; i++)
    n += !search->entry[i].held;
  return n;
}

// Factors are the same with either sign on their diagonal, so the simplex may cross 0.
static bool solve_here(Search *search) {
  for (gsize i = 0; i < search->n; i++) {
    Entry *entry = &search->entry[i];
    if (on_diagonal(entry))
      entry->value = fabs(entry->value);
    search->engine->block[entry->block].lambda[entry->row][entry->column] =
        entry->held ? 0 : entry->value;
  }
  return bt__mixed_solve(search->engine);
}

// The criterion where the residuals' standard deviation is what the pinned component makes it.
static double pinned_criterion(const BtMixedEngine *engine, const BtMixedPin *pin) {
  const BtMixedBlock *block = &engine->block[pin->block];
  double factor = 1;
  if (pin->component != BT_MIXED_RESIDUAL)
    factor = pin->component == BT_MIXED_START ? block->lambda[0][0]
                                              : hypot(block->lambda[1][0], block->lambda[1][1]);
  double variance = pin->sd * pin->sd / (factor * factor);
  double criterion = engine->determinants + engine->penalised / variance +
                     bt__mixed_df(engine) * log(2 * G_PI * variance);
  return isfinite(criterion) ? criterion : WORST;
}

static double criterion_here(Search *search) {
  if (!solve_here(search))
    return WORST;
  return search->pin ? pinned_criterion(search->engine, search->pin) : search->engine->criterion;
}

// Simplex ---------------------------------------------------------------------

static void take(Search *search, const gsl_vector *x) {
  gsize at = 0;
  for (gsize i = 0; i < search->n; i++) {
    if (!search->entry[i].held)
      search->entry[i].value = gsl_vector_get(x, at++);
  }
}

static void give(const Search *search, gsl_vector *x) {
  gsize at = 0;
  for (gsize i = 0; i < search->n; i++) {
    if (!search->entry[i].held)
      gsl_vector_set(x, at++, search->entry[i].value);
  }
}

static double criterion_at(const gsl_vector *x, void *data) {
  take(data, x);
  return criterion_here(data);
}

// Leaves the search at the best place the simplex found, solved.
static void descend(Search *search, double step, double size) {
  gsize n = free_entries(search);
  if (n == 0) {
    solve_here(search);
    return;
  }
  gsl_vector *x = gsl_vector_alloc(n), *steps = gsl_vector_alloc(n);
  give(search, x);
  for (gsize i = 0; i < n; i++)
    gsl_vector_set(steps, i, step * fmax(fabs(gsl_vector_get(x, i)), 0.5));
  gsl_multimin_function function = {.f = criterion_at, .n = n, .params = search};
  gsl_multimin_fminimizer *simplex =
      gsl_multimin_fminimizer_alloc(gsl_multimin_fminimizer_nmsimplex2, n);
  int status = gsl_multimin_fminimizer_set(simplex, &function, x, steps);
  for (int i = 0; i < SIMPLEX_MOST && status == GSL_SUCCESS; i++) {
    status = gsl_multimin_fminimizer_iterate(simplex);
    if (gsl_multimin_fminimizer_size(simplex) < size)
      break;
  }
  take(search, simplex->x);
  gsl_multimin_fminimizer_free(simplex);
  gsl_vector_free(x);
  gsl_vector_free(steps);
  solve_here(search);
}

// Boundary --------------------------------------------------------------------

// Ways to put a block at its boundary: which of its entries are 0.
typedef struct {
  bool start, crossed, slope;
} Zeros;

static const Zeros no_variance = {true, true, true}, same_slopes = {false, true, true},
                   same_starts = {true, true, false}, full_correlation = {false, false, true};

static bool is_zero(const Zeros *zeros, const Entry *entry) {
  if (entry->row == 0)
    return zeros->start;
  return entry->column == 0 ? zeros->crossed : zeros->slope;
}

static bool holds_more(const Search *search, gsize block, Zeros zeros) {
  for (gsize i = 0; i < search->n; i++) {
    const Entry *entry = &search->entry[i];
    if (entry->block == block && !entry->held && is_zero(&zeros, entry))
      return true;
  }
  return false;
}

static double crossed_of(const Search *search, gsize block) {
  for (gsize i = 0; i < search->n; i++) {
    if (search->entry[i].block == block && !on_diagonal(&search->entry[i]))
      return search->entry[i].held ? 0 : search->entry[i].value;
  }
  return 0;
}

// Holds a block's entries at 0 if that is no worse than `criterion`, the one found. The system is
// left as solved last.
static bool hold(Search *search, gsize block, Zeros zeros, double criterion) {
  if (!holds_more(search, block, zeros))
    return false;
  g_autofree Entry *before = g_memdup2(search->entry, search->n * sizeof *search->entry);
  double crossed = crossed_of(search, block);
  for (gsize i = 0; i < search->n; i++) {
    Entry *entry = &search->entry[i];
    if (entry->block != block)
      continue;
    entry->held = entry->held || is_zero(&zeros, entry);
    if (entry->row == 1 && entry->column == 1 && zeros.crossed)
      entry->value = hypot(entry->value, crossed); // the slopes keep their variance
  }
  if (criterion_here(search) <= criterion)
    return true;
  memcpy(search->entry, before, search->n * sizeof *search->entry);
  return false;
}

static bool hold_one(Search *search) {
  double criterion = search->engine->criterion;
  for (gsize t = 0; t < search->engine->blocks; t++) {
    if (search->engine->block[t].fixed)
      continue;
    if (hold(search, t, no_variance, criterion))
      return true;
    if (search->engine->block[t].width == 2 &&
        (hold(search, t, same_slopes, criterion) || hold(search, t, same_starts, criterion) ||
         hold(search, t, full_correlation, criterion)))
      return true;
  }
  solve_here(search);
  return false;
}

// Polish ----------------------------------------------------------------------

// The gradient by the entries of a block's factor, but for the factor itself: the sum over groups
// of I - M^gg - v v' / sigma^2 (M^gg: the group's block of the inverse), per group. All of it is 0
// at an optimum within; where the other row of the factor is 0, the diagonal element alone counts.
static void gradient(BtMixedEngine *engine, const BtMixedBlock *block, double sum[2][2]) {
  const double *v = engine->solution;
  double variance = bt__mixed_variance(engine);
  sum[0][0] = sum[0][1] = sum[1][0] = sum[1][1] = 0;
  for (gsize g = 0; g < block->groups; g++) {
    gsize first = block->first + g * (gsize)block->width;
    double inverse[2][2];
    bt__mixed_inverse_block(engine->factor, first, block->width, inverse);
    for (int i = 0; i < block->width; i++) {
      for (int j = 0; j < block->width; j++)
        sum[i][j] +=
            (i == j) - inverse[i][j] - v[first + (gsize)i] * v[first + (gsize)j] / variance;
    }
  }
  for (int i = 0; i < 2; i++) {
    for (int j = 0; j < 2; j++)
      sum[i][j] /= (double)block->groups;
  }
}

// Diagonal entries are searched for by their logarithm: they stay above 0.
static void take_logs(Search *search, const gsl_vector *x) {
  take(search, x);
  for (gsize i = 0; i < search->n; i++) {
    Entry *entry = &search->entry[i];
    if (!entry->held && on_diagonal(entry))
      entry->value = exp(entry->value);
  }
}

static int gradient_at(const gsl_vector *x, void *data, gsl_vector *f) {
  Search *search = data;
  take_logs(search, x);
  if (!solve_here(search))
    return GSL_EBADFUNC;
  gsize at = 0, known = G_MAXSIZE;
  double sum[2][2] = {{0}};
  for (gsize i = 0; i < search->n; i++) {
    const Entry *entry = &search->entry[i];
    if (entry->held)
      continue;
    if (entry->block != known)
      gradient(search->engine, &search->engine->block[entry->block], sum);
    known = entry->block;
    gsl_vector_set(f, at++, sum[entry->row][entry->column]);
  }
  return GSL_SUCCESS;
}

// A block with correlation of -1 or 1 has its optimum on an edge that the gradient does not tell,
// and the gradient above is that of the restricted likelihood.
static bool has_root(const Search *search) {
  if (search->engine->method != BT_MIXED_REML)
    return false;
  for (gsize i = 0; i + 1 < search->n; i++) {
    const Entry *crossed = &search->entry[i], *slope = &search->entry[i + 1];
    if (!on_diagonal(crossed) && !crossed->held && slope->held)
      return false;
  }
  return true;
}

static double largest(const gsl_vector *f) {
  double most = 0;
  for (gsize i = 0; i < f->size; i++)
    most = fmax(most, fabs(gsl_vector_get(f, i)));
  return most;
}

static double find_root(Search *search, gsl_multiroot_fsolver *solver) {
  int status = GSL_SUCCESS;
  for (int i = 0; i < ROOT_MOST && status == GSL_SUCCESS && !(largest(solver->f) < ROOT_NEAR); i++)
    status = gsl_multiroot_fsolver_iterate(solver);
  take_logs(search, solver->x);
  return largest(solver->f);
}

// Moves to the root of the gradient near here. False: there is none nearer to the optimum, and the
// search stands where it stood.
static bool polish(Search *search) {
  gsize n = free_entries(search);
  double criterion = search->engine->criterion;
  g_autofree Entry *before = g_memdup2(search->entry, search->n * sizeof *search->entry);
  gsl_vector *x = gsl_vector_alloc(n);
  for (gsize i = 0; i < search->n; i++) {
    Entry *entry = &search->entry[i];
    if (!entry->held && on_diagonal(entry))
      entry->value = log(fmax(entry->value, DBL_MIN));
  }
  give(search, x);
  gsl_multiroot_function function = {.f = gradient_at, .n = n, .params = search};
  gsl_multiroot_fsolver *solver = gsl_multiroot_fsolver_alloc(gsl_multiroot_fsolver_hybrids, n);
  bool found = gsl_multiroot_fsolver_set(solver, &function, x) == GSL_SUCCESS &&
               find_root(search, solver) < ROOT_ENOUGH && solve_here(search) &&
               search->engine->criterion <= criterion + 1e-9 * fabs(criterion);
  gsl_multiroot_fsolver_free(solver);
  gsl_vector_free(x);
  if (!found) {
    memcpy(search->entry, before, search->n * sizeof *search->entry);
    solve_here(search);
  }
  return found;
}

static void begin(Search *search) {
  for (gsize i = 0; i < search->n; i++) {
    Entry *entry = &search->entry[i];
    entry->held = false;
    entry->value = on_diagonal(entry) ? 1 : 0;
  }
  solve_here(search);
}

// As a rule the gradient leads straight from the start to the optimum. Near 0 it is small whether
// there is an optimum or not, so a root there is left to the simplex to look at.
static bool find_at_once(Search *search) {
  if (search->engine->method != BT_MIXED_REML || search->n == 0 || !polish(search))
    return false;
  for (gsize i = 0; i < search->n; i++) {
    if (on_diagonal(&search->entry[i]) && search->entry[i].value < FAR_FROM_0)
      return false;
  }
  return !hold_one(search);
}

bool bt__mixed_search(BtMixedEngine *engine) {
  Search search = {.engine = engine};
  list_entries(&search);
  begin(&search);
  if (!find_at_once(&search)) {
    begin(&search);
    descend(&search, 0.5, NEAR);
    while (free_entries(&search) > 0 && hold_one(&search))
      descend(&search, 0.2, NEAR);
    if (free_entries(&search) > 0 && !(has_root(&search) && polish(&search)))
      descend(&search, 0.05, NEAREST);
  }
  bool solved = solve_here(&search);
  g_free(search.entry);
  return solved;
}

// Holds at 0 what makes the pinned component 0.
static void hold_pinned(Search *search) {
  const Zeros *zeros = search->pin->component == BT_MIXED_START ? &same_starts : &same_slopes;
  for (gsize i = 0; i < search->n; i++) {
    Entry *entry = &search->entry[i];
    entry->held = entry->block == search->pin->block && is_zero(zeros, entry);
  }
}

double bt__mixed_search_pinned(BtMixedEngine *engine, const BtMixedPin *pin) {
  Search search = {.engine = engine, .pin = pin};
  list_entries(&search);
  if (pin->sd == 0) {
    hold_pinned(&search);
    search.pin = NULL; // the rest is free
  }
  descend(&search, 0.2, NEARER);
  double least = criterion_here(&search);
  g_free(search.entry);
  return least;
}
