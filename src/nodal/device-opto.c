/* SPDX-License-Identifier: GPL-3.0-or-later */
/* opto (anode cathode collector emitter; drop, at, ideality, ratio, leakage):
 *     emitter diode: the law of a diode, series 0.012 drop / at, 10 Gohm
 *     transistor: c = ratio p tanh (vce / 0.1 V) + vce / leakage,  p = softplus (current of the diode, 1 nA)
 *   into the collector c, into the emitter -c.
 * Source: current transfer ratio, common practice; the tanh stands for saturation near 0.1 V, from memory; the emitter's series resistance is 0.6 x
 * 2 % of drop / current, as an LED's in the table of defaults; the diode's leakage is judgement, the nanoampere below which light fades is ours. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { ANODE, CATHODE, COLLECTOR, EMITTER };

typedef struct
{
  MlNodalJunction diode;
  double ratio, leak_s;
} Opto;

static const double saturation_v = 0.1, dark_a = 1e-9, diode_leak_s = 1e-10;

static void
opto_prepare (const double *parameters, double *derived)
{
  Opto *opto = (Opto *) derived;
  ml_nodal_junction_prepare (&opto->diode, parameters[0], parameters[1], parameters[2], 0.012 * parameters[0] / parameters[1]);
  opto->ratio = parameters[3];
  opto->leak_s = 1 / parameters[4];
}

static void
opto_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Opto *opto = (const Opto *) derived;
  double v = x[ANODE] - x[CATHODE], vce = x[COLLECTOR] - x[EMITTER], g = 0, i = 0, light_slope;

  if (!(open & 1u))
    {
      i = ml_nodal_junction_eval (&opto->diode, v, &g);
      ml_nodal_stamp_branch (f, jacobian, 4, ANODE, CATHODE, i + diode_leak_s * v, g + diode_leak_s);
    }
  if (open & 2u)
    return;
  double light = ml_nodal_softplus (i, dark_a, &light_slope), t = tanh (vce / saturation_v);
  ml_nodal_stamp_branch (f, jacobian, 4, COLLECTOR, EMITTER, opto->ratio * light * t + opto->leak_s * vce,
                         opto->ratio * light * (1 - t * t) / saturation_v + opto->leak_s);
  double transfer = opto->ratio * light_slope * g * t;
  jacobian[COLLECTOR * 4 + ANODE] += transfer;
  jacobian[COLLECTOR * 4 + CATHODE] -= transfer;
  jacobian[EMITTER * 4 + ANODE] -= transfer;
  jacobian[EMITTER * 4 + CATHODE] += transfer;
}

static void
opto_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Opto *opto = (const Opto *) derived;
  double v = x[ANODE] - x[CATHODE], vce = x[COLLECTOR] - x[EMITTER], was = old ? old[COLLECTOR] - old[EMITTER] : 0;

  if (!(open & 1u))
    x[ANODE] = x[CATHODE]
               + (old ? ml_nodal_junction_limit (&opto->diode, v, old[ANODE] - old[CATHODE]) : ml_nodal_junction_clamp (&opto->diode, v));
  /* A saturated output has no slope: look at the steep middle before changing sides. */
  if (old && !(open & 2u) && vce * was < 0 && fabs (vce) > saturation_v && fabs (was) > saturation_v)
    x[COLLECTOR] = x[EMITTER];
}

/* Light that falls back on its own LED is gain as well. */
static void
opto_soften (double *derived, double share)
{
  ((Opto *) derived)->ratio *= share;
}

const MlNodalType ml_nodal_opto_type = {
  .word = "opto", .n_pins = 4, .output = 1 + COLLECTOR, .pins = { "anode", "cathode", "collector", "emitter" },
  .n_parameters = 5, .parameters = { { "drop", 1.15 }, { "at", 5e-3 }, { "ideality", 2.0 }, { "ratio", 1.0 }, { "leakage", 1e9 } },
  .n_elements = 2, .elements = { { ANODE, CATHODE }, { COLLECTOR, EMITTER } }, .n_derived = ML_NODAL_JUNCTION_DOUBLES + 2,
  .prepare = opto_prepare, .eval = opto_eval, .limit = opto_limit, .soften = opto_soften,
};
