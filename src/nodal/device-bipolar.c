/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bipolar transistors: npn, pnp (collector base emitter; saturation, gain, reverse_gain, early, polarity, leakage).
 *
 * npn, kT/q at 25 C, vbe and vbc the junction voltages, F = saturation exp (vbe / (kT/q)), R = saturation exp (vbc / (kT/q)), either
 * continued linearly from 1 kA:
 *     transport  t = (F - R) (1 + h / early),   h = (sqrt (vbc^2 + 0.01 V^2) - vbc) / 2   (vcb where that is positive, smoothly)
 *     base-emitter  be = (F - saturation) / gain + vbe / (100 leakage),   base-collector  bc = (R - saturation) / reverse_gain + vbc / (100 leakage)
 *     leak  l = (vbe - vbc) / leakage from collector to emitter
 *     into the collector t - bc + l, into the base be + bc, into the emitter -t - be - l.
 * pnp: the same with all voltages and currents reversed; and so with a polarity below zero: the other kind in this one's place.
 * An opened base-emitter or base-collector element carries nothing, and then there is no transport and no leak either.
 * Source: Ebers and Moll, Proc. IRE 42 (1954), in transport form; Early, Proc. IRE 40 (1952); leakage of the junctions from memory; what keeps
 * the law smooth and finite (the root, the line from 1 kA on) is ours. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { COLLECTOR, BASE, EMITTER };
enum { SATURATION, GAIN, REVERSE_GAIN, EARLY, POLARITY, LEAKAGE, N_PARAMETERS };

typedef struct
{
  MlNodalJunction junction;
  double sign, per_gain, per_reverse_gain, per_early, leak_s, leak_across_s;
} Bipolar;

static void
bipolar_prepare (const double *parameters, double *derived, double sign)
{
  Bipolar *bipolar = (Bipolar *) derived;
  ml_nodal_junction_set (&bipolar->junction, log (parameters[SATURATION]), ML_NODAL_THERMAL_V, 0.0);
  bipolar->sign = parameters[POLARITY] < 0.0 ? -sign : sign;
  bipolar->per_gain = 1.0 / parameters[GAIN];
  bipolar->per_reverse_gain = 1.0 / parameters[REVERSE_GAIN];
  bipolar->per_early = 1.0 / parameters[EARLY];
  bipolar->leak_across_s = 1.0 / parameters[LEAKAGE];
  bipolar->leak_s = 0.01 * bipolar->leak_across_s;
}

static void
npn_prepare (const double *parameters, double *derived)
{
  bipolar_prepare (parameters, derived, 1.0);
}

static void
pnp_prepare (const double *parameters, double *derived)
{
  bipolar_prepare (parameters, derived, -1.0);
}

static void
bipolar_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Bipolar *q = (const Bipolar *) derived;
  double vbe = q->sign * (x[BASE] - x[EMITTER]), vbc = q->sign * (x[BASE] - x[COLLECTOR]);
  double slope_e, slope_c;
  double be = 0, g_be = 0, bc = 0, g_bc = 0;

  /* F - saturation and R - saturation keep their digits near zero volts. */
  double forward = ml_nodal_junction_eval (&q->junction, vbe, &slope_e);
  double reverse = ml_nodal_junction_eval (&q->junction, vbc, &slope_c);
  if (!(open & 1u))
    {
      be = forward * q->per_gain + q->leak_s * vbe;
      g_be = slope_e * q->per_gain + q->leak_s;
    }
  if (!(open & 2u))
    {
      bc = reverse * q->per_reverse_gain + q->leak_s * vbc;
      g_bc = slope_c * q->per_reverse_gain + q->leak_s;
    }
  ml_nodal_stamp_branch (f, jacobian, 3, BASE, EMITTER, q->sign * be, g_be);
  ml_nodal_stamp_branch (f, jacobian, 3, BASE, COLLECTOR, q->sign * bc, g_bc);
  if (open)
    return;
  ml_nodal_stamp_branch (f, jacobian, 3, COLLECTOR, EMITTER, q->leak_across_s * (x[COLLECTOR] - x[EMITTER]), q->leak_across_s);

  double root = sqrt (vbc * vbc + 0.01);
  double early = 1.0 + 0.5 * (root - vbc) * q->per_early;
  double early_slope = 0.5 * (vbc / root - 1.0) * q->per_early;
  double transport = (forward - reverse) * early;
  double by_be = slope_e * early, by_bc = -slope_c * early + (forward - reverse) * early_slope;
  f[COLLECTOR] += q->sign * transport;
  f[EMITTER] -= q->sign * transport;
  for (int k = 0; k < 2; k++)
    {
      int row = k == 0 ? COLLECTOR : EMITTER;
      double s = k == 0 ? 1.0 : -1.0;
      jacobian[row * 3 + BASE] += s * (by_be + by_bc);
      jacobian[row * 3 + EMITTER] -= s * by_be;
      jacobian[row * 3 + COLLECTOR] -= s * by_bc;
    }
}

