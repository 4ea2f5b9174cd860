/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What good units tell about the parts of this one: z, which knew nothing but N(0, I), is then N(mean, B B'). With z = mean + B w the
 * unknowns w are N(0, I) again, so that all that is built on them stays as it is. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

typedef struct
{
  guint n_z, rank;
  double *mean;      /* [n_z] */
  double *direction; /* [rank * n_z] unit rows; B = product of (I - shrink row' row) */
  double *shrink;    /* [rank] */
  double *rows;      /* [n_z * n_z] B */
  gboolean *known;   /* [n_z] a block's conductance that the good units tell; the other blocks' stay free */
  double **pin_v;    /* [condition] voltages at the blocks' pins on the good unit, part after part; NULL: not measured there */
  guint n_conditions;
  gboolean alike;    /* the good units and this one are the board as drawn: sound, their chips see the same voltages */
} MlCarried;

/**
 * ml_carried_new: rows[n * n_z] = J F, slopes of n readings of good units in the unknowns of this one, times the share in common; d[n] =
 * observed - predicted + J z; covariance[n * n] of d with the readings' noise, row-major. NULL when that is not positive definite.
 * Source: Gaussian conditioning, mean = F J' C^-1 d, covariance I - F J' C^-1 J F; its root reading by reading (Potter's square-root filter).
 */
MlCarried *ml_carried_new (guint n_z, guint n, const double *rows, const double *d, const double *covariance);
void ml_carried_free (MlCarried *carried);
/** ml_carried_to_z: ret_z[n_z] = mean + B w; w NULL: all 0. */
void ml_carried_to_z (const MlCarried *carried, const double *w, double *ret_z);
/** ml_carried_slopes: slopes in z become slopes in w, in place. */
void ml_carried_slopes (const MlCarried *carried, double *slope);
/** ml_carried_variance: what is left of the variance of one z. */
double ml_carried_variance (const MlCarried *carried, guint z);

G_END_DECLS
