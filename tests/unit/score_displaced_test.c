// SPDX-License-Identifier: GPL-3.0-or-later
//
// Displaced steps (the scoring law, section 7) against brute force and against known facts about
// finite orders.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <string.h>

#include "score/displaced.h"
#include "support/random_case.h"

#define SMALL_MAX 12

// A strict order on 0 .. n - 1, as a matrix.
typedef struct {
  int n;
  bool *below; // below[x * n + y]: x << y
} Order;

static Order order_new(int n) {
  return (Order){n, g_new0(bool, (gsize)n *(gsize)n)};
}

static bool is_below(const Order *order, int x, int y) {
  return order->below[(gsize)x * (gsize)order->n + (gsize)y];
}

static void set_below(Order *order, int x, int y) {
  order->below[(gsize)x * (gsize)order->n + (gsize)y] = true;
}

static void close_order(Order *order) {
  for (int k = 0; k < order->n; k++) {
    for (int x = 0; x < order->n; x++) {
      for (int y = 0; is_below(order, x, k) && y < order->n; y++) {
        if (is_below(order, k, y))
          set_below(order, x, y);
      }
    }
  }
}

// A time for each element so that x << y came first: how many lie below it in the longest chain.
static gint64 height_of(const Order *order, int x, gint64 *known) {
  if (known[x] > 0)
    return known[x];
  gint64 height = 1;
  for (int w = 0; w < order->n; w++) {
    if (is_below(order, w, x))
      height = MAX(height, height_of(order, w, known) + 1);
  }
  return known[x] = height;
}

// Runs the engine's own code on any strict order: each element is a group of one event; what is
// above an element belongs before it but came later. Returns how many stand in place.
static int find(const Order *order, BtWhere *where) {
  int n = order->n;
  BtArena arena = {0};
  int *start = g_new0(int, (gsize)n + 1), *before_start = g_new0(int, (gsize)n + 1);
  GArray *before = g_array_new(FALSE, FALSE, sizeof(int));
  gint64 *at_ms = g_new0(gint64, (gsize)n + 1);
  for (int x = 0; x < n; x++) {
    start[x + 1] = x + 1;
    height_of(order, x, at_ms);
    for (int y = 0; y < n; y++) {
      if (is_below(order, x, y))
        g_array_append_val(before, y);
    }
    before_start[x + 1] = (int)before->len;
  }
  BtSequence sequence = {n, n, start, at_ms, before_start, (const int *)(void *)before->data};
  bt__find_displaced(&arena, &sequence, where);
  int in_place = 0;
  for (int x = 0; x < n; x++)
    in_place += where[x] == BT__IN_PLACE;
  bt__arena_clear(&arena);
  g_free(start);
  g_free(before_start);
  g_free(at_ms);
  g_array_unref(before);
  return in_place;
}

static int width(const Order *order) {
  g_autofree BtWhere *where = g_new0(BtWhere, (gsize)order->n);
  int in_place = find(order, where);
  for (int x = 0; x < order->n; x++) {
    for (int y = 0; y < order->n; y++) {
      if (where[x] == BT__IN_PLACE && where[y] == BT__IN_PLACE)
        assert_false(is_below(order, x, y));
    }
  }
  return in_place;
}

// Known facts -----------------------------------------------------------------

static int binomial(int n, int k) {
  gint64 result = 1;
  for (int i = 1; i <= k; i++)
    result = result * (n - k + i) / i;
  return (int)result;
}

// Sperner, "Ein Satz ueber Untermengen einer endlichen Menge", Math. Zeitschrift 27 (1928): no more
// than C(n, floor(n/2)) subsets of an n-set can be such that none holds another.
static void subsets_have_the_width_sperner_proved(void **state) {
  (void)state;
  for (int n = 1; n <= 10; n++) {
    Order order = order_new(1 << n);
    for (int a = 0; a < order.n; a++) {
      for (int b = 0; b < order.n; b++) {
        if (a != b && (a & b) == a)
          set_below(&order, a, b);
      }
    }
    assert_int_equal(width(&order), binomial(n, n / 2));
    g_free(order.below);
  }
}

