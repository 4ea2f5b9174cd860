/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The evidence of readings grown one by one. What a further reading costs once it is taken is of the order of what is stored; all else can be
 * found before its value is known. */
#pragma once

#include "nodal/nodal.h"
#include "verdict/mix.h"

G_BEGIN_DECLS

/* L^-1 of the Cholesky factor L of C, and what follows from it; and of some unknowns, the watched ones, what the readings leave of them:
 * with h their covariance with the readings, y = L^-1 h, mean y' L^-1 d, variance 1 - y' y. Empty: all 0. */
typedef struct
{
  guint n, room;     /* readings, and how many there is room for */
  double *rows;      /* n (n + 1) / 2 of L^-1, row behind row */
  double *d, *a, *v; /* n each: L^-1 d, C^-1 d, the diagonal of C^-1 */
  double ln_good;    /* ln density of the readings, all of them good */
  guint n_watched, watched_room;
  guint *watched;    /* which unknowns, as they came */
  double *mean, *variance;
  guint *y_end;      /* n: how many were watched at that reading … */
  double **y;        /* … and their y; each of its own size, so that none is ever moved */
  MlNodalRoom *lies_in; /* all that goes with it; NULL: it is to be cleared */
} MlWhitened;

/* One more reading, before its value and its meter's variance are known. */
typedef struct
{
  guint n;         /* readings before it */
  double left;     /* its variance given those */
  double along;    /* l' L^-1 d, l its row of L */
  double *back;    /* n: L^-T l */
  guint n_watched; /* with the new ones, which come last */
  double *y;       /* n_watched: h - l' y, to be divided as all of the row is */
  guint n_new;
  guint *fresh;    /* n_new unknowns not watched so far */
} MlStep;

/** ml_whitened_reserve: room for n readings; it grows by itself, but that takes time. */
void ml_whitened_reserve (MlWhitened *own, guint n);
/** ml_step_room: doubles and unknowns that a step may take when n_h of them have a covariance. */
guint ml_step_room (const MlWhitened *own, guint n_h);
/**
 * ml_whitened_prepare: covariance[n] with the earlier readings, variance of its own; unknown[n_h], h[n_h] the watched unknowns that hang
 * together with it. The step's arrays lie in memory[ml_step_room] and fresh[n_h]; where (NULL when n_h is 0): a number per unknown there may be, all 0 before
 * and after.
 */
MlStep ml_whitened_prepare (const MlWhitened *own, const double *covariance, double variance, const guint *unknown, const double *h, guint n_h,
                            double *memory, guint *fresh, guint *where);
/** ml_whitened_take: the reading is d off what was expected, its meter adds variance. FALSE, and unchanged, when C is then not positive definite. */
gboolean ml_whitened_take (MlWhitened *own, const MlStep *step, double variance, double d);
/** ml_whitened_along: covariance of the watched unknowns, 1 each at first, with one entry of C^-1 d: ret[n_watched]. */
void ml_whitened_along (const MlWhitened *own, guint reading, double *ret);
/** ml_whitened_mix: as ml_mix; memory[7 n + 2]. ln_good is not in it. */
MlMixed ml_whitened_mix (const MlWhitened *own, const MlMixClasses *classes, double mild, double gross, double *memory);
void ml_whitened_clear (MlWhitened *own);

G_END_DECLS
