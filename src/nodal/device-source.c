/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sources. j is the current into the plus pin, an unknown of its own.
 *
 * battery (voltage, resistance): v_plus - v_minus - voltage - resistance j = 0.
 * supply (voltage, limit), a bench supply: with s = -j the current it delivers,
 *     v_plus - v_minus = voltage - scale (exp ((s - limit) / w) - exp ((-s - limit) / w)) - r s
 *   scale = |voltage| + 0.1 V, w = limit / 500, r = 1e-9 scale / limit. Up to 2 % below the limit the voltage is right to 5e-5 of
 *   itself, at 4 % to 2e-9; shorted it delivers the limit. It takes at most the limit when something drives it above its voltage.
 *   exp is continued linearly from exponent 30. The tiny r lets an exact short across it be solved.
 * load-current (current): a load that draws it whatever the voltage: i = current (tanh (v / 50 mV) + 1e-6 v / 1 V), so that it never
 *   supplies; the second term is the slope that real loads have, and keeps a net determined that only loads hang on.
 * current-source (current): flows into plus and out of minus whatever the voltage.
 * Source: a battery as its voltage behind a resistance, textbook; constant-voltage/constant-current law of bench supplies, common practice; the
 * smooth knee, and the 50 mV within which a load gives up, are ours. */
#include "nodal/device.h"

#include <math.h>

enum { VOLTAGE, LIMIT };
enum { S_VOLTAGE, S_LIMIT, S_WIDTH, S_SCALE, S_OHM };

static void
battery_prepare (const double *parameters, double *derived)
{
  derived[0] = parameters[0];
  derived[1] = parameters[1];
}

static void
battery_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  f[0] = x[2];
  f[1] = -x[2];
  jacobian[2] = 1;
  jacobian[5] = -1;
  if (open)
    {
      f[2] = x[2];
      jacobian[8] = 1;
      return;
    }
  f[2] = x[0] - x[1] - derived[0] - derived[1] * x[2];
  jacobian[6] = 1;
  jacobian[7] = -1;
  jacobian[8] = -derived[1];
}

static void
battery_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  if (open)
    return;
  ret[2] = -1;
  ret[5] = -x[2];
}

static void
supply_prepare (const double *parameters, double *derived)
{
  double limit = fmin (fmax (parameters[LIMIT], 1e-9), 1e6); /* INFINITY: no limit worth the name */
  derived[S_VOLTAGE] = parameters[VOLTAGE];
  derived[S_LIMIT] = limit;
  derived[S_WIDTH] = limit / 500.0;
  derived[S_SCALE] = fabs (parameters[VOLTAGE]) + 0.1;
  derived[S_OHM] = 1e-9 * derived[S_SCALE] / limit;
}

/* exp, continued linearly from exponent 30 */
static double
knee (double u, double *ret_slope)
{
  double e = exp (fmin (u, 30.0));
  *ret_slope = e;
  return u > 30.0 ? e * (u - 29.0) : e;
}

static void
supply_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  double s = -x[2], w = derived[S_WIDTH], up, down;

  f[0] = x[2];
  f[1] = -x[2];
  jacobian[2] = 1;
  jacobian[5] = -1;
  double fall = derived[S_SCALE] * (knee ((s - derived[S_LIMIT]) / w, &up) - knee ((-s - derived[S_LIMIT]) / w, &down));
  f[2] = x[0] - x[1] - derived[S_VOLTAGE] + fall + derived[S_OHM] * s;
  jacobian[6] = 1;
  jacobian[7] = -1;
  jacobian[8] = -derived[S_SCALE] * (up + down) / w - derived[S_OHM];
}

/* In its voltage, of which the scale is made, and in its limit, of which the width is. */
static void
supply_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  double s = -x[2], w = derived[S_WIDTH], limit = derived[S_LIMIT], up, down, sign = (derived[S_VOLTAGE] > 0) - (derived[S_VOLTAGE] < 0);
  double fall = knee ((s - limit) / w, &up) - knee ((-s - limit) / w, &down);

  ret[2] = -1.0 + sign * (fall + 1e-9 * s / limit);
  if (limit > 1e-9 && limit < 1e6)
    ret[5] = -derived[S_SCALE] * s / (w * limit) * (up + down) - derived[S_OHM] * s / limit;
}

