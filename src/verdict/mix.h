/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For this folder only: each reading may be good, a little off or gross. What that adds to a Gaussian's density, from C^-1 d and C^-1 alone. */
#pragma once

#include "verdict/evidence.h"

G_BEGIN_DECLS

/* What of a reading's class only a gross one asks for. */
typedef struct
{
  double gross; /* odds against good, times the density of anything within the span over that of a unit normal at 0 */
  double swapped, thousandfold, thousandth; /* odds of gross times their shares; 0: none */
  double observed, variance;    /* of the reading, for those */
} MlMixClass;

/* The classes of n readings as the sum takes them. */
typedef struct
{
  guint n;
  MlMixClass *each;
  double *mild_variance, *mild, *gross; /* mild: odds against good */
} MlMixClasses;

typedef struct
{
  double ln;    /* ln density over that of "all good", the weights of good readings included */
  guint best;   /* reading with the likeliest alternative */
  int odd;      /* reading that the likeliest single gross one is, when that is likelier than all good; -1 */
} MlMixed;

/** ml_mix_classes_new: mild and gross are the shares of such readings. */
MlMixClasses *ml_mix_classes_new (const MlReadingClass *classes, guint n, double mild, double gross);
void ml_mix_classes_free (MlMixClasses *classes);
G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlMixClasses, ml_mix_classes_free)
/**
 * ml_mix: sum over "all good", every single alternative, and every second one on top of the best first one. a[n] is C^-1 d, v[n] the diagonal of
 * C^-1, white the rows of L^-1, one behind the other, each to its diagonal. memory[7 n + 2]; its first n are then the best one's column of C^-1.
 * classes: of n readings or more.
 */
MlMixed ml_mix (const double *a, const double *v, const double *white, const MlMixClasses *classes, guint n, double mild, double gross, double *memory);
/** ml_mix_ln_gross: ln odds that one reading alone is gross, all others good, against all good. */
double ml_mix_ln_gross (double a, double v, const MlMixClass *class);
/** ml_mix_column: one column of C^-1 = L^-T L^-1. */
void ml_mix_column (const double *white, guint n, guint column, double *ret);

/** ml_white_at: where row i of L^-1 begins. */
static inline guint
ml_white_at (guint i)
{
  return i * (i + 1) / 2;
}

G_END_DECLS