// Of n + 1 numbers out of 1 .. 2n one divides another, and n + 1 .. 2n show that n is reached
// (Aigner and Ziegler, Proofs from THE BOOK, chapter "Pigeon-hole and double counting").
static void divisibility_up_to_2n_has_width_n(void **state) {
  (void)state;
  for (int n = 1; n <= 150; n += 7) {
    Order order = order_new(2 * n);
    for (int a = 1; a <= 2 * n; a++) {
      for (int b = 2 * a; b <= 2 * n; b += a)
        set_below(&order, a - 1, b - 1);
    }
    assert_int_equal(width(&order), n);
    g_free(order.below);
  }
}

// A fence (zigzag) a < b > c < d > ... of n elements: the valleys alone are ceil(n/2), and the
// pairs of neighbours are a cover by as many chains.
static void fence_has_half_its_length(void **state) {
  (void)state;
  for (int n = 1; n <= 60; n++) {
    Order order = order_new(n);
    for (int i = 0; i + 1 < n; i++)
      set_below(&order, i % 2 == 0 ? i : i + 1, i % 2 == 0 ? i + 1 : i);
    assert_int_equal(width(&order), (n + 1) / 2);
    g_free(order.below);
  }
}

// A crown on 2n elements, a_i < b_j for i != j (Trotter, Combinatorics and Partially Ordered Sets,
// 1992): for n >= 3 its width is n.
static void crown_has_half_its_elements(void **state) {
  (void)state;
  for (int n = 3; n <= 20; n++) {
    Order order = order_new(2 * n);
    for (int i = 0; i < n; i++) {
      for (int j = 0; j < n; j++) {
        if (i != j)
          set_below(&order, i, n + j);
      }
    }
    assert_int_equal(width(&order), n);
    g_free(order.below);
  }
}

static void chain_keeps_its_top_and_antichain_all(void **state) {
  (void)state;
  Order chain = order_new(40), apart = order_new(40);
  for (int x = 0; x < 40; x++) {
    for (int y = x + 1; y < 40; y++)
      set_below(&chain, x, y);
  }
  BtWhere where[40];
  assert_int_equal(find(&chain, where), 1);
  assert_int_equal(where[39], BT__IN_PLACE);
  for (int x = 0; x < 39; x++)
    assert_int_equal(where[x], BT__TOO_EARLY);
  assert_int_equal(find(&apart, where), 40);
  g_free(chain.below);
  g_free(apart.below);
}

// Brute force -----------------------------------------------------------------

static bool is_antichain(const Order *order, guint set) {
  for (int x = 0; x < order->n; x++) {
    for (int y = 0; y < order->n; y++) {
      if ((set >> x & 1) && (set >> y & 1) && is_below(order, x, y))
        return false;
    }
  }
  return true;
}

static int size_of(guint set) {
  return __builtin_popcount(set);
}

// Is every element of `a` below or equal to some element of `b`?
static bool lies_below(const Order *order, guint a, guint b) {
  for (int x = 0; x < order->n; x++) {
    bool covered = !(a >> x & 1) || (b >> x & 1);
    for (int y = 0; !covered && y < order->n; y++)
      covered = (b >> y & 1) && is_below(order, x, y);
    if (!covered)
      return false;
  }
  return true;
}

// Of all largest antichains the one that no other lies above. There is one: they form a lattice
// (Dilworth, "Some combinatorial problems on partially ordered sets", 1960).
static guint highest_largest(const Order *order) {
  int size = 0;
  for (guint set = 0; set < 1u << order->n; set++) {
    if (size_of(set) > size && is_antichain(order, set))
      size = size_of(set);
  }
  guint highest = 0;
  for (guint set = 0; set < 1u << order->n; set++) {
    if (size_of(set) == size && is_antichain(order, set) &&
        (highest == 0 || lies_below(order, highest, set)))
      highest = set;
  }
  for (guint set = 0; set < 1u << order->n; set++) {
    if (size_of(set) == size && is_antichain(order, set))
      assert_true(lies_below(order, set, highest));
  }
  return highest;
}