/* A current that runs past the limit is brought back to it, then grows by the logarithm of the step, as with a junction. */
static double
knee_limit (double s, double old, double limit, double w)
{
  if (s <= limit || s <= old || s - old <= 2 * w)
    return s;
  return old < limit - 0.01 * w ? limit : old + w * log1p ((s - old) / w);
}

static void
supply_limit (const double *derived, unsigned open, const double *old, double *x)
{
  double was = old ? -old[2] : 0, w = derived[S_WIDTH];
  double s = knee_limit (-x[2], was, derived[S_LIMIT], w);
  s = -knee_limit (-s, -was, derived[S_LIMIT], w);
  x[2] = -s;
}

static void
load_prepare (const double *parameters, double *derived)
{
  derived[0] = parameters[0];
}

static void
load_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  double width = 0.05, t = tanh ((x[0] - x[1]) / width);
  /* 1 - t^2 without cancellation */
  double c = 1.0 / cosh (fmin (fabs ((x[0] - x[1]) / width), 350.0));
  ml_nodal_stamp_branch (f, jacobian, 2, 0, 1, derived[0] * (t + 1e-6 * (x[0] - x[1])), derived[0] * (c * c / width + 1e-6));
}

static void
load_limit (const double *derived, unsigned open, const double *old, double *x)
{
  double v = x[0] - x[1], was = old ? old[0] - old[1] : 0;
  /* A saturated load has no slope: on a change of sign look at the steep middle first, and let a drop in voltage not skip it. */
  if (old && (v > 0) != (was > 0) && fabs (v) > 0.05 && fabs (was) > 0.05)
    x[0] = x[1];
}

static bool
load_conducts (const double *derived, unsigned open, int path)
{
  return derived[0] != 0;
}

static void
source_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  f[0] = derived[0];
  f[1] = -derived[0];
}

static bool
source_conducts (const double *derived, unsigned open, int path)
{
  return false;
}

const MlNodalType ml_nodal_battery_type = {
  .word = "battery", .flags = ML_NODAL_LINEAR, .n_pins = 2, .pins = { "plus", "minus" },
  .n_parameters = 2, .parameters = { { "voltage", 9.0 }, { "resistance", 1.0 } },
  .n_elements = 1, .elements = { { 0, 1 } }, .n_inner = 1, .n_derived = 2, .source = 1,
  .prepare = battery_prepare, .eval = battery_eval, .slopes = battery_slopes,
};

const MlNodalType ml_nodal_supply_type = {
  .word = "supply", .n_pins = 2, .pins = { "plus", "minus" },
  .n_parameters = 2, .parameters = { { "voltage", 12.0 }, { "limit", 3.0 } },
  .n_paths = 1, .paths = { { 0, 1 } }, .n_inner = 1, .n_derived = 5, .source = 1,
  .prepare = supply_prepare, .eval = supply_eval, .slopes = supply_slopes, .limit = supply_limit,
};

const MlNodalType ml_nodal_load_type = {
  .word = "load-current", .n_pins = 2, .pins = { "plus", "minus" },
  .n_parameters = 1, .parameters = { { "current", 10e-3 } },
  .n_paths = 1, .paths = { { 0, 1 } }, .n_derived = 1, .source = 1,
  .prepare = load_prepare, .conducts = load_conducts, .eval = load_eval, .limit = load_limit,
};

const MlNodalType ml_nodal_source_type = {
  .word = "current-source", .flags = ML_NODAL_CURRENT | ML_NODAL_LINEAR, .n_pins = 2, .pins = { "plus", "minus" },
  .n_parameters = 1, .parameters = { { "current", 0.0 } },
  .n_paths = 1, .paths = { { 0, 1 } }, .n_derived = 1, .source = 1,
  .prepare = load_prepare, .conducts = source_conducts, .eval = source_eval,
};
