// SPDX-License-Identifier: GPL-3.0-or-later
//
// Mean, standard deviation and lag-1 autocorrelation against NIST's certified values. What is asked
// for is what doubles allow: the decimal data of NumAcc3 and 4 are rounded at 1e-10 and 1e-9 when
// they are read, a spread of 0.1 cannot come out better than that.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "measure/spread.h"
#include "support/nist.h"

static double *values(json_t *example, gsize *n) {
  json_t *inputs = json_object_get(example, "inputs");
  if (json_object_get(inputs, "y"))
    return published_matrix(published_input(example, "y"), NULL, n);
  gsize pairs = (gsize)json_integer_value(published_input(example, "repetitions"));
  json_t *pair = published_input(example, "pair");
  double *value = g_new(double, 1 + 2 * pairs);
  value[0] = json_number_value(published_input(example, "first"));
  for (gsize i = 0; i < 2 * pairs; i++)
    value[1 + i] = json_number_value(json_array_get(pair, i % 2));
  *n = 1 + 2 * pairs;
  return value;
}

static void check(json_t *family, const char *id, double mean, double sd, double autocorrelation) {
  json_t *example = published_example(family, id);
  gsize n;
  g_autofree double *value = values(example, &n);
  BtSpread spread = bt__spread(value, n);
  double of_mean = NIST_MOST, of_sd = NIST_MOST, of_autocorrelation = NIST_MOST;
  nist_look(example, "mean", spread.mean, &of_mean);
  nist_look(example, "sd", spread.sd, &of_sd);
  nist_look(example, "lag1_autocorrelation", bt__autocorrelation(value, n), &of_autocorrelation);
  nist_ask(example, "mean", of_mean, mean);
  nist_ask(example, "standard deviation", of_sd, sd);
  nist_ask(example, "lag-1 autocorrelation", of_autocorrelation, autocorrelation);
}

static void moments_reach_the_certified_digits(void **state) {
  (void)state;
  json_t *family = published_family("nist_univariate");
  check(family, "nist_Lew", 15, 14.5, 14.5);
  check(family, "nist_Mavro", 15, 12.9, 13.5);
  check(family, "nist_Michelso", 15, 13.5, 13);
  check(family, "nist_NumAcc1", 15, 15, 15);
  check(family, "nist_NumAcc2", 14.5, 14.5, 14.5);
  check(family, "nist_NumAcc3", 15, 9.4, 11.9);
  check(family, "nist_NumAcc4", 15, 8.2, 10.8);
  json_decref(family);
}

static void few_values_have_no_spread(void **state) {
  (void)state;
  double one = 7;
  BtSpread none = bt__spread(NULL, 0), single = bt__spread(&one, 1);
  assert_int_equal(none.n, 0);
  assert_true(none.mean == 0 && none.sd == 0);
  assert_true(single.mean == 7 && single.sd == 0 && single.variance == 0);
  double same[] = {4, 4, 4};
  assert_true(bt__spread(same, 3).sum_of_squares == 0);
  assert_true(bt__autocorrelation(same, 3) == 0);
  assert_true(bt__autocorrelation(&one, 1) == 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(moments_reach_the_certified_digits),
      cmocka_unit_test(few_values_have_no_spread),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
