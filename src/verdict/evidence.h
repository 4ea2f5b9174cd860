/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How well readings agree with predictions: a Gaussian with full covariance, mixed per reading with "a little off" and "gross". */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/* One reading as the evidence sees it; V, A or ln ohm throughout. */
typedef struct
{
  double mild_variance; /* what "a little off" adds */
  double span;          /* a gross one may be anything within this */
  double seldom;        /* how many times more seldom than others it is gross; 0 is as 1 */
  double swapped, thousandfold, thousandth; /* shares of the gross ones with swapped probes, typed with an m lost, with one too many; 0: not of this kind */
  double observed, variance;    /* for those: what was read, and the meter's variance */
} MlReadingClass;

typedef struct
{
  double ln;        /* ln density of the readings, the mixture included */
  double ln_good;   /* the same with every reading good, without their class weights */
  double chi2;      /* d' C^-1 d */
  double *a;        /* [n] C^-1 d */
  double *factor;   /* [n * n] lower Cholesky factor L of C, row-major */
  double *white;    /* L^-1, row behind row, each to its diagonal */
  double *ln_gross; /* [n] ln odds that this reading alone is gross, all others good, against all good */
  guint n;
} MlEvidence;

/**
 * ml_evidence_weigh: d[n] = observed - predicted, covariance[n * n] of d (row-major, symmetric; only the lower half is read).
 * FALSE when the covariance is not positive definite; ret_evidence is then untouched. Free with ml_evidence_clear.
 * Source: Gaussian conditioning; each alternative is a rank-one change of the Gaussian (matrix determinant lemma, Sherman-Morrison).
 */
gboolean ml_evidence_weigh (const double *d, const double *covariance, const MlReadingClass *classes, guint n, double mild, double gross,
                            MlEvidence *ret_evidence);
void ml_evidence_clear (MlEvidence *evidence);

/** ml_evidence_solve: x = C^-1 b; may be the same array. */
void ml_evidence_solve (const MlEvidence *evidence, const double *b, double *ret_x);
/** ml_evidence_posteriors_room: how many numbers an array of n_unknowns has below. */
guint ml_evidence_posteriors_room (guint n_unknowns);
/**
 * ml_evidence_posteriors: of independent unit normal unknowns, each by itself: mean and variance as the readings leave them, 1 - |L^-1 h|^2. white: rows of
 * L^-1; slopes[n * room] of the readings; a[n] is C^-1 d, of[n] any vector, and ret_along its products with the slopes; all three [room].
 */
void ml_evidence_posteriors (const double *white, const double *a, const double *of, guint n, const double *slopes, guint room, double *ret_mean,
                             double *ret_variance, double *ret_along);
/** ml_ln_add: ln (e^a + e^b). */
double ml_ln_add (double a, double b);
/** ml_chi2_tail: share of a chi-squared distribution with n degrees of freedom above x (Abramowitz and Stegun 6.5.4, 26.4.19). */
double ml_chi2_tail (double x, guint n);

G_END_DECLS
