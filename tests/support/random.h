/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seeded random numbers that are the same on every machine. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

typedef struct { guint64 state; } MlRandom;

/** ml_random_seeded: two seeds that differ in one bit give unrelated sequences. */
MlRandom ml_random_seeded (guint64 seed);
guint64 ml_random_bits (MlRandom *random);
/** ml_random_uniform: in [0, 1). */
double ml_random_uniform (MlRandom *random);
/** ml_random_normal: mean 0, standard deviation 1 (Box and Muller 1958). */
double ml_random_normal (MlRandom *random);
/** ml_random_below: 0 .. n-1; n > 0. */
guint ml_random_below (MlRandom *random, guint n);
/** ml_random_between: an integer, both ends possible. */
int ml_random_between (MlRandom *random, int low, int high);
gboolean ml_random_chance (MlRandom *random, double probability);
/** ml_random_log: between low and high, evenly spread over the logarithm. */
double ml_random_log (MlRandom *random, double low, double high);

G_END_DECLS
