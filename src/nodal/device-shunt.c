/* SPDX-License-Identifier: GPL-3.0-or-later */
/* shunt (cathode anode reference; reference, slope, minimum, lowest), an adjustable shunt reference. u = v_cathode - v_anode,
 * r = v_reference - v_anode:
 *     i = (minimum L((r - reference + 0.1 V) / 20 mV) + softplus ((r - reference) / slope, minimum / 5)) h(u)
 *   L the logistic function, h(u) = w / (w + 50 mV), w = softplus (u - lowest, 20 mV): it cannot pull its cathode below that.
 *   From cathode to anode i + u / 100 Mohm; a diode from anode to cathode: 0.7 V at 10 mA, ideality 1.2, series 0.5 ohm.
 *   The reference pin takes no current. slope in ohm: with reference on the cathode the dynamic resistance is slope.
 * Source: block diagram of three-pin shunt references, common practice; its lowest cathode voltage and the diode from memory; the 100 Mohm are
 * judgement, smooth widths ours. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { CATHODE, ANODE, REFERENCE };

typedef struct
{
  double reference, slope, minimum, lowest;
  MlNodalJunction diode;
} Shunt;

static const double leak_s = 1e-8;

static void
shunt_prepare (const double *parameters, double *derived)
{
  Shunt *shunt = (Shunt *) derived;
  shunt->reference = parameters[0];
  shunt->slope = parameters[1];
  shunt->minimum = parameters[2];
  shunt->lowest = parameters[3];
  ml_nodal_junction_prepare (&shunt->diode, 0.7, 10e-3, 1.2, 0.5);
}

static void
shunt_soften (double *derived, double share)
{
  ((Shunt *) derived)->slope /= share;
}

static void
shunt_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Shunt *shunt = (const Shunt *) derived;
  double u = x[CATHODE] - x[ANODE], over = x[REFERENCE] - x[ANODE] - shunt->reference, w_slope, drive_slope, g;

  if (!(open & 1u))
    {
      double w = ml_nodal_softplus (u - shunt->lowest, 0.02, &w_slope), h = w / (w + 0.05), h_slope = 0.05 / ((w + 0.05) * (w + 0.05)) * w_slope;
      double bias = 1 / (1 + exp (-fmax (fmin ((over + 0.1) / 0.02, 700), -700)));
      double drive = ml_nodal_softplus (over / shunt->slope, shunt->minimum / 5, &drive_slope);
      double i = shunt->minimum * bias + drive, by_reference = (shunt->minimum * bias * (1 - bias) / 0.02 + drive_slope / shunt->slope) * h;
      ml_nodal_stamp_branch (f, jacobian, 3, CATHODE, ANODE, i * h, i * h_slope);
      jacobian[CATHODE * 3 + REFERENCE] += by_reference;
      jacobian[CATHODE * 3 + ANODE] -= by_reference;
      jacobian[ANODE * 3 + REFERENCE] -= by_reference;
      jacobian[ANODE * 3 + ANODE] += by_reference;
    }
  ml_nodal_stamp_branch (f, jacobian, 3, CATHODE, ANODE, leak_s * u, leak_s);
  double i = ml_nodal_junction_eval (&shunt->diode, -u, &g);
  ml_nodal_stamp_branch (f, jacobian, 3, ANODE, CATHODE, i, g);
}

static void
shunt_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Shunt *shunt = (const Shunt *) derived;
  double back = x[ANODE] - x[CATHODE];

  back = old ? ml_nodal_junction_limit (&shunt->diode, back, old[ANODE] - old[CATHODE]) : ml_nodal_junction_clamp (&shunt->diode, back);
  x[CATHODE] = x[ANODE] - back;
  if (open || !old)
    return;
  /* The cathode current turns on within millivolts of the reference: enter there, and grow slowly. */
  double over = x[REFERENCE] - x[ANODE] - shunt->reference, was = old[REFERENCE] - old[ANODE] - shunt->reference;
  if (was < 0 && over > 0.01)
    over = 0.01;
  else if (was >= 0 && over > 2 * was + 0.05)
    over = 2 * was + 0.05;
  else if (was > 0 && over < -0.1)
    over = -0.1;
  x[REFERENCE] = x[ANODE] + shunt->reference + over;
}

const MlNodalType ml_nodal_shunt_type = {
  .word = "shunt", .flags = ML_NODAL_STEEP, .n_pins = 3, .output = 1 + CATHODE, .pins = { "cathode", "anode", "reference" },
  .n_parameters = 4, .parameters = { { "reference", 2.5 }, { "slope", 0.2 }, { "minimum", 0.5e-3 }, { "lowest", 1.9 } },
  .n_elements = 1, .elements = { { CATHODE, ANODE } }, .n_paths = 1, .paths = { { ANODE, CATHODE } }, .rest = { 0, 0, 1 + ANODE },
  .n_derived = 4 + ML_NODAL_JUNCTION_DOUBLES,
  .prepare = shunt_prepare, .eval = shunt_eval, .limit = shunt_limit, .soften = shunt_soften,
};
