/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/random.h"

#include <math.h>

MlRandom
ml_random_seeded (guint64 seed)
{
  MlRandom random = { seed };
  ml_random_bits (&random);
  return random;
}

/* SplitMix64: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", 2014 (constants from memory). */
guint64
ml_random_bits (MlRandom *random)
{
  guint64 z = random->state += G_GUINT64_CONSTANT (0x9e3779b97f4a7c15);
  z = (z ^ (z >> 30)) * G_GUINT64_CONSTANT (0xbf58476d1ce4e5b9);
  z = (z ^ (z >> 27)) * G_GUINT64_CONSTANT (0x94d049bb133111eb);
  return z ^ (z >> 31);
}

double
ml_random_uniform (MlRandom *random)
{
  return (ml_random_bits (random) >> 11) * 0x1p-53;
}

double
ml_random_normal (MlRandom *random)
{
  double radius = sqrt (-2 * log (1 - ml_random_uniform (random)));
  return radius * cos (2 * G_PI * ml_random_uniform (random));
}

guint
ml_random_below (MlRandom *random, guint n)
{
  return MIN ((guint) (ml_random_uniform (random) * n), n - 1);
}

int
ml_random_between (MlRandom *random, int low, int high)
{
  return low + (int) ml_random_below (random, high - low + 1);
}

gboolean
ml_random_chance (MlRandom *random, double probability)
{
  return ml_random_uniform (random) < probability;
}

double
ml_random_log (MlRandom *random, double low, double high)
{
  return low * exp (ml_random_uniform (random) * log (high / low));
}
