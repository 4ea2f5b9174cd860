/* SPDX-License-Identifier: GPL-3.0-or-later */
/* lamp (voltage, power), a filament, u = v / voltage:
 *     i = v / R(u),   R = voltage^2 / power (c^4 + (1 - c^4) u^2)^(1/4),   c = 0.1 the cold resistance as a share of the hot one
 *   so that the current grows with about the root of the voltage once it glows.
 * varistor (clamp): i = 1 mA sign (v) |v / clamp|^30, continued along its tangent from 1 kA, plus v / 1 Gohm.
 * Source: cold filaments have about a tenth of the hot resistance, common practice; a current that grows with about the root of the voltage,
 * common practice; power law of metal-oxide varistors with an exponent of 25 to 50 and their voltage at 1 mA, IEC 61051-1 (from memory); the
 * leakage is judgement, the tangent from 1 kA ours. */
#include "nodal/device.h"

#include <math.h>

static const double cold_share = 0.1, exponent = 30.0, varistor_at_a = 1e-3, varistor_top_a = 1e3, varistor_leak_s = 1e-9;

static void
lamp_prepare (const double *parameters, double *derived)
{
  derived[0] = parameters[0];
  derived[1] = parameters[0] * parameters[0] / parameters[1];
}

static void
lamp_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  double v = x[0] - x[1], u = v / derived[0], c4 = pow (cold_share, 4), q = c4 + (1 - c4) * u * u;
  double g = 1.0 / (derived[1] * sqrt (sqrt (q)));

  if (!open)
    ml_nodal_stamp_branch (f, jacobian, 2, 0, 1, g * v, g * (1 - 0.5 * (1 - c4) * u * u / q));
}

static void
varistor_prepare (const double *parameters, double *derived)
{
  derived[0] = parameters[0];
}

static void
varistor_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  double v = x[0] - x[1], u = fabs (v) / derived[0], top = pow (varistor_top_a / varistor_at_a, 1 / exponent);
  double at = fmin (u, top), i = varistor_at_a * pow (at, exponent), g = at > 0 ? exponent * i / (at * derived[0]) : 0;

  if (open)
    return;
  i += g * (u - at) * derived[0];
  ml_nodal_stamp_branch (f, jacobian, 2, 0, 1, copysign (i, v) + varistor_leak_s * v, g + varistor_leak_s);
}

/* Above its clamp voltage the current is the better variable: grow by the logarithm of the step, as with a junction. */
static double
varistor_step (double v, double old, double clamp)
{
  double width = clamp / exponent, critical = 1.1 * clamp;

  if (v <= critical || v <= old || v - old <= 2 * width)
    return v;
  return old < critical - 0.01 * width ? critical : old + width * log1p ((v - old) / width);
}

static void
varistor_limit (const double *derived, unsigned open, const double *old, double *x)
{
  double v = x[0] - x[1], was = old ? old[0] - old[1] : 0;

  if (!open)
    x[0] = x[1] - varistor_step (-varistor_step (v, was, derived[0]), -was, derived[0]);
}

const MlNodalType ml_nodal_lamp_type = {
  .word = "lamp", .n_pins = 2, .pins = { "1", "2" },
  .n_parameters = 2, .parameters = { { "voltage", 12.0 }, { "power", 2.0 } },
  .n_elements = 1, .elements = { { 0, 1 } }, .n_derived = 2,
  .prepare = lamp_prepare, .eval = lamp_eval,
};

const MlNodalType ml_nodal_varistor_type = {
  .word = "varistor", .n_pins = 2, .pins = { "1", "2" },
  .n_parameters = 1, .parameters = { { "clamp", 40.0 } },
  .n_elements = 1, .elements = { { 0, 1 } }, .n_derived = 1,
  .prepare = varistor_prepare, .eval = varistor_eval, .limit = varistor_limit,
};
