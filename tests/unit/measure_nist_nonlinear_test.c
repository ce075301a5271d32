// SPDX-License-Identifier: GPL-3.0-or-later
//
// Nonlinear least squares against NIST's certified values, from both of NIST's starts. Derivatives
// are exact to rounding: each model is written once, over complex numbers, and the imaginary part
// of a step of 1e-30 is the derivative (Squire and Trapp 1998, SIAM Rev 40:110-112).
#include <complex.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "measure/nonlinear.h"
#include "support/nist.h"

#define MOST_PARAMETERS 9
#define STEP            1e-30
#define PI              3.14159265358979323846

typedef double complex Z;
typedef Z Model(const Z *b, double x, double x2);

// Models ----------------------------------------------------------------------

static Z bennett5(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] * cexp(-clog(b[1] + x) / b[2]);
}

static Z box_bod(const Z *b, double x, double x2) { // Misra1a too
  (void)x2;
  return b[0] * (1 - cexp(-b[1] * x));
}

static Z chwirut(const Z *b, double x, double x2) {
  (void)x2;
  return cexp(-b[0] * x) / (b[1] + b[2] * x);
}

static Z dan_wood(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] * cexp(b[1] * log(x));
}

static Z enso(const Z *b, double x, double x2) {
  (void)x2;
  Z year = 2 * PI * x / 12, second = 2 * PI * x / b[3], third = 2 * PI * x / b[6];
  return b[0] + b[1] * ccos(year) + b[2] * csin(year) + b[4] * ccos(second) + b[5] * csin(second) +
         b[7] * ccos(third) + b[8] * csin(third);
}

static Z eckerle4(const Z *b, double x, double x2) {
  (void)x2;
  Z away = (x - b[2]) / b[1];
  return b[0] / b[1] * cexp(-0.5 * away * away);
}

static Z gauss(const Z *b, double x, double x2) {
  (void)x2;
  Z first = (x - b[3]) / b[4], second = (x - b[6]) / b[7];
  return b[0] * cexp(-b[1] * x) + b[2] * cexp(-first * first) + b[5] * cexp(-second * second);
}

static Z hahn1(const Z *b, double x, double x2) { // Thurber too
  (void)x2;
  return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1 + x * (b[4] + x * (b[5] + x * b[6])));
}

static Z kirby2(const Z *b, double x, double x2) {
  (void)x2;
  return (b[0] + x * (b[1] + x * b[2])) / (1 + x * (b[3] + x * b[4]));
}

static Z lanczos(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] * cexp(-b[1] * x) + b[2] * cexp(-b[3] * x) + b[4] * cexp(-b[5] * x);
}

static Z mgh09(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]);
}

static Z mgh10(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] * cexp(b[1] / (x + b[2]));
}

static Z mgh17(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] + b[1] * cexp(-x * b[3]) + b[2] * cexp(-x * b[4]);
}

static Z misra1b(const Z *b, double x, double x2) {
  (void)x2;
  Z root = 1 + b[1] * x / 2;
  return b[0] * (1 - 1 / (root * root));
}

static Z misra1c(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] * (1 - 1 / csqrt(1 + 2 * b[1] * x));
}

static Z misra1d(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] * b[1] * x / (1 + b[1] * x);
}

static Z nelson(const Z *b, double x, double x2) { // of log(y)
  return b[0] - b[1] * x * cexp(-b[2] * x2);
}

static Z rat42(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] / (1 + cexp(b[1] - b[2] * x));
}

static Z rat43(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] / cexp(clog(1 + cexp(b[1] - b[2] * x)) / b[3]);
}

static Z roszman1(const Z *b, double x, double x2) {
  (void)x2;
  return b[0] - b[1] * x - catan(b[2] / (x - b[3])) / PI;
}

// Fitting ---------------------------------------------------------------------

typedef struct {
  Model *model;
  gsize rows, parameters;
  double *y, *x, *x2; // x2 may be NULL
} Problem;

static Problem problem_of(json_t *example, Model *model) {
  Problem p = {.model = model};
  json_t *inputs = json_object_get(example, "inputs");
  bool two = json_object_get(inputs, "x1") != NULL;
  p.y = published_matrix(published_input(example, "y"), NULL, &p.rows);
  p.x = published_matrix(published_input(example, two ? "x1" : "x"), NULL, NULL);
  p.x2 = two ? published_matrix(published_input(example, "x2"), NULL, NULL) : NULL;
  p.parameters = json_array_size(published_input(example, "start1"));
  for (gsize i = 0; two && i < p.rows; i++)
    p.y[i] = log(p.y[i]);
  return p;
}

static bool residuals(const double *b, double *residual, double *derivative, gconstpointer data) {
  const Problem *p = data;
  Z at[MOST_PARAMETERS];
  for (gsize j = 0; j < p->parameters; j++)
    at[j] = b[j];
  for (gsize i = 0; i < p->rows; i++) {
    double x2 = p->x2 ? p->x2[i] : 0;
    residual[i] = creal(p->model(at, p->x[i], x2)) - p->y[i];
    for (gsize j = 0; derivative && j < p->parameters; j++) {
      at[j] = b[j] + STEP * I;
      derivative[i * p->parameters + j] = cimag(p->model(at, p->x[i], x2)) / STEP;
      at[j] = b[j];
    }
  }
  return true;
}

