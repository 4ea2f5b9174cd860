/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two other ways to name the faulty part, to measure the verdict against: the nearest signature, and a Bayes classifier that knows the
 * true spread of every part value because it is given samples of it. Both read the truth program, never the engine. */
#pragma once

#include "support/truth-case.h"

G_BEGIN_DECLS

typedef struct _MlRivals MlRivals;

/** ml_rivals_new: signatures and samples of every mode of the board, for all readings of the case. n_samples per mode and size. */
MlRivals *ml_rivals_new (MlTruthCase *c, guint n_samples);
void ml_rivals_free (MlRivals *rivals);
/**
 * ml_rivals_nearest: how far the readings y[n] at the case's places which[n] are from the nearest signature of each part, ret_parts[n_parts], and
 * of a healthy board (sums of squares in a technician's yardstick); INFINITY where there is none.
 */
void ml_rivals_nearest (const MlRivals *rivals, const guint *which, const double *y, guint n, double *ret_parts, double *ret_healthy);
/** ml_rivals_bayes: probabilities of each part, ret_parts[n_parts], and of a healthy board. healthy_prior: of that; the rest flat over
 *  modes, or as the verdict weighs them, which tells what is lost by the readings' weighing from what by other frequencies of faults. */
void ml_rivals_bayes (const MlRivals *rivals, const guint *which, const double *y, guint n, double healthy_prior, gboolean weighted, double *ret_parts,
                      double *ret_healthy);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlRivals, ml_rivals_free)
G_END_DECLS
