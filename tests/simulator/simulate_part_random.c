// SPDX-License-Identifier: GPL-3.0-or-later
#include "simulator/simulate.h"

#include <math.h>

guint64 random_next(Random *random) {
  guint64 z = random->state += G_GUINT64_CONSTANT(0x9E3779B97F4A7C15);
  z = (z ^ (z >> 30)) * G_GUINT64_CONSTANT(0xBF58476D1CE4E5B9);
  z = (z ^ (z >> 27)) * G_GUINT64_CONSTANT(0x94D049BB133111EB);
  return z ^ (z >> 31);
}

double random_unit(Random *random) {
  return (double)(random_next(random) >> 11) / 9007199254740992.0;
}

bool random_chance(Random *random, double p) {
  return random_unit(random) < p;
}

int random_below(Random *random, int n) {
  return (int)(random_unit(random) * n);
}

double random_normal(Random *random) {
  double u = 1.0 - random_unit(random);
  return sqrt(-2.0 * log(u)) * cos(2.0 * G_PI * random_unit(random));
}

Random random_branch(guint64 seed, guint64 a, guint64 b, guint64 c) {
  Random random = {seed};
  random.state = random_next(&random) ^ a;
  random.state = random_next(&random) ^ b;
  random.state = random_next(&random) ^ c;
  random_next(&random);
  return random;
}

double curve_at(const Curve *curve, int attempt) {
  return curve->plateau - (curve->plateau - curve->start) * exp(-curve->rate * (attempt - 1));
}