static void
bipolar_prepare_slopes (const double *parameters, double *ret)
{
  Bipolar *by = (Bipolar *) ret;
  by[SATURATION].junction.log_sat = 1.0 / parameters[SATURATION];
  by[GAIN].per_gain = -1.0 / (parameters[GAIN] * parameters[GAIN]);
  by[REVERSE_GAIN].per_reverse_gain = -1.0 / (parameters[REVERSE_GAIN] * parameters[REVERSE_GAIN]);
  by[EARLY].per_early = -1.0 / (parameters[EARLY] * parameters[EARLY]);
  by[LEAKAGE].leak_across_s = -1.0 / (parameters[LEAKAGE] * parameters[LEAKAGE]);
  by[LEAKAGE].leak_s = 0.01 * by[LEAKAGE].leak_across_s;
}

static void
bipolar_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  const Bipolar *q = (const Bipolar *) derived, *by = (const Bipolar *) d_derived;
  double vbe = q->sign * (x[BASE] - x[EMITTER]), vbc = q->sign * (x[BASE] - x[COLLECTOR]), slope_e, slope_c, root = sqrt (vbc * vbc + 0.01);
  double forward = ml_nodal_junction_eval (&q->junction, vbe, &slope_e), reverse = ml_nodal_junction_eval (&q->junction, vbc, &slope_c);
  double high = 0.5 * (root - vbc), early = 1.0 + high * q->per_early;

  for (int p = 0; p < N_PARAMETERS; p++, by++, ret += 3)
    {
      double f = ml_nodal_junction_slope (&q->junction, &by->junction, vbe, forward, slope_e);
      double r = ml_nodal_junction_slope (&q->junction, &by->junction, vbc, reverse, slope_c);
      double be = open & 1u ? 0.0 : f * q->per_gain + forward * by->per_gain + by->leak_s * vbe;
      double bc = open & 2u ? 0.0 : r * q->per_reverse_gain + reverse * by->per_reverse_gain + by->leak_s * vbc;
      double across = open ? 0.0 : (f - r) * early + (forward - reverse) * high * by->per_early + by->leak_across_s * (vbe - vbc);
      ret[COLLECTOR] = q->sign * (across - bc);
      ret[BASE] = q->sign * (be + bc);
      ret[EMITTER] = q->sign * (-across - be);
    }
}

static void
bipolar_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Bipolar *q = (const Bipolar *) derived;
  int ends[2] = { EMITTER, COLLECTOR };

  for (int k = 0; k < 2; k++)
    {
      double v = q->sign * (x[BASE] - x[ends[k]]);
      if (open & 1u << k)
        continue;
      if (old)
        v = ml_nodal_junction_limit (&q->junction, v, q->sign * (old[BASE] - old[ends[k]]));
      else
        v = ml_nodal_junction_clamp (&q->junction, v);
      x[ends[k]] = x[BASE] - q->sign * v;
    }
}

#define BIPOLAR \
  .n_pins = 3, .output = 1 + COLLECTOR, .pins = { "collector", "base", "emitter" }, .n_parameters = N_PARAMETERS, \
  .parameters = { { "saturation", 1e-13 }, { "gain", 150.0 }, { "reverse_gain", 2.0 }, { "early", 80.0 }, { "polarity", 1.0 }, \
    { "leakage", 1e10 } }, \
  .n_elements = 2, .elements = { { BASE, EMITTER }, { BASE, COLLECTOR } }, .n_derived = ML_NODAL_JUNCTION_DOUBLES + 6, \
  .eval = bipolar_eval, .prepare_slopes = bipolar_prepare_slopes, .slopes = bipolar_slopes, .limit = bipolar_limit

const MlNodalType ml_nodal_npn_type = { .word = "npn", BIPOLAR, .prepare = npn_prepare };
const MlNodalType ml_nodal_pnp_type = { .word = "pnp", BIPOLAR, .prepare = pnp_prepare };
