/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the laws of the truth program's network share: adding currents and their slopes to Newton's equations, and steps kept short. */
#pragma once

#include "support/truth-network.h"

#include <lapacke.h>
#include <math.h>

#define MOST_CURRENT_A 1e3 /* an exponential goes on as a straight line from here */

typedef struct
{
  const MlTruthNetwork *network;
  int n;
  const double *x;
  double *f, *jacobian; /* n; n x n by columns */
  lapack_int *pivots;   /* n */
  double *scale;        /* n: sum of the magnitudes that met at a node, A */
  double leak_s, supply_share, gain_share; /* the last two 1 for the circuit as it is */
  double stride;                           /* of a chip's drive in one step, as a change of its inverse hyperbolic sine */
  gboolean limited;
} Assembly;

/* ---- putting the equations together: f is what leaves each node ---- */

static inline void
leave (Assembly *a, int node, double current_a)
{
  if (!node)
    return;
  a->f[node - 1] += current_a;
  a->scale[node - 1] += fabs (current_a);
}

static inline void
slope (Assembly *a, int node, int by, double siemens)
{
  if (node && by)
    a->jacobian[(by - 1) * a->n + node - 1] += siemens;
}

/* A current from one node to another that depends on the voltage between two others. */
static inline void
controlled (Assembly *a, int from, int to, int plus, int minus, double siemens)
{
  slope (a, from, plus, siemens);
  slope (a, from, minus, -siemens);
  slope (a, to, plus, -siemens);
  slope (a, to, minus, siemens);
}

static inline void
flow (Assembly *a, int from, int to, double current_a)
{
  leave (a, from, current_a);
  leave (a, to, -current_a);
}

/* exp with a straight line beyond x = most; both outputs continuous. */
static inline double
bounded_exp (double x, double most, double *ret_slope)
{
  if (x <= most)
    return *ret_slope = exp (x);
  *ret_slope = exp (most);
  return *ret_slope * (1 + x - most);
}

/* An exponential is followed along its current rather than its voltage: a step that would multiply the current many times is cut. */
static inline double
limited_voltage (Assembly *a, double v, double *held, double n_vt, double saturation_a)
{
  double knee = n_vt * log (n_vt / (G_SQRT2 * saturation_a));
  double limited = v;
  if (v > knee && fabs (v - *held) > 2 * n_vt)
    {
      if (*held > 0 && *held > knee - 10 * n_vt)
        limited = v > *held ? *held + n_vt * log1p ((v - *held) / n_vt) : *held - n_vt * log1p ((*held - v) / n_vt) - n_vt;
      else
        limited = knee;
    }
  if (limited != v && fabs (limited - v) > 1e-9)
    a->limited = TRUE;
  return *held = limited;
}

static inline double
softplus (double v, double width, double *ret_slope)
{
  double u = v / width;
  *ret_slope = 1 / (1 + exp (-u));
  return u > 35 ? v : width * log1p (exp (u));
}

/* Of a current that is held between 0 and a limit: look at the corner first before going past it. */
static inline double
stepped (Assembly *a, double asked, double *held, double width, double limit)
{
  double at = asked;
  if ((asked > 0) != (*held > 0) && fabs (asked - *held) > 4 * width)
    at = *held == 0 ? (asked > 0 ? width : -width) : 0;
  else if ((asked > limit) != (*held > limit) && fabs (asked - *held) > 0.04 * limit)
    at = *held == limit ? (asked > limit ? 1.01 : 0.99) * limit : limit;
  if (at != asked)
    a->limited = TRUE;
  return *held = at;
}

/* ---- truth-chips.c ---- */

void ml_truth_chip_assemble (Assembly *a, MlTruthElement *e);
/** ml_truth_chip_is_undecided: a comparator whose output is neither high nor low. */
gboolean ml_truth_chip_is_undecided (const MlTruthElement *e);