// The fewest digits of coefficients, standard errors and residual figures; all 0 when it did not
// settle.
static void digits_of(json_t *example, const Problem *p, const char *start, double digits[3]) {
  g_autofree double *from = published_matrix(published_input(example, start), NULL, NULL);
  g_autoptr(BtNonlinear) fit = bt__nonlinear(residuals, p, p->rows, from, p->parameters);
  for (int i = 0; i < 3; i++)
    digits[i] = fit->why_not ? 0 : NIST_MOST;
  if (fit->why_not)
    print_message("  %s: %s\n", start, fit->why_not);
  for (gsize j = 0; !fit->why_not && j < p->parameters; j++) {
    g_autofree char *name = g_strdup_printf("b%u", (unsigned)j + 1);
    g_autofree char *sd_name = g_strconcat("sd_", name, NULL);
    nist_look(example, name, fit->b[j], &digits[0]);
    nist_look(example, sd_name, sqrt(fit->covariance[j * p->parameters + j]), &digits[1]);
  }
  if (!fit->why_not) {
    nist_look(example, "rss", fit->residual_ss, &digits[2]);
    nist_look(example, "rsd", fit->residual_sd, &digits[2]);
  }
}

// `needed` digits of the three kinds, from both starts.
static void check(json_t *family, const char *id, Model *model, const double needed[2][3]) {
  static const char *const starts[] = {"start1", "start2"};
  static const char *const kinds[] = {"coefficients", "standard errors", "residuals"};
  json_t *example = published_example(family, id);
  Problem p = problem_of(example, model);
  for (int s = 0; s < 2; s++) {
    double digits[3];
    digits_of(example, &p, starts[s], digits);
    for (int i = 0; i < 3; i++) {
      g_autofree char *what = g_strdup_printf("%s, %s", starts[s], kinds[i]);
      nist_ask(example, what, digits[i], needed[s][i]);
    }
  }
  g_free(p.y);
  g_free(p.x);
  g_free(p.x2);
}

// Every data set settles from both starts, on the certified eleven digits but for the rounding of
// the last (what is lost below 10.0 to 10.5 lies in the eleventh). Two fall short of that: Rat43
// from its far start, where the last steps shrink slowly, and Lanczos1, whose residuals (1e-13 of
// values near 1) are mostly rounding: their sum and what rests on it have three digits.
static void both_starts_reach_the_certified_values(void **state) {
  (void)state;
  static const struct {
    const char *id;
    Model *model;
  } problems[] = {
      {"nist_Misra1a", box_bod},   {"nist_Chwirut1", chwirut},  {"nist_Chwirut2", chwirut},
      {"nist_Lanczos3", lanczos},  {"nist_Gauss1", gauss},      {"nist_Gauss2", gauss},
      {"nist_DanWood", dan_wood},  {"nist_Misra1b", misra1b},   {"nist_Kirby2", kirby2},
      {"nist_Hahn1", hahn1},       {"nist_Nelson", nelson},     {"nist_MGH17", mgh17},
      {"nist_Misra1c", misra1c},   {"nist_Misra1d", misra1d},   {"nist_Roszman1", roszman1},
      {"nist_ENSO", enso},         {"nist_MGH09", mgh09},       {"nist_Thurber", hahn1},
      {"nist_BoxBOD", box_bod},    {"nist_Rat42", rat42},       {"nist_MGH10", mgh10},
      {"nist_Eckerle4", eckerle4}, {"nist_Bennett5", bennett5}, {"nist_Gauss3", gauss},
      {"nist_Lanczos2", lanczos},
  };
  static const double all[2][3] = {{9.5, 9.5, 9.5}, {9.5, 9.5, 9.5}};
  json_t *family = published_family("nist_nonlinear");
  assert_int_equal(json_array_size(family), G_N_ELEMENTS(problems) + 2);
  for (gsize i = 0; i < G_N_ELEMENTS(problems); i++)
    check(family, problems[i].id, problems[i].model, all);
  check(family, "nist_Rat43", rat43, (const double[2][3]){{9, 9, 9.5}, {9.5, 9.5, 9.5}});
  check(family, "nist_Lanczos1", lanczos, (const double[2][3]){{9.5, 2.5, 2.5}, {9.5, 2.5, 2.5}});
  json_decref(family);
}

static bool flat(const double *b, double *residual, double *derivative, gconstpointer data) {
  (void)data;
  for (int i = 0; i < 4; i++) {
    residual[i] = b[0] + b[1] - i;
    if (derivative)
      derivative[2 * i] = derivative[2 * i + 1] = 1;
  }
  return true;
}

static bool nowhere(const double *b, double *residual, double *derivative, gconstpointer data) {
  (void)b;
  (void)residual;
  (void)derivative;
  (void)data;
  return false;
}

static void what_has_no_answer_says_so(void **state) {
  (void)state;
  double start[] = {1, 1};
  g_autoptr(BtNonlinear) same = bt__nonlinear(flat, NULL, 4, start, 2);
  assert_string_equal(same->why_not, "what explains the values cannot be told apart");
  g_autoptr(BtNonlinear) undefined = bt__nonlinear(nowhere, NULL, 4, start, 2);
  assert_string_equal(undefined->why_not, "the curve did not settle on any figures");
  g_autoptr(BtNonlinear) few = bt__nonlinear(nowhere, NULL, 1, start, 2);
  assert_string_equal(few->why_not, "there are fewer values than figures to find");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(both_starts_reach_the_certified_values),
      cmocka_unit_test(what_has_no_answer_says_so),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