// The fewest chains that cover the order, by trying every chain for the lowest element left: no
// matching and no antichain in it.
static int fewest_chains(const Order *order) {
  guint all = (1u << order->n) - 1;
  g_autofree int *fewest = g_new0(int, (gsize)all + 1);
  for (guint left = 1; left <= all; left++) {
    fewest[left] = G_MAXINT;
    for (guint chain = left; chain > 0; chain = (chain - 1) & left) {
      bool ok = (chain & -chain) == (left & -left);
      for (int x = 0; ok && x < order->n; x++) {
        for (int y = x + 1; ok && y < order->n; y++)
          ok = !(chain >> x & 1) || !(chain >> y & 1) || is_below(order, x, y) ||
               is_below(order, y, x);
      }
      if (ok)
        fewest[left] = MIN(fewest[left], fewest[left & ~chain] + 1);
    }
  }
  return fewest[all];
}

static Order random_order(Dice *dice, int n) {
  Order order = order_new(n);
  int sparse = dice_roll(dice, 2, 6);
  int name[SMALL_MAX];
  for (int i = 0; i < n; i++)
    name[i] = i;
  for (int i = n - 1; i > 0; i--) {
    int j = dice_roll(dice, 0, i), swapped = name[i];
    name[i] = name[j];
    name[j] = swapped;
  }
  for (int x = 0; x < n; x++) {
    for (int y = x + 1; y < n; y++) {
      if (dice_one_in(dice, sparse))
        set_below(&order, name[x], name[y]);
    }
  }
  close_order(&order);
  return order;
}

// Exactly one of "<< some event inside" and "some event inside <<" holds of each event outside.
static void check_where(const Order *order, guint inside, const BtWhere *where) {
  for (int x = 0; x < order->n; x++) {
    bool early = false, late = false;
    for (int y = 0; y < order->n; y++) {
      early = early || ((inside >> y & 1) && is_below(order, x, y));
      late = late || ((inside >> y & 1) && is_below(order, y, x));
    }
    if (inside >> x & 1) {
      assert_int_equal(where[x], BT__IN_PLACE);
    } else {
      assert_true(early != late);
      assert_int_equal(where[x], early ? BT__TOO_EARLY : BT__TOO_LATE);
    }
  }
}

static void small_orders_agree_with_brute_force(void **state) {
  (void)state;
  Dice dice = {11};
  for (int i = 0; i < 1500; i++) {
    Order order = random_order(&dice, dice_roll(&dice, 1, i % 50 == 0 ? SMALL_MAX : 8));
    BtWhere where[SMALL_MAX];
    guint highest = highest_largest(&order);
    assert_int_equal(find(&order, where), size_of(highest));
    check_where(&order, highest, where);
    g_free(order.below);
  }
}

static void width_equals_the_fewest_chains(void **state) {
  (void)state;
  Dice dice = {12};
  for (int i = 0; i < 150; i++) {
    Order order = random_order(&dice, dice_roll(&dice, 1, 9));
    assert_int_equal(width(&order), fewest_chains(&order));
    g_free(order.below);
  }
}

// Groups of several events, equal times among them ----------------------------

typedef struct {
  int start[SMALL_MAX + 1], before_start[SMALL_MAX + 1], before[SMALL_MAX * SMALL_MAX];
  int group[SMALL_MAX];
  gint64 at_ms[SMALL_MAX];
  BtSequence sequence;
} Grouped;

