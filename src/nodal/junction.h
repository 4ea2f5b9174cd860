/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The exponential junction, alone and behind a resistance, and how far Newton may move it. */
#pragma once

/* All members double, so that it can lie in an array of derived quantities. */
typedef struct
{
  double vt;       /* ideality x kT/q, V */
  double sat_a;    /* saturation current */
  double log_sat;  /* its logarithm: valid where sat_a underflows */
  double series;   /* ohm */
  double scale;    /* sat series / vt */
  double offset;   /* scale + ln scale */
  double critical; /* voltage above which the current is the better variable */
  double ceiling;  /* 0 with a series resistance; else the voltage from which exp is continued linearly */
} MlNodalJunction;

#define ML_NODAL_JUNCTION_DOUBLES 8
#define ML_NODAL_CEILING_A 1000.0

/**
 * ml_nodal_omega: the Wright omega function of a real argument, w + ln w = z.
 * Source: Lawrence, Corless, Jeffrey, Algorithm 917, ACM TOMS 38 (2012), iteration of Fritsch, Shafer and Crowley (1973).
 */
double ml_nodal_omega (double z);

/** ml_nodal_softplus: width ln (1 + exp (x / width)), and its slope; a smooth max (x, 0). */
double ml_nodal_softplus (double x, double width, double *ret_slope);

/** ml_nodal_logistic: 1 / (1 + exp (-t)), and its slope; a smooth step, right to the last digits on either side. */
double ml_nodal_logistic (double t, double *ret_slope);

/** ml_nodal_junction_set: from saturation current (its logarithm), n kT/q and series resistance. */
void ml_nodal_junction_set (MlNodalJunction *junction, double log_sat, double vt, double series);
/**
 * ml_nodal_junction_prepare: from a data-sheet point. drop volts at `at` amperes over junction and series resistance together:
 * sat = at / (exp (vj / (ideality kT/q)) - 1), vj = softplus (drop - at series, 10 mV), so that a change of ideality or series
 * resistance pivots about the point.
 */
void ml_nodal_junction_prepare (MlNodalJunction *junction, double drop, double at, double ideality, double series);
/** ml_nodal_junction_prepare_slopes: vt, log_sat and series of that, by drop, `at`, ideality and series, into the four given; any may be NULL. */
void ml_nodal_junction_prepare_slopes (double drop, double at, double ideality, double series, MlNodalJunction *by_drop, MlNodalJunction *by_at,
                                       MlNodalJunction *by_ideality, MlNodalJunction *by_series);
/**
 * ml_nodal_junction_eval: i = sat (exp ((v - i series) / vt) - 1), solved exactly by the Wright omega function; without series
 * resistance exp continued linearly from 1 kA.
 * Source: Shockley 1949; closed form Banwell and Jayakumar, Electronics Letters 36 (2000).
 */
double ml_nodal_junction_eval (const MlNodalJunction *junction, double v, double *ret_slope);
/**
 * ml_nodal_junction_slope: d i / d parameter at v, from the members' (by: of vt, log_sat and series); i and g: current and slope there, of
 * ml_nodal_junction_eval. The implicit law differentiated.
 */
double ml_nodal_junction_slope (const MlNodalJunction *junction, const MlNodalJunction *by, double v, double i, double g);
/**
 * ml_nodal_junction_limit: the voltage at which to linearise next, having last done so at old.
 * Source: current instead of voltage where a junction is steep: Ho, Zein, Ruehli and Brennan, IEEE CAS-24 (1977), from memory; where to change
 * from one to the other is ours.
 */
double ml_nodal_junction_limit (const MlNodalJunction *junction, double v, double old);
/** ml_nodal_junction_clamp: a start voltage cut to where the junction carries some amperes. */
double ml_nodal_junction_clamp (const MlNodalJunction *junction, double v);