// Groups 0 .. g - 1, of which every earlier-numbered one may belong before a later-numbered one.
static void random_grouped(Dice *dice, Grouped *made) {
  int n_groups = dice_roll(dice, 1, 4), n = 0, n_before = 0;
  bool ordered[4][4] = {{false}};
  for (int g = 0; g < n_groups; g++) {
    gint64 at_ms = dice_roll(dice, 0, 6);
    made->start[g] = n;
    for (int k = dice_roll(dice, 1, 2); k > 0; k--, at_ms += dice_roll(dice, 0, 5)) {
      made->group[n] = g;
      made->at_ms[n++] = at_ms;
    }
    made->before_start[g] = n_before;
    for (int h = 0; h < g; h++) {
      ordered[g][h] = ordered[g][h] || dice_one_in(dice, 2);
      for (int k = 0; ordered[g][h] && k < h; k++)
        ordered[g][k] = ordered[g][k] || ordered[h][k];
    }
    for (int h = 0; h < g; h++) {
      if (ordered[g][h])
        made->before[n_before++] = h;
    }
  }
  made->start[n_groups] = n;
  made->before_start[n_groups] = n_before;
  made->sequence =
      (BtSequence){n_groups, n, made->start, made->at_ms, made->before_start, made->before};
}

static bool belongs_before(const BtSequence *sequence, int group, int earlier) {
  for (int k = sequence->before_start[group]; k < sequence->before_start[group + 1]; k++) {
    if (sequence->before[k] == earlier)
      return true;
  }
  return false;
}

static void repeated_events_agree_with_brute_force(void **state) {
  (void)state;
  Dice dice = {13};
  for (int i = 0; i < 4000; i++) {
    Grouped made;
    random_grouped(&dice, &made);
    Order order = order_new(made.sequence.n_events);
    gint64 right = 0, all = 0, right_found, all_found;
    for (int x = 0; x < order.n; x++) {
      for (int y = 0; y < order.n; y++) {
        if (!belongs_before(&made.sequence, made.group[x], made.group[y]))
          continue;
        all += made.at_ms[x] != made.at_ms[y];
        right += made.at_ms[y] < made.at_ms[x];
        if (made.at_ms[x] < made.at_ms[y])
          set_below(&order, x, y);
      }
    }
    bt__count_pairs(&made.sequence, &right_found, &all_found);
    assert_int_equal(right_found, right);
    assert_int_equal(all_found, all);
    BtArena arena = {0};
    BtWhere where[SMALL_MAX];
    bt__find_displaced(&arena, &made.sequence, where);
    check_where(&order, highest_largest(&order), where);
    bt__arena_clear(&arena);
    g_free(order.below);
  }
}

// Ten groups, each wholly after the next although it belongs before it: only the last done (the
// highest of the largest antichains) stays, 400 of 4,000.
static void thousands_of_events_the_wrong_way_round(void **state) {
  (void)state;
  enum { GROUPS = 10, EACH = 400 };
  int start[GROUPS + 1], before_start[GROUPS + 1], before[GROUPS * GROUPS], n_before = 0;
  gint64 *at_ms = g_new0(gint64, GROUPS * EACH);
  for (int g = 0; g <= GROUPS; g++) {
    start[g] = g * EACH;
    before_start[g] = n_before;
    for (int h = 0; h < g && g < GROUPS; h++)
      before[n_before++] = h;
  }
  for (int x = 0; x < GROUPS * EACH; x++)
    at_ms[x] = (GROUPS - 1 - x / EACH) * EACH + x % EACH;
  BtSequence sequence = {GROUPS, GROUPS * EACH, start, at_ms, before_start, before};
  BtArena arena = {0};
  BtWhere *where = g_new0(BtWhere, GROUPS * EACH);
  bt__find_displaced(&arena, &sequence, where);
  for (int x = 0; x < GROUPS * EACH; x++)
    assert_int_equal(where[x], x < EACH ? BT__IN_PLACE : BT__TOO_EARLY);
  bt__arena_clear(&arena);
  g_free(where);
  g_free(at_ms);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(subsets_have_the_width_sperner_proved),
      cmocka_unit_test(divisibility_up_to_2n_has_width_n),
      cmocka_unit_test(fence_has_half_its_length),
      cmocka_unit_test(crown_has_half_its_elements),
      cmocka_unit_test(chain_keeps_its_top_and_antichain_all),
      cmocka_unit_test(small_orders_agree_with_brute_force),
      cmocka_unit_test(width_equals_the_fewest_chains),
      cmocka_unit_test(repeated_events_agree_with_brute_force),
      cmocka_unit_test(thousands_of_events_the_wrong_way_round),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
